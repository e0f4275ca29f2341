"""An MP4 or MOV file opened: its tracks with their tables, and the writing of one made from it."""

from __future__ import annotations

import os
import struct
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import BinaryIO

import numpy as np

from reelnotes.picture.boxes import BadBoxes, Box, Place, children, places, unpack
from reelnotes.picture.tables import (
    SOURCE,
    Chunks,
    Samples,
    Whole,
    chunk_starts,
    put_places,
    read_chunks,
    read_samples,
    same_size,
)
from reelnotes.problems import FileChanged, FileUnreadable
from reelnotes.records import frozen
from reelnotes.store import large_file

#: Called with the share of the work that is done, 0 to 1, never falling.
Progress = Callable[[float], None]
#: Called with a sentence for the maker before long work begins.
Tell = Callable[[str], None]

_FIRST_KINDS = frozenset({b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip", b"pnot"})
#: What is made anew or left out; zeros behind the last box are room that a recorder took and did not use.
_REWRITTEN = frozenset({b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip", b"pdin", bytes(4)})
_FRAGMENTS = frozenset({b"moof", b"mfra", b"styp", b"sidx", b"ssix", b"emsg", b"prft"})
#: Sound stored as plain values, thousands of samples a second: its chunks are moved whole.
_PLAIN_SOUND = frozenset(
    {b"sowt", b"twos", b"raw ", b"lpcm", b"in24", b"in32", b"fl32", b"fl64", b"ulaw", b"alaw", b"ima4",
     b"ipcm", b"fpcm", b"NONE"}
)  # fmt: skip
_VIDEO_ENTRY, _SOUND_ENTRY = 78, 28
_PIECE = 1 << 20
_LARGEST_MOOV = 1 << 29
_DAMAGED = "its table of contents is damaged"


@frozen
class Done:
    """What was done: pictures coded anew, of how many.

    `reason` says why the whole film had to be coded anew (None: it had not), `left_out` what was not kept.
    `chapters` tells that the chapters asked for were written; a film that has its own keeps them.
    """

    coded: int
    pictures: int
    reason: str | None = None
    left_out: tuple[str, ...] = ()
    chapters: bool = False


class NotTables(Exception):  # noqa: N818 - not an error: the film is only not laid out in tables we can edit
    """A file that is no MP4 or MOV with plain tables; `code` is a key of `probe.REASONS`."""

    def __init__(self, code: str) -> None:
        self.code = code
        super().__init__(code)


@dataclass(slots=True)
class Track:
    """One track: its box and tables, and how its own time stands in the programme.

    `scale` is units of its time a second. A sample shown at `t` units stands in the programme at
    `delay + (t - begin) / scale` seconds, as long as that is before `delay + lasts`.
    """

    box: Box
    id: int
    kind: bytes
    scale: int
    entries: list[Box]
    samples: Samples | None
    chunks: Chunks | None
    delay: Fraction = Fraction(0)
    begin: int = 0
    lasts: Fraction | None = None
    plain_edits: bool = True
    edited: bool = False

    @property
    def tables(self) -> Box:
        """The box that holds the tables. Raises `BadBoxes` where it is missing."""
        return _need(self.box, b"mdia", b"minf", b"stbl")

    def programme_s(self, ticks: int) -> Fraction:
        """Turn a time of the track into seconds of the programme."""
        return self.delay + Fraction(int(ticks) - self.begin, self.scale)


@dataclass(slots=True)
class Film:
    """A whole file: what stands in it, and an open handle for the bytes of its samples."""

    path: Path
    file: BinaryIO
    size: int
    ftyp: bytes
    moov: Box
    scale: int
    tracks: list[Track]
    other: list[Box] = field(default_factory=list)
    stamp: tuple[int, int] = (0, 0)

    def tracks_of(self, *kinds: bytes) -> list[Track]:
        """List the tracks of these kinds (`vide`, `soun` …)."""
        return [track for track in self.tracks if track.kind in kinds]

    def read(self, offset: int, size: int) -> bytes:
        """Read bytes of the file. Raises `FileUnreadable` if they are no longer there."""
        try:
            self.file.seek(offset)
            raw = self.file.read(size)
        except OSError as error:
            raise FileUnreadable(self.path, (error.strerror or "the system refused").lower()) from None
        if len(raw) != size:
            raise FileUnreadable(self.path, "it became shorter while it was read")
        return raw


@contextmanager
def open_film(path: Path) -> Iterator[Film]:
    """Open a file by its tables.

    Raises `NotTables` if it is none with tables that can be edited, `FileUnreadable` if it is damaged.
    """
    with large_file(path) as file:
        try:
            film = read_film(path, file)
        except (BadBoxes, struct.error, IndexError) as error:
            raise _damaged(path, error) from None
        except OSError as error:
            raise FileUnreadable(path, (error.strerror or "the system refused").lower()) from None
        try:
            yield film
        except BadBoxes as error:
            raise _damaged(path, error) from None


def _damaged(path: Path, error: Exception) -> FileUnreadable:
    return FileUnreadable(path, str(error) if isinstance(error, BadBoxes) else _DAMAGED)


def read_film(path: Path, file: BinaryIO) -> Film:
    """Read the tables of an open file. Raises `NotTables`, `BadBoxes`, `OSError`."""
    stamp = stamp_of(os.fstat(file.fileno()))
    size = stamp[0]
    ftyp, moov, other, seen = b"", None, [], set()
    for place in _film_places(file, size):
        seen.add(place.kind)
        if place.kind in _FRAGMENTS:
            raise NotTables("fragments")
        if place.kind in _REWRITTEN - {b"ftyp", b"moov"}:
            continue
        if place.length > _LARGEST_MOOV:
            raise BadBoxes("its table of contents is larger than any film needs")
        file.seek(place.inside)
        raw = file.read(place.length)
        if place.kind == b"ftyp":
            ftyp = raw
        elif place.kind == b"moov":
            moov = Box(b"moov", b"", unpack(raw))
        else:
            other.append(Box(place.kind, raw))
    if moov is None:
        raise BadBoxes("it has no table of contents; the recording was not finished")
    if moov.first(b"mvex") is not None:
        raise NotTables("fragments")
    if moov.first(b"cmov") is not None:
        raise NotTables("form")
    scale = _time_scale(_need(moov, b"mvhd").body)
    tracks = [_read_track(box, scale, size) for box in moov.all(b"trak")]
    return Film(path, file, size, ftyp, moov, scale, tracks, other, stamp)


def stamp_of(told: os.stat_result) -> tuple[int, int]:
    """Give what changes when somebody writes to a file: its size and the time of the last writing."""
    return told.st_size, told.st_mtime_ns


def _film_places(file: BinaryIO, size: int) -> Iterator[Place]:
    found = places(file, size)
    try:
        first = next(found, None)
    except BadBoxes:
        first = None
        file.seek(0)
        if file.read(8)[4:8] in _FIRST_KINDS:
            raise
    if first is None or first.kind not in _FIRST_KINDS:
        raise NotTables("form")
    yield first
    yield from found


def _need(box: Box, *kinds: bytes) -> Box:
    found = box.first(*kinds)
    if found is None:
        raise BadBoxes(f"its table of contents lacks the part {kinds[-1].decode('latin-1')}")
    return found


def _time_scale(head: bytes) -> int:
    """Read the time scale of mvhd or mdhd, whose versions differ in the width of times."""
    (scale,) = struct.unpack_from(">I", head, 20 if head[0] == 1 else 12)
    if not scale:
        raise BadBoxes("a track tells no time scale")
    if scale >> 31:  # times have a sign
        raise BadBoxes("a track tells a time scale that no film has")
    return int(scale)


def _read_track(box: Box, movie_scale: int, file_size: int) -> Track:
    head = _need(box, b"tkhd").body
    (number,) = struct.unpack_from(">I", head, 20 if head[0] == 1 else 12)
    kind = _need(box, b"mdia", b"hdlr").body[8:12]
    scale = _time_scale(_need(box, b"mdia", b"mdhd").body)
    stbl = _need(box, b"mdia", b"minf", b"stbl")
    entries = children(_need(stbl, b"stsd").body[8:]) or []
    whole = _plain_sound_frame(entries[0]) if kind == b"soun" and entries else None
    track = Track(
        box=box,
        id=number,
        kind=kind,
        scale=scale,
        entries=entries,
        samples=None if whole else read_samples(stbl, file_size),
        chunks=read_chunks(stbl, *(whole if whole[0] else (same_size(stbl), 1))) if whole else None,
    )
    _read_edits(track, movie_scale)
    return track


def _plain_sound_frame(entry: Box) -> tuple[int, int] | None:
    """Give bytes and samples of a frame of plain sound; (0, 1): the table of sizes tells; None: not plain.

    The QuickTime sound descriptions of version 0 and 1 count samples of one channel in the table of sizes.
    """
    if entry.kind not in _PLAIN_SOUND or len(entry.body) < _SOUND_ENTRY:
        return None
    version, channels, bits = struct.unpack_from(">H6xHH", entry.body, 8)
    if version == 1 and len(entry.body) >= _SOUND_ENTRY + 16:
        samples, _, frame_bytes, _ = struct.unpack_from(">IIII", entry.body, _SOUND_ENTRY)
        if samples and frame_bytes:
            return frame_bytes, samples
    if version == 0 and entry.kind in {b"sowt", b"twos", b"raw ", b"NONE", b"ulaw", b"alaw"}:
        return channels * (1 if entry.kind in {b"ulaw", b"alaw"} else max(bits // 8, 1)), 1
    return 0, 1


def _read_edits(track: Track, movie_scale: int) -> None:
    elst = track.box.first(b"edts", b"elst")
    if elst is None:
        return
    (count,) = struct.unpack_from(">I", elst.body, 4)
    form = ">Qqhh" if elst.body[0] == 1 else ">Iihh"
    edits = [
        struct.unpack_from(form, elst.body, 8 + number * struct.calcsize(form)) for number in range(count)
    ]
    shown = [edit for edit in edits if edit[1] >= 0]
    empty_first = all(edit[1] < 0 for edit in edits[: len(edits) - 1])
    track.edited = bool(edits)
    track.plain_edits = not edits or (len(shown) == 1 and empty_first and shown[0][2:] == (1, 0))
    if shown:
        track.delay = Fraction(sum(edit[0] for edit in edits if edit[1] < 0), movie_scale)
        track.begin = shown[0][1]
        track.lasts = Fraction(shown[0][0], movie_scale) if shown[0][0] else None


def entry_boxes(entry: Box) -> list[Box]:
    """Read the boxes inside a sample description of video (`avcC`, `colr`, `pasp` …)."""
    return children(entry.body[_VIDEO_ENTRY:]) or []


def with_entry_box(entry: Box, new: Box, *, drop: frozenset[bytes] = frozenset()) -> Box:
    """Give a sample description of video in which one box is replaced and others are left out."""
    boxes = [new if box.kind == new.kind else box for box in entry_boxes(entry) if box.kind not in drop]
    return Box(entry.kind, entry.body[:_VIDEO_ENTRY] + b"".join(box.packed() for box in boxes))


# --- writing -----------------------------------------------------------------------------------------


@dataclass(slots=True)
class Laid:
    """A track as it will lie in the new file: what its chunks hold, and by what they are put in order."""

    track: Track
    held: Samples | Chunks
    order: Whole

    def spans(self) -> tuple[Whole, Whole]:
        """Give the first row of each chunk and the size of each chunk in bytes."""
        if isinstance(self.held, Chunks):
            return np.arange(len(self.held.size)), self.held.size
        starts = chunk_starts(self.held)
        return starts, np.add.reduceat(self.held.size, starts) if len(starts) else starts

    def rows(self) -> tuple[Whole, Whole, Whole]:
        """Give where, offset and size of everything that is copied as one piece."""
        if isinstance(self.held, Chunks):
            return np.zeros(len(self.held.size), np.int64), self.held.offset, self.held.size
        return self.held.where, self.held.offset, self.held.size


def as_it_was(track: Track) -> Laid:
    """Lay a track as it lay in the file read."""
    if track.chunks is not None:
        return Laid(track, track.chunks, track.chunks.offset)
    held = track.samples
    if held is None:
        raise ValueError("a track without tables")
    return Laid(track, held, held.offset[chunk_starts(held)])


def write_film(film: Film, laid: list[Laid], made: BinaryIO, target: BinaryIO, progress: Progress) -> None:
    """Write `ftyp`, `moov`, `mdat` and what else the file held; `film.moov` must hold the new tables by now.

    Bytes come from the film and, for rows that say so, from `made`. Raises `FileUnreadable`, `FileChanged` if
    somebody wrote to the film since it was opened, `OSError`.
    """
    spans = [track.spans() for track in laid]
    owner = np.repeat(np.arange(len(laid)), [len(starts) for starts, _ in spans])
    number = np.concatenate([np.arange(len(starts)) for starts, _ in spans] or [owner])
    sizes = np.concatenate([size for _, size in spans] or [owner])
    line = np.lexsort((owner, np.concatenate([track.order for track in laid] or [owner])))
    total = int(sizes.sum())
    ftyp = Box(b"ftyp", film.ftyp).packed() if film.ftyp else b""
    head = _mdat_head(total)
    moov, before = b"", None
    while len(moov) != before:  # wider places make the table longer, which moves the places once more
        before = len(moov)
        at = len(ftyp) + len(moov) + len(head)
        place = np.empty(len(line), np.int64)
        place[line] = at + np.cumsum(sizes[line]) - sizes[line]
        for index, track in enumerate(laid):
            put_places(track.track.tables, place[owner == index])
        moov = film.moov.packed()
    target.write(ftyp + moov + head)
    _copy(film, _in_line(laid, spans, owner[line], number[line]), made, target, progress)
    target.write(b"".join(box.packed() for box in film.other))
    target.flush()
    if stamp_of(os.fstat(film.file.fileno())) != film.stamp:
        raise FileChanged(film.path)


def _mdat_head(total: int) -> bytes:
    """Give the head of the box around so many bytes; its long form where four bytes cannot tell them."""
    if total + 8 >= 1 << 32:
        return struct.pack(">I4sQ", 1, b"mdat", total + 16)
    return struct.pack(">I4s", total + 8, b"mdat")


def _in_line(
    laid: list[Laid], spans: list[tuple[Whole, Whole]], owner: Whole, number: Whole
) -> tuple[Whole, Whole, Whole]:
    """Put the rows of all tracks in the order of the file, and join those that touch."""
    columns = [np.concatenate(parts) for parts in zip(*(track.rows() for track in laid), strict=True)]
    counts = [len(track.rows()[0]) for track in laid]
    base = np.cumsum([0, *counts[:-1]])
    # All rows stand one behind the other: where each chunk begins among them, and how many rows it has.
    first = np.concatenate([base[index] + starts for index, (starts, _) in enumerate(spans)])
    many = np.concatenate([np.diff(np.append(s, n)) for (s, _), n in zip(spans, counts, strict=True)])
    chunk = np.cumsum([0, *(len(starts) for starts, _ in spans)])[owner] + number
    first, many = first[chunk], many[chunk]
    rows = np.repeat(first - np.cumsum(many) + many, many) + np.arange(int(many.sum()))
    where, offset, size = (column[rows] for column in columns)
    touching = (where[1:] == where[:-1]) & (offset[1:] == offset[:-1] + size[:-1])
    starts = np.flatnonzero(np.append(True, ~touching)) if len(size) else np.zeros(0, np.int64)
    joined = np.add.reduceat(size, starts) if len(starts) else size
    return where[starts], offset[starts], joined


def _copy(
    film: Film, pieces: tuple[Whole, Whole, Whole], made: BinaryIO, target: BinaryIO, progress: Progress
) -> None:
    total, done = max(int(pieces[2].sum()), 1), 0
    for where, offset, size in zip(*(column.tolist() for column in pieces), strict=True):
        for at in range(0, size, _PIECE):
            part = min(_PIECE, size - at)
            if where == SOURCE:
                target.write(film.read(offset + at, part))
            else:
                target.write(_read_made(made, offset + at, part))
            done += part
            if part == _PIECE:
                progress(done / total)
    progress(1.0)


def _read_made(made: BinaryIO, offset: int, size: int) -> bytes:
    made.seek(offset)
    raw = made.read(size)
    if len(raw) != size:
        raise OSError("the scratch file is shorter than what was written to it")
    return raw
