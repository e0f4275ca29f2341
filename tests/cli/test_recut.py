"""A new version from the command line: everything moves, nothing of the old version is touched."""

from __future__ import annotations

import json
import random
import re
import subprocess
import sys
import time
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest

from reelnotes.cli import main
from reelnotes.pipeline.episode import draft_episode
from reelnotes.pipeline.reading import read_episode
from reelnotes.pipeline.recut import recut_episode
from reelnotes.project import find_episode
from reelnotes.timing import parse_span

LOG = """\
2026-03-04 wed
09:40 stool in, wobbly. 1 stretcher loose
10:15 old glue off, warm water + brush
10:30 dry fit ok. glued stretcher, hide glue abt 15 ml, 1 clamp
14:15 sndd top 180 > 240, window open, mask on
"""
SPEECH = """\
WEBVTT

NOTE our own note

00:01.000 --> 00:06.000
This stool came in <i>wobbly</i>, one of the stretchers is loose.

00:12.000 --> 00:19.000 line:10%
First all the old glue comes off, with warm water and a brush.

00:24.000 --> 00:31.000
A dry fit, and it's fine, so hide glue on the stretcher and one clamp.

00:40.000 --> 00:48.000
Then I sand the top, one eighty and two forty, mask on and the window open.
"""
MOVED = """\
WEBVTT

NOTE our own note

00:00:01.000 --> 00:00:06.000
This stool came in <i>wobbly</i>, one of the stretchers is loose.

00:00:14.000 --> 00:00:21.000
A dry fit, and it's fine, so hide glue on the stretcher and one clamp.

00:00:30.000 --> 00:00:38.000
Then I sand the top, one eighty and two forty, mask on and the window open.
"""
CUTS = """\
TITLE: STOOL
FCM: NON-DROP FRAME

001  AX       V     C        00:00:10:00 00:00:30:00 01:00:00:00 01:00:20:00
* FROM CLIP NAME: A.MP4
002  AX       V     C        00:01:00:00 00:01:40:00 01:00:20:00 01:01:00:00
* FROM CLIP NAME: B.MP4
"""
KEPT = '# mine\n[[chapter]]\nat = "0:24"   # here\ntitle = "The glue"\n'
RECORD = """\
# a remark of my own
signal = "NOTICE"
shown = "warm water on the joint"
wrong = "too much of it swells the tenon"
instead = "a damp brush, and let it dry"

[[place]]
episode = "stool"
version = 1
span = "0:14-0:16"   # twice

[[place]]
episode = "stool"
version = 1
span = "0:25-0:30"

[[place]]
episode = "table"
version = 1
span = "0:14-0:16"
"""


@pytest.fixture
def workshop(tmp_path: Path) -> Path:
    """Make a workshop with one episode that has everything, and a record of the ledger."""
    files = {
        "workshop.toml": 'name = "The shed"\n',
        "episodes/stool/shop-log.txt": LOG,
        "episodes/stool/transcript.vtt": SPEECH,
        "episodes/stool/cuts.edl": CUTS,
        "episodes/stool/kept.toml": KEPT,
        "episodes/stool/episode.toml": 'frame_rate = "25"\nlength = "1:05"\n',
        "corrections/warm-water.toml": RECORD,
    }
    for name, text in files.items():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return tmp_path


@pytest.fixture
def episode(workshop: Path) -> Path:
    """Give the folder of the episode."""
    return workshop / "episodes" / "stool"


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


def prints(folder: Path) -> dict[str, str]:
    """Give the fingerprint of every file in a folder, but for versions and the ledger's records."""
    return {
        path.relative_to(folder).as_posix(): sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and "versions" not in path.parts and "corrections" not in path.parts
    }


def test_a_version_is_made_and_the_old_one_is_left(workshop: Path, episode: Path) -> None:
    """The new version has its own transcript, cut list, decisions and outputs; version 1 keeps every byte."""
    assert run("draft", episode) in {0, 1}
    before = prints(workshop)
    assert run("recut", episode, "--remove", "0:10-0:20") == 0
    assert prints(workshop) == before
    made = episode / "versions" / "2"
    text = (made / "transcript.vtt").read_text(encoding="utf-8")
    assert text == MOVED
    assert (made / "kept.toml").read_text(encoding="utf-8") == KEPT.replace("0:24", "0:14")
    assert "00:00:10:00 00:00:20:00 01:00:00:00 01:00:10:00" in (made / "cuts.edl").read_text(
        encoding="utf-8"
    )
    assert "00:01:00:00 00:01:40:00 01:00:10:00 01:00:50:00" in (made / "cuts.edl").read_text(
        encoding="utf-8"
    )
    record = json.loads((made / "out" / "draft.json").read_text(encoding="utf-8"))
    assert record["duration_s"] == 55.0
    assert {"start_s": 14.0, "title": "The glue", "from": "kept"} in record["chapters"]


