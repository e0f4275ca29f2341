from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from reelnotes.align.beats import Beat
from reelnotes.align.path import Posterior
from reelnotes.align.spans import closed_up, spans_of, told_chance
from reelnotes.model import StepSpan

Array = NDArray[np.float64]
BEATS = tuple(Beat(k * 4000, k * 4000 + 4000, "so", k) for k in range(12))
SILENT = np.zeros(12)


def believed(telling: list[float], told: float = 1.0) -> Posterior:
    starting = np.zeros((1, 12))
    starting[0, int(np.argmax(telling))] = told
    return Posterior(np.array([telling]), starting, 1 - np.array(telling), 0.0)


def spans(
    telling: list[float], told: float = 1.0, words: Array = SILENT, shown: Array | None = None
) -> tuple[StepSpan, ...]:
    return spans_of(0, believed(telling, told), BEATS, words, shown)


def test_a_span_grows_from_its_peak() -> None:
    """It takes the beats beside the peak while they are half as likely, behind it a little longer."""
    (span,) = spans([0, 0.2, 0.6, 0.9, 0.9, 0.4, 0.2, 0, 0, 0, 0, 0])
    assert (span.start_ms, span.end_ms, span.confidence) == (8000, 24_000, 0.9)


def test_expected_tellings_above_one_are_certain() -> None:
    """Two tellings expected still make a chance of one."""
    found = Posterior(np.zeros((1, 12)), np.full((1, 12), 0.2), np.ones(12), 0.0)
    assert told_chance(found).tolist() == [1.0]


def test_odds_of_being_told_are_raised() -> None:
    """Expected tellings of 0.4 have odds of 2 to 3, raised by half to evens; none stays none."""
    assert told_chance(believed([0.4] + [0.0] * 11, told=0.4)) == pytest.approx([0.5])
    assert told_chance(believed([0.0] * 12, told=0.0)).tolist() == [0.0]


@pytest.mark.parametrize(("again", "count"), [(0.74, 1), (0.76, 2)])
def test_a_second_telling_is_suggested(again: float, count: int) -> None:
    """Another place as likely as three in four becomes a second span, with less confidence."""
    found = spans([0.9, 0.9, 0, 0, 0, 0, 0, 0, again, again, 0, 0])
    assert len(found) == count
    assert found[0].start_ms == 0
    assert all(span.confidence < 0.8 for span in found[1:])


def test_the_evidence_is_named() -> None:
    """Words, footage, or both, by what spoke for the span."""
    telling = [0.9, 0.9] + [0.0] * 10
    some, shown = np.full(12, 1.5), np.full(12, 0.9)
    assert spans(telling, words=some)[0].evidence == "words"
    assert spans(telling, words=some, shown=SILENT)[0].evidence == "words"
    assert spans(telling, words=-some, shown=shown)[0].evidence == "footage"
    assert spans(telling, words=some, shown=shown)[0].evidence == "both"


def test_spans_run_on_to_the_next() -> None:
    """A near neighbour's start ends a span; before a long gap a few seconds are added; pinned ones stay."""
    steps = [
        (StepSpan(0, 4000, 0.9, "words"),), (StepSpan(20_000, 24_000, 0.9, "words"),),
        (StepSpan(40_001, 44_000, 0.9, "words"),), (StepSpan(50_000, 52_000, 1.0, "pinned"),), (),
    ]  # fmt: skip
    ends = [[span.end_ms for span in step] for step in closed_up(steps, 60_000)]
    assert ends == [[20_000], [28_000], [50_000], [52_000], []]


def test_the_last_span_ends_with_the_programme() -> None:
    """Nothing runs past the end."""
    assert closed_up([(StepSpan(0, 4000, 0.9, "words"),)], 4000)[0][0].end_ms == 4000
    assert closed_up([(StepSpan(0, 4000, 0.9, "words"),)], 9000)[0][0].end_ms == 9000
