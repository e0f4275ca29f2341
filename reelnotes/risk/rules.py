"""The rules of reading for risk as data: word groups and what must stand together (docs/risk-rules.md).

One TOML text a topic. `compile_rules` turns the texts into one plain table, which is kept beside them as
`rules.json` because reading sixteen TOML files at every start would cost more than the whole reading; a test
holds the two together.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import field
from functools import cache
from importlib.resources import files
from typing import Any, get_args

from reelnotes.model import SIGNAL_ORDER, SignalWord, Tier, Topic
from reelnotes.problems import Problem
from reelnotes.records import frozen
from reelnotes.risk.plain import SHARED, plain_words
from reelnotes.words.tokens import stem

#: How many words `..` may stand for.
GAP_WORDS = 3
TOPICS: tuple[Topic, ...] = get_args(Topic)
#: Topics in which only the piece is at stake; all others can hurt somebody, so NOTICE is not for them.
NO_INJURY: frozenset[Topic] = frozenset(("wood-movement", "finish-stack", "blind-fit"))
#: The group whose words stand for every part of a piece at once.
SHARED_EVERYWHERE = f"{SHARED}/everywhere"
#: The group whose words tell a warning.
SHARED_WARNED = f"{SHARED}/warned"
#: How many words of a group are shown to the maker.
EXAMPLES = 4
_GAP = ".."
_TEXTS = ("title", "signal_reason", "why", "caution")
_GROUP_KEYS = ("all", "any", "unless", "first", "then", "between")


def _is_words(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(item, str) for item in value)


#: What the kinds of values below mean.
_FITS: Mapping[str, Callable[[object], bool]] = {
    "a text": lambda value: isinstance(value, str),
    "a number": lambda value: isinstance(value, (int, float)) and not isinstance(value, bool) and value >= 0,
    "a list of groups": _is_words,
    "firm or look": lambda value: value in get_args(Tier),
    "a table": lambda value: isinstance(value, dict),
    "a list of tables": lambda value: isinstance(value, list) and all(isinstance(v, dict) for v in value),
}
_WORDINGS = dict.fromkeys(("signal", "why", "caution", "source"), "a text")
#: The keys of a rule file, of a rule and of a join, with the kind of their values (docs/risk-rules.md).
FILE_KEYS = {
    **dict.fromkeys(("topic", *_TEXTS), "a text"), **_WORDINGS,
    "words": "a table", "rule": "a list of tables", "join": "a list of tables",
}  # fmt: skip
RULE_KEYS = {
    "name": "a text", **dict.fromkeys(("all", "any", "unless"), "a list of groups"),
    "within": "a number", "tier": "firm or look", **_WORDINGS,
}  # fmt: skip
JOIN_KEYS = {
    "name": "a text", **dict.fromkeys(("first", "then", "unless", "between"), "a list of groups"),
    "same": "a text", "within_h": "a number", "within_s": "a number", "tier": "firm or look", **_WORDINGS,
}  # fmt: skip
_RULE_SETTINGS = ("within", "makers", "tier", *_WORDINGS)
_JOIN_SETTINGS = ("within_h", "within_s", "tier", *_WORDINGS)


@frozen
class Rule:
    """What must stand together within `within` words, and what takes it back (`unless`).

    A group name is met by its plain words; `no GROUP` by the group denied ('never put a mask on').
    """

    name: str
    needs: tuple[str, ...]
    one_of: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()
    within: int = 20
    makers: bool = False
    tier: Tier = "firm"
    signal: SignalWord | None = None
    why: str | None = None
    caution: str | None = None
    source: str | None = None


@frozen
class Join:
    """Two facts told apart: the groups of `first` in an earlier place, those of `then` in a later one.

    Nothing of `unless` may stand at either place, nothing of `between` from the one to the other. In the log
    the later entry follows within `within_h` hours, in speech within `within_s` seconds (0: never).
    `same`: where both places have words of this group, they must share one (the same part, the same colour).
    """

    name: str
    first: tuple[str, ...]
    then: tuple[str, ...]
    unless: tuple[str, ...] = ()
    between: tuple[str, ...] = ()
    same: str | None = None
    within_h: float = 24
    within_s: float = 0
    tier: Tier = "firm"
    signal: SignalWord | None = None
    why: str | None = None
    caution: str | None = None
    source: str | None = None


@frozen
class TopicRules:
    """All that is known of one topic: its words for the maker, and its rules."""

    topic: Topic
    title: str
    signal: SignalWord
    signal_reason: str
    why: str
    caution: str
    source: str | None
    rules: tuple[Rule, ...] = ()
    joins: tuple[Join, ...] = ()


@frozen
class RuleBook:
    """The compiled rules. `patterns` maps the first stem of a pattern to (group, the slots that follow).

    A slot is a tuple of stems of which one must stand there; an empty slot is a gap. `examples` shows a few
    words of each group as the rule text has them.
    """

    topics: Mapping[Topic, TopicRules]
    examples: Mapping[str, str] = field(default_factory=dict)
    patterns: Mapping[str, tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]] = field(default_factory=dict)


def compile_rules(
    texts: Iterable[tuple[str, str]], makers: Iterable[tuple[str, str]] = ()
) -> tuple[dict[str, Any], list[Problem]]:
    """Compile rule texts, given as (file name, TOML text), into a table that JSON can hold.

    Groups of `shared` count for every topic; a topic given twice (in the tool's own texts and in a maker's)
    has the rules and words of both, and the later text's wording. What cannot be read is a Problem and left
    out.
    """
    table: dict[str, Any] = {"topics": {}, "groups": {}, "examples": {}}
    problems: list[Problem] = []
    for of_maker, held in ((False, texts), (True, makers)):
        for name, text in held:
            try:
                raw = tomllib.loads(text)
            except tomllib.TOMLDecodeError as error:
                problems.append(Problem("rule", f"is not TOML ({error}); the file was left out", name))
                continue
            problems += _take_in(table, raw, name, of_maker=of_maker)
    for topic, entry in table["topics"].items():
        problems += _check_groups(table["groups"], topic, entry)
    return table, problems


def _take_in(table: dict[str, Any], raw: dict[str, Any], name: str, *, of_maker: bool) -> list[Problem]:
    topic = raw.get("topic", SHARED)
    if topic != SHARED and topic not in TOPICS:
        return [Problem("rule", f"topic {topic!r} is none of {', '.join(TOPICS)}; left out", name)]
    problems = _misfits(raw, FILE_KEYS, "the file", name)
    for group, patterns in raw.get("words", {}).items():
        if not _is_words(patterns):
            problems.append(Problem("rule", f"words {group!r} must be a list of texts; left out", name))
            continue
        slots = table["groups"].setdefault(_full(topic, group), [])
        slots += [slot for slot in map(_slots, patterns) if slot and slot not in slots]
        shown = [pattern for pattern in patterns if _GAP not in pattern and "|" not in pattern]
        table["examples"][_full(topic, group)] = ", ".join(shown[:EXAMPLES])
    if topic == SHARED:
        return problems
    entry = table["topics"].setdefault(topic, {"rules": [], "joins": []})
    problems += _check_signal(raw, topic, name)
    entry.update({key: raw[key] for key in (*_TEXTS, "source", "signal") if key in raw})
    entry.setdefault("source", None)
    entry.setdefault("signal", "WARNING")
    for kind, keys in (("rule", RULE_KEYS), ("join", JOIN_KEYS)):
        for part in raw.get(kind, []):
            title = f"{kind} {part.get('name', '')!r}"
            problems += _misfits(part, keys, title, name)
            problems += _check_signal(part, topic, name)
            if kind == "rule" and not (part.get("all") or part.get("any")):
                problems.append(Problem("rule", f"{title} names no words; left out", name))
            elif kind == "join" and not (part.get("first") and part.get("then")):
                problems.append(Problem("rule", f"{title} lacks first or then; left out", name))
            else:
                entry[f"{kind}s"].append({**part, "file": name, **({"makers": True} if of_maker else {})})
    return problems


def _misfits(part: dict[str, Any], keys: Mapping[str, str], title: str, name: str) -> list[Problem]:
    """Take out, with a Problem, every key that does not exist and every value of the wrong kind."""
    problems = []
    for key in list(part):
        kind = keys.get(key)
        if kind is None:
            problems.append(Problem("rule", f"{title}: there is no such key as {key!r}", name))
        elif not _FITS[kind](part[key]):
            problems.append(Problem("rule", f"{title}: {key} must be {kind}; it was left out", name))
        else:
            continue
        del part[key]
    return problems


def _check_signal(part: dict[str, Any], topic: str, name: str) -> list[Problem]:
    """Take out a signal word that does not exist, or NOTICE where somebody can get hurt (ANSI Z535.4)."""
    signal = part.get("signal")
    if signal is None or (signal in SIGNAL_ORDER and (signal != "NOTICE" or topic in NO_INJURY)):
        return []
    del part["signal"]
    reason = "is not about injury, and this topic is" if signal == "NOTICE" else "is no signal word"
    return [Problem("rule", f"signal {signal!r} {reason}; the topic's usual word was taken", name)]


def _full(topic: str, group: str) -> str:
    return f"{topic}/{group}"


def _slots(pattern: str) -> list[list[str]]:
    """Turn `open .. door|doors` into slots of stems; a gap is an empty slot."""
    slots: list[list[str]] = []
    for part in pattern.split():
        if part == _GAP:
            slots.append([])
            continue
        slots.append(sorted({stem("".join(plain_words(choice)) or choice) for choice in part.split("|")}))
    return slots


def _check_groups(groups: Mapping[str, Any], topic: str, entry: dict[str, Any]) -> list[Problem]:
    """Leave out, with a Problem, every rule and join that names a group without words."""
    problems = []
    for kind in ("rules", "joins"):
        sound = []
        for rule in entry[kind]:
            wanted = [group for key in _GROUP_KEYS for group in rule.get(key, [])]
            missing = [w for w in wanted if _group_key(groups, topic, w.removeprefix("no ")) is None]
            if missing:
                message = f"rule {rule.get('name', '')!r} names {missing[0]!r}, which has no words; left out"
                problems.append(Problem("rule", message, rule["file"]))
            else:
                sound.append({key: value for key, value in rule.items() if key != "file"})
        entry[kind] = sound
    return problems


def _group_key(groups: Mapping[str, Any], topic: str, group: str) -> str | None:
    return next((key for key in (_full(topic, group), _full(SHARED, group)) if key in groups), None)


def book_of(table: Mapping[str, Any]) -> RuleBook:
    """Make the rule book from a compiled table."""
    groups = table["groups"]
    patterns: dict[str, list[tuple[str, tuple[tuple[str, ...], ...]]]] = {}
    for key, slots in groups.items():
        for first, *rest in slots:
            following = tuple(map(tuple, rest))
            for start in first:
                patterns.setdefault(start, []).append((key, following))
    topics = {topic: _topic_rules(groups, topic, entry) for topic, entry in table["topics"].items()}
    return RuleBook(topics, table["examples"], {start: tuple(found) for start, found in patterns.items()})


def _topic_rules(groups: Mapping[str, Any], topic: Topic, entry: Mapping[str, Any]) -> TopicRules:
    def keyed(names: Iterable[str]) -> tuple[str, ...]:
        keys = []
        for name in names:
            denied = "no " if name.startswith("no ") else ""
            keys.append(f"{denied}{_group_key(groups, topic, name.removeprefix('no '))}")
        return tuple(keys)

    rules = tuple(
        Rule(
            name=rule.get("name", ""),
            needs=keyed(rule.get("all", [])),
            one_of=keyed(rule.get("any", [])),
            unless=keyed(rule.get("unless", [])),
            **{key: rule[key] for key in _RULE_SETTINGS if key in rule},
        )
        for rule in entry["rules"]
    )
    joins = tuple(
        Join(
            name=join.get("name", ""),
            first=keyed(join["first"]),
            then=keyed(join["then"]),
            unless=keyed(join.get("unless", [])),
            between=keyed(join.get("between", [])),
            same=_group_key(groups, topic, join.get("same", "")),
            **{key: join[key] for key in _JOIN_SETTINGS if key in join},
        )
        for join in entry["joins"]
    )
    texts = {key: entry.get(key, "") for key in _TEXTS}
    return TopicRules(
        topic=topic, signal=entry["signal"], source=entry["source"], rules=rules, joins=joins, **texts
    )


@cache
def own_rules() -> RuleBook:
    """Give the tool's own rules, from the compiled table."""
    text = files("reelnotes.risk").joinpath("rules.json").read_text(encoding="utf-8")
    return book_of(json.loads(text))


def own_texts() -> list[tuple[str, str]]:
    """Give the tool's own rule texts as they stand in the package, by file name."""
    folder = files("reelnotes.risk").joinpath("rules")
    found = sorted((f for f in folder.iterdir() if f.name.endswith(".toml")), key=lambda f: f.name)
    return [(f.name, f.read_text(encoding="utf-8")) for f in found]


def rules_with(texts: Iterable[tuple[str, str]]) -> tuple[RuleBook, list[Problem]]:
    """Give the tool's own rules with a maker's added; `texts` are (file name, TOML text)."""
    extra = list(texts)
    if not extra:
        return own_rules(), []
    table, problems = compile_rules(own_texts(), extra)
    return book_of(table), problems


def rules_json() -> str:
    """Give the text of `rules.json` for the rule texts as they stand."""
    table, problems = compile_rules(own_texts())
    if problems:
        raise ValueError("\n".join(map(str, problems)))
    return json.dumps(table, ensure_ascii=False, separators=(",", ":"), sort_keys=True) + "\n"
