"""The shop log, as text and as a table."""

from __future__ import annotations

from datetime import date, datetime, time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import Entry
from reelnotes.problems import Problem
from reelnotes.read.shop_log import read_shop_log
from reelnotes.store import SourceText

modest = settings(max_examples=150, deadline=None)


def read(text: str, name: str = "shop-log.txt") -> tuple[tuple[Entry, ...], list[Problem]]:
    return read_shop_log(SourceText(name, text))


def codes(problems: list[Problem]) -> list[tuple[str, int | None]]:
    return [(problem.code, problem.line) for problem in problems]


def test_a_log_of_two_days() -> None:
    """Dates start days, times start entries, other lines go on with the entry above by one space."""
    entries, problems = read(
        "2026-03-04 weds, frost\n"
        "09:40 planed the lid\n"
        "   both faces,  0.5 mm\n"
        "2:15pm glue on\n"
        "\n"
        "2026-03-05\n"
        "9.40 am clamps off\n"
    )
    assert problems == []
    assert [(e.index, e.text, e.line, e.logged_at) for e in entries] == [
        (0, "planed the lid both faces, 0.5 mm", 2, datetime(2026, 3, 4, 9, 40)),
        (1, "glue on", 4, datetime(2026, 3, 4, 14, 15)),
        (2, "clamps off", 7, datetime(2026, 3, 5, 9, 40)),
    ]


def test_before_any_date_the_day_is_unknown() -> None:
    """Entries without a day keep their order and their time."""
    entries, problems = read("10:00 first\n11:00 second\n")
    assert problems == []
    assert [(e.day, e.at, e.logged_at) for e in entries] == [(None, time(10), None), (None, time(11), None)]


def test_a_date_and_a_time_on_one_line_start_both() -> None:
    """What stands behind date and time is an entry, not a note on the day."""
    entries, problems = read("2026-03-04 09:40 glued\n2026-03-04 10:10 clamped\n")
    assert problems == []
    assert [(e.text, e.at) for e in entries] == [("glued", time(9, 40)), ("clamped", time(10, 10))]


def test_a_time_that_goes_back_is_kept_and_reported() -> None:
    """The entry stays where it stands; the problem says how the afternoon is written."""
    entries, problems = read("2026-03-04\n09:00 a\n1:30 b\n13:40 c\n")
    assert [e.at for e in entries] == [time(9), time(1, 30), time(13, 40)]
    assert codes(problems) == [("log-order", 3)]
    assert "13:30" in problems[0].message


def test_the_same_time_twice_is_no_problem() -> None:
    """Just inside the limit: equal times, and an earlier time on a later day."""
    assert read("2026-03-04\n09:00 a\n09:00 b\n2026-03-05\n08:00 c\n")[1] == []


def test_a_day_that_goes_back_is_reported() -> None:
    """Days out of order are kept as they stand."""
    entries, problems = read("2026-03-05\n09:00 a\n2026-03-04\n09:00 b\n")
    assert [e.day for e in entries] == [date(2026, 3, 5), date(2026, 3, 4)]
    assert codes(problems) == [("log-order", 4)]


def test_a_time_of_no_clock_keeps_its_words() -> None:
    """`25:70` is reported with its line, and the line is an entry without a time."""
    entries, problems = read("2026-03-04\n09:00 a\n25:70 glued up\n10:00 b\n")
    assert [(e.text, e.at) for e in entries] == [("a", time(9)), ("25:70 glued up", None), ("b", time(10))]
    assert codes(problems) == [("log-time", 3)]
    assert problems[0].excerpt == "25:70 glued up"


def test_a_log_without_times_gives_an_entry_a_line() -> None:
    """Every line that is no date is an entry of its own, which is said once."""
    entries, problems = read("2026-03-04\nglued the top\n\nplaned edges\n2026-03-05\nwaxed\n")
    assert [(e.text, e.at, str(e.day)) for e in entries] == [
        ("glued the top", None, "2026-03-04"),
        ("planed edges", None, "2026-03-04"),
        ("waxed", None, "2026-03-05"),
    ]
    assert codes(problems) == [("log-untimed", 2)]


def test_a_day_without_times_among_others() -> None:
    """The lines of such a day are entries; they do not run on into the day before."""
    entries, problems = read("2026-03-04\n09:00 a\n2026-03-05\nno heat in the shop\n")
    assert [(e.text, e.at) for e in entries] == [("a", time(9)), ("no heat in the shop", None)]
    assert codes(problems) == [("log-untimed", 4)]


