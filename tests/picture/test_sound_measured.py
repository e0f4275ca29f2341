"""Loudness on signals made as EBU Tech 3341 describes them, with its expected values, from memory.

The document was not at hand: signals, values and tolerances are as remembered. ITU-R BS.1770's own statement,
that a tone of 997 Hz at full scale on one channel is −3.01 LKFS, is from memory too.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pytest

from reelnotes.picture.sound import BLOCK_MS, Heard, hear, level_of, mean_square_of
from reelnotes.problems import FileUnreadable

if TYPE_CHECKING:
    from conftest import Studio

av: Any = pytest.importorskip("av", reason="the library that reads films is not installed")

RATE = 48_000
Wave = npt.NDArray[np.float64]
Played = Callable[..., Heard]


def tone(db: float, seconds: float, hertz: float = 1000.0, phase: float = 0.0) -> Wave:
    """Give a sine whose peak lies so many dB under full scale."""
    at = np.arange(round(seconds * RATE)) / RATE
    wave: Wave = 10 ** (db / 20) * np.sin(2 * np.pi * hertz * at + np.radians(phase))
    return wave


def put(path: Path, channels: list[Wave], layout: str = "stereo", codec: str = "pcm_f32le") -> Path:
    """Write sound into a file."""
    form = {"pcm_f32le": "flt", "pcm_s16le": "s16", "pcm_u8": "u8", "pcm_s32le": "s32"}.get(codec, "fltp")
    whole = np.stack(channels)
    with av.open(str(path), "w") as made:
        stream = made.add_stream(codec, rate=RATE, layout=layout)
        for at in range(0, whole.shape[1], 1024):
            part = whole[:, at : at + 1024]
            frame = av.AudioFrame.from_ndarray(packed(part, form), format=form, layout=layout)
            frame.sample_rate, frame.pts, frame.time_base = RATE, at, Fraction(1, RATE)
            made.mux(stream.encode(frame))
        made.mux(stream.encode(None))
    return path


def packed(part: Wave, form: str) -> npt.NDArray[Any]:
    if form == "fltp":
        return part.astype(np.float32)
    flat = np.ascontiguousarray(part.T.reshape(1, -1))
    if form == "s16":
        return np.clip(np.rint(flat * 32768), -32768, 32767).astype(np.int16)
    if form == "s32":
        return np.clip(np.rint(flat * 2**31), -(2**31), 2**31 - 1).astype(np.int32)
    if form == "u8":
        return np.clip(np.rint(flat * 128 + 128), 0, 255).astype(np.uint8)
    return flat.astype(np.float32)


@pytest.fixture
def played(tmp_path: Path) -> Played:
    """Write sound and hear it."""

    def play(
        *channels: Wave, layout: str = "stereo", codec: str = "pcm_f32le", suffix: str = ".wav"
    ) -> Heard:
        both = list(channels) * 2 if layout == "stereo" and len(channels) == 1 else list(channels)
        heard = hear(put(tmp_path / f"sound{suffix}", both, layout, codec))
        assert heard is not None
        return heard

    return play


# --- loudness ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("db", [-23.0, -33.0])
def test_a_steady_tone(played: Played, db: float) -> None:
    """EBU Tech 3341, signals 1 and 2: momentary, short-term and integrated are the tone's level, ±0.1."""
    heard = played(tone(db, 20))
    assert heard.integrated == pytest.approx(db, abs=0.1)
    assert heard.short_term == pytest.approx(db, abs=0.1)
    assert heard.momentary == pytest.approx(db, abs=0.1)
    assert heard.range == pytest.approx(0, abs=0.1)


@pytest.mark.parametrize(
    ("number", "parts"),
    [
        (3, [(-36, 10), (-23, 60), (-36, 10)]),
        (4, [(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)]),
        (5, [(-26, 20), (-20, 20.1), (-26, 20)]),
    ],
)
def test_the_gates(played: Played, number: int, parts: list[tuple[float, float]]) -> None:
    """EBU Tech 3341, signals 3 to 5: what is quiet does not count, −23.0 ±0.1 LUFS."""
    heard = played(np.concatenate([tone(db, seconds) for db, seconds in parts]))
    assert heard.integrated == pytest.approx(-23.0, abs=0.1), number


def test_five_channels(played: Played) -> None:
    """EBU Tech 3341, signal 6: left and right −28, centre −24, surrounds −30: −23.0 ±0.1 LUFS."""
    levels = (-28, -28, -24, -30, -30)
    heard = played(*(tone(db, 20) for db in levels), layout="5.0", codec="flac", suffix=".mka")
    assert heard.integrated == pytest.approx(-23.0, abs=0.1)
    assert len(heard.channels) == 5


