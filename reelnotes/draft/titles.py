"""Titles of chapters in the maker's own words: short, no filler, sentence case, no two alike."""

from __future__ import annotations

import math
import re
from bisect import bisect_left
from collections import Counter
from collections.abc import Sequence
from functools import cached_property

from reelnotes.draft.openings import says_nothing
from reelnotes.model import Cue, Entry, Step
from reelnotes.words.lexicon import Lexicon, load_lexicon
from reelnotes.words.numbers import word_set
from reelnotes.words.tokens import stem, words_in

_SHORT, _BARE, _SPOKEN_CHARS = 22, 10, 48
_EARLY_MS = 3000
_FILLED = 1 / 3  # of a chapter must be steps for their words to name it
_ASIDES = re.compile(
    r"\([^)]*\)|\bforgot to (?:write|note|say|log)\b:?|"
    r"\b(?:yest(?:erday)?|this (?:morning|aft\w*))\b(?: (?:abt|about) \d+)?"
)
_NOTE_AMOUNT = re.compile(
    r",?\s*\b(?:abt|about|approx|call it)?\s*[£$€]?\d+(?:[.,]\d+)?\s?"
    r"(?:ml|mils?|g|kg|l|min|mins|hrs?|h|pct|%)(?!\w)|[£$€]\s?\d+(?:[.,]\d+)?(?: (?:cash|pr|each))?"
)
_FILLERS = re.compile(
    r"\b(?:um+|uh+|er|erm|you know|i mean|sort of|kind of|basically|actually|obviously|as i say|like i say|"
    r"honestly)\b,?\s*",
    re.IGNORECASE,
)
_LEADS = re.compile(
    r"^(?:(?:so|and|now|right|then|ok|okay|well|anyway|but|yeah|oh|because|cos|just|hello|morning|alright|"
    r"here|see|look|um+|or)\b[\s,.!]*)+",
    re.IGNORECASE,
)
_CLAUSE_END = re.compile(
    r"[.!?;:]+(?:\s+|$)|,\s+|\s+(?=(?:and then|and|but|because|cos|so|which|where|when|if|who|until|while|"
    r"that's|it's|its|i've|i'd|i'm|i|they're|there's|then)\b)",
    re.IGNORECASE,
)
_DANGLING = re.compile(
    r"[\s,]+(?:a|an|the|of|to|with|in|on|at|for|and|or|by|from|my|this|that|is|was|it|its|i|you|we|as|but|"
    r"so|what|who|how|had|has|have|be|are|were|they|he|she|one|her|his|their|not|up|just|like|into|through)$",
    re.IGNORECASE,
)
#: What dangles at the end of a note: its "on", "off" and "in" say what was done.
_NOTE_DANGLING = re.compile(r"[\s,]+(?:a|an|the|of|to|with|for|and|or|by|from|but|so|was|is)$", re.IGNORECASE)
#: How a clause begins that leans on another, or says who instead of what.
_LEANING = re.compile(
    r"(?:i|it|that|this|they|he|she|you|we|there|these|those|who|which|where|when|if|until|while|in|than)\b",
    re.IGNORECASE,
)
_COMMON = word_set(
    """
    a about after again all an and any are as at back be because been before being bit but by came can come
    could did do does doing done down each end even every few first for from get gets getting give go goes
    going gone good got had has have he her here him his how i if in into is it its just keep kind know last
    left let like little look looks lot made make me mean might mine more most much my never next no not
    nothing now of off old on once only or other our out over own people put quite really right said same say
    see she should so some somebody something sort still such take tell than that the their them then there
    these they thing things think this those though through time to too took up us very want wants was way we
    well went were what when where which while who why will with would you your youd ive id im youve dont
    didnt isnt thats its one two three four five six seven eight nine ten eleven twelve fifteen twenty thirty
    forty fifty sixty hundred monday tuesday wednesday thursday friday saturday sunday morning afternoon
    evening day days week hour hours minute minutes later lovely nice course meanwhile everybody anything
    hardly answer
    """
)
_OPENING_CUES = 8
_LEANING_SHARE, _LATE_SHARE = 0.6, 0.85


def chapter_titles(  # noqa: PLR0917 - the facts of an episode, in their order
    starts: Sequence[int],
    duration_ms: int,
    entries: Sequence[Entry],
    steps: Sequence[Step],
    cues: Sequence[Cue],
    max_chars: int,
) -> list[tuple[str, bool]]:
    """Give each chapter a title, and whether it comes from a step's entry.

    The entry of the step that opens the chapter gives it; where steps fill less than a third of it, the
    clause near its beginning that says most about it.
    """
    texts = {entry.index: entry.text for entry in entries}
    told = sorted((span.start_ms, span.end_ms, step.entry) for step in steps for span in step.spans[:1])
    said = [cue.start_ms for cue in cues]
    ends = [*starts[1:], max(duration_ms, starts[-1] + 1)]
    parts = [cues[bisect_left(said, a) : bisect_left(said, b)] for a, b in zip(starts, ends, strict=True)]
    lexicon = load_lexicon()
    speech = _Speech([[cue.text for cue in part if not says_nothing(cue.text)] for part in parts], lexicon)
    seen: set[str] = set()
    titles = []
    for number, (start, end) in enumerate(zip(starts, ends, strict=True)):
        inside = [
            texts[e]
            for a, b, e in told
            if start - _EARLY_MS <= a < end - _EARLY_MS and b > start and e in texts
        ]
        filled = sum(min(b, end) - max(a, start) for a, b, _ in told if a < end and b > start)
        title = _from_notes(inside, lexicon, max_chars) if filled >= _FILLED * (end - start) else ""
        by_step = bool(title)
        titles.append((_told_apart(title or speech.title(number, max_chars), seen, max_chars), by_step))
    return titles


