"""Waiting times of the shelf: one reading for the bench and for risk."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.words.waiting import Wait, hours_in, too_soon, waits_of


@pytest.mark.parametrize(
    ("notes", "hours"),
    [
        ("recoat 4 h", (4, None, None)),
        ("water-borne; next coat 24 h", (24, None, None)),
        ("rags self heat. 12 h between coats", (12, None, None)),
        ("outdoor; 72 h before any other product", (None, 72, None)),
        ("recoat 2 hrs, 3 days before another finish", (2, 72, None)),
        ("next coat 18 h, full cure 2 weeks", (18, None, 336)),
        ("recoat after 2-4 hours; cures in 7 days.", (4, None, 168)),
        ("12 h between coats, 3 days before any other product", (12, 72, None)),
        ("re-coat 90 min", (1.5, None, None)),
        ("recoat 1.5 h", (1.5, None, None)),
        ("fully cured after 1 month. Smells.", (None, None, 720)),
        ("next coat 4 h; next coat in winter 8 h", (8, None, None)),
    ],
)
def test_what_a_note_asks_for(notes: str, hours: tuple[float | None, ...]) -> None:
    """Times in hours by what their clause speaks of; a range counts by its end, the last word holds."""
    assert waits_of(notes).hours == hours


@pytest.mark.parametrize(
    ("notes", "hours"),
    [
        ("recoat 4 h full cure 2 weeks", (4, None, 336)),
        ("recoat after 4 h and hard in 7 days", (4, None, 168)),
        ("4 h between coats and 7 days to cure", (4, None, 168)),
        ("24 h between coats 72 h before any other product", (24, 72, None)),
        ("touch dry 1 h recoat 4 h", (4, None, None)),
    ],
)
def test_two_times_without_a_stop_between(notes: str, hours: tuple[float | None, ...]) -> None:
    """A note without commas is cut on the side of its times where their words stand."""
    assert waits_of(notes).hours == hours


@pytest.mark.parametrize(
    "notes",
    [
        "60 min pot", "touch dry 1 h", "", "thick gel, cover with film",
        "next coat, when dry; 24 h open time", "recoat within 24 h", "2 lb cut", "v1.2 hard", "coat thin",
    ],
)  # fmt: skip
def test_a_note_that_asks_for_no_wait(notes: str) -> None:
    """Open time, pot life, the end of a time to recoat in, and figures that are no times are passed over."""
    assert waits_of(notes).hours == (None, None, None)


def test_the_shelfs_own_words_come_along() -> None:
    """What asked for the wait can be quoted as it stands on the shelf."""
    waits = waits_of("Smells. Next coat 18 h, full cure 2 weeks")
    assert (waits.own, waits.cure) == (Wait(18, "Next coat 18 h"), Wait(336, "full cure 2 weeks"))


@pytest.mark.parametrize(("apart", "soon"), [(3.7, True), (3.75, False), (4, False)])
def test_a_quarter_of_an_hour_of_grace(apart: float, soon: bool) -> None:
    """A quarter of an hour early is on time, a little more is not."""
    assert too_soon(apart, 4) is soon


def test_the_first_time_of_an_entry() -> None:
    """What a log entry says the tin wants."""
    assert hours_in("primer ct 2. tin says 2 hrs") == 2
    assert hours_in("tin says overnight") is None


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet="0123456789 .,;-–hdwmin coatreuld", max_size=60))
def test_any_note_can_be_read(notes: str) -> None:
    """No note is too odd, and a wait is never below nothing."""
    assert all(hours is None or hours >= 0 for hours in waits_of(notes).hours)
