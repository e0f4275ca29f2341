"""Times, spans, rates and timecode; `opentimelineio` as the second opinion on labels."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from opentimelineio.opentime import RationalTime, from_timecode, to_timecode

from reelnotes.problems import BadTime
from reelnotes.timing import (
    Span,
    format_exact,
    format_time,
    format_timecode,
    frames_to_ms,
    iso_duration,
    ms_to_frames,
    parse_rate,
    parse_span,
    parse_time,
    parse_timecode,
    seconds,
)

modest = settings(max_examples=200, deadline=None)

R2997 = Fraction(30000, 1001)
R5994 = Fraction(60000, 1001)
RATES = [
    Fraction(24000, 1001),
    Fraction(24),
    Fraction(25),
    R2997,
    Fraction(30),
    Fraction(50),
    R5994,
    Fraction(60),
]

#: Frame number, non-drop label, drop label (SMPTE ST 12-1, as in the tests of OpenTimelineIO, or computed
#: from its rule of two labels left out in every minute but each tenth).
LABELS = [
    (0, "00:00:00:00", "00:00:00;00"),
    (1799, "00:00:59:29", "00:00:59;29"),
    (1800, "00:01:00:00", "00:01:00;02"),
    (3597, "00:01:59:27", "00:01:59;29"),
    (3598, "00:01:59:28", "00:02:00;02"),
    (10789, "00:05:59:19", "00:05:59;29"),
    (10790, "00:05:59:20", "00:06:00;02"),
    (17981, "00:09:59:11", "00:09:59;29"),
    (17982, "00:09:59:12", "00:10:00;00"),
    (17984, "00:09:59:14", "00:10:00;02"),
    (107892, "00:59:56:12", "01:00:00;00"),
    (777620, None, "07:12:26;18"),
    (1084319, None, "10:03:00;05"),
    (2589407, None, "23:59:59;29"),
]


@pytest.mark.parametrize(("frame", "plain", "drop"), LABELS)
def test_labels_of_frames(frame: int, plain: str | None, drop: str) -> None:
    """Labels and frame numbers turn into each other, non-drop at 30 and drop-frame at 30000/1001."""
    assert parse_timecode(drop, R2997) == frame
    assert parse_timecode(drop.replace(";", ":"), R2997, drop=True) == frame
    assert format_timecode(frame, R2997, drop=True) == drop
    if plain:
        assert parse_timecode(plain, Fraction(30)) == frame
        assert format_timecode(frame, R2997) == plain


def test_frames_of_ten_minutes_an_hour_and_a_day() -> None:
    """17 982, 107 892 and 2 589 408 frames (computed from the rule); the day is the last label plus one."""
    assert parse_timecode("00:10:00;00", R2997) == 17_982
    assert parse_timecode("01:00:00;00", R2997) == 107_892
    assert parse_timecode("23:59:59;29", R2997) + 1 == 2_589_408
    assert frames_to_ms(107_892, R2997) == 3_599_996
    assert frames_to_ms(108_000, R2997) == 3_603_600


@pytest.mark.parametrize("label", ["00:01:00;00", "00:01:00;01", "00:09:00;01", "00:59:00;00"])
def test_labels_that_drop_frame_leaves_out(label: str) -> None:
    """They are refused; `;02` is the first of such a minute."""
    with pytest.raises(BadTime, match="drop-frame leaves this one out"):
        parse_timecode(label, R2997)
    assert parse_timecode(label[:-2] + "02", R2997) > 0


@pytest.mark.parametrize("label", ["00:01:00;03", "00:01:00;00"])
def test_four_labels_are_left_out_at_59_94(label: str) -> None:
    """At 60000/1001 labels 00 to 03 are missing, and 04 is the first."""
    with pytest.raises(BadTime):
        parse_timecode(label, R5994)
    assert parse_timecode("00:01:00;04", R5994) == 3600


@pytest.mark.parametrize("rate", [Fraction(24), Fraction(25), Fraction(30), Fraction(24000, 1001)])
def test_drop_frame_exists_at_two_rates_only(rate: Fraction) -> None:
    """A semicolon at 24, 25 or 30 is refused, as OpenTimelineIO refuses it."""
    with pytest.raises(BadTime, match=r"only at 29\.97 and 59\.94"):
        parse_timecode("00:00:01;00", rate)


@pytest.mark.parametrize(
    "label", ["00:00:00:25", "00:60:00:00", "00:00:60:00", "0:00:00:00", "words", "00:00:00"]
)
def test_labels_that_do_not_exist_at_25(label: str) -> None:
    """Frame 25, minute 60 and second 60 are refused; frame 24 is there."""
    with pytest.raises(BadTime):
        parse_timecode(label, Fraction(25))
    assert parse_timecode("00:00:00:24", Fraction(25)) == 24


@modest
@given(st.integers(0, 2_589_407), st.sampled_from(RATES))
def test_labels_read_back(frame: int, rate: Fraction) -> None:
    """Every frame has one label, non-drop and, where there is one, drop-frame."""
    assert parse_timecode(format_timecode(frame, rate), rate) == frame
    if rate in {R2997, R5994}:
        assert parse_timecode(format_timecode(frame, rate, drop=True), rate) == frame


@modest
@given(st.integers(0, 2_073_599), st.sampled_from(RATES))
def test_labels_agree_with_opentimelineio(frame: int, rate: Fraction) -> None:
    """The library writes the same label for a frame of the day and reads ours back as it."""
    theirs = RationalTime(frame, float(rate))
    plain = format_timecode(frame, rate)
    assert to_timecode(theirs, float(rate), drop_frame=False) == plain
    assert round(from_timecode(plain, float(rate)).value) == frame
    if rate in {R2997, R5994}:
        assert to_timecode(theirs, float(rate), drop_frame=True) == format_timecode(frame, rate, drop=True)


@modest
@given(st.integers(0, 10_000_000), st.sampled_from(RATES))
def test_frames_come_back_from_milliseconds(frame: int, rate: Fraction) -> None:
    """A millisecond is finer than any frame, so no frame is lost on the way."""
    assert ms_to_frames(frames_to_ms(frame, rate), rate) == frame
    assert abs(Fraction(frames_to_ms(frame, rate), 1000) - frame / rate) <= Fraction(1, 2000)


@pytest.mark.parametrize(
    ("text", "ms"),
    [("9:12", 552_000), ("9:12.500", 552_500), ("1:02:03", 3_723_000), ("552.5", 552_500), ("0", 0),
     (" 75:59 ", 4_559_000), ("0:00:00,001", 1), ("7.25", 7250), ("9:5", 545_000)],
)  # fmt: skip
def test_times_on_the_command_line(text: str, ms: int) -> None:
    """Colons, seconds, and parts of a second with a full stop or a comma."""
    assert parse_time(text) == ms


@pytest.mark.parametrize(
    "text", ["", "nine", "9:60", "1:60:00", "9:12:", "-1", "9:12.1234", "1e3", "9,5", "1:2:3:4", "9" * 5000]
)
def test_what_is_no_time(text: str) -> None:
    """Refused with the text and what is wanted; 9:59 and 1:59:59 are times."""
    with pytest.raises(BadTime, match="write it as"):
        parse_time(text)
    assert parse_time("1:59:59") == 7_199_000


@pytest.mark.parametrize("text", ["9:12-9:41", "9:12 - 9:41", "552-581", "9:12–9:41"])
def test_spans(text: str) -> None:
    """Two times with a dash, hyphen or en dash."""
    assert parse_span(text) == Span(552_000, 581_000)


@pytest.mark.parametrize("text", ["9:12", "9:41-9:12", "9:12-9:12", "9:12-", "-9:12", "a-b", "1-2-3"])
def test_what_is_no_span(text: str) -> None:
    """One time, an end not after the start, and words are refused."""
    with pytest.raises(BadTime):
        parse_span(text)


def test_a_span_holds_its_order() -> None:
    """Start after end and below zero cannot be made; no length can."""
    assert Span(5, 5).length_ms == 0
    for start, end in ((6, 5), (-1, 5)):
        with pytest.raises(ValueError, match="no span"):
            Span(start, end)


def test_overlaps() -> None:
    """The end is not part of a span: touching spans share no time."""
    assert Span(0, 10).overlaps(Span(9, 12))
    assert not Span(0, 10).overlaps(Span(10, 12))


@modest
@given(st.integers(0, 400_000_000))
def test_written_times_read_back(ms: int) -> None:
    """The exact form is the same millisecond, the short form the same second, never the next."""
    assert parse_time(format_exact(ms)) == ms
    assert parse_time(format_exact(ms, ",")) == ms
    assert parse_time(format_time(ms)) == ms // 1000 * 1000


@pytest.mark.parametrize(
    ("ms", "short", "exact", "duration"),
    [(0, "0:00", "00:00:00.000", "PT0S"), (59_999, "0:59", "00:00:59.999", "PT59.999S"),
     (60_000, "1:00", "00:01:00.000", "PT1M"), (3_661_500, "1:01:01", "01:01:01.500", "PT1H1M1.5S"),
     (5_400_000, "1:30:00", "01:30:00.000", "PT1H30M"), (95_000, "1:35", "00:01:35.000", "PT1M35S"),
     (600_000, "10:00", "00:10:00.000", "PT10M"), (360_000_000, "100:00:00", "100:00:00.000", "PT100H"),
     (7_205_030, "2:00:05", "02:00:05.030", "PT2H5.03S")],
)  # fmt: skip
def test_forms(ms: int, short: str, exact: str, duration: str) -> None:
    """For people, for captions, and ISO 8601, where ten minutes are PT10M and never P10M."""
    assert (format_time(ms), format_exact(ms), iso_duration(ms)) == (short, exact, duration)
    assert seconds(ms) == ms / 1000


@pytest.mark.parametrize(
    ("text", "rate"),
    [
        ("25", Fraction(25)),
        (" 29.97 ", Fraction(2997, 100)),
        ("30000/1001", R2997),
        ("1", Fraction(1)),
        ("240", Fraction(240)),
    ],
)
def test_rates(text: str, rate: Fraction) -> None:
    """Whole, decimal and as a fraction, from 1 to 240."""
    assert parse_rate(text) == rate


@pytest.mark.parametrize("text", ["", "fast", "0", "0.99", "241", "-25", "25/0", "nan"])
def test_what_is_no_rate(text: str) -> None:
    """Refused with what is wanted."""
    with pytest.raises(BadTime, match="is not a frame rate"):
        parse_rate(text)
