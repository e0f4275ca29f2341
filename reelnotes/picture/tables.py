"""Sample tables of a track (ISO/IEC 14496-12, 8.6 and 8.7): one row a sample, read, and built anew."""

from __future__ import annotations

import struct
from dataclasses import dataclass, fields
from typing import Self

import numpy as np
import numpy.typing as npt

from reelnotes.picture.boxes import BadBoxes, Box, full

Whole = npt.NDArray[np.int64]
Marks = npt.NDArray[np.bool_]

#: Where a sample's bytes lie: in the file that was read, or in the scratch file with what was made.
SOURCE, MADE = 0, 1
_LARGEST_SHORT = (1 << 32) - 1
_MISMATCH = "its tables of samples do not agree with each other"


@dataclass(slots=True)
class Samples:
    """The samples of a track in decoding order, one row each; times in units of the track's own scale.

    `decode_at` is when a sample is decoded, `shift` what is added to it for the time it is shown, `length`
    the step to the next row's `decode_at`. `chunk` numbers from 0, `entry` the sample description from 1.
    """

    where: Whole
    offset: Whole
    size: Whole
    decode_at: Whole
    shift: Whole
    length: Whole
    sync: Marks
    chunk: Whole
    entry: Whole

    def __len__(self) -> int:
        """Count the samples."""
        return len(self.size)

    @property
    def shown_at(self) -> Whole:
        """When each sample is shown, in units of the track."""
        return self.decode_at + self.shift

    def rows(self, pick: slice | Whole | Marks) -> Self:
        """Take some rows."""
        return type(self)(**{field.name: getattr(self, field.name)[pick] for field in fields(self)})

    @classmethod
    def joined(cls, parts: list[Samples]) -> Samples:
        """Put several runs of rows behind each other."""
        return cls(**{f.name: np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(cls)})


@dataclass(slots=True)
class Chunks:
    """A track whose samples need not be told apart (plain sound): where its chunks lie."""

    offset: Whole
    size: Whole


def read_samples(stbl: Box, file_size: int) -> Samples:
    """Read the tables of one track. Raises `BadBoxes` where they contradict each other or the file."""
    try:
        return _read_samples(stbl, file_size)
    except (struct.error, ValueError, IndexError) as error:
        raise error if isinstance(error, BadBoxes) else BadBoxes(_MISMATCH) from None


def _read_samples(stbl: Box, file_size: int) -> Samples:
    size = _sizes(stbl, file_size)
    count = len(size)
    chunk_at = _chunk_offsets(stbl)
    per_chunk, entry_of = _chunk_counts(stbl, len(chunk_at))
    if int(per_chunk.sum()) != count:
        raise BadBoxes(_MISMATCH)
    chunk = np.repeat(np.arange(len(chunk_at)), per_chunk)
    before = np.cumsum(size) - size
    first = np.cumsum(per_chunk) - per_chunk
    offset = chunk_at[chunk] + before - before[np.minimum(first, max(count - 1, 0))][chunk] if count else size
    length = _expanded(_pairs(stbl, b"stts", signed=False), count)
    sync = np.ones(count, bool)
    if (stss := stbl.first(b"stss")) is not None:
        sync = np.zeros(count, bool)
        (listed,) = struct.unpack_from(">I", stss.body, 4)
        sync[np.frombuffer(stss.body, ">u4", listed, 8).astype(np.int64) - 1] = True
    shifts = _pairs(stbl, b"ctts", signed=True)
    if count and int((offset + size).max()) > file_size:
        raise BadBoxes("it is cut short: samples lie beyond its end")
    return Samples(
        where=np.zeros(count, np.int64),
        offset=offset,
        size=size,
        decode_at=np.cumsum(length) - length,
        shift=_expanded(shifts, count) if shifts is not None else np.zeros(count, np.int64),
        length=length,
        sync=sync,
        chunk=chunk,
        entry=entry_of[chunk] if count else size,
    )


