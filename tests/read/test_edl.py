"""CMX 3600 cut lists: the form's columns as an open-source statement model gives them (SMPTE 258M family)."""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction

import opentimelineio as otio
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from opentimelineio.opentime import RationalTime, TimeRange

from reelnotes.model import Clip, CutEvent
from reelnotes.problems import Problem
from reelnotes.read.cut_list import read_cut_list
from reelnotes.store import SourceText
from reelnotes.timing import Span, frames_to_ms, parse_timecode

R25 = Fraction(25)
R2997 = Fraction(30000, 1001)
HEAD = "TITLE: EXAMPLE\nFCM: NON-DROP FRAME\n\n"
EXAMPLE = "001  AX       V     C        01:00:00:00 01:00:05:00 01:00:00:00 01:00:05:00"


def read(
    text: str, rate: Fraction | None = R25, clips: tuple[Clip, ...] = ()
) -> tuple[tuple[CutEvent, ...], list[Problem]]:
    return read_cut_list(SourceText("cuts.edl", text), rate, clips)


def codes(problems: list[Problem]) -> list[tuple[str, int | None]]:
    return [(problem.code, problem.line) for problem in problems]


def line(
    kind: str, source: str, record: str, *, number: int = 1, reel: str = "A01", channels: str = "V"
) -> str:
    """Write an event line, 76 characters with a reel of eight."""
    times = [
        f"00:00:{part.zfill(5)}" if len(part) < 8 else part for part in (source + "/" + record).split("/")
    ]
    return f"{number:03d}  {reel:<8} {channels:<4}  {kind:<8} {' '.join(times)}\n"


def test_the_example_line() -> None:
    """76 characters; 125 frames at 25 and 150 at 30 are 5 s; its hour is the programme's start."""
    assert len(EXAMPLE) == 76
    assert len(line("C", "00:00/01:00", "00:00/01:00").rstrip("\n")) == 76
    for rate in (R25, Fraction(30)):
        events, problems = read(HEAD + EXAMPLE + "\n* FROM CLIP NAME: GLUE UP\n", rate)
        assert problems == []
        assert events == (CutEvent("001", "GLUE UP", Span(0, 5000), Span(3_600_000, 3_605_000)),)


@pytest.mark.parametrize(
    ("channels", "track"),
    [
        ("V", "video"),
        ("A", "audio"),
        ("A2", "audio"),
        ("AA", "audio"),
        ("B", "both"),
        ("AA/V", "both"),
        ("A2/V", "both"),
    ],
)
def test_channels(channels: str, track: str) -> None:
    """Picture, sound, or both."""
    events, problems = read(line("C", "01:00/02:00", "00:00/01:00", channels=channels))
    assert problems == []
    assert [event.track for event in events] == [track]


def test_channels_that_edit_nothing() -> None:
    """NONE places nothing, without a word; letters of no channel are shown."""
    assert read(line("C", "01:00/02:00", "00:00/01:00", channels="NONE")) == ((), [])
    events, problems = read(
        line("C", "01:00/02:00", "00:00/01:00", channels="Q") + line("C", "01:00/02:00", "00:00/01:00")
    )
    assert len(events) == 1
    assert codes(problems) == [("cut-line", 1)]


@pytest.mark.parametrize("kind", ["D    025", "W001 025", "K    025", "KO   025"])
def test_two_lines_make_one_event(kind: str) -> None:
    """The line of no length shows nothing; what enters by dissolve, wipe or key is named by TO CLIP NAME."""
    events, problems = read(
        line("C", "05:00/05:00", "05:00/05:00", number=2)
        + line(kind, "01:00/04:00", "05:00/08:00", number=2, reel="B01")
        + "* FROM CLIP NAME: lid.mov\n* TO CLIP NAME: hinge.mov\n"
        + line("C", "00:00/05:00", "00:00/05:00", number=1)
    )
    assert problems == []
    assert events[1] == CutEvent("002", "hinge.mov", Span(5000, 8000), Span(1000, 4000))


def test_a_key_keeps_its_background() -> None:
    """Background and foreground stand at one place, each under its own name."""
    events, problems = read(
        line("K B", "05:00/07:00", "00:00/02:00", number=1)
        + line("K    000", "01:00/03:00", "00:00/02:00", number=1, reel="B01")
        + "* FROM CLIP NAME: bench.mov\n* TO CLIP NAME: title.mov\n"
    )
    assert problems == []
    assert [(e.clip, e.record) for e in events] == [
        ("bench.mov", Span(0, 2000)),
        ("title.mov", Span(0, 2000)),
    ]


