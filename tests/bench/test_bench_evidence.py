"""Evidence that cites the bench: every computation again by its line, whatever the line holds."""

from __future__ import annotations

import json
from contextlib import suppress
from typing import Any
from urllib.parse import urlencode

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.bench.evidence import COMPUTATIONS, recorded, worked_out
from reelnotes.bench.finding import UnknownComputation, UnknownMeasure
from reelnotes.problems import Refusal

QUESTIONS: dict[str, dict[str, str]] = {
    "movement": {"wood": "white oak", "width": "17 1/2in", "rh": "35 65", "temp": "20C", "screw": "#8"},
    "pulls": {"front": "700x150mm", "spacing": "96mm", "old": "302x67x5mm,398x67x5mm"},
    "coverage": {"area": "2.3m2", "coverage": "10m2/l", "waste": "10%"},
    "mix": {"parts": "oil=2, wax & resin=1", "total": "300ml"},
    "drying": {"notes": "next coat 24 h", "at": "2026-03-04 14:20"},
}


@pytest.mark.parametrize("kind", COMPUTATIONS)
def test_evidence_can_be_worked_out_again(kind: str) -> None:
    """The line that cites a finding gives back the very same finding."""
    finding, problems = COMPUTATIONS[kind](QUESTIONS[kind])
    assert finding.cite.startswith(f"bench:{kind}?")
    assert worked_out(finding.cite) == (finding, problems)


@pytest.mark.parametrize("kind", COMPUTATIONS)
def test_every_computation_refuses_a_measure_it_does_not_take(kind: str) -> None:
    """A misspelt measure would otherwise do nothing in silence."""
    with pytest.raises(UnknownMeasure, match="takes no 'colour'"):
        COMPUTATIONS[kind]({**QUESTIONS[kind], "colour": "red"})


@pytest.mark.parametrize("cite", ["bench:weather?x=1", "bench:", "elsewhere"])
def test_evidence_of_something_else_is_refused(cite: str) -> None:
    """What we cannot work out is not passed over."""
    with pytest.raises(UnknownComputation, match="movement"):
        worked_out(cite)


@pytest.mark.parametrize("kind", COMPUTATIONS)
def test_every_finding_fits_a_correction(kind: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A sentence that can be quoted, rows, cautions, a record that JSON can hold; and nothing is printed."""
    finding: Any = COMPUTATIONS[kind](QUESTIONS[kind])[0]
    assert capsys.readouterr() == ("", "")
    assert "\n" not in finding.sentence
    assert finding.rows
    assert finding.cautions
    assert json.loads(json.dumps(finding.document))["kind"] == kind


def test_a_recorded_line_cites_the_same() -> None:
    """The answer that stands beside a line is not taken for a part of the question."""
    finding, _ = COMPUTATIONS["movement"](QUESTIONS["movement"])
    assert worked_out(recorded(finding))[0] == finding


MEASURES = [
    "wood", "width", "cut", "rh", "temp", "made_rh", "coefficient", "shrinkage", "screw", "fit", "distance",
    "months_rh", "climate", "moisture", "front", "spacing", "pull", "place", "count", "inset", "old", "area",
    "faces",
    "coats", "coverage", "film", "product", "waste", "pack", "left", "parts", "total", "have", "shellac",
    "solvent", "flakes", "per_litre", "notes", "at", "episode",
]  # fmt: skip
SPOILT = [
    "0", "-1", "1", "9999999", "1/0", "0x0mm", "700x150mm", "1x1x1mm", "0mm", "96mm", "9999999mm", "5/8in",
    "1-1/4", "1e9", "nan", "inf", "nan nan", ",", ";", "=", "oil=1", "oil=0", "oak", "teak", "M12", "#8",
    "10m2/l", "0um", "1l", "0ml", "60g", "margin", "margin 1mm", "share 9", "2026-03-04", "9999-12-31", "x",
    "×", "µ", "½", "½in", "20C", "-300C", "next coat 999 months", "0%", "3 4",
]  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from(sorted(COMPUTATIONS)),
    st.dictionaries(st.sampled_from(MEASURES), st.sampled_from(SPOILT) | st.text(max_size=6), max_size=6),
)
def test_any_evidence_is_answered_or_refused(kind: str, measures: dict[str, str]) -> None:
    """Whatever a line asks, it ends in an answer or in a refusal, never in an error of ours."""
    with suppress(Refusal):
        assert worked_out(f"bench:{kind}?{urlencode(measures)}")[0].sentence


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(sorted(COMPUTATIONS)), st.data())
def test_a_spoilt_question_is_answered_or_refused(kind: str, data: st.DataObject) -> None:
    """One measure of a good question spoilt: the same."""
    question = dict(QUESTIONS[kind])
    spoilt = data.draw(st.sampled_from(sorted(question)))
    question[spoilt] = data.draw(st.sampled_from(SPOILT) | st.text(max_size=8))
    with suppress(Refusal):
        assert COMPUTATIONS[kind](question)[0].rows
