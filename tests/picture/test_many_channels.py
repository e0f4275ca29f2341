"""Sound of up to eight channels: measured, cut, and silent where a picture is held.

The library reads memory that is not there where eight channels have a plane each, which ends the program: so
each of these jobs must get by without.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pytest

from reelnotes.model import HeldFrame
from reelnotes.picture.sound import hear
from reelnotes.picture.splice import take_out
from reelnotes.timing import Span

if TYPE_CHECKING:
    from tests.picture.conftest import Studio

av = pytest.importorskip("av", reason="the library that encodes the test films is not installed")
RATE = 48_000
#: Numbers of channels as FFmpeg's encoder writes them with a channel configuration of 1 to 7.
LAYOUTS = ["mono", "stereo", "3.0", "4.0", "5.0", "5.1", "7.1"]
CUT = [Span(1000, 2000)]
HOLD = [HeldFrame(1000, 600)]


def film_with(studio: Studio, path: Path, codec: str, layout: str) -> Path:
    """Make five seconds of film with the same noise on all channels."""
    with av.open(str(path), "w") as made, av.open(str(studio.make(sound=None))) as pictures:
        video = made.add_stream_from_template(pictures.streams.video[0])
        sound = made.add_stream(codec, rate=RATE, layout=layout)
        many = av.AudioLayout(layout).nb_channels
        rng = np.random.default_rng(2)
        for number in range(234):
            noise = np.repeat(rng.standard_normal(1024) * 0.05, many).astype(np.float32).reshape(1, -1)
            frame = av.AudioFrame.from_ndarray(noise, format="flt", layout=layout)
            frame.sample_rate, frame.pts, frame.time_base = RATE, number * 1024, Fraction(1, RATE)
            made.mux(sound.encode(frame))
        made.mux(sound.encode(None))
        for packet in pictures.demux(pictures.streams.video[0]):
            if packet.dts is not None:
                packet.stream = video
                made.mux(packet)
    return path


def samples_of(path: Path) -> npt.NDArray[np.float32]:
    """Decode all sound, strictly: time by channels."""
    with av.open(str(path)) as container:
        stream = container.streams.audio[0]
        stream.codec_context.options = {"err_detect": "explode"}
        many = stream.codec_context.layout.nb_channels
        joined = av.AudioResampler("flt", stream.codec_context.layout.name)
        parts = [
            ready.to_ndarray().reshape(-1, many)
            for frame in container.decode(stream)
            for ready in joined.resample(frame)
        ]
    return np.concatenate(parts)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_silence_fits_into_the_sound_around_it(studio: Studio, tmp_path: Path, layout: str) -> None:
    """AAC of any channel configuration: what is put in decodes with the film's own decoder, and is silent."""
    source = film_with(studio, tmp_path / "film.mp4", "aac", layout)
    done = take_out(source, CUT, HOLD, tmp_path / "new.mp4")
    assert done.reason is None
    heard = samples_of(tmp_path / "new.mp4")
    assert len(heard) == pytest.approx(4.6 * RATE, abs=1100)
    loud = np.abs(heard[:, 0])
    assert loud[int(1.1 * RATE) : int(1.5 * RATE)].max() < 0.001
    assert loud[int(0.5 * RATE) : int(0.9 * RATE)].max() > 0.05
    assert loud[int(2.0 * RATE) : int(2.4 * RATE)].max() > 0.05


@pytest.mark.parametrize("layout", ["stereo", "5.1", "7.1"])
def test_plain_sound_of_many_channels_is_cut(studio: Studio, tmp_path: Path, layout: str) -> None:
    """All of the film is coded anew; the channels stay as many, and silent where a picture is held."""
    source = film_with(studio, tmp_path / "film.mov", "pcm_s16le", layout)
    done = take_out(source, CUT, HOLD, tmp_path / "new.mov")
    assert done.reason is not None
    heard = samples_of(tmp_path / "new.mov")
    assert heard.shape[1] == av.AudioLayout(layout).nb_channels
    loud = np.abs(heard[:, 0])
    assert loud[int(1.1 * RATE) : int(1.5 * RATE)].max() < 0.001
    assert loud[int(0.5 * RATE) : int(0.9 * RATE)].max() > 0.05


def test_sound_of_eight_channels_is_measured(studio: Studio, tmp_path: Path) -> None:
    """Seven channels of one noise, four of them at the side or behind, against two of the same.

    ITU-R BS.1770 weights what is heard from the side 1.41: FFmpeg's meter takes all four so, which makes
    10 lg((3 + 4 × 1.41) / 2) = 6.4 dB.
    """
    two = hear(film_with(studio, tmp_path / "two.mov", "pcm_s16le", "stereo"))
    eight = hear(film_with(studio, tmp_path / "eight.mov", "pcm_s16le", "7.1"))
    assert two is not None
    assert eight is not None
    assert two.integrated is not None
    assert eight.integrated is not None
    assert eight.integrated - two.integrated == pytest.approx(6.4, abs=0.1)


@pytest.mark.parametrize("layout", ["5.1", "7.1"])
def test_every_channel_is_heard(studio: Studio, tmp_path: Path, layout: str) -> None:
    """Coded sound comes with a plane for each channel: all but that of the lowest tones carry the noise."""
    heard = hear(film_with(studio, tmp_path / "film.mp4", "aac", layout))
    assert heard is not None
    assert len(heard.channels) == av.AudioLayout(layout).nb_channels
    assert sorted(heard.channels)[1] == pytest.approx(max(heard.channels), rel=0.2)
