"""What a video is, and whether single pictures of it can be coded anew; if not, why."""

from __future__ import annotations

import os
import struct
from collections.abc import Iterator
from contextlib import suppress
from fractions import Fraction
from pathlib import Path

import numpy as np

from reelnotes.picture.avc import IDR, PPS, SPS, Avcc, Sps, first_slice, pps_id, read_avcc, read_sps
from reelnotes.picture.blend import FORMATS, Look, turn_of
from reelnotes.picture.boxes import BadBoxes, Box, children
from reelnotes.picture.coding import PROFILES, CannotPatch, Pictures, load_av
from reelnotes.picture.film import Film, NotTables, Track, entry_boxes, open_film
from reelnotes.picture.refusals import SameFile, TargetForm, TargetName
from reelnotes.picture.tables import Marks, Samples, Whole
from reelnotes.picture.whole_plan import open_video, video_of
from reelnotes.problems import FileUnreadable
from reelnotes.records import frozen

#: Why a whole film has to be coded anew, by a code; each goes on from 'the whole film is coded anew: …'.
REASONS: dict[str, str] = {
    "codec": "its picture is not H.264 in the form that MP4 calls avc1",
    "cropped": "its picture is cropped at the left or the top in a way that the encoder cannot repeat",
    "crossing": "pictures are shown across the start of a group that should stand alone",
    "descriptions": "its picture is described in several ways",
    "edits": "its edit list has several parts or another speed",
    "first": "its first picture cannot be decoded on its own",
    "form": "it is not an MP4 or MOV file",
    "fragments": "it is an MP4 in fragments, as recorders and streams write it",
    "interlaced": "its picture is interlaced",
    "nal-length": "the units of its pictures are not told in four bytes",
    "order": "the decoder and the table of its pictures do not agree on their times",
    "patched-often": "it was patched so often that no number for parameter sets is free",
    "pixels": "nothing can be blended into its kind of pixels",
    "profile": "its H.264 profile is none that the encoder writes",
    "rotation": "its picture is turned by something else than quarter turns",
    "silence": "silence cannot be made for its kind of sound",
    "sound": "its sound does not come in whole frames of AAC that could be left out",
    "times": "two pictures share one time",
    "tracks": "it has not exactly one track of pictures",
}
_TARGETS = frozenset({".mp4", ".m4v", ".mov"})
_HEADS = 4096
_IDENTITY = (1 << 16, 0, 0, 1 << 16)
_REORDER_WINDOW = 16


@frozen
class Facts:
    """What a video is: size as shown and as coded, rate, length, and how many pictures.

    `group_ms` is the longest stretch that has to be decoded from its start (0: not known).
    """

    shown: tuple[int, int]
    coded: tuple[int, int]
    rate: Fraction
    duration_ms: int
    frames: int
    codec: str
    pixels: str
    sound: tuple[str, ...]
    group_ms: int = 0


@frozen
class Probe:
    """Facts of a video; `reason` says why the whole of it must be coded anew, None if parts will do."""

    facts: Facts
    reason: str | None = None

    @property
    def notes(self) -> tuple[str, ...]:
        """What the maker should know beforehand though nothing is wrong."""
        if self.reason is None and self.facts.group_ms >= max(self.facts.duration_ms - 1000, 30_000):
            return (
                "nothing after its first picture stands alone, so all that follows an insert is coded anew",
            )
        return ()


def probe(source: Path) -> Probe:
    """Look at a video without decoding it. Raises `FileUnreadable`, and `LibraryMissing` for other forms."""
    try:
        with open_film(source) as film:
            pictures = pictures_of(film)
            return Probe(_facts(film, pictures, look_of(film, pictures)))
    except (NotTables, CannotPatch) as found:
        return Probe(_facts_by_library(source), REASONS[found.code])


