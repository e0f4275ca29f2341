"""OpenTimelineIO timelines, through the `opentimelineio` library, which is loaded only when needed."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from types import ModuleType
from typing import TYPE_CHECKING
from urllib.parse import unquote

from reelnotes.model import Clip, CutEvent
from reelnotes.problems import Problem
from reelnotes.read.cut_sources import Shown, relate
from reelnotes.read.frame_rates import known_rate
from reelnotes.read.numbered import NumberedLines
from reelnotes.records import frozen
from reelnotes.store import SourceText
from reelnotes.timing import MS_PER_SECOND, Span

if TYPE_CHECKING:
    from opentimelineio.core import Composable, Composition
    from opentimelineio.opentime import RationalTime
    from opentimelineio.schema import Clip as OtioClip

_END_OF_TIME = Fraction(10**9)
_DEEPEST = 20

#: Start and end in programme time, seconds.
Window = tuple[Fraction, Fraction]


@frozen
class _Piece:
    """A part of a clip that is seen or heard; `begins` is where the clip would begin, all of it shown."""

    clip: OtioClip
    begins: Fraction
    window: Window
    is_sound: bool


def read_otio(source: SourceText, clips: Sequence[Clip]) -> tuple[tuple[CutEvent, ...], list[Problem]]:
    """Read a timeline's tracks as events from programme time 0; an upper picture covers the lower ones.

    Transitions move no clip, gaps show nothing, what is switched off is left out. Speed comes from a linear
    time warp or a freeze frame. Where the media tells its own start, source times count from there.
    """
    try:
        import opentimelineio as otio
    except ImportError:
        message = (
            "the library that reads OpenTimelineIO is not installed: pip install 'reelnotes[timeline]', "
            "or export the cut list as CMX 3600 (cuts.edl)"
        )
        return (), [Problem("cut-line", message, source.name)]
    try:
        top = otio.adapters.read_from_string(source.text, "otio_json")
        stack = _stack(top, otio)
        if stack is None:
            message = f"holds no timeline, but {getattr(top, 'schema_name', lambda: 'something else')()}"
            return (), [Problem("cut-line", message, source.name)]
        pieces = _pieces(stack, Fraction(0), (Fraction(0), _END_OF_TIME), otio, 0)
        shown = [_shown(number, piece, otio) for number, piece in enumerate(pieces, 1)]
    except (otio.exceptions.OTIOError, ArithmeticError, TypeError, ValueError) as error:
        reason = next(iter(str(error).splitlines()), "") or type(error).__name__
        return (), [
            Problem("cut-line", f"the timeline could not be read ({reason.rstrip('.')})", source.name)
        ]
    return relate(shown, clips, NumberedLines.of(source))


def _stack(top: object, otio: ModuleType) -> Composition | None:
    """Find the stack of tracks in what a file holds; None where there is none."""
    if isinstance(top, otio.schema.SerializableCollection):
        top = next((item for item in top if isinstance(item, otio.schema.Timeline)), top)
    if isinstance(top, otio.schema.Timeline):
        return top.tracks
    return top if isinstance(top, otio.core.Composition) else None


def _pieces(
    item: Composition, begins: Fraction, window: Window, otio: ModuleType, depth: int
) -> list[_Piece]:
    """Take a stack or a track apart into what is seen and heard inside a window of the programme.

    `begins` is the programme time at which the item's own time 0 lies.
    """
    if depth > _DEEPEST:
        raise ValueError(f"nested more than {_DEEPEST} deep")
    if isinstance(item, otio.schema.Stack):
        found: list[_Piece] = []
        for layer in reversed(item):
            for piece in _inside(layer, begins, window, otio, depth):
                found += [piece] if piece.is_sound else _uncovered(piece, found)
        return sorted(found, key=lambda piece: piece.window)
    pieces = []
    at = begins
    for child in item:
        if isinstance(child, otio.schema.Transition):
            continue
        length = _seconds(child.duration())
        shown = (max(at, window[0]), min(at + length, window[1]))
        if shown[0] < shown[1]:
            pieces += _inside(child, at, shown, otio, depth)
        at += length
    return pieces


def _inside(child: Composable, at: Fraction, window: Window, otio: ModuleType, depth: int) -> list[_Piece]:
    """Take apart what stands at a place: a clip is a piece, a nested composition starts before its part."""
    if not getattr(child, "enabled", True) or isinstance(child, otio.schema.Gap):
        return []
    if isinstance(child, otio.schema.Clip):
        track = child.parent()
        is_sound = isinstance(track, otio.schema.Track) and track.kind == otio.schema.TrackKind.Audio
        end = min(window[1], at + _seconds(child.duration()))
        return [_Piece(child, at, (window[0], end), is_sound)] if window[0] < end else []
    if not isinstance(child, otio.core.Composition):
        return []
    trimmed = child.trimmed_range()
    inner = (max(window[0], at), min(window[1], at + _seconds(trimmed.duration)))
    return _pieces(child, at - _seconds(trimmed.start_time), inner, otio, depth + 1)


def _uncovered(piece: _Piece, above: Sequence[_Piece]) -> Iterator[_Piece]:
    """Give what the pictures above leave to be seen of a piece."""
    low, high = piece.window
    for start, end in sorted(cover.window for cover in above if not cover.is_sound):
        if low < start and low < high:
            yield _Piece(piece.clip, piece.begins, (low, min(start, high)), is_sound=False)
        low = max(low, end)
    if low < high:
        yield _Piece(piece.clip, piece.begins, (low, high), is_sound=False)


def _shown(number: int, piece: _Piece, otio: ModuleType) -> Shown:
    clip = piece.clip
    part = clip.trimmed_range()
    rate = _rate(part.start_time)
    speed = Fraction(1)
    for effect in clip.effects:
        if isinstance(effect, otio.schema.LinearTimeWarp):
            speed *= Fraction(effect.time_scalar).limit_denominator(1000)
    start = Fraction(part.start_time.value)
    media = clip.media_reference
    available = getattr(media, "available_range", None)
    if available is not None:
        start -= Fraction(available.start_time.rescaled_to(part.start_time.rate).value)
    first = start + (piece.window[0] - piece.begins) * rate * speed
    low, high = (round(edge * MS_PER_SECOND) for edge in piece.window)
    url = re.split(r"[/\\]", unquote(getattr(media, "target_url", None) or ""))[-1]
    return Shown(
        number=f"{number:03d}",
        names=tuple(name for name in (url, clip.name) if name),
        record=Span(low, high),
        track="audio" if piece.is_sound else "video",
        first=first,
        last=first + (piece.window[1] - piece.window[0]) * rate * speed,
        speed=speed,
        rate=rate,
        from_start=available is not None,
    )


def _rate(time: RationalTime) -> Fraction:
    """Give a time's rate as the fraction that was meant: 29.97002997 is 30000/1001."""
    return known_rate(Fraction(time.rate).limit_denominator(100_000))


def _seconds(time: RationalTime) -> Fraction:
    return Fraction(time.value) / _rate(time)
