"""What is wrong with the sound of a film: each check with what makes it fire, and what lies just inside."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from test_sound_measured import RATE, put, tone

from reelnotes.model import Cue
from reelnotes.picture.sound import BLOCK_MS, Heard, hear, mean_square_of
from reelnotes.picture.sound_check import SoundFault, check_sound
from reelnotes.settings import SoundSettings, WorkshopSettings, read_settings
from reelnotes.timing import Span

USUAL = SoundSettings()
#: A level in LUFS, and for how many seconds.
Parts = list[tuple[float, float]]


def heard_as(parts: Parts, **changes: object) -> Heard:
    """Give what is heard where levels follow each other, all else in order."""
    levels = np.concatenate(
        [np.full(round(seconds * 1000 / BLOCK_MS), mean_square_of(lufs)) for lufs, seconds in parts]
    )
    length_ms = len(levels) * BLOCK_MS
    sound = Heard(
        length_ms=length_ms,
        film_ms=length_ms,
        integrated=-14.0,
        range=5.0,
        short_term=-12.0,
        short_term_at_ms=0,
        momentary=-10.0,
        momentary_at_ms=0,
        true_peak=-2.0,
        levels=levels,
        channels=(0.01, 0.01),
    )
    return replace(sound, **changes)  # type: ignore[arg-type]


def spoken(*spans: tuple[float, float]) -> tuple[Cue, ...]:
    """Give cues of words from and to so many seconds."""
    return tuple(Cue(round(s * 1000), round(e * 1000), "and then the glue", 1) for s, e in spans)


def speech(level: float, seconds: float, *, under: float = -65.0) -> Parts:
    """Give the levels of words: loud for 0.3 s, then 0.1 s of what lies between them."""
    return [(level, 0.3), (under, 0.1)] * round(seconds / 0.4)


def kinds(faults: tuple[SoundFault, ...]) -> list[str]:
    return [fault.kind for fault in faults]


def faults_of(heard: Heard | None, cues: tuple[Cue, ...] = (), settings: SoundSettings = USUAL) -> list[str]:
    return kinds(check_sound(heard, cues, settings))


STEADY = [(-16.0, 20.0)]


# --- the whole ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("integrated", "found"), [(-16.0, False), (-16.1, True), (-12.0, False), (-11.9, True)]
)
def test_loudness_of_the_whole(integrated: float, found: bool) -> None:
    """−14 LUFS with 2 LU to either side, the edges still allowed."""
    assert faults_of(heard_as(STEADY, integrated=integrated)) == ["loudness"] * found


def test_the_target_of_the_workshop_counts() -> None:
    """A workshop that delivers for broadcasting sets −23 and half a unit (EBU R 128, from memory)."""
    broadcast = replace(USUAL, target_lufs=Decimal(-23), tolerance_lu=Decimal("0.5"))
    assert faults_of(heard_as(STEADY, integrated=-23.5), settings=broadcast) == []
    assert faults_of(heard_as(STEADY, integrated=-23.6), settings=broadcast) == ["loudness"]


def test_what_to_do_about_loudness_is_said() -> None:
    """Lower it, raise it, or limit it where raising alone would push the peaks over."""
    cases = {
        (-10.0, -1.5): "lower it by 4.0 dB",
        (-20.0, -9.0): "raise it by 6.0 dB",
        (-20.0, -3.0): "limiter",
    }
    for (integrated, peak), words in cases.items():
        (fault,) = check_sound(heard_as(STEADY, integrated=integrated, true_peak=peak), (), USUAL)
        assert words in fault.message
    edge = heard_as(STEADY, integrated=-20.0, true_peak=-7.0)
    assert "raise it by 6.0 dB" in check_sound(edge, (), USUAL)[0].message


@pytest.mark.parametrize(("peak", "found"), [(-1.0, False), (-0.9, True), (None, False)])
def test_the_true_peak(peak: float | None, found: bool) -> None:
    """−1 dBTP is allowed, a tenth above it is not."""
    assert faults_of(heard_as(STEADY, true_peak=peak)) == ["peak"] * found


@pytest.mark.parametrize(
    ("channels", "found"),
    [
        ((0.01, 0.01), False),
        ((0.01, 0.0000101), False),
        ((0.01, 0.0000099), True),
        ((0.0, 0.01), True),
        ((0.01,), False),
        ((0.01, 0.01, 0.0, 0.0, 0.0, 0.0), False),
    ],
)
def test_sound_from_one_side(channels: tuple[float, ...], found: bool) -> None:
    """Of two channels one that lies 30 dB below the other is empty; mono and surround are not looked at."""
    assert faults_of(heard_as(STEADY, channels=channels)) == ["side"] * found


def test_the_side_is_named() -> None:
    """Left where the left channel carries the sound."""
    (fault,) = check_sound(heard_as(STEADY, channels=(0.01, 0.0)), (), USUAL)
    assert "left alone" in fault.message


# --- places ------------------------------------------------------------------------------------------


def test_clipping_is_told_at_its_place() -> None:
    """One fault a place; none where nothing is clipped."""
    heard = heard_as(STEADY, clipped=(Span(4000, 4100), Span(9000, 9001)))
    assert [(f.kind, f.at_ms) for f in check_sound(heard, (), USUAL)] == [
        ("clipped", 4000),
        ("clipped", 9000),
    ]
    assert faults_of(heard_as(STEADY)) == []


def test_many_places_are_counted() -> None:
    """Six are told, then one more with the number of those after it."""
    heard = heard_as([(-16.0, 120.0)], clipped=tuple(Span(n * 5000, n * 5000 + 1) for n in range(20)))
    faults = check_sound(heard, (), USUAL)
    assert len(faults) == 7
    assert "13 more" in faults[-1].message
    seven = heard_as([(-16.0, 120.0)], clipped=heard.clipped[:7])
    assert "more" not in check_sound(seven, (), USUAL)[-1].message


@pytest.mark.parametrize(
    ("level", "seconds", "found"), [(-61, 3.0, True), (-61, 2.95, False), (-59, 9.0, False), (-120, 4, True)]
)
def test_long_silence(level: float, seconds: float, found: bool) -> None:
    """Below −60 LUFS for 3 s; what is shorter is a pause, what is louder a quiet room."""
    heard = heard_as([(-16.0, 5.0), (level, seconds), (-16.0, 5.0)])
    faults = check_sound(heard, (), USUAL)
    assert kinds(faults) == ["silence"] * found
    assert not found or faults[0].at_ms == 5000


@pytest.mark.parametrize(("longer_ms", "found"), [(2900, False), (3000, True)])
def test_sound_that_ends_before_the_picture(longer_ms: int, found: bool) -> None:
    """What is missing at the end is silence too."""
    heard = heard_as(STEADY)
    faults = check_sound(replace(heard, film_ms=heard.length_ms + longer_ms), (), USUAL)
    assert kinds(faults) == ["silence"] * found


@pytest.mark.parametrize(("below", "found"), [(5.9, False), (6.1, True)])
def test_speech_too_quiet_against_the_episodes_own(below: float, found: bool) -> None:
    """6 LU below the level of which half of the speech is louder; told with its place."""
    parts = [*speech(-18, 12), *speech(-18 - below, 4), *speech(-18, 12)]
    cues = spoken((0, 4), (4, 8), (8, 12), (12, 16), (16, 20), (20, 24), (24, 28))
    faults = check_sound(heard_as(parts), cues, USUAL)
    assert kinds(faults) == ["quiet"] * found
    assert not found or faults[0].at_ms == 12_000


@pytest.mark.parametrize(("seconds", "found"), [(1.6, False), (2.0, True)])
def test_a_quiet_word_is_no_fault(seconds: float, found: bool) -> None:
    """Less than 2 s of it is an aside."""
    parts = [*speech(-18, 12), *speech(-28, seconds), *speech(-18, 12)]
    cues = spoken((0, 4), (4, 8), (8, 12), (12, 12 + seconds), (12 + seconds, 20 + seconds))
    assert faults_of(heard_as(parts), cues) == ["quiet"] * found


@pytest.mark.parametrize(("over", "found"), [(1.9, False), (2.1, True)])
def test_louder_than_speech_between_speech(over: float, found: bool) -> None:
    """2 LU above the speech's own level, for what is heard between cues."""
    parts = [*speech(-18, 8), (-60.0, 1.0), (-18 + over, 5.0), (-60.0, 1.0), *speech(-18, 8)]
    faults = check_sound(heard_as(parts), spoken((0, 4), (4, 8), (15, 19), (19, 23)), USUAL)
    assert kinds(faults) == ["between"] * found
    assert not found or faults[0].at_ms == pytest.approx(9000, abs=2000)


