"""Panels in the picture: there on each picture of their window, nowhere else, and nothing else changed."""

from __future__ import annotations

import threading
from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pytest

from reelnotes.picture import probe
from reelnotes.picture.ahead import ahead
from reelnotes.picture.avc import most_buffered, read_sps
from reelnotes.picture.blend import Panel
from reelnotes.picture.boxes import Box
from reelnotes.picture.burn import burn_in
from reelnotes.picture.coding import Coded, Coder, Pictures, Quality
from reelnotes.picture.film import Film, entry_boxes, open_film
from reelnotes.picture.refusals import Stuck

if TYPE_CHECKING:
    from tests.picture.conftest import Found, Studio

NTSC = Fraction(30000, 1001)
GROUPS = "keyint=25:min-keyint=25:scenecut=0"
KINDS: dict[str, dict[str, Any]] = {
    "plain": {},
    "no reordering": {"coding": f"{GROUPS}:bframes=0"},
    "deep reordering": {"coding": f"{GROUPS}:bframes=5:b-pyramid=normal:ref=5"},
    "open groups": {"coding": f"{GROUPS}:bframes=3:open-gop=1"},
    "moving refresh": {"coding": "keyint=25:intra-refresh=1:bframes=0"},
    "all alone": {"coding": "keyint=1"},
    "29.97": {"rate": NTSC, "frames": 150},
    "23.976": {"rate": Fraction(24000, 1001), "frames": 120},
    "50": {"rate": Fraction(50), "frames": 200},
    "uneven times": {"times_ms": tuple(t * 40 + (t * 7919) % 23 for t in range(125))},
    "10 bit": {"pixels": "yuv420p10le"},
    "10 bit 4:2:2": {"pixels": "yuv422p10le"},
    "full range": {"pixels": "yuvj420p"},
    "odd size 4:4:4": {"size": (321, 179), "pixels": "yuv444p"},
    "size off the grid": {"size": (318, 178)},
    "turned right": {"rotation": -90},
    "turned left": {"rotation": 90},
    "upside down": {"rotation": 180},
    "wide pixels": {"aspect": Fraction(4, 3)},
    "late start": {"start_ms": 520},
    "negative offsets": {"muxing": (("movflags", "negative_cts_offsets"),)},
    "no sound": {"sound": None},
    "plain sound": {"sound": "pcm_s16le", "suffix": ".mov"},
    "plain sound of 24 bits": {"sound": "pcm_s24le", "suffix": ".mov"},
    "baseline": {"options": (("profile", "baseline"),), "coding": GROUPS},
    "main": {"options": (("profile", "main"),), "coding": f"{GROUPS}:bframes=2"},
    "timecode": {"suffix": ".mov", "timecode": "01:00:00:00"},
    "chapters, texts, tags": {
        "chapters": ((0, 2000, "Taking apart"), (2000, 5000, "Gluing up")),
        "texts": ((500, 1500, "first"), (2100, 3000, "second")),
        "tags": (("title", "A stool"), ("comment", "third attempt")),
    },
}
WINDOW = (1600, 3000)


