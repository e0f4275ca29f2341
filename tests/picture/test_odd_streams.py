"""Films whose stream of pictures is put together in rarer ways: sets between pictures, empty samples."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from reelnotes.picture.boxes import Box, children
from reelnotes.picture.burn import burn_in
from reelnotes.picture.film import Film, as_it_was, open_film, with_entry_box, write_film
from reelnotes.picture.probe import REASONS, pictures_of, probe
from reelnotes.picture.splice import take_out
from reelnotes.timing import Span

if TYPE_CHECKING:
    from tests.picture.conftest import Studio

GROUPS = "keyint=10:min-keyint=10:scenecut=0:bframes=2"
#: Every group brings its own sets, under the number 1.
REPEATED = f"{GROUPS}:cabac=0:8x8dct=0:repeat-headers=1:sps-id=1"


def put_avcc(film: Film, other: Path) -> None:
    """Give a film the decoder's configuration of another one."""
    with open_film(other) as from_there:
        avcc = pictures_of(from_there).avcc
    track = film.tracks_of(b"vide")[0]
    entry = with_entry_box(track.entries[0], Box(b"avcC", avcc.packed()))
    head = next(box.body[:8] for box in track.tables.all(b"stsd"))
    track.tables.put(Box(b"stsd", head + entry.packed()))


def test_numbers_of_sets_between_pictures_are_taken_too(studio: Studio, target: Path) -> None:
    """The sets in front of the film know number 0, those between the pictures 1: ours must be another.

    Else the next group that is copied would replace them, and what is coded anew behind it would be torn.
    """
    source = studio.edit(
        studio.make(coding=REPEATED), "number-0", lambda film: put_avcc(film, studio.make(coding=GROUPS))
    )
    with open_film(source) as film:
        pictures = pictures_of(film)
        assert pictures.avcc.free_id() == 1
        assert pictures.between == {1}
    windows = [(0, 300), (2500, 2700), (4500, 4900)]
    done = burn_in(source, [studio.panel(source, *window) for window in windows], target)
    assert done.reason is None
    before, after = studio.look(source), studio.look(target)
    assert after.messages == []
    assert after.times == before.times
    changed = [a != b for a, b in zip(before.hashes, after.hashes, strict=True)]
    assert 0 < sum(changed) <= done.coded
    for old, new in zip(before.pictures, after.pictures, strict=True):
        assert abs(old[:80].astype(int) - new[:80].astype(int)).mean() < 2


def test_sets_between_pictures_of_another_size_are_no_film_for_parts(studio: Studio) -> None:
    """Number 1 tells another size than the set in front: what a run would look like is not known."""
    other = studio.make(coding=GROUPS, size=(352, 200))
    source = studio.edit(studio.make(coding=REPEATED), "other-size", lambda film: put_avcc(film, other))
    assert probe(studio.make(coding=REPEATED)).reason is None
    assert probe(source).reason == REASONS["descriptions"]


def test_a_damaged_set_between_pictures_bears_no_number(studio: Studio, tmp_path: Path) -> None:
    """No picture can call for it, so it does not stand in the way of the rest."""
    source = studio.make(coding=REPEATED)
    with open_film(source) as film:
        nal = pictures_of(film).avcc.sps[0]
    raw = source.read_bytes()
    unit = len(nal).to_bytes(4) + nal
    assert raw.count(unit) > 10
    damaged = tmp_path / "damaged.mp4"
    damaged.write_bytes(raw.replace(unit, len(nal).to_bytes(4) + nal[:1] + b"\0" * (len(nal) - 1)))
    assert probe(damaged).reason is None
    with open_film(damaged) as film:
        pictures = pictures_of(film)
    assert pictures.avcc.sps == (nal,)
    assert pictures.between == {1}  # that of the picture parameter set, which is whole


@pytest.mark.parametrize("room", [5, 100_000, 1 << 30])
def test_room_that_a_recorder_left_at_the_end_is_no_part_of_the_film(
    studio: Studio, tmp_path: Path, room: int
) -> None:
    """Zeros behind the last box, however many, are not copied and not taken for a table."""
    source, film = studio.make(), tmp_path / "film.mp4"
    film.write_bytes(source.read_bytes())
    os.truncate(film, source.stat().st_size + room)
    burn_in(film, [studio.panel(source, 1600, 3000)], tmp_path / "new.mp4")
    assert studio.look(tmp_path / "new.mp4").messages == []
    assert (tmp_path / "new.mp4").stat().st_size < 2 * source.stat().st_size


def test_a_picture_without_bytes_leads_to_the_whole_film(studio: Studio, target: Path) -> None:
    """Some recorders leave a dropped picture empty: a run over it cannot be coded alone, the film can."""

    def drop(film: Film) -> None:
        (track,) = film.tracks_of(b"vide")
        assert track.samples is not None
        track.samples.size[60] = 0

    source = studio.edit(studio.make(coding="keyint=25:min-keyint=25:scenecut=0:bframes=0"), "dropped", drop)
    assert burn_in(source, [studio.panel(source, 200, 700)], target).reason is None
    done = burn_in(source, [studio.panel(source, 2600, 2900)], target)
    assert done.reason == REASONS["order"]
    assert done.pictures > 100


@pytest.mark.parametrize("left", [0, 3, 8, 9, 12, 20, 30])
def test_a_list_of_chapters_cut_short_keeps_what_is_whole(studio: Studio, tmp_path: Path, left: int) -> None:
    """Cutting moves the chapters that can be read; the rest of the list is nobody's."""
    source = studio.make(chapters=((0, 2000, "one"), (2000, 5000, "two")))

    def shorten(film: Film) -> None:
        for udta in film.moov.all(b"udta"):
            boxes = children(udta.body) or []
            cut = [Box(box.kind, box.body[:left] if box.kind == b"chpl" else box.body) for box in boxes]
            assert b"chpl" in [box.kind for box in cut]
            udta.body = b"".join(box.packed() for box in cut)

    film = studio.edit(source, f"chapters-{left}", shorten)
    assert take_out(film, [Span(1600, 3000)], [], tmp_path / "new.mp4").reason is None
    with open_film(tmp_path / "new.mp4") as made:
        (body,) = [
            box.body for u in made.moov.all(b"udta") for box in children(u.body) or [] if box.kind == b"chpl"
        ]
    assert body[8 if body[0] else 4] == (left >= 21)


def test_bytes_behind_a_list_of_places_to_begin_are_nobodys(studio: Studio, target: Path) -> None:
    """A table may be longer than what it counts."""

    def lengthen(film: Film) -> None:
        for track in film.tracks_of(b"vide"):
            table = track.tables.first(b"stss")
            assert table is not None
            table.body += bytes(4)

    source = studio.make()
    with open_film(source) as film, (target.parent / "film.mp4").open("wb+") as out:
        lengthen(film)
        write_film(film, [as_it_was(track) for track in film.tracks], out, out, lambda _: None)
    with open_film(source) as plain, open_film(target.parent / "film.mp4") as longer:
        assert pictures_of(plain).idr.tolist() == pictures_of(longer).idr.tolist()
        assert pictures_of(plain).samples.sync.tolist() == pictures_of(longer).samples.sync.tolist()
