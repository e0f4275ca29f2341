"""Panels in the picture: there on each picture of their window, nowhere else, and nothing else changed."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pytest

from reelnotes.picture.blend import Panel
from reelnotes.picture.burn import burn_in

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
        left, right = (round((panel.left + share * panel.picture.shape[1]) * scale) for share in (0.1, 0.9))
        top = panel.top + panel.picture.shape[0] * 2 // 3
        box = (slice(top, panel.top + panel.picture.shape[0] - 2), slice(left, right))
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
    from reelnotes.picture.film import open_film
    from reelnotes.picture.probe import pictures_of

    with open_film(source) as film:
        numbers = pictures_of(film).idr.nonzero()[0].tolist()
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
        wanted = panel.strength(Fraction(at), frame_ms) if inside else 0.0
        assert strength == pytest.approx(wanted, abs=0.04), f"at {at} ms"
        assert not inside or strength > 0.02
