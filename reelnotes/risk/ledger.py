"""What only joining can show: facts told apart, and coats held against the clock, as places."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from reelnotes.model import Entry, ShelfItem, Step
from reelnotes.risk.coats import Hurried, coats_of, hurried
from reelnotes.risk.joins import Joined, joined_in_log, joined_in_speech
from reelnotes.risk.mentions import Mention, Mentions
from reelnotes.risk.places import Place
from reelnotes.risk.rules import Join, RuleBook
from reelnotes.risk.speech import Run
from reelnotes.timing import format_time

#: How sure a joined place is, and how much the reader must see in its words where it is in speech.
SURE = 0.9
SEEN = 0.1
TOLD = 0.5
_TOO_SOON = "too soon by the clock"


def log_ledger(
    run: Run, entries: Sequence[Entry], shelf: Sequence[ShelfItem], mentions: Mentions, book: RuleBook
) -> Iterator[Place]:
    """Give the places of the log that joins and the clock show."""
    for joined in joined_in_log(run, entries, mentions, book):
        yield _place(run, joined, tuple(_said(run, m) for m in joined.mentions))
    yield from (_hurried_place(case) for case in hurried(coats_of(entries, shelf)))


def speech_ledger(run: Run, mentions: Mentions, seen: Iterable[Place], book: RuleBook) -> Iterator[Place]:
    """Give the places of the speech that joins show, where the reader sees at least something (`seen`)."""
    known = list(seen)
    for joined in joined_in_speech(run, mentions, book):
        if any(p.topic == joined.topic and p.first < joined.end and p.end > joined.first for p in known):
            yield _place(run, joined, tuple(_said(run, m) for m in joined.mentions))


def _said(run: Run, mention: Mention) -> str:
    entry = run.entry(mention.first)
    where = format_time(run.at_ms[mention.first]) if entry is None else f"log entry {entry + 1}"
    return f"{run.quote(mention.first, mention.end)} ({where})"


def _place(run: Run, joined: Joined, words: tuple[str, ...]) -> Place:
    first, end = clause_of(run, joined.first, joined.end)
    speech = run.entries is None
    return Place(
        topic=joined.topic,
        score=SURE,
        tier=joined.join.tier,
        first=first,
        end=end,
        quote=run.quote(first, end),
        entry=run.entry(first),
        start_ms=run.at_ms[first] if speech else None,
        end_ms=run.ends_at_ms(end - 1) if speech else None,
        rules=(joined.join,),
        words=words,
    )


def clause_of(run: Run, first: int, end: int) -> tuple[int, int]:
    """Widen words to the clauses that hold them."""
    while first > 0 and not run.clause[first]:
        first -= 1
    while end < len(run.words) and not run.clause[end]:
        end += 1
    return first, end


def _hurried_place(case: Hurried) -> Place:
    before, after = case.before.entry, case.after.entry
    asked = "before its next coat" if case.own else "before any other product"
    item = case.before.item
    told = f" (line {item.line} of the shelf: “{_short(case.said)}”)" if case.said and item else ""
    why = (
        f"It went on {_hours(case.apart_h)} after “{_short(before.text)}”, where the tin asks for "
        f"{_hours(case.wanted_h)} {asked}{told}."
    )
    words = tuple(f"{_short(e.text)} ({e.at:%H:%M}, log entry {e.index + 1})" for e in (before, after))
    rule = Join(name=_TOO_SOON, first=(), then=(), why=why)
    return Place(
        "finish-stack", SURE, "firm", 0, 0, after.text, entry=after.index, rules=(rule,), words=words
    )


def _hours(hours: float) -> str:
    whole, minutes = divmod(round(hours * 60), 60)
    return f"{whole} h {minutes} min" if minutes else f"{whole} h"


def _short(text: str, limit: int = 40) -> str:
    return text if len(text) <= limit else text[: limit - 1].rsplit(" ", 1)[0] + " …"


def with_times(places: Iterable[Place], steps: Sequence[Step]) -> Iterator[Place]:
    """Give joined places of the log the time at which their step is told, if it is."""
    told = {step.entry: step.spans[0] for step in steps if step.spans and step.told > TOLD}
    for place in places:
        span = told.get(place.entry) if place.entry is not None else None
        yield place if span is None else place.at(span.start_ms, span.end_ms)