@pytest.mark.parametrize("reel", ["BL", "BLACK", "bl"])
def test_black(reel: str) -> None:
    """Black shows no clip and has no source."""
    events, problems = read(line("C", "00:00/02:00", "00:00/02:00", reel=reel))
    assert (events, problems) == ((CutEvent("001", None, Span(0, 2000), None),), [])


def test_sources_without_a_name() -> None:
    """AX and BARS alone name no clip; a reel, or a SOURCE FILE comment, does."""
    events, problems = read(
        line("C", "00:00/01:00", "00:00/01:00", reel="AX")
        + line("C", "00:00/01:00", "01:00/02:00", number=2, reel="BARS")
        + line("C", "00:00/01:00", "02:00/03:00", number=3, reel="A01")
        + line("C", "00:00/01:00", "03:00/04:00", number=4, reel="AX")
        + "* SOURCE FILE: /films/lid.mov\n"
    )
    assert problems == []
    assert [event.clip for event in events] == [None, None, "A01", "lid.mov"]


def test_reels_with_spaces_and_of_32_characters() -> None:
    """The columns may be wider than the form's, and a reel may hold spaces."""
    events, problems = read(
        line("C", "00:00/01:00", "00:00/01:00", reel="a_very_long_name_of_32_characters")
        + line("C", "00:00/01:00", "01:00/02:00", number=2, reel="DAY ONE")
    )
    assert problems == []
    assert [event.clip for event in events] == ["a_very_long_name_of_32_characters", "DAY ONE"]


@pytest.mark.parametrize(
    ("motion", "speed", "source"),
    [
        ("050.0", Fraction(2), Span(4000, 8000)),
        ("012.5", Fraction(1, 2), Span(4000, 5000)),
        ("000.0", Fraction(0), Span(4000, 4000)),
        ("-025.0", Fraction(-1), Span(2000, 4000)),
        ("025.0", Fraction(1), Span(4000, 6000)),
    ],
)
def test_speed_effects(motion: str, speed: Fraction, source: Span) -> None:
    """M2 gives frames a second; a source that runs backwards lies before its first frame."""
    events, problems = read(
        line("C", "04:00/06:00", "00:00/02:00") + f"M2   A01      {motion:>8}                00:00:04:00\n"
    )
    assert problems == []
    assert (events[0].speed, events[0].source) == (speed, source)


def test_a_speed_belongs_to_the_line_that_starts_at_its_time() -> None:
    """Of the two lines of a dissolve, the one whose source starts there is sped up."""
    events, _ = read(
        line("C", "09:00/09:00", "00:00/00:00", number=1)
        + line("D    010", "04:00/06:00", "00:00/02:00", number=1, reel="B01")
        + "M2   XX       050.0 00:00:04:00\n"
    )
    assert events[0].speed == 2


def test_lengths_that_differ_without_a_speed() -> None:
    """The ratio is taken and shown; one frame of difference is rounding."""
    events, problems = read(line("C", "04:00/08:00", "00:00/02:00"))
    assert events[0].speed == 2
    assert codes(problems) == [("cut-line", 1)]
    assert read(line("C", "04:00/06:01", "00:00/02:00"))[1] == []


def test_drop_frame() -> None:
    """`FCM: DROP FRAME` holds for the events below it: 17 982 frames in 10 minutes (SMPTE ST 12-1)."""
    event = "001  A01      V     C        00:00:00:00 00:10:00:00 01:00:00:00 01:10:00:00\n"
    dropped, problems = read("FCM: DROP FRAME\n" + event, R2997)
    assert problems == []
    assert dropped[0].record == Span(0, 599_999)
    counted, _ = read("FCM: NON-DROP FRAME\n" + event, R2997)
    assert counted[0].record == Span(0, 600_600)
    semicolons, _ = read(event.replace(":00 ", ";00 ").replace(":00\n", ";00\n"), R2997)
    assert semicolons[0].record == Span(0, 599_999)


