"""Finding the versions of an episode."""

from __future__ import annotations

from pathlib import Path

import pytest

from reelnotes.problems import NotAnEpisode
from reelnotes.project import find_episode, find_workshop, versions_of


def make(folder: Path, *names: str) -> Path:
    """Make empty files."""
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("", encoding="utf-8")
    return folder


FIRST = ("shop-log.txt", "transcript.srt", "kept.toml", "cuts.edl", "clips.csv", "episode.toml")
SECOND = tuple(f"versions/2/{name}" for name in ("version.toml", "transcript.vtt", "kept.toml"))


def test_a_loose_folder_is_version_one(tmp_path: Path) -> None:
    """Nobody has to know of versions before there is a second one."""
    folder, problems = find_episode(make(tmp_path, *FIRST))
    assert problems == []
    assert (folder.version, folder.version_folder, folder.home) == (1, None, tmp_path)
    assert folder.out == tmp_path / "out"
    assert find_episode(folder.named)[0] == folder


def test_the_newest_version_is_found(tmp_path: Path) -> None:
    """Its transcript, decisions and cut list are its own; log, clips and settings are the episode's."""
    episode = make(tmp_path / "stool", *FIRST, *SECOND)
    folder, problems = find_episode(episode)
    assert problems == []
    home = episode / "versions" / "2"
    assert (folder.version, folder.home, folder.out, folder.slug) == (2, home, home / "out", "stool")
    assert (folder.transcript, folder.kept, folder.cuts) == (
        home / "transcript.vtt",
        home / "kept.toml",
        None,
    )
    assert (folder.log, folder.clips) == (episode / "shop-log.txt", episode / "clips.csv")
    assert home / "version.toml" in folder.inputs
    assert folder.shown(home / "transcript.vtt") == "versions/2/transcript.vtt"


def test_a_path_names_any_version(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`versions/1` is the first one, though no such folder lies there; relative paths will do."""
    episode = make(tmp_path / "stool", *FIRST, *SECOND)
    assert find_episode(episode / "versions" / "1")[0].transcript == episode / "transcript.srt"
    assert find_episode(episode / "versions" / "2")[0] == find_episode(episode)[0]
    monkeypatch.chdir(episode / "versions" / "2")
    assert find_episode(Path())[0].version == 2
    monkeypatch.chdir(episode)
    assert find_episode(Path("versions/1"))[0].version == 1


@pytest.mark.parametrize("name", ["versions/0", "versions/3", "versions/7"])
def test_a_version_that_was_never_made(tmp_path: Path, name: str) -> None:
    """The refusal names those that are there; a folder without version.toml is none."""
    episode = make(
        tmp_path / "stool", *FIRST, *SECOND, "versions/3/transcript.srt", "versions/0/version.toml"
    )
    with pytest.raises(NotAnEpisode, match="there is no such version; known are 1, 2"):
        find_episode(episode / name)


def test_versions_count_by_number(tmp_path: Path) -> None:
    """Ten comes after nine; names that are no number, and files, are no versions."""
    names = ("2", "10", "9", "x", "notes")
    episode = make(tmp_path, *(f"versions/{name}/version.toml" for name in names), "versions/4")
    assert list(versions_of(episode)) == [2, 9, 10]


def test_the_workshop_of_a_version(tmp_path: Path) -> None:
    """A path to a version lies in the same workshop as its episode."""
    make(tmp_path, "workshop.toml")
    episode = make(tmp_path / "episodes" / "stool", *FIRST, *SECOND)
    assert find_workshop(episode / "versions" / "2").resolve() == tmp_path.resolve()
    assert find_workshop(episode / "versions" / "1").resolve() == tmp_path.resolve()
