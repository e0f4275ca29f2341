"""The panels of an episode in place, for an editing program: OpenTimelineIO and CMX 3600.

A panel is a still: as media it is longer than its window, by a handle at either end, so that it can be moved
and trimmed. Both forms start at the time that the programme's own cut list starts at, else at one hour.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from types import ModuleType
from typing import TYPE_CHECKING
from urllib.parse import quote

from reelnotes.problems import Problem
from reelnotes.records import frozen
from reelnotes.timing import MS_PER_SECOND, format_timecode, ms_to_frames
from reelnotes.write.plain import one_line

if TYPE_CHECKING:
    from opentimelineio.opentime import RationalTime, TimeRange
    from opentimelineio.schema import Clip, Timeline, Track

_HOUR_S = 3600
_REEL = "AX"
_OWN = "reelnotes"


@frozen
class Still:
    """One panel in the programme: its file beside the timeline, what it belongs to, and its window."""

    file: str
    of: str
    signal: str
    lines: tuple[str, ...]
    start_ms: int
    end_ms: int

    @property
    def name(self) -> str:
        """The file's name alone."""
        return self.file.rpartition("/")[2]


@frozen
class Reel:
    """The programme that the panels are laid over.

    `rate` is in frames a second; `drop` gives drop-frame labels (SMPTE ST 12-1); `first_frame` is the number
    of its first frame, None for one hour; `video` is the file, if one is known, as a path.
    """

    title: str
    rate: Fraction
    duration_ms: int = 0
    drop: bool = False
    first_frame: int | None = None
    video: str = ""

    @property
    def start(self) -> int:
        """The number of its first frame."""
        if self.first_frame is not None:
            return self.first_frame
        start = _HOUR_S * math.ceil(self.rate)
        # One hour of drop-frame labels leaves 108 out at 30, 216 at 60 (SMPTE ST 12-1).
        return start - start // 1000 if self.drop else start

    def frames(self, ms: int) -> int:
        """Give the nearest frame of a time."""
        return ms_to_frames(ms, self.rate)

    def frames_for(self, ms: int) -> int:
        """Give how many frames last at least so long."""
        return math.ceil(ms * self.rate / MS_PER_SECOND)


def timeline_edl(reel: Reel, stills: Sequence[Still], fade_ms: int, handle_ms: int) -> str:
    """Write the panels as a CMX 3600 list of cuts, one event each, to be laid over the programme.

    The form cannot say that one picture lies over another and fades: a remark says how long a fade is. Out
    points are exclusive.
    """
    mode = "" if reel.drop else "NON-"
    lines = [f"TITLE: {one_line(reel.title) or 'PANELS'}", f"FCM: {mode}DROP FRAME", ""]
    handle, fade = reel.frames_for(handle_ms), reel.frames_for(fade_ms)
    for number, still in enumerate(_in_order(stills), start=1):
        low, high = reel.frames(still.start_ms), reel.frames(still.end_ms)
        edges = (handle, handle + high - low, reel.start + low, reel.start + high)
        labels = " ".join(format_timecode(edge, reel.rate, drop=reel.drop) for edge in edges)
        lines.append(f"{number:03d}  {_REEL:<8} {'V':<4}  {'C':<4} {'':<3} {labels}")
        lines += [f"* FROM CLIP NAME: {one_line(still.name)}", f"* SOURCE FILE: {one_line(still.file)}"]
        if number == 1:  # readers want no remark before the first event
            lines.append(f"* PANELS LIE OVER THE PROGRAMME AND FADE IN AND OUT OVER {fade} FRAMES")
    return "\n".join(lines) + "\n"


