"""Joints moved into pauses in speech: found in sound like speech, seen in the version and in its film."""

from __future__ import annotations

import json
import sys
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelnotes.cli import main
from reelnotes.model import HeldFrame
from reelnotes.picture.pauses import INSIDE_MS, LEAST_MS, REACH_MS, Shift, find_pauses, nearest, to_pauses
from reelnotes.picture.sound import hear
from reelnotes.timing import Span

av: Any = pytest.importorskip("av", reason="the library that makes the test films is not installed")

RATE = 48_000
#: Where somebody speaks in the test film, in seconds; it is 20 s long.
SPOKEN = ((0.5, 4.2), (4.6, 8.0), (8.08, 11.0), (12.4, 19.5))
Wave = npt.NDArray[np.float64]


def speech(spoken: tuple[tuple[float, float], ...] = SPOKEN, room: float = 1e-3, seconds: int = 20) -> Wave:
    """Make sound like speech: noise in syllables of 200 ms with dips of 40 ms, over a quiet room."""
    chance = np.random.default_rng(5)
    wave = chance.normal(0, room, seconds * RATE)
    at = np.arange(len(wave)) / RATE
    voice = chance.normal(0, 0.1, len(wave)) * np.where(at % 0.2 < 0.04, 0.15, 1.0)
    for start, end in spoken:
        wave[int(start * RATE) : int(end * RATE)] += voice[int(start * RATE) : int(end * RATE)]
    return wave


def film(path: Path, wave: Wave | None) -> Path:
    """Write a film with this sound, 20 s at 25 pictures a second."""
    with av.open(str(path), "w") as made:
        picture = made.add_stream("libx264", rate=25, options={"preset": "ultrafast", "g": "50"})
        picture.width, picture.height, picture.pix_fmt = 64, 64, "yuv420p"
        if wave is not None:
            made.add_stream("aac", rate=RATE, layout="mono")
        for number in range(500):
            image = np.full((64, 64, 3), number % 200, np.uint8)
            made.mux(picture.encode(av.VideoFrame.from_ndarray(image, format="rgb24")))
        made.mux(picture.encode(None))
        if wave is None:
            return path
        for at in range(0, len(wave), 1024):
            part = wave[at : at + 1024].astype(np.float32)[None, :]
            frame = av.AudioFrame.from_ndarray(part, format="fltp", layout="mono")
            frame.sample_rate, frame.pts, frame.time_base = RATE, at, Fraction(1, RATE)
            made.mux(made.streams.audio[0].encode(frame))
        made.mux(made.streams.audio[0].encode(None))
    return path


