"""Taking everything that carries a time to another version.

Each kind of record that holds programme times has its line in `RETIMERS`; times that are none of the
programme stand in `NO_PROGRAMME_TIME` with the reason. A test walks the models and fails where a time is in
neither.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from fractions import Fraction
from typing import Any, TypeVar

from reelnotes.corrections.retime import Gone, TimeMap
from reelnotes.model import (
    Card,
    Chapter,
    Cue,
    CutEvent,
    Draft,
    Flag,
    Insert,
    Kept,
    KeptChapter,
    Material,
    Pin,
    Place,
    Promise,
    Spending,
    SpokenOnly,
    Step,
    StepSpan,
)
from reelnotes.timing import Span, format_time, parse_time

R = TypeVar("R")

#: Times that no retiming may touch, and why.
NO_PROGRAMME_TIME: dict[tuple[str, str], str] = {
    ("Clip", "duration_ms"): "length of a camera file",
    ("CutEvent", "source"): "time inside a clip; it is split with the event, never moved",
    ("ClockOffset", "low_s"): "difference of two clocks",
    ("ClockOffset", "best_s"): "difference of two clocks",
    ("ClockOffset", "high_s"): "difference of two clocks",
    ("Insert", "hold_ms"): "a length that is asked for",
    ("TakenSpan", "span"): "part of the map itself, in the time of the version it was made from",
    ("HeldFrame", "at_ms"): "part of the map itself, in the time of the version it was made from",
    ("HeldFrame", "length_ms"): "part of the map itself: a length",
    ("Version", "of_length_ms"): "part of the map itself: a length",
    ("Version", "pieces"): "the map itself, in the time of the version it was made from",
}

_ELLIPSIS = "…"
_TIMED = re.compile(r"((?:\d+:)?\d+:\d\d): ")


def retimed(record: R, to: TimeMap) -> tuple[R, ...]:
    """Take a record to the times of another version: nothing is left of it, one, or several.

    Raises `KeyError` for a kind of record that carries no time.
    """
    retimer: Callable[[R, TimeMap], tuple[R, ...]] = RETIMERS[type(record)]
    return retimer(record, to)


def retimed_all(records: Iterable[R], to: TimeMap) -> tuple[R, ...]:
    """Take records of kinds that carry times to another version, in their order."""
    return tuple(left for record in records for left in retimed(record, to))


def _kept_point(at_ms: int | None, to: TimeMap) -> int | None:
    """Give where a time stands; None for none, and for one that was cut."""
    place = None if at_ms is None else to.point(at_ms)
    return None if isinstance(place, Gone) else place


def opening(at_ms: int, to: TimeMap) -> int:
    """Give where a chapter opens: with a frame held at its start, if any; at the joint if that was cut."""
    place = to.point(at_ms)
    return place.joint_ms if isinstance(place, Gone) else to.arrival(at_ms)


# --- speech and steps ------------------------------------------------------------------------------


def _cue(cue: Cue, to: TimeMap) -> tuple[Cue, ...]:
    """Shorten a cue that straddles a cut; without a word left it goes."""
    left = to.over(Span(cue.start_ms, cue.end_ms))
    words = words_left(cue, to)
    return (replace(cue, start_ms=left.start_ms, end_ms=left.end_ms, text=words),) if left and words else ()


def words_left(cue: Cue, to: TimeMap) -> str:
    """Give the words of a cue that stay: those whose middle does, by their share of its letters.

    Nothing tells when each word was said, so they are taken to be said evenly, letter by letter; where words
    went, an ellipsis stands.
    """
    words = cue.text.split(" ")
    letters = sum(len(word) + 1 for word in words)
    kept: list[str] = []
    passed = 0
    for word in words:
        middle = cue.start_ms + (2 * passed + len(word) + 1) * (cue.end_ms - cue.start_ms) // (2 * letters)
        passed += len(word) + 1
        if not isinstance(to.point(middle), Gone):
            kept.append(word)
        elif kept[-1:] != [_ELLIPSIS]:
            kept.append(_ELLIPSIS)
    return "" if kept == [_ELLIPSIS] else " ".join(kept)


def _step_span(span: StepSpan, to: TimeMap) -> tuple[StepSpan, ...]:
    left = to.over(Span(span.start_ms, span.end_ms))
    return (replace(span, start_ms=left.start_ms, end_ms=left.end_ms),) if left else ()


def _step(step: Step, to: TimeMap) -> tuple[Step, ...]:
    """Retime the spans of a step, which stays in the list; with all of them cut it is not told any more."""
    spans = retimed_all(step.spans, to)
    return (replace(step, spans=spans, told=step.told if spans or not step.spans else 0.0),)


# --- what is drafted -------------------------------------------------------------------------------


def _chapter(chapter: Chapter, to: TimeMap) -> tuple[Chapter, ...]:
    """Retime a chapter's start; `chapters.retime_chapters` joins those that come too close together."""
    return (replace(chapter, start_ms=opening(chapter.start_ms, to)),)