def check_target(source: Path, target: Path) -> None:
    """Hold that the target is another file than the source, in a form that is written.

    Raises `FileUnreadable`, `SameFile`, `TargetForm`, `TargetName`.
    """
    try:
        there = source.stat()
    except FileNotFoundError:
        raise FileUnreadable(source, "there is no such file") from None
    except OSError as error:
        raise FileUnreadable(source, (error.strerror or "the system refused").lower()) from None
    try:
        same = os.path.samestat(there, target.stat())
    except (FileNotFoundError, NotADirectoryError, PermissionError):
        same = False  # what cannot be written to is told when it is written
    except OSError as error:
        raise TargetName(target, (error.strerror or "the system refused").lower()) from None
    if same:
        raise SameFile(source)
    if target.suffix.lower() not in _TARGETS:
        raise TargetForm(target)


def duration_of(film: Film, pictures: Pictures) -> Fraction:
    """Give the length of the programme in seconds: the last picture's or sound's end."""
    ends = [film.tracks_of(b"vide")[0].programme_s(pictures.times[-1] + pictures.samples.length[-1])]
    for track in film.tracks_of(b"soun"):
        if track.samples is not None and len(track.samples):
            rows = track.samples
            ends.append(track.programme_s(rows.decode_at[-1] + rows.length[-1]))
    limits = [t.delay + t.lasts for t in film.tracks_of(b"vide", b"soun") if t.lasts is not None]
    return max(limits) if len(limits) == len(film.tracks_of(b"vide", b"soun")) else max(ends)


def _facts(film: Film, pictures: Pictures, look: Look) -> Facts:
    starts = np.append(np.flatnonzero(pictures.idr), len(pictures.times) - 1)
    longest = int(np.diff(pictures.times[starts]).max())
    return Facts(
        shown=(look.shown_width, look.shown_height),
        coded=(look.width, look.height),
        rate=pictures.rate,
        duration_ms=round(duration_of(film, pictures) * 1000),
        frames=len(pictures.times),
        codec="h264",
        pixels=look.pixels,
        sound=tuple(
            track.entries[0].kind.decode("latin-1") for track in film.tracks_of(b"soun") if track.entries
        ),
        group_ms=longest * 1000 // pictures.scale,
    )


def _facts_by_library(source: Path) -> Facts:
    av = load_av()
    try:
        with open_video(source) as container:
            video = video_of(source, container)
            rate = Fraction(video.average_rate or video.guessed_rate or 25)
            duration_ms = (container.duration or 0) // 1000
            quarter = abs(_rotation(container)) % 180 == 90  # noqa: PLR2004 - degrees
            wide = round(video.width * Fraction(video.sample_aspect_ratio or 1))
            return Facts(
                shown=(video.height, wide) if quarter else (wide, video.height),
                coded=(video.width, video.height),
                rate=rate,
                duration_ms=duration_ms,
                frames=video.frames or round(duration_ms * rate / 1000),
                codec=video.codec_context.name,
                pixels=video.pix_fmt or "",
                sound=tuple(s.codec_context.name for s in container.streams.audio if s.codec_context),
            )
    except av.FFmpegError as error:
        raise FileUnreadable(source, f"it is no video that can be read: {error.strerror}".lower()) from None


def _rotation(container: object) -> int:
    """Decode one picture to see how it is turned: the library tells it with the pictures alone."""
    with suppress(load_av().FFmpegError):
        for frame in container.decode(video=0):  # type: ignore[attr-defined]
            return int(frame.rotation)
    return 0


# --- whether parts can be coded anew -------------------------------------------------------------------


def pictures_of(film: Film) -> Pictures:
    """Give the pictures of a film whose parts can be coded anew. Raises `CannotPatch`, `FileUnreadable`."""
    try:
        return _pictures_of(film)
    except (BadBoxes, struct.error, IndexError) as error:
        words = str(error) if isinstance(error, BadBoxes) else "the table of its pictures is damaged"
        raise FileUnreadable(film.path, words) from None


