"""OpenTimelineIO timelines, made and checked with the `opentimelineio` library."""

from __future__ import annotations

import json
import sys
from datetime import datetime
from fractions import Fraction

import opentimelineio as otio
import pytest
from opentimelineio.opentime import RationalTime, TimeRange

from reelnotes.model import Clip, CutEvent
from reelnotes.problems import Problem
from reelnotes.read.cut_list import read_cut_list
from reelnotes.store import SourceText
from reelnotes.timing import Span


def span(start: float, length: float, rate: float = 25) -> TimeRange:
    return TimeRange(RationalTime(start, rate), RationalTime(length, rate))


def shot(
    name: str, start: float, length: float, available: TimeRange | None = None, rate: float = 25
) -> otio.schema.Clip:
    media = otio.schema.ExternalReference(
        target_url=f"file:///films/{name}%20a.mov", available_range=available
    )
    return otio.schema.Clip(name, media_reference=media, source_range=span(start, length, rate))


def timeline(*tracks: list[otio.core.Item], kinds: str = "VVVV") -> otio.schema.Timeline:
    made = otio.schema.Timeline("T", global_start_time=RationalTime(90_000, 25))
    for items, kind in zip(tracks, kinds, strict=False):
        track = otio.schema.Track(kind="Video" if kind == "V" else "Audio")
        track.extend(items)
        made.tracks.append(track)
    return made


def read(thing: object, clips: tuple[Clip, ...] = ()) -> tuple[tuple[CutEvent, ...], list[Problem]]:
    text = thing if isinstance(thing, str) else otio.adapters.write_to_string(thing, "otio_json")
    return read_cut_list(SourceText("cuts.otio", text), None, clips)


def test_a_track() -> None:
    """Shots follow each other, gaps show nothing, transitions move nothing; no rate is assumed."""
    gap = otio.schema.Gap(source_range=span(0, 50))
    dissolve = otio.schema.Transition(in_offset=RationalTime(5, 25), out_offset=RationalTime(5, 25))
    events, problems = read(
        timeline([shot("lid", 100, 250), dissolve, shot("wax", 0, 50), gap, shot("lid", 0, 25)])
    )
    assert problems == []
    assert events == (
        CutEvent("001", "lid a.mov", Span(0, 10_000), Span(4000, 14_000)),
        CutEvent("002", "wax a.mov", Span(10_000, 12_000), Span(0, 2000)),
        CutEvent("003", "lid a.mov", Span(14_000, 15_000), Span(0, 1000)),
    )


def test_an_upper_picture_covers_the_lower() -> None:
    """What is covered is not seen; its rest goes on where its source has got to."""
    cover = [otio.schema.Gap(source_range=span(0, 100)), shot("still", 0, 50)]
    events, _ = read(timeline([shot("lid", 0, 250)], cover))
    assert [(e.clip, e.record, e.source) for e in events] == [
        ("lid a.mov", Span(0, 4000), Span(0, 4000)),
        ("still a.mov", Span(4000, 6000), Span(0, 2000)),
        ("lid a.mov", Span(6000, 10_000), Span(6000, 10_000)),
    ]


def test_sound_is_not_covered() -> None:
    """Tracks of kind Audio give events of their own."""
    events, _ = read(timeline([shot("lid", 0, 50)], [shot("voice", 0, 50)], kinds="VA"))
    assert sorted((e.track, e.clip) for e in events) == [("audio", "voice a.mov"), ("video", "lid a.mov")]


@pytest.mark.parametrize(
    ("effect", "speed", "source"),
    [(otio.schema.LinearTimeWarp(time_scalar=2.0), Fraction(2), Span(4000, 8000)),
     (otio.schema.LinearTimeWarp(time_scalar=-1.0), Fraction(-1), Span(2000, 4000)),
     (otio.schema.FreezeFrame(), Fraction(0), Span(4000, 4000))],
)  # fmt: skip
def test_speeds(effect: otio.schema.Effect, speed: Fraction, source: Span) -> None:
    """Linear time warps and freeze frames."""
    clip = shot("lid", 100, 50)
    clip.effects.append(effect.deepcopy())
    events, _ = read(timeline([clip]))
    assert (events[0].speed, events[0].source) == (speed, source)


