"""When a deed was done: mostly when it was noted, but a late note names its own day and hour."""

from __future__ import annotations

import re
from datetime import date, time, timedelta

from reelnotes.model import Entry
from reelnotes.records import frozen

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")

_LATE = re.compile(
    r"""\b(?:
        forgot(?:ten)? | late\ (?:note|entry) | from\ earlier | missed\ (?:one|this) | add(?:ed|ing)?\ late
      | (?:meant|should\ ha?ve?)\ (?:to\ )?(?:write|wrote|written|note|noted|log|logged)
      | did(?:n'?t|\ not)\ (?:write|note|log) | not\ (?:written|noted|logged)
    )\b | ^(?:ps|late)\b""",
    re.IGNORECASE | re.VERBOSE,
)
_DAY = re.compile(
    r"""\b(?:
        (?P<back> yesterday | last\ night | y(?:e)?st(?:e?r?d(?:a)?y)?)
      | (?P<same> this\ (?:morn|aft|eve)\w* | today | earlier)
      | (?P<week> mon|tues?|weds?|thu(?:rs?)?|fri|sat|sun)(?:day|nesday|sday|urday)?
    )\b""",
    re.IGNORECASE | re.VERBOSE,
)
_CLOCK = re.compile(
    r"\b(?P<h>\d{1,2})[:.](?P<m>\d\d)\s*(?P<half>am|pm)?\b|\b(?P<hour>\d{1,2})\s*(?P<half2>am|pm)\b"
    r"|\b(?:abt|about|at|around|arnd|ca?\.?|@)\s*(?P<bare>\d{1,2})\b(?!\s*(?:mm|ml|cm|in\b|g\b|x\b|pc|off))",
    re.IGNORECASE,
)
_PART = re.compile(
    r"\b(?:(?P<morning>morn\w*|mrng|forenoon)|(?P<noon>noon|lunch\w*|dinner)|(?P<afternoon>aft\b|afternoon|arvo)"
    r"|(?P<evening>eve\b|evening|night|end of (?:the )?day))",
    re.IGNORECASE,
)
_PARTS = {"morning": time(10, 30), "noon": time(13), "afternoon": time(14), "evening": time(22)}
_END_OF_DAY = time(23, 59)
_FIRST_SHOP_HOUR = 7
_NOON = 12


@frozen
class Deed:
    """The day and hour at which the work of an entry was done, as far as the log says.

    `late` marks a note that was made afterwards and says so.
    """

    entry: int
    day: date | None
    at: time | None
    late: bool = False


def deeds_of(entries: tuple[Entry, ...]) -> tuple[Deed, ...]:
    """Tell for each entry when its work was done.

    "Forgot to write: yest abt 4 took hinges off" was done the day before at 16:00; a late note that names a
    day and no hour counts at that day's end, one that names neither stays where it stands.
    """
    days = sorted({entry.day for entry in entries if entry.day})
    return tuple(_deed(entry, days) for entry in entries)


def in_order(deeds: tuple[Deed, ...]) -> list[int]:
    """Give the entries in the order in which the work was done; without late notes, the order of the log."""
    places = [(float(deed.entry), deed.entry) for deed in deeds]
    for deed in deeds:
        if deed.late and deed.day is not None:
            before = [
                other.entry
                for other in deeds
                if not other.late and other.day and _moment(other) <= _moment(deed)
            ]
            places[deed.entry] = (max(before, default=-1) + 0.5, deed.entry)
    return [entry for _, entry in sorted(places)]


def _moment(deed: Deed) -> tuple[date, time]:
    return deed.day or date.min, deed.at or _END_OF_DAY


def _deed(entry: Entry, days: list[date]) -> Deed:
    late = _LATE.search(entry.text)
    if not late or entry.day is None:
        return Deed(entry.index, entry.day, entry.at)
    behind = entry.text[late.end() :] if late.start() < len(entry.text) // 3 else entry.text
    named = _DAY.search(behind)
    at = _hour(behind)
    if named is None and at is None:
        return Deed(entry.index, entry.day, entry.at)
    day = _day(named, entry.day, days) if named else entry.day
    if at is None:
        at = _END_OF_DAY if day != entry.day else entry.at
    return Deed(entry.index, day, at, late=True)


def _day(named: re.Match[str], noted: date, days: list[date]) -> date:
    """Find the day that a late note means: the latest logged one that fits."""
    if named["same"]:
        return noted
    if named["back"]:
        earlier = [day for day in days if day < noted]
        return noted - timedelta(days=1) if noted - timedelta(days=1) in days or not earlier else earlier[-1]
    wanted = next(k for k, name in enumerate(WEEKDAYS) if name.startswith(named["week"][:3].casefold()))
    fitting = [day for day in days if day <= noted and day.weekday() == wanted]
    return fitting[-1] if fitting else noted


def _hour(words: str) -> time | None:
    """Read the hour that a late note names; a bare `4` is in the afternoon, as shop hours go."""
    if match := _CLOCK.search(words):
        hour, minute = int(match["h"] or match["hour"] or match["bare"]), int(match["m"] or 0)
        half = (match["half"] or match["half2"] or "").casefold()
        if (half == "pm" or (not half and hour < _FIRST_SHOP_HOUR)) and hour < _NOON:
            hour += _NOON
        return time(hour, minute) if hour < 24 and minute < 60 else None  # noqa: PLR2004 - a clock
    if match := _PART.search(words[:60]):
        return _PARTS[match.lastgroup or "noon"]
    return None