def test_a_log_of_dates_with_words_behind_them() -> None:
    """Where nothing else was noted, the words behind the dates are the entries."""
    entries, problems = read("2026-03-04 glued\n2026-03-05 waxed\n")
    assert [(e.text, str(e.day)) for e in entries] == [("glued", "2026-03-04"), ("waxed", "2026-03-05")]
    assert codes(problems) == [("log-untimed", 1)]


def test_times_with_dots_count_where_there_are_no_others() -> None:
    """`9.40` is a time in a log that writes them so, and a size in any other."""
    entries, problems = read("2026-03-04\n9.40 glued\n10.15 clamped\n")
    assert (problems, [e.at for e in entries]) == ([], [time(9, 40), time(10, 15)])
    entries, problems = read("2026-03-04\n09:40 cut to\n3.10 m\n")
    assert (problems, [e.text for e in entries]) == ([], ["cut to 3.10 m"])


def test_words_above_the_first_time_are_reported() -> None:
    """They belong to no entry: not to the day before, and not to the one below."""
    entries, problems = read("my log\n2026-03-04\n09:00 a\n2026-03-05 cold\nfog\n09:00 b\n")
    assert [e.text for e in entries] == ["a", "b"]
    assert codes(problems) == [("log-line", 1), ("log-line", 5)]


def test_an_entry_without_words_is_reported() -> None:
    """A time alone says nothing; with words on the next line it does."""
    entries, problems = read("09:00\n09:10\n  glued\n")
    assert [(e.text, e.at) for e in entries] == [("glued", time(9, 10))]
    assert codes(problems) == [("log-line", 1)]


@pytest.mark.parametrize("text", ["", "\n\n  \n", "2026-03-04\n"])
def test_an_empty_log_says_so(text: str) -> None:
    """Nothing, white space and a date alone hold no entries."""
    entries, problems = read(text)
    assert entries == ()
    assert [(p.code, p.severity) for p in problems] == [("log-empty", "error")]


def test_a_day_that_the_calendar_lacks() -> None:
    """The line is shown, and the entries below have no day rather than a wrong one."""
    entries, problems = read("2026-02-28\n09:00 a\n2026-02-30\n09:00 b\n")
    assert [e.day for e in entries] == [date(2026, 2, 28), None]
    assert codes(problems) == [("log-date", 3)]


def test_a_date_that_could_be_two_is_taken_with_a_note() -> None:
    """04/03/2026 is read day first and reported; 14/03/2026 and 03/14/2026 leave no doubt."""
    entries, problems = read("04/03/2026\n09:00 a\n14/03/2026\n09:00 b\n03/15/2026\n09:00 c\n")
    assert [str(e.day) for e in entries] == ["2026-03-04", "2026-03-14", "2026-03-15"]
    assert codes(problems) == [("log-date", 1)]
    assert "4 March 2026" in problems[0].message


def test_a_date_without_a_year_starts_a_day_that_is_not_known() -> None:
    """Times of such days are not compared with each other, and the line is reported."""
    entries, problems = read("tues 10 feb\n09:00 a\nweds 11 feb\n08:00 b\n")
    assert [(e.text, e.day) for e in entries] == [("a", None), ("b", None)]
    assert codes(problems) == [("log-date", 1), ("log-date", 3)]


def test_a_table() -> None:
    """`time,text` with ISO 8601 times, quoted commas, time zones left aside."""
    entries, problems = read(
        'time,text\n2026-03-04T09:40,"glued, clamped"\n2026-03-04 10:05:30,waxed\n2026-03-04T11:00+02:00,tea',
        "shop-log.csv",
    )
    assert problems == []
    assert [(e.text, e.logged_at, e.line) for e in entries] == [
        ("glued, clamped", datetime(2026, 3, 4, 9, 40), 2),
        ("waxed", datetime(2026, 3, 4, 10, 5), 3),
        ("tea", datetime(2026, 3, 4, 11, 0), 4),
    ]


def test_a_table_is_known_by_its_header_too() -> None:
    """Columns in any order and case, under a name that says nothing."""
    entries, problems = read("Text;Time\nglued;2026-03-04T09:40\n", "log.txt")
    assert problems == []
    assert [(e.text, e.at) for e in entries] == [("glued", time(9, 40))]


@pytest.mark.parametrize(
    "head", ["time,note", "when;entry", "Time\tWhat", "note,time", "clock,notes", "time,text,note"]
)
def test_a_table_may_have_other_words_for_its_columns(head: str) -> None:
    """Whoever made the table did not ask us what its columns are called; our own words go before others."""
    separator = ";" if ";" in head else "\t" if "\t" in head else ","
    values = {"time": "2026-03-04T09:40", "when": "2026-03-04T09:40", "clock": "2026-03-04T09:40"}
    texts = head.casefold().split(separator)
    first = "text" if "text" in texts else next(name for name in texts if name not in values)
    row = separator.join(values.get(name, "glued" if name == first else "cold") for name in texts)
    entries, problems = read(f"{head}\n{row}\n", "bench.csv")
    assert [(e.text, e.logged_at) for e in entries] == [("glued", datetime(2026, 3, 4, 9, 40))]
    assert [p.severity for p in problems] == ["note"] * (len(texts) - 2)


