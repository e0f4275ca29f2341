"""The decisions made by hand, from `kept.toml`, and how a draft honours them.

    [[pin]]                       a step placed by hand
    step = "3f9a01bc"             its id, as out/draft.json gives it
    spans = ["9:12-9:41"]         where it is told or shown, best first
                                  or: off_camera = true

    [[chapter]]                   a chapter set by hand
    at = "4:10"
    title = "Gluing the top"      renames the drafted chapter within 5 s, or adds one
                                  or: gone = true takes that chapter out

    [[dismiss]]                   a flag put aside
    flag = "77c0d2e4"
    reason = "offcut, scrapped on camera"

Everything else in the file is the maker's own: comments and order survive what the tool adds. Where two
decisions speak of the same thing, the later one holds. `docs/kept.md` tells the same to the maker.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import time
from typing import Any

from reelnotes.model import Chapter, Dismissal, Flag, Kept, KeptChapter, Pin, Step
from reelnotes.problems import BadTime, Problem
from reelnotes.review.blocks import Block, cut
from reelnotes.store import SourceText
from reelnotes.timing import MS_PER_HOUR, MS_PER_SECOND, Span, format_time, parse_span, parse_time

KEPT_FILE = "kept.toml"
#: A chapter set by hand is the drafted one if no more than this lies between them.
SAME_CHAPTER_MS = 5_000
_MEMBERS = {
    "pin": ("step", "spans", "off_camera"),
    "chapter": ("at", "title", "gone"),
    "dismiss": ("flag", "reason"),
}

Table = Mapping[str, Any]


class _UnclearError(Exception):
    """A decision that cannot be read, in words for the maker."""


# --- reading -----------------------------------------------------------------------------------------


def read_kept(source: SourceText) -> tuple[Kept, list[Problem]]:
    """Read the decisions. One that cannot be read is reported with its line, and the others still count."""
    pins: dict[str, Pin] = {}
    chapters: dict[int, KeptChapter] = {}
    dismissed: dict[str, Dismissal] = {}
    problems: list[Problem] = []
    for kind, table, line in _tables(cut(source.text), source, problems):
        strange = [name for name in table if name not in _MEMBERS[kind]]
        if strange:
            message = (
                f"{', '.join(strange)} means nothing in a [[{kind}]]; known are {', '.join(_MEMBERS[kind])}"
            )
            problems.append(_problem(source, line, message))
        try:
            if kind == "pin":
                pin = _pin(table)
                again, pins[pin.step] = pin.step in pins, pin
            elif kind == "chapter":
                chapter = _chapter(table)
                again, chapters[chapter.start_ms] = chapter.start_ms in chapters, chapter
            else:
                dismissal = _dismissal(table)
                again, dismissed[dismissal.flag] = dismissal.flag in dismissed, dismissal
        except _UnclearError as unclear:
            problems.append(_problem(source, line, f"this [[{kind}]] does not count: {unclear}"))
            continue
        if again:
            message = f"what this [[{kind}]] speaks of was decided further up too; this one holds"
            problems.append(_problem(source, line, message))
    return Kept(tuple(pins.values()), tuple(chapters.values()), tuple(dismissed.values())), problems


def _tables(
    blocks: Iterable[Block], source: SourceText, problems: list[Problem]
) -> Iterator[tuple[str, Table, int]]:
    """Give every decision with its kind and line; report what is none."""
    for block in blocks:
        if block.table is None:
            message = f"is not TOML ({block.reason}), so what stands from line {block.line} on does not count"
            problems.append(_problem(source, block.wrong_line, message))
            continue
        for kind, value in block.table.items():
            tables = value if isinstance(value, list) else [value]
            if kind not in _MEMBERS or not all(isinstance(table, dict) for table in tables):
                message = f"{kind} is no decision; there are [[pin]], [[chapter]] and [[dismiss]]"
                problems.append(_problem(source, block.line, message))
                continue
            for table in tables:
                yield kind, table, block.line


def _problem(source: SourceText, line: int, message: str) -> Problem:
    lines = source.lines
    line = min(max(line, 1), len(lines))
    return Problem("kept-value", message, source.name, line, lines[line - 1])


def _pin(table: Table) -> Pin:
    step = _text(table, "step", 'step = "..." with the id of the step')
    given = table.get("spans", [])
    spans = _spans(given if isinstance(given, list) else [given])
    off_camera = _yes(table, "off_camera")
    if spans and off_camera:
        raise _UnclearError("it has spans and is off_camera; one of them must go")
    if not spans and not off_camera:
        raise _UnclearError('say where with spans = ["9:12-9:41"], or off_camera = true')
    return Pin(step, spans)


def _spans(values: Sequence[object]) -> tuple[Span, ...]:
    try:
        return tuple(parse_span(str(value)) for value in values)
    except BadTime as error:
        raise _UnclearError(str(error)) from None


def _chapter(table: Table) -> KeptChapter:
    start_ms = _time(table.get("at"))
    gone = _yes(table, "gone")
    title = "" if gone else _text(table, "title", 'title = "...", or gone = true')
    return KeptChapter(start_ms, title, gone)


def _time(value: object) -> int:
    """Read `"4:10"`, seconds, or TOML's own `04:10:00`."""
    if isinstance(value, time):
        seconds = value.minute * 60 + value.second
        return value.hour * MS_PER_HOUR + seconds * MS_PER_SECOND + value.microsecond // 1000
    if isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value) and value >= 0:
        return round(value * MS_PER_SECOND)
    if not isinstance(value, str):
        raise _UnclearError('say when with at = "4:10"')
    try:
        return parse_time(value)
    except BadTime as error:
        raise _UnclearError(str(error)) from None


