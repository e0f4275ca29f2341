"""Spans taken out of a film and pictures held: only the joints are coded anew, sound goes by whole frames."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from reelnotes.model import HeldFrame
from reelnotes.picture.ahead import ahead
from reelnotes.picture.beside import check_sound, cut_data, cut_sound
from reelnotes.picture.burn import CODING, SPARE, Count, programme_ms, replace_pictures
from reelnotes.picture.coding import CannotPatch, Coded, Coder, Pictures, Quality, Sets, decoded
from reelnotes.picture.film import Done, Film, Laid, Progress, Tell, Track, write_film
from reelnotes.picture.headers import (
    move_chapter_list,
    put_chapter_list,
    put_length,
    put_track_times,
    remove_track,
)
from reelnotes.picture.joints import Cutting, Joints, Shown, cut
from reelnotes.picture.patching import patch_or_code_whole
from reelnotes.picture.probe import duration_of, pictures_of
from reelnotes.picture.refusals import NothingLeft, NothingToDo
from reelnotes.picture.tables import MADE, Samples, Whole, chunk_starts, put_samples
from reelnotes.picture.whole_plan import Changes, NewChapter
from reelnotes.store import scratch_file, whole_file
from reelnotes.timing import Span, format_time

if TYPE_CHECKING:
    import av

_ORDER_UNIT = 1_000_000


def take_out(
    source: Path,
    removed: Sequence[Span],
    holds: Sequence[HeldFrame],
    target: Path,
    progress: Progress | None = None,
    *,
    quality: Quality | None = None,
    tell: Tell | None = None,
    chapters: Sequence[NewChapter] = (),
) -> Done:
    """Write a copy of a video without the spans `removed`, and with pictures held.

    `chapters`, in the time of the new film, are written if it has none of its own.

    All times are of the programme as it is. A picture goes if it begins inside a removed span. A picture held
    where a removed span begins is the last one before it, else the one shown at that time. Only the
    pictures that lose what they hang on are coded anew; sound is joined by whole frames, copied, and never
    further from its picture than half a frame (10.7 ms at 48 kHz). Texts, chapters and timecode follow.
    Where the form of the video does not allow it, the whole film is coded anew, and `tell` is called first.

    Raises what `burn_in` raises, `NothingLeft` and `NothingToDo`.
    """
    changes = Changes(removed=tuple(removed), holds=tuple(holds), chapters=tuple(chapters))
    return patch_or_code_whole(source, changes, target, _recut, progress=progress, quality=quality, tell=tell)


def _recut(film: Film, changes: Changes, target: Path, report: Progress, quality: Quality) -> Done:
    pictures = pictures_of(film)
    track = film.tracks_of(b"vide")[0]
    cutting = cutting_of(pictures, track, changes.removed, changes.holds)
    for sound in film.tracks_of(b"soun"):
        check_sound(sound, cutting.joints)
    pieces = _pieces(pictures, cutting.shown)
    total = sum(len(piece.shown) for piece in pieces if not piece.copied)
    count = Count(report, total)
    needs = film.size + SPARE + sum(hold.length_ms for hold in changes.holds) * 1000
    with whole_file(target, needs=needs) as file, scratch_file(target.parent) as made:
        coder = Coder(pictures, Sets(pictures.avcc, pictures.between), made, quality)
        samples = _joined(coder, track, cutting, pieces, count)
        others = {t.id: cut_sound(t, cutting.joints, made) for t in film.tracks_of(b"soun")}
        replace_pictures(track, samples, pictures.entry, coder.sets)
        laid = _lay(film, track, samples, others, cutting.joints)
        named = put_chapter_list(film, changes.chapters)
        write_film(film, laid, made, file, lambda share: report(CODING + (1 - CODING) * share))
    return Done(total, len(samples), chapters=named)


def cutting_of(
    pictures: Pictures, track: Track, removed: Sequence[Span], holds: Sequence[HeldFrame]
) -> Cutting:
    """Decide what goes and what is held. Raises `NothingLeft`, `NothingToDo`."""
    seen = programme_ms(pictures, track)
    length = duration_of(pictures.film, pictures)
    met = [hold for hold in holds if hold.at_ms <= length * 1000]
    cutting = cut(pictures, track, seen, removed, met)
    if cutting is None:
        raise NothingLeft(pictures.film.path)
    if not cutting.joints.all:
        raise NothingToDo(pictures.film.path, format_time(round(length * 1000)))
    return cutting


# --- pictures ----------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Piece:
    """Pictures of the new film that are copied as they lie, or coded anew together, from time `at` on."""

    copied: bool
    at: int
    shown: list[Shown] = field(default_factory=list)

    @property
    def rows(self) -> slice:
        """The rows of a copied piece: its numbers are also its places in decoding order."""
        return slice(self.shown[0].number, self.shown[-1].number + 1)

    @property
    def times(self) -> Whole:
        """When each picture is shown in the new film, not yet moved to its start."""
        lengths = np.array([one.length for one in self.shown], np.int64)
        return self.at + np.cumsum(lengths) - lengths


def _pieces(pictures: Pictures, shown: list[Shown]) -> list[_Piece]:
    """Split the new film into what is copied and what is coded anew."""
    starts = np.flatnonzero(pictures.idr)
    groups: dict[int, list[Shown]] = {}
    of_group = np.searchsorted(starts, [one.number for one in shown], "right") - 1
    for one, group in zip(shown, of_group.tolist(), strict=True):
        groups.setdefault(group, []).append(one)
    pieces: list[_Piece] = []
    at = int(pictures.times[shown[0].number])
    for group, members in groups.items():
        first = int(starts[group])
        end = int(starts[group + 1]) if group + 1 < len(starts) else len(pictures.times)
        kept = _copyable(pictures, members, first, end)
        for copied, part in ((True, members[:kept]), (False, members[kept:])):
            if part:
                if copied or not pieces or pieces[-1].copied:
                    pieces.append(_Piece(copied, at))
                pieces[-1].shown += part
                at += sum(one.length for one in part)
    return pieces


def _copyable(pictures: Pictures, members: list[Shown], first: int, end: int) -> int:
    """Count the pictures at the start of a group that can stay as they lie."""
    same = 0
    while same < len(members) and not members[same].held and members[same].number == first + same:
        same += 1
    if same == end - first:
        return same
    return pictures.start_of(first + same) - first


def _joined(coder: Coder, track: Track, cutting: Cutting, pieces: list[_Piece], count: Count) -> Samples:
    """Make the new table of pictures, and set the start of the track in the programme."""
    pictures = coder.pictures
    parts: list[Samples] = []
    last: int | None = None
    for number, piece in enumerate(pieces):
        if piece.copied:
            part = pictures.samples.rows(piece.rows)
            part.decode_at = part.decode_at + piece.at - pictures.times[piece.rows.start]
        else:
            part = _coded_part(coder, piece, last, _lag(pictures, pieces[number + 1 :], piece), count)
        last = int(part.decode_at[-1])
        part.chunk = part.chunk + (parts[-1].chunk[-1] + 1 if parts else 0) - part.chunk[0]
        parts.append(part)
    samples = Samples.joined(parts)
    start = int(samples.decode_at[0])
    samples.decode_at = samples.decode_at - start
    steps = np.diff(samples.decode_at)
    if (steps <= 0).any():
        raise CannotPatch("order")
    samples.length = np.append(steps, cutting.shown[-1].length)
    _move_start(pictures, track, cutting, pieces[0].at - start)
    return samples


def _lag(pictures: Pictures, later: list[_Piece], piece: _Piece) -> int:
    """Give how long before it is shown a picture is decoded: as in the group behind the joint."""
    row = later[0].rows.start if later else pictures.idr_before(piece.shown[0].number)
    return int(pictures.samples.shift[row])


def _coded_part(coder: Coder, piece: _Piece, last: int | None, lag: int, count: Count) -> Samples:
    pictures, times, size = coder.pictures, piece.times, len(piece.shown)
    decode_at = times - lag
    if last is not None:
        decode_at = np.maximum(decode_at, last + 1 + np.arange(size))
    least = min(0, int(pictures.samples.shift.min()))
    forced = _forced(pictures, piece.shown)
    for reorder in dict.fromkeys((min(pictures.reorder, 2), 0)):
        coded = coder.code(_frames(pictures, piece.shown, count), forced, reorder)
        if sorted(coded.number) != list(range(size)):
            raise CannotPatch("order")
        shift = times[np.array(coded.number)] - decode_at
        if (shift >= least).all():
            break
    else:
        raise CannotPatch("order")
    coder.sets.accept(coded)
    count.before += size
    return _rows(coded, decode_at, shift, max(round(pictures.rate), 1))


def _rows(coded: Coded, decode_at: Whole, shift: Whole, a_chunk: int) -> Samples:
    size = len(decode_at)
    return Samples(
        where=np.full(size, MADE),
        offset=np.array(coded.offset, np.int64),
        size=np.array(coded.size, np.int64),
        decode_at=decode_at,
        shift=shift,
        length=np.zeros(size, np.int64),
        sync=np.array(coded.sync, bool),
        chunk=np.arange(size) // a_chunk,
        entry=np.ones(size, np.int64),
    )


def _forced(pictures: Pictures, shown: list[Shown]) -> set[int]:
    """Pick the pictures that can be sought to: those of the old film, and the first behind each joint."""
    sync = set(pictures.rank[pictures.samples.sync].tolist())
    return {
        place
        for place, one in enumerate(shown)
        if not one.held
        and (one.number in sync or (place and shown[place - 1].number not in {one.number, one.number - 1}))
    }


def _frames(pictures: Pictures, shown: list[Shown], count: Count) -> Iterator[av.VideoFrame]:
    """Decode what a piece needs, group by group, and give each picture as often as it is shown."""
    place = 0
    while place < len(shown):
        first = shown[place].number
        end = pictures.idr_after(first + 1)
        upto = place
        while upto < len(shown) and shown[upto].number < end:
            upto += 1
        for number, frame in ahead(decoded(pictures, first, end, stop=shown[upto - 1].number + 1)):
            while place < upto and shown[place].number == number:
                yield frame
                place += 1
                count.at(place)
        if place != upto:
            raise CannotPatch("order")


def _move_start(pictures: Pictures, track: Track, cutting: Cutting, first_at: int) -> None:
    """Let the first picture seen stand where the first one stood, or where that was taken out.

    `first_at` is the time of the first picture of all, seen or not.
    """
    old_end = None if track.lasts is None else track.delay + track.lasts
    lead = int(pictures.times[cutting.first_seen]) - track.begin
    unseen = sum(one.length for one in cutting.shown if one.number < cutting.first_seen)
    if cutting.first_gone:
        start = cutting.joints.all[0].gone_from
        track.delay = min(track.delay, start)
        lead = round((start - track.delay) * track.scale)
    elif cutting.first_held:
        lead = max(lead, 0)
    track.begin = first_at + unseen - lead
    if track.begin < 0:
        track.delay, track.begin = track.delay - Fraction(track.begin, track.scale), 0
    if old_end is not None:
        track.lasts = cutting.joints.moved(old_end, behind=True) - track.delay


# --- all together ------------------------------------------------------------------------------------------


def _lay(
    film: Film, pictures: Track, samples: Samples, sounds: dict[int, Samples], joints: Joints
) -> list[Laid]:
    """Give every track its new table, edit list and length."""
    pictures.samples = samples
    for track in list(film.tracks):
        if track is pictures:
            continue
        old_end = None if track.lasts is None else track.delay + track.lasts
        track.samples = sounds[track.id] if track.id in sounds else cut_data(track, joints)
        if not len(track.samples):
            remove_track(film, track)
            continue
        heard = track.id in sounds
        track.delay = joints.begun(track.delay) if heard else joints.moved(track.delay)
        if old_end is not None:
            track.lasts = joints.moved(old_end, behind=heard) - track.delay
        _put_table(track)
    longest = max(put_track_times(film, track) for track in film.tracks)
    move_chapter_list(film, joints, Fraction(longest, film.scale))
    for head in film.moov.all(b"mvhd"):
        put_length(head, longest)
    return [_by_time(track) for track in film.tracks]


def _put_table(track: Track) -> None:
    if track.samples is not None:
        put_samples(track.tables, track.samples, composition=False)


def _by_time(track: Track) -> Laid:
    held = track.samples
    if held is None:
        raise CannotPatch("sound")
    at = held.decode_at[chunk_starts(held)].tolist()
    order = np.array([int(track.programme_s(one) * _ORDER_UNIT) for one in at], np.int64)
    return Laid(track, held, order)