def test_the_outputs_are_the_old_ones_moved(episode: Path) -> None:
    """The lists of the new version are those of the old one at their new times, not another draft."""
    old, _ = draft_episode(episode)
    done = recut_episode(episode, [parse_span("0:52-0:58")], [])
    new = done.planned.draft
    assert new.steps == old.steps
    assert new.chapters == old.chapters
    assert new.duration_ms == old.duration_ms - 6_000


def test_what_comes_next_finds_the_new_version(workshop: Path, episode: Path) -> None:
    """A later draft, correction and recut take the newest version; a path names any one."""
    run("recut", episode, "--remove", "0:10-0:20")
    facts, problems = read_episode(episode)
    assert [p.code for p in problems if p.severity != "note"] == []
    assert (facts.folder.version, facts.duration_ms, len(facts.cues), len(facts.cuts)) == (2, 55_000, 3, 2)
    assert facts.entries
    first, _ = read_episode(episode / "versions" / "1")
    assert (first.folder.version, first.duration_ms, len(first.cues)) == (1, 65_000, 4)
    words = ("--shown", "a", "--wrong", "b", "--instead", "c", "--signal", "notice", "--id", "x")
    assert run("correct", episode, "--span", "0:15-0:16", *words) == 0
    assert "version = 2" in (workshop / "corrections" / "x.toml").read_text(encoding="utf-8")
    assert run("recut", episode, "--remove", "0:00-0:05") == 1, "two chapters are fewer than the host shows"
    assert "of = 2" in (episode / "versions" / "3" / "version.toml").read_text(encoding="utf-8")
    assert run("recut", episode / "versions" / "1", "--remove", "0:00-0:05") == 0
    assert "of = 1\n" in (episode / "versions" / "4" / "version.toml").read_text(encoding="utf-8")


def test_times_in_episode_toml_are_those_of_the_first_version(episode: Path) -> None:
    """Promises that were seen to are found in the new version, and told of it at its own time too."""
    settings = 'frame_rate = "25"\nlength = "1:05"\npromises_kept = ["0:40", "0:15", "soon"]\n'
    (episode / "episode.toml").write_text(settings, encoding="utf-8")
    recut_episode(episode, [parse_span("0:10-0:20")], [])
    facts, _ = read_episode(episode)
    assert facts.settings.promises_kept == ("0:40", "0:15", "soon", "0:30")
    assert facts.settings.length == "0:55"


def test_line_ends_are_kept(episode: Path) -> None:
    """A transcript and decisions with the line ends of another system keep them."""
    for name, text in (("transcript.vtt", SPEECH), ("kept.toml", KEPT)):
        (episode / name).write_bytes(text.replace("\n", "\r\n").encode())
    recut_episode(episode, [parse_span("0:10-0:20")], [])
    for name in ("transcript.vtt", "kept.toml"):
        raw = (episode / "versions" / "2" / name).read_bytes()
        assert raw.count(b"\r\n") == raw.count(b"\n") > 2


def test_a_damaged_version_is_told_and_the_rest_counts(episode: Path) -> None:
    """Its transcript is read all the same; only its length, and its way to other versions, are not known."""
    recut_episode(episode, [parse_span("0:10-0:20")], [])
    (episode / "versions" / "2" / "version.toml").write_text("of = [", encoding="utf-8")
    facts, problems = read_episode(episode)
    assert [p.severity for p in problems if p.code == "version"] == ["error"]
    assert (facts.folder.version, len(facts.cues), facts.settings.length) == (2, 3, "")