def timeline_otio(
    reel: Reel, stills: Sequence[Still], fade_ms: int, handle_ms: int
) -> tuple[str | None, list[Problem]]:
    """Write the programme on one track and the panels with their fades on another, as OpenTimelineIO.

    Between cards that follow each other without a gap there is one dissolve. None, and a problem, where the
    library that writes the form is not installed.
    """
    try:
        import opentimelineio as otio
    except ImportError:
        message = "the library that writes OpenTimelineIO is not installed, so the timeline stands in "
        message += "panels.edl alone; pip install 'reelnotes[timeline]'"
        return None, [Problem("timeline-library", message, severity="note")]
    writer = _Otio(otio, reel, reel.frames_for(fade_ms), reel.frames_for(handle_ms))
    text: str = otio.adapters.write_to_string(writer.timeline(_in_order(stills)), "otio_json")
    return text.rstrip("\n") + "\n", []


def _in_order(stills: Sequence[Still]) -> list[Still]:
    return sorted((s for s in stills if s.end_ms > s.start_ms), key=lambda still: still.start_ms)


@frozen
class _Otio:
    """What writes one timeline; `fade` and `handle` are in frames."""

    otio: ModuleType
    reel: Reel
    fade: int
    handle: int

    def timeline(self, stills: Sequence[Still]) -> Timeline:
        schema = self.otio.schema
        timeline = schema.Timeline(one_line(self.reel.title), global_start_time=self._time(self.reel.start))
        programme = schema.Track("programme", kind=schema.TrackKind.Video)
        length = max([self.reel.frames(self.reel.duration_ms), *(self.reel.frames(s.end_ms) for s in stills)])
        if length:
            programme.append(self._programme(length))
        panels: Track = schema.Track("panels", kind=schema.TrackKind.Video)
        panels.extend(self._panels(stills))
        timeline.tracks.extend([programme, panels])
        return timeline

    def _programme(self, length: int) -> Clip:
        schema, video = self.otio.schema, self.reel.video
        media = schema.ExternalReference(quote(video)) if video else schema.MissingReference()
        media.available_range = self._range(0, length)
        return schema.Clip(one_line(self.reel.title), media, self._range(0, length))

    def _panels(self, stills: Sequence[Still]) -> Iterator[object]:
        """Give the panels with what stands between them: gaps, and a transition at every edge."""
        schema = self.otio.schema
        at = 0
        for before, still in pairwise([None, *stills]):
            if still is None:
                continue
            low, high = self.reel.frames(still.start_ms), self.reel.frames(still.end_ms)
            if before is None or low > at:
                yield from [self._dissolve(self._half(before), 0)] if before else []
                yield schema.Gap(source_range=self._range(0, low - at))
                yield self._dissolve(0, self._half(still))
            else:
                # One dissolve stands for the fade out and the fade in; the handles give it its frames.
                around = min(self._half(before), self._half(still), 2 * self.handle)
                yield self._dissolve(around // 2, around - around // 2)
            yield self._still(still, high - low)
            at = high
        yield from [self._dissolve(self._half(stills[-1]), 0)] if stills else []

    def _half(self, still: Still) -> int:
        """Give how many frames the panel fades over at one edge: at most half of it."""
        length = self.reel.frames(still.end_ms) - self.reel.frames(still.start_ms)
        return min(self.fade, length // 2)

    def _still(self, still: Still, length: int) -> Clip:
        media = self.otio.schema.ExternalReference(
            quote(still.file), self._range(0, length + 2 * self.handle)
        )
        notes = {"of": still.of, "signal": still.signal or None, "lines": list(still.lines)}
        return self.otio.schema.Clip(
            still.name, media, self._range(self.handle, length), metadata={_OWN: notes}
        )

    def _dissolve(self, before: int, after: int) -> object:
        schema = self.otio.schema
        return schema.Transition(
            transition_type=schema.TransitionTypes.SMPTE_Dissolve,
            in_offset=self._time(before),
            out_offset=self._time(after),
        )

    def _time(self, frames: int) -> RationalTime:
        return self.otio.opentime.RationalTime(frames, float(self.reel.rate))

    def _range(self, start: int, length: int) -> TimeRange:
        return self.otio.opentime.TimeRange(self._time(start), self._time(length))