def test_a_label_that_drop_frame_leaves_out() -> None:
    """00:01:00;00 does not exist (SMPTE ST 12-1); the line is shown, 00:10:00;00 is read."""
    text = "FCM: DROP FRAME\n001  A01      V     C        00:01:00:00 00:01:05:00 00:00:00:00 00:00:05:00\n"
    events, problems = read(text, R2997)
    assert events == ()
    assert codes(problems) == [("cut-line", 2)]
    assert read(text.replace("00:01:0", "00:10:0"), R2997)[1] == []


def test_drop_frame_at_a_rate_that_has_none() -> None:
    """At 25 it is read as non-drop, which is said."""
    events, problems = read("FCM: DROP FRAME\n" + line("C", "00:00/01:00", "00:00/01:00"))
    assert events[0].record == Span(0, 1000)
    assert [p.code for p in problems] == ["cut-line"]


# --- the rate -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("base", [24, 25, 30, 50, 60])
def test_the_rate_is_worked_out_from_lengths(base: int) -> None:
    """A cut over the second tells the base: 00:20 to 01:05 in the source is 00:00 to 00:(base-15)."""
    events, problems = read(line("C", "00:20/01:05", f"00:00/00:{base - 15:02d}"), None)
    assert codes(problems) == [("rate-assumed", 1)]
    assert f"{base} frames" in problems[0].message
    assert events[0].record.end_ms == frames_to_ms(base - 15, Fraction(base))


@pytest.mark.parametrize(
    ("highest", "base"), [(23, 24), (24, 25), (25, 30), (29, 30), (30, 48), (49, 50), (50, 60)]
)
def test_the_rate_is_worked_out_from_the_highest_frame(highest: int, base: int) -> None:
    """Where lengths tell nothing, the lowest usual rate that has such a frame is taken."""
    _, problems = read(line("C", f"00:{highest}/01:{highest}", "00:00/01:00"), None)
    assert f"; {base} frames" in problems[0].message


def test_drop_frame_means_29_97_or_59_94() -> None:
    """Frame 30 exists only at the double rate."""
    text = "FCM: DROP FRAME\n" + line("C", "00:10/01:10", "00:00/01:00")
    assert "30000/1001" in read(text, None)[1][0].message
    assert "60000/1001" in read(text.replace("00:10 ", "00:30 "), None)[1][0].message


def test_a_rate_that_the_labels_disprove() -> None:
    """Frame 29 does not exist at 25; frame 24 does."""
    events, problems = read(line("C", "00:29/01:29", "00:00/01:00"))
    assert codes(problems) == [("rate-assumed", 1)]
    assert events[0].record == Span(0, 1000)
    assert read(line("C", "00:24/01:24", "00:00/01:00"))[1] == []


@pytest.mark.parametrize(
    ("given_rate", "meant"), [("29.97", R2997), ("23.976", Fraction(24000, 1001)), ("25", R25)]
)
def test_a_rounded_rate_is_the_known_one(given_rate: str, meant: Fraction) -> None:
    """`29.97` in a file means 30000/1001."""
    events, _ = read(line("C", "00:00:00:00/00:59:00:00", "00:00:00:00/00:59:00:00"), Fraction(given_rate))
    assert events[0].record.end_ms == frames_to_ms(parse_timecode("00:59:00:00", meant), meant)


# --- where the programme starts --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("record_in", "start_ms", "code"),
    [("01:00:00:00", 0, None), ("10:00:02:00", 2000, None), ("00:00:30:00", 30_000, None),
     ("01:01:00:24", 60_960, None), ("01:01:01:00", 0, "cut-start"), ("10:15:00:00", 0, "cut-start")],
)  # fmt: skip
def test_the_programme_starts_on_the_hour(record_in: str, start_ms: int, code: str | None) -> None:
    """Up to a minute of nothing may stand before the first event; beyond that the event is the start."""
    out = record_in[:6] + f"{int(record_in[6:8]) + 5:02d}" + record_in[8:]
    events, problems = read(line("C", "00:00/05:00", f"{record_in}/{out}"))
    assert events[0].record == Span(start_ms, start_ms + 5000)
    assert [p.code for p in problems] == ([code] if code else [])


def test_a_leader_before_the_hour() -> None:
    """What ends before the full hour is no part of the programme; what crosses it loses its head."""
    events, problems = read(
        line("C", "00:00/05:00", "00:59:50:00/00:59:55:00", reel="BARS")
        + line("C", "00:00/07:00", "00:59:58:00/01:00:05:00", number=2)
        + line("C", "00:00/05:00", "01:00:05:00/01:00:10:00", number=3)
    )
    assert [(e.number, e.record) for e in events] == [("002", Span(0, 5000)), ("003", Span(5000, 10_000))]
    assert codes(problems) == [("cut-line", 1)]


