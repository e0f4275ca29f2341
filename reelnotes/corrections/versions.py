"""The versions of an episode: what a re-edit takes over from an earlier one, in plain TOML.

    of = 1                        made from version 1, whose times these are
    of_length = "15:20"           how long that one was
    made = 2026-03-28

    [[piece]]                     in the order of the new version
    taken = "0:00-9:12"

    [[piece]]                     a frame is held where the programme stands still
    held = "9:12"
    for = "0:04"

    [[piece]]
    taken = "9:41-15:20"

What no piece takes was cut. `docs/versions.md` tells the same to the maker.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from fractions import Fraction
from typing import Any

from reelnotes.corrections.refusals import SpanOutside
from reelnotes.corrections.retime import Stretch, TimeMap, compose, cut_and_hold
from reelnotes.model import HeldFrame, Place, TakenSpan, Version
from reelnotes.problems import BadTime, Problem, Refusal
from reelnotes.store import SourceText
from reelnotes.timing import Span, format_time, parse_span, parse_time, typed_span, typed_time

_NAMES = ("of", "of_length", "made", "piece")
_PIECES = ({"taken"}, {"held", "for"})

Table = Mapping[str, Any]


class NothingToRecut(Refusal):
    """A new version that would be the old one."""

    def __init__(self) -> None:
        super().__init__(
            "say what to take out with --remove 9:12-9:41, or where to hold with --hold 9:12 --for 4."
        )


class AllRemoved(Refusal):
    """Spans to remove that leave nothing of the programme."""

    def __init__(self, length_ms: int) -> None:
        self.length_ms = length_ms
        super().__init__(
            f"that would take out all of the programme, which ends at {format_time(length_ms)}; "
            "nothing was done."
        )


class HoldOutside(Refusal):
    """A frame to hold that the programme does not have."""

    def __init__(self, at_ms: int, length_ms: int) -> None:
        self.at_ms, self.length_ms = at_ms, length_ms
        super().__init__(
            f"--hold {typed_time(at_ms)} lies outside the programme, which ends at {format_time(length_ms)}."
        )


class HoldUnclear(Refusal):
    """Held frames and their lengths that do not go together."""

    def __init__(self, holds: int, lengths: int) -> None:
        self.holds, self.lengths = holds, lengths
        super().__init__(
            f"--hold was given {holds} times and --for {lengths} times; "
            "say for each held frame how long, such as --hold 9:12 --for 4."
        )


class HoldEmpty(Refusal):
    """A frame to hold for no time at all."""

    def __init__(self, at_ms: int) -> None:
        self.at_ms = at_ms
        super().__init__(f"--hold {typed_time(at_ms)} --for 0 holds nothing; say for how many seconds.")


class VersionUnreadable(Refusal):
    """A version whose version.toml does not tell how it was made."""

    def __init__(self, number: int, reason: str) -> None:
        self.number, self.reason = number, reason
        super().__init__(f"version {number} cannot be used: {reason}.")


class _UnclearError(Exception):
    """Something in a version.toml that cannot be read, in words for the maker."""


# --- planning a version ----------------------------------------------------------------------------


def plan_version(
    length_ms: int, removed: Sequence[Span], held: Sequence[HeldFrame], rate: Fraction | None
) -> TimeMap:
    """Give the map of a version from which spans are taken out and in which frames are held.

    `rate` is in frames a second: cuts lie on whole frames, and held frames last whole frames; None leaves
    them on milliseconds. Raises `NothingToRecut`, `SpanOutside`, `HoldOutside`, `AllRemoved`.
    """
    if not removed and not held:
        raise NothingToRecut
    for span in removed:
        if span.end_ms > length_ms:
            raise SpanOutside(span, length_ms)
    for hold in held:
        if hold.at_ms > length_ms:
            raise HoldOutside(hold.at_ms, length_ms)
    plan = cut_and_hold(length_ms, removed, held)
    snapped = plan.snapped(rate) if rate else plan
    if not snapped.length_of("taken"):
        raise AllRemoved(length_ms)
    if not snapped.length_of("cut") and not snapped.length_of("held"):
        raise NothingToRecut
    return snapped


def held_frames(times: Sequence[str], lengths: Sequence[str]) -> list[HeldFrame]:
    """Read where frames are held and for how long, as typed. Raises `HoldUnclear`, `HoldEmpty`, `BadTime`."""
    if len(times) != len(lengths):
        raise HoldUnclear(len(times), len(lengths))
    held = [HeldFrame(parse_time(at), parse_time(length)) for at, length in zip(times, lengths, strict=True)]
    for hold in held:
        if not hold.length_ms:
            raise HoldEmpty(hold.at_ms)
    return held


def pieces_of(plan: TimeMap) -> tuple[TakenSpan | HeldFrame, ...]:
    """Write a map as pieces: what is taken, and where a frame is held; what is between them was cut."""
    pieces: list[TakenSpan | HeldFrame] = []
    at = 0
    for stretch in plan.stretches:
        if stretch.kind == "held":
            pieces.append(HeldFrame(at, stretch.length))
            continue
        if stretch.kind == "taken":
            pieces.append(TakenSpan(Span(at, at + stretch.length)))
        at += stretch.length
    return tuple(pieces)


def map_of(version: Version) -> TimeMap:
    """Give the map from the version that one was made from; the inverse of `pieces_of`."""
    stretches: list[Stretch] = []
    at = 0
    for piece in version.pieces:
        start, end = _place_of(piece)
        stretches.append(Stretch("cut", start - at))
        stretches.append(
            Stretch("held", piece.length_ms)
            if isinstance(piece, HeldFrame)
            else Stretch("taken", end - start)
        )
        at = end
    return TimeMap((*stretches, Stretch("cut", version.of_length_ms - at)))


def _place_of(piece: TakenSpan | HeldFrame) -> tuple[int, int]:
    if isinstance(piece, HeldFrame):
        return piece.at_ms, piece.at_ms
    return piece.span.start_ms, piece.span.end_ms


# --- between versions ------------------------------------------------------------------------------


def map_between(versions: Mapping[int, Version], earlier: int, later: int) -> TimeMap:
    """Give the map from the times of any version to those of any other, through the one both come from.

    `versions` holds all but version 1. Raises `VersionUnreadable` where one on the way is missing.
    """
    up, down = _line(versions, earlier), _line(versions, later)
    common = next(number for number in up if number in down)
    whole = TimeMap(())
    for number in up[: up.index(common)]:
        whole = compose(whole, map_of(versions[number]).inverse())
    for number in reversed(down[: down.index(common)]):
        whole = compose(whole, map_of(versions[number]))
    return whole


def _line(versions: Mapping[int, Version], number: int) -> list[int]:
    """Give a version and those it was made from, one after the other, down to the first."""
    line = [number]
    while line[-1] != 1:
        version = versions.get(line[-1])
        if version is None or not 1 <= version.of < version.number:
            raise VersionUnreadable(line[-1], "its version.toml is not there or cannot be read")
        line.append(version.of)
    return line


def places_in(versions: Mapping[int, Version], now: int) -> Callable[[Place], tuple[Span, ...]]:
    """Give the function that tells where a place stands in version `now`: nowhere, or in one span.

    A place whose version is not known stands where it stood: better a warning too many.
    """

    def where(place: Place) -> tuple[Span, ...]:
        try:
            left = map_between(versions, place.version, now).over(place.span)
        except VersionUnreadable:
            return (place.span,)
        return (left,) if left else ()

    return where


# --- the file --------------------------------------------------------------------------------------


def version_text(version: Version) -> str:
    """Write a version as the text of its version.toml; read again, it is the same version."""
    made = f"made = {version.made.isoformat()}\n" if version.made else ""
    head = (
        f"# Version {version.number} of this episode. Times are those of version {version.of}, "
        "from which it was made.\n"
        f'of = {version.of}\nof_length = "{typed_time(version.of_length_ms)}"\n{made}'
    )
    return head + "".join(f"\n[[piece]]\n{_piece_text(piece)}" for piece in version.pieces)


def _piece_text(piece: TakenSpan | HeldFrame) -> str:
    if isinstance(piece, HeldFrame):
        return f'held = "{typed_time(piece.at_ms)}"\nfor = "{typed_time(piece.length_ms)}"\n'
    return f'taken = "{typed_span(piece.span)}"\n'


def read_version(source: SourceText, number: int) -> tuple[Version | None, list[Problem]]:
    """Read a version.toml. One that cannot be relied on is None, with a problem of severity error."""
    try:
        table = tomllib.loads(source.text)
    except tomllib.TOMLDecodeError as error:
        return None, [_problem(source, f"is not TOML ({error})", "error")]
    problems = [
        _problem(source, f"{name} means nothing here; known are {', '.join(_NAMES)}", "warning")
        for name in table
        if name not in _NAMES
    ]
    try:
        version = _version(table, number)
    except _UnclearError as unclear:
        return None, [
            *problems,
            _problem(source, f"does not tell how this version was made: {unclear}", "error"),
        ]
    return version, problems


def _problem(source: SourceText, message: str, severity: str) -> Problem:
    return Problem("version", message, source.name, severity="error" if severity == "error" else "warning")


def _version(table: Table, number: int) -> Version:
    of = table.get("of", 1)
    if isinstance(of, bool) or not isinstance(of, int) or not 1 <= of < number:
        raise _UnclearError(f"of = {of} must name an earlier version")
    length_ms = _time(table.get("of_length"), "of_length")
    given = table.get("piece")
    if not isinstance(given, list) or not given:
        raise _UnclearError("it holds no [[piece]]")
    pieces = tuple(_piece(piece) for piece in given)
    reached = 0
    for piece in pieces:
        start, end = _place_of(piece)
        if start < reached or end > length_ms:
            raise _UnclearError(
                f"the piece at {typed_time(start)} begins before the one above it has ended, or ends behind "
                f"of_length; pieces stand in order of time"
            )
        reached = end
    made = table.get("made")
    day = made.date() if isinstance(made, datetime) else made if isinstance(made, date) else None
    version = Version(number, of, length_ms, pieces, day)
    if not map_of(version).length_of("taken"):
        raise _UnclearError("it takes nothing")
    return version


def _piece(table: object) -> TakenSpan | HeldFrame:
    if not isinstance(table, dict) or set(table) not in _PIECES:
        raise _UnclearError('a [[piece]] is taken = "0:00-9:12", or held = "9:12" with for = "0:04"')
    if "held" in table:
        return HeldFrame(_time(table["held"], "held"), _time(table["for"], "for"))
    try:
        return TakenSpan(parse_span(str(table["taken"])))
    except BadTime as error:
        raise _UnclearError(str(error)) from None


def _time(value: object, name: str) -> int:
    try:
        return parse_time(str(value))
    except BadTime:
        raise _UnclearError(f'{name} = {value!r} is no time; write it as "9:12" or "9:12.500"') from None
