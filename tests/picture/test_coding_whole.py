"""Films that are coded anew as a whole: the panel, the cuts, sound, captions, chapters, turn and tags."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pytest

from reelnotes.model import HeldFrame
from reelnotes.picture.burn import burn_in
from reelnotes.picture.coding import Quality
from reelnotes.picture.probe import probe
from reelnotes.picture.splice import take_out
from reelnotes.picture.whole import expected_s
from reelnotes.timing import Span

if TYPE_CHECKING:
    from tests.picture.conftest import Studio

KINDS: dict[str, dict[str, Any]] = {
    "matroska": {"suffix": ".mkv"},
    "transport stream": {"suffix": ".ts"},
    "hevc": {"codec": "libx265", "coding": "log-level=none"},
    "hevc of 10 bits": {"codec": "libx265", "coding": "log-level=none", "pixels": "yuv420p10le"},
    "interlaced": {"coding": "tff=1", "options": (("flags", "+ilme+ildct"),)},
    "fragments": {"muxing": (("movflags", "frag_keyframe"),)},
    "grey": {"pixels": "gray"},
    "uneven times": {"suffix": ".mkv", "times_ms": tuple(t * 40 + (t * 7919) % 23 for t in range(125))},
    "turned": {"suffix": ".mkv", "rotation": -90},
    "plain sound": {"suffix": ".mkv", "sound": "pcm_s16le"},
    "no sound": {"suffix": ".mkv", "sound": None},
}


def numbers(studio: Studio, path: Path) -> list[int]:
    """Read the numbers that the pictures carry."""
    return [studio.number_in(p, int(p.max())) for p in studio.look(path).pictures]


@pytest.mark.parametrize("name", KINDS)
def test_a_panel_in_any_film(studio: Studio, target: Path, name: str) -> None:
    """Every picture is there at its time, the panel is on those of its window."""
    source = studio.make(**KINDS[name])
    told: list[str] = []
    shares: list[float] = []
    panel = studio.panel(source, 1600, 3000)
    done = burn_in(source, [panel], target, shares.append, tell=told.append)
    reason = probe(source).reason
    assert reason
    assert done.reason == reason
    assert reason in told[0]
    before, after = studio.look(source), studio.look(target)
    assert after.messages == []
    assert numbers(studio, target) == numbers(studio, source)
    start = before.times[0] - after.times[0]
    assert all(abs(b - a - start) < Fraction(1, 500) for b, a in zip(before.times, after.times, strict=True))
    at = [round(t * 1000) for t in after.times]
    pairs = zip(before.pictures, after.pictures, strict=True)
    found = [t for t, (old, new) in zip(at, pairs, strict=True) if brighter(old, new)]
    assert found == [t for t in at if 1600 <= t < 3000]
    assert after.rotation == before.rotation
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def brighter(old: npt.NDArray[Any], new: npt.NDArray[Any]) -> bool:
    """Tell whether the middle of a picture became brighter by some of the way to white."""
    height, width = old.shape
    middle = (slice(height // 2 + 2, height // 2 + 12), slice(width // 2 + 2, width // 2 + 12))
    change = new[middle].astype(float) - old[middle]
    return bool(change.mean() > 0.03 * (max(255, int(old.max())) - old[middle].mean()))


@pytest.mark.parametrize("name", ["matroska", "plain sound", "hevc", "interlaced", "no sound"])
def test_cuts_and_holds_in_any_film(studio: Studio, target: Path, name: str) -> None:
    """1.6 to 3.0 s out, the picture before it held for 0.8 s: the right pictures, evenly, sound with them."""
    source = studio.make(**KINDS[name])
    done = take_out(source, [Span(1600, 3000)], [HeldFrame(1600, 800)], target)
    assert done.reason
    found = studio.look(target)
    assert found.messages == []
    assert numbers(studio, target) == [*range(40), *[39] * 20, *range(75, 125)]
    steps = {round((b - a) * 1000) for a, b in pairwise(found.times)}
    assert steps == {40}
    if KINDS[name].get("sound", "aac"):
        check_sound(source, target)


def check_sound(source: Path, target: Path) -> None:
    """Find the noise of 0.6-1.0 s and of 4.0-4.4 s again: it moved by 0 and by -0.6 s, to a millisecond."""
    old, new = sound_of(source), sound_of(target)
    for start, moved in ((0.6, 0.0), (4.0, -0.6)):
        piece = old[int(start * 48_000) : int((start + 0.4) * 48_000)]
        around = int((start + moved - 0.05) * 48_000)
        field = new[around : around + len(piece) + 4800]
        match = np.correlate(field, piece, "valid")
        assert abs(int(match.argmax()) - 2400) <= 48
        assert match.max() > 0.35 * float(piece @ piece)  # of noise AAC keeps but part; by chance it is 0.01


def sound_of(path: Path) -> npt.NDArray[np.float64]:
    """Decode the first channel into a line of samples that begins with the programme."""
    import av

    with av.open(str(path)) as container:
        line, behind = np.zeros(48_000 * 8), None
        for frame in container.decode(audio=0):
            values = frame.to_ndarray().astype(float)
            values = values[0] if frame.format.is_planar else values[0, ::2]
            at = round(Fraction(frame.pts or 0) * Fraction(frame.time_base or 1) * 48_000)
            if behind is not None and abs(at - behind) < 100:  # times in whole ms jitter
                at = behind
            behind = at + len(values)
            scale = 32768 if frame.format.name.startswith("s16") else 1
            skip = max(-at, 0)
            line[at + skip : at + len(values)] = values[skip:] / scale
    return line


def test_what_stands_beside_the_picture_comes_along(studio: Studio, target: Path) -> None:
    """Chapters, captions of MP4's own kind and tags are kept, moved where a span is out."""
    source = studio.make(
        codec="libx265",
        coding="log-level=none",
        chapters=((0, 2000, "Taking apart"), (2000, 5000, "Gluing up")),
        texts=((500, 1500, "first"), (1700, 2500, "second"), (2500, 3500, "third")),
        tags=(("title", "A stool"),),
    )
    done = take_out(source, [Span(1600, 3000)], [], target)
    before, after = studio.look(source), studio.look(target)
    assert [title for *_, title in after.chapters] == ["Taking apart", "Gluing up"]
    edges = [float(edge) for start, end, _ in after.chapters for edge in (start, end)]
    assert edges == pytest.approx([0, 1.6, 1.6, 3.6], abs=0.03)
    assert after.tags["title"] == "A stool"
    texts = next(rows for track, rows in after.packets.items() if track.startswith("subtitle"))
    assert len(texts) >= 3
    assert before.packets["audio-1"] != after.packets["audio-1"]
    assert all("subtitle" not in what for what in done.left_out)


