"""The commands, run in this process; one run in a process of its own stands at the end."""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from reelnotes.cli import main

LOG = """\
2026-03-04 wed
09:40 stool in, wobbly. 1 stretcher loose
10:15 old glue off, warm water + brush
10:30 dry fit ok. glued stretcher, hide glue abt 15 ml, 1 clamp
12:30 lunch
14:15 sndd top 180 > 240, window open, mask on
"""
SPEECH = """\
1
00:00:01,000 --> 00:00:06,000
This stool came in wobbly, one of the stretchers is loose.

2
00:00:12,000 --> 00:00:19,000
First all the old glue comes off, with warm water and a brush.

3
00:00:24,000 --> 00:00:31,000
A dry fit, and it's fine, so hide glue on the stretcher and one clamp.

4
00:00:40,000 --> 00:00:48,000
Then I sand the top, one eighty and two forty, mask on and the window open.
"""


@pytest.fixture
def episode(tmp_path: Path) -> Path:
    folder = tmp_path / "stool"
    folder.mkdir()
    (folder / "shop-log.txt").write_text(LOG)
    (folder / "transcript.srt").write_text(SPEECH)
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


def test_draft_writes_every_form_into_out(episode: Path) -> None:
    """A loose folder with a log and a transcript gives a draft in every form."""
    from reelnotes.write.outputs import OUTPUTS

    assert run("draft", episode) == 0
    assert {p.name for p in (episode / "out").iterdir()} == {*OUTPUTS, "description.txt"}


def test_draft_places_the_steps(episode: Path) -> None:
    """The four told entries stand at their cues, lunch is off camera."""
    run("draft", episode)
    draft = json.loads((episode / "out" / "draft.json").read_text())
    starts = [step["spans"][0]["start_s"] if step["spans"] else None for step in draft["steps"]]
    assert starts == [1.0, 12.0, 24.0, None, 40.0]