@pytest.mark.parametrize(("seconds", "found"), [(1.4, False), (1.5, True)])
def test_a_short_pause_is_not_between(seconds: float, found: bool) -> None:
    """Cues less than 1.5 s apart leave no room for anything else."""
    parts = [*speech(-18, 8), (-10.0, seconds), *speech(-18, 8)]
    cues = spoken((0, 4), (4, 8), (8 + seconds, 12 + seconds), (12 + seconds, 16 + seconds))
    assert faults_of(heard_as(parts), cues) == ["between"] * found


def test_before_the_first_and_after_the_last_word() -> None:
    """Opening and closing music count as well."""
    parts = [(-10.0, 5.0), *speech(-18, 8), (-10.0, 5.0)]
    assert faults_of(heard_as(parts), spoken((5, 9), (9, 13))) == ["between", "between"]


@pytest.mark.parametrize(("below", "found"), [(7.1, False), (6.8, True), (0.0, True)])
def test_what_plays_under_speech(below: float, found: bool) -> None:
    """Nearer than 6 LU to what is heard while words are said, it is told; further below it is not.

    Words for three quarters of the time at −18 LUFS with something at −24.8 under them are −18.96 in all.
    """
    parts = [*speech(-18, 8), *speech(-18, 8, under=-18 - below), *speech(-18, 8)]
    cues = spoken((0, 4), (4, 8), (8, 12), (12, 16), (16, 20), (20, 24))
    faults = check_sound(heard_as(parts), cues, USUAL)
    assert kinds(faults) == ["under"] * found
    if found:
        assert faults[0].at_ms == 8000
        assert "until 0:16" in faults[0].message


