"""The boxes of an MP4 or MOV file (ISO/IEC 14496-12, and the QuickTime file format it grew out of).

Only what holds the tables is taken apart; every other box is carried as bytes and written back as it was.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from reelnotes.records import frozen

#: Boxes that hold nothing but boxes, as far as we go into them.
_HOLDERS = frozenset({b"moov", b"trak", b"mdia", b"minf", b"stbl", b"edts", b"dinf"})
_HEAD = 8
_LONG_HEAD = 16


class BadBoxes(ValueError):  # noqa: N818 - it says what is bad, not that we erred
    """The boxes do not fit into each other; `str()` says how, in words for a sentence in brackets."""


@dataclass(slots=True)
class Box:
    """One box: its four-letter kind and what it holds, as bytes or as boxes."""

    kind: bytes
    body: bytes = b""
    boxes: list[Box] | None = None

    def first(self, *kinds: bytes) -> Box | None:
        """Find the first box down a path of kinds."""
        at: Box | None = self
        for kind in kinds:
            at = next((box for box in (at.boxes or []) if box.kind == kind), None) if at else None
        return at

    def all(self, kind: bytes) -> list[Box]:
        """List the boxes of one kind directly inside."""
        return [box for box in self.boxes or [] if box.kind == kind]

    def put(self, new: Box, *, after: bytes = b"") -> None:
        """Replace the box of the same kind, or add it behind `after` (else at the end)."""
        boxes = self.boxes if self.boxes is not None else []
        kinds = [box.kind for box in boxes]
        if new.kind in kinds:
            boxes[kinds.index(new.kind)] = new
        elif after in kinds:
            boxes.insert(kinds.index(after) + 1, new)
        else:
            boxes.append(new)
        self.boxes = boxes

    def drop(self, *kinds: bytes) -> None:
        """Take out the boxes of these kinds."""
        self.boxes = [box for box in self.boxes or [] if box.kind not in kinds]

    def packed(self) -> bytes:
        """Write the box with all it holds."""
        inside = self.body if self.boxes is None else b"".join(box.packed() for box in self.boxes) + self.body
        size = len(inside) + _HEAD
        if size < 1 << 32:
            return struct.pack(">I4s", size, self.kind) + inside
        return struct.pack(">I4sQ", 1, self.kind, size + _HEAD) + inside


def unpack(raw: bytes) -> list[Box]:
    """Read the boxes of a run of bytes. Raises `BadBoxes` where one reaches beyond what holds it."""
    boxes, rest = _unpack_some(raw)
    if rest:
        raise BadBoxes("a box ends in the middle")
    return boxes


def _unpack_some(raw: bytes) -> tuple[list[Box], bytes]:
    """Read boxes and what is left behind the last (QuickTime ends some lists with four zero bytes)."""
    boxes: list[Box] = []
    at = 0
    while at + _HEAD <= len(raw):
        size, kind = struct.unpack_from(">I4s", raw, at)
        head = _HEAD
        if size == 1 and at + _LONG_HEAD <= len(raw):
            size, head = struct.unpack_from(">Q", raw, at + _HEAD)[0], _LONG_HEAD
        elif size == 0:
            size = len(raw) - at
        if size < head or at + size > len(raw):
            raise BadBoxes("a box reaches beyond the one that holds it")
        boxes.append(_box(kind, raw[at + head : at + size]))
        at += size
    return boxes, raw[at:]


def _box(kind: bytes, inside: bytes) -> Box:
    if kind not in _HOLDERS:
        return Box(kind, inside)
    boxes, rest = _unpack_some(inside)
    return Box(kind, rest, boxes)


def children(inside: bytes) -> list[Box] | None:
    """Read bytes as boxes if they are boxes and nothing else but a short end of zeros, else None."""
    try:
        boxes, rest = _unpack_some(inside)
    except BadBoxes:
        return None
    return boxes if not rest.strip(b"\0") else None


@frozen
class Place:
    """Where a box of the file stands: kind, offset of the box, offset and length of what it holds."""

    kind: bytes
    offset: int
    inside: int
    length: int


def places(file: BinaryIO, file_size: int) -> Iterator[Place]:
    """Walk the boxes of the file itself. Raises `BadBoxes` where they do not fit."""
    at = 0
    while at + _HEAD <= file_size:
        file.seek(at)
        head = file.read(_LONG_HEAD)
        size, kind = struct.unpack_from(">I4s", head)
        start = _HEAD
        if size == 1 and len(head) == _LONG_HEAD:
            size, start = struct.unpack_from(">Q", head, _HEAD)[0], _LONG_HEAD
        elif size == 0:
            size = file_size - at
        if size < start:
            raise BadBoxes("a box is shorter than its own head")
        if at + size > file_size:
            raise BadBoxes(f"it is cut short: the part {kind.decode('latin-1')} lacks its end")
        yield Place(kind, at, at + start, size - start)
        at += size


def full(version: int, flags: int, rest: bytes) -> bytes:
    """Put version and flags before what a 'full box' holds (ISO/IEC 14496-12, 4.2)."""
    return struct.pack(">I", version << 24 | flags) + rest
