"""Boxes, sample tables and parameter sets: read, written, read again; and against FFmpeg's reading."""

from __future__ import annotations

import io
import os
import struct
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.picture import film as film_module
from reelnotes.picture.avc import (
    Avcc,
    Bits,
    most_buffered,
    pps_id,
    read_avcc,
    read_sps,
    units,
    unsigned_code,
    with_buffering,
)
from reelnotes.picture.blend import Turn, turn_of
from reelnotes.picture.boxes import BadBoxes, Box, children, places, unpack
from reelnotes.picture.film import as_it_was, open_film, write_film
from reelnotes.picture.joints import Joint, Joints
from reelnotes.picture.probe import pictures_of, probe
from reelnotes.picture.tables import Samples, Whole, put_places, put_samples, read_samples

if TYPE_CHECKING:
    from tests.picture.conftest import Studio

modest = settings(max_examples=60, deadline=None)

leaves = st.builds(Box, st.sampled_from([b"free", b"stts", b"abcd"]), st.binary(max_size=20))
boxes = st.recursive(
    leaves,
    lambda inner: st.builds(
        lambda kind, held: Box(kind, b"", held),
        st.sampled_from([b"moov", b"trak"]),
        st.lists(inner, max_size=3),
    ),
    max_leaves=8,
)


@modest
@given(st.lists(boxes, max_size=4))
def test_boxes_written_and_read_are_the_same(many: list[Box]) -> None:
    """What is packed unpacks to itself."""
    assert unpack(b"".join(box.packed() for box in many)) == many


@modest
@given(st.binary(max_size=60))
def test_any_bytes_are_boxes_or_refused(raw: bytes) -> None:
    """No bytes make the reader fail in another way than it says, and what it read it writes back."""
    try:
        found = unpack(raw)
    except BadBoxes:
        return
    assert len(b"".join(box.packed() for box in found)) <= len(raw) + 16
    children(raw)


def test_long_and_open_sizes_are_read() -> None:
    """A size of 1 is told in eight bytes behind the kind; a size of 0 reaches to the end (14496-12, 4.2)."""
    raw = struct.pack(">I4sQ", 1, b"free", 20) + b"wxyz" + struct.pack(">I4s", 0, b"mdat") + b"rest"
    found = list(places(io.BytesIO(raw), len(raw)))
    assert [(p.kind, p.inside, p.length) for p in found] == [(b"free", 16, 4), (b"mdat", 28, 4)]
    assert unpack(raw) == [Box(b"free", b"wxyz"), Box(b"mdat", b"rest")]


@st.composite
def tables(draw: st.DrawFn) -> Samples:
    """Draw samples in chunks, as an encoder might lay them."""
    count = draw(st.integers(1, 40))

    def column(low: int, high: int) -> Whole:
        return np.array(draw(st.lists(st.integers(low, high), min_size=count, max_size=count)), np.int64)

    length, size = column(1, 3) * 512, column(0, 90)
    chunk = np.cumsum(column(0, 1))
    chunk -= chunk[0]
    gaps = np.where(np.append(True, np.diff(chunk) > 0), draw(st.sampled_from([0, 8, 1 << 33])), 0)
    return Samples(
        where=np.zeros(count, np.int64),
        offset=np.cumsum(size) - size + np.cumsum(gaps),
        size=size,
        decode_at=np.cumsum(length) - length,
        shift=column(draw(st.sampled_from([0, -3])), 3) * 512,
        length=length,
        sync=column(0, 1).astype(bool),
        chunk=chunk,
        entry=np.ones(count, np.int64),
    )


@modest
@given(tables())
def test_tables_written_and_read_are_the_same(samples: Samples) -> None:
    """All columns come back, also with places beyond four bytes and with negative shifts."""
    stbl = Box(b"stbl", b"", [])
    put_samples(stbl, samples, composition=False)
    starts = np.flatnonzero(np.append(True, samples.chunk[1:] != samples.chunk[:-1]))
    put_places(stbl, samples.offset[starts])
    back = read_samples(unpack(stbl.packed())[0], 1 << 62)
    for name in ("offset", "size", "decode_at", "shift", "length", "sync", "chunk", "entry"):
        assert getattr(back, name).tolist() == getattr(samples, name).tolist(), name


@modest
@given(tables(), st.integers(0, 8), st.integers(0, 400), st.binary(min_size=1, max_size=4))
def test_damaged_tables_are_refused_in_words(samples: Samples, box: int, at: int, noise: bytes) -> None:
    """Bytes changed anywhere in a table: it is read, or refused as `BadBoxes`."""
    stbl = Box(b"stbl", b"", [])
    put_samples(stbl, samples, composition=True)
    put_places(stbl, samples.offset[:1])
    held = stbl.boxes or []
    hurt = held[box % len(held)]
    cut = at % (len(hurt.body) + 1)
    hurt.body = hurt.body[:cut] + noise + hurt.body[cut + len(noise) :]
    try:
        read_samples(stbl, 1 << 20)
    except BadBoxes as refused:
        assert str(refused)  # noqa: PT017 - both ends are right; the words must be there