def test_short_term_over_three_seconds(played: Played) -> None:
    """EBU Tech 3341, signal 9: 1.34 s at −20 and 1.66 s at −30 again and again: −23.0 ±0.1 LUFS."""
    heard = played(np.concatenate([tone(-20, 1.34), tone(-30, 1.66)] * 5))
    assert heard.short_term == pytest.approx(-23.0, abs=0.1)


def test_momentary_over_400_milliseconds(played: Played) -> None:
    """EBU Tech 3341, signal 12: 0.18 s at −20 and 0.22 s at −30 again and again: −23.0 ±0.1 LUFS."""
    heard = played(np.concatenate([tone(-20, 0.18), tone(-30, 0.22)] * 25))
    assert heard.momentary == pytest.approx(-23.0, abs=0.1)


def test_a_tone_at_full_scale_on_one_channel(played: Played) -> None:
    """ITU-R BS.1770: 997 Hz at 0 dBFS on one channel of two is −3.01 LKFS."""
    wave = tone(0, 20, 997)
    assert played(wave, np.zeros_like(wave)).integrated == pytest.approx(-3.01, abs=0.05)


def test_one_channel_alone_comes_from_two_loudspeakers(played: Played) -> None:
    """Mono is as loud as the same sound on both channels."""
    wave = tone(-23, 8)
    mono, both = played(wave, layout="mono"), played(wave)
    assert mono.integrated == pytest.approx(both.integrated, abs=0.05)
    assert level_of(mono.levels[60]) == pytest.approx(level_of(both.levels[60]), abs=0.05)


# --- true peak -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("number", "parts", "phase", "share", "peak"),
    [
        (15, 4, 0.0, 0.50, -6.0),
        (16, 4, 45.0, 0.50, -6.0),
        (17, 6, 60.0, 0.50, -6.0),
        (18, 8, 67.5, 0.50, -6.0),
        (19, 4, 45.0, 1.41, 3.0),
    ],
)
def test_true_peaks(  # noqa: PLR0917 - the columns of the table
    played: Played, number: int, parts: int, phase: float, share: float, peak: float
) -> None:
    """EBU Tech 3341, signals 15 to 19: tones whose samples miss their peaks: +0.2 and −0.4 dB.

    They come and go slowly here: a sudden start has a true peak of its own.
    """
    fade = np.minimum(1, np.minimum(np.arange(2 * RATE), np.arange(2 * RATE)[::-1]) / 4800)
    heard = played(tone(20 * np.log10(share), 2, RATE / parts, phase) * fade)
    assert heard.true_peak is not None
    assert peak - 0.4 <= heard.true_peak <= peak + 0.2, number


# --- where and when ------------------------------------------------------------------------------------


def test_the_loudest_places_are_told(played: Played) -> None:
    """The three seconds and the 400 ms that are loudest begin where the loud tone does."""
    heard = played(np.concatenate([tone(-40, 6), tone(-20, 4), tone(-40, 6)]))
    assert heard.short_term_at_ms == pytest.approx(6000, abs=1000)
    assert heard.short_term == pytest.approx(-20, abs=0.1)
    assert heard.momentary_at_ms == pytest.approx(6000, abs=3600)


def test_levels_are_those_of_the_meter(played: Played) -> None:
    """Blocks of noise add up to what the meter says for them: the same weighting, the same offset."""
    rng = np.random.default_rng(3)
    heard = played(rng.normal(0, 0.05, 6 * RATE), rng.normal(0, 0.02, 6 * RATE))
    middle = heard.levels[20:100]
    assert level_of(float(middle.mean())) == pytest.approx(heard.integrated or 0, abs=0.1)


@pytest.mark.parametrize("hertz", [40, 100, 500, 1000, 3000, 10_000])
def test_levels_are_weighted(played: Played, hertz: float) -> None:
    """At each pitch they agree with the meter's momentary loudness."""
    heard = played(tone(-20, 3, hertz))
    assert level_of(heard.levels[40]) == pytest.approx(heard.momentary or 0, abs=0.3)


def test_levels_stand_at_their_time(played: Played) -> None:
    """A tone that begins at 2 s begins at block 40."""
    heard = played(np.concatenate([np.zeros(2 * RATE), tone(-20, 2)]))
    assert level_of(heard.levels[38]) < -60
    assert level_of(heard.levels[41]) > -25
    assert heard.length_ms == 4000


