"""Captions as JSON: a list of `{"start", "end", "text"}` in seconds, or such a list under `segments`.

The list is read item by item, so that a problem can name its line and a file that breaks off in the middle
still gives what stands before the break.
"""

from __future__ import annotations

import json
import re
from collections.abc import Generator, Iterator
from decimal import Decimal
from typing import Any

from reelnotes.model import Cue
from reelnotes.problems import BadTime, Problem
from reelnotes.read.cue_times import Spoken, nothing_timed, settle
from reelnotes.read.numbered import NumberedLines
from reelnotes.store import SourceText
from reelnotes.timing import MS_PER_SECOND, parse_time

_SPACE = re.compile(r"[ \t\n\r]*")
_LONGEST_S = 1000 * 3600
_WANTED = '[{"start": 1.0, "end": 3.5, "text": "..."}], or such a list under "segments"'


class _BreaksOffError(Exception):
    """The text stops being JSON at a place in it."""

    def __init__(self, at: int) -> None:
        self.at = at
        super().__init__(at)


def read_json(source: SourceText) -> tuple[tuple[Cue, ...], list[Problem]]:
    """Read captions from JSON. What stands beside `start`, `end` and `text` is not asked for."""
    numbered = NumberedLines.of(source)
    problems: list[Problem] = []
    spoken: list[Spoken] = []
    line, counted_to = 1, 0
    try:
        for at, item in _items(source.text):
            line += source.text.count("\n", counted_to, at)
            counted_to = at
            if cue := _cue(item, line, numbered, problems):
                spoken.append(cue)
    except _BreaksOffError as broken:
        line = source.text.count("\n", 0, broken.at) + 1
        message = "is not JSON from here on; what stands above was read"
        problems.append(numbered.problem("cue-line", line, message))
    if not spoken:
        return (), [*problems, nothing_timed(numbered, _WANTED)]
    cues, more = settle(spoken, numbered)
    return cues, problems + more


def _items(text: str) -> Iterator[tuple[int, Any]]:
    """Give the items of the list of cues, each with its place in the text. Raises `_BreaksOffError`."""
    at = _skip(text, 0)
    if text[at : at + 1] == "[":
        at = yield from _list(text, at)
    elif text[at : at + 1] == "{":
        at = _skip(text, at + 1)
        while text[at : at + 1] != "}":
            key, at = _value(text, at)
            at = _expect(text, at, ":")
            if key == "segments" and text[at : at + 1] == "[":
                at = yield from _list(text, at)
            else:
                _, at = _value(text, at)
            at = _next(text, at, "}")
        at += 1
    if _skip(text, at) < len(text):
        raise _BreaksOffError(_skip(text, at))


def _list(text: str, at: int) -> Generator[tuple[int, Any], None, int]:
    """Give the items of a list that opens at a place; return the place behind its end."""
    at = _skip(text, at + 1)
    while text[at : at + 1] != "]":
        item, end = _value(text, at)
        yield at, item
        at = _next(text, end, "]")
    return at + 1


def _next(text: str, at: int, closing: str) -> int:
    """Step over the comma to the next member, or up to the closing bracket."""
    at = _skip(text, at)
    return at if text[at : at + 1] == closing else _expect(text, at, ",")


def _value(text: str, at: int) -> tuple[Any, int]:
    try:
        return _DECODER.raw_decode(text, at)
    except json.JSONDecodeError as error:
        raise _BreaksOffError(min(error.pos, len(text) - 1)) from None
    except (ValueError, RecursionError, ArithmeticError):
        raise _BreaksOffError(at) from None


_DECODER = json.JSONDecoder(parse_float=Decimal)


def _skip(text: str, at: int) -> int:
    match = _SPACE.match(text, at)
    return match.end() if match else at


def _expect(text: str, at: int, mark: str) -> int:
    at = _skip(text, at)
    if text[at : at + 1] != mark:
        raise _BreaksOffError(min(at, len(text) - 1))
    return _skip(text, at + 1)


def _cue(item: object, line: int, numbered: NumberedLines, problems: list[Problem]) -> Spoken | None:
    """Turn one item into a cue; None, with a problem, where it holds no words."""
    words = item.get("text") if isinstance(item, dict) else None
    if not isinstance(item, dict) or not isinstance(words, str):
        problems.append(numbered.problem("cue-line", line, 'the item holds no "text": it was left out'))
        return None
    # JSON can name half a character, which no file can hold.
    words = words.encode("utf-8", "replace").decode("utf-8")
    start, end = _ms(item.get("start")), _ms(item.get("end"))
    if start is None:
        message = 'the item holds no "start" in seconds; the cue was placed behind the one above'
        problems.append(numbered.problem("cue-time", line, message))
    elif end is None and item.get("end") is not None:
        message = 'the "end" is no number of seconds; it was worked out from the words'
        problems.append(numbered.problem("cue-time", line, message))
    elif end is not None and end <= start:
        message = "the cue ends before it has begun; its end was worked out from its words"
        problems.append(numbered.problem("cue-time", line, message))
    return Spoken(line, start, end, words.split("\n"))


def _ms(value: object) -> int | None:
    """Turn seconds (a number, or a time as text) into milliseconds; None for what is neither, or below 0."""
    if isinstance(value, str):
        try:
            return parse_time(value)
        except BadTime:
            return None
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        return None
    return round(value * MS_PER_SECOND) if 0 <= value < _LONGEST_S else None