def test_a_table_may_have_the_date_in_a_column_of_its_own() -> None:
    """A date holds on for the rows below that leave it empty; one that cannot be read is reported."""
    entries, problems = read(
        "date,time,note\n4 March 2026,09:40,glued\n,10:05,waxed\n"
        "2026-03-05,2:15pm,sanded\nsoon,16:00,oiled\n",
        "shop-log.csv",
    )
    assert [e.logged_at and e.logged_at.isoformat() for e in entries] == [
        "2026-03-04T09:40:00",
        "2026-03-04T10:05:00",
        "2026-03-05T14:15:00",
        None,
    ]
    assert codes(problems) == [("log-date", 5)]


def test_a_table_keeps_what_it_can() -> None:
    """Wrong times, missing text and unquoted commas are reported by line; the words stay."""
    entries, problems = read(
        "time,text\nsoon,glued\n2026-03-04T10:00,\n2026-03-04T11:00,sanded, waxed\n2026-03-04,swept\n09:15,x",
        "shop-log.csv",
    )
    assert [(e.text, e.at) for e in entries] == [
        ("glued", None),
        ("sanded, waxed", time(11)),
        ("swept", None),
        ("x", time(9, 15)),
    ]
    assert sorted(codes(problems)) == [("log-line", 3), ("log-line", 4), ("log-time", 2), ("log-time", 5)]


def test_a_table_without_text_cannot_be_read() -> None:
    """The missing column is named."""
    entries, problems = read("time,colour\n2026-03-04T09:40,glued\n", "shop-log.csv")
    assert entries == ()
    assert [p.code for p in problems] == ["log-column", "log-empty"]
    assert "text" in problems[0].message


HEADS = ["2026-03-04", "2026-03-05 cold", "4 March 2026", "2026-02-31", "10 feb", "04/03/2026"]
TIMED = [
    "09:40 planed lid",
    "9.40 am glued",
    "2:15pm",
    "2026-03-06 10:00 tea",
    "- 10:05 nailed",
    "[11:00] oiled",
]
OTHERS = ["25:70 knots", "13:99", "  more of it", "abt 90 ml", "3.10 m", "12:00", "", "   "]
ANYTHING = st.text(st.characters(exclude_characters="\n\r", exclude_categories=["Cs"]), max_size=25)
LINES = st.lists(st.sampled_from(HEADS + TIMED + OTHERS) | ANYTHING, max_size=12)


@modest
@given(LINES)
def test_no_line_is_lost(lines: list[str]) -> None:
    """Every line that holds anything is a date, in an entry, or shown by a problem."""
    from reelnotes.read.dates import date_head

    entries, problems = read("\n".join(lines))
    told = " ".join(entry.text for entry in entries)
    shown = {problem.line for problem in problems}
    for number, line in enumerate(lines, 1):
        if not line.strip() or date_head(line) or number in shown or not entries:
            continue
        words = " ".join(line.split())
        assert words.split()[-1] in told or any(e.line == number for e in entries), (number, line)
    assert [entry.index for entry in entries] == list(range(len(entries)))
    assert [entry.line for entry in entries] == sorted(entry.line for entry in entries)
    assert all(entry.text and entry.text == " ".join(entry.text.split()) for entry in entries)


@modest
@given(
    st.lists(
        st.tuples(
            st.datetimes(datetime(1990, 1, 1), datetime(2090, 1, 1)),
            st.text(st.characters(categories=["L", "N", "P"]), min_size=1, max_size=20),
        ),
        min_size=1,
        max_size=8,
    )
)
def test_a_table_reads_back_what_was_written(rows: list[tuple[datetime, str]]) -> None:
    """What Python's csv writes with ISO 8601 times is read back whole (RFC 4180 quoting)."""
    import csv
    import io

    file = io.StringIO()
    csv.writer(file, lineterminator="\n").writerows(
        [("time", "text"), *((t.isoformat(), w) for t, w in rows)]
    )
    entries, _ = read(file.getvalue(), "shop-log.csv")
    assert [(e.day, e.at, e.text) for e in entries] == [
        (moment.date(), moment.time().replace(second=0, microsecond=0), words) for moment, words in rows
    ]
