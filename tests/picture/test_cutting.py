"""Spans taken out and pictures held: the right pictures at the right times, sound and texts with them."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from reelnotes.model import HeldFrame
from reelnotes.picture.film import open_film
from reelnotes.picture.refusals import NothingLeft, NothingToDo
from reelnotes.picture.splice import take_out
from reelnotes.timing import Span

if TYPE_CHECKING:
    from tests.picture.conftest import Found, Studio

NTSC = Fraction(30000, 1001)
GROUPS = "keyint=25:min-keyint=25:scenecut=0"
KINDS: dict[str, dict[str, Any]] = {
    "plain": {},
    "no reordering": {"coding": f"{GROUPS}:bframes=0"},
    "deep reordering": {"coding": f"{GROUPS}:bframes=5:b-pyramid=normal:ref=5"},
    "open groups": {"coding": f"{GROUPS}:bframes=3:open-gop=1"},
    "29.97": {"rate": NTSC, "frames": 150, "coding": f"{GROUPS}:bframes=3"},
    "uneven times": {"times_ms": tuple(t * 40 + (t * 7919) % 23 for t in range(125))},
    "10 bit": {"pixels": "yuv420p10le"},
    "turned right": {"rotation": -90},
    "late start": {"start_ms": 520},
    "negative offsets": {"muxing": (("movflags", "negative_cts_offsets"),)},
    "no sound": {"sound": None},
    "mov with timecode": {"suffix": ".mov", "timecode": "01:00:00:00"},
}
#: Samples of sound in one packet of AAC; sound may be off by half of them.
HALF_FRAME_S = Fraction(512, 48_000)


@dataclass(frozen=True)
class Job:
    """What is taken out and held, in ms of the old programme."""

    removed: tuple[tuple[int, int], ...] = ()
    held: tuple[tuple[int, int], ...] = ()


JOBS = {
    "inside a group": Job(((2200, 2600),)),
    "across groups": Job(((1600, 3000),)),
    "at the head": Job(((0, 1700),)),
    "at the tail": Job(((3300, 9000),)),
    "several": Job(((300, 500), (900, 1100), (2040, 3480), (4100, 4300))),
    "a hold": Job(held=((1600, 1000),)),
    "a cut and a hold": Job(((1600, 3000),), ((1600, 800),)),
    "a hold at the head": Job(((0, 700),), ((0, 500),)),
    "a hold of the first": Job(held=((0, 500),)),
}


def expected(before: Found, job: Job) -> tuple[list[int], list[Fraction]]:
    """Work out by hand which pictures are shown for how long (the last one's length is not looked at)."""
    numbers: list[int] = []
    lengths: list[Fraction] = []
    steps = [b - a for a, b in pairwise(before.times)]
    typical = sorted(steps)[len(steps) // 2]
    ms = [round(t * 1000) for t in before.times]
    gone = [any(a <= at < b for a, b in job.removed) for at in ms]
    owed = 0
    for number, at in enumerate(ms):
        here = [
            length
            for hold, length in job.held
            if (at <= hold or number == 0) and (number + 1 == len(ms) or ms[number + 1] > hold)
        ]
        count = sum(max(1, round(Fraction(length, 1000) / typical)) for length in here)
        if gone[number] and not numbers:
            owed += count
        shown = numbers[-1] if gone[number] and numbers else number
        count = 0 if gone[number] and not numbers else count + (0 if gone[number] else owed)
        owed = owed if gone[number] else 0
        numbers += [shown] * count
        lengths += [typical] * count
        if not gone[number]:
            numbers.append(number)
            lengths.append(steps[number] if number < len(steps) else typical)
    return numbers, lengths


def first_time(before: Found, job: Job) -> Fraction:
    """Work out when the first picture is shown: where it was, or where the span began that took it out."""
    first = before.times[0]
    heads = [Fraction(a, 1000) for a, b in job.removed if a <= round(first * 1000) < b]
    return min([first, *heads])


@pytest.mark.parametrize("job", JOBS)
@pytest.mark.parametrize("name", KINDS)
def test_the_right_pictures_at_the_right_times(studio: Studio, target: Path, name: str, job: str) -> None:
    """Each picture that stays is there once, in order, as long as before; held ones repeat; sound follows."""
    source = studio.make(**KINDS[name])
    made = target.with_suffix(source.suffix)
    work = JOBS[job]
    done = take_out(source, [Span(*s) for s in work.removed], [HeldFrame(*h) for h in work.held], made)
    assert done.reason is None
    before, after = studio.look(source), studio.look(made)
    assert after.messages == []
    numbers, lengths = expected(before, work)
    assert [studio.number_in(p, int(p.max())) for p in after.pictures] == [
        studio.number_in(before.pictures[n], int(before.pictures[n].max())) for n in numbers
    ]
    times = [first_time(before, work)]
    for length in lengths[:-1]:
        times.append(times[-1] + length)
    assert all(abs(a - b) < Fraction(1, 500) for a, b in zip(after.times, times, strict=True))
    exact = [new == before.hashes[n] for new, n in zip(after.hashes, numbers, strict=True)]
    assert exact.count(False) <= done.coded
    worst = max(
        np.abs(new.astype(int) - before.pictures[n].astype(int)).mean() / max(int(new.max()) // 256, 1)
        for new, n in zip(after.pictures, numbers, strict=True)
    )
    assert worst < 2
    assert after.rotation == before.rotation
    for track, packets in after.packets.items():
        assert all(a < b for a, b in pairwise(dts for _, dts, _ in packets))
        if track.startswith("audio"):
            check_sound(before, packets, before.packets[track], work)


def check_sound(before: Found, packets: list[Any], old: list[Any], work: Job) -> None:
    """Hold that each copied packet is as far from the picture as before, to within half a frame of sound."""
    numbers, lengths = expected(before, work)
    where = {digest: pts for pts, _, digest in old}
    starts = [first_time(before, work)]
    for length in lengths:
        starts.append(starts[-1] + length)
    held = {i for i, (a, b) in enumerate(pairwise(numbers), start=1) if a == b}
    moved = {n: starts[i] - before.times[n] for i, n in enumerate(numbers) if i not in held}
    checked = 0
    for pts, _, digest in packets:
        at = where.get(digest)
        if at is None:
            continue
        shown = max((n for n in moved if before.times[n] <= at - Fraction(1, 20)), default=None)
        later = min((n for n in moved if before.times[n] > at + Fraction(1, 20)), default=None)
        if shown is not None and later is not None and moved[shown] == moved[later]:
            assert abs(pts - at - moved[shown]) <= HALF_FRAME_S + Fraction(1, 10_000)
            checked += 1
    assert checked > len(packets) // 3
    typical = lengths[-1]
    gap, old_gap = starts[-1] - packets[-1][0], before.times[-1] + typical - old[-1][0]
    assert -Fraction(1, 25) < gap
    assert gap - old_gap < Fraction(1, 25)


def test_texts_and_chapters_shrink_or_go(studio: Studio, target: Path) -> None:
    """Taking out 1.6-3.0 s of five: a chapter keeps what is left of it, a text wholly inside goes."""
    source = studio.make(
        chapters=((0, 2000, "Taking apart"), (2000, 5000, "Gluing up")),
        texts=((500, 1500, "first"), (1700, 2500, "second"), (2500, 3500, "third")),
        tags=(("title", "A stool"),),
    )
    take_out(source, [Span(1600, 3000)], [], target)
    after = studio.look(target)
    ends = [(float(start), float(end), title) for start, end, title in after.chapters]
    assert [title for *_, title in ends] == ["Taking apart", "Gluing up"]
    assert [pytest.approx(t, abs=0.01) for t in (0, 1.6, 1.6, 3.6)] == [t for row in ends for t in row[:2]]
    (texts,) = [rows for track, rows in after.packets.items() if track.startswith("subtitle")]
    old = next(rows for track, rows in studio.look(source).packets.items() if track.startswith("subtitle"))
    assert [digest for _, _, digest in texts] == [digest for n, (_, _, digest) in enumerate(old) if n != 3]
    assert after.tags == studio.look(source).tags


def test_sound_at_the_end_keeps_pace_over_many_cuts(studio: Studio, target: Path) -> None:
    """Twenty cuts of three pictures: what is left over is carried on, not added up."""
    source = studio.make(frames=250)
    removed = [Span(at, at + 120) for at in range(240, 9800, 480)]
    take_out(source, removed, [], target)
    before, after = studio.look(source), studio.look(target)
    where = {digest: pts for pts, _, digest in before.packets["audio-1"]}
    gone = len(removed) * Fraction(120, 1000)
    pts, _, digest = after.packets["audio-1"][-2]
    assert abs(where[digest] - pts - gone) <= HALF_FRAME_S


def test_taking_out_all_is_refused(studio: Studio, target: Path) -> None:
    """Nothing is written if nothing would be left."""
    with pytest.raises(NothingLeft, match="nothing of it would be left"):
        take_out(studio.make(), [Span(0, 60_000)], [], target)
    assert not target.exists()


def test_taking_out_nothing_is_refused(studio: Studio, target: Path) -> None:
    """A span behind the end meets no picture; the sentence says how long the video is."""
    with pytest.raises(NothingToDo, match=r"it is 0:05 long"):
        take_out(studio.make(), [Span(50_000, 60_000)], [], target)
    assert not target.exists()


def test_a_cut_at_the_head_begins_with_the_frame_that_really_went_before(
    studio: Studio, target: Path
) -> None:
    """The first packet of sound is decoded and not heard: it must be the one before the first heard."""
    source = studio.make()
    take_out(source, [Span(0, 1700)], [], target)
    before, after = studio.look(source).packets["audio-1"], studio.look(target).packets["audio-1"]
    digests = [digest for *_, digest in before]
    first = digests.index(after[0][2])
    assert first == pytest.approx(
        1.72 * 48_000 / 1024, abs=1
    )  # pictures go up to 1.72 s, the first after 1.7
    assert [digest for *_, digest in after] == digests[first:]


@pytest.mark.parametrize("job", JOBS)
def test_all_heads_tell_one_length(studio: Studio, target: Path, job: str) -> None:
    """The lengths in the heads of film and tracks and in the edit lists are those of what is there."""
    work = JOBS[job]
    source = studio.make(chapters=((0, 2000, "Taking apart"), (2000, 5000, "Gluing up")))
    take_out(source, [Span(*s) for s in work.removed], [HeldFrame(*h) for h in work.held], target)
    _, lengths = expected(studio.look(source), work)
    with open_film(target) as film:
        heads = {}
        for track in film.tracks:
            head = next(box.body for box in track.box.all(b"tkhd"))
            heads[track.kind] = Fraction(int.from_bytes(head[20:24]), film.scale)
            rows, media = track.samples, track.box.first(b"mdia", b"mdhd")
            assert rows is not None
            assert media is not None
            assert int.from_bytes(media.body[16:20]) == rows.length.sum()
            assert track.lasts is None or track.delay + track.lasts == heads[track.kind]
        movie = next(box.body for box in film.moov.all(b"mvhd"))
    assert heads[b"vide"] == pytest.approx(sum(lengths), abs=0.002)
    assert heads[b"soun"] == pytest.approx(sum(lengths), abs=0.05)
    assert Fraction(int.from_bytes(movie[16:20]), film.scale) == max(heads.values())


@pytest.mark.parametrize("job", JOBS)
def test_a_trimmed_film_is_cut_by_the_times_of_its_programme(studio: Studio, target: Path, job: str) -> None:
    """What an edit list hides stays hidden, goes with what it hangs on, and never comes into view."""
    source, work = studio.trimmed(), JOBS[job]
    take_out(source, [Span(*s) for s in work.removed], [HeldFrame(*h) for h in work.held], target)
    before, after = studio.look(source), studio.look(target)
    assert after.messages == []
    numbers, lengths = expected(before, work)
    assert [studio.number_in(p) for p in after.pictures] == [
        studio.number_in(before.pictures[n]) for n in numbers
    ]
    assert before.times[0] == Fraction(1, 2)
    assert after.times[0] == first_time(before, work)
    assert [b - a for a, b in pairwise(after.times)] == lengths[:-1]
    check_sound(before, after.packets["audio-1"], before.packets["audio-1"], work)


def test_chapters_inside_a_gap_go(studio: Studio, target: Path) -> None:
    """Of three chapters the second lies wholly in what is taken out: list and track keep two."""
    source = studio.make(chapters=((0, 1700, "Glue"), (1700, 2500, "Clamps"), (2500, 5000, "Wax")))
    take_out(source, [Span(1600, 3000)], [], target)
    assert [title for *_, title in studio.look(target).chapters] == ["Glue", "Wax"]
    assert b"Clamps" in source.read_bytes()
    raw = target.read_bytes()
    assert b"Clamps" not in raw[: raw.index(b"mdat")]
    with open_film(target) as film:
        texts = [track.samples for track in film.tracks_of(b"text")]
    assert [len(rows or ()) for rows in texts] == [2] * len(texts)


def test_a_last_chapter_that_is_cut_off_goes(studio: Studio, target: Path) -> None:
    """It has no time left: neither list nor track keep it at the very end."""
    source = studio.make(chapters=((0, 2000, "Glue"), (2000, 5000, "Wax")))
    take_out(source, [Span(2000, 9000)], [], target)
    assert [title for *_, title in studio.look(target).chapters] == ["Glue"]
    raw = target.read_bytes()
    assert b"Wax" not in raw[: raw.index(b"mdat")]


def test_a_picture_that_was_shown_in_part_leaves_no_part(studio: Studio, target: Path) -> None:
    """Trimmed in the middle of a picture, then cut at the head: the new first one is shown whole."""
    source = studio.trimmed(730)
    with open_film(source) as film:
        pictures = film.tracks_of(b"vide")[0]
        assert pictures.samples is not None
        assert pictures.begin not in pictures.samples.shown_at
    take_out(source, [Span(0, 900)], [], target)
    with open_film(target) as film:
        pictures = film.tracks_of(b"vide")[0]
        assert pictures.samples is not None
        assert pictures.begin == pictures.samples.shown_at.min()
        assert pictures.lasts == pytest.approx(3.2 - (0.93 - 0.5), abs=0.04)