@modest
@given(st.lists(st.integers(0, 70_000), max_size=20))
def test_codes_of_numbers_come_back(numbers: list[int]) -> None:
    """Exp-Golomb codes (Rec. ITU-T H.264, clause 9.1): table 9-2 begins 1, 010, 011, 00100."""
    assert [unsigned_code(n) for n in range(4)] == ["1", "010", "011", "00100"]
    text = "".join(unsigned_code(n) for n in numbers) + "1"
    text += "0" * (-len(text) % 8)
    bits = Bits(int(text, 2).to_bytes(len(text) // 8, "big"))
    assert [bits.unsigned() for _ in numbers] == numbers


SHAPES: dict[str, dict[str, Any]] = {
    "plain": {},
    "10 bit 4:2:2": {"pixels": "yuv422p10le"},
    "full range": {"pixels": "yuvj420p"},
    "4:4:4 odd": {"size": (321, 179), "pixels": "yuv444p"},
    "off the grid": {"size": (318, 178)},
    "wide pixels": {"aspect": Fraction(40, 33)},
    "odd pixels": {"aspect": Fraction(77, 64)},
    "scaling lists": {"coding": "cqm=jvt"},
    "rates told": {"coding": "nal-hrd=vbr:vbv-maxrate=900:vbv-bufsize=900"},
    "colours": {"coding": "colormatrix=bt2020nc:transfer=smpte2084:colorprim=bt2020"},
    "many held": {"coding": "bframes=5:b-pyramid=normal:ref=5"},
    "baseline": {"options": (("profile", "baseline"),)},
}


@pytest.mark.parametrize("name", SHAPES)
def test_parameter_sets_say_what_ffmpeg_reads(studio: Studio, name: str) -> None:
    """Size, pixels, colours, aspect, profile, level and reordering, against FFmpeg's own parser."""
    import av

    source = studio.make(**SHAPES[name])
    with open_film(source) as film:
        pictures = pictures_of(film)
    sps = pictures.sps
    with av.open(str(source)) as container:
        context = container.streams.video[0].codec_context
        frame = next(container.decode(video=0))
        assert (sps.width, sps.height, pictures.pixels) == (context.width, context.height, context.pix_fmt)
        assert (sps.matrix, sps.primaries, sps.transfer) == (
            frame.colorspace,
            frame.color_primaries,
            frame.color_trc,
        )
        assert sps.full_range == (frame.color_range == 2)
        assert sps.level == int(container.streams.video[0].codec_context.level or sps.level)
        assert (sps.aspect or 1) == (context.sample_aspect_ratio or 1)
        assert sps.reorder == context.reorder_depth if hasattr(context, "reorder_depth") else True
    assert pictures.reorder <= (sps.reorder or 0)


@pytest.mark.parametrize("name", SHAPES)
def test_what_is_held_can_be_told_anew(studio: Studio, name: str) -> None:
    """Rewriting how many pictures are held leaves all else to the bit; back again, the bytes are the same."""
    with open_film(studio.make(**SHAPES[name])) as film:
        sps = pictures_of(film).sps
    assert sps.reorder is not None
    assert sps.buffered is not None
    other = with_buffering(sps.raw, sps.reorder, 9)
    assert (read_sps(other).reorder, read_sps(other).buffered) == (sps.reorder, 9)
    assert with_buffering(other, sps.reorder, sps.buffered) == sps.raw
    assert most_buffered(read_sps(other)) == 9


def test_parameter_sets_are_added_under_a_free_number(studio: Studio) -> None:
    """The record `avcC` is written as it was read; added sets come last, the level becomes the higher."""
    with open_film(studio.make()) as film:
        pictures = pictures_of(film)
    avcc = pictures.avcc
    assert read_avcc(avcc.packed()) == avcc
    assert avcc.free_id() == 1
    higher = bytearray(avcc.sps[0])
    higher[3] = 52
    more = avcc.with_sets(bytes(higher), avcc.pps[0])
    assert more.head[3] == 52
    assert len(more.sps) == len(more.pps) == 2
    assert read_avcc(more.packed()) == more
    assert pps_id(avcc.pps[0]) == 0
    with pytest.raises(BadBoxes, match="cut short"):
        read_avcc(avcc.packed()[:20])
    with pytest.raises(BadBoxes, match="missing"):
        read_avcc(Avcc(avcc.head, (), ()).packed())


def test_no_more_parameter_sets_are_added_than_the_record_can_count(studio: Studio) -> None:
    """Five bits count them (ISO/IEC 14496-15, 5.3.3.1): 31 fit, a 32nd would be told as none at all."""
    with open_film(studio.make()) as film:
        avcc = pictures_of(film).avcc
    full = Avcc(avcc.head, avcc.sps * 30, avcc.pps * 30, avcc.tail)
    assert full.free_id() == 1
    full = full.with_sets(avcc.sps[0], avcc.pps[0])
    assert read_avcc(full.packed()) == full
    assert full.free_id() is None


def test_a_length_that_leads_outside_is_refused() -> None:
    """A unit of nine bytes in a sample of eight."""
    assert units(b"\0\0\0\2ab\0\0\0\1c") == [b"ab", b"c"]
    with pytest.raises(BadBoxes, match="damaged"):
        units(b"\0\0\0\x09abcd")


@pytest.mark.parametrize(("rotation", "quarters"), [(0, 0), (-90, 1), (180, 2), (90, 3)])
def test_turns_are_read_and_undone(studio: Studio, rotation: int, quarters: int) -> None:
    """A turn as FFmpeg writes it, counter-clockwise; undone, a mark lands where the coded picture has it."""
    source = studio.make(rotation=rotation)
    coded = np.zeros((180, 320, 4), np.uint8)
    coded[3, 300] = 255
    turn = Turn(quarters)
    shown = np.rot90(coded, -quarters)
    assert (turn.undone(shown) == coded).all()
    assert probe(source).facts.shown == (shown.shape[1], shown.shape[0])
    assert turn_of(-1, 0, 0, 1) == Turn(0, mirrored=True)
    assert turn_of(1, 1, -1, 1) is None
    assert (Turn(1, mirrored=True).undone(np.rot90(coded[:, ::-1], -1)) == coded).all()


@modest
@given(
    st.lists(st.tuples(st.integers(0, 50), st.integers(0, 20), st.integers(0, 9)), max_size=5),
    st.integers(0, 300),
)
def test_times_never_run_backwards_over_joints(rows: list[tuple[int, int, int]], at: int) -> None:
    """A later time never comes out before an earlier one; behind all joints it is moved by all of them."""
    found, edge = [], Fraction(0)
    for gap, gone, held in rows:
        start = edge + gap + 1
        edge = start + gone
        found.append(Joint(start, edge, Fraction(held)))
    joints = Joints(tuple(found))
    here, next_to = joints.moved(Fraction(at)), joints.moved(Fraction(at) + Fraction(1, 10))
    assert here <= next_to
    assert joints.moved(Fraction(1000)) == 1000 + sum(j.held - (j.gone_to - j.gone_from) for j in found)
    assert joints.moved(Fraction(at)) <= joints.moved(Fraction(at), behind=True)


def test_a_large_film_is_read_by_its_tables_alone(tmp_path: Path, studio: Studio) -> None:
    """Five gigabytes of hole behind the film's own bytes: places beyond four bytes are read and written."""
    source = studio.make(sound=None)
    raw = source.read_bytes()
    path = tmp_path / "large.mp4"
    hole = 5 << 30
    with path.open("wb") as file:
        file.write(raw)
        file.write(struct.pack(">I4sQ", 1, b"free", hole))
        file.truncate(len(raw) + hole)
    assert probe(path).facts == probe(source).facts


def test_a_film_of_more_than_four_gigabytes_is_written(
    studio: Studio, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The box of its bytes tells its size in eight bytes, and chunks behind the limit their places.

    One text is made 4 GB long and laid in front; its bytes are not really copied here.
    """
    path = tmp_path / "film.mp4"
    source = studio.make(texts=((500, 1500, "first"),), chapters=())
    path.write_bytes(source.read_bytes())
    os.truncate(path, source.stat().st_size + (5 << 30))
    monkeypatch.setattr(film_module, "_copy", lambda *_: None)
    made = io.BytesIO()
    with open_film(path) as film:
        for track in film.tracks:
            assert track.samples is not None
            if track.kind == b"sbtl":
                track.samples.size[-1] = (1 << 32) - 1
                put_samples(track.tables, track.samples, composition=False)
        laid = [as_it_was(track) for track in film.tracks]
        for one in laid:
            one.order = one.order * (one.track.kind != b"sbtl")
        write_film(film, laid, made, made, lambda _: None)
        total = sum(int(one.rows()[2].sum()) for one in laid)
    found = list(places(made, len(made.getvalue()) + total))
    assert [place.kind for place in found] == [b"ftyp", b"moov", b"mdat"]
    assert found[-1].length == total > 1 << 32
    assert found[-1].inside == found[-1].offset + 16
    (tables,) = [track.tables for track in film.tracks if track.kind == b"vide" and track.samples is not None]
    assert tables.first(b"stco") is None
    offsets = tables.first(b"co64")
    assert offsets is not None
    assert int.from_bytes(offsets.body[8:16]) > 1 << 32


@pytest.mark.parametrize(("total", "head"), [((1 << 32) - 9, 8), ((1 << 32) - 8, 16)])
def test_the_long_form_begins_where_four_bytes_end(total: int, head: int) -> None:
    """The size counts its own head: 4 294 967 295 bytes in all are the most of the short form."""
    raw = film_module._mdat_head(total)
    assert len(raw) == head
    (place,) = places(io.BytesIO(raw), head + total)
    assert (place.kind, place.length) == (b"mdat", total)