def plane(picture: npt.NDArray[Any], found: Found) -> npt.NDArray[Any]:
    """Turn luma as coded into luma as shown."""
    return np.rot90(picture, found.rotation // 90) if found.rotation else picture


def strengths(studio: Studio, source: Path, made: Path, panel: Panel) -> list[tuple[int, float]]:
    """Measure for each picture, with its time in ms, how much of the white of the panel is there."""
    before, after = studio.look(source), studio.look(made)
    found = []
    for at, *pair in zip(before.times, before.pictures, after.pictures, strict=True):
        old, new = (plane(picture.astype(float), before) for picture in pair)
        scale = old.shape[1] / panel.shown[0]
        left, right = (round((panel.left + share * panel.drawn().shape[1]) * scale) for share in (0.1, 0.9))
        top = panel.top + panel.drawn().shape[0] * 2 // 3
        box = (slice(top, panel.top + panel.drawn().shape[0] - 2), slice(left, right))
        white = 235 if before.streams[0][9] != 2 else 255
        white = white * 4 if old.max() > 255 else white
        found.append((round(at * 1000), float((new[box] - old[box]).mean() / (white - old[box].mean()))))
    return found


@pytest.mark.parametrize("name", KINDS)
def test_only_the_touched_changes(studio: Studio, target: Path, name: str) -> None:
    """All that a panel does not touch stays: other pictures, packets, sound, times, tags, chapters, turn."""
    source = studio.make(**KINDS[name])
    made = target.with_suffix(source.suffix)
    done = burn_in(source, [studio.panel(source, *WINDOW)], made)
    assert done.reason is None
    before, after = studio.look(source), studio.look(made)
    assert after.messages == []
    assert after.times == before.times
    changed = [t for t, old, new in zip(before.times, before.hashes, after.hashes, strict=True) if old != new]
    assert len(changed) <= done.coded
    starts = [t for t in idr_times(source, before) if t * 1000 <= WINDOW[0]]
    ends = [t for t in idr_times(source, before) if t * 1000 >= WINDOW[1]] or [before.times[-1] + 1]
    assert starts[-1] <= changed[0]
    assert changed[-1] < ends[0]
    for track, packets in before.packets.items():
        new_packets = after.packets[track]
        assert [dts for _, dts, _ in new_packets] == [dts for _, dts, _ in packets]
        if not track.startswith("video"):
            assert new_packets == packets
    video = next(track for track in before.packets if track.startswith("video"))
    old_by_time = {pts: digest for pts, _, digest in before.packets[video]}
    new_by_time = {pts: digest for pts, _, digest in after.packets[video]}
    assert old_by_time.keys() == new_by_time.keys()
    other = [t for t in old_by_time if old_by_time[t] != new_by_time[t]]
    assert len(other) == done.coded
    assert starts[-1] <= min(other)
    assert max(other) < ends[0]
    assert all(a < b for a, b in pairwise(dts for _, dts, _ in after.packets[video]))
    assert (after.tags, after.chapters, after.rotation) == (before.tags, before.chapters, before.rotation)
    assert after.streams == before.streams


def idr_times(source: Path, found: Found) -> list[Fraction]:
    """Find by our own reading which of the pictures that can be sought to are IDR pictures, and when."""
    with open_film(source) as film:
        numbers = probe.pictures_of(film).idr.nonzero()[0].tolist()
    return [found.times[number] for number in numbers]


@pytest.mark.parametrize("name", [name for name in KINDS if name != "uneven times"])
def test_the_panel_is_on_each_picture_of_its_window_and_on_no_other(
    studio: Studio, target: Path, name: str
) -> None:
    """It rises over its fade, stands, falls, and no picture before or behind bears any of it."""
    source = studio.make(**KINDS[name])
    panel = studio.panel(source, *WINDOW, fade_ms=400)
    made = target.with_suffix(source.suffix)
    burn_in(source, [panel], made)
    frame_ms = 1000 / KINDS[name].get("rate", Fraction(25))
    for at, strength in strengths(studio, source, made, panel):
        inside = WINDOW[0] <= at < WINDOW[1]
        rising, falling = (at + frame_ms - WINDOW[0]) / 400, (WINDOW[1] - at) / 400
        wanted = float(min(1, rising, falling)) if inside else 0.0
        assert strength == pytest.approx(wanted, abs=0.04), f"at {at} ms"
        assert not inside or strength > 0.02


def test_panels_at_both_ends_and_twice_in_the_middle(studio: Studio, target: Path) -> None:
    """From the first picture, to the last, two that overlap in time and two whose groups meet."""
    source = studio.make(coding="keyint=10:min-keyint=10:scenecut=0:bframes=2", frames=150)
    windows = [(0, 500), (1500, 2300), (2000, 2900), (3300, 3500), (5500, 9000)]
    panels = [studio.panel(source, *window) for window in windows]
    shares: list[float] = []
    done = burn_in(source, panels, target, shares.append)
    before, after = studio.look(source), studio.look(target)
    assert after.messages == []
    assert after.times == before.times
    for at, strength in strengths(studio, source, target, panels[0]):
        inside = any(start <= at < end for start, end in windows)
        assert (strength > 0.03) == inside, f"at {at} ms"
    assert done.coded < 110
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert shares[0] < 0.05


def test_a_patched_film_can_be_patched_again(studio: Studio, tmp_path: Path) -> None:
    """Five times over, in other places and in the same: each panel stands, the rest is as in the source."""
    source = studio.make()
    film = source
    for number, window in enumerate([(400, 900), (2500, 3100), (600, 1400), (2500, 3100), (4300, 5000)]):
        panel = studio.panel(source, *window)
        made = tmp_path / f"{number}.mp4"
        assert burn_in(film, [panel], made).reason is None
        measured = strengths(studio, film, made, panel)
        if number in {0, 1, 4}:
            assert [at for at, s in measured if s > 0.03] == [
                at for at, _ in measured if window[0] <= at < window[1]
            ]
        film = made
    before, after = studio.look(source), studio.look(film)
    assert after.messages == []
    assert after.times == before.times
    for at, old, new in zip(before.times, before.hashes, after.hashes, strict=True):
        assert old == new or 300 < at * 1000 < 2000 or 2000 <= at * 1000 < 4000 or at * 1000 >= 4000
    same = [at for at, old, new in zip(before.times, before.hashes, after.hashes, strict=True) if old == new]
    assert len(same) > 25


def test_times_are_those_of_the_programme(studio: Studio, target: Path) -> None:
    """An edit list that trims the start and delays it: the window is counted as a player counts."""
    source = studio.trimmed()
    panel = studio.panel(source, 1600, 2400)
    assert burn_in(source, [panel], target).reason is None
    before, after = studio.look(source), studio.look(target)
    assert after.messages == []
    assert (after.times, after.streams) == (before.times, before.streams)
    shown = strengths(studio, source, target, panel)
    assert [at for at, s in shown if s > 0.03] == [at for at, _ in shown if 1600 <= at < 2400]
    number = studio.number_in(
        before.pictures[[at for at, _ in shown].index(next(a for a, s in shown if s > 0.03))]
    )
    assert number == 46  # (1.6 - 0.5 + 0.72) s is 1.82 s, and picture 46 is the first to begin after that


def test_a_run_that_would_not_fit_is_coded_without_reordering(
    studio: Studio, target: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the encoder reorders more than the film has room for, the run is coded again, and fits."""
    source = studio.make(coding="keyint=50:min-keyint=50:scenecut=0:bframes=0")
    code, look = Coder.code, probe.pictures_of
    asked: list[int] = []

    def noted(coder: Coder, frames: Iterable[Any], forced: set[int], reorder: int) -> Coded:
        asked.append(reorder)
        return code(coder, frames, forced, reorder)

    def claims_reordering(film: Film) -> Pictures:
        pictures = look(film)
        pictures.reorder = 2
        return pictures

    monkeypatch.setattr(Coder, "code", noted)
    monkeypatch.setattr("reelnotes.picture.burn.pictures_of", claims_reordering)
    shares: list[float] = []
    done = burn_in(source, [studio.panel(source, 1600, 3000)], target, shares.append)
    assert asked == [2, 0]
    assert shares == sorted(shares)
    assert done.reason is None
    assert studio.look(target).messages == []
    assert studio.look(target).times == studio.look(source).times


def test_the_matrix_and_range_of_the_film_are_kept(studio: Studio, target: Path) -> None:
    """Pure red over a film of BT.709: luma 63, blue difference 102, red difference 240.

    By the weights of Rec. ITU-R BT.709: 16 + 219 * 0.2126 = 62.6; 128 - 224 * 0.2126 / 1.8556 = 102.3;
    128 + 112 = 240. By BT.601 it would be 81, 90, 240.
    """
    import av

    hd, sd = (63, 102, 240), (81, 90, 240)
    small, large = (320, 180), (1280, 720)
    cases = [("bt709", small, hd), ("smpte170m", small, sd), ("undef", small, sd), ("undef", large, hd)]
    for number, (matrix, size, wanted) in enumerate(cases):
        source = studio.make(coding=f"colormatrix={matrix}:keyint=50", size=size, frames=70, sound=None)
        picture = np.zeros((size[1], size[0], 4), np.uint8)
        picture[40:140, 80:240] = (255, 0, 0, 255)
        made = target.with_name(f"{number}.mp4")
        burn_in(source, [Panel(picture, 1000, 4000, size)], made, quality=Quality(rate_factor=4))
        with av.open(str(made)) as container:
            frame = list(container.decode(video=0))[60]
        planes = [np.frombuffer(bytes(p), np.uint8).reshape(-1, p.line_size) for p in frame.planes]
        found = (planes[0][90, 160], planes[1][45, 80], planes[2][45, 80])
        assert found == pytest.approx(wanted, abs=2)


def test_a_half_open_panel_lets_the_picture_through(studio: Studio, target: Path) -> None:
    """White at half strength over grey lies halfway between, and nothing changes beside it."""
    source = studio.make(sound=None)
    picture = np.full((40, 100, 4), 128, np.uint8)
    panel = Panel(picture, 1000, 4000, (320, 180), left=101, top=71)
    burn_in(source, [panel], target, quality=Quality(rate_factor=4))
    old, new = (studio.look(path).pictures[60].astype(float) for path in (source, target))
    box = (slice(75, 107), slice(105, 197))
    assert new[box].mean() == pytest.approx((old[box].mean() + 235) / 2, abs=1.5)
    beside = np.ones_like(old, bool)
    beside[68:116, 98:206] = False
    assert np.abs(new - old)[beside].mean() < 0.6


@pytest.mark.parametrize("name", ["plain", "deep reordering", "open groups", "all alone", "no reordering"])
def test_what_could_be_sought_to_still_can(studio: Studio, target: Path, name: str) -> None:
    """Every place to begin at is one still, and whatever is called one can be decoded from."""
    source = studio.make(**KINDS[name])
    burn_in(source, [studio.panel(source, *WINDOW)], target)
    before, after = studio.look(source), studio.look(target)
    assert set(before.keys) <= set(after.keys)
    with open_film(target) as film:
        pictures = probe.pictures_of(film)
        new = pictures.samples.where == 0
        begins = pictures.samples.sync & ~pictures.idr & new
    old_keys = {t for t in before.keys if t not in idr_times(source, before)}
    assert {after.times[n] for n in pictures.rank[begins].tolist()} <= old_keys


def test_what_is_coded_anew_needs_no_more_room_than_what_stands_around_it(
    studio: Studio, target: Path
) -> None:
    """Old and new parameter sets tell one number of held pictures: where it changes a decoder may drop some.

    Rec. ITU-T H.264, clause C.4.4 lets a decoder infer no_output_of_prior_pics_flag then.
    """
    for coding in ("bframes=5:b-pyramid=normal:ref=5", "bframes=0:ref=4", "bframes=2:ref=1"):
        source = studio.make(coding=f"{GROUPS}:{coding}")
        burn_in(source, [studio.panel(source, *WINDOW)], target)
        with open_film(target) as film:
            old, new = (read_sps(nal) for nal in probe.pictures_of(film).avcc.sps)
        assert (old.id, new.id) == (0, 1)
        assert most_buffered(new) == most_buffered(old)
        assert (new.reorder, new.level, new.profile) == (old.reorder, old.level, old.profile)
        assert new.refs <= most_buffered(old)


def test_tables_that_would_be_untrue_are_dropped(studio: Studio, target: Path) -> None:
    """How pictures depend on each other, and the rates told beside them, are no longer as they were."""

    def told(film: Film) -> None:
        track = film.tracks_of(b"vide")[0]
        count = len(track.samples or ())
        track.tables.put(Box(b"sdtp", bytes(4) + b"\x20" * count))
        track.tables.put(Box(b"cslg", bytes(24)))

    source = studio.edit(studio.make(), "told", told)
    burn_in(source, [studio.panel(source, *WINDOW)], target)
    with open_film(target) as film:
        kinds = {box.kind for box in film.tracks_of(b"vide")[0].tables.boxes or []}
        inside = {box.kind for box in entry_boxes(film.tracks_of(b"vide")[0].entries[0])}
    assert kinds & {b"sdtp", b"cslg"} == set()
    assert b"btrt" not in inside
    assert b"avcC" in inside
    assert studio.look(target).messages == []


def test_work_ahead_comes_in_order_and_errors_come_through() -> None:
    """All pieces, in their order, a few of them ahead; an error over there arrives behind the last."""

    def pieces() -> Iterator[int]:
        for number in range(20):
            made.append(number)
            yield number
        raise OSError(5, "broken")

    made: list[int] = []
    line = ahead(pieces(), depth=3)
    for number in range(20):
        assert next(line) == number
        assert len(made) - number <= 6
    with pytest.raises(OSError, match="broken"):
        next(line)


def test_leaving_early_ends_the_work_ahead() -> None:
    """The thread stops and closes what it read from; nothing is left waiting."""
    closed: list[bool] = []

    def pieces() -> Iterator[int]:
        try:
            yield from range(1000)
        finally:
            closed.append(True)

    before = threading.active_count()
    line = ahead(pieces(), depth=2)
    assert next(line) == 0
    line.close()
    assert closed == [True]
    assert threading.active_count() == before


def test_a_decoder_that_never_comes_back_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """The patience ends with one sentence."""
    monkeypatch.setattr("reelnotes.picture.ahead._PATIENCE_S", 0.2)
    awake = threading.Event()

    def pieces() -> Iterator[int]:
        awake.wait(5)
        yield 1

    with pytest.raises(Stuck, match="did not come back"):
        next(ahead(pieces()))
    awake.set()
