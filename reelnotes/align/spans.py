"""From chances to spans: where a telling begins and ends, how surely, and whether it is told twice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reelnotes.align.beats import Beat
from reelnotes.align.path import Posterior
from reelnotes.model import Evidence, StepSpan

Array = NDArray[np.float64]

TOLD = 0.5
_ODDS = 1.5
#: A span begins where its chance passes the first share of its peak, and ends where it falls below the next.
_RISE, _FALL = 0.5, 0.3
#: A second telling is a suggestion: it must be as likely as this, and its confidence is cut down.
_AGAIN, _SUGGESTED = 0.75, 0.6
#: Speech behind a span belongs to it up to the next one, if that is near; else only the next few seconds do.
_NEXT_MS, _TRAIL_MS = 16_000, 4_000


def told_chance(found: Posterior) -> Array:
    """Give for each entry the chance that it is told at all: from its expected tellings, one at most.

    The path thinks too little of what it is not sure of, so the odds are raised to what was measured.
    """
    expected = np.minimum(found.starting.sum(axis=1), 1.0)
    chance: Array = _ODDS * expected / (1 + (_ODDS - 1) * expected)
    return chance


def spans_of(
    entry: int, found: Posterior, beats: tuple[Beat, ...], words: Array, shown: Array | None
) -> tuple[StepSpan, ...]:
    """Give the spans of an entry that is told, best first.

    A span grows from a peak of the chances. `words` and `shown` (beats) are what the words and the footage
    say for this entry, for the `evidence`.
    """
    left = found.telling[entry].copy()
    spans: list[StepSpan] = []
    while not spans or float(left.max()) >= _AGAIN:
        first, last = _grown(left)
        peak = float(left[first : last + 1].max())
        part = slice(first, last + 1)
        evidence = _evidence(words[part], None if shown is None else shown[part])
        confidence = round(min(1.0, peak) * (_SUGGESTED if spans else 1.0), 3)
        spans.append(StepSpan(beats[first].start_ms, beats[last].end_ms, confidence, evidence))
        left[max(0, first - 1) : last + 2] = 0.0
    return tuple(spans)


def _grown(chances: Array) -> tuple[int, int]:
    first = last = int(chances.argmax())
    peak = float(chances[first])
    while first and chances[first - 1] > _RISE * peak:
        first -= 1
    while last + 1 < len(chances) and chances[last + 1] > _FALL * peak:
        last += 1
    return first, last


def _evidence(words: Array, shown: Array | None) -> Evidence:
    if shown is None or float(shown.mean()) < 0.5:  # noqa: PLR2004 - rather not shown
        return "words"
    return "both" if float(words.sum()) > 0 else "footage"


def closed_up(spans: list[tuple[StepSpan, ...]], end_ms: int) -> list[tuple[StepSpan, ...]]:
    """Let each span run on to the next one's start, if that is near, else trail off; pinned ones stay."""
    starts = np.array(sorted({span.start_ms for step in spans for span in step} | {end_ms}))
    return [tuple(_run_on(span, starts) for span in step) for step in spans]


def _run_on(span: StepSpan, starts: NDArray[np.int64]) -> StepSpan:
    behind = int(np.searchsorted(starts, max(span.end_ms, span.start_ms + 1)))
    if span.evidence == "pinned" or behind == len(starts):
        return span
    gap = int(starts[behind]) - span.end_ms
    return replace(span, end_ms=span.end_ms + (gap if gap <= _NEXT_MS else _TRAIL_MS))
