"""A table of contents damaged in any one place: the film is read, or refused in one sentence."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from reelnotes.model import HeldFrame
from reelnotes.picture.boxes import Box, places, unpack
from reelnotes.picture.burn import burn_in
from reelnotes.picture.film import Film, entry_boxes, open_film, with_entry_box
from reelnotes.picture.sound import hear
from reelnotes.picture.splice import take_out
from reelnotes.problems import FileUnreadable, Refusal
from reelnotes.timing import Span

if TYPE_CHECKING:
    from tests.picture.conftest import Studio

av = pytest.importorskip("av", reason="the library that encodes the test films is not installed")
WORK: tuple[list[Span], list[HeldFrame]] = ([Span(1600, 3000)], [HeldFrame(3000, 300)])


def empty(body: bytes) -> bytes:
    """Leave nothing."""
    return body[:0]


def short(body: bytes) -> bytes:
    """Leave the first half."""
    return body[: len(body) // 2]


def large(body: bytes) -> bytes:
    """Set every bit behind version and flags."""
    return body[:4] + b"\xff" * (len(body) - 4)


def damaged(source: Path, folder: Path, harm: Callable[[bytes], bytes], kind: bytes) -> Iterator[Path]:
    """Give copies of a film in each of which one box of a kind is damaged."""
    raw = source.read_bytes()
    with source.open("rb") as file:
        at = next(place for place in places(file, len(raw)) if place.kind == b"moov")
    assert at.inside + at.length == len(raw)
    moov = Box(b"moov", b"", unpack(raw[at.inside :]))
    count = sum(box.kind == kind for box in every(moov))
    assert count
    for number in range(count):
        changed = copy.deepcopy(moov)
        box = [box for box in every(changed) if box.kind == kind][number]
        box.body, box.boxes = harm(box.body), box.boxes and []
        path = folder / f"{number}{source.suffix}"
        path.write_bytes(raw[: at.offset] + changed.packed())
        yield path


def every(box: Box) -> Iterator[Box]:
    """Walk all boxes inside a box."""
    for inner in box.boxes or []:
        yield inner
        yield from every(inner)


def refused(job: Callable[[Path], Any], film: Path) -> str:
    """Do a job; give the sentence with which it was refused."""
    try:
        job(film)
    except Refusal as refusal:
        return str(refusal)
    return ""


@pytest.mark.parametrize("harm", [empty, short, large])
@pytest.mark.parametrize(
    "kind", [b"mvhd", b"tkhd", b"mdhd", b"hdlr", b"elst", b"stsd", b"sbgp", b"sgpd", b"udta"]
)
def test_one_sentence_at_most(
    studio: Studio, tmp_path: Path, kind: bytes, harm: Callable[[bytes], bytes]
) -> None:
    """Burning in and cutting either work or are refused, and a refused one leaves nothing behind."""
    source = studio.make(texts=((500, 1500, "first"),), chapters=((0, 2000, "one"), (2000, 5000, "two")))
    panel = studio.panel(source, 1600, 3000)
    target = tmp_path / "new" / "new.mp4"
    jobs: list[Callable[[Path], Any]] = [
        lambda film: burn_in(film, [panel], target),
        lambda film: take_out(film, *WORK, target),
        hear,
    ]
    for film in damaged(source, tmp_path, harm, kind):
        for job in jobs:
            target.unlink(missing_ok=True)
            said = refused(job, film)
            if said:
                assert said.count("\n") == 0
                assert not target.parent.exists() or list(target.parent.iterdir()) == []


def test_groups_of_sound_that_are_cut_short_are_refused(studio: Studio, tmp_path: Path) -> None:
    """Cutting writes them anew, so it must be able to read them."""
    for film in damaged(studio.make(), tmp_path, short, b"sbgp"):
        with pytest.raises(FileUnreadable, match="groups of samples is damaged"):
            take_out(film, *WORK, tmp_path / "new.mp4")


def test_a_film_whose_sound_nobody_knows_keeps_its_picture(studio: Studio, tmp_path: Path) -> None:
    """Sound that no decoder is there for is left out when all is coded anew, and that is told."""
    source = studio.make(sound="pcm_s16le", suffix=".mov")
    for film in list(damaged(source, tmp_path, lambda body: body[:8], b"stsd"))[1:]:
        done = take_out(film, *WORK, tmp_path / "new.mov")
        assert done.left_out == ("audio",)
        assert hear(film) is None


@pytest.mark.parametrize("suffix", [".avi", ".mkv"])
def test_a_title_that_is_not_utf8_is_no_hindrance(studio: Studio, tmp_path: Path, suffix: str) -> None:
    """Old programs wrote tags in Latin-1; an editor may still do so in AVI."""
    raw = studio.make(suffix=suffix, tags=(("title", "Moebelbau"),)).read_bytes()
    assert raw.count(b"Moebelbau") == 1
    film = tmp_path / f"film{suffix}"
    film.write_bytes(raw.replace(b"Moebelbau", b"M\xf6belbau!"))
    done = burn_in(film, [studio.panel(film, 1600, 3000)], tmp_path / "new.mp4")
    assert done.coded == 125
    assert hear(film) is not None
    assert studio.look(tmp_path / "new.mp4").tags["title"] == "M�belbau!"


def test_a_name_with_a_colon_is_no_address(
    studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A film named by the time of day, given from inside its folder, is opened like any other."""
    monkeypatch.chdir(tmp_path)
    film = Path("take1:final.mkv")
    film.write_bytes(studio.make(suffix=".mkv").read_bytes())
    assert burn_in(film, [studio.panel(film, 1600, 3000)], Path("new.mp4")).coded == 125
    assert hear(film) is not None


def test_a_time_scale_without_end_is_refused(studio: Studio, tmp_path: Path) -> None:
    """No rate of pictures could be worked out from it."""
    films = list(damaged(studio.make(), tmp_path, large, b"mdhd"))
    with pytest.raises(FileUnreadable, match="a time scale that no film has"):
        take_out(films[0], *WORK, tmp_path / "new.mp4")


def test_shape_and_colours_cut_short_count_as_not_told(studio: Studio, tmp_path: Path) -> None:
    """A damaged `pasp` or `colr` inside the description leaves what the stream itself tells."""

    def cut(film: Film) -> None:
        track = film.tracks_of(b"vide")[0]
        entry = track.entries[0]
        for kind, body in ((b"pasp", b"\0\0"), (b"colr", b"nclx\0\1")):
            held = [*entry_boxes(entry), Box(kind)]
            entry = Box(entry.kind, entry.body[:78] + b"".join(box.packed() for box in held))
            entry = with_entry_box(entry, Box(kind, body))
        head = next(box.body[:8] for box in track.tables.all(b"stsd"))
        track.tables.put(Box(b"stsd", head + entry.packed()))

    source = studio.edit(studio.make(), "cut-short", cut)
    assert burn_in(source, [studio.panel(source, 1600, 3000)], tmp_path / "new.mp4").reason is None


def test_damaged_sound_is_named_by_its_time(studio: Studio, tmp_path: Path) -> None:
    """The check of the sound says where it cannot go on."""
    raw = bytearray(studio.make().read_bytes())
    with open_film(studio.make()) as film:
        rows = film.tracks_of(b"soun")[0].samples
    assert rows is not None
    at, size = int(rows.offset[100]), int(rows.size[100])
    raw[at : at + size] = bytes(255 - byte for byte in raw[at : at + size])
    (tmp_path / "film.mp4").write_bytes(raw)
    with pytest.raises(FileUnreadable, match=r"its sound near 0:02 is damaged"):
        hear(tmp_path / "film.mp4")