def _sizes(stbl: Box, file_size: int) -> Whole:
    if (stsz := stbl.first(b"stsz")) is not None:
        same, count = struct.unpack_from(">II", stsz.body, 4)
        if same:
            if same * count > file_size:
                raise BadBoxes(_MISMATCH)
            return np.full(count, same, np.int64)
        return np.frombuffer(stsz.body, ">u4", count, 12).astype(np.int64)
    if (stz2 := stbl.first(b"stz2")) is not None:
        bits, count = stz2.body[7], struct.unpack_from(">I", stz2.body, 8)[0]
        kinds = {8: ">u1", 16: ">u2"}
        if bits in kinds:
            return np.frombuffer(stz2.body, kinds[bits], count, 12).astype(np.int64)
        halves = np.frombuffer(stz2.body, np.uint8, (count + 1) // 2, 12)
        return np.stack([halves >> 4, halves & 15], axis=1).reshape(-1)[:count].astype(np.int64)
    raise BadBoxes("a track lacks the sizes of its samples")


def _chunk_offsets(stbl: Box) -> Whole:
    for kind, form in ((b"stco", ">u4"), (b"co64", ">u8")):
        if (box := stbl.first(kind)) is not None:
            (count,) = struct.unpack_from(">I", box.body, 4)
            return np.frombuffer(box.body, form, count, 8).astype(np.int64)
    raise BadBoxes("a track lacks the places of its samples")


def _chunk_counts(stbl: Box, chunks: int) -> tuple[Whole, Whole]:
    """Count the samples of each chunk, and name the sample description it uses."""
    stsc = stbl.first(b"stsc")
    if stsc is None:
        raise BadBoxes("a track lacks the list of its chunks")
    (count,) = struct.unpack_from(">I", stsc.body, 4)
    table = np.frombuffer(stsc.body, ">u4", count * 3, 8).astype(np.int64).reshape(-1, 3)
    if not chunks:
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    first = table[:, 0] - 1
    runs = np.diff(np.append(first, chunks))
    if not count or first[0] != 0 or (runs < 0).any():
        raise BadBoxes(_MISMATCH)
    return np.repeat(table[:, 1], runs), np.repeat(table[:, 2], runs)


def _pairs(stbl: Box, kind: bytes, *, signed: bool) -> Whole | None:
    box = stbl.first(kind)
    if box is None:
        return None
    (count,) = struct.unpack_from(">I", box.body, 4)
    table = np.frombuffer(box.body, ">u4", count * 2, 8).astype(np.int64).reshape(-1, 2)
    if signed:  # version 0 promises unsigned values, yet files with negative ones exist in version 0 too
        table[:, 1] = table[:, 1].astype(np.uint32).view(np.int32)
    return table


def _expanded(pairs: Whole | None, count: int) -> Whole:
    if pairs is None or int(pairs[:, 0].sum()) != count:
        raise BadBoxes(_MISMATCH)
    return np.repeat(pairs[:, 1], pairs[:, 0])


def read_chunks(stbl: Box, bytes_of: int, samples_in: int) -> Chunks:
    """Read where the chunks of plain sound lie: `bytes_of` bytes for every `samples_in` samples.

    Raises `BadBoxes` where the tables contradict each other.
    """
    try:
        offset = _chunk_offsets(stbl)
        per_chunk, _ = _chunk_counts(stbl, len(offset))
    except (struct.error, ValueError, IndexError) as error:
        raise error if isinstance(error, BadBoxes) else BadBoxes(_MISMATCH) from None
    return Chunks(offset, per_chunk * bytes_of // samples_in)


def same_size(stbl: Box) -> int:
    """Give the size that all samples share, or 0."""
    stsz = stbl.first(b"stsz")
    return int.from_bytes(stsz.body[4:8]) if stsz is not None else 0


# --- building ----------------------------------------------------------------------------------------


def put_samples(stbl: Box, samples: Samples, *, composition: bool) -> None:
    """Write the tables of a track anew, all but the places of its chunks (see `put_places`).

    `composition`: write shifts even where all are zero.
    """
    stbl.put(Box(b"stts", _run_lengths(samples.length, ">u4", 0)), after=b"stsd")
    stbl.drop(b"ctts", b"stss", b"stz2")
    if composition or samples.shift.any():
        negative = bool(len(samples) and samples.shift.min() < 0)
        stbl.put(
            Box(b"ctts", _run_lengths(samples.shift, ">i4" if negative else ">u4", int(negative))),
            after=b"stts",
        )
    if not samples.sync.all():
        numbers = (np.flatnonzero(samples.sync) + 1).astype(">u4")
        stbl.put(Box(b"stss", full(0, 0, struct.pack(">I", len(numbers)) + numbers.tobytes())), after=b"stts")
    stbl.put(Box(b"stsc", _chunk_table(samples)), after=b"stts")
    sizes = struct.pack(">II", 0, len(samples)) + samples.size.astype(">u4").tobytes()
    stbl.put(Box(b"stsz", full(0, 0, sizes)), after=b"stsc")


def _run_lengths(values: Whole, form: str, version: int) -> bytes:
    if not len(values):
        return full(version, 0, struct.pack(">I", 0))
    starts = np.flatnonzero(np.append(True, values[1:] != values[:-1]))
    runs = np.diff(np.append(starts, len(values)))
    table = np.stack([runs.astype(">u4").view(">u4"), values[starts].astype(form).view(">u4")], axis=1)
    return full(version, 0, struct.pack(">I", len(starts)) + table.astype(">u4").tobytes())


def _chunk_table(samples: Samples) -> bytes:
    if not len(samples):
        return full(0, 0, struct.pack(">I", 0))
    starts = chunk_starts(samples)
    counts, entries = np.diff(np.append(starts, len(samples))), samples.entry[starts]
    new = np.flatnonzero(np.append(True, (counts[1:] != counts[:-1]) | (entries[1:] != entries[:-1])))
    table = np.stack([new + 1, counts[new], entries[new]], axis=1).astype(">u4")
    return full(0, 0, struct.pack(">I", len(new)) + table.tobytes())


def chunk_starts(samples: Samples) -> Whole:
    """Give the row with which each chunk begins: where the number of the chunk changes."""
    if not len(samples):
        return np.zeros(0, np.int64)
    return np.flatnonzero(np.append(True, samples.chunk[1:] != samples.chunk[:-1])).astype(np.int64)


def put_places(stbl: Box, offsets: Whole) -> None:
    """Write where the chunks lie, in four bytes each if they suffice, else in eight."""
    long = bool(len(offsets) and offsets.max() > _LARGEST_SHORT)
    stbl.drop(b"stco", b"co64")
    places = struct.pack(">I", len(offsets)) + offsets.astype(">u8" if long else ">u4").tobytes()
    stbl.put(Box(b"co64" if long else b"stco", full(0, 0, places)), after=b"stsz")
