"""Small films made on the spot, and what an independent reader (FFmpeg's, through PyAV) finds in a film."""

# ruff: noqa: ANN401 - what the library gives has no types where it is not installed

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from reelnotes.picture.blend import Panel
from reelnotes.picture.film import Film, as_it_was, open_film, write_film
from reelnotes.picture.headers import put_track_times
from reelnotes.picture.tables import put_samples

av = pytest.importorskip("av", reason="the library that encodes the test films is not installed")

SOUND_RATE = 48_000
#: Grey of the ground of every test film, and where each picture carries its own number.
GROUND, CELL, BITS = 100, 8, 10


@dataclass(frozen=True)
class Kind:
    """How a test film is made."""

    frames: int = 125
    size: tuple[int, int] = (320, 180)
    rate: Fraction = Fraction(25)
    pixels: str = "yuv420p"
    coding: str = "keyint=50:min-keyint=50:scenecut=0:bframes=3:b-pyramid=none"
    options: tuple[tuple[str, str], ...] = ()
    sound: str | None = "aac"
    suffix: str = ".mp4"
    times_ms: tuple[int, ...] = ()
    start_ms: int = 0
    rotation: int = 0
    aspect: Fraction = Fraction(1)
    muxing: tuple[tuple[str, str], ...] = ()
    chapters: tuple[tuple[int, int, str], ...] = ()
    texts: tuple[tuple[int, int, str], ...] = ()
    tags: tuple[tuple[str, str], ...] = ()
    timecode: str = ""
    codec: str = "libx264"


@dataclass
class Found:
    """What a reader found: pictures by time with their hash, packets by track, messages of the decoder."""

    times: list[Fraction] = field(default_factory=list)
    hashes: list[str] = field(default_factory=list)
    pictures: list[npt.NDArray[Any]] = field(default_factory=list)
    packets: dict[str, list[tuple[Fraction, Fraction, str]]] = field(default_factory=dict)
    keys: list[Fraction] = field(default_factory=list)
    messages: list[str] = field(default_factory=list)
    tags: dict[str, str] = field(default_factory=dict)
    chapters: list[tuple[Fraction, Fraction, str]] = field(default_factory=list)
    streams: list[tuple[Any, ...]] = field(default_factory=list)
    rotation: int = 0


