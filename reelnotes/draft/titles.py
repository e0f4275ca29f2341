"""Titles of chapters in the maker's own words: short, no filler, sentence case, no two alike."""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from reelnotes.draft.openings import says_nothing
from reelnotes.model import Cue, Entry, Step
from reelnotes.words.lexicon import load_lexicon

_SHORT = 22
_EARLY_MS = 3000
_ASIDES = re.compile(
    r"\([^)]*\)|\bforgot to (?:write|note|say|log)\b:?|\b(?:yest(?:erday)?|this (?:morning|"
    r"aft\w*))\b(?: (?:abt|about) \d+)?"
)
_NOTE_AMOUNT = re.compile(
    r",?\s*\b(?:abt|about|approx|call it)?\s*[£$€]?\d+(?:[.,]\d+)?\s?(?:ml|mils?|g|kg|l|min|mins|hrs?|h|pct|"
    r"%)\b|[£$€]\s?\d+(?:[.,]\d+)?(?: (?:cash|pr|each))?"
)
_FILLERS = re.compile(
    r"\b(?:um+|uh+|er+|erm|you know|i mean|sort of|kind of|basically|actually|obviously|as i say|like i say|"
    r"honestly)\b,?\s*",
    re.IGNORECASE,
)
_LEADS = re.compile(
    r"^(?:(?:so|and|now|right|then|ok|okay|well|anyway|but|yeah|oh|because|cos|just|hello|morning|alright|"
    r"here)\b[\s,.!]*)+",
    re.IGNORECASE,
)
_CLAUSE_END = re.compile(
    r"[.!?;:]\s|[.!?]$|,\s|\s(?:and then|and|but|because|cos|so|which|where|when|if|who|that's|it's|its|"
    r"i've|i'd|then)\s",
    re.IGNORECASE,
)
_DANGLING = re.compile(
    r"[\s,]+(?:a|an|the|of|to|with|in|on|at|for|and|or|by|from|my|this|that|is|was|it|its|i|you|we|as)$",
    re.IGNORECASE,
)


def chapter_titles(  # noqa: PLR0917 - the facts of an episode, in the order of the path
    starts: Sequence[int],
    duration_ms: int,
    entries: Sequence[Entry],
    steps: Sequence[Step],
    cues: Sequence[Cue],
    max_chars: int,
) -> list[tuple[str, bool]]:
    """Give each chapter a title, and whether it comes from a step's entry.

    The entry of the step that opens the chapter gives it; where none does, the first words said there.
    """
    texts = {entry.index: entry.text for entry in entries}
    told = sorted((span.start_ms, span.end_ms, step.entry) for step in steps for span in step.spans[:1])
    said = [cue.start_ms for cue in cues]
    ends = [*starts[1:], max(duration_ms, starts[-1] + 1)]
    seen: dict[str, int] = {}
    titles = []
    for start, end in zip(starts, ends, strict=True):
        inside = [
            entry for at, until, entry in told if start - _EARLY_MS <= at < end - _EARLY_MS and until > start
        ]
        filled = sum(
            min(until, end) - max(at, start) for at, until, entry in told if at < end and until > start
        )
        title = (
            _from_entries([texts[i] for i in inside if i in texts], max_chars)
            if 3 * filled >= end - start
            else ""
        )
        by_step = bool(title)
        if not title:
            spoken = [cue.text for cue in cues[bisect_left(said, start) : bisect_right(said, end - 1)]]
            title = title_from_speech(spoken, max_chars)
        titles.append((_told_apart(title or "Untitled", seen, max_chars), by_step))
    return titles


def _from_entries(texts: Sequence[str], max_chars: int) -> str:
    heads = [head for text in texts if (head := title_from_note(text, max_chars))]
    if not heads:
        return ""
    title = heads[0]
    if len(title) <= _SHORT and len(heads) > 1 and len(title) + len(heads[1]) + 5 <= max_chars:
        title = f"{title} and {heads[1][0].lower()}{heads[1][1:]}"
    return title


def title_from_note(text: str, max_chars: int) -> str:
    """Make a title of a log entry: its first clause, written out, without asides, amounts and prices."""
    lexicon = load_lexicon()
    plain = _ASIDES.sub(" ", text)
    plain = _NOTE_AMOUNT.sub("", lexicon.expand(lexicon.repair(plain)))
    plain = plain.replace("+", "and").replace("&", "and").replace("w/", "with")
    clauses = [
        clause.strip(" -–,:")
        for clause in re.split(r"[.;!?]\s|[.;!?]+$|\s-\s", plain)
        if clause.strip(" -–,:.!?")
    ]
    if not clauses:
        return ""
    title = clauses[0]
    if len(title) < 10 and len(clauses) > 1:  # noqa: PLR2004 - too bare to mean anything
        title = f"{title}, {clauses[1]}"
    return _shaped(title, max_chars)


def title_from_speech(texts: Sequence[str], max_chars: int) -> str:
    """Make a title of the first words of a stretch of speech that say something."""
    running = load_lexicon().repair(" ".join(text for text in texts[:6] if not says_nothing(text)))
    plain = " ".join(_FILLERS.sub("", running).split())
    best = ""
    for _ in range(4):
        plain = _LEADS.sub("", plain)
        end = _clause_end(plain, max_chars)
        clause, plain = plain[:end].strip(" ,.;:!?"), plain[end:].lstrip(" ,.;:!?")
        if len(clause) > len(best):
            best = clause
        if len(clause.split()) >= 3 or not plain:  # noqa: PLR2004
            break
    return _shaped(best, max_chars)


def _clause_end(text: str, max_chars: int) -> int:
    for match in _CLAUSE_END.finditer(text):
        if match.start() >= 12 or text[match.start()] in ".!?":  # noqa: PLR2004
            return min(match.start(), max_chars)
    return len(text)


def _shaped(title: str, max_chars: int) -> str:
    """Bring a title into its limit at a word's end, take dangling words off, begin with a capital."""
    title = " ".join(title.split())
    if len(title) > max_chars:
        title = title[: max_chars + 1].rsplit(" ", 1)[0][:max_chars]
    before = ""
    while before != title:
        before, title = title, _DANGLING.sub("", title).strip(" ,.;:-–")
    return title[:1].upper() + title[1:]


def _told_apart(title: str, seen: dict[str, int], max_chars: int) -> str:
    key = title.casefold()
    seen[key] = seen.get(key, 0) + 1
    if seen[key] == 1:
        return title
    number = seen[key]
    while f"{key} ({number})" in seen:
        number += 1
    seen[f"{key} ({number})"] = 1
    tail = f" ({number})"
    return title[: max_chars - len(tail)].rstrip() + tail
