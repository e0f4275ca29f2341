"""Dates and times at the head of a line."""

from __future__ import annotations

from datetime import date, time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.read.dates import date_head, time_head

modest = settings(max_examples=100, deadline=None)


@pytest.mark.parametrize(
    ("line", "at", "rest"),
    [
        ("09:40 planed", time(9, 40), "planed"),
        ("9:40 planed", time(9, 40), "planed"),
        ("9:40:30 planed", time(9, 40), "planed"),
        ("2:15pm glued", time(14, 15), "glued"),
        ("2:15 PM glued", time(14, 15), "glued"),
        ("9.40 am oiled", time(9, 40), "oiled"),
        ("9.40am oiled", time(9, 40), "oiled"),
        ("9 a.m. oiled", time(9), "oiled"),
        ("12:45pm lunch", time(12, 45), "lunch"),
        ("12:10am late", time(0, 10), "late"),
        ("0:05 late", time(0, 5), "late"),
        ("14:15pm glued", time(14, 15), "glued"),
        ("9:40 - planed", time(9, 40), "planed"),
        ("9:40: planed", time(9, 40), "planed"),
        ("9:40 -5 C outside", time(9, 40), "-5 C outside"),
        ("10:30-11:15 planed", time(10, 30), "11:15 planed"),
        ("  - 9:40 planed", time(9, 40), "planed"),
        ("[9:40] planed", time(9, 40), "planed"),
        ("23:59", time(23, 59), ""),
    ],
)
def test_times_as_people_write_them(line: str, at: time, rest: str) -> None:
    """Each of these lines starts an entry."""
    head = time_head(line)
    assert head is not None
    assert (head.at, head.rest) == (at, rest)


@pytest.mark.parametrize("line", ["25:70 a", "24:00 a", "9:60 a", "14:15am a", "99:00", "23:60"])
def test_times_of_no_clock(line: str) -> None:
    """They look like times and are none: read as a head without a time."""
    head = time_head(line)
    assert head is not None
    assert head.at is None


@pytest.mark.parametrize(
    "line",
    [
        "9.40 planed",
        "180 grit",
        "4 amp fuse",
        "3x #8",
        "1:1 mix",
        "9:4 x",
        "9:401",
        "12.5 mm",
        "planed 9:40",
        "",
    ],
)
def test_what_is_no_time(line: str) -> None:
    """Sizes, ratios and sums do not start an entry."""
    assert time_head(line) is None


@pytest.mark.parametrize(
    ("line", "day", "rest"),
    [
        ("2026-03-04", date(2026, 3, 4), ""),
        ("2026-03-04 weds. frost", date(2026, 3, 4), "weds. frost"),
        ("2026/3/4", date(2026, 3, 4), ""),
        ("2026-03-04T09:40 x", date(2026, 3, 4), "09:40 x"),
        ("4 March 2026", date(2026, 3, 4), ""),
        ("Weds 4th of March, 2026 fog", date(2026, 3, 4), "fog"),
        ("Mar 4, 2026", date(2026, 3, 4), ""),
        ("14/03/2026", date(2026, 3, 14), ""),
        ("14.3.26", date(2026, 3, 14), ""),
        ("2024-02-29", date(2024, 2, 29), ""),
    ],
)
def test_dates_as_people_write_them(line: str, day: date, rest: str) -> None:
    """Each of these lines starts a day."""
    head = date_head(line)
    assert head is not None
    assert (head.day, head.rest, head.ambiguous) == (day, rest, False)


@pytest.mark.parametrize("line", ["2025-02-29", "2026-13-01", "31 April 2026", "32/01/2026", "0000-01-01"])
def test_days_that_the_calendar_lacks(line: str) -> None:
    """They are dates without a day (29 February 2024, just inside, is in the list above)."""
    head = date_head(line)
    assert head is not None
    assert head.day is None


@pytest.mark.parametrize(
    "line",
    ["20260-03-04", "4 marbles", "2 may need sanding", "1/2 pint", "12/3 screws", "march on", "5 dec plates"],
)
def test_what_is_no_date(line: str) -> None:
    """Words that begin like a month and fractions start no day."""
    assert date_head(line) is None


@modest
@given(st.dates(date(1000, 1, 1)))
def test_iso_dates_read_back(day: date) -> None:
    """Every date of the proleptic calendar in ISO 8601 form is read as Python reads it."""
    head = date_head(f"{day.isoformat()} words")
    assert head is not None
    assert head.day == date.fromisoformat(day.isoformat())


@modest
@given(st.times())
def test_both_clocks_agree(at: time) -> None:
    """A time in 24-hour form and in 12-hour form, as `strftime` writes them, is the same time."""
    at = at.replace(second=0, microsecond=0)
    for text in (at.strftime("%H:%M"), at.strftime("%I:%M %p"), at.strftime("%I.%M%p")):
        head = time_head(f"{text} words")
        assert head is not None
        assert head.at == at
