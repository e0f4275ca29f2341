"""Materials, steps and flags as lists for people and spreadsheets."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import Draft, Material, Spending, Step, StepSpan
from reelnotes.write.flags import flags_markdown, worst_first
from reelnotes.write.materials import clock_text, materials_csv, materials_markdown
from reelnotes.write.plain import one_line
from reelnotes.write.steps import off_camera_markdown, steps_csv
from reelnotes.write.table_text import unguarded


def table(text: str) -> list[dict[str, str]]:
    """Read CSV with Python's own reader."""
    return list(csv.DictReader(io.StringIO(text, newline="")))


amounts = st.decimals(0, 10**6, places=3)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.builds(
            Material, st.text(), st.none() | amounts, st.none() | st.text(max_size=4), st.none() | amounts
        )
    )
)
def test_materials_csv_reads_back(materials: list[Material]) -> None:
    """Names, amounts and costs come back; an unknown amount is an empty cell, never a zero."""
    rows = table(materials_csv(Draft("a", "a", 1, spending=Spending(tuple(materials)))))
    assert [unguarded(row["name"]) for row in rows] == [one_line(m.name) for m in materials]
    assert [Decimal(r["amount"]) if r["amount"] else None for r in rows] == [m.amount for m in materials]
    costs = [None if m.cost is None else float(m.cost) for m in materials]
    read = [float(row["cost"]) if row["cost"] else None for row in rows]
    assert read == pytest.approx(costs, abs=0.0051) if materials else read == costs


def test_a_total_says_what_it_leaves_out(draft: Draft) -> None:
    """A sum over materials of which one has no cost is not passed off as the whole."""
    assert "Together: 11.80 GBP, 1 without a cost not counted" in materials_markdown(draft)
    whole = replace(draft.spending, materials=draft.spending.materials[:1])
    assert "not counted" not in materials_markdown(replace(draft, spending=whole))


@pytest.mark.parametrize(("ms", "text"), [(0, "0:00:00"), (552_999, "0:09:12"), (3_723_000, "1:02:03")])
def test_clock_cells_have_hours(ms: int, text: str) -> None:
    """A spreadsheet reads 9:12 as hours and minutes, so hours always stand."""
    assert clock_text(ms) == text


spans = st.builds(lambda a, n: StepSpan(a, a + n, 0.5, "words"), st.integers(0, 10**7), st.integers(0, 10**5))
steps = st.builds(
    Step, st.just("x"), st.integers(0, 99), st.text(), st.floats(0, 1), st.lists(spans, max_size=3).map(tuple)
)


@settings(max_examples=40, deadline=None)
@given(st.lists(steps, max_size=5).map(tuple))
def test_steps_csv_reads_back(given_steps: tuple[Step, ...]) -> None:
    """Every entry has its row with words and best span; off camera is told by empty cells."""
    rows = table(steps_csv(Draft("a", "a", 1, steps=given_steps)))
    assert [unguarded(row["text"]) for row in rows] == [one_line(step.text) for step in given_steps]
    starts = [round(float(row["start_s"]) * 1000) if row["start_s"] else None for row in rows]
    assert starts == [step.spans[0].start_ms if step.spans else None for step in given_steps]
    assert [len(row["also_at_s"].split()) for row in rows] == [len(step.spans[1:]) for step in given_steps]


def test_off_camera_steps_have_a_list_of_their_own(draft: Draft) -> None:
    """What the log holds and the video does not is listed; what is told is not."""
    text = off_camera_markdown(draft)
    assert "- 2026-05-11 10:30: kettle, post" in text
    assert "stool on the bench" not in text
    assert "Every entry" in off_camera_markdown(replace(draft, steps=draft.steps[:1]))


def test_flags_are_worked_through_worst_first(draft: Draft) -> None:
    """DANGER before WARNING before CAUTION before NOTICE (ANSI Z535.4), then by place, the log's own last."""
    words = [flag.signal for flag in worst_first(draft.flags)]
    assert words == ["WARNING", "CAUTION", "CAUTION"]
    assert [flag.start_ms for flag in worst_first(draft.flags)] == [90_000, 36_000, None]


def test_each_open_flag_has_a_box_and_its_reasons(draft: Draft) -> None:
    """A box, the words, the reason, the usual caution and the source stand for every open flag."""
    text = flags_markdown(draft)
    for line in (r"- \[ \] settled", "> ", "- Why: ", "- Usual caution: ", "- Source: "):
        assert len(re.findall(f"^{line}", text, re.MULTILINE)) == len(draft.flags)
    for flag in draft.flags:
        assert flag.id in text


def test_a_flag_without_a_source_claims_none(draft: Draft) -> None:
    """A caution of the trade is marked as common practice, not dressed up as a citation."""
    assert flags_markdown(draft).count("- Source: common practice\n") == 2
    assert "- Source: NFPA tip sheet on oily rags (2017)" in flags_markdown(draft)


def test_what_was_put_aside_stands_at_the_end_with_its_reason(draft: Draft) -> None:
    """A dismissed flag has no box."""
    aside = flags_markdown(draft).partition("## Put aside")[2]
    assert "It is a prop without a cable." in aside
    assert "[ ]" not in aside


def test_no_flag_is_no_all_clear(draft: Draft) -> None:
    """A draft without flags says that this proves nothing."""
    assert "no proof" in flags_markdown(replace(draft, flags=()))
