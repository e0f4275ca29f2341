"""Finding the files of an episode."""

from __future__ import annotations

from pathlib import Path

import pytest

from reelnotes.problems import FileUnreadable, NotAnEpisode
from reelnotes.project import find_episode


def make(folder: Path, *names: str) -> Path:
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("", encoding="utf-8")
    return folder


def test_an_episode_in_a_workshop(tmp_path: Path) -> None:
    """The episode's own files, and the shelf and the settings two folders above."""
    make(tmp_path, "shelf.csv", "workshop.toml")
    names = ("shop-log.txt", "transcript.srt", "clips.csv", "cuts.edl", "kept.toml", "episode.toml")
    at = make(tmp_path / "episodes" / "blue-door", *names)
    folder, problems = find_episode(at)
    assert problems == []
    assert folder.slug == "blue-door"
    assert folder.shelf is not None
    assert folder.shelf.resolve() == (tmp_path / "shelf.csv").resolve()
    assert folder.workshop_settings is not None
    for path in (
        folder.log,
        folder.transcript,
        folder.clips,
        folder.cuts,
        folder.kept,
        folder.episode_settings,
    ):
        assert path is not None
        assert path.parent == at
        assert folder.shown(path) == path.name
    assert folder.shown(folder.shelf) == str(folder.shelf)


def test_a_loose_folder(tmp_path: Path) -> None:
    """One log and one transcript under any likely names, a shelf beside them."""
    folder, problems = find_episode(
        make(tmp_path, "My Log.txt", "captions final.SRT", "Shelf.csv", "notes.md")
    )
    assert problems == []
    assert (folder.log, folder.transcript) == (tmp_path / "My Log.txt", tmp_path / "captions final.SRT")
    assert folder.shelf is not None
    assert folder.shelf.name == "Shelf.csv"
    assert folder.kept is None


def test_the_workshop_is_the_top(tmp_path: Path) -> None:
    """Above the folder with workshop.toml nothing is looked for."""
    make(tmp_path, "shelf.csv")
    at = make(tmp_path / "shop", "workshop.toml", "shop-log.txt")
    assert find_episode(at)[0].shelf is None


def test_several_transcripts(tmp_path: Path) -> None:
    """One is taken, and named; the option decides, inside the folder or elsewhere."""
    make(tmp_path, "shop-log.txt", "transcript.vtt", "transcript.srt", "other/t.json")
    folder, problems = find_episode(tmp_path)
    assert folder.transcript == tmp_path / "transcript.srt"
    assert [(p.code, p.file) for p in problems] == [("transcript-choice", "transcript.srt")]
    assert "transcript.vtt" in problems[0].message
    for wanted in (Path("transcript.vtt"), tmp_path / "other" / "t.json"):
        folder, problems = find_episode(tmp_path, wanted)
        assert folder.transcript is not None
        assert (folder.transcript.name, problems) == (wanted.name, [])


def test_the_exact_name_wins(tmp_path: Path) -> None:
    """`transcript.txt` is taken before `old captions.srt`, without a word."""
    folder, problems = find_episode(make(tmp_path, "transcript.txt", "old captions.srt"))
    assert folder.transcript == tmp_path / "transcript.txt"
    assert problems == []


def test_one_of_the_two_is_enough(tmp_path: Path) -> None:
    """A log alone, or a transcript alone, is an episode."""
    assert find_episode(make(tmp_path / "a", "shop-log.csv"))[0].transcript is None
    assert find_episode(make(tmp_path / "b", "transcript.json"))[0].log is None


@pytest.mark.parametrize("name", ["", "none", "file.txt"])
def test_no_episode(tmp_path: Path, name: str) -> None:
    """A folder with neither, a folder that is not there, and a file: one sentence each."""
    make(tmp_path, "file.txt", "shelf.csv")
    with pytest.raises(NotAnEpisode, match=r"holds neither|no such folder|is a file"):
        find_episode(tmp_path / name if name else tmp_path)


def test_a_transcript_that_is_not_there(tmp_path: Path) -> None:
    """What the option names must exist."""
    with pytest.raises(FileUnreadable, match="no such transcript"):
        find_episode(make(tmp_path, "shop-log.txt"), Path("none.srt"))


def test_the_log_is_not_the_transcript(tmp_path: Path) -> None:
    """A loose log is never taken as the transcript as well."""
    folder, _ = find_episode(make(tmp_path, "log and transcript.txt", "transcript b.txt"))
    assert folder.log != folder.transcript