def test_cues_that_hold_no_speech_are_no_speech() -> None:
    """Music that captions tell of is not taken for words, and may be as loud as it is allowed to be."""
    parts = [*speech(-18, 8), (-17.0, 6.0), *speech(-18, 8)]
    words = spoken((0, 4), (4, 8), (14, 18), (18, 22))
    for text in ("[Music]", "(machine runs)", "♪", "♪ la la ♪"):
        assert faults_of(heard_as(parts), (*words, Cue(8000, 14_000, text, 1))) == []
    assert faults_of(heard_as(parts), (*words, Cue(8000, 14_000, "and then", 1))) == ["under"]


def test_without_cues_the_whole_is_checked_alone() -> None:
    """Nothing is said of speech where no cue says where it is."""
    assert faults_of(heard_as([*speech(-18, 8, under=-18), (-5.0, 8.0)])) == []


def test_cues_beyond_the_sound_do_no_harm() -> None:
    """A cue after the end has no level."""
    assert faults_of(heard_as(speech(-18, 8)), spoken((0, 4), (4, 8), (100, 104))) == []


def test_no_sound_at_all_is_told() -> None:
    """A film without a track, and one whose track is silent."""
    assert faults_of(None) == ["none"]
    assert faults_of(heard_as(STEADY, integrated=None)) == ["none"]


# --- from a file, and settings ---------------------------------------------------------------------------


def test_a_film_that_is_in_order_has_no_fault(tmp_path: Path) -> None:
    """Words of noise at the target, with pauses, seen from the file to the end."""
    assert kinds(check_file(tmp_path, under_db=-60.0)) == []


def test_a_loud_tone_under_the_words_is_found_in_a_file(tmp_path: Path) -> None:
    """The same words with a tone that is nearly as loud, which makes the whole louder too."""
    assert kinds(check_file(tmp_path, under_db=-13.0)) == ["loudness", "under"]


def check_file(folder: Path, under_db: float) -> tuple[SoundFault, ...]:
    rng = np.random.default_rng(1)
    word = np.concatenate([rng.normal(0, 0.11, round(0.25 * RATE)), np.zeros(round(0.1 * RATE))])
    words = np.clip(np.tile(word, 40), -0.5, 0.5)
    wave = words + tone(under_db, len(words) / RATE, 500)[: len(words)]
    heard = hear(put(folder / "sound.wav", [wave, wave]))
    return check_sound(heard, spoken(*((n * 2, n * 2 + 2) for n in range(7))), USUAL)


def test_targets_are_read_from_the_workshop() -> None:
    """`[sound]` in workshop.toml; a value beyond its limits is reported and the usual one taken."""
    text = "[sound]\ntarget_lufs = -23\ntolerance_lu = 0.5\ntrue_peak_dbtp = 3\nspeech_below_lu = 8\n"
    settings, problems = read_settings(WorkshopSettings, text, "workshop.toml")
    assert settings.sound.target_lufs == -23
    assert settings.sound.tolerance_lu == Decimal("0.5")
    assert settings.sound.speech_below_lu == 8
    assert settings.sound.true_peak_dbtp == -1
    assert [problem.code for problem in problems] == ["setting"]
