from __future__ import annotations

from datetime import date, datetime, time, timedelta
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.align.beats import Beat
from reelnotes.align.deeds import Deed
from reelnotes.align.footage_clock import Footage, find_offset, footage_of, noted_offset_s
from reelnotes.model import Clip, CutEvent, Entry
from reelnotes.timing import Span

DAY = date(2026, 5, 4)
START = datetime.combine(DAY, time(9))


def deeds_at(*minutes: int) -> tuple[Deed, ...]:
    return tuple(Deed(i, DAY, (START + timedelta(minutes=m)).time()) for i, m in enumerate(minutes))


def beats(count: int, length_ms: int = 5000) -> tuple[Beat, ...]:
    return tuple(Beat(k * length_ms, (k + 1) * length_ms, "so", k) for k in range(count))


def film(minutes: list[float], offset_s: float) -> tuple[tuple[Clip, ...], tuple[CutEvent, ...]]:
    """One clip that runs all day on a clock that is off; one event for each moment of the log's clock."""
    clip = Clip("A.MP4", START - timedelta(hours=1) + timedelta(seconds=offset_s), 12 * 3_600_000)
    events = []
    for k, minute in enumerate(minutes):
        into_ms = round((minute + 60) * 60_000) - 2500
        record = Span(k * 5000, (k + 1) * 5000)
        events.append(CutEvent(str(k), "A.MP4", record, Span(into_ms, into_ms + 5000), "video"))
    return (clip,), tuple(events)


def footage(minutes: list[float], deeds: tuple[Deed, ...], offset_s: float) -> Footage:
    clips, cuts = film(minutes, offset_s)
    found = footage_of(beats(len(minutes)), clips, cuts, deeds)
    assert found is not None
    return found


def telling(entries: int, of_beats: list[int]) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    chances = np.full((entries, len(of_beats)), 0.02)
    for j, entry in enumerate(of_beats):
        chances[entry, j] = 0.9
    return chances


MINUTES = [0, 20, 35, 50, 80, 100, 130]


def filmed_while(habit: str) -> tuple[list[float], list[int]]:
    """Moments spread over each deed, whose note stands before it or after it."""
    moments, entries = [], []
    spans = (
        list(zip(MINUTES, [*MINUTES[1:], 150], strict=True))
        if habit == "before"
        else list(zip([-15, *MINUTES[:-1]], MINUTES, strict=True))
    )
    for entry, (low, high) in enumerate(spans):
        for part in (0.02, 0.3, 0.6, 0.98):
            moments.append(low + part * (high - low))
            entries.append(entry)
    return moments, entries


@settings(max_examples=25, deadline=None)
@given(st.integers(-9000, 9000), st.sampled_from(["before", "after"]))
def test_the_offset_is_found(offset_s: int, habit: str) -> None:
    """Within 2.5 hours either way the interval holds the true offset and is narrow, for both habits."""
    moments, entries = filmed_while(habit)
    found = find_offset(footage(moments, deeds_at(*MINUTES), offset_s), telling(7, entries), None, None)
    assert found is not None
    clock, seen = found
    assert seen == habit
    assert clock.low_s - 10 <= offset_s <= clock.high_s + 10
    assert clock.low_s <= clock.best_s <= clock.high_s
    assert clock.high_s - clock.low_s <= 120


def test_little_evidence_is_no_finding() -> None:
    """Two entries, or a handful of beats, do not fix a clock."""
    moments, entries = filmed_while("before")
    deeds = deeds_at(*MINUTES)
    few = [k for k, entry in enumerate(entries) if entry < 2]
    assert (
        find_offset(footage([moments[k] for k in few], deeds, 60), telling(7, [0] * 4 + [1] * 4), None, None)
        is None
    )
    assert find_offset(footage(moments[:5], deeds, 60), telling(7, entries[:5]), None, None) is None


def test_words_that_contradict_the_footage_are_no_finding() -> None:
    """If what is said fits the clock nowhere better than elsewhere, nothing is claimed."""
    moments, entries = filmed_while("before")
    shuffled = [entries[(5 * k) % len(entries)] for k in range(len(entries))]
    assert find_offset(footage(moments, deeds_at(*MINUTES), 60), telling(7, shuffled), None, None) is None


def test_a_noted_offset_decides_between_two() -> None:
    """With evidence for two offsets alike, the one that the maker noted is taken."""
    deeds = deeds_at(0, 60, 120)
    moments, entries = [5.0, 15, 65, 75, 125, 135], [0, 0, 1, 1, 2, 2]
    seen = footage(moments, deeds, 0)
    wide = find_offset(seen, telling(3, entries), None, None)
    noted = find_offset(seen, telling(3, entries), 0.0, None)
    assert wide is None
    assert noted is not None
    assert noted[0].low_s <= 0 <= noted[0].high_s


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("filmed all round. camera clock abt 4 min fast agn, leave it", 240),
        ("cam clock is an hour behind", -3600),
        ("camera 1 hr slow", -3600),
        ("camera clock two minutes ahead", 120),
        ("cam 90 sec slow", -90),
        ("camera on charge 40 min", None),
        ("clock case 4 min fast", None),
    ],
)
def test_the_maker_may_note_the_offset(text: str, seconds: float | None) -> None:
    """A line such as "camera clock abt 4 min fast" is read; fast is positive."""
    assert noted_offset_s((Entry(0, "lunch", 1), Entry(1, text, 2))) == seconds


def test_footage_speaks_for_the_entry_at_its_time() -> None:
    """A beat's footage gains for the deed of its hour, loses for others; without a clip it says nothing."""
    clips, cuts = film([10, 30], 0)
    seen = footage_of(beats(3), clips, cuts, deeds_at(0, 20, 40))
    assert seen is not None
    gain = seen.gain("before", 0)
    assert gain[:, 0].argmax() == 0
    assert gain[:, 1].argmax() == 1
    assert gain[1, 0] < -2
    assert not gain[:, 2].any()


def test_speed_and_reverse_reach_the_right_moment() -> None:
    """Slow, fast, held and backward footage show the moment of the clip that they reach."""
    clip = Clip("A.MP4", START, 3_600_000)
    deeds = deeds_at(0)

    def camera(speed: Fraction, source: Span) -> float:
        event = CutEvent("1", "A.MP4", Span(0, 10_000), source, "video", speed)
        seen = footage_of((Beat(0, 10_000, "so", 0),), (clip,), (event,), deeds)
        assert seen is not None
        return float(seen.camera_s[0])

    assert camera(Fraction(1), Span(60_000, 70_000)) == 65
    assert camera(Fraction(2), Span(60_000, 80_000)) == 70
    assert camera(Fraction(1, 2), Span(60_000, 65_000)) == 62.5
    assert camera(Fraction(0), Span(60_000, 60_000)) == 60
    assert camera(Fraction(-1), Span(60_000, 70_000)) == 65


def test_sound_alone_is_no_footage() -> None:
    """An event of the sound track shows nothing; a log without times cannot be joined."""
    clips, cuts = film([10, 30], 0)
    sound = tuple(CutEvent(e.number, e.clip, e.record, e.source, "audio") for e in cuts)
    assert footage_of(beats(2), clips, sound, deeds_at(0, 20)) is None
    assert footage_of(beats(2), clips, cuts, (Deed(0, None, None),)) is None
    assert footage_of(beats(2), (), cuts, deeds_at(0)) is None
    assert footage_of(beats(2), clips, cuts, (Deed(0, DAY, time(9)),)) is not None
