"""Panels in place on a timeline, read back by other readers and by ours."""

from __future__ import annotations

import sys
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.read.cut_list import read_cut_list
from reelnotes.read.programme_rate import programme_rate, programme_start
from reelnotes.store import SourceText
from reelnotes.timing import frames_to_ms, ms_to_frames, parse_timecode
from reelnotes.write.timeline import Reel, Still, timeline_edl, timeline_otio

otio = pytest.importorskip("opentimelineio", reason="the library that reads the form is not installed")

FADE_MS, HANDLE_MS = 400, 1000
RATES = {
    "24": (Fraction(24), False),
    "25": (Fraction(25), False),
    "23.976": (Fraction(24000, 1001), False),
    "29.97 drop": (Fraction(30000, 1001), True),
    "59.94 drop": (Fraction(60000, 1001), True),
    "60": (Fraction(60), False),
}


def stills(rate: Fraction) -> list[Still]:
    """Give three panels on whole frames: two that follow at once, one later."""
    edges = [(10_000, 14_000), (14_000, 18_000), (30_000, 36_000)]
    on_frames = [tuple(frames_to_ms(ms_to_frames(ms, rate), rate) for ms in pair) for pair in edges]
    return [
        Still(f"panels/{number:02d}-a b-1.png", "a b", "WARNING", ("Wrong here:",), start, end)
        for number, (start, end) in enumerate(on_frames, start=1)
    ]


def read_otio_text(text: str) -> Any:  # noqa: ANN401 - the library has no types
    return otio.adapters.read_from_string(text, "otio_json")


def written(reel: Reel) -> Any:  # noqa: ANN401 - the library has no types
    text, problems = timeline_otio(reel, stills(reel.rate), FADE_MS, HANDLE_MS)
    assert problems == []
    assert text is not None
    return read_otio_text(text)


@pytest.mark.parametrize("name", RATES)
def test_the_timeline_puts_panels_on_their_frames(name: str) -> None:
    """Read back with OpenTimelineIO: each clip where it should be, the programme beneath."""
    rate, drop = RATES[name]
    timeline = written(Reel("Chair", rate, 60_000, drop))
    programme, panels = timeline.tracks
    assert (programme.name, panels.name) == ("programme", "panels")
    assert programme.duration().value == ms_to_frames(60_000, rate)
    clips = list(panels.find_clips())
    assert [clip.name for clip in clips] == [still.name for still in stills(rate)]
    for clip, still in zip(clips, stills(rate), strict=True):
        at = clip.transformed_time_range(clip.trimmed_range(), panels)
        assert at.start_time.value == ms_to_frames(still.start_ms, rate)
        assert at.end_time_exclusive().value == ms_to_frames(still.end_ms, rate)
        assert at.start_time.rate == float(rate)


def test_a_panel_has_handles() -> None:
    """Its media goes on for a second before and after its window."""
    for clip in written(Reel("Chair", Fraction(25), 60_000)).tracks[1].find_clips():
        media, used = clip.media_reference.available_range, clip.source_range
        assert used.start_time.value - media.start_time.value == 25
        assert media.end_time_exclusive().value - used.end_time_exclusive().value == 25


def test_panels_fade_and_dissolve() -> None:
    """A fade lies inside the panel's window; where cards follow at once, one dissolve lies over the cut."""
    children = list(written(Reel("Chair", Fraction(25), 60_000)).tracks[1])
    kinds = [type(child).__name__ for child in children]
    assert kinds == [
        "Gap", "Transition", "Clip", "Transition", "Clip", "Transition",
        "Gap", "Transition", "Clip", "Transition",
    ]  # fmt: skip
    offsets = [
        (child.in_offset.value, child.out_offset.value)
        for child in children
        if type(child).__name__ == "Transition"
    ]
    assert offsets == [(0, 10), (5, 5), (10, 0), (0, 10), (10, 0)]


