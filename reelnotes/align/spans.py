"""From chances to spans: where a telling begins and ends, how surely, and whether it is told twice."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reelnotes.align.beats import Beat
from reelnotes.align.path import Posterior
from reelnotes.model import Evidence, StepSpan

Array = NDArray[np.float64]

_TOLD = 0.5
_EDGE = 0.5


def told_chance(found: Posterior) -> Array:
    """Give for each entry the chance that it is told at all: its expected tellings, one at most."""
    chance: Array = np.minimum(found.starting.sum(axis=1), 1.0)
    return chance


def spans_of(
    entry: int, found: Posterior, beats: tuple[Beat, ...], words: Array, shown: Array | None
) -> tuple[StepSpan, ...]:
    """Give the spans of an entry, best first; none if it is told with a chance of one half or less.

    A span grows from the peak of its chances while they stay above half of the peak. `words` and `shown`
    (beats) are what the words and the footage say for this entry, for the `evidence`.
    """
    telling = found.telling[entry]
    if min(1.0, float(found.starting[entry].sum())) <= _TOLD:
        return ()
    first = last = int(telling.argmax())
    peak = float(telling[first])
    while first and telling[first - 1] > _EDGE * peak:
        first -= 1
    while last + 1 < len(beats) and telling[last + 1] > _EDGE * peak:
        last += 1
    evidence = _evidence(words[first : last + 1], None if shown is None else shown[first : last + 1])
    return (StepSpan(beats[first].start_ms, beats[last].end_ms, round(peak, 3), evidence),)


def _evidence(words: Array, shown: Array | None) -> Evidence:
    if shown is None or float(shown.mean()) < 0.5:  # noqa: PLR2004 - rather not shown
        return "words"
    return "both" if float(words.sum()) > 0 else "footage"
