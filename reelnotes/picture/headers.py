"""The heads of a film and its tracks: lengths, edit lists, groups of samples, chapter lists."""

from __future__ import annotations

import struct
from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from reelnotes.picture.boxes import BadBoxes, Box, children, full
from reelnotes.picture.film import Film, Track
from reelnotes.picture.joints import Joints
from reelnotes.picture.tables import Whole
from reelnotes.timing import MS_PER_SECOND

_LARGEST = (1 << 31) - 1
_CHAPTER_UNIT = 10_000_000
_MOST_CHAPTERS = 255
_SHORTEST_GROUPS = 12
_BAD_GROUPS = "its table of groups of samples is damaged"
#: Where the length stands in a head of version 0 and of version 1.
_LENGTH_AT = {b"mvhd": (16, 24), b"tkhd": (20, 28), b"mdhd": (16, 24)}


def put_length(box: Box, units: int) -> None:
    """Write the length into `mvhd`, `tkhd` or `mdhd`."""
    version = box.body[0]
    place, form = _LENGTH_AT[box.kind][version], ">Q" if version else ">I"
    size = struct.calcsize(form)
    if units >= 1 << 8 * size:
        raise BadBoxes("it would be longer than its table of contents can tell")
    box.body = box.body[:place] + struct.pack(form, units) + box.body[place + size :]


def put_track_times(film: Film, track: Track) -> int:
    """Write edit list and lengths of a track from its fields and table; give its length in film units."""
    held = track.samples
    media = int(held.length.sum()) if held is not None else 0
    lasts = track.lasts if track.lasts is not None else Fraction(max(media - track.begin, 0), track.scale)
    track.box.drop(b"edts")
    if track.edited or track.begin or track.delay:
        edits = [(round(track.delay * film.scale), -1)] if track.delay else []
        edits.append((round(lasts * film.scale), track.begin))
        long = any(max(edit) > _LARGEST for edit in edits)
        rows = b"".join(struct.pack(">Qqhh" if long else ">Iihh", *edit, 1, 0) for edit in edits)
        elst = Box(b"elst", full(int(long), 0, struct.pack(">I", len(edits)) + rows))
        track.box.put(Box(b"edts", b"", [elst]), after=b"tkhd")
    whole = round((track.delay + lasts) * film.scale)
    for head in track.box.all(b"tkhd"):
        put_length(head, whole)
    for mdia in track.box.all(b"mdia"):
        for head in mdia.all(b"mdhd"):
            put_length(head, media)
    return whole


def regroup(stbl: Box, picked: Whole) -> None:
    """Write the groups of samples anew, given the old row of each new one (-1: as the one before)."""
    for box in stbl.all(b"sbgp"):
        if len(box.body) < _SHORTEST_GROUPS:
            raise BadBoxes(_BAD_GROUPS)
        head = 12 if box.body[0] == 1 else 8
        (count,) = struct.unpack_from(">I", box.body, head)
        if head + 4 + 8 * count > len(box.body):
            raise BadBoxes(_BAD_GROUPS)
        table = np.frombuffer(box.body, ">u4", 2 * count, head + 4).astype(np.int64).reshape(-1, 2)
        group = np.repeat(table[:, 1], table[:, 0])
        rows = np.maximum.accumulate(np.where(picked >= 0, np.arange(len(picked)), 0))
        old = np.minimum(np.maximum(picked[rows], 0), len(group))
        new = np.append(group, 0)[old]
        starts = np.flatnonzero(np.append(True, new[1:] != new[:-1])) if len(new) else new
        runs = np.diff(np.append(starts, len(new)))
        pairs = np.stack([runs, new[starts]], axis=1).astype(">u4")
        box.body = box.body[:head] + struct.pack(">I", len(starts)) + pairs.tobytes()


def move_chapter_list(film: Film, joints: Joints, end_s: Fraction) -> None:
    """Move the times of a chapter list in the film's user data; chapters with no time left go.

    `end_s` is how long the new film is, in seconds.
    """
    for udta in film.moov.all(b"udta"):
        for box in children(udta.body) or []:
            if box.kind == b"chpl":
                old = box.packed()
                box.body = _moved_list(box.body, joints, end_s)
                udta.body = udta.body.replace(old, box.packed(), 1)


def put_chapter_list(film: Film, chapters: Sequence[tuple[int, int, str]]) -> bool:
    """Write chapters (start and end in ms, title) into the film's user data; tell whether it was done.

    A film that has chapters of its own, as a list or as a track, keeps them. The list is the one that players
    read beside a chapter track, `chpl`: at most 255 chapters, titles of at most 255 bytes (no standard; its
    shape is that which FFmpeg reads and writes).
    """
    held = film.moov.all(b"udta")
    links = [tref for track in film.tracks for tref in track.box.all(b"tref")]
    inside = [box.kind for holder in (*held, *links) for box in children(holder.body) or []]
    if not chapters or b"chpl" in inside or b"chap" in inside:
        return False
    rows = [_chapter_row(start_ms, title) for start_ms, _, title in chapters[:_MOST_CHAPTERS]]
    new = Box(b"chpl", full(1, 0, bytes(4) + bytes([len(rows)]) + b"".join(rows)))
    if held:
        held[0].body = new.packed() + held[0].body
    else:
        film.moov.put(Box(b"udta", new.packed()))
    return True


def _chapter_row(start_ms: int, title: str) -> bytes:
    name = title.encode()[:_MOST_CHAPTERS].decode(errors="ignore").encode()  # no half letter at the end
    return struct.pack(">Q", start_ms * _CHAPTER_UNIT // MS_PER_SECOND) + bytes([len(name)]) + name


def _moved_list(body: bytes, joints: Joints, end_s: Fraction) -> bytes:
    """Move a list: version, flags, spare bytes in version 1, a count; then start in 100 ns, length, title.

    Of a list that is cut short the chapters that are whole are kept.
    """
    head = 8 if body[:1] > b"\0" else 4
    at, found = head + 1, []
    for _ in range(int.from_bytes(body[head : head + 1])):
        end = at + 9 + int.from_bytes(body[at + 8 : at + 9])
        if end > len(body):
            at = len(body)
            break
        (start,) = struct.unpack_from(">Q", body, at)
        found.append((joints.moved(Fraction(start, _CHAPTER_UNIT)), body[at + 8 : end]))
        at = end
    ends = [*(start for start, _ in found[1:]), end_s][: len(found)]
    kept = [row for row, later in zip(found, ends, strict=True) if later > row[0]]
    rows = b"".join(struct.pack(">Q", round(start * _CHAPTER_UNIT)) + title for start, title in kept)
    return body[:head].ljust(head, b"\0") + bytes([len(kept)]) + rows + body[at:]


def remove_track(film: Film, track: Track) -> None:
    """Take a track out of the film, and out of the references of others."""
    film.moov.boxes = [box for box in film.moov.boxes or [] if box is not track.box]
    film.tracks = [other for other in film.tracks if other is not track]
    for other in film.tracks:
        for tref in other.box.all(b"tref"):
            kept = []
            for kind in children(tref.body) or []:
                numbers = [n for (n,) in struct.iter_unpack(">I", kind.body) if n != track.id]
                if numbers:
                    kept.append(Box(kind.kind, struct.pack(f">{len(numbers)}I", *numbers)))
            tref.body = b"".join(box.packed() for box in kept)
            if not kept:
                other.box.drop(b"tref")
