from __future__ import annotations

from datetime import date, time

import pytest

from reelnotes.align.deeds import deeds_of, in_order
from reelnotes.model import Entry

MONDAY, TUESDAY, WEDNESDAY = date(2026, 6, 1), date(2026, 6, 2), date(2026, 6, 3)


def log(*notes: tuple[date, int, str]) -> tuple[Entry, ...]:
    return tuple(Entry(i, text, i + 1, day, time(hour)) for i, (day, hour, text) in enumerate(notes))


@pytest.mark.parametrize(
    ("text", "day", "at"),
    [
        ("forgot to write: yest abt 4 took hinges off", TUESDAY, time(16)),
        ("forgot: tue 12:50 plugged old holes", TUESDAY, time(12, 50)),
        ("late note, mon aft lock taken apart", MONDAY, time(14)),
        ("should have noted yesterday 10.15am, castors greased", TUESDAY, time(10, 15)),
        ("forgot to log this, monday, drawer 3 runner", MONDAY, time(23, 59)),
        ("didnt write: this morning knotting on knots", WEDNESDAY, time(10, 30)),
        ("wiped down w soft sponge (late note, done ysterday 11:10)", TUESDAY, time(11, 10)),
        ("meant to write: last night glued lid", TUESDAY, time(22)),
    ],
)
def test_a_late_note_names_its_own_time(text: str, day: date, at: time) -> None:
    """A note that says it is late counts when its work was done: common ways to say so."""
    entries = log((MONDAY, 9, "a"), (TUESDAY, 9, "b"), (WEDNESDAY, 15, text))
    deed = deeds_of(entries)[2]
    assert (deed.day, deed.at, deed.late) == (day, at, True)


@pytest.mark.parametrize(
    "text",
    [
        "sanded 120 at 4 corners",
        "forgot gloves, back home",
        "yesterdays glue is hard, clamps off",
        "phone at 4",
    ],
)
def test_a_plain_note_counts_when_it_was_written(text: str) -> None:
    """Hours and days in a note that is not late, or a late note that names no time, change nothing."""
    deed = deeds_of(log((MONDAY, 9, "a"), (TUESDAY, 15, text)))[1]
    assert (deed.day, deed.at, deed.late) == (TUESDAY, time(15), False)


def test_yesterday_may_be_the_last_working_day() -> None:
    """Where nothing was logged the day before, "yesterday" means the last day of the log."""
    deed = deeds_of(log((MONDAY, 9, "a"), (WEDNESDAY, 9, "forgot to write yest at 3 oiled")))[1]
    assert deed.day == MONDAY


def test_the_order_of_deeds_puts_late_notes_back() -> None:
    """A late note goes behind the last entry before its time; the rest keep the order of the log."""
    entries = log(
        (MONDAY, 9, "stripped"), (MONDAY, 17, "glued"), (TUESDAY, 9, "sanded"),
        (TUESDAY, 10, "forgot to write: yest abt 3 hinges off"), (TUESDAY, 11, "oiled"),
    )  # fmt: skip
    assert in_order(deeds_of(entries)) == [0, 3, 1, 2, 4]


def test_a_log_without_days_keeps_its_order() -> None:
    """Without a date nothing can be put back."""
    entries = tuple(Entry(i, "forgot to write yest at 4", i, None, None) for i in range(3))
    assert in_order(deeds_of(entries)) == [0, 1, 2]