def test_places_that_are_gone_are_marked(
    workshop: Path, episode: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The ledger says in which version a place is gone, once; everything that was in it stays."""
    run("recut", episode, "--remove", "0:10-0:20")
    path = workshop / "corrections" / "warm-water.toml"
    text = path.read_text(encoding="utf-8")
    assert text.startswith(RECORD)
    assert text.count("[[gone]]") == 1
    assert 'span = "0:14-0:16"\nout_of = 2' in text
    assert "warm-water  0:14-0:16 of version 1" in capsys.readouterr().out
    run("recut", episode, "--remove", "0:00-0:02")
    text = path.read_text(encoding="utf-8")
    assert (text.count("out_of = 2"), text.count("out_of = 3"), text.count("[[gone]]")) == (1, 1, 2)
    old, new = (inserts_json(capsys, episode, number) for number in ("1", "3"))
    assert [one["span"]["start_s"] for one in old["inserts"]] == [14.0, 25.0]
    assert [one["span"]["start_s"] for one in new["inserts"]] == [13.0]


def inserts_json(capsys: pytest.CaptureFixture[str], episode: Path, number: str) -> dict[str, Any]:
    """Give what the inserts of a version are, as JSON."""
    capsys.readouterr()
    run("insert", episode / "versions" / number, "--json")
    told: dict[str, Any] = json.loads(capsys.readouterr().out)
    return told


def test_what_an_earlier_run_could_not_mark_is_made_good(workshop: Path, episode: Path) -> None:
    """A record that comes later, or a run that ended too soon, is marked by the next recut."""
    run("recut", episode, "--remove", "0:10-0:20")
    path = workshop / "corrections" / "warm-water.toml"
    path.write_text(RECORD, encoding="utf-8")
    run("recut", episode, "--remove", "0:00-0:02")
    text = path.read_text(encoding="utf-8")
    assert (text.count("out_of = 2"), text.count("out_of = 3")) == (1, 1)


def test_a_damaged_record_does_not_stop_a_version(workshop: Path, episode: Path) -> None:
    """It is reported, exit code 1, and the version is there; the sound record is marked."""
    (workshop / "corrections" / "broken.toml").write_text("shown = [", encoding="utf-8")
    assert run("recut", episode, "--remove", "0:10-0:20") == 1
    assert (episode / "versions" / "2" / "version.toml").is_file()
    assert "out_of = 2" in (workshop / "corrections" / "warm-water.toml").read_text(encoding="utf-8")


def test_json_is_one_document(episode: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Everything that people are told is in the document, times in seconds."""
    capsys.readouterr()
    words = ("--remove", "0:10-0:20", "--remove", "0:43-0:44", "--hold", "0:30", "--for", "4", "--json")
    assert run("recut", episode, *words) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["version"], told["of"], told["frame_rate"]) == (2, 1, "25")
    assert told["removed"] == [{"start_s": 10.0, "end_s": 20.0}, {"start_s": 43.0, "end_s": 44.0}]
    assert told["held"] == [{"at_s": 30.0, "for_s": 4.0}]
    assert (told["length_before_s"], told["length_s"]) == (65.0, 58.0)
    assert told["moved"]["captions"] == 2
    assert [c["fate"] for c in told["changes"] if c["kind"] == "cue"] == ["went", "shortened"]
    assert told["gone"] == [{"id": "warm-water", "version": 1, "span": {"start_s": 14.0, "end_s": 16.0}}]
    assert all(Path(name).is_file() for name in told["files"])


def test_a_loose_folder_will_do(tmp_path: Path) -> None:
    """A log and a transcript of whole seconds are enough; there is no ledger to mark."""
    (tmp_path / "log.txt").write_text(LOG, encoding="utf-8")
    (tmp_path / "speech transcript.txt").write_text(
        "[0:01] One two three\n\n[0:10] Four\n\n[0:20] Five\n", encoding="utf-8"
    )
    assert run("recut", tmp_path, "--remove", "0:05-0:15") == 0
    made = (tmp_path / "versions" / "2" / "transcript.txt").read_text(encoding="utf-8")
    assert made == "[0:01] One two …\n\n[0:05] Four\n\n[0:10 - 0:11] Five\n"
    assert find_episode(tmp_path)[0].version == 2


