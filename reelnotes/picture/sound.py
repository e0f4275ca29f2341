"""How loud a film is, by ITU-R BS.1770, with FFmpeg's `ebur128` filter; and its level from moment to moment.

The sound is laid on the programme's time first: it starts at 0, and gaps in it are silence. One channel alone
is measured as if it came from two loudspeakers, as it will be heard.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from reelnotes.picture.coding import load_av
from reelnotes.picture.stopping import heeding
from reelnotes.picture.whole_plan import open_video, origin_of
from reelnotes.problems import FileUnreadable
from reelnotes.records import frozen
from reelnotes.timing import MS_PER_SECOND, Span, format_time

if TYPE_CHECKING:
    import av

#: Levels are told for stretches of so long.
BLOCK_MS = 50
#: Below this nothing is measured: the absolute gate of BS.1770.
GATE_LUFS = -70.0
#: From mean square to loudness (ITU-R BS.1770).
_OFFSET = -0.691
_RATE = 48_000
#: The K-weighting of BS.1770 for 48 kHz, from memory: a shelf for the head, and a high pass. Levels made with
#: it are tested against the meter's own.
_WEIGHTING = (
    "biquad=b0=1.53512485958697:b1=-2.69169619:b2=1.19839281085285:a0=1:a1=-1.69065929318241:a2=0.73248077421585",
    "biquad=b0=1:b1=-2:b2=1:a0=1:a1=-1.99004745483398:a2=0.99007225036621",
)
#: Where channels stand that a file only counts (common practice).
_USUAL = {1: "mono", 2: "stereo", 3: "3.0", 4: "4.0", 5: "5.0", 6: "5.1", 8: "7.1"}
#: So many samples in a row at full scale are clipped; one or two can be a peak that just reaches it.
_CLIPPED_RUN = 3
_FULL = 0.9999
_MANY = 8
#: Clipped places closer than this are told as one.
_APART_MS = 1000

Levels = npt.NDArray[np.float64]


@frozen
class Heard:
    """What was measured of a film's sound; loudness in LUFS and LU, peaks in dBTP, None where it is silent.

    `film_ms` is how long picture and sound are together, `length_ms` the sound alone.
    `levels` are mean squares, K-weighted, one for each `BLOCK_MS`; `channels` the mean square of each
    channel.
    """

    length_ms: int
    film_ms: int
    integrated: float | None
    range: float
    short_term: float | None
    short_term_at_ms: int
    momentary: float | None
    momentary_at_ms: int
    true_peak: float | None
    levels: Levels = field(repr=False)
    channels: tuple[float, ...] = ()
    clipped: tuple[Span, ...] = ()


def level_of(mean_square: float) -> float:
    """Turn a K-weighted mean square into LUFS; silence is −120."""
    return 10 * math.log10(max(mean_square, 1e-12)) + _OFFSET


def mean_square_of(lufs: float) -> float:
    """Turn LUFS into a K-weighted mean square; the inverse of `level_of`."""
    return float(10 ** ((lufs - _OFFSET) / 10))


def hear(video: Path, report: Callable[[float], None] | None = None) -> Heard | None:
    """Measure the sound of a film, its first track; None where it has none.

    `report` is told the share that is done. Raises `FileUnreadable`, `LibraryMissing`.
    """
    library, heard_s = load_av(), None
    try:
        with heeding(report) as told, open_video(video) as container:
            stream = next((s for s in container.streams.audio if s.codec_context is not None), None)
            if stream is None and not container.streams.video:
                raise FileUnreadable(video, "it holds neither picture nor sound")
            if stream is None:
                return None
            stream.thread_type = "AUTO"
            film_ms = (container.duration or 0) // 1000
            heard_s, ear = 0.0, _Ear(library, stream, origin_of(container))
            for frame in container.decode(stream):
                ear.take(frame)
                heard_s = frame.time or 0.0
                told(min((frame.time or 0.0) * MS_PER_SECOND / max(film_ms, 1), 1.0))
            return ear.heard(film_ms)
    except library.FFmpegError as error:
        words = f"it is no video that can be read: {error.strerror}".lower()
        if heard_s is not None:
            words = f"its sound near {format_time(round(heard_s * MS_PER_SECOND))} is damaged"
        raise FileUnreadable(video, words) from None
    except (OSError, ValueError) as error:
        raise FileUnreadable(video, str(error).lower()) from None


class _Ear:
    """What listens to one track, frame by frame."""

    def __init__(self, library: Any, stream: av.AudioStream, origin: Fraction) -> None:  # noqa: ANN401 - loads late
        self._library, self._stream = library, stream
        self._origin = origin
        self._mono = stream.codec_context.layout.nb_channels == 1
        self._meter = self._graph("ebur128=peak=true:metadata=1:dualmono=true")
        blocks = f"asetnsamples=n={_RATE * BLOCK_MS // MS_PER_SECOND}:p=1"
        # interleaved: the library reads memory that is not there where eight channels have a plane each
        self._weighted = self._graph(
            "aformat=sample_fmts=dblp", *_WEIGHTING, blocks, "aformat=sample_fmts=dbl"
        )
        layout = stream.codec_context.layout
        many = stream.codec_context.format.is_planar and layout.nb_channels >= _MANY
        self._joined = library.AudioResampler("dbl", layout.name) if many else None
        self._loudness = _Loudness()
        self._levels: list[float] = []
        self._samples = _Samples()

    def _graph(self, *filters: str) -> Any:  # noqa: ANN401 - loads late
        graph = self._library.filter.Graph()
        # Gaps become silence and the first sound stands at its time; the weighting is for this rate.
        chain = [f"aresample={_RATE}:async=1:first_pts=0", self._named(), *filters, "abuffersink"]
        last = graph.add_abuffer(template=self._stream)
        for name, _, options in (text.partition("=") for text in chain):
            node = graph.add(name, options or None)
            last.link_to(node)
            last = node
        graph.configure()
        return graph

    def _named(self) -> str:
        """Give channels that a file only counts their usual places: filters weigh none without a place."""
        layout = self._stream.codec_context.layout
        usual = _USUAL.get(layout.nb_channels, layout.name)
        known = all(channel.name != "NONE" for channel in layout.channels)
        return f"aformat=channel_layouts={layout.name if known else usual}"

    def take(self, frame: av.AudioFrame) -> None:
        """Listen to a decoded frame."""
        if frame.pts is not None and frame.time_base:
            frame.pts -= round(self._origin / frame.time_base)
        at_ms = round((frame.time or 0.0) * MS_PER_SECOND)
        for part in self._joined.resample(frame) if self._joined else [frame]:
            self._samples.take(_as_shares(part), at_ms, frame.sample_rate)
        for graph in (self._meter, self._weighted):
            graph.push(frame)
        self._drain()

    def _drain(self) -> None:
        for frame in self._pulled(self._meter):
            self._loudness.take(frame.metadata, (frame.pts or 0) * MS_PER_SECOND // _RATE)
        for frame in self._pulled(self._weighted):
            squares = (frame.to_ndarray().reshape(-1, frame.layout.nb_channels) ** 2).mean(axis=0)
            self._levels.append(float(squares.sum()) * (2 if self._mono else 1))

    def _pulled(self, graph: Any) -> Iterator[av.AudioFrame]:  # noqa: ANN401 - loads late
        while True:
            try:
                yield graph.pull()
            except (self._library.BlockingIOError, self._library.EOFError):
                return

    def heard(self, film_ms: int) -> Heard | None:
        """Give what was heard, once all was."""
        for graph in (self._meter, self._weighted):
            graph.push(None)
        self._drain()
        if not self._levels:
            return None
        found = self._loudness
        return Heard(
            length_ms=len(self._levels) * BLOCK_MS,
            film_ms=max(film_ms, len(self._levels) * BLOCK_MS),
            integrated=found.integrated if found.integrated > GATE_LUFS else None,
            range=found.range,
            short_term=found.short_term[0] if found.short_term[0] > GATE_LUFS else None,
            short_term_at_ms=found.short_term[1],
            momentary=found.momentary[0] if found.momentary[0] > GATE_LUFS else None,
            momentary_at_ms=found.momentary[1],
            true_peak=20 * math.log10(found.true_peak) if found.true_peak > 0 else None,
            levels=np.array(self._levels),
            channels=self._samples.channels(),
            clipped=self._samples.clipped(),
        )


@dataclass(slots=True)
class _Loudness:
    """What the meter said last, and its highest values with the time at which their windows begin."""

    integrated: float = GATE_LUFS
    range: float = 0.0
    short_term: tuple[float, int] = (-200.0, 0)
    momentary: tuple[float, int] = (-200.0, 0)
    true_peak: float = 0.0

    def take(self, said: dict[str, str], at_ms: int) -> None:
        """Take what the meter says at the end of 100 ms that began at a time."""
        self.integrated = float(said.get("lavfi.r128.I", self.integrated))
        self.range = float(said.get("lavfi.r128.LRA", self.range))
        short, momentary = float(said.get("lavfi.r128.S", -200)), float(said.get("lavfi.r128.M", -200))
        if short > self.short_term[0]:
            self.short_term = (short, max(0, at_ms + 100 - 3000))
        if momentary > self.momentary[0]:
            self.momentary = (momentary, max(0, at_ms + 100 - 400))
        peaks = [float(value) for key, value in said.items() if key.startswith("lavfi.r128.true_peaks_ch")]
        self.true_peak = max([self.true_peak, *peaks])


class _Samples:
    """The samples themselves: where they run at full scale, and how much each channel carries."""

    def __init__(self) -> None:
        self._squares: npt.NDArray[np.float64] | None = None
        self._count = 0
        self._tail: npt.NDArray[np.float64] | None = None
        self._spans: list[Span] = []

    def take(self, samples: npt.NDArray[np.float64], at_ms: int, rate: int) -> None:
        """Look at samples, channels by time, that begin at a time."""
        if self._squares is None or self._tail is None or len(self._squares) != len(samples):
            self._squares, self._count = np.zeros(len(samples)), 0
            self._tail = np.zeros((len(samples), _CLIPPED_RUN - 1))
        self._squares += (samples**2).sum(axis=1)
        self._count += samples.shape[1]
        joined = np.concatenate([self._tail, samples], axis=1)
        self._tail = joined[:, -(_CLIPPED_RUN - 1) :]
        if np.abs(samples).max(initial=0.0) < _FULL:
            return
        # A run has one sign: what swings from side to side at full scale is loud and not clipped.
        sides = np.sign(joined) * (np.abs(joined) >= _FULL)
        run = sides[:, _CLIPPED_RUN - 1 :] != 0
        for back in range(1, _CLIPPED_RUN):
            run &= sides[:, _CLIPPED_RUN - 1 :] == sides[:, _CLIPPED_RUN - 1 - back : -back]
        places = np.flatnonzero(run.any(axis=0))
        if len(places):
            self._note(at_ms + int(places[0]) * 1000 // rate, at_ms + int(places[-1]) * 1000 // rate + 1)

    def _note(self, start_ms: int, end_ms: int) -> None:
        start_ms = max(start_ms, 0)
        end_ms = max(end_ms, start_ms)
        if self._spans and start_ms - self._spans[-1].end_ms < _APART_MS:
            start_ms = self._spans.pop().start_ms
        self._spans.append(Span(start_ms, end_ms))

    def clipped(self) -> tuple[Span, ...]:
        """Give the places where the sound is clipped."""
        return tuple(self._spans)

    def channels(self) -> tuple[float, ...]:
        """Give the mean square of each channel."""
        if self._squares is None or not self._count:
            return ()
        return tuple((self._squares / self._count).tolist())


def _as_shares(frame: av.AudioFrame) -> npt.NDArray[np.float64]:
    """Give the samples of a frame as shares of full scale, channels by time."""
    values = frame.to_ndarray()
    channels = frame.layout.nb_channels
    if not frame.format.is_planar:
        values = values.reshape(-1, channels).T
    if values.dtype.kind == "f":
        return values.astype(np.float64)
    if values.dtype == np.uint8:
        return (values.astype(np.float64) - 128) / 128
    return values.astype(np.float64) / float(1 << (8 * values.dtype.itemsize - 1))
