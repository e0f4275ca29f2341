"""Pauses in speech, found in the sound itself, and moving the joints of a cut into them.

A pause is where the sound lies well under the film's own loudness for a while. A joint is moved no further
than it must: just inside the nearest pause. How far under, how long and how far away is ours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from reelnotes.model import HeldFrame
from reelnotes.picture.sound import BLOCK_MS, Heard, Levels, mean_square_of
from reelnotes.records import frozen
from reelnotes.timing import Span

#: How far a joint may be moved.
REACH_MS = 1000
#: What is so much quieter than the film as a whole, for so long, is a pause.
UNDER_LU, LEAST_MS = 15.0, 150
#: So far inside a pause a joint is put, if the pause is long enough.
INSIDE_MS = 75


@frozen
class Shift:
    """A joint that was asked for at a time, and where it is now; None where no pause is near enough."""

    at_ms: int
    to_ms: int | None


def find_pauses(heard: Heard) -> list[Span]:
    """Give the pauses of a film in order; one that is silent throughout is one pause."""
    if heard.integrated is None:
        return [Span(0, heard.length_ms)] if heard.length_ms else []
    quiet = _smooth(heard.levels) < mean_square_of(heard.integrated - UNDER_LU)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], quiet, [False]])))
    spans = [Span(int(a) * BLOCK_MS, int(b) * BLOCK_MS) for a, b in edges.reshape(-1, 2)]
    return [span for span in spans if span.length_ms >= LEAST_MS]


def _smooth(levels: Levels) -> Levels:
    """Even out the levels over two blocks: one block is as short as the gap inside a `t`."""
    before = np.concatenate([levels[:1], levels[:-1]])
    after = np.concatenate([levels[1:], levels[-1:]])
    smooth: Levels = np.minimum((before + levels) / 2, (levels + after) / 2)
    return smooth


def to_pauses(
    removed: Sequence[Span], held: Sequence[HeldFrame], pauses: Sequence[Span], length_ms: int
) -> tuple[list[Span], list[HeldFrame], list[Shift]]:
    """Move every joint into the nearest pause within `REACH_MS`; where there is none it stays.

    The edges of the programme are no joints. A span whose edges would meet or cross stays as it is.
    """
    shifts: list[Shift] = []

    def moved(at_ms: int) -> int:
        if at_ms <= 0 or at_ms >= length_ms:
            return at_ms
        place = nearest(at_ms, pauses)
        if place != at_ms:
            shifts.append(Shift(at_ms, place))
        return at_ms if place is None else place

    spans = []
    for span in removed:
        kept = len(shifts)
        start, end = moved(span.start_ms), moved(span.end_ms)
        if start >= end:
            del shifts[kept:]
            shifts += [Shift(span.start_ms, None), Shift(span.end_ms, None)]
            start, end = span.start_ms, span.end_ms
        spans.append(Span(start, end))
    return spans, [replace(hold, at_ms=moved(hold.at_ms)) for hold in held], shifts


def nearest(at_ms: int, pauses: Sequence[Span]) -> int | None:
    """Give the nearest time inside a pause, `INSIDE_MS` from its edges if it has room; None if none is near.

    A time that lies inside a pause already is given back as it is.
    """
    best: int | None = None
    for pause in pauses:
        if pause.start_ms <= at_ms < pause.end_ms:
            return at_ms
        margin = min(INSIDE_MS, pause.length_ms // 2)
        place = min(max(at_ms, pause.start_ms + margin), pause.end_ms - margin)
        away = abs(place - at_ms)
        if away <= REACH_MS and (best is None or away < abs(best - at_ms)):
            best = place
    return best