def test_panels_are_named_beside_the_timeline() -> None:
    """The address is a path as seen from the timeline, with signs that a web address quotes."""
    clip, *_ = written(Reel("Chair", Fraction(25))).tracks[1].find_clips()
    assert clip.media_reference.target_url == "panels/01-a%20b-1.png"
    assert clip.metadata["reelnotes"]["signal"] == "WARNING"


def test_the_programme_is_named_if_there_is_a_video() -> None:
    """With a video the track beneath shows it; without one it is told to be missing."""
    with_video = written(Reel("Chair", Fraction(25), 60_000, video="../../my film.mp4"))
    assert next(iter(with_video.tracks[0].find_clips())).media_reference.target_url == "../../my%20film.mp4"
    without = written(Reel("Chair", Fraction(25), 60_000))
    assert next(iter(without.tracks[0].find_clips())).media_reference.is_missing_reference


def test_our_reader_finds_the_panels_in_the_timeline() -> None:
    """Over the programme, each for its time."""
    text, _ = timeline_otio(Reel("Chair", Fraction(25), 60_000), stills(Fraction(25)), FADE_MS, HANDLE_MS)
    events, problems = read_cut_list(SourceText("panels.otio", text or ""), None, ())
    assert problems == []
    found = [(e.clip, e.record.start_ms, e.record.end_ms) for e in events if e.clip != "Chair"]
    assert found == [(s.name, s.start_ms, s.end_ms) for s in stills(Fraction(25))]


# --- CMX 3600 ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", RATES)
def test_the_cut_list_puts_panels_on_their_frames(name: str) -> None:
    """Its labels are those of the frames, from one hour on, out points not part of the event."""
    rate, drop = RATES[name]
    text = timeline_edl(Reel("Chair", rate, 60_000, drop), stills(rate), FADE_MS, HANDLE_MS)
    hour = parse_timecode("01:00:00:00", rate, drop=drop)
    rows = [line.split()[4:] for line in text.splitlines() if line[:3].isdigit()]
    for row, still in zip(rows, stills(rate), strict=True):
        first, last, start, end = (parse_timecode(label, rate, drop=drop) for label in row)
        assert start - hour == ms_to_frames(still.start_ms, rate)
        assert end - hour == ms_to_frames(still.end_ms, rate)
        assert last - first == end - start
        assert first >= rate


def test_an_event_has_76_columns() -> None:
    """The form: event 3, reel 8, channels 4, transition 4, operand 3, four labels of 11."""
    text = timeline_edl(Reel("Chair", Fraction(25)), stills(Fraction(25)), FADE_MS, HANDLE_MS)
    events = [line for line in text.splitlines() if line[:3].isdigit()]
    assert [len(line) for line in events] == [76, 76, 76]


@pytest.mark.parametrize("name", RATES)
def test_another_reader_finds_the_panels_in_the_cut_list(name: str) -> None:
    """Read with OpenTimelineIO's adapter of the form: names, lengths and the gap between."""
    rate, drop = RATES[name]
    text = timeline_edl(Reel("Chair", rate, 60_000, drop), stills(rate), FADE_MS, HANDLE_MS)
    (track,) = otio.adapters.read_from_string(text, "cmx_3600", rate=float(rate)).tracks
    assert [clip.name for clip in track.find_clips()] == [still.name for still in stills(rate)]
    lengths = [round(child.duration().value) for child in track]
    edges = [(ms_to_frames(s.start_ms, rate), ms_to_frames(s.end_ms, rate)) for s in stills(rate)]
    assert lengths == [edges[0][1] - edges[0][0], edges[1][1] - edges[1][0], edges[2][0] - edges[1][1],
                       edges[2][1] - edges[2][0]]  # fmt: skip


def test_our_reader_finds_the_panels_in_the_cut_list() -> None:
    """No line of it is strange to it, and every panel stands at its time."""
    text = timeline_edl(Reel("Chair", Fraction(25)), stills(Fraction(25)), FADE_MS, HANDLE_MS)
    events, problems = read_cut_list(SourceText("panels.edl", text), Fraction(25), ())
    assert problems == []
    assert [(e.clip, e.record.start_ms, e.record.end_ms) for e in events] == [
        (s.name, s.start_ms, s.end_ms) for s in stills(Fraction(25))
    ]


