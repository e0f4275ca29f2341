"""The cut list of a new version, counted in frames."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

from reelnotes.corrections.retime import Gone, TimeMap
from reelnotes.corrections.retiming import retimed_all, source_of
from reelnotes.model import CutEvent
from reelnotes.timing import Span, frames_to_ms, ms_to_frames


def retime_cuts(events: Sequence[CutEvent], to: TimeMap, rate: Fraction | None) -> tuple[CutEvent, ...]:
    """Give the cut list of the new version: events split at cuts, with an event for each held frame.

    With `rate` in frames a second all is counted in frames, so that no joint is off by a millisecond. Parts
    that a joint brings back together are one event again. Events are numbered anew, from 001.
    """
    if rate is not None:
        at = rate
        counted = [_with_units(event, lambda ms: ms_to_frames(ms, at)) for event in events]
        made = _retimed(counted, to.in_frames(rate))
        made = [_with_units(event, lambda frames: frames_to_ms(frames, at)) for event in made]
    else:
        made = _retimed(events, to)
    return tuple(replace(event, number=f"{n:03d}") for n, event in enumerate(made, start=1))


def _with_units(event: CutEvent, unit: Callable[[int], int]) -> CutEvent:
    record = Span(unit(event.record.start_ms), unit(event.record.end_ms))
    source = event.source and Span(unit(event.source.start_ms), unit(event.source.end_ms))
    return replace(event, record=record, source=source)


def _retimed(events: Sequence[CutEvent], to: TimeMap) -> list[CutEvent]:
    made = sorted(
        [*retimed_all(events, to), *_held(events, to)], key=lambda e: (e.record.start_ms, e.track != "video")
    )
    joints = {now for now, _, _ in _joints(to)}
    rejoined: list[CutEvent] = []
    for event in made:
        n = next((n for n, before in enumerate(rejoined) if _goes_on(before, event, joints)), None)
        if n is None:
            rejoined.append(event)
        else:
            rejoined[n] = _one(rejoined[n], event)
    return rejoined


def _joints(to: TimeMap) -> list[tuple[int, int, int]]:
    """Give each cut and held frame: its place after, the time before, and the length that is held."""
    found = []
    before = after = 0
    for stretch in to.stretches:
        if stretch.kind != "taken":
            found.append((after, before, stretch.length if stretch.kind == "held" else 0))
        before += stretch.length * (stretch.kind != "held")
        after += stretch.length * (stretch.kind != "cut")
    return found


def _held(events: Sequence[CutEvent], to: TimeMap) -> list[CutEvent]:
    """Give an event of the picture for each held frame.

    It is the frame at its time where the programme moves on from there, else the last one that was taken.
    """
    made = []
    for after, before, length in _joints(to):
        if not length:
            continue
        goes_on = before < to.length_before and not isinstance(to.point(before), Gone)
        at = before if goes_on else _last_taken(before, to)
        under = next((e for e in events if e.track != "audio" and _covers(e, at)), None)
        if under is None:
            continue
        source = source_of(under, Span(at, at)) if under.speed else under.source
        speed = Fraction(0) if under.clip else Fraction(1)
        made.append(
            replace(under, record=Span(after, after + length), source=source, speed=speed, track="video")
        )
    return made


def _last_taken(before: int, to: TimeMap) -> int:
    """Give the last time before a cut that was taken, else the first one behind it."""
    earlier = [was.end_ms - 1 for was, _ in to.parts(Span(0, before))]
    return earlier[-1] if earlier else to.inverse().nearest(to.nearest(before))


def _covers(event: CutEvent, at: int) -> bool:
    return event.record.start_ms <= at < event.record.end_ms


def _goes_on(before: CutEvent, event: CutEvent, joints: set[int]) -> bool:
    """Tell whether an event is the other half of one that a joint brings back together."""
    if (before.clip, before.track, before.speed) != (event.clip, event.track, event.speed):
        return False
    if before.record.end_ms != event.record.start_ms or event.record.start_ms not in joints:
        return False
    if before.source is None or event.source is None or not event.speed:
        return before.source == event.source
    if event.speed > 0:
        return before.source.end_ms == event.source.start_ms
    return before.source.start_ms == event.source.end_ms


def _one(before: CutEvent, event: CutEvent) -> CutEvent:
    record = Span(before.record.start_ms, event.record.end_ms)
    if before.source is None or event.source is None:
        return replace(before, record=record)
    low = min(before.source.start_ms, event.source.start_ms)
    return replace(before, record=record, source=Span(low, max(before.source.end_ms, event.source.end_ms)))