class Studio:
    """Makes films once a session and looks into them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.made: dict[Kind, Path] = {}
        self.looked: dict[Path, Found] = {}

    def make(self, kind: Kind | None = None, **changes: Any) -> Path:
        """Give a film of a kind; the same kind is the same file."""
        kind = kind or Kind(**changes)
        if kind not in self.made:
            path = self.folder / f"film-{len(self.made)}{kind.suffix}"
            _make(path, kind)
            self.made[kind] = path
        return self.made[kind]

    def edit(self, path: Path, name: str, change: Callable[[Film], None]) -> Path:
        """Give a copy of a film whose boxes and tables were changed."""
        target = self.folder / f"{path.stem}-{name}{path.suffix}"
        if not target.exists():
            with open_film(path) as film, target.open("wb") as file:
                change(film)
                for track in film.tracks:
                    if track.samples is not None:
                        had = track.tables.first(b"ctts") is not None
                        put_samples(track.tables, track.samples, composition=had)
                write_film(film, [as_it_was(track) for track in film.tracks], file, file, lambda _: None)
        return target

    def trimmed(self, from_ms: int = 720) -> Path:
        """Give a film shown from a time on, for 3.2 s, after half a second of nothing; its sound likewise."""

        def trim(film: Film) -> None:
            for track in film.tracks:
                track.begin += round(Fraction(from_ms, 1000) * track.scale)
                track.delay, track.lasts, track.edited = Fraction(1, 2), Fraction(32, 10), True
                put_track_times(film, track)

        return self.edit(self.make(), f"trimmed-{from_ms}", trim)

    def look(self, path: Path) -> Found:
        """Read and decode a whole film. Remembers by path, so a path must not be written twice."""
        if path not in self.looked:
            self.looked[path] = _look(path)
        return self.looked[path]

    def number_in(self, picture: npt.NDArray[Any], most: int = 255) -> int:
        """Read the number that a picture carries in its upper left corner."""
        return sum(
            1 << bit
            for bit in range(BITS)
            if picture[CELL // 2, bit * CELL + 2 : (bit + 1) * CELL - 2].mean() > most / 2
        )

    def panel(self, path: Path, start_ms: int, end_ms: int, *, fade_ms: int = 300) -> Panel:
        """Give a white panel with a black bar, low in the picture, for a film as it is shown."""
        from reelnotes.picture.probe import probe

        shown = probe(path).facts.shown
        width, height = shown[0] // 2, shown[1] // 4
        picture = np.full((height, width, 4), 255, np.uint8)
        picture[height // 3 : height // 2, :, :3] = 0
        left, top = shown[0] // 4, shown[1] // 2
        return Panel(picture, start_ms, end_ms, shown, left=left, top=top, fade_ms=fade_ms)


@pytest.fixture(scope="session")
def studio(tmp_path_factory: pytest.TempPathFactory) -> Studio:
    """Give the maker and reader of test films."""
    return Studio(tmp_path_factory.mktemp("films"))


def _make(path: Path, kind: Kind) -> None:
    with av.open(str(path), "w", options=dict(kind.muxing)) as made:
        video = made.add_stream(kind.codec, rate=kind.rate)
        video.width, video.height, video.pix_fmt = *kind.size, kind.pixels
        video.codec_context.sample_aspect_ratio = kind.aspect
        if kind.times_ms:
            video.codec_context.time_base = Fraction(1, 1000)
        coding = {"x264-params": kind.coding} if kind.codec == "libx264" else {"x265-params": kind.coding}
        video.options = {"preset": "veryfast", **coding, **dict(kind.options)}
        if kind.rotation:
            video.set_display_rotation(kind.rotation)
        if kind.timecode:
            video.metadata["timecode"] = kind.timecode
        sound = made.add_stream(kind.sound, rate=SOUND_RATE, layout="stereo") if kind.sound else None
        text = made.add_mux_stream("mov_text") if kind.texts else None
        made.metadata.update(dict(kind.tags))
        made.set_chapters([_chapter(number, *row) for number, row in enumerate(kind.chapters)])
        for number in range(kind.frames):
            made.mux(video.encode(_picture(kind, number)))
        made.mux(video.encode(None))
        if sound is not None:
            _put_sound(made, sound, kind)
        for row in kind.texts:
            made.mux(_text_packet(text, *row))


def _chapter(number: int, start: int, end: int, title: str) -> dict[str, Any]:
    ticks = {"id": number + 1, "start": start, "end": end, "time_base": Fraction(1, 1000)}
    return {**ticks, "metadata": {"title": title}}


def _text_packet(stream: Any, start: int, end: int, text: str) -> Any:
    raw = text.encode()
    packet = av.Packet(len(raw).to_bytes(2) + raw)
    packet.pts = packet.dts = start
    packet.duration, packet.time_base, packet.stream = end - start, Fraction(1, 1000), stream
    return packet


def _picture(kind: Kind, number: int) -> Any:
    """Draw a grey ground with a slope that moves, and the picture's number in light and dark cells."""
    width, height = kind.size
    across = (np.arange(width) + 3 * number) % 64
    grey = np.broadcast_to(GROUND + across // 4, (height, width)).astype(np.uint8).copy()
    for bit in range(BITS):
        grey[:CELL, bit * CELL : (bit + 1) * CELL] = 235 if number >> bit & 1 else 16
    frame = av.VideoFrame.from_ndarray(grey, format="gray").reformat(
        format=kind.pixels, src_color_range="JPEG", dst_color_range="JPEG"
    )
    unit = Fraction(1, 1000) if kind.times_ms else 1 / kind.rate
    ticks = kind.times_ms[number] if kind.times_ms else number
    frame.pts, frame.time_base = ticks + round(kind.start_ms / 1000 / unit), unit
    return frame


def _put_sound(made: Any, stream: Any, kind: Kind) -> None:
    """Put in a tone that is never twice the same, so that every packet of it is its own."""
    length = kind.times_ms[-1] / 1000 if kind.times_ms else kind.frames / kind.rate
    rng = np.random.default_rng(7)
    for at in range(0, int(length * SOUND_RATE), 1024):
        values = (rng.standard_normal((2, 1024)) * 0.05).astype(np.float32)
        frame = av.AudioFrame.from_ndarray(values, format="fltp", layout="stereo")
        frame.sample_rate, frame.pts, frame.time_base = SOUND_RATE, at, Fraction(1, SOUND_RATE)
        made.mux(stream.encode(frame))
    made.mux(stream.encode(None))


def _look(path: Path) -> Found:
    found = Found()
    av.logging.set_level(av.logging.WARNING)
    try:
        with av.logging.Capture(local=False) as log, av.open(str(path)) as container:
            video = container.streams.video[0]
            for packet in container.demux():
                if packet.size:
                    _note_packet(found, packet)
                if packet.stream.type == "video":
                    for frame in video.decode(packet):
                        picture = frame.to_ndarray()
                        found.times.append(frame.pts * frame.time_base)
                        found.hashes.append(hashlib.md5(picture.tobytes(), usedforsecurity=False).hexdigest())
                        found.pictures.append(picture[: frame.height] if picture.ndim == 2 else picture[0])
                        found.rotation = frame.rotation
        found.messages = [text for level, _, text in log if level <= av.logging.WARNING]
    finally:
        av.logging.set_level(None)
    with av.open(str(path)) as container:
        found.tags = dict(container.metadata)
        found.chapters = [
            (c["start"] * c["time_base"], c["end"] * c["time_base"], c["metadata"]["title"])
            for c in container.chapters()
        ]
        found.streams = [_stream_facts(stream) for stream in container.streams]
    return found


def _note_packet(found: Found, packet: Any) -> None:
    base = packet.time_base
    decode_at = packet.pts if packet.dts is None else packet.dts
    row = (
        packet.pts * base,
        decode_at * base,
        hashlib.md5(bytes(packet), usedforsecurity=False).hexdigest(),
    )
    found.packets.setdefault(f"{packet.stream.type}-{packet.stream.index}", []).append(row)
    if packet.stream.type == "video" and packet.is_keyframe:
        found.keys.append(row[0])


def _stream_facts(stream: Any) -> tuple[Any, ...]:
    context = stream.codec_context
    facts = [
        stream.type,
        stream.time_base,
        stream.start_time,
        stream.duration,
        stream.frames,
        str(stream.disposition),
    ]
    if stream.type == "video":
        facts += [context.width, context.height, context.pix_fmt, context.color_range, context.colorspace]
        facts += [context.color_primaries, context.color_trc, stream.sample_aspect_ratio, stream.average_rate]
    return tuple(facts)


@pytest.fixture
def target(tmp_path: Path) -> Path:
    """Give a path for the film to be written."""
    return tmp_path / "new.mp4"