def test_sound_is_copied_where_nothing_is_cut(studio: Studio, target: Path) -> None:
    """AAC of a film in Matroska is in MP4 what it was, packet for packet."""
    source = studio.make(suffix=".mkv")
    burn_in(source, [studio.panel(source, 1600, 3000)], target)
    old, new = studio.look(source).packets["audio-1"], studio.look(target).packets["audio-1"]
    assert [digest for *_, digest in new] == [digest for *_, digest in old]
    assert all(abs(a[0] - b[0]) < Fraction(2, 1000) for a, b in zip(old, new, strict=True))


def test_the_table_of_contents_stands_in_front(studio: Studio, target: Path) -> None:
    """A player on a slow line can begin at once: moov before mdat, on both ways."""
    for source in (studio.make(), studio.make(suffix=".mkv")):
        burn_in(source, [studio.panel(source, 1600, 3000)], target)
        raw = target.read_bytes()
        assert raw.index(b"moov") < raw.index(b"mdat")


def test_the_expected_time_is_measured(studio: Studio) -> None:
    """A slower preset is expected to take longer, and a film twice as long about twice as long."""
    short, long = studio.make(suffix=".mkv"), studio.make(suffix=".mkv", frames=375)
    quick, slow = Quality("ultrafast"), Quality("slow")
    assert expected_s(short, quick) < expected_s(short, slow)
    assert 1.2 < expected_s(long, quick) / expected_s(short, quick) < 8


def test_missing_sound_stays_missing(studio: Studio, target: Path, tmp_path: Path) -> None:
    """Half a second of packets lost between 2 s and 2.5 s: what comes later still stands at its time."""
    import av

    source, holed = studio.make(suffix=".mkv"), tmp_path / "holed.mkv"
    with av.open(str(source)) as old, av.open(str(holed), "w") as new:
        streams = [new.add_stream_from_template(stream) for stream in old.streams]
        for packet in old.demux():
            at = (packet.pts or 0) * (packet.time_base or 0)
            if packet.size and not (packet.stream.type == "audio" and 2 <= at < 2.5):
                packet.stream = streams[packet.stream.index]
                new.mux(packet)
    take_out(holed, [Span(800, 1200)], [], target)
    line, piece = sound_of(target), sound_of(source)[3 * 48_000 : 4 * 48_000]
    assert int(np.correlate(line, piece, "valid").argmax()) == pytest.approx(2.6 * 48_000, abs=100)
    assert np.abs(line[int(1.7 * 48_000) : int(2.0 * 48_000)]).max() < 0.01


def test_sound_falls_and_rises_at_a_joint(studio: Studio, target: Path) -> None:
    """Where plain sound is cut it is soft for a moment: without that it would click."""
    source = studio.make(suffix=".mkv", sound="pcm_s16le")
    take_out(source, [Span(1600, 3000)], [], target)
    line = np.abs(sound_of(target))
    joint = int(1.6 * 48_000)
    usual = line[joint - 9600 : joint - 4800].mean()
    assert line[joint - 30 : joint + 30].mean() < usual / 2
    assert line[joint + 480 : joint + 4800].mean() > usual * 0.8