def _material(material: Material, to: TimeMap) -> tuple[Material, ...]:
    return (replace(material, said_at_ms=_kept_point(material.said_at_ms, to)),)


def _spoken_only(spoken: SpokenOnly, to: TimeMap) -> tuple[SpokenOnly, ...]:
    at = _kept_point(spoken.said_at_ms, to)
    return () if at is None else (replace(spoken, said_at_ms=at),)


def _spending(spending: Spending, to: TimeMap) -> tuple[Spending, ...]:
    return (
        replace(
            spending,
            materials=retimed_all(spending.materials, to),
            spoken_only=retimed_all(spending.spoken_only, to),
        ),
    )


def _promise(promise: Promise, to: TimeMap) -> tuple[Promise, ...]:
    """Drop a promise that is not heard any more; open again one whose keeping was cut."""
    at = _kept_point(promise.said_at_ms, to)
    kept = _kept_point(promise.kept_at_ms, to)
    return () if at is None else (replace(promise, said_at_ms=at, kept_at_ms=kept),)


def _flag(flag: Flag, to: TimeMap) -> tuple[Flag, ...]:
    """Keep a flag as long as one of its places is left; the first of them becomes its span."""
    if flag.start_ms is None or flag.end_ms is None:
        return (replace(flag, places=_spans(flag.places, to)),)
    left = _spans((Span(flag.start_ms, flag.end_ms), *flag.places), to)
    if not left:
        return ()
    first, *others = left
    return (
        replace(
            flag,
            start_ms=first.start_ms,
            end_ms=first.end_ms,
            places=tuple(others),
            evidence=tuple(line for told in flag.evidence for line in _evidence(told, to)),
        ),
    )


def _evidence(line: str, to: TimeMap) -> tuple[str, ...]:
    """Retime a line of evidence that begins with its time; one from what was cut goes."""
    match = _TIMED.match(line)
    if not match:
        return (line,)
    # The line tells whole seconds: what was raised within them is there if any of it is.
    at = parse_time(match[1])
    left = to.over(Span(at, at + 1000))
    return (f"{format_time(left.start_ms)}: {line[match.end() :]}",) if left else ()


def _spans(spans: Iterable[Span], to: TimeMap) -> tuple[Span, ...]:
    return tuple(left for span in spans if (left := to.over(span)))


def _draft(draft: Draft, to: TimeMap) -> tuple[Draft, ...]:
    return (
        replace(
            draft,
            duration_ms=to.nearest(draft.duration_ms),
            cues=retimed_all(draft.cues, to),
            steps=retimed_all(draft.steps, to),
            chapters=retimed_all(draft.chapters, to),
            spending=retimed(draft.spending, to)[0],
            promises=retimed_all(draft.promises, to),
            flags=retimed_all(draft.flags, to),
            dismissed=tuple((left, reason) for flag, reason in draft.dismissed for left in retimed(flag, to)),
        ),
    )


# --- by hand, and corrections ----------------------------------------------------------------------