# --- sources and clips --------------------------------------------------------------------------------


CLIP = Clip("A01.MP4", datetime(2026, 3, 4, 9, 30, 0), 60_000)


def test_sources_inside_the_clip_count_from_its_first_frame() -> None:
    """The clip is found by name with or without suffix, in any case; 62 s is the limit for a clip of 60."""
    for name in ("A01.MP4", "a01.mp4", "a01", "A01.mov"):
        events, problems = read(
            line("C", "10:00/12:00", "00:00/02:00", reel="AX") + f"* FROM CLIP NAME: {name}\n", clips=(CLIP,)
        )
        assert problems == []
        assert (events[0].clip, events[0].source) == ("A01.MP4", Span(10_000, 12_000))
    late = read(line("C", "00:01:00:00/00:01:02:00", "00:00/02:00"), clips=(CLIP,))
    assert (late[0][0].source, late[1]) == (Span(60_000, 62_000), [])


def test_sources_in_time_of_day() -> None:
    """09:30:10:00 in a clip that starts at 09:30:00 is its tenth second, for all events of the clip."""
    events, problems = read(
        line("C", "09:30:10:00/09:30:12:00", "00:00/02:00")
        + line("C", "09:30:20:00/09:30:22:00", "02:00/04:00", number=2),
        clips=(CLIP,),
    )
    assert problems == []
    assert [e.source for e in events] == [Span(10_000, 12_000), Span(20_000, 22_000)]


def test_time_of_day_at_29_97() -> None:
    """Non-drop labels count 30 a second from midnight, drop-frame labels keep to the clock."""
    label = "001  A01      V     C        09:30:10:02 09:30:12:02 00:00:00:00 00:00:02:00\n"
    events, _ = read(label, R2997, (CLIP,))
    assert events[0].source == Span(frames_to_ms(302, R2997), frames_to_ms(362, R2997))
    dropped, _ = read("FCM: DROP FRAME\n" + label, R2997, (CLIP,))
    assert dropped[0].source is not None
    assert abs(dropped[0].source.start_ms - 10_067) < 100


def test_a_source_outside_its_clip() -> None:
    """It keeps the clip and loses the source, and is shown."""
    events, problems = read(line("C", "00:05:00:00/00:05:02:00", "00:00/02:00"), clips=(CLIP,))
    assert (events[0].clip, events[0].source) == ("A01.MP4", None)
    assert codes(problems) == [("cut-place", 1)]


def test_names_that_the_clip_list_does_not_know() -> None:
    """They are listed once, as a note: stills look the same as typing errors."""
    events, problems = read(
        line("C", "00:00/01:00", "00:00/01:00", reel="AX")
        + "* FROM CLIP NAME: STILL.JPG\n"
        + line("C", "00:00/01:00", "01:00/02:00", number=2),
        clips=(CLIP,),
    )
    assert [e.clip for e in events] == ["STILL.JPG", "A01.MP4"]
    assert [(p.code, p.line, p.severity) for p in problems] == [("cut-clip", 1, "note")]
    assert "STILL.JPG" in problems[0].message


# --- every line, and other writers -----------------------------------------------------------------------


def test_lines_of_no_cut_list_are_shown() -> None:
    """Comments and statements of the form are not; a damaged event line is."""
    good = line("C", "00:00/01:00", "00:00/01:00")
    remarks = "* A REMARK\n>>> REMARK\nAUD   3  4\nSPLIT:    AUDIO DELAY=  00:00:00:05\n"
    assert read("TITLE: X\n" + good + remarks)[1] == []
    events, problems = read(
        good + "002  A01 V C 00:00:01:00 00:00:02:00 00:00:01:00\nsome words\nM2 A01 5 00:00:0\n"
    )
    assert len(events) == 1
    assert codes(problems) == [("cut-line", 2), ("cut-line", 3), ("cut-line", 4)]
    assert codes(read("M2   A01      050.0 00:00:04:00\n" + good)[1]) == [("cut-line", 1)]