def test_draft_json_prints_one_document(episode: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With --json standard output is one JSON document, the same as the file."""
    run("draft", episode, "--json")
    printed = capsys.readouterr().out
    assert json.loads(printed) == json.loads((episode / "out" / "draft.json").read_text())


def test_drafting_twice_changes_nothing(episode: Path) -> None:
    """A second draft of the same folder leaves every file as it was."""
    run("draft", episode)
    first = {p.name: (p.read_bytes(), p.stat().st_mtime_ns) for p in (episode / "out").iterdir()}
    run("draft", episode)
    assert first == {p.name: (p.read_bytes(), p.stat().st_mtime_ns) for p in (episode / "out").iterdir()}


def test_out_names_another_folder(episode: Path, tmp_path: Path) -> None:
    """--out writes there and leaves the episode's own folder alone."""
    assert run("draft", episode, "--out", tmp_path / "elsewhere") == 0
    assert (tmp_path / "elsewhere" / "sheet.html").exists()
    assert not (episode / "out").exists()


def refused(capsys: pytest.CaptureFixture[str], *words: str | Path) -> str:
    """Run a command that must be refused: exit 2, one line on standard error, nothing on standard output."""
    assert run(*words) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.count("\n") == 1
    assert "Traceback" not in captured.err
    return captured.err


def test_a_file_for_an_episode_is_refused(episode: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An episode folder that is a file gets one sentence."""
    assert "is a file" in refused(capsys, "draft", episode / "shop-log.txt")


def test_a_missing_folder_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder that is not there gets one sentence."""
    assert "no such folder" in refused(capsys, "draft", tmp_path / "nowhere")


def test_an_empty_folder_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder with neither log nor transcript says what it would need."""
    assert "shop-log.txt" in refused(capsys, "draft", tmp_path)


def test_a_transcript_that_is_no_text_is_refused(episode: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that cannot be read at all ends with one sentence, not with a traceback."""
    (episode / "transcript.srt").write_bytes(b"\x00\x01\x02\x00" * 40)
    assert "not a text file" in refused(capsys, "draft", episode)


def test_an_out_folder_that_is_a_file_is_refused(
    episode: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where nothing can be written the sentence names --out."""
    (tmp_path / "taken").write_text("")
    assert "--out" in refused(capsys, "draft", episode, "--out", tmp_path / "taken")


@pytest.mark.skipif(os.geteuid() == 0, reason="the administrator can write everywhere")
def test_a_read_only_out_folder_is_refused(episode: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A read-only folder names the way out."""
    (episode / "out").mkdir()
    (episode / "out").chmod(stat.S_IRUSR | stat.S_IXUSR)
    assert "--out" in refused(capsys, "draft", episode)


def test_two_transcripts_are_named_and_the_option_decides(
    episode: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two transcripts: the choice is told; --transcript takes the other."""
    (episode / "transcript.vtt").write_text("WEBVTT\n\n00:01.000 --> 00:02.000\nHello there\n")
    assert run("draft", episode) == 1
    assert "transcript.srt: was taken as the transcript; transcript.vtt was not" in capsys.readouterr().err
    run("draft", episode, "--transcript", episode / "transcript.vtt")
    draft = json.loads((episode / "out" / "draft.json").read_text())
    assert draft["duration_s"] == 2.0
    assert "transcript-choice" not in {p["code"] for p in draft["problems"]}


def test_another_videos_transcript_is_noticed(episode: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A transcript that tells hardly any entry is reported as such."""
    cues = [
        f"{n}\n00:{n:02d}:00,000 --> 00:{n:02d}:20,000\nToday we bake a sponge with raspberry jam and cream\n"
        for n in range(1, 20)
    ]
    (episode / "transcript.srt").write_text("\n".join(cues))
    assert run("draft", episode) == 1
    assert "another video" in capsys.readouterr().err


def test_an_empty_log_is_reported_and_the_rest_is_drafted(
    episode: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An empty log is a problem; chapters still come from the speech."""
    (episode / "shop-log.txt").write_text("\n")
    assert run("draft", episode) == 1
    assert "shop-log.txt" in capsys.readouterr().err
    assert json.loads((episode / "out" / "draft.json").read_text())["chapters"]


def test_kept_decisions_outlive_a_redraft(episode: Path) -> None:
    """A pinned step, a renamed chapter and a dismissed flag hold in the next draft."""
    run("draft", episode)
    steps = json.loads((episode / "out" / "draft.json").read_text())["steps"]
    (episode / "kept.toml").write_text(
        f'[[pin]]\nstep = "{steps[1]["id"]}"\nspans = ["0:40-0:48"]\n\n'
        '[[chapter]]\nat = "0:24"\ntitle = "Dry, then wet"\n'
    )
    run("draft", episode)
    draft = json.loads((episode / "out" / "draft.json").read_text())
    assert draft["steps"][1]["spans"][0] | {} == {
        "start_s": 40.0, "end_s": 48.0, "confidence": 1.0, "evidence": "pinned",
    }  # fmt: skip
    assert {"start_s": 24.0, "title": "Dry, then wet", "from": "kept"} in draft["chapters"]


def test_start_makes_a_workshop_and_never_overwrites(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The folder explains itself; a second start is refused and changes nothing."""
    assert run("start", "workshop", tmp_path / "shop") == 0
    before = (tmp_path / "shop" / "workshop.toml").read_bytes()
    capsys.readouterr()
    assert "already there" in refused(capsys, "start", "workshop", tmp_path / "shop")
    assert (tmp_path / "shop" / "workshop.toml").read_bytes() == before


def test_a_started_workshops_files_read_without_a_problem(tmp_path: Path) -> None:
    """What `start` writes is what the readers expect."""
    run("start", "workshop", tmp_path / "shop")
    run("start", "episode", tmp_path / "shop" / "episodes" / "stool")
    folder = tmp_path / "shop" / "episodes" / "stool"
    run("note", folder, "glued the stretcher, hide glue abt 15 ml")
    (folder / "transcript.srt").write_text(SPEECH)
    assert run("draft", folder) in (0, 1)
    problems = json.loads((folder / "out" / "draft.json").read_text())["problems"]
    assert [p for p in problems if p["code"] not in ("match-thin", "chapter-limit")] == []


def test_note_adds_one_line_and_a_day_when_it_is_new(episode: Path) -> None:
    """A note of the same day is one line; a new day gets its date first; nothing else changes."""
    run("note", episode, "wiped the top", "--at", "2026-03-04 15:00")
    run("note", episode, "oil  on\nthe top", "--at", "2026-03-05 08:05")
    assert (episode / "shop-log.txt").read_text() == (
        LOG + "15:00 wiped the top\n\n2026-03-05\n08:05 oil on the top\n"
    )


def test_note_keeps_windows_line_ends_and_a_missing_last_one(episode: Path) -> None:
    """The file's own line ends are kept, and a last line without one is ended first."""
    (episode / "shop-log.txt").write_bytes(b"2026-03-04\r\n09:40 stool in")
    run("note", episode, "glued", "--at", "2026-03-04 10:00")
    assert (episode / "shop-log.txt").read_bytes() == b"2026-03-04\r\n09:40 stool in\r\n10:00 glued\r\n"


@pytest.mark.parametrize("when", ["25:10", "yesterday", "2026-02-30 09:00"])
def test_note_refuses_a_time_that_is_none(
    episode: Path, when: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A time that cannot be read is refused and the log stays as it was."""
    refused(capsys, "note", episode, "glued", "--at", when)
    assert (episode / "shop-log.txt").read_text() == LOG


def test_the_command_runs_as_a_program(episode: Path) -> None:
    """`python -m reelnotes draft` works in a process of its own, from another folder, without a terminal."""
    done = subprocess.run(
        [sys.executable, "-m", "reelnotes", "draft", str(episode)],
        capture_output=True, text=True, check=False, cwd=episode.parent, stdin=subprocess.DEVNULL,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.endswith("out/sheet.html\n")


def test_an_unknown_option_is_wrong_use() -> None:
    """Wrong use is exit code 2."""
    assert run("draft", "--colour") == 2