def _pin(pin: Pin, to: TimeMap) -> tuple[Pin, ...]:
    """Retime a pin; one whose spans were all cut says what one without spans says: off camera."""
    return (replace(pin, spans=_spans(pin.spans, to)),)


def _kept_chapter(chapter: KeptChapter, to: TimeMap) -> tuple[KeptChapter, ...]:
    """Move a chapter set by hand, to the joint when its start is cut; one taken out goes with its start."""
    if chapter.gone and isinstance(to.point(chapter.start_ms), Gone):
        return ()
    return (replace(chapter, start_ms=opening(chapter.start_ms, to)),)


def _kept(kept: Kept, to: TimeMap) -> tuple[Kept, ...]:
    chapters = kept_chapters(kept, to)
    left = sorted((now for now in chapters.values() if now), key=lambda chapter: chapter.start_ms)
    return (replace(kept, pins=retimed_all(kept.pins, to), chapters=tuple(left)),)


def kept_chapters(kept: Kept, to: TimeMap) -> dict[KeptChapter, KeptChapter | None]:
    """Give what becomes of each chapter set by hand.

    Of those that come to stand at one time the last one has it: nothing is left of the others.
    """
    fates: dict[KeptChapter, KeptChapter | None] = {}
    held: dict[int, KeptChapter] = {}
    for chapter in sorted(kept.chapters, key=lambda chapter: chapter.start_ms):
        fates[chapter] = next(iter(retimed(chapter, to)), None)
        if (now := fates[chapter]) is not None:
            if now.start_ms in held:
                fates[held[now.start_ms]] = None
            held[now.start_ms] = chapter
    return fates


def _place(place: Place, to: TimeMap) -> tuple[Place, ...]:
    """Retime where a mistake stands; the ledger keeps the place as it was, in its own version."""
    return tuple(replace(place, span=left) for left in _spans((place.span,), to))


def _card(card: Card, to: TimeMap) -> tuple[Card, ...]:
    left = to.over(Span(card.start_ms, card.end_ms))
    return (replace(card, start_ms=left.start_ms, end_ms=left.end_ms),) if left else ()


def _insert(insert: Insert, to: TimeMap) -> tuple[Insert, ...]:
    """Retime an insert; it goes with the place that it speaks of, or with its last card."""
    span, cards = to.over(insert.span), retimed_all(insert.cards, to)
    return (replace(insert, span=span, cards=cards),) if span and cards else ()


# --- the cut list ----------------------------------------------------------------------------------


def _cut_event(event: CutEvent, to: TimeMap) -> tuple[CutEvent, ...]:
    """Split an event at cuts and held frames; each part shows its part of the clip.

    `cuts.retime_cuts` adds the held frames themselves, and counts in frames.
    """
    return tuple(
        replace(event, record=now, source=source_of(event, was)) for was, now in to.parts(event.record)
    )


def source_of(event: CutEvent, record: Span) -> Span | None:
    """Give the part of the clip that an event shows in a part of its record span.

    A speed below 0 runs through the clip backwards; a held frame stays where it is.
    """
    source = event.source
    if source is None or not event.speed:
        return source
    into = Fraction(record.start_ms - event.record.start_ms) * event.speed
    along = Fraction(record.length_ms) * event.speed
    first = (source.start_ms if event.speed > 0 else source.end_ms) + into
    low, high = sorted((first, first + along))
    return Span(max(0, round(low)), max(0, round(high)))


RETIMERS: dict[type, Callable[[Any, TimeMap], tuple[Any, ...]]] = {
    Card: _card,
    Chapter: _chapter,
    Cue: _cue,
    CutEvent: _cut_event,
    Draft: _draft,
    Flag: _flag,
    Insert: _insert,
    Kept: _kept,
    KeptChapter: _kept_chapter,
    Material: _material,
    Pin: _pin,
    Place: _place,
    Promise: _promise,
    Spending: _spending,
    SpokenOnly: _spoken_only,
    Step: _step,
    StepSpan: _step_span,
}
