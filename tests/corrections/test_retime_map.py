"""The map of times: no time is lost, order is kept, it composes and inverts."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.corrections.retime import Gone, Kind, Stretch, TimeMap, compose, cut_and_hold
from reelnotes.model import HeldFrame
from reelnotes.timing import Span, format_timecode, frames_to_ms, ms_to_frames, parse_timecode

NTSC = Fraction(30000, 1001)
RATES = (Fraction(24000, 1001), Fraction(24), Fraction(25), NTSC, Fraction(50), Fraction(60000, 1001))
KINDS: tuple[Kind, ...] = ("taken", "cut", "held")
modest = settings(max_examples=150, deadline=None)

stretches = st.builds(Stretch, st.sampled_from(KINDS), st.integers(0, 12))
maps = st.lists(stretches, max_size=7).map(lambda many: TimeMap(tuple(many)))
times = st.integers(0, 100)
long_maps = st.lists(st.builds(Stretch, st.sampled_from(KINDS), st.integers(0, 200_000)), max_size=6).map(
    lambda many: TimeMap(tuple(many))
)


def after(first: TimeMap, second: TimeMap, at: int) -> int | Gone:
    """Take a time through two maps, one after the other."""
    between = first.point(at)
    if isinstance(between, Gone):
        return Gone(second.arrival(between.joint_ms))
    return second.point(between)


@modest
@given(maps)
def test_no_time_is_lost(m: TimeMap) -> None:
    """What was taken and cut is the whole earlier version, what was taken and held the whole later one."""
    assert m.length_before == m.length_of("taken") + m.length_of("cut")
    assert m.length_after == m.length_of("taken") + m.length_of("held")
    kept = [at for at in range(m.length_before) if isinstance(m.point(at), int)]
    assert len(kept) == m.length_of("taken")


@modest
@given(maps)
def test_order_is_kept(m: TimeMap) -> None:
    """A later time never comes out before an earlier one; what stays never shares a place."""
    images = [m.point(at) for at in range(m.length_before + 5)]
    places = [place.joint_ms if isinstance(place, Gone) else place for place in images]
    assert all(a <= b for a, b in pairwise(places))
    staying = [place for place in images if isinstance(place, int)]
    assert all(a < b for a, b in pairwise(staying))
    assert places == [m.nearest(at) for at in range(len(places))]


@modest
@given(maps)
def test_the_inverse_is_exact_on_what_was_taken(m: TimeMap) -> None:
    """There and back again is where one was; the inverse of the inverse is the map."""
    back = m.inverse()
    assert back.inverse() == m
    assert (back.length_before, back.length_after) == (m.length_after, m.length_before)
    for at in range(m.length_before):
        place = m.point(at)
        if isinstance(place, int):
            assert back.point(place) == at


@modest
@given(maps, maps, times)
def test_a_composition_does_one_after_the_other(first: TimeMap, second: TimeMap, at: int) -> None:
    """compose(a, b)(x) is b(a(x)), for what went too."""
    assert compose(first, second).point(at) == after(first, second, at)


@modest
@given(maps, maps, maps)
def test_composition_may_be_bracketed_either_way(a: TimeMap, b: TimeMap, c: TimeMap) -> None:
    """(a b) c is a (b c)."""
    assert compose(compose(a, b), c) == compose(a, compose(b, c))


@modest
@given(maps, maps, times)
def test_the_inverse_of_a_composition(a: TimeMap, b: TimeMap, at: int) -> None:
    """Going back through two maps is going back through the second and then the first, on what stays."""
    back, one_by_one = compose(a, b).inverse(), compose(b.inverse(), a.inverse())
    assert back.length_before == one_by_one.length_before
    assert back.length_after == one_by_one.length_after
    place = back.point(at)
    other = one_by_one.point(at)
    assert isinstance(place, Gone) == isinstance(other, Gone)
    if isinstance(place, int):
        assert place == other


@modest
@given(maps)
def test_a_map_that_changes_nothing(m: TimeMap) -> None:
    """The whole taken before or after a map leaves it as it is."""
    assert compose(TimeMap((Stretch("taken", m.length_before),)), m) == m
    assert compose(m, TimeMap((Stretch("taken", m.length_after),))) == m


@modest
@given(maps, maps, times, times)
def test_spans_follow_their_points(a: TimeMap, b: TimeMap, one: int, other: int) -> None:
    """A span comes out as the places of its times; through two maps as through their composition."""
    span = Span(min(one, other), max(one, other))
    parts = a.span(span)
    inside = [at for part in parts for at in range(part.start_ms, part.end_ms)]
    points = [a.point(at) for at in range(span.start_ms, span.end_ms)]
    assert inside == [place for place in points if isinstance(place, int)]
    assert all(x.end_ms < y.start_ms for x, y in pairwise(parts))
    if span.length_ms:
        through = [after for part in parts for after in b.span(part)]
        joined = [at for part in through for at in range(part.start_ms, part.end_ms)]
        direct = [at for part in compose(a, b).span(span) for at in range(part.start_ms, part.end_ms)]
        assert joined == direct


def test_what_is_cut_inside_a_span_grows_together() -> None:
    """A cut inside leaves one span; a held frame parts it, and `over` bridges the held frame."""
    m = cut_and_hold(60_000, [Span(10_000, 20_000)], [HeldFrame(30_000, 4_000)])
    assert m.span(Span(5_000, 25_000)) == (Span(5_000, 15_000),)
    assert m.span(Span(5_000, 40_000)) == (Span(5_000, 20_000), Span(24_000, 34_000))
    assert m.over(Span(5_000, 40_000)) == Span(5_000, 34_000)
    assert m.over(Span(12_000, 20_000)) is None
    assert m.span(Span(7_000, 7_000)) == (Span(7_000, 7_000),)
    assert m.span(Span(12_000, 12_000)) == ()


def test_where_a_frame_is_held() -> None:
    """At a cut's begin it comes before the cut, at its end after it; the time itself moves on behind it."""
    cut = Span(10_000, 20_000)
    before = cut_and_hold(60_000, [cut], [HeldFrame(10_000, 4_000)])
    assert [s.kind for s in before.stretches] == ["taken", "held", "cut", "taken"]
    assert before.point(15_000) == Gone(14_000)
    behind = cut_and_hold(60_000, [cut], [HeldFrame(20_000, 4_000)])
    assert [s.kind for s in behind.stretches] == ["taken", "cut", "held", "taken"]
    assert (behind.point(15_000), behind.point(20_000)) == (Gone(10_000), 14_000)
    within = cut_and_hold(60_000, [cut], [HeldFrame(15_000, 4_000)])
    assert (within.point(14_999), within.point(15_000)) == (Gone(10_000), Gone(14_000))
    assert (within.arrival(15_000), within.point(20_000)) == (10_000, 14_000)
    at_end = cut_and_hold(60_000, [], [HeldFrame(60_000, 4_000)])
    assert (at_end.length_after, at_end.point(60_000), at_end.arrival(60_000)) == (64_000, 64_000, 60_000)