# --- from the log --------------------------------------------------------------------------------------


def _from_notes(texts: Sequence[str], lexicon: Lexicon, max_chars: int) -> str:
    heads = [head for text in texts if (head := title_from_note(text, lexicon, max_chars))]
    if not heads:
        return ""
    title, *more = heads
    if len(title) <= _SHORT and more and len(title) + len(more[0]) + 5 <= max_chars:
        title = f"{title} and {_uncapped(more[0])}"
    return title


def title_from_note(text: str, lexicon: Lexicon, max_chars: int) -> str:
    """Make a title of a log entry: its first clause, written out, without asides, amounts and prices."""
    short = re.sub(r"\b[A-Z]{1,3}\b", lambda m: m[0].lower() if m[0].lower() in lexicon.short else m[0], text)
    plain = _NOTE_AMOUNT.sub("", lexicon.expand(lexicon.repair(_ASIDES.sub(" ", short))))
    plain = re.sub(r"\s*[+&]\s*", " and ", plain)
    clauses = [
        clause for part in re.split(r"[.;!?]+(?:\s|$)|\s-\s", plain) if (clause := part.strip(" -–,:"))
    ]
    if not clauses:
        return ""
    title = clauses[0]
    if len(title) < _BARE and len(clauses) > 1:  # too bare to mean anything
        title = f"{title}, {_uncapped(clauses[1])}"
    return _shaped(title, max_chars, _NOTE_DANGLING)


def _uncapped(text: str) -> str:
    """Take the capital off a first word that is no abbreviation."""
    return text if text[1:2].isupper() or text[1:2].isdigit() else text[:1].lower() + text[1:]


# --- from speech ---------------------------------------------------------------------------------------


class _Speech:
    """What is said in each chapter, and how much each word tells one chapter from the others."""

    def __init__(self, parts: list[list[str]], lexicon: Lexicon) -> None:
        self.parts, self.lexicon = parts, lexicon

    @cached_property
    def _counts(self) -> list[Counter[str]]:
        return [
            Counter(stem(word) for text in part for word in words_in(text) if _tells(word))
            for part in self.parts
        ]

    @cached_property
    def _spread(self) -> Counter[str]:
        return Counter(word for count in self._counts for word in count)

    def title(self, number: int, max_chars: int) -> str:
        """Give the clause near a chapter's beginning that says most about the chapter."""
        running = " ".join(self.parts[number][:_OPENING_CUES])
        running = " ".join(_FILLERS.sub("", self.lexicon.repair(running)).split())
        limit = min(max_chars, _SPOKEN_CHARS)
        best, title = 0.0, ""
        for place, clause in enumerate(_CLAUSE_END.split(running)):
            shaped = _shaped(_LEADS.sub("", clause.strip()), limit)
            said = words_in(shaped)
            worth = sum(self._weight(word, number) for word in set(map(stem, said))) / math.sqrt(
                len(said) + 2
            )
            worth *= _LATE_SHARE**place * (_LEANING_SHARE if _LEANING.match(shaped) else 1.0)
            if worth > best:
                best, title = worth, shaped
        return title or _shaped(_LEADS.sub("", running), limit) or f"Part {number + 1}"

    def _weight(self, word: str, number: int) -> float:
        """Weigh a stem: the more often in this chapter and the fewer chapters hold it, the more."""
        often = self._counts[number][word]
        return (1 + math.log(often)) * math.log(1 + len(self.parts) / self._spread[word]) if often else 0.0


def _tells(word: str) -> bool:
    short = len(word) <= 2  # noqa: PLR2004 - no word of two letters says what it is about
    return not short and word.isalpha() and word not in _COMMON


# --- the form ------------------------------------------------------------------------------------------


def _shaped(title: str, max_chars: int, dangling: re.Pattern[str] = _DANGLING) -> str:
    """Bring a title into its limit at a word's end, take dangling words off, begin with a capital."""
    title = " ".join(title.split())
    if len(title) > max_chars:
        title = title[: max_chars + 1].rsplit(" ", 1)[0][:max_chars]
    before = ""
    while before != title:
        before, title = title, dangling.sub("", title).strip(" ,.;:-–!?")
    capital = title[:1].upper()
    return capital + title[1:] if len(capital) == 1 else title  # a sharp s has no capital of one letter


def _told_apart(title: str, seen: set[str], max_chars: int) -> str:
    """Put a number behind a title that is there already."""
    number, told = 1, title
    while told.casefold() in seen:
        number += 1
        tail = f" ({number})"
        told = title[: max_chars - len(tail)].rstrip() + tail
    seen.add(told.casefold())
    return told
