"""What is to become of a film that is coded anew as a whole, picture by picture."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reelnotes.model import HeldFrame
from reelnotes.picture.blend import Panel
from reelnotes.picture.coding import load_av
from reelnotes.picture.joints import Joint, Joints, to_the_edges
from reelnotes.picture.refusals import NothingLeft, PanelUnseen
from reelnotes.problems import FileUnreadable
from reelnotes.records import frozen
from reelnotes.timing import Span, format_time

if TYPE_CHECKING:
    import av

#: Forms whose times count from the start of the programme; in others the first time may be anything.
_ABSOLUTE = ("mov", "matroska", "webm")
#: What to do with letters of tags that are no UTF-8.
_BAD_LETTERS = "replace"


#: Start, end, title.
NewChapter = tuple[int, int, str]


@frozen
class Changes:
    """What is to become of a film; times are of the programme as it is, those of `chapters` as it will be.

    `chapters` (start and end in milliseconds, title) are written where the film has none of its own.
    """

    panels: tuple[Panel, ...] = ()
    removed: tuple[Span, ...] = ()
    holds: tuple[HeldFrame, ...] = ()
    chapters: tuple[NewChapter, ...] = ()


@dataclass(slots=True)
class Plan:
    """When pictures are shown (seconds of the programme), what goes, and how often one is held from when."""

    origin: Fraction
    times: list[Fraction]
    step: Fraction
    joints: Joints
    held: dict[Fraction, int] = field(default_factory=dict)


def plan_whole(source: Path, container: av.container.InputContainer, changes: Changes) -> Plan:
    """Look at the times of all pictures. Raises `FileUnreadable`, `PanelUnseen`, `NothingLeft`."""
    video = video_of(source, container)
    rate = Fraction(video.average_rate or video.guessed_rate or 25)
    origin = origin_of(container)
    base = Fraction(video.time_base or Fraction(1, 1000))
    at = [
        p.pts if p.pts is not None else p.dts for p in container.demux(video) if p.size and not p.is_discard
    ]
    if not at:
        raise FileUnreadable(source, "it holds no picture")
    told = [ticks for ticks in at if ticks is not None]
    times = sorted(ticks * base - origin for ticks in told) if len(told) == len(at) else []
    times = times or [index / rate for index in range(len(at))]
    step = 1 / rate
    for panel in changes.panels:
        if not any(panel.start_ms <= round(t * 1000) < panel.end_ms for t in times):
            length = format_time(round(times[-1] * 1000))
            raise PanelUnseen(format_time(panel.start_ms), format_time(panel.end_ms), length)
    joints, held = _joints(source, times, step, changes)
    return Plan(origin, times, step, joints, held)


def _joints(
    source: Path, times: list[Fraction], step: Fraction, changes: Changes
) -> tuple[Joints, dict[Fraction, int]]:
    """Move cuts and holds onto the pictures."""
    ends = [*times[1:], times[-1] + step]
    gone = [any(s.start_ms <= round(t * 1000) < s.end_ms for s in changes.removed) for t in times]
    if all(gone):
        raise NothingLeft(source)
    held: dict[Fraction, int] = {}
    for hold in changes.holds:
        place = max((index for index, t in enumerate(times) if round(t * 1000) <= hold.at_ms), default=0)
        while gone[place] and place and gone[place - 1]:
            place -= 1
        held[times[place]] = held.get(times[place], 0) + max(1, round(hold.length_ms / (step * 1000)))
    found: list[Joint] = []
    for t, end, out in zip(times, ends, gone, strict=True):
        new = [Joint(t, t, held[t] * step)] if t in held else []
        for joint in [*new, Joint(t, end)] if out else new:
            if found and found[-1].gone_to == joint.gone_from:
                last = found.pop()
                found.append(Joint(last.gone_from, joint.gone_to, last.held + joint.held))
            else:
                found.append(joint)
    first_ms, last_ms = round(times[0] * 1000), round(times[-1] * 1000)
    return to_the_edges(Joints(tuple(found)), changes.removed, first_ms, last_ms), held


def origin_of(container: Any) -> Fraction:  # noqa: ANN401 - the library loads late
    """Give the time, in seconds, at which the programme of a file starts."""
    absolute = any(name in container.format.name for name in _ABSOLUTE)
    return Fraction(0) if absolute else Fraction(container.start_time or 0, 1_000_000)


def open_video(source: Path) -> Any:  # noqa: ANN401 - the library loads late
    """Open a video with the library: by its path alone, whatever its name and tags look like.

    A name such as `12:30.mkv` is no address, and a title that is not UTF-8 is read as well as it can be.
    """
    return load_av().open(f"file:{source}", metadata_errors=_BAD_LETTERS)


def video_of(source: Path, container: Any) -> Any:  # noqa: ANN401 - the library loads late
    """Give the track of moving pictures, not a still put on as a cover."""
    streams = [
        s
        for s in container.streams.video
        if "attached_pic" not in str(s.disposition) and s.codec_context is not None
    ]
    if not streams:
        raise FileUnreadable(source, "it holds no picture")
    return streams[0]