def _dismissal(table: Table) -> Dismissal:
    flag = _text(table, "flag", 'flag = "..." with the id of the flag')
    return Dismissal(flag, _text(table, "reason", 'reason = "...", the words that tell why'))


def _text(table: Table, name: str, wanted: str) -> str:
    value = table.get(name)
    if not isinstance(value, str) or not value.strip():
        raise _UnclearError(f"it needs {wanted}")
    return " ".join(value.split())


def _yes(table: Table, name: str) -> bool:
    value = table.get(name, False)
    if not isinstance(value, bool):
        raise _UnclearError(f"{name} is true or false")
    return value


# --- honouring ---------------------------------------------------------------------------------------


def honour_chapters(
    chapters: Sequence[Chapter], kept: Kept, duration_ms: int | None = None
) -> tuple[tuple[Chapter, ...], list[Problem]]:
    """Give the drafted chapters as changed by hand, in order of time.

    First those that are gone are taken out. Then a title set by hand renames the nearest drafted chapter
    within 5 s, which keeps its start; without one it is added at its own time, if that lies before
    `duration_ms`. The first chapter, at 0, can be renamed but not taken out: players want one there.
    """
    held, problems = _without_gone(chapters, kept)
    titled = [decision for decision in kept.chapters if not decision.gone]
    renamed = _paired(held, titled)
    result = [
        Chapter(chapter.start_ms, titled[renamed[n]].title, "kept") if n in renamed else chapter
        for n, chapter in enumerate(held)
    ]
    for n, decision in enumerate(titled):
        if n in renamed.values():
            continue
        if duration_ms is not None and decision.start_ms >= duration_ms:
            at = format_time(decision.start_ms)
            problems.append(_stale(f"the chapter {decision.title!r} at {at} lies behind the programme's end"))
        else:
            result.append(Chapter(decision.start_ms, decision.title, "kept"))
    return tuple(sorted(result, key=lambda chapter: chapter.start_ms)), problems


def _without_gone(chapters: Sequence[Chapter], kept: Kept) -> tuple[list[Chapter], list[Problem]]:
    held, problems = list(chapters), []
    for decision in kept.chapters:
        if not decision.gone:
            continue
        at = format_time(decision.start_ms)
        near = [c for c in held if abs(c.start_ms - decision.start_ms) <= SAME_CHAPTER_MS]
        if not near:
            problems.append(_stale(f"no chapter stands at {at}, so none was taken out there"))
            continue
        nearest = min(near, key=lambda chapter: abs(chapter.start_ms - decision.start_ms))
        if nearest.start_ms == 0:
            message = "the chapter at 0:00 can be renamed, but not taken out: players want one there"
            problems.append(Problem("kept-value", message, KEPT_FILE))
        else:
            held.remove(nearest)
    return held, problems


def _paired(held: Sequence[Chapter], titled: Sequence[KeptChapter]) -> dict[int, int]:
    """Pair drafted chapters with titles set by hand, nearest first: the one's number to the other's."""
    gaps = sorted(
        (abs(decision.start_ms - chapter.start_ms), t, n)
        for t, decision in enumerate(titled)
        for n, chapter in enumerate(held)
        if abs(decision.start_ms - chapter.start_ms) <= SAME_CHAPTER_MS
    )
    by_chapter: dict[int, int] = {}
    for _, t, n in gaps:
        if n not in by_chapter and t not in by_chapter.values():
            by_chapter[n] = t
    return by_chapter


def honour_flags(
    flags: Sequence[Flag], kept: Kept
) -> tuple[tuple[Flag, ...], tuple[tuple[Flag, str], ...], list[Problem]]:
    """Part the flags into those that stand and those put aside, each of these with the reason.

    A flag's id hangs on its words: if they change, the flag stands again and the dismissal is stale.
    """
    reasons = {dismissal.flag: dismissal.reason for dismissal in kept.dismissed}
    standing = tuple(flag for flag in flags if flag.id not in reasons)
    aside = tuple((flag, reasons[flag.id]) for flag in flags if flag.id in reasons)
    raised = {flag.id for flag in flags}
    problems = [
        _stale(f"the dismissed flag {name} is not raised any more, or its words have changed ({reason})")
        for name, reason in reasons.items()
        if name not in raised
    ]
    return standing, aside, problems


def stale_pins(steps: Sequence[Step], kept: Kept) -> list[Problem]:
    """Report pins of steps that are not in the log any more; a step's id hangs on its time and words."""
    known = {step.id for step in steps}
    return [
        _stale(f"the pinned step {pin.step} is not in the log any more, or its entry has changed")
        for pin in kept.pins
        if pin.step not in known
    ]


def _stale(message: str) -> Problem:
    return Problem("kept-stale", f"{message}; take the entry out or point it at the new one", KEPT_FILE)