def test_an_event_that_ends_before_it_begins() -> None:
    """It is shown and left out; one frame is an event."""
    assert codes(read(line("C", "00:00/01:00", "02:00/01:24"))[1])[0] == ("cut-line", 1)
    assert read(line("C", "00:00/00:01", "01:00/01:01"))[0][0].record.length_ms == 40


@pytest.mark.parametrize("text", ["", "\n\n", "TITLE: NOTHING\n"])
def test_an_empty_cut_list(text: str) -> None:
    """No events, and one problem."""
    events, problems = read(text)
    assert events == ()
    assert [p.code for p in problems] == ["cut-line"]


LINES = [
    EXAMPLE,
    "002  B01      AA    D    010 00:00:01:00 00:00:02;00 01:00:05:00 01:00:06:00",
    "003  BL       V     C        00:00:00:00 00:00:01:00 01:00:06:29 01:00:07:29",
    "001  AX V C 1 2 3 4",
    "M2   AX       050.0   01:00:00:00",
    "M2",
    "* FROM CLIP NAME: A",
    "* TO CLIP NAME: B",
    "* SOURCE FILE: c.mov",
    "FCM: DROP FRAME",
    "TITLE:",
    "x",
]


@settings(max_examples=120, deadline=None)
@given(
    st.lists(st.sampled_from(LINES) | st.text(max_size=30), max_size=10),
    st.sampled_from([None, R25, R2997]),
)
def test_any_lines_give_events_in_order(lines: list[str], rate: Fraction | None) -> None:
    """Nothing raises, events come in order of the programme, and words of no form are shown."""
    text = "\n".join(lines).replace("\r", " ")
    assume(not text.lstrip().startswith("{"))  # that would be a timeline in JSON
    events, problems = read(text, rate)
    assert [e.record.start_ms for e in events] == sorted(e.record.start_ms for e in events)
    shown = {p.line for p in problems}
    assert all(number in shown for number, words in enumerate(text.split("\n"), 1) if words == "x")


PLAIN = st.tuples(st.sampled_from(["lid", "hinge", "wax"]), st.integers(0, 5000), st.integers(1, 900))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(PLAIN, min_size=1, max_size=6),
    st.sampled_from([24, 25, 30]),
    st.sampled_from([1.0, 2.0, -1.0, 0.5]),
)
def test_lists_by_another_writer_read_back(
    shots: list[tuple[str, int, int]], base: int, speed: float
) -> None:
    """What `otio-cmx3600-adapter` writes, we read as the timeline has it: record, source, clip, speed."""
    timeline = otio.schema.Timeline("T")
    track = otio.schema.Track("V", kind="Video")
    timeline.tracks.append(track)
    for n, (name, start, length) in enumerate(shots):
        clip = otio.schema.Clip(
            f"{name}.mov", source_range=TimeRange(RationalTime(start, base), RationalTime(2 * length, base))
        )
        if n % 2 and start > 2000:
            clip.effects.append(otio.schema.LinearTimeWarp(time_scalar=speed))
        track.append(clip)
    text = otio.adapters.write_to_string(timeline, "cmx_3600", rate=base)
    events, problems = read(text, Fraction(base))
    assert [p.message for p in problems] == []
    assert len(events) == len(shots)
    rate = Fraction(base)
    for event, clip in zip(events, track, strict=True):
        placed = clip.range_in_parent()
        assert event.clip == clip.name
        assert event.record == Span(
            frames_to_ms(int(placed.start_time.value), rate),
            frames_to_ms(int(placed.end_time_exclusive().value), rate),
        )
        scalar = clip.effects[0].time_scalar if clip.effects else 1.0
        assert event.speed == Fraction(scalar)
        first = clip.source_range.start_time.value
        last = first + clip.source_range.duration.value * scalar
        assert event.source == Span(
            *(round(Fraction(frame) * 1000 / rate) for frame in sorted((first, last)))
        )


@pytest.mark.parametrize(
    "text", ["001 A" + " " * 100_000 + "x", "M2 " + "a " * 100_000, "* FROM CLIP NAME:" + " " * 100_000 + "x"]
)
def test_no_line_is_long_enough_to_hang(text: str) -> None:
    """Lines far beyond the form's 76 columns are shown, or remarks, at once."""
    import time

    before = time.process_time()
    events, _ = read(line("C", "00:00/01:00", "00:00/01:00") + text)
    assert time.process_time() - before < 1
    assert len(events) == 1