def _pictures_of(film: Film) -> Pictures:
    _check_tracks(film)
    track = film.tracks_of(b"vide")[0]
    samples = track.samples
    if samples is None or not len(samples):
        raise FileUnreadable(film.path, "it holds no picture")
    entry, avcc = _avc_entry(track)
    idr, between = _find_idr(film, samples)
    sps = _check_sets([*avcc.sps, *(nal for nal in between if nal[0] & 31 == SPS)])
    if not idr[0]:
        raise CannotPatch("first")
    order = np.argsort(samples.shown_at, kind="stable")
    times = samples.shown_at[order]
    if (np.diff(times) <= 0).any():
        raise CannotPatch("times")
    rank = np.empty(len(order), np.int64)
    rank[order] = np.arange(len(order))
    clean = np.append(True, np.maximum.accumulate(rank)[:-1] == np.arange(len(rank) - 1))
    if not clean[idr].all():
        raise CannotPatch("crossing")
    steps = np.diff(times) if len(times) > 1 else samples.length
    return Pictures(
        film=film,
        samples=samples,
        scale=track.scale,
        entry=entry,
        avcc=avcc,
        sps=sps,
        pixels=pixels_of(sps),
        idr=idr,
        times=times,
        rank=rank,
        clean=clean,
        reorder=_most_reordered(rank),
        rate=Fraction(track.scale, max(int(np.median(steps)), 1)),
        between=frozenset(number for nal in between if (number := _set_number(nal)) is not None),
    )


def _check_tracks(film: Film) -> None:
    if len(film.tracks_of(b"vide")) != 1:
        raise CannotPatch("tracks")
    for track in film.tracks:
        if any(entry.kind[:3] == b"enc" or entry.kind == b"drmi" for entry in track.entries):
            raise FileUnreadable(film.path, "it is encrypted")
        dref = track.box.first(b"mdia", b"minf", b"dinf", b"dref")
        if dref is not None and any(
            not box.body[3:4] or not box.body[3] & 1 for box in children(dref.body[8:]) or []
        ):
            raise FileUnreadable(film.path, "its sound or picture lies in another file")
    if not film.tracks_of(b"vide")[0].plain_edits:
        raise CannotPatch("edits")
    if track_turn(film) is None:
        raise CannotPatch("rotation")


def _avc_entry(track: Track) -> tuple[Box, Avcc]:
    if len(track.entries) != 1:
        raise CannotPatch("descriptions" if track.entries else "codec")
    entry = track.entries[0]
    found = next((box for box in entry_boxes(entry) if box.kind == b"avcC"), None)
    if entry.kind != b"avc1" or found is None:
        raise CannotPatch("codec")
    avcc = read_avcc(found.body)
    if avcc.length_bytes != 4:  # noqa: PLR2004 - what the encoder writes
        raise CannotPatch("nal-length")
    return entry, avcc


def _check_sets(nals: list[bytes]) -> Sps:
    sets = [read_sps(nal) for nal in nals]
    first = sets[0]
    if not all(sps.progressive for sps in sets):
        raise CannotPatch("interlaced")
    if any(sps.profile not in PROFILES for sps in sets):
        raise CannotPatch("profile")
    if any(sps.cropped_before for sps in sets):
        raise CannotPatch("cropped")
    if any(
        (s.width, s.height, s.chroma, s.depth) != (first.width, first.height, first.chroma, first.depth)
        for s in sets
    ):
        raise CannotPatch("descriptions")
    if pixels_of(first) not in FORMATS or first.matrix in {0, 8} or first.matrix > 9:  # noqa: PLR2004
        raise CannotPatch("pixels")
    return first


def pixels_of(sps: Sps) -> str:
    """Give the library's name for the kind of pixels a parameter set tells."""
    plain = {0: "gray", 1: "yuv420p", 2: "yuv422p", 3: "yuv444p"}.get(sps.chroma, "")
    if sps.depth == 8:  # noqa: PLR2004 - bits
        return plain.replace("yuv", "yuvj") if sps.full_range else plain
    return f"{plain}{sps.depth}le"


