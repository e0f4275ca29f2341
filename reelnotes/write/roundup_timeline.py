"""The clips of a roundup for an editing program, with room for what is said: OpenTimelineIO and CMX 3600.

Each clip is a piece of the finished video of its episode, which starts at 0; after it there is a gap as long
as the talk. Handles are what lies around the clip in the same video.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING
from urllib.parse import quote

from reelnotes.problems import Problem
from reelnotes.records import frozen
from reelnotes.timing import Span, format_timecode, ms_to_frames
from reelnotes.write.plain import one_line

if TYPE_CHECKING:
    from opentimelineio.schema import Timeline

_REEL = "AX"
_USUAL_RATE = Fraction(25)


@frozen
class Shot:
    """A clip in the roundup: `rate` is that of its episode, None where it is not known; `video` its file.

    `talk_ms` is the room after it. `span` is None where there is no clip, only talk.
    """

    name: str
    video: str
    span: Span | None
    handles: Span | None
    rate: Fraction | None
    duration_ms: int
    talk_ms: int
    said: str
    id: str


def roundup_rate(shots: Sequence[Shot]) -> tuple[Fraction, list[Problem]]:
    """Give the rate that most of the clips have; other rates are told, since they are played at this one."""
    rates = Counter(shot.rate for shot in shots if shot.span and shot.rate)
    if not rates:
        message = (
            f"no episode tells its frame rate, so the clips are counted in {_USUAL_RATE} frames a second; "
        )
        return _USUAL_RATE, [
            Problem("rate-missing", f'{message}set frame_rate = "25" in episode.toml', severity="note")
        ]
    best = max(rates, key=lambda rate: (rates[rate], rate))
    others = sorted({shot.name for shot in shots if shot.span and shot.rate not in {best, None}})
    if not others:
        return best, []
    message = f"{', '.join(others)}: another frame rate than the roundup's {_rate_text(best)}; "
    return best, [Problem("rate-mixed", f"{message}the editing program has to convert it", severity="note")]


def talk_frames(shots: Sequence[Shot], rate: Fraction) -> list[int]:
    """Give the frames of talk after each clip, so that every clip begins in the frame of the running clock.

    Each talk rounded by itself would let the clock run away from the timeline, a frame or so a correction.
    """
    frames: list[int] = []
    clock_ms = at = 0
    for shot in shots:
        if shot.span:
            clock_ms += shot.span.length_ms
            at += ms_to_frames(shot.span.end_ms, rate) - ms_to_frames(shot.span.start_ms, rate)
        clock_ms += shot.talk_ms
        frames.append(max(0, ms_to_frames(clock_ms, rate) - at))
        at += frames[-1]
    return frames


def roundup_edl(title: str, shots: Sequence[Shot], rate: Fraction) -> str:
    """Write the clips as a CMX 3600 list of cuts; the record side starts at one hour, out is exclusive."""
    lines = [f"TITLE: {one_line(title)}", "FCM: NON-DROP FRAME", ""]
    at = 3600 * -(-rate.numerator // rate.denominator)
    number = 0
    for shot, talk in zip(shots, talk_frames(shots, rate), strict=True):
        if shot.span:
            number += 1
            low, high = (ms_to_frames(ms, rate) for ms in (shot.span.start_ms, shot.span.end_ms))
            labels = " ".join(format_timecode(f, rate) for f in (low, high, at, at + high - low))
            lines.append(f"{number:03d}  {_REEL:<8} {'V':<4}  {'C':<4} {'':<3} {labels}")
            lines.append(f"* FROM CLIP NAME: {one_line(shot.name)}")
            if shot.handles:
                before = low - ms_to_frames(shot.handles.start_ms, rate)
                after = ms_to_frames(shot.handles.end_ms, rate) - high
                lines.append(f"* HANDLES: {before} FRAMES BEFORE, {after} AFTER")
            lines.append(f"* CORRECTION: {shot.id}")
            at += high - low
        at += talk
    return "\n".join(lines) + "\n"


def roundup_otio(title: str, shots: Sequence[Shot], rate: Fraction) -> tuple[str | None, list[Problem]]:
    """Write the clips with gaps for the talk as OpenTimelineIO; what is said stands in a marker on the gap.

    None, and a problem, where the library that writes the form is not installed.
    """
    try:
        import opentimelineio as otio
    except ImportError:
        message = "the library that writes OpenTimelineIO is not installed, so the timeline stands in "
        message += "clips.edl alone; pip install 'reelnotes[timeline]'"
        return None, [Problem("timeline-library", message, severity="note")]
    timeline = _timeline(title, shots, rate)
    text: str = otio.adapters.write_to_string(timeline, "otio_json")
    return text.rstrip("\n") + "\n", []


def _timeline(title: str, shots: Sequence[Shot], rate: Fraction) -> Timeline:
    import opentimelineio as otio

    def time(ms: int) -> otio.opentime.RationalTime:
        return otio.opentime.RationalTime(ms_to_frames(ms, rate), float(rate))

    def reach(span: Span) -> otio.opentime.TimeRange:
        return otio.opentime.TimeRange(time(span.start_ms), time(span.end_ms) - time(span.start_ms))

    schema = otio.schema
    timeline = schema.Timeline(one_line(title))
    track = schema.Track("roundup", kind=schema.TrackKind.Video)
    for shot, talk in zip(shots, talk_frames(shots, rate), strict=True):
        if shot.span:
            media = schema.ExternalReference(quote(shot.video)) if shot.video else schema.MissingReference()
            media.available_range = reach(Span(0, max(shot.duration_ms, shot.span.end_ms)))
            notes = {"correction": shot.id}
            if shot.handles:
                notes["handles"] = f"{shot.handles.start_ms}-{shot.handles.end_ms} ms"
            clip = schema.Clip(one_line(shot.name), media, reach(shot.span))
            clip.metadata["reelnotes"] = notes
            track.append(clip)
        room = otio.opentime.TimeRange(time(0), otio.opentime.RationalTime(talk, float(rate)))
        say = schema.Marker(f"say: {shot.id}", room)
        say.metadata["reelnotes"] = {"say": shot.said}
        gap = schema.Gap(source_range=room)
        gap.markers.append(say)
        track.append(gap)
    timeline.tracks.append(track)
    return timeline


def _rate_text(rate: Fraction) -> str:
    return str(rate.numerator) if rate.denominator == 1 else f"{rate.numerator}/{rate.denominator}"
