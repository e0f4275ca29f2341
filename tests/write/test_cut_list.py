"""Cut lists are read back by our own reader and by the CMX 3600 adapter of OpenTimelineIO."""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction
from itertools import accumulate, pairwise
from typing import Literal

import opentimelineio as otio
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import Clip, CutEvent
from reelnotes.read.cut_list import read_cut_list
from reelnotes.store import SourceText
from reelnotes.timing import Span, frames_to_ms
from reelnotes.write.cut_list import cut_list_edl

NTSC = Fraction(30000, 1001)
RATES = (Fraction(24), Fraction(25), NTSC, Fraction(30), Fraction(50), Fraction(60000, 1001))
CLIPS = (
    "SB0043.MP4",
    "SB0044.MP4",
    "a very long name of a clip.mov",
    "a very long name, the other.mov",
    "BL.mp4",
)
SPEEDS = (Fraction(1), Fraction(1), Fraction(2), Fraction(0), Fraction(1, 2), Fraction(-1))


@st.composite
def lists(draw: st.DrawFn) -> tuple[Fraction, tuple[CutEvent, ...]]:
    """Make a list that fills the programme, at some rate, edges and sources on whole frames."""
    rate = draw(st.sampled_from(RATES))
    lengths = draw(st.lists(st.integers(1, 4000), min_size=1, max_size=8))
    events = []
    for n, (low, high) in enumerate(pairwise(accumulate([0, *lengths])), start=1):
        record = Span(frames_to_ms(low, rate), frames_to_ms(high, rate))
        clip = draw(st.sampled_from([*CLIPS, None]))
        speed = draw(st.sampled_from(SPEEDS)) if clip else Fraction(1)
        first = draw(st.integers(0, 50_000))
        source = Span(*(frames_to_ms(first + round(x), rate) for x in (0, (high - low) * abs(speed))))
        both = bool(clip) and speed == 1 and draw(st.booleans())
        track: Literal["video", "both"] = "both" if both else "video"
        events.append(CutEvent(f"{n:03d}", clip, record, source if clip else None, track, speed))
    return rate, tuple(events)


def near(a: CutEvent, b: CutEvent, rate: Fraction) -> bool:
    """Tell whether two events are the same to half a frame of the source, where a speed was rounded."""
    half = frames_to_ms(1, rate)
    if (a.clip, a.record, a.track) != (b.clip, b.record, b.track) or abs(a.speed - b.speed) > Fraction(
        1, 10**4
    ):
        return False
    if a.source is None or b.source is None:
        return a.source == b.source
    return max(abs(a.source.start_ms - b.source.start_ms), abs(a.source.end_ms - b.source.end_ms)) <= half


@settings(max_examples=80, deadline=None)
@given(lists())
def test_our_reader_reads_it_back(made: tuple[Fraction, tuple[CutEvent, ...]]) -> None:
    """Events come back with their clips, records, sources and speeds, without a problem."""
    rate, events = made
    text = cut_list_edl("A list", events, rate)
    back, problems = read_cut_list(SourceText("cuts.edl", text), rate, ())
    assert problems == []
    assert len(back) == len(events)
    assert all(near(a, b, rate) for a, b in zip(events, back, strict=True))


@settings(max_examples=40, deadline=None)
@given(lists())
def test_opentimelineio_reads_it_back(made: tuple[Fraction, tuple[CutEvent, ...]]) -> None:
    """The adapter finds each event of the picture with its clip and source at its place."""
    rate, events = made
    text = cut_list_edl("A list", events, rate)
    timeline = otio.adapters.read_from_string(text, "cmx_3600", rate=float(rate))
    track = next(track for track in timeline.tracks if track.kind == otio.schema.TrackKind.Video)
    clips = [item for item in track if isinstance(item, otio.schema.Clip)]
    assert len(clips) == len(events)
    for clip, event in zip(clips, events, strict=True):
        start = clip.range_in_parent().start_time.to_frames()
        assert abs(frames_to_ms(start, rate) - event.record.start_ms) <= 1
        if event.clip:
            assert clip.name == event.clip
        if event.source and event.speed > 0:
            first = clip.trimmed_range().start_time.to_frames()
            assert abs(frames_to_ms(first, rate) - event.source.start_ms) <= 1
        warps = [effect.time_scalar for effect in clip.effects]
        assert warps == [] or warps == [pytest.approx(float(event.speed), abs=0.04)]


def test_a_line_has_the_columns_of_the_form() -> None:
    """An event line is 76 characters long; the labels of five seconds at 25 are 125 frames apart.

    The example line of the CMX 3600 description quoted by the adapter of OpenTimelineIO.
    """
    event = CutEvent("1", "GLUE UP", Span(0, 5_000), Span(3_600_000, 3_605_000))
    line = cut_list_edl("EXAMPLE", [event], Fraction(25)).split("\n")[3]
    assert line == "001  GLUEUP   V     C        01:00:00:00 01:00:05:00 01:00:00:00 01:00:05:00"
    assert len(line) == 76


def test_drop_frame_labels_tell_the_rate() -> None:
    """At 30000/1001 the programme starts at 01:00:00;00, and the rate is worked out from the labels alone."""
    event = CutEvent("1", "A.MP4", Span(0, frames_to_ms(17982, NTSC)), Span(0, frames_to_ms(17982, NTSC)))
    text = cut_list_edl("", [event], NTSC)
    assert "FCM: DROP FRAME" in text
    assert "01:00:00;00 01:10:00;00" in text
    back, problems = read_cut_list(SourceText("cuts.edl", text), None, ())
    assert (back[0].record, [p.code for p in problems]) == (event.record, ["rate-assumed"])


def test_unknown_source_times_are_not_made_up() -> None:
    """An event whose source is not known names its clip in a remark only."""
    text = cut_list_edl("x", [CutEvent("1", "A.MP4", Span(0, 1_000), None)], Fraction(25))
    assert "* SOURCE TIMES NOT KNOWN: A.MP4" in text
    back, problems = read_cut_list(SourceText("cuts.edl", text), Fraction(25), ())
    assert (back[0].clip, back[0].source, problems) == (None, None, [])


def test_reels_are_told_apart() -> None:
    """Clips whose names begin alike, or like a word of the form, have reels of their own."""
    names = ["clip one.mov", "clip one, again.mov", "bl.mov", "ax.mov", "…"]
    events = [CutEvent("1", n, Span(i * 1000, i * 1000 + 1000), Span(0, 1000)) for i, n in enumerate(names)]
    text = cut_list_edl("x", events, Fraction(25))
    reels = [line[5:13].strip() for line in text.split("\n") if line[:3].isdigit()]
    assert reels == ["CLIPONE", "CLIPONEA", "BL2", "AX2", "CLIP"]


def test_clips_with_their_times_of_day_come_back() -> None:
    """Sources count from the clip's first frame, also where the clip list is at hand."""
    clips = (Clip("A.MP4", datetime(2026, 3, 4, 9, 0), 600_000),)
    event = CutEvent("001", "A.MP4", Span(0, 4_000), Span(8_000, 12_000))
    text = cut_list_edl("x", [event], Fraction(25))
    assert read_cut_list(SourceText("cuts.edl", text), Fraction(25), clips) == ((event,), [])