def test_two_holds_with_less_than_a_frame_between_them_last_whole_frames() -> None:
    """What is shorter than a frame goes, and the holds on both sides become one of two whole frames."""
    m = TimeMap((Stretch("held", 1), Stretch("taken", 1), Stretch("held", 1), Stretch("taken", 1)))
    rate = Fraction(24_000, 1001)
    assert m.snapped(rate).length_of("held") == frames_to_ms(2, rate)


def test_spans_to_remove_may_overlap() -> None:
    """Two spans that overlap or touch are one cut."""
    m = cut_and_hold(60_000, [Span(15_000, 30_000), Span(10_000, 20_000), Span(30_000, 31_000)], [])
    assert m.stretches == (Stretch("taken", 10_000), Stretch("cut", 21_000), Stretch("taken", 29_000))


def test_what_lies_behind_the_end_moves_with_it() -> None:
    """The known end is only as far as cues show: a programme that goes on goes on."""
    m = cut_and_hold(60_000, [Span(10_000, 20_000)], [])
    assert (m.point(60_000), m.point(75_000), m.arrival(75_000)) == (50_000, 65_000, 65_000)
    assert m.span(Span(55_000, 70_000)) == (Span(45_000, 60_000),)


def test_a_length_below_nothing_is_no_map() -> None:
    """A stretch cannot be shorter than nothing."""
    with pytest.raises(ValueError, match="no map"):
        TimeMap((Stretch("cut", -1),))


@modest
@given(long_maps, st.sampled_from(RATES))
def test_cuts_snap_to_whole_frames(m: TimeMap, rate: Fraction) -> None:
    """Every joint of a snapped map is the time of a frame; the known end stays; half a frame is the most."""
    snapped = m.snapped(rate)
    assert snapped.length_before == m.length_before
    at = 0
    for stretch in snapped.stretches:
        if stretch.kind == "held":
            assert frames_to_ms(ms_to_frames(stretch.length, rate), rate) == stretch.length
            continue
        at += stretch.length
        assert at == m.length_before or frames_to_ms(ms_to_frames(at, rate), rate) == at
    half = frames_to_ms(1, rate) / 2 + 1
    assert abs(snapped.length_of("cut") - m.length_of("cut")) <= 2 * half * len(m.stretches)


@modest
@given(long_maps, st.sampled_from(RATES))
def test_frames_are_exact_where_milliseconds_drift(m: TimeMap, rate: Fraction) -> None:
    """The map in frames and the one in milliseconds differ by no more than half a millisecond a stretch."""
    snapped = m.snapped(rate)
    frames = snapped.in_frames(rate)
    assert frames == frames.inverse().inverse()
    for number in range(0, frames.length_before, max(1, frames.length_before // 20)):
        exact = frames.point(number)
        rounded = snapped.point(frames_to_ms(number, rate))
        if isinstance(exact, int) and isinstance(rounded, int):
            assert abs(frames_to_ms(exact, rate) - rounded) <= len(m.stretches) + 1


@pytest.mark.parametrize(
    ("label", "later"),
    [("00:00:59;29", "00:00:59;29"), ("00:10:00;00", "00:09:00;02"), ("00:05:59;29", "00:04:59;29")],
)
def test_a_minute_out_of_a_drop_frame_programme(label: str, later: str) -> None:
    """Taking 1,798 frames out from frame 1,800 on moves drop-frame labels by one minute.

    Frame numbers of the labels: SMPTE ST 12-1 as transcribed in OpenTimelineIO's tests (1799, 10789, 17982).
    """
    m = TimeMap((Stretch("taken", 1800), Stretch("cut", 1798), Stretch("taken", 20_000)))
    moved = m.point(parse_timecode(label, NTSC))
    assert isinstance(moved, int)
    assert format_timecode(moved, NTSC, drop=True) == later