@pytest.fixture(scope="module")
def spoken(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the film in which somebody speaks."""
    return film(tmp_path_factory.mktemp("pauses") / "spoken.mp4", speech())


def test_pauses_are_found_where_nobody_speaks(spoken: Path) -> None:
    """The gaps of 0.4 and 1.4 s are found, the one of 80 ms and the dips between syllables are not."""
    heard = hear(spoken)
    assert heard is not None
    inner = [span for span in find_pauses(heard) if 1000 < span.start_ms < 18_000]
    assert len(inner) == 2
    for span, (start, end) in zip(inner, ((4200, 4600), (11_000, 12_400)), strict=True):
        assert abs(span.start_ms - start) <= 100
        assert abs(span.end_ms - end) <= 100


def test_music_under_speech_leaves_its_gaps(tmp_path: Path) -> None:
    """With something quiet playing throughout, the gaps in speech are still the pauses."""
    heard = hear(film(tmp_path / "music.mp4", speech(room=0.008)))
    assert heard is not None
    assert len([span for span in find_pauses(heard) if 1000 < span.start_ms < 18_000]) == 2


PAUSES = [Span(2000, 2300), Span(5000, 5000 + LEAST_MS), Span(9000, 11_000)]


@pytest.mark.parametrize(
    ("at_ms", "place"),
    [
        (2100, 2100),
        (1500, 2000 + INSIDE_MS),
        (2400, 2300 - INSIDE_MS),
        (4500, 5000 + INSIDE_MS),
        (2300 - INSIDE_MS + REACH_MS, 2300 - INSIDE_MS),
        (2300 - INSIDE_MS + REACH_MS + 1, None),
        (3600, None),
        (11_500, 11_000 - INSIDE_MS),
    ],
)
def test_a_joint_goes_just_inside_the_nearest_pause(at_ms: int, place: int | None) -> None:
    """What lies in a pause stays; what does not goes to the nearest edge and a little on, within a second."""
    assert nearest(at_ms, PAUSES) == place


spans = st.tuples(st.integers(0, 12_000), st.integers(1, 4000)).map(lambda p: Span(p[0], p[0] + p[1]))


@given(st.lists(spans, max_size=3), st.lists(st.integers(0, 16_000), max_size=2))
def test_joints_move_a_second_at_most_and_spans_stay_spans(removed: list[Span], held: list[int]) -> None:
    """No edge moves further than the reach, none crosses another, and every move is told."""
    frames = [HeldFrame(at, 1000) for at in held]
    new, holds, shifts = to_pauses(removed, frames, PAUSES, 16_000)
    told = {(shift.at_ms, shift.to_ms) for shift in shifts}
    for before, after in zip(removed, new, strict=True):
        assert after.start_ms < after.end_ms
        for was, now in ((before.start_ms, after.start_ms), (before.end_ms, after.end_ms)):
            assert abs(now - was) <= REACH_MS
            assert now == was or (was, now) in told
    assert [hold.length_ms for hold in holds] == [1000] * len(held)


def test_the_edges_of_the_programme_are_no_joints() -> None:
    """A cut from the very beginning or to the very end keeps that edge."""
    new, _, shifts = to_pauses([Span(0, 1900)], [], PAUSES, 16_000)
    assert new == [Span(0, 2000 + INSIDE_MS)]
    assert shifts == [Shift(1900, 2000 + INSIDE_MS)]


def test_edges_that_would_meet_stay() -> None:
    """Two edges drawn into one pause would leave nothing to take out: they stay, and that is told."""
    new, _, shifts = to_pauses([Span(4500, 4700)], [], PAUSES, 16_000)
    assert new == [Span(4500, 4700)]
    assert [shift.to_ms for shift in shifts] == [None, None]


# --- the command ---------------------------------------------------------------------------------------


@pytest.fixture
def episode(tmp_path: Path) -> Path:
    """Give an episode with a cue for each stretch of speech."""
    folder = tmp_path / "episodes" / "stool"
    folder.mkdir(parents=True)
    (folder / "shop-log.txt").write_text("2026-05-02\n09:00 washed the seat\n")
    (folder / "episode.toml").write_text('frame_rate = "25"\n')
    cues = [f"[0:{int(start):02}] words are said here\n" for start, _ in SPOKEN]
    (folder / "transcript.txt").write_text("".join(cues))
    return folder


def run(*words: str | Path) -> int:
    """Run the command line in this process and give its exit code."""
    before, sys.argv = sys.argv, ["reelnotes", *map(str, words)]
    try:
        main()
    except SystemExit as leave:
        return int(leave.code or 0)
    finally:
        sys.argv = before
    return 0


def test_a_cut_is_moved_with_everything_that_hangs_on_it(
    episode: Path, spoken: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The version, the film and what is printed all speak of the joints where they are now."""
    target = episode / "new.mp4"
    words = ("--remove", "0:03.900-0:10.700", "--video", spoken, "--to", target, "--to-pause", "--json")
    assert run("recut", episode, *words) == 0
    document = json.loads(capsys.readouterr().out)
    (removed,) = document["removed"]
    assert 4.2 <= removed["start_s"] <= 4.6
    assert 11.0 <= removed["end_s"] <= 11.4
    assert [one["asked_s"] for one in document["moved_to_pauses"]] == [3.9, 10.7]
    with av.open(str(target)) as made:
        length_s = float(made.streams.video[0].duration * made.streams.video[0].time_base)
    assert length_s == pytest.approx(20 - (removed["end_s"] - removed["start_s"]), abs=0.001)
    text = (episode / "versions" / "2" / "version.toml").read_text()
    assert "3.9" not in text


def test_what_is_not_near_a_pause_stays(
    episode: Path, spoken: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A joint in the middle of a long sentence stays where it was asked for, and that is said."""
    words = ("--remove", "0:04.400-0:16.000", "--video", spoken, "--to", episode / "new.mp4", "--to-pause")
    assert run("recut", episode, *words) == 0
    assert "none near 0:16" in capsys.readouterr().out


def test_without_sound_joints_stay(episode: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A film without sound is cut where it was asked for, with one sentence about it."""
    silent = film(tmp_path / "silent.mp4", None)
    words = ("--remove", "0:05-0:07", "--video", silent, "--to", episode / "new.mp4", "--to-pause")
    assert run("recut", episode, *words) == 0
    told = capsys.readouterr()
    assert "no sound" in told.err
    assert "0:05-0:07 (2 s)" in told.out


def test_pauses_need_a_video(episode: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without a video to hear there is nothing to find a pause in: one sentence, and nothing is written."""
    assert run("recut", episode, "--remove", "0:05-0:07", "--to-pause") == 2
    assert "--video" in capsys.readouterr().err
    assert not (episode / "versions").exists()
