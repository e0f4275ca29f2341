"""The cut list of a new version shows, frame by frame, what it showed before."""

from __future__ import annotations

from fractions import Fraction
from itertools import accumulate, pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.corrections.cuts import retime_cuts
from reelnotes.corrections.retime import compose, cut_and_hold
from reelnotes.model import CutEvent, HeldFrame
from reelnotes.timing import Span, frames_to_ms, ms_to_frames, parse_span

NTSC = Fraction(30000, 1001)
RATES = (Fraction(24), Fraction(25), NTSC, Fraction(50))


def fills(lengths: list[int], rate: Fraction, speed: int = 1) -> tuple[CutEvent, ...]:
    """Make events that fill the programme; event n shows clip n from frame 1000 on."""
    return tuple(
        CutEvent(
            f"{n:03d}", f"{n}.MP4",
            Span(frames_to_ms(low, rate), frames_to_ms(high, rate)),
            Span(frames_to_ms(1000, rate), frames_to_ms(1000 + (high - low) * speed, rate)),
            speed=Fraction(speed),
        )
        for n, (low, high) in enumerate(pairwise(accumulate([0, *lengths])), start=1)
    )  # fmt: skip


def shown(events: tuple[CutEvent, ...], frame: int, rate: Fraction) -> tuple[str | None, int] | None:
    """Tell which frame of which clip a list shows at a frame of the programme."""
    for event in events:
        first, behind = (ms_to_frames(ms, rate) for ms in (event.record.start_ms, event.record.end_ms))
        if first <= frame < behind and event.source:
            at = ms_to_frames(event.source.start_ms, rate) + (frame - first) * int(event.speed)
            return event.clip, at
    return None


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(1, 90), min_size=1, max_size=6),
    st.sampled_from(RATES),
    st.integers(1, 3),
    st.lists(st.tuples(st.integers(0, 12_000), st.integers(1, 5_000)), max_size=5),
    st.lists(st.tuples(st.integers(0, 12_000), st.integers(40, 2_000)), max_size=3),
)
def test_every_frame_shows_what_it_showed(
    lengths: list[int], rate: Fraction, speed: int,
    cuts: list[tuple[int, int]], holds: list[tuple[int, int]],
) -> None:  # fmt: skip
    """Each taken frame shows the same frame of the same clip; each held one is a frame of the programme."""
    before = fills(lengths, rate, speed)
    length = before[-1].record.end_ms
    to = cut_and_hold(
        length,
        [Span(min(a, length), min(length, a + n)) for a, n in cuts],
        [HeldFrame(min(a, length), n) for a, n in holds],
    ).snapped(rate)
    after = retime_cuts(before, to, rate)
    frames = to.in_frames(rate)
    back = frames.inverse()
    assert [event.number for event in after] == [f"{n:03d}" for n in range(1, len(after) + 1)]
    if frames.length_of("taken"):
        told = [(ms_to_frames(e.record.start_ms, rate), ms_to_frames(e.record.end_ms, rate)) for e in after]
        assert sum(high - low for low, high in told) == frames.length_after
    for frame in range(frames.length_after):
        was = back.point(frame)
        if isinstance(was, int):
            assert shown(after, frame, rate) == shown(before, was, rate)
        elif frames.length_of("taken"):
            assert shown(after, frame, rate) in {shown(before, n, rate) for n in range(frames.length_before)}


def test_the_frame_held_where_a_cut_begins_is_the_last_one_before_it() -> None:
    """Held at the cut's begin: the last taken frame. Held at its end: the first frame of what follows."""
    rate = Fraction(25)
    events = (CutEvent("001", "A.MP4", parse_span("0:00-1:00"), Span(0, 60_000)),)
    cut = parse_span("0:10-0:20")
    first = retime_cuts(events, cut_and_hold(60_000, [cut], [HeldFrame(10_000, 4_000)]), rate)
    assert [(e.record, e.source, e.speed) for e in first] == [
        (Span(0, 10_000), Span(0, 10_000), Fraction(1)),
        (Span(10_000, 14_000), Span(9_960, 9_960), Fraction(0)),
        (Span(14_000, 54_000), Span(20_000, 60_000), Fraction(1)),
    ]
    second = retime_cuts(events, cut_and_hold(60_000, [cut], [HeldFrame(20_000, 4_000)]), rate)
    assert second[1].source == Span(20_000, 20_000)
    at_head = retime_cuts(events, cut_and_hold(60_000, [Span(0, 5_000)], [HeldFrame(0, 4_000)]), rate)
    assert (at_head[0].source, at_head[0].speed) == (Span(5_000, 5_000), Fraction(0))


def test_what_a_joint_parts_it_can_bring_back_together() -> None:
    """A frame held in one version and taken out in the next leaves the event as it was."""
    rate = Fraction(25)
    events = (CutEvent("001", "A.MP4", parse_span("0:00-1:00"), Span(5_000, 65_000)),)
    hold = cut_and_hold(60_000, [], [HeldFrame(10_000, 4_000)])
    held = retime_cuts(events, hold, rate)
    assert len(held) == 3
    assert retime_cuts(held, cut_and_hold(64_000, [Span(10_000, 14_000)], []), rate) == events
    whole = compose(hold, cut_and_hold(64_000, [Span(10_000, 14_000)], []))
    assert retime_cuts(events, whole, rate) == events


def test_cuts_that_the_editor_made_stay() -> None:
    """Two events that follow each other in clip and programme stay two where no joint of ours is."""
    events = (
        CutEvent("001", "A.MP4", parse_span("0:00-0:20"), Span(0, 20_000)),
        CutEvent("002", "A.MP4", parse_span("0:20-1:00"), Span(20_000, 60_000)),
    )
    after = retime_cuts(events, cut_and_hold(60_000, [parse_span("0:40-0:50")], []), Fraction(25))
    assert [e.record for e in after] == [Span(0, 20_000), Span(20_000, 40_000), Span(40_000, 50_000)]


def test_sound_is_not_held() -> None:
    """A held frame is silent: sound is parted there, and black stays black."""
    events = (
        CutEvent("001", None, parse_span("0:00-1:00"), None),
        CutEvent("002", "S.WAV", parse_span("0:00-1:00"), Span(0, 60_000), "audio"),
    )
    after = retime_cuts(events, cut_and_hold(60_000, [], [HeldFrame(30_000, 2_000)]), Fraction(25))
    assert [(e.clip, e.record) for e in after if e.track == "audio"] == [
        ("S.WAV", Span(0, 30_000)),
        ("S.WAV", Span(32_000, 62_000)),
    ]
    black = [e for e in after if e.track == "video"]
    assert {(e.clip, e.source, e.speed) for e in black} == {(None, None, Fraction(1))}
    assert sum(e.record.length_ms for e in black) == 62_000
