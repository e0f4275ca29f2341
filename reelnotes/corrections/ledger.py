"""The ledger: one plain TOML file a record, to which the tool only ever adds.

    signal = "NOTICE"
    topic = "wood-movement"
    shown = "the top glued into its frame all round"
    wrong = "solid wood swells across the grain, so the frame will split"
    instead = "screw it on through slots, with a gap of 4 mm on each side"

    [[place]]                     where it stands, once or many times
    episode = "oak-stool"
    version = 1
    span = "9:12-9:41"

    [[reach]]                     where it has been published
    where = "in-picture"
    episode = "oak-stool"
    on = 2026-03-28

    [[gone]]                      a place that was taken out of a later version
    episode = "oak-stool"
    version = 1
    span = "9:12-9:41"
    out_of = 2

    [[history]]
    on = 2026-03-20
    what = "recorded"

All else in the file is the maker's own. `docs/corrections.md` tells the same to the maker.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from datetime import date, datetime
from typing import Any, TypeVar, get_args

from reelnotes.model import (
    SIGNAL_ORDER,
    Correction,
    Place,
    Reach,
    ReachPlace,
    RecordKind,
    Topic,
)
from reelnotes.problems import BadTime, Problem
from reelnotes.records import frozen
from reelnotes.store import SourceText
from reelnotes.timing import parse_span, typed_span

REACH_PLACES: tuple[ReachPlace, ...] = get_args(ReachPlace)
_KINDS: tuple[RecordKind, ...] = get_args(RecordKind)
_TOPICS: tuple[Topic, ...] = get_args(Topic)
_TOML_PLACE = re.compile(r"\(at line (\d+), column \d+\)")
_WORDS = ("shown", "wrong", "instead")
_TABLES = {
    "place": ("episode", "version", "span"),
    "reach": ("where", "episode", "on"),
    "gone": ("episode", "version", "span", "out_of"),
    "history": ("on", "what"),
}
_NAMES = ("kind", "recorded", "signal", "topic", *_WORDS, "evidence", "sources", "flag", *_TABLES)

Table = Mapping[str, Any]
T = TypeVar("T")


class _UnclearError(Exception):
    """Something in a record that cannot be read, in words for the maker."""


# --- reading ---------------------------------------------------------------------------------------


def read_record(source: SourceText, record: str) -> tuple[Correction | None, list[Problem]]:
    """Read one record; `record` is its id, the file's name without `.toml`.

    A record that cannot be read, or that lacks its words, is None with a problem of severity error. A table
    inside it that cannot be read is reported with its line, and the rest of the record counts.
    """
    try:
        table = tomllib.loads(source.text)
    except tomllib.TOMLDecodeError as error:
        place = _TOML_PLACE.search(str(error))
        reason = _TOML_PLACE.sub("", str(error)).replace("(at end of document)", "").strip()
        message = f"is not TOML ({reason}), so this record does not count; mend the line"
        return None, [_problem(source, int(place[1]) if place else None, message, "error")]
    problems = [
        _problem(source, _line_of(source, name), f"{name} means nothing in a record", "warning")
        for name in table
        if name not in _NAMES
    ]
    reader = _Reader(source, table, problems)
    try:
        return reader.correction(record), problems
    except _UnclearError as unclear:
        message = f"this record does not count: {unclear}"
        return None, [*problems, _problem(source, None, message, "error")]


def _problem(source: SourceText, line: int | None, message: str, severity: str) -> Problem:
    lines = source.lines
    at = None if line is None else min(max(line, 1), len(lines))
    excerpt = "" if at is None else lines[at - 1]
    return Problem("ledger", message, source.name, at, excerpt, "error" if severity == "error" else "warning")


def _line_of(source: SourceText, name: str, number: int = 0) -> int | None:
    """Find the line of a name or of the n-th table of that name, counting from 0."""
    pattern = re.compile(
        rf"\s*(?:\[\[?\s*[\"']?{re.escape(name)}[\"']?\s*\]|[\"']?{re.escape(name)}[\"']?\s*=)"
    )
    found = [line for line, text in enumerate(source.lines, start=1) if pattern.match(text)]
    return found[min(number, len(found) - 1)] if found else None


@frozen
class _Reader:
    """Reads a record from its TOML table."""

    source: SourceText
    table: Table
    problems: list[Problem]

    def correction(self, record: str) -> Correction:
        """Give the whole record. Raises `_UnclearError` where words are missing that it cannot do without."""
        kind = _choice(self.table.get("kind", "correction"), "kind", _KINDS)
        shown, wrong, instead = (_words(self.table, name) for name in _WORDS)
        usual = "NOTICE" if kind == "disclosure" else None
        signal = _choice(self.table.get("signal", usual), "signal", SIGNAL_ORDER)
        return Correction(
            id=record,
            shown=shown,
            wrong=wrong,
            instead=instead,
            signal=signal,
            topic=self._or("topic", None, lambda value: _choice(value, "topic", _TOPICS)),
            places=self._places(),
            evidence=self._or("evidence", (), _texts),
            reach=tuple(self._each("reach", _reach)),
            history=tuple(self._each("history", _history)),
            kind=kind,
            sources=self._or("sources", (), _texts),
            flag=self._or("flag", "", _text),
            recorded=self._or("recorded", None, _day),
        )

    def _or(self, name: str, usual: T, read: Callable[[object], T]) -> T:
        """Read a member that may be missing; one that cannot be read is reported and left out."""
        if name not in self.table:
            return usual
        try:
            return read(self.table[name])
        except _UnclearError as unclear:
            message = f"{name} does not count: {unclear}"
            self.problems.append(_problem(self.source, _line_of(self.source, name), message, "warning"))
            return usual

    def _each(self, kind: str, read: Callable[[Table], T]) -> Iterator[T]:
        value = self.table.get(kind, [])
        for number, table in enumerate(value if isinstance(value, list) else [value]):
            line = _line_of(self.source, kind, number)
            try:
                result = read(_table(table, kind))
            except _UnclearError as unclear:
                message = f"this [[{kind}]] does not count: {unclear}"
                self.problems.append(_problem(self.source, line, message, "warning"))
                continue
            if strange := [name for name in table if name not in _TABLES[kind]]:
                known = ", ".join(_TABLES[kind])
                message = f"{', '.join(strange)} means nothing in a [[{kind}]]; known are {known}"
                self.problems.append(_problem(self.source, line, message, "warning"))
            yield result

    def _places(self) -> tuple[Place, ...]:
        places = list(dict.fromkeys(self._each("place", _place)))
        gone: dict[Place, list[int]] = {}
        for place, out_of in self._each("gone", _gone):
            if place in places:
                gone.setdefault(place, []).append(out_of)
            else:
                where = f"{place.episode} {typed_span(place.span)}"
                message = f"a [[gone]] speaks of {where}, which is no [[place]] of this record"
                line = _line_of(self.source, "gone")
                self.problems.append(_problem(self.source, line, message, "warning"))
        return tuple(
            Place(p.episode, p.version, p.span, tuple(dict.fromkeys(gone.get(p, ())))) for p in places
        )


def _table(value: object, kind: str) -> Table:
    if not isinstance(value, dict):
        raise _UnclearError(f"write it as [[{kind}]] with lines beneath")
    return value


def _place(table: Table) -> Place:
    try:
        span = parse_span(_text(table.get("span", "")))
    except BadTime as error:
        raise _UnclearError(str(error)) from None
    return Place(_name(table, "episode"), _number(table.get("version", 1), "version"), span)


def _gone(table: Table) -> tuple[Place, int]:
    return _place(table), _number(table.get("out_of"), "out_of")


def _reach(table: Table) -> Reach:
    where = _choice(table.get("where"), "where", REACH_PLACES)
    return Reach(where, _name(table, "episode"), _day(table.get("on")))


def _history(table: Table) -> str:
    what = _name(table, "what")
    return f"{_day(table['on']).isoformat()} {what}" if "on" in table else what


def _words(table: Table, name: str) -> str:
    text = _text(table.get(name, ""))
    if not text:
        raise _UnclearError(f'it needs {name} = "..."')
    return text


def _name(table: Table, name: str) -> str:
    text = _text(table.get(name, ""))
    if not text:
        raise _UnclearError(f'it needs {name} = "..."')
    return text


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise _UnclearError(f"{value!r} is no text; write it in quotes")
    return " ".join(value.split())


def _texts(value: object) -> tuple[str, ...]:
    texts = [_text(item) for item in (value if isinstance(value, list) else [value])]
    return tuple(text for text in texts if text)


def _number(value: object, name: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        raise _UnclearError(f"{name} is a number, counted from 1")
    return value


def _day(value: object) -> date:
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    try:
        return date.fromisoformat(str(value))
    except ValueError:
        raise _UnclearError("it needs a day, such as on = 2026-03-28") from None


C = TypeVar("C", bound=str)


def _choice(value: object, name: str, known: tuple[C, ...]) -> C:
    wanted = value.strip().casefold() if isinstance(value, str) else None
    for word in known:
        if word.casefold() == wanted:
            return word
    raise _UnclearError(f"{name} is one of {', '.join(known)}")
