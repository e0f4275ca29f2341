"""check as a command: what stands in a folder, and what settles it."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import pytest

from reelnotes.cli import main

LOG = "2026-03-04\n09:40 stool in, one stretcher loose\n14:15 wax on, buffed\n"
SPEECH = """\
1
00:00:01,000 --> 00:00:08,000
This stool came in with one stretcher loose.

2
00:00:40,000 --> 00:00:47,000
A little soft wax on the seat, and then it is buffed.
"""
WORKSHOP = "[host]\nchapters_min = 1\n"
CORRECTION = """\
signal = "NOTICE"
shown = "the stretcher glued without a dry fit"
wrong = "it went in twisted"
instead = "assemble it dry first"

[[place]]
episode = "oak"
span = "0:01-0:08"
"""


@pytest.fixture
def oak(tmp_path: Path) -> Path:
    """Give an episode on which nothing stands, as drafted."""
    folder = tmp_path / "episodes" / "oak"
    folder.mkdir(parents=True)
    (folder / "shop-log.txt").write_text(LOG)
    (folder / "transcript.srt").write_text(SPEECH)
    (tmp_path / "workshop.toml").write_text(WORKSHOP)
    (tmp_path / "corrections").mkdir()
    run("draft", folder)
    return folder


def run(*words: str | Path) -> int:
    """Run the command line in this process and give its exit code."""
    before = sys.argv
    sys.argv = ["reelnotes", *map(str, words)]
    try:
        main()
    except SystemExit as leave:
        return int(leave.code or 0)
    finally:
        sys.argv = before
    return 0


def standing(oak: Path, capsys: pytest.CaptureFixture[str]) -> list[dict[str, Any]]:
    """Give what stands, with the exit code held to it."""
    capsys.readouterr()
    code = run("check", oak, "--json")
    document = json.loads(capsys.readouterr().out)
    assert document["clear"] is (not document["standing"])
    assert code == int(bool(document["standing"]))
    found: list[dict[str, Any]] = document["standing"]
    return found


def test_an_episode_that_is_seen_to_is_clear(oak: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 0, and no promise that all is well."""
    assert standing(oak, capsys) == []
    assert run("check", oak) == 0
    assert "no proof that all is well" in capsys.readouterr().out