def test_a_nested_timeline_is_trimmed() -> None:
    """Of a stack inside a track, only what its own source range leaves is seen."""
    inner = otio.schema.Track(kind="Video")
    inner.extend([shot("a", 0, 100), shot("b", 0, 100)])
    stack = otio.schema.Stack(children=[inner], source_range=span(50, 100))
    events, _ = read(timeline([shot("lid", 0, 25), stack]))
    assert [(e.clip, e.record, e.source) for e in events] == [
        ("lid a.mov", Span(0, 1000), Span(0, 1000)),
        ("a a.mov", Span(1000, 3000), Span(2000, 4000)),
        ("b a.mov", Span(3000, 5000), Span(0, 2000)),
    ]


def test_media_that_tells_its_start() -> None:
    """Source times count from there, even where the clip list would read them as a time of day."""
    clips = (Clip("lid.mov", datetime(2026, 3, 4, 1, 0, 0), 60_000),)
    inside = read(timeline([shot("lid", 90_100, 50, span(90_000, 1500))]), clips)[0][0]
    assert inside.source == Span(4000, 6000)
    by_day = read(timeline([shot("lid", 90_250, 50)]), clips)[0][0]
    assert (by_day.clip, by_day.source) == ("lid.mov", Span(10_000, 12_000))


def test_29_97_is_exact() -> None:
    """107892 frames at 29.97002997 are 3599.9964 s, to the nearest millisecond."""
    events, _ = read(timeline([shot("lid", 0, 107_892, rate=29.97002997)]))
    assert events[0].record == Span(0, 3_599_996)


def test_what_is_switched_off() -> None:
    """A disabled clip is not seen, and keeps its place."""
    off = shot("lid", 0, 50)
    off.enabled = False
    events, _ = read(timeline([off, shot("wax", 0, 50)]))
    assert [(e.clip, e.record.start_ms) for e in events] == [("wax a.mov", 2000)]


def test_other_tops() -> None:
    """The first timeline of a collection, and a track alone, are read; a clip alone is refused in words."""
    plain = timeline([shot("lid", 0, 50)])
    assert len(read(otio.schema.SerializableCollection(children=[plain]))[0]) == 1
    assert len(read(plain.tracks[0])[0]) == 1
    events, problems = read(shot("lid", 0, 50))
    assert events == ()
    assert "Clip" in problems[0].message


@pytest.mark.parametrize(
    "text",
    [
        "{",
        "{}",
        "[]",
        "words",
        json.dumps({"OTIO_SCHEMA": "Timeline.99"}),
        json.dumps({"OTIO_SCHEMA": "Odd.1"}),
    ],
)
def test_broken_timelines(text: str) -> None:
    """One sentence, no traceback."""
    events, problems = read(text)
    assert events == ()
    assert [p.code for p in problems] == ["cut-line"]


def test_a_clip_of_unknown_length() -> None:
    """Without a range nothing behind it has a place: the timeline is refused in words."""
    events, problems = read(timeline([otio.schema.Clip("lid")]))
    assert events == ()
    assert "could not be read" in problems[0].message


def test_without_the_library(monkeypatch: pytest.MonkeyPatch) -> None:
    """The way out is named: the extra to install, or the other form."""
    monkeypatch.setitem(sys.modules, "opentimelineio", None)
    events, problems = read_cut_list(SourceText("cuts.otio", "{}"), Fraction(25), ())
    assert events == ()
    assert "reelnotes[timeline]" in problems[0].message
    assert "CMX 3600" in problems[0].message