# --- bad input -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--remove", "1:00-1:06"], "1:00-1:06 lies outside the programme, which ends at 1:05"),
        (["--remove", "0:20-0:10"], "is not a time; write it as 9:12-9:41, the end after the start"),
        (["--remove", "twenty"], "'twenty' is not a time"),
        (["--remove", "0:00-1:05"], "take out all of the programme"),
        (["--hold", "2:00", "--for", "4"], "--hold 2:00 lies outside the programme"),
        (["--hold", "0:10"], "--hold was given 1 times and --for 0 times"),
        (["--hold", "0:10", "--for", "0"], "holds nothing"),
        ([], "say what to take out with --remove"),
        (["--remove", "0:10-0:20", "--video", "a.mp4"], "give both: --video IN.mp4 --to OUT.mp4"),
        (["--remove", "0:10-0:20", "--to", "a.mp4"], "give both: --video IN.mp4 --to OUT.mp4"),
        (["--remove", "0:10-0:20", "--video", "a.mp4", "--to", "b.mp4"], "a.mp4: "),
    ],
)
def test_bad_input_is_one_sentence(
    episode: Path, words: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2, one sentence on standard error, no version, not even an empty folder."""
    assert run("recut", episode, *words) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert told in err
    assert err.count("\n") == 1
    assert "Traceback" not in err
    assert not (episode / "versions").exists()


@pytest.mark.parametrize("name", ["nowhere", "stool/shop-log.txt", "stool/versions/2", "stool/versions/0"])
def test_an_unknown_episode_or_version(episode: Path, name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder that is not there, a file, and a version that was never made."""
    assert run("recut", episode.parent / name, "--remove", "0:10-0:20") == 2
    err = capsys.readouterr().err
    assert re.search(
        "there is no such folder|is a file; name the folder|there is no such version; known are 1", err
    )


# --- two at once, and an end in the middle -------------------------------------------------------------


def started(episode: Path) -> subprocess.Popen[bytes]:
    """Start a recut in a process of its own."""
    words = [sys.executable, "-m", "reelnotes", "recut", str(episode), "--remove", "0:10-0:20"]
    return subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def test_two_at_once_make_two_versions(workshop: Path, episode: Path) -> None:
    """The second waits its turn; both versions are whole and the ledger knows both."""
    writers = [started(episode), started(episode)]
    assert [writer.wait(60) for writer in writers] == [0, 0]
    assert sorted(p.name for p in (episode / "versions").iterdir() if p.is_dir()) == ["2", "3"]
    text = (workshop / "corrections" / "warm-water.toml").read_text(encoding="utf-8")
    assert "out_of = 2" in text


def test_a_kill_at_any_moment_leaves_all_or_nothing(episode: Path) -> None:
    """Whenever it is killed, each version that counts is whole, and version 1 keeps every byte."""
    before = prints(episode)
    chance = random.Random(7)  # noqa: S311 - chance, no secret
    begun = time.monotonic()
    started(episode).wait(60)
    whole = time.monotonic() - begun
    names = sorted(p.name for p in (episode / "versions" / "2" / "out").iterdir())
    for _ in range(6):
        writer = started(episode)
        time.sleep(whole * (0.5 + 0.6 * chance.random()))
        writer.kill()
        writer.wait(60)
        folder, _ = find_episode(episode)
        assert sorted(p.name for p in folder.out.iterdir()) == names
        assert read_episode(episode)[0].folder.version >= 2
    assert prints(episode) == before


# --- with the video ------------------------------------------------------------------------------------


@pytest.fixture
def video(tmp_path: Path) -> Path:
    """Make a small grey film of 65 s at 25 frames a second."""
    import av
    import numpy as np

    path = tmp_path / "film.mp4"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=25)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        stream.options = {"preset": "ultrafast", "g": "50", "bf": "0"}
        for number in range(65 * 25):
            picture = np.full((48, 64, 3), number % 200, np.uint8)
            for packet in stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")):
                container.mux(packet)
        for packet in stream.encode(None):
            container.mux(packet)
    return path


def test_the_video_is_cut_with_its_version(episode: Path, video: Path, tmp_path: Path) -> None:
    """The film of the new version is as long as its cut list says, to the frame."""
    import av

    target = tmp_path / "second.mp4"
    words = ("--remove", "0:10-0:20", "--hold", "0:30", "--for", "4", "--video", video, "--to", target)
    assert run("recut", episode, *words) == 0
    with av.open(str(target)) as container:
        frames = sum(1 for _ in container.decode(video=0))
    facts, _ = read_episode(episode)
    assert (frames, facts.duration_ms) == (59 * 25, 59_000)
    assert run("recut", episode, "--remove", "0:01-0:02", "--video", video, "--to", target) == 2
    assert not (episode / "versions" / "3").exists()


def test_a_name_that_no_file_can_have_is_refused(
    episode: Path, video: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A name of 300 letters is told in one sentence."""
    assert run("recut", episode, "--remove", "0:10-0:20", "--video", video, "--to", f"{'x' * 300}.mp4") == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_the_video_of_another_version_is_refused(
    episode: Path, video: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A film that ends before the last words are said is not the one."""
    transcript = episode / "transcript.vtt"
    transcript.write_text(SPEECH + "\n02:00.000 --> 02:02.000\nOne more thing.\n", encoding="utf-8")
    target = tmp_path / "second.mp4"
    assert run("recut", episode, "--remove", "0:10-0:20", "--video", video, "--to", target) == 2
    assert "is 1:05 long, but version 1 has words at 2:00" in capsys.readouterr().err
    assert not target.exists()
