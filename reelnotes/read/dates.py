"""Dates and times of day as people write them at the head of a line."""

from __future__ import annotations

import re
from datetime import date, time
from functools import cache

from reelnotes.records import frozen

_HALF_DAY = 12
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_CENTURY = 2000

_ISO = re.compile(r"\s*([0-9]{4})([-/.])([0-9]{1,2})\2([0-9]{1,2})(?![0-9])[T,]?\s*(.*)")
_TIME = re.compile(
    r"\s*(?:[-*•]\s+)?[\[(]?([0-9]{1,3})(?:([:.])([0-9]{2})(?::[0-9]{2})?)?"
    r"(?:\s*([aApP])\.?[mM]\.?(?!\w))?[\])]?(?=[\s\-–—,;:.]|$)(.*)"
)


@frozen
class DateHead:
    """A date at the head of a line: `day` is None where the calendar has no such day.

    `ambiguous` says that day and month could be the other way round, `yearless` that no year is named; `rest`
    are the words that follow.
    """

    day: date | None
    rest: str
    ambiguous: bool = False
    yearless: bool = False


@frozen
class TimeHead:
    """A time at the head of a line: `at` is None where the clock has no such time."""

    at: time | None
    rest: str


def date_head(line: str) -> DateHead | None:
    """Read a date at the head of a line; None where there is none.

    `2026-03-04` (also with `/` or `.`), `4 March 2026`, `Mar 4, 2026`, `04/03/2026`, each with a weekday
    before it if you like. Of two numbers that could both be the month, the second one is taken. A day and
    month without a year count only where nothing else stands on the line.
    """
    if match := _ISO.match(line):
        return DateHead(_day(match[1], match[3], match[4]), match[5].strip())
    if not any(mark.isdigit() for mark in line):
        return None
    if match := _with_month_name().match(line):
        if not match["year"]:
            return None if match["rest"].strip() else DateHead(None, "", yearless=True)
        month = (match["month"] or match["month2"])[:3].casefold()
        number = str(_MONTHS.index(month) + 1)
        return DateHead(_day(match["year"], number, match["day"] or match["day2"]), match["rest"].strip())
    if match := _in_figures().match(line):
        first, second, year = int(match[1]), int(match[3]), match[4]
        if second > _HALF_DAY >= first:
            first, second = second, first
        day = _day(year if len(year) > 2 else str(_CENTURY + int(year)), str(second), str(first))  # noqa: PLR2004
        ambiguous = day is not None and first <= _HALF_DAY and first != second
        return DateHead(day, match[5].strip(), ambiguous)
    return None


def time_head(line: str, *, dotted: bool = False) -> TimeHead | None:
    """Read a time of day at the head of a line; None where there is none.

    `09:40`, `9:40`, `2:15pm`, `9.40 am`, `9am`; with `dotted` also `9.40`, which could be a size or a sum.
    """
    match = _TIME.match(line)
    if match is None:
        return None
    hour, mark, minute, half = match[1], match[2], match[3], match[4]
    if not half and not (mark == ":" or (dotted and mark == ".")):
        return None
    return TimeHead(_time(int(hour), int(minute or 0), (half or "").casefold()), _words(match[5]))


def _time(hour: int, minute: int, half: str) -> time | None:
    if half and 0 < hour <= _HALF_DAY:
        hour = hour % _HALF_DAY + (_HALF_DAY if half == "p" else 0)
    elif half == "a" and hour:
        return None
    try:
        return time(hour, minute)
    except ValueError:
        return None


def _words(rest: str) -> str:
    """Take out the mark between the time and the words: `- glued`, `: glued`, but not the minus of `-5 C`."""
    if rest[:1].isspace():
        rest = rest.lstrip()
        apart = rest[1:2] in {" ", ""}
    else:
        apart = True
    return rest[1:].strip() if apart and rest[:1] in {"-", "–", "—", ":", ",", ";", "."} else rest.strip()


def _day(year: str, month: str, day: str) -> date | None:
    try:
        return date(int(year), int(month), int(day))
    except ValueError:
        return None


_WEEKDAY = r"\s*(?:(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,?\s+)?"


@cache
def _with_month_name() -> re.Pattern[str]:
    month = (
        r"(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?"
        r"|sept?(?:ember)?|oct(?:ober)?|nov(?:ember)?|dec(?:ember)?)\b\.?"
    )
    return re.compile(
        rf"{_WEEKDAY}(?:(?P<day>[0-9]{{1,2}})(?:st|nd|rd|th)?\s+(?:of\s+)?(?P<month>{month}),?"
        rf"|(?P<month2>{month})\s+(?P<day2>[0-9]{{1,2}})(?:st|nd|rd|th)?,?)"
        r"(?:\s+(?P<year>[0-9]{4}))?(?![0-9])[.:,]?(?P<rest>.*)",
        re.IGNORECASE,
    )


@cache
def _in_figures() -> re.Pattern[str]:
    return re.compile(
        rf"{_WEEKDAY}([0-9]{{1,2}})([/.-])([0-9]{{1,2}})\2([0-9]{{4}}|[0-9]{{2}})(?![0-9./-])[:,]?(.*)",
        re.IGNORECASE,
    )