def test_what_was_never_drafted_stands(oak: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without out/draft.json there is nothing to publish."""
    (oak / "out" / "draft.json").unlink()
    assert [one["kind"] for one in standing(oak, capsys)] == ["changed"]


@pytest.mark.parametrize("text", ["", "[1]", '{"inputs": 3}', '{"schema": "reelnotes/draft-1"}', "{"])
def test_a_draft_that_cannot_be_read_counts_as_none(
    oak: Path, capsys: pytest.CaptureFixture[str], text: str
) -> None:
    """No traceback; draft again."""
    (oak / "out" / "draft.json").write_text(text)
    (one,) = standing(oak, capsys)
    assert "run reelnotes draft" in one["message"]


def test_files_changed_since_the_draft_stand_until_it_is_drafted_again(
    oak: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Changed, new and gone, each by its name; a touch without a change is none."""
    (oak / "shop-log.txt").write_text(LOG)
    assert standing(oak, capsys) == []
    (oak / "shop-log.txt").write_text(LOG + "15:00 lunch, late\n")
    (oak / "kept.toml").write_text("# nothing yet\n")
    (oak.parent.parent / "workshop.toml").rename(oak.parent.parent / "x.toml")
    messages = [one["message"] for one in standing(oak, capsys) if one["kind"] == "changed"]
    assert [message.split(";")[0] for message in messages] == [
        "shop-log.txt was changed", "kept.toml is new", "workshop.toml is gone",
    ]  # fmt: skip
    (oak.parent.parent / "x.toml").rename(oak.parent.parent / "workshop.toml")
    run("draft", oak)
    assert standing(oak, capsys) == []


def test_a_correction_stands_until_it_is_in_the_picture(
    oak: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """And one of another episode does not."""
    top = oak.parent.parent
    (top / "corrections" / "dry.toml").write_text(CORRECTION)
    (top / "corrections" / "other.toml").write_text(CORRECTION.replace("oak", "elm"))
    assert [(one["kind"], one["id"]) for one in standing(oak, capsys)] == [("owed", "dry")]
    run("owed", top, "--done", "dry", "--where", "in-picture")
    assert standing(oak, capsys) == []


def test_a_damaged_record_stands(oak: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It may be one that is owed."""
    (oak.parent.parent / "corrections" / "bad.toml").write_text("shown = ")
    assert [one["kind"] for one in standing(oak, capsys)] == ["ledger"]


def test_a_flag_stands_until_it_is_decided(oak: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A caution takes it up and is then owed to the picture; a dismissal puts it aside."""
    risky = SPEECH + "\n3\n00:01:00,000 --> 00:01:08,000\nI ripped the rail on the table saw, guard off.\n"
    (oak / "transcript.srt").write_text(risky)
    run("draft", oak)
    (flag,) = [one for one in standing(oak, capsys) if one["topic"] == "missing-guard"]
    assert flag["kind"] == "flag"
    run("correct", oak, "--caution", flag["id"], "--id", "guard")
    kinds = [one["kind"] for one in standing(oak, capsys) if one["topic"] == "missing-guard"]
    assert kinds == ["owed"]
    (oak.parent.parent / "corrections" / "guard.toml").unlink()
    (oak / "kept.toml").write_text(f'[[dismiss]]\nflag = "{flag["id"]}"\nreason = "cut from the film"\n')
    run("draft", oak)
    assert [one for one in standing(oak, capsys) if one["topic"] == "missing-guard"] == []


def test_a_flag_inside_a_correction_of_its_topic_is_decided(
    oak: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What was retracted needs no second decision; the correction itself is owed."""
    risky = SPEECH + "\n3\n00:01:00,000 --> 00:01:08,000\nI ripped the rail on the table saw, guard off.\n"
    (oak / "transcript.srt").write_text(risky)
    run("draft", oak)
    words = (
        "--shown",
        "the guard off",
        "--wrong",
        "fingers",
        "--instead",
        "leave it on",
        "--signal",
        "warning",
    )
    run("correct", oak, "--span", "0:55-1:05", *words, "--topic", "missing-guard", "--id", "guard")
    kinds = [one["kind"] for one in standing(oak, capsys) if one["topic"] == "missing-guard"]
    assert kinds == ["owed"]


def test_a_correction_decides_its_flag_in_a_later_version_too(
    oak: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its place is that of the newest version, ten seconds earlier."""
    risky = SPEECH + "\n3\n00:01:00,000 --> 00:01:08,000\nI ripped the rail on the table saw, guard off.\n"
    (oak / "transcript.srt").write_text(risky)
    words = (
        "--shown",
        "the guard off",
        "--wrong",
        "fingers",
        "--instead",
        "leave it on",
        "--signal",
        "warning",
    )
    run("correct", oak, "--span", "1:06-1:08", *words, "--topic", "missing-guard", "--id", "guard")
    run("recut", oak, "--remove", "0:10-0:20")
    found = [one for one in standing(oak, capsys) if one["topic"] == "missing-guard"]
    assert [(one["kind"], one["at_s"]) for one in found] == [("owed", 56.0)]


def test_what_stands_is_told_in_words(oak: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A heading a kind, and the place in the programme."""
    (oak.parent.parent / "corrections" / "dry.toml").write_text(CORRECTION)
    capsys.readouterr()
    assert run("check", oak) == 1
    out = capsys.readouterr().out
    assert "1 thing to see to before publishing" in out
    assert "not yet in the picture" in out
    assert "0:01" in out


def test_a_folder_without_an_episode_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 2 and one sentence."""
    assert run("check", tmp_path) == 2
    assert capsys.readouterr().err.count("\n") == 1
