"""The rules of reading for risk as data: word groups and what must stand together (docs/risk-rules.md).

One TOML text a topic. `compile_rules` turns the texts into one plain table, which is kept beside them as
`rules.json` because reading sixteen TOML files at every start would cost more than the whole reading; a test
holds the two together.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any, get_args

from reelnotes.model import SIGNAL_ORDER, SignalWord, Tier, Topic
from reelnotes.problems import Problem
from reelnotes.risk.plain import SHARED, plain_words
from reelnotes.words.tokens import stem

#: How many words `..` may stand for.
GAP_WORDS = 3
TOPICS: tuple[Topic, ...] = get_args(Topic)
#: How many words of a group are shown to the maker.
EXAMPLES = 4
_GAP = ".."
_TEXTS = ("title", "signal_reason", "why", "caution")
_RULE_TEXTS = ("why", "caution", "source")


@dataclass(frozen=True, slots=True)
class Rule:
    """What must stand together within `within` words, and what takes it back (`unless`).

    A group name is met by its plain words; `no GROUP` by the group denied ('never put a mask on').
    """

    name: str
    needs: tuple[str, ...]
    one_of: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()
    within: int = 20
    tier: Tier = "firm"
    why: str | None = None
    caution: str | None = None
    source: str | None = None


@dataclass(frozen=True, slots=True)
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


@dataclass(frozen=True, slots=True)
class RuleBook:
    """The compiled rules. `patterns` maps the first stem of a pattern to (group, the slots that follow).

    A slot is a tuple of stems of which one must stand there; an empty slot is a gap. `examples` shows a few
    words of each group as the rule text has them.
    """

    topics: Mapping[Topic, TopicRules]
    examples: Mapping[str, str] = field(default_factory=dict)
    patterns: Mapping[str, tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]] = field(default_factory=dict)


def compile_rules(texts: Iterable[tuple[str, str]]) -> tuple[dict[str, Any], list[Problem]]:
    """Compile rule texts, given as (file name, TOML text), into a table that JSON can hold.

    Groups of `shared` count for every topic; a topic given twice (the tool's own and the maker's) has the
    rules and words of both, and the later text's wording. What cannot be read is a Problem and left out.
    """
    table: dict[str, Any] = {"topics": {}, "groups": {}, "examples": {}}
    problems: list[Problem] = []
    for name, text in texts:
        try:
            raw = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            problems.append(Problem("rule", f"is not TOML ({error}); the file was left out", name))
            continue
        problems += _take_in(table, raw, name)
    for topic, entry in table["topics"].items():
        problems += _check_groups(table["groups"], topic, entry)
    return table, problems


def _take_in(table: dict[str, Any], raw: dict[str, Any], name: str) -> list[Problem]:
    topic = raw.get("topic", SHARED)
    if topic != SHARED and topic not in TOPICS:
        return [Problem("rule", f"topic {topic!r} is none of {', '.join(TOPICS)}; left out", name)]
    for group, patterns in raw.get("words", {}).items():
        slots = table["groups"].setdefault(_full(topic, group), [])
        slots += [slot for slot in map(_slots, patterns) if slot and slot not in slots]
        shown = [pattern for pattern in patterns if _GAP not in pattern and "|" not in pattern]
        table["examples"][_full(topic, group)] = ", ".join(shown[:EXAMPLES])
    if topic == SHARED:
        return []
    entry = table["topics"].setdefault(topic, {"rules": []})
    entry.update({key: raw[key] for key in (*_TEXTS, "source", "signal") if key in raw})
    entry.setdefault("source", None)
    if entry.get("signal") not in SIGNAL_ORDER:
        entry["signal"] = "WARNING"
    problems = []
    for rule in raw.get("rule", []):
        if not rule.get("all") and not rule.get("any"):
            problems.append(Problem("rule", f"rule {rule.get('name', '')!r} names no words; left out", name))
            continue
        entry["rules"].append({**rule, "file": name})
    return problems


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
    problems = []
    sound = []
    for rule in entry["rules"]:
        wanted = [*rule.get("all", []), *rule.get("any", []), *rule.get("unless", [])]
        missing = [w for w in wanted if _group_key(groups, topic, w.removeprefix("no ")) is None]
        if missing:
            message = f"rule {rule.get('name', '')!r} names {missing[0]!r}, which has no words; left out"
            problems.append(Problem("rule", message, rule["file"]))
        else:
            sound.append({key: value for key, value in rule.items() if key != "file"})
    entry["rules"] = sound
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
            within=rule.get("within", 20),
            tier=rule.get("tier", "firm"),
            **{key: rule.get(key) for key in _RULE_TEXTS},
        )
        for rule in entry["rules"]
    )
    texts = {key: entry.get(key, "") for key in _TEXTS}
    return TopicRules(topic=topic, signal=entry["signal"], source=entry["source"], rules=rules, **texts)


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
    table, problems = compile_rules([*own_texts(), *extra])
    return book_of(table), problems


def rules_json() -> str:
    """Give the text of `rules.json` for the rule texts as they stand."""
    table, problems = compile_rules(own_texts())
    if problems:
        raise ValueError("\n".join(map(str, problems)))
    return json.dumps(table, ensure_ascii=False, separators=(",", ":"), sort_keys=True) + "\n"
