"""Decoding a run of pictures exactly, and encoding one so that it fits into the film around it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING, Any, BinaryIO

import numpy as np

from reelnotes.picture.avc import (
    LEVELS,
    Avcc,
    Sps,
    most_buffered,
    read_avcc,
    read_sps,
    with_buffering,
)
from reelnotes.picture.boxes import Box
from reelnotes.picture.film import Film
from reelnotes.picture.refusals import LibraryMissing
from reelnotes.picture.tables import Marks, Samples, Whole
from reelnotes.problems import FileUnreadable
from reelnotes.records import frozen
from reelnotes.timing import format_time

if TYPE_CHECKING:
    import types

    import av

#: Profile number to the encoder's name for it, and how much more than the table of levels it may use.
PROFILES = {
    66: ("baseline", Fraction(1)),
    77: ("main", Fraction(1)),
    100: ("high", Fraction(5, 4)),
    110: ("high10", Fraction(3)),
    122: ("high422", Fraction(4)),
    244: ("high444", Fraction(4)),
}
#: How thoroughly the encoder looks for savings, and how many earlier pictures it compares with when it does.
PRESETS = {"ultrafast": 1, "superfast": 1, "veryfast": 1, "faster": 2, "fast": 2, "medium": 3, "slow": 5}
_PYRAMID_REFS = 4
#: From so many pictures on it pays to decode on several threads; the encoder is busy on all cores anyway.
_LONG = 1000


class CannotPatch(Exception):  # noqa: N818 - not an error: the whole film is coded anew instead
    """A run that cannot be coded on its own; `code` is a key of `probe.REASONS`."""

    def __init__(self, code: str) -> None:
        self.code = code
        super().__init__(code)


def load_av() -> types.ModuleType:
    """Load the library that decodes and encodes. Raises `LibraryMissing`."""
    try:
        import av
    except ImportError:
        raise LibraryMissing from None
    return av


@frozen
class Quality:
    """How new pictures are coded: the encoder's preset, and its constant rate factor (lower is better)."""

    preset: str = "veryfast"
    rate_factor: int = 18

    def __post_init__(self) -> None:
        """Hold to presets whose needs are known."""
        if self.preset not in PRESETS:
            raise ValueError(f"no preset {self.preset!r}; one of {', '.join(PRESETS)}")


