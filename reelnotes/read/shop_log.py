"""The shop log: what was noted at the bench, as text with times at the head of lines, or as a table."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time
from functools import cache
from typing import TYPE_CHECKING

from reelnotes.model import Entry
from reelnotes.problems import Problem
from reelnotes.read.dates import DateHead, TimeHead, date_head, time_head
from reelnotes.read.numbered import NumberedLines
from reelnotes.store import SourceText

if TYPE_CHECKING:
    from reelnotes.read.table import Columns

_NOON = 12


@dataclass(slots=True)
class _Note:
    """An entry on the way: its words are the lines it is told in."""

    line: int
    words: list[str]
    at: time | None = None


@dataclass(slots=True)
class _Day:
    """What stands under one date; `line` is 0 before any date, `day` None where the date is not known."""

    line: int = 0
    day: date | None = None
    header: str = ""
    notes: list[_Note] = field(default_factory=list)
    loose: list[int] = field(default_factory=list)
    timed: bool = False


def read_shop_log(source: SourceText) -> tuple[tuple[Entry, ...], list[Problem]]:
    """Read a shop log, text or table; the suffix `.csv` or a first line of columns means a table.

    Text: a line that is a date starts a day, and words behind it are a note on that day, not an entry. A line
    that begins with a time starts an entry; other lines go on with the entry above. In a log or a day without
    any times, every line is an entry of its own. Before any date the day is unknown. Table: columns `time`
    (ISO 8601, or the time of day beside a column `date`) and `text`, or common words for these. Entries keep
    the order of the file, and nothing is dropped without a problem.
    """
    numbered = NumberedLines.of(source)
    if source.name.casefold().endswith(".csv") or _looks_like_table(numbered.lines):
        days, problems = _from_table(source)
    else:
        days, problems = _from_text(numbered)
    problems += _order(days, numbered)
    entries: list[Entry] = []
    for day in days:
        for note in day.notes:
            text = " ".join(" ".join(note.words).split())
            entries.append(Entry(len(entries), text, note.line, day.day, note.at))
    if not entries:
        message = "holds no entries; begin a line with a time, such as 09:40, and say what was done"
        problems.append(Problem("log-empty", message, numbered.name, severity="error"))
    return tuple(entries), problems


def _looks_like_table(lines: list[str]) -> bool:
    head = next((line for line in lines if line.strip()), "")
    if not any(mark in head for mark in ",;\t") or any(mark.isdigit() for mark in head):
        return False
    from reelnotes.read.table import SEPARATORS

    return any({"time", "text"} <= {*_columns().names_in(head, separator)} for separator in SEPARATORS)


@cache
def _columns() -> Columns:
    from reelnotes.read.table import Columns

    return Columns(
        known=("date", "time", "text"),
        needed=("text",),
        optional=("date",),
        line_code="log-line",
        column_code="log-column",
        also={
            "text": ("note", "notes", "entry", "what", "work", "done", "words"),
            "time": ("when", "clock", "at"),
            "date": ("day",),
        },
    )


def _order(days: list[_Day], numbered: NumberedLines) -> list[Problem]:
    """Report every entry that is earlier than the one above it, and every day that is."""
    problems = []
    last_day: date | None = None
    for day in days:
        if day.day and last_day and day.day < last_day and day.notes:
            message = f"{day.day} is earlier than the {last_day} above it"
            problems.append(numbered.problem("log-order", day.notes[0].line, message))
        last_day = day.day or last_day
        last: time | None = None
        for note in day.notes:
            if note.at and last and note.at < last:
                message = f"{note.at:%H:%M} is earlier than the {last:%H:%M} above it"
                if note.at.hour < _NOON:
                    message += f"; if the afternoon is meant, write {note.at.hour + _NOON}:{note.at:%M}"
                problems.append(numbered.problem("log-order", note.line, message))
            last = note.at or last
    return problems


# --- text --------------------------------------------------------------------------------------------


def _from_text(numbered: NumberedLines) -> tuple[list[_Day], list[Problem]]:
    days, problems = _days(numbered, dotted=False)
    if not any(day.timed for day in days):
        dotted, more = _days(numbered, dotted=True)
        if any(day.timed for day in dotted):
            days, problems = dotted, more
    timed = any(day.timed for day in days)
    untimed = []
    for day in days:
        if day.loose and not day.notes and (day.line or not timed):
            untimed.append(day.loose[0])
            day.notes = [_Note(line, [numbered.lines[line - 1]]) for line in day.loose]
        else:
            message = "stands above the first time of the day; begin it with a time to make it an entry"
            problems += numbered.problem_of_each("log-line", day.loose, message)
    if not any(day.notes for day in days):
        # All that was noted stands behind the dates.
        for day in days:
            if day.header:
                untimed.append(day.line)
                day.notes = [_Note(day.line, [day.header])]
    whole = "this day" if timed else "the log"
    message = f"{whole} holds no times; each line was taken as an entry of its own"
    problems += numbered.problem_of_all("log-untimed", untimed, message)
    return days, problems


def _days(numbered: NumberedLines, *, dotted: bool) -> tuple[list[_Day], list[Problem]]:
    """Part the lines into days and entries."""
    problems: list[Problem] = []
    days = [_Day()]
    for number, line in enumerate(numbered.lines, 1):
        if not line.strip():
            continue
        if head := date_head(line):
            problems += _doubts(head, number, numbered)
            days.append(_Day(number, head.day, head.rest))
            # `2026-03-04 09:40 glued` is a date and an entry in one line.
            if entry := time_head(head.rest, dotted=dotted):
                days[-1].header = ""
                problems += _start(days[-1], number, entry, head.rest, numbered)
        elif entry := time_head(line, dotted=dotted):
            problems += _start(days[-1], number, entry, line, numbered)
        elif days[-1].notes:
            days[-1].notes[-1].words.append(line)
        else:
            days[-1].loose.append(number)
    for day in days:
        wordless = [note.line for note in day.notes if not any(words.strip() for words in note.words)]
        problems += numbered.problem_of_each(
            "log-line", wordless, "the entry holds no words and was left out"
        )
        day.notes = [note for note in day.notes if any(words.strip() for words in note.words)]
    return days, problems


def _start(day: _Day, number: int, head: TimeHead, whole: str, numbered: NumberedLines) -> list[Problem]:
    """Start an entry; where its time is none of the clock's, it keeps the whole line as its words."""
    if head.at is None:
        message = "begins with a time that no clock shows; it was taken as an entry without a time"
        day.notes.append(_Note(number, [whole]))
        return [numbered.problem("log-time", number, message)]
    day.timed = True
    day.notes.append(_Note(number, [head.rest], head.at))
    return []


