"""Decisions by hand in the times of another version: only the times change."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import KeptChapter, Pin
from reelnotes.review.kept import read_kept
from reelnotes.review.moving import move_kept
from reelnotes.store import SourceText
from reelnotes.timing import Span

TEXT = """\
# my own words at the top

[[pin]]            # the stool
step = "aaaa0001"
spans = ["2:00-2:30", "0:10-0:20"]   # twice
why = "mine"

# before the chapter
[[chapter]]
at = "4:10"        # where it begins
title = "Gluing"

[[dismiss]]
flag = "77c0d2e4"
reason = "scrapped"

[[chapter]]
at = "0:30"
gone = true

# at the end
"""


def a_minute_less(decision: Pin | KeptChapter) -> Pin | KeptChapter | None:
    """Take the first minute out."""
    if isinstance(decision, Pin):
        spans = tuple(
            Span(s.start_ms - 60_000, s.end_ms - 60_000) for s in decision.spans if s.start_ms >= 60_000
        )
        return Pin(decision.step, spans)
    if decision.start_ms < 60_000:
        return None
    return KeptChapter(decision.start_ms - 60_000, decision.title, decision.gone)


def test_only_the_times_change() -> None:
    """Comments, order, other members and other decisions stay as they are."""
    expected = TEXT.replace('["2:00-2:30", "0:10-0:20"]', '["1:00-1:30"]').replace('"4:10"', '"3:10"')
    expected = expected.replace('[[chapter]]\nat = "0:30"\ngone = true\n', "")
    assert move_kept(TEXT, a_minute_less) == expected


def test_nothing_to_move_changes_no_byte() -> None:
    """A version that takes all keeps the file as it is."""
    assert move_kept(TEXT, lambda decision: decision) == TEXT
    assert move_kept("", a_minute_less) == ""


def test_a_pin_whose_spans_went_says_off_camera() -> None:
    """No spans are left, so the step is off camera in this version."""
    text = '[[pin]]\nstep = "aaaa0001"\nspans = ["0:10-0:20"]\n'
    assert tomllib.loads(move_kept(text, a_minute_less)) == {
        "pin": [{"step": "aaaa0001", "off_camera": True}]
    }


def test_decisions_on_one_line_move_too() -> None:
    """`chapter = [{...}, {...}]` is the same to TOML."""
    text = (
        'chapter = [{ at = "4:10", title = "A" }, { at = "0:10", title = "B" }, { at = 200, title = "C" }]\n'
    )
    kept, problems = read_kept(SourceText("kept.toml", move_kept(text, a_minute_less)))
    assert kept.chapters == (KeptChapter(190_000, "A"), KeptChapter(140_000, "C"))
    assert problems == []


def test_what_cannot_be_read_stays() -> None:
    """A damaged table, and one that says nothing, are left for the maker to find; the others move."""
    text = (
        '[[chapter]]\nat = "4:10\n\n[[chapter]]\ntitle = "no time"\n\n[[chapter]]\nat = "5:00"\ntitle = "x"\n'
    )
    assert move_kept(text, a_minute_less) == text.replace("5:00", "4:00")


@pytest.mark.parametrize("at", ["1:02:03", "62.5", "4:10.250"])
def test_times_of_any_form(at: str) -> None:
    """Every way of writing a time is read, and written as it is typed."""
    text = f'[[chapter]]\nat = "{at}"\ntitle = "x"\n'
    (before,) = read_kept(SourceText("k", text))[0].chapters
    (after,) = read_kept(SourceText("k", move_kept(text, a_minute_less)))[0].chapters
    assert after.start_ms == before.start_ms - 60_000


@settings(max_examples=50, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 400), st.booleans(), st.sampled_from(["# note\n", "\n", ""])), max_size=6
    )
)
def test_comments_survive_any_file(rows: list[tuple[int, bool, str]]) -> None:
    """Whatever is moved or goes, every comment in front of a decision stays, in order."""
    text = ""
    for n, (at, gone, between) in enumerate(rows):
        what = "gone = true" if gone else f'title = "T{n}"'
        text += f"{between}# {n}\n[[chapter]]\nat = {at}\n{what}\n"
    moved = move_kept(text, a_minute_less)
    assert [line for line in moved.split("\n") if line.startswith("#")] == [
        line for line in text.split("\n") if line.startswith("#")
    ]
    tomllib.loads(moved)