@dataclass(slots=True)
class Pictures:
    """The video track of a film as pictures: `idr` marks where decoding can begin, by decoding order.

    `times` are the times shown in rising order; the number of a picture is its place in that order, and
    `rank` gives it for each row. Up to
    each row marked `clean` the first rows in decoding order are also the first shown, so a cut can lie there.
    `reorder` is how many pictures at most are decoded before one that is shown earlier. `between` are the
    numbers of parameter sets that stand between the pictures, where only a stream may have them.
    """

    film: Film
    samples: Samples
    scale: int
    entry: Box
    avcc: Avcc
    sps: Sps
    pixels: str
    idr: Marks
    times: Whole
    rank: Whole
    clean: Marks
    reorder: int
    rate: Fraction
    between: frozenset[int] = frozenset()

    def start_of(self, number: int) -> int:
        """Give the last place not after a picture from which pictures can be coded anew."""
        return int(np.flatnonzero(self.clean[: number + 1])[-1])

    def idr_before(self, number: int) -> int:
        """Give the last IDR not after a place."""
        return int(np.flatnonzero(self.idr[: number + 1])[-1])

    def idr_after(self, number: int) -> int:
        """Give the first IDR at or after a place, or the end."""
        later = np.flatnonzero(self.idr[number:])
        return number + int(later[0]) if len(later) else len(self.samples)

    def at(self, number: int) -> str:
        """Say where a picture stands, for a sentence."""
        return format_time(int(self.times[number]) * 1000 // self.scale)


# --- decoding ----------------------------------------------------------------------------------------


def decoded(
    pictures: Pictures, first: int, end: int, *, stop: int | None = None
) -> Iterator[tuple[int, av.VideoFrame]]:
    """Decode the pictures `first` to `end` (which must be an IDR or the end), each with its number.

    `stop` ends it before the picture of that number. Decoding begins at an IDR; on the way to `first` it
    leaves out what no other picture hangs on.

    Raises `FileUnreadable` where a picture is damaged, `CannotPatch` where decoder and tables disagree.
    """
    av = load_av()
    start = pictures.idr_before(first)
    context = av.CodecContext.create("h264", "r")
    context.extradata = pictures.avcc.packed()
    context.thread_type, context.thread_count = "AUTO", 1 if end - start < _LONG else 0
    # strict: hold back pictures by the level's rule, where the film does not tell how many
    context.options = {"err_detect": "explode", "strict": "1"}
    number = start
    try:
        for frame in _frames(pictures, context, start, end, first):
            if number < first:  # some were left out
                number = min(int(np.searchsorted(pictures.times, frame.pts or 0)), first)
            if number >= end or frame.pts != pictures.times[number]:
                raise CannotPatch("order")
            if frame.is_corrupt:
                raise FileUnreadable(pictures.film.path, f"the picture at {pictures.at(number)} is damaged")
            if number >= first:
                yield number, frame
            number += 1
            if number == stop:
                return
    except av.FFmpegError:
        at = pictures.at(min(number, end - 1))
        raise FileUnreadable(pictures.film.path, f"the pictures near {at} are damaged") from None
    if number != end:
        raise CannotPatch("order")


def _frames(
    pictures: Pictures, context: av.VideoCodecContext, start: int, end: int, first: int
) -> Iterator[av.VideoFrame]:
    from av import Packet

    rows, wanted_from = pictures.samples, int(pictures.times[first])
    base = Fraction(1, pictures.scale)
    columns = (rows.offset, rows.size, rows.decode_at, rows.shift)
    for offset, size, decode_at, shift in zip(*(c[start:end].tolist() for c in columns), strict=True):
        if not size:  # a picture that was dropped; for the decoder it would mean the end
            raise CannotPatch("order")
        packet = Packet(size)  # made by size and then filled: one made from bytes can hang a threaded decoder
        packet.update(pictures.film.read(offset, size))
        packet.pts, packet.dts, packet.time_base = decode_at + shift, decode_at, base
        context.skip_frame = "DEFAULT" if decode_at + shift >= wanted_from else "NONREF"
        yield from context.decode(packet)
    yield from context.decode(None)


# --- encoding ----------------------------------------------------------------------------------------


@dataclass(slots=True)
class Coded:
    """Pictures coded anew, one row each in decoding order, their bytes in the scratch file.

    `number` counts from the first shown of the run; `sps` and `pps` are the parameter sets they need.
    """

    offset: list[int] = field(default_factory=list)
    size: list[int] = field(default_factory=list)
    number: list[int] = field(default_factory=list)
    sync: list[bool] = field(default_factory=list)
    reorder: int = 0
    sps: bytes = b""
    pps: bytes = b""


@dataclass(slots=True)
class Sets:
    """The parameter sets of a film while runs are added to it; a number for each shape of run.

    `elsewhere` are the numbers of sets that stand between the pictures: those would replace ours.
    """

    avcc: Avcc
    elsewhere: frozenset[int] = frozenset()
    by_shape: dict[int, int] = field(default_factory=dict)

    def number_for(self, reorder: int) -> int:
        """Give the number for a run with so many reordered pictures. Raises `CannotPatch` if none is free."""
        number = self.by_shape.get(reorder, self.avcc.free_id(self.elsewhere))
        if number is None:
            raise CannotPatch("patched-often")
        return number

    def accept(self, coded: Coded) -> None:
        """Keep the sets of a run that is used."""
        number = self.by_shape.get(coded.reorder)
        if number is None:
            self.by_shape[coded.reorder] = read_sps(coded.sps).id
            self.avcc = self.avcc.with_sets(coded.sps, coded.pps)
        elif coded.sps not in self.avcc.sps or coded.pps not in self.avcc.pps:
            raise CannotPatch("order")


@dataclass(slots=True)
class Coder:
    """What all runs of a film share: its pictures and parameter sets, the scratch file, the quality."""

    pictures: Pictures
    sets: Sets
    made: BinaryIO
    quality: Quality

    def code(self, frames: Iterable[av.VideoFrame], forced: set[int], reorder: int) -> Coded:
        """Encode pictures into the scratch file; those numbered in `forced` can be sought to.

        `reorder` is how many pictures may be coded before one shown earlier, at most as in the film.
        Raises `CannotPatch` if what comes out cannot stand in the film.
        """
        number = self.sets.number_for(reorder)
        encoder = _encoder(self.pictures, number, reorder, self.quality)
        kinds = load_av().video.frame.PictureType
        coded = Coded(reorder=reorder)
        for index, frame in enumerate(frames):
            frame.pts, frame.time_base = index, encoder.time_base
            frame.pict_type = kinds.I if index in forced or index == 0 else kinds.NONE
            _keep(encoder.encode(frame), coded, self.made)
        _keep(encoder.encode(None), coded, self.made)
        new = read_avcc(bytes(encoder.extradata or b""))
        film = self.pictures.sps
        told = max(reorder, read_sps(new.sps[0]).reorder or 0, film.reorder or 0)
        coded.sps, coded.pps = with_buffering(new.sps[0], told, most_buffered(film)), new.pps[0]
        made_as = read_sps(coded.sps)
        if (made_as.id, made_as.width, made_as.height) != (number, film.width, film.height):
            raise CannotPatch("order")
        return coded


def _keep(packets: Iterable[Any], coded: Coded, made: BinaryIO) -> None:
    for packet in packets:
        coded.offset.append(made.seek(0, 2))
        coded.size.append(made.write(bytes(packet)))
        coded.number.append(int(packet.pts or 0))
        coded.sync.append(bool(packet.is_keyframe))


def _encoder(pictures: Pictures, number: int, reorder: int, quality: Quality) -> av.VideoCodecContext:
    av = load_av()
    sps = pictures.sps
    name, factor = PROFILES[sps.profile]
    _, rate, buffer = LEVELS.get(sps.level, LEVELS[62])
    encoder = av.CodecContext.create("libx264", "w")
    encoder.width, encoder.height, encoder.pix_fmt = sps.width, sps.height, pictures.pixels
    encoder.time_base, encoder.framerate = 1 / pictures.rate, pictures.rate
    encoder.sample_aspect_ratio = sps.aspect
    encoder.color_primaries, encoder.color_trc, encoder.colorspace = sps.primaries, sps.transfer, sps.matrix
    encoder.color_range = 2 if sps.full_range else 1
    encoder.flags |= av.codec.context.Flags.global_header
    pyramid = reorder > 1 and sps.refs >= _PYRAMID_REFS
    params = {
        "sps-id": number,
        "annexb": 0,
        "open-gop": 0,
        "ref": max(1, min(PRESETS[quality.preset], sps.refs)),
        "bframes": 3 if reorder else 0,
        "b-pyramid": "normal" if pyramid else "none",
        "vbv-maxrate": int(rate * factor),
        "vbv-bufsize": int(buffer * factor),
        "level": "1b" if sps.level == 9 else f"{sps.level // 10}.{sps.level % 10}",  # noqa: PLR2004
    }
    encoder.options = {
        "preset": quality.preset,
        "crf": str(quality.rate_factor),
        "profile": name,
        "forced-idr": "1",
        "x264-params": ":".join(f"{key}={value}" for key, value in params.items()),
    }
    return encoder  # type: ignore[no-any-return]