@pytest.mark.parametrize("codec", ["pcm_s16le", "pcm_s32le", "pcm_u8", "pcm_f32le"])
def test_any_kind_of_samples(played: Played, codec: str) -> None:
    """Whole and broken numbers alike; a file that only counts its channels is measured as stereo."""
    heard = played(tone(-20, 3), codec=codec)
    assert heard.integrated == pytest.approx(-20, abs=0.2)
    assert heard.channels == pytest.approx((0.005, 0.005), rel=0.02)


@pytest.mark.parametrize(("codec", "suffix"), [("aac", ".mp4"), ("aac", ".ts"), ("flac", ".mkv")])
def test_any_kind_of_file(played: Played, codec: str, suffix: str) -> None:
    """The time is the programme's, also where a file counts from elsewhere."""
    heard = played(np.concatenate([tone(-20, 3), np.zeros(RATE), tone(-20, 2)]), codec=codec, suffix=suffix)
    loud = heard.levels > mean_square_of(-30)
    for at_ms, is_loud in (
        (100, True),
        (2850, True),
        (3150, False),
        (3850, False),
        (4150, True),
        (5800, True),
    ):
        assert loud[at_ms // BLOCK_MS] == is_loud, at_ms


# --- clipping ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("run", "found"), [(2, False), (3, True), (40, True)])
@pytest.mark.parametrize("codec", ["pcm_s16le", "pcm_f32le"])
@pytest.mark.parametrize("at", [1.0, 1024 * 30 / RATE])
def test_samples_in_a_row_at_full_scale_are_clipped(
    played: Played, run: int, found: bool, codec: str, at: float
) -> None:
    """Three are, two can be a peak; also where they lie across two frames."""
    wave = tone(-20, 3)
    first = round(at * RATE) - 1
    wave[first : first + run] = 1.0
    spans = played(wave, tone(-20, 3), codec=codec).clipped
    assert bool(spans) is found
    if found:
        assert spans[0].start_ms == pytest.approx(first * 1000 / RATE, abs=2)


def test_a_swing_from_side_to_side_is_not_clipped(played: Played) -> None:
    """Samples at full scale whose sign changes each time are loud and whole."""
    wave = tone(-20, 2)
    wave[RATE : RATE + 6] = [1, -1, 1, -1, 1, -1]
    assert played(wave, codec="pcm_s16le").clipped == ()


def test_clipped_places_close_together_are_one(played: Played) -> None:
    """Within a second they are one place, further apart two."""
    wave = tone(-20, 5)
    for at in (1.0, 1.5, 4.0):
        wave[round(at * RATE) : round(at * RATE) + 5] = -1.0
    spans = played(wave, codec="pcm_s16le").clipped
    assert [round(span.start_ms, -1) for span in spans] == [1000, 4000]


# --- what cannot be heard --------------------------------------------------------------------------------


def test_silence_has_no_loudness(played: Played) -> None:
    """Nothing at all is None, not a number."""
    heard = played(np.zeros(3 * RATE))
    assert (heard.integrated, heard.short_term, heard.momentary, heard.true_peak) == (None, None, None, None)


def test_a_film_without_sound_is_told(studio: Studio) -> None:
    """There is nothing to measure."""
    assert hear(studio.make(sound=None)) is None


def test_the_share_done_rises(studio: Studio) -> None:
    """From near 0 to near 1, never beyond."""
    shares: list[float] = []
    heard = hear(studio.make(), shares.append)
    assert heard is not None
    assert shares == sorted(shares)
    assert shares[-1] == pytest.approx(1, abs=0.05)
    assert heard.film_ms == pytest.approx(5000, abs=50)


@pytest.mark.parametrize("content", [b"", b"glue, 15 ml\n" * 30])
def test_what_is_no_video_is_refused(tmp_path: Path, content: bytes) -> None:
    """One sentence that names the file."""
    path = tmp_path / "notes.mp4"
    path.write_bytes(content)
    with pytest.raises(FileUnreadable, match=r"notes\.mp4: cannot be read \(it is no video"):
        hear(path)


def test_a_missing_file_and_captions_are_refused(tmp_path: Path) -> None:
    """Also what can be opened and holds neither picture nor sound."""
    with pytest.raises(FileUnreadable, match="no such file"):
        hear(tmp_path / "none.mp4")
    captions = tmp_path / "speech.srt"
    captions.write_text("1\n00:00:01,000 --> 00:00:02,000\nGlue.\n", encoding="utf-8")
    with pytest.raises(FileUnreadable, match="neither picture nor sound"):
        hear(captions)


def test_levels_and_loudness_are_inverse() -> None:
    """There and back."""
    assert level_of(mean_square_of(-23.0)) == pytest.approx(-23.0)