def _find_idr(film: Film, samples: Samples) -> tuple[Marks, set[bytes]]:
    """Find the IDR pictures, and the parameter sets that stand before pictures that can be sought to."""
    found = np.zeros(len(samples), bool)
    sets: set[bytes] = set()
    for row in np.flatnonzero(samples.sync).tolist():
        units = list(_units(film, int(samples.offset[row]), int(samples.size[row])))
        found[row] = first_slice([nal[0] for nal in units]) == IDR
        sets |= {nal for nal in units if nal[0] & 31 in {SPS, PPS} and _set_number(nal) is not None}
    return found, sets


def _set_number(nal: bytes) -> int | None:
    """Read the number of a parameter set, None where it is damaged: then no picture can call for it."""
    with suppress(BadBoxes):
        return read_sps(nal).id if nal[0] & 31 == SPS else pps_id(nal)
    return None


def _units(film: Film, offset: int, size: int) -> Iterator[bytes]:
    """Read the units of a sample up to the first slice: parameter sets whole, of others the first byte."""
    raw, raw_at, at = b"", 0, 0
    while at + 5 <= size:
        if not raw_at <= at <= raw_at + len(raw) - 5:
            raw, raw_at = film.read(offset + at, min(_HEADS, size - at)), at
        length, kind = struct.unpack_from(">IB", raw, at - raw_at)
        if kind & 31 in {SPS, PPS}:
            yield film.read(offset + at + 4, min(length, size - at - 4)) or bytes([kind])
        else:
            yield bytes([kind])
        if 1 <= kind & 31 <= IDR:
            return
        at += 4 + length


def _most_reordered(rank: Whole) -> int:
    """Count for each picture how many shown later were decoded before it, and give the most."""
    count = np.zeros(len(rank), np.int64)
    for back in range(1, min(_REORDER_WINDOW + 1, len(rank))):
        count[back:] += rank[:-back] > rank[back:]
    return int(count.max())


# --- how the picture is shown ----------------------------------------------------------------------------


def track_turn(film: Film) -> object:
    """Read how the picture is turned for showing, None if by no quarter turn."""
    return turn_of(*_matrix(film))


def _matrix(film: Film) -> tuple[int, int, int, int]:
    """Join the matrix of the track with that of the film."""
    a, b, c, d = _matrix_at(film.tracks_of(b"vide")[0].box.first(b"tkhd"), 40)
    e, f, g, h = _matrix_at(film.moov.first(b"mvhd"), 36)
    return a * e + b * g, a * f + b * h, c * e + d * g, c * f + d * h


def _matrix_at(box: Box | None, place: int) -> tuple[int, int, int, int]:
    if box is None:
        return _IDENTITY
    a, b, _, c, d, _ = struct.unpack_from(">6i", box.body, place + (12 if box.body[0] == 1 else 0))
    return (a, b, c, d) if any((a, b, c, d)) else _IDENTITY


def look_of(film: Film, pictures: Pictures) -> Look:
    """Give what decides how a panel is written into the pictures of a film."""
    sps, turn = pictures.sps, turn_of(*_matrix(film))
    if turn is None:
        raise CannotPatch("rotation")
    boxes = {box.kind: box.body for box in entry_boxes(pictures.entry)}
    aspect = sps.aspect or Fraction(1)
    if len(boxes.get(b"pasp", b"")) >= 8:  # noqa: PLR2004 - bytes of two numbers
        across, down = struct.unpack_from(">II", boxes[b"pasp"])
        aspect = Fraction(across, down) if across and down else aspect
    wide, high = round(sps.width * aspect), sps.height
    matrix, transfer = sps.matrix, sps.transfer
    colr = boxes.get(b"colr", b"")
    told = colr[:4] in {b"nclx", b"nclc"} and len(colr) >= 10  # noqa: PLR2004 - bytes of three numbers
    if matrix == 2 and told:  # noqa: PLR2004 - 'not told'
        _, transfer, matrix = struct.unpack_from(">HHH", colr, 4)
    return Look(
        width=sps.width,
        height=sps.height,
        shown_width=high if turn.swaps else wide,
        shown_height=wide if turn.swaps else high,
        turn=turn,
        pixels=pictures.pixels,
        matrix=matrix,
        transfer=transfer,
        full_range=sps.full_range,
    )
