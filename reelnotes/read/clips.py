"""The clip list: camera files with the camera clock's time of their first frame, from `clips.csv`."""

from __future__ import annotations

from datetime import datetime

from reelnotes.model import Clip
from reelnotes.problems import BadTime, Problem
from reelnotes.read.numbers import read_number
from reelnotes.read.table import Columns, Row, Table, read_table
from reelnotes.store import SourceText
from reelnotes.timing import MS_PER_SECOND, parse_time

_NAMES = ("clip", "start", "duration_s")
COLUMNS = Columns(known=_NAMES, needed=_NAMES, line_code="clip-line", column_code="clip-line")


def read_clips(source: SourceText) -> tuple[tuple[Clip, ...], list[Problem]]:
    """Read `clip,start,duration_s`: name, ISO 8601 wall-clock start, length in seconds.

    A time zone is left aside, because the camera's clock is compared with the wall clock of the log. A clip
    without a start or a length that can be read is reported and left out.
    """
    table, problems = read_table(source, COLUMNS)
    clips: dict[str, Clip] = {}
    for row in table:
        clip = _clip(table, row, problems)
        if clip is None:
            continue
        if clip.name.casefold() in clips:
            message = f"{clip.name} stands further up already; this line was left out"
            problems.append(table.numbered.problem("clip-line", row.line, message))
        else:
            clips[clip.name.casefold()] = clip
    return tuple(clips.values()), problems


def _clip(table: Table, row: Row, problems: list[Problem]) -> Clip | None:
    """Read one row; None, with a problem, where it tells no clip's time."""
    message = ""
    start, duration_ms = None, 0
    try:
        start = datetime.fromisoformat(row["start"]).replace(tzinfo=None)
    except ValueError:
        message = f"the start {row['start'] or '(empty)'} is no time such as 2026-03-04T09:40:12"
    try:
        number = read_number(row["duration_s"])
        duration_ms = parse_time(row["duration_s"]) if number is None else round(number * MS_PER_SECOND)
    except BadTime:
        message = f"the duration {row['duration_s'] or '(empty)'} is no number of seconds"
    if not row["clip"]:
        message = "names no clip"
    elif not message and not duration_ms:
        message = "the clip has no length"
    if message or start is None:
        problems.append(table.numbered.problem("clip-line", row.line, f"{message}; it was left out"))
        return None
    return Clip(row["clip"], start, duration_ms)
