"""`reelnotes check EPISODE --video FILE` from the command line."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from test_sound_measured import RATE, put, tone

from reelnotes.cli import main

if TYPE_CHECKING:
    from conftest import Studio

SPEECH = (
    "WEBVTT\n\n00:00.000 --> 00:03.000\nFirst the old glue comes off.\n\n"
    "00:03.000 --> 00:06.000\nThen I sand it smooth.\n"
)
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def episode(tmp_path: Path) -> Path:
    """Make an episode with a transcript of six seconds."""
    folder = tmp_path / "stool"
    folder.mkdir()
    (folder / "transcript.vtt").write_text(SPEECH, encoding="utf-8")
    return folder


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run the command line in this process; give exit code and both outputs."""

    def call(*words: str | Path) -> tuple[int, str, str]:
        before, code = sys.argv, 0
        sys.argv = ["reelnotes", *map(str, words)]
        try:
            main()
        except SystemExit as leave:
            code = int(leave.code or 0)
        finally:
            sys.argv = before
        return code, *capsys.readouterr()

    return call


def words_then(gap: float, folder: Path) -> Path:
    """Write a film whose words are followed by a tone of so many dB."""
    rng = np.random.default_rng(1)
    word = np.concatenate([rng.normal(0, 0.11, round(0.25 * RATE)), np.zeros(round(0.05 * RATE))])
    wave = np.concatenate([np.tile(word, 20), tone(gap, 3)])
    path: Path = put(folder / "film.mp4", [wave, wave], codec="aac")
    return path


def test_the_sound_is_listed_with_the_rest(episode: Path, tmp_path: Path, run: Run) -> None:
    """What was measured stands first, what is wrong among what is to be seen to, with its time."""
    code, out, said = run("check", episode, "--video", words_then(-3, tmp_path))
    assert code == 1
    assert out.startswith("sound ")
    assert "LUFS" in out
    assert "dBTP" in out
    assert "sound of the film" in out
    assert "0:06  music or a machine between speech" in out
    assert said == ""


def test_without_a_video_nothing_is_said_of_sound(episode: Path, run: Run) -> None:
    """The check is as it was."""
    _, out, _ = run("check", episode)
    assert "LUFS" not in out
    assert "sound" not in json.loads(run("check", episode, "--json")[1])


def test_json_holds_what_was_measured(episode: Path, tmp_path: Path, run: Run) -> None:
    """One document: levels by their units, faults among the rest."""
    code, out, _ = run("check", episode, "--video", words_then(-3, tmp_path), "--json")
    document = json.loads(out)
    assert code == 1
    assert -15 < document["sound"]["integrated_lufs"] < -3
    assert document["sound"]["true_peak_dbtp"] == pytest.approx(-3, abs=2)
    assert document["sound"]["channels"] == 2
    assert document["sound"]["short_term_max_at_s"] == pytest.approx(6, abs=1)
    assert any(
        one["kind"] == "sound" and one["at_s"] == pytest.approx(6, abs=1) for one in document["standing"]
    )


def test_the_targets_of_the_workshop_are_used(episode: Path, tmp_path: Path, run: Run) -> None:
    """With limits that allow it, the same film has nothing wrong with its sound."""
    film = words_then(-20, tmp_path)
    loose = "[sound]\ntarget_lufs = -16\ntolerance_lu = 10\ntrue_peak_dbtp = 0\n"
    (episode / "workshop.toml").write_text(loose, encoding="utf-8")
    _, out, _ = run("check", episode, "--video", film)
    assert "LUFS" in out
    assert "sound of the film" not in out


@pytest.mark.parametrize(("name", "words"), [("none.mp4", "no such file"), ("notes.mp4", "no video")])
def test_what_cannot_be_heard_is_refused(
    episode: Path, tmp_path: Path, run: Run, name: str, words: str
) -> None:
    """Exit code 2 and one sentence."""
    (tmp_path / "notes.mp4").write_text("glue, 15 ml\n" * 20, encoding="utf-8")
    code, out, said = run("check", episode, "--video", tmp_path / name)
    assert (code, out) == (2, "")
    assert words in said
    assert len(said.strip().splitlines()) == 1


def test_another_episodes_film_is_refused(studio: Studio, episode: Path, run: Run) -> None:
    """One that ends well before the last words; one that just reaches them is heard."""
    code, _, said = run("check", episode, "--video", studio.make(frames=45))
    assert code == 2
    assert "has words at 0:03" in said
    assert run("check", episode, "--video", studio.make(frames=60))[0] == 1


def test_a_film_without_sound_is_told(studio: Studio, episode: Path, run: Run) -> None:
    """As something to see to."""
    code, out, _ = run("check", episode, "--video", studio.make(frames=160, sound=None))
    assert code == 1
    assert "the film has no sound" in out
