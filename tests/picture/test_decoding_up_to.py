"""Decoding up to a picture inside a group leaves out what nothing hangs on, and no pixel changes."""

# ruff: noqa: ANN401 - what the library gives has no types where it is not installed

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, Any

import pytest

from reelnotes.picture import coding
from reelnotes.picture.avc import Avcc, Bits, _escaped, read_avcc, read_sps
from reelnotes.picture.boxes import Box
from reelnotes.picture.film import Film, entry_boxes, open_film, with_entry_box
from reelnotes.picture.probe import pictures_of

if TYPE_CHECKING:
    from tests.picture.conftest import Studio

LONG = "keyint=500:min-keyint=500:scenecut=0"
KINDS: dict[str, dict[str, Any]] = {
    "no reordering": {"coding": f"{LONG}:bframes=0"},
    "three that nothing hangs on": {"coding": f"{LONG}:bframes=3:b-pyramid=none:b-adapt=0"},
    "pyramid": {"coding": f"{LONG}:bframes=5:b-pyramid=normal:ref=5:b-adapt=0"},
    "strict pyramid": {"coding": f"{LONG}:bframes=7:b-pyramid=strict:ref=4:b-adapt=0"},
    "open groups": {"coding": "keyint=20:min-keyint=20:scenecut=0:bframes=3:open-gop=1:b-adapt=0"},
    "moving refresh": {"coding": "keyint=25:intra-refresh=1:bframes=0"},
    "slices": {"coding": f"{LONG}:bframes=3:slices=4"},
    "weights": {"coding": f"{LONG}:bframes=3:weightp=2:weightb=1:ref=6:b-pyramid=normal"},
    "negative offsets": {"muxing": (("movflags", "negative_cts_offsets"),), "coding": f"{LONG}:bframes=4"},
    "10 bit": {"pixels": "yuv420p10le", "coding": f"{LONG}:bframes=4:b-pyramid=normal:ref=4"},
    "10 bit 4:2:2": {"pixels": "yuv422p10le", "coding": f"{LONG}:bframes=3"},
    "uneven times": {"times_ms": tuple(t * 40 + (t * 7919) % 23 for t in range(125)), "coding": LONG},
    "late start": {"start_ms": 520, "coding": f"{LONG}:bframes=3"},
    "main": {"options": (("profile", "main"),), "coding": f"{LONG}:bframes=3:cabac=0"},
    "full range": {"coding": f"{LONG}:bframes=3:b-adapt=0", "pixels": "yuvj420p"},
}


def hash_of(frame: Any) -> str:
    """Give the hash of a picture as the tests' own reader does."""
    return hashlib.md5(frame.to_ndarray().tobytes(), usedforsecurity=False).hexdigest()


@pytest.mark.parametrize("name", KINDS)
def test_every_start_gives_the_same_pictures(studio: Studio, name: str) -> None:
    """From each place where coding anew can begin, to the end of its group: hashes equal a full decoding."""
    source = studio.make(**KINDS[name])
    whole = studio.look(source).hashes
    with open_film(source) as film:
        pictures = pictures_of(film)
        starts = [n for n in range(len(whole)) if pictures.start_of(n) == n]
        for first in starts[:: max(len(starts) // 12, 1)]:
            end = pictures.idr_after(first + 1)
            found = [(number, hash_of(frame)) for number, frame in coding.decoded(pictures, first, end)]
            assert found == [(number, whole[number]) for number in range(first, end)]
        for number in range(7, len(whole), 23):
            (only,) = [
                (n, hash_of(frame))
                for n, frame in coding.decoded(
                    pictures, number, pictures.idr_after(number + 1), stop=number + 1
                )
            ]
            assert only == (number, whole[number])


def silent_on_order(film: Film) -> None:
    """Let the parameter sets not tell how many pictures are reordered, as cameras often leave it."""
    track = film.tracks_of(b"vide")[0]
    box = next(box for box in entry_boxes(track.entries[0]) if box.kind == b"avcC")
    avcc = read_avcc(box.body)
    bits = Bits(avcc.sps[0][1:].replace(b"\0\0\3", b"\0\0"))
    text = f"{bits.text[: read_sps(avcc.sps[0]).restriction_bit]}01"
    text += "0" * (-len(text) % 8)
    sps = avcc.sps[0][:1] + _escaped(int(text, 2).to_bytes(len(text) // 8))
    assert read_sps(sps).reorder is None
    packed = Avcc(avcc.head, (sps,), avcc.pps, avcc.tail).packed()
    entry = with_entry_box(track.entries[0], Box(b"avcC", packed))
    track.tables.put(Box(b"stsd", next(box.body[:8] for box in track.tables.all(b"stsd")) + entry.packed()))


@pytest.mark.parametrize("name", ["pyramid", "three that nothing hangs on", "10 bit"])
def test_order_that_is_not_told_changes_nothing(studio: Studio, name: str) -> None:
    """Where the film does not tell how many pictures are reordered, skipping still gives the same ones."""
    plain = studio.make(**KINDS[name])
    whole = studio.look(plain).hashes
    source = studio.edit(plain, "silent", silent_on_order)
    with open_film(source) as film:
        pictures = pictures_of(film)
        for first in [n for n in range(5, 125) if pictures.start_of(n) == n][::4]:
            found = [hash_of(frame) for _, frame in coding.decoded(pictures, first, 125)]
            assert found == whole[first:]


def test_a_group_decoded_on_several_threads_is_the_same(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Long groups are decoded by several threads at once, which skip as one does."""
    source = studio.make(**KINDS["pyramid"])
    whole = studio.look(source).hashes
    monkeypatch.setattr(coding, "_LONG", 1)
    with open_film(source) as film:
        pictures = pictures_of(film)
        for first in [n for n in range(20, 125) if pictures.start_of(n) == n][::3]:
            found = [hash_of(frame) for _, frame in coding.decoded(pictures, first, 125)]
            assert found == whole[first:]


def test_what_nothing_hangs_on_is_really_left_out(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    """On nearly three in four of 100 pictures on the way nothing hangs: fewer than half are decoded."""
    source = studio.make(**KINDS["three that nothing hangs on"])
    given = []
    plain = coding._frames

    def counted(*args: Any) -> Any:
        for frame in plain(*args):
            given.append(frame.pts)
            yield frame

    monkeypatch.setattr(coding, "_frames", counted)
    with open_film(source) as film:
        pictures = pictures_of(film)
        first = pictures.start_of(100)
        assert len(list(coding.decoded(pictures, first, 125))) == 125 - first
    assert 125 - first < len(given) < 125 - first + first / 2