def test_panels_start_where_the_programme_does() -> None:
    """A cut list of the programme that begins at ten hours moves the panels there too."""
    line = "001  C0001    V     C        00:00:00:00 00:00:20:00 10:00:00:00 10:00:20:00\n"
    cuts = SourceText("cuts.edl", f"TITLE: X\nFCM: NON-DROP FRAME\n\n{line}* FROM CLIP NAME: C0001.MP4\n")
    start = programme_start(cuts, Fraction(25))
    assert start == 10 * 3600 * 25
    reel = Reel("Chair", Fraction(25), 60_000, first_frame=start)
    assert "10:00:10:00 10:00:14:00" in timeline_edl(reel, stills(Fraction(25)), FADE_MS, HANDLE_MS)
    assert written(reel).global_start_time.value == start
    assert programme_start(None, Fraction(25)) is None
    assert programme_start(SourceText("cuts.edl", ""), Fraction(25)) is None
    assert programme_rate(cuts, Fraction(25)) == (Fraction(25), False)


def test_drop_frame_is_said_and_written() -> None:
    """The mode stands on top, and labels have a semicolon before the frames (SMPTE ST 12-1)."""
    text = timeline_edl(Reel("C", Fraction(30000, 1001), drop=True), stills(Fraction(30000, 1001)), 400, 1000)
    assert "FCM: DROP FRAME" in text
    assert text.count(";") == 12
    assert "FCM: NON-DROP FRAME" in timeline_edl(Reel("C", Fraction(25)), stills(Fraction(25)), 400, 1000)


def test_line_breaks_in_names_make_no_lines() -> None:
    """A title over two lines is one, so that nothing can be slipped into the form."""
    reel = Reel("Chair\n001  AX       V     C        00:00:00:00", Fraction(25))
    text = timeline_edl(reel, stills(Fraction(25)), FADE_MS, HANDLE_MS)
    assert sum(line[:3].isdigit() for line in text.splitlines()) == 3


def test_without_the_library_the_cut_list_is_left(monkeypatch: pytest.MonkeyPatch) -> None:
    """No timeline then, and a note that says what to install."""
    monkeypatch.setitem(sys.modules, "opentimelineio", None)
    text, problems = timeline_otio(Reel("C", Fraction(25)), stills(Fraction(25)), FADE_MS, HANDLE_MS)
    assert text is None
    assert [(p.code, p.severity) for p in problems] == [("timeline-library", "note")]
    assert "pip install" in problems[0].message


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 80), st.integers(1, 200)), max_size=6),
    st.sampled_from(sorted(RATES)),
    st.integers(300, 1000),
    st.integers(0, 50),
)
def test_any_panels_are_found_again(
    rows: list[tuple[int, int]], name: str, fade_ms: int, handle_frames: int
) -> None:
    """Gaps and lengths in frames come back from the timeline; no fade is longer than half a panel."""
    rate, drop = RATES[name]
    at, made = 0, []
    for gap, length in rows:
        start, end = at + gap, at + gap + length
        made.append(Still(f"{start}.png", "a", "", (), frames_to_ms(start, rate), frames_to_ms(end, rate)))
        at = end
    text, _ = timeline_otio(Reel("C", rate, drop=drop), made, fade_ms, frames_to_ms(handle_frames, rate))
    panels = read_otio_text(text or "").tracks[1]
    found = [(c.name, c.transformed_time_range(c.trimmed_range(), panels)) for c in panels.find_clips()]
    assert [(n, r.start_time.value, r.end_time_exclusive().value) for n, r in found] == [
        (s.name, ms_to_frames(s.start_ms, rate), ms_to_frames(s.end_ms, rate)) for s in made
    ]
    for before, after in pairwise(panels):
        if isinstance(before, otio.schema.Transition) and isinstance(after, otio.schema.Clip):
            assert before.out_offset.value <= after.duration().value / 2