def _doubts(head: DateHead, number: int, numbered: NumberedLines) -> list[Problem]:
    if head.day is None:
        what = "the date names no year" if head.yearless else "the calendar has no such day"
        message = f"{what}, so the day of these entries is unknown; write it as 2026-03-04"
        return [numbered.problem("log-date", number, message)]
    if head.ambiguous:
        message = f"was read as {head.day.day} {head.day:%B} {head.day.year}; {head.day} would leave no doubt"
        return [numbered.problem("log-date", number, message, "note")]
    return []


# --- table -------------------------------------------------------------------------------------------


def _from_table(source: SourceText) -> tuple[list[_Day], list[Problem]]:
    from reelnotes.read.table import read_table

    table, problems = read_table(source, _columns())
    days: list[_Day] = []
    known: date | None = None
    for row in table:
        day, at, doubt = _moment(row["time"])
        if doubt:
            problems.append(table.numbered.problem("log-time", row.line, doubt))
        if row["date"]:
            known, more = _day_of(row["date"], row.line, table.numbered)
            problems += more
        if not row["text"]:
            problems.append(table.numbered.problem("log-line", row.line, "holds no text and was left out"))
            continue
        day = day or known
        if not days or day != days[-1].day:
            days.append(_Day(row.line, day))
        days[-1].notes.append(_Note(row.line, [row["text"]], at))
    return days, problems


def _day_of(text: str, line: int, numbered: NumberedLines) -> tuple[date | None, list[Problem]]:
    """Read the field of a column for dates; it holds on for the rows below that leave it empty."""
    head = date_head(text)
    if head is None:
        message = f"{text} is no date such as 2026-03-04; the day of the entry is unknown"
        return None, [numbered.problem("log-date", line, message)]
    return head.day, _doubts(head, line, numbered)


def _moment(text: str) -> tuple[date | None, time | None, str]:
    """Read `2026-03-04T09:40` or `09:40`; a time zone is left aside, because a log keeps the wall clock."""
    if not text:
        return None, None, "holds no time; it was taken as an entry without one"
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        head = time_head(text)
        if head and head.at and not head.rest:
            return None, head.at, ""
        return None, None, f"{text} is no time such as 2026-03-04T09:40; the entry was taken without one"
    if len(text) <= len("2026-03-04"):
        return moment.date(), None, f"{text} holds no time of day; the entry was taken without one"
    return moment.date(), moment.time().replace(second=0, microsecond=0), ""
