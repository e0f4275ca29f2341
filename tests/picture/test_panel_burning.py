"""`reelnotes insert` from the command line: panels, timelines, and the corrected video."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from reelnotes.cli import main
from reelnotes.cli.progress import progress_bar, tell
from reelnotes.picture.foresee import foresee
from reelnotes.picture.panel import Press
from reelnotes.pipeline.planning import plan_inserts

if TYPE_CHECKING:
    from conftest import Studio

Image = pytest.importorskip("PIL.Image", reason="the library that draws panels is not installed")

SPEECH = "WEBVTT\n\n00:04.000 --> 00:08.000\nI cut the moulding.\n\n00:12.000 --> 00:14.000\nDone.\n"
RECORD = """\
signal = "WARNING"
shown = "the guard off"
wrong = "the blade can catch the work"
instead = "put the guard back"

[[place]]
episode = "stool"
span = "0:04-0:06"
"""


@pytest.fixture
def episode(tmp_path: Path) -> Path:
    """Make an episode with a transcript and one correction."""
    folder = tmp_path / "shop" / "episodes" / "stool"
    folder.mkdir(parents=True)
    (folder / "transcript.vtt").write_text(SPEECH, encoding="utf-8")
    (folder / "episode.toml").write_text("frame_rate = 25\n", encoding="utf-8")
    shop = folder.parents[1]
    (shop / "workshop.toml").write_text("", encoding="utf-8")
    (shop / "corrections").mkdir()
    (shop / "corrections" / "guard-off.toml").write_text(RECORD, encoding="utf-8")
    return folder


@pytest.fixture
def film(studio: Studio) -> Path:
    """Give a film of 18 s with a picture that stands alone every 2 s."""
    path: Path = studio.make(frames=450, size=(640, 360))
    return path


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
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


Run = Callable[..., tuple[int, str, str]]


def sizes(folder: Path) -> set[tuple[int, int]]:
    return {Image.open(io.BytesIO(path.read_bytes())).size for path in folder.glob("*.png")}


# --- panels and timelines ------------------------------------------------------------------------------


def test_panels_and_timelines_are_written_beside_the_tracks(episode: Path, run: Run) -> None:
    """One PNG a card, a timeline in both forms, all named in the output."""
    code, out, _ = run("insert", episode)
    folder = episode / "out" / "inserts"
    assert code == 0
    cards = [card for insert in plan_inserts(episode).inserts for card in insert.cards]
    names = sorted(path.name for path in (folder / "panels").iterdir())
    assert names == [f"01-guard-off-{number}.png" for number in range(1, len(cards) + 1)]
    assert f"{len(cards)} panels" in out
    assert sizes(folder / "panels") == {(1920, 1080)}
    edl = (folder / "panels.edl").read_text(encoding="utf-8")
    assert all(f"* SOURCE FILE: panels/{name}" in edl for name in names)
    otio = json.loads((folder / "panels.otio").read_text(encoding="utf-8"))
    assert otio["OTIO_SCHEMA"].startswith("Timeline")


def test_the_size_is_that_of_the_episode_else_of_the_workshop(episode: Path, run: Run) -> None:
    """episode.toml goes before workshop.toml; a size that cannot be is reported and the usual one taken."""
    folder = episode / "out" / "inserts" / "panels"
    (episode.parents[1] / "workshop.toml").write_text('[panels]\npicture = "1280x720"\n', encoding="utf-8")
    run("insert", episode)
    assert sizes(folder) == {(1280, 720)}
    (episode / "episode.toml").write_text('frame_rate = 25\npicture = "1080x1920"\n', encoding="utf-8")
    run("insert", episode)
    assert sizes(folder) == {(1080, 1920)}


def test_without_a_frame_rate_there_are_panels_and_no_timeline(episode: Path, run: Run) -> None:
    """That is said, with the way out."""
    (episode / "episode.toml").unlink()
    code, _, said = run("insert", episode)
    assert code == 0
    assert "frame_rate" in said
    names = {path.name for path in (episode / "out" / "inserts").iterdir()}
    assert "panels" in names
    assert not {"panels.otio", "panels.edl"} & names


def test_without_the_library_texts_are_written_all_the_same(
    episode: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A note says that there are no panels and what to install; the exit code stays 0."""
    monkeypatch.setitem(sys.modules, "PIL", None)
    code, _, said = run("insert", episode)
    assert code == 0
    assert "reelnotes[picture]" in said
    assert (episode / "out" / "inserts" / "captions.vtt").is_file()
    assert not (episode / "out" / "inserts" / "panels").exists()


def test_the_fonts_of_the_workshop_are_used(episode: Path, run: Run) -> None:
    """A font named in workshop.toml lies beside it; one that is not there ends the command in a sentence."""
    shop = episode.parents[1]
    (shop / "workshop.toml").write_text('[panels]\nfont = "mine.ttf"\n', encoding="utf-8")
    code, _, said = run("insert", episode)
    assert code == 2
    assert str(shop / "mine.ttf") in said
    from reelnotes.picture.face import WORD_FONT

    shutil.copy(WORD_FONT, shop / "mine.ttf")
    assert run("insert", episode)[0] == 0


def test_panels_of_an_earlier_run_go(episode: Path, run: Run) -> None:
    """What no insert needs any more is taken away, in the usual place; a file of somebody else's stays."""
    run("insert", episode)
    folder = episode / "out" / "inserts"
    (folder / "panels" / "mine.png").write_bytes(b"")
    before = {path.name for path in (folder / "panels").iterdir()}
    (episode.parents[1] / "corrections" / "guard-off.toml").write_text(
        RECORD.replace("the blade can catch the work", "it can catch " * 30), encoding="utf-8"
    )
    run("insert", episode)
    longer = {path.name for path in (folder / "panels").iterdir()}
    assert longer > before
    (episode.parents[1] / "corrections" / "guard-off.toml").write_text(RECORD, encoding="utf-8")
    run("insert", episode)
    assert {path.name for path in (folder / "panels").iterdir()} == before
    (episode.parents[1] / "corrections" / "guard-off.toml").unlink()
    run("insert", episode)
    assert {path.name for path in (folder / "panels").iterdir()} == {"mine.png"}
    assert not (folder / "panels.otio").exists()


# --- burning in ------------------------------------------------------------------------------------------


def test_the_corrected_video_bears_the_panel_in_its_window_alone(
    studio: Studio, episode: Path, film: Path, tmp_path: Path, run: Run
) -> None:
    """On every picture of its window, on no other; outside the touched groups all is the same to the bit."""
    target = tmp_path / "new.mp4"
    before = hashlib.sha256(film.read_bytes()).hexdigest()
    code, out, said = run("insert", episode, "--burn", film, "--to", target)
    assert code == 0
    assert hashlib.sha256(film.read_bytes()).hexdigest() == before
    assert "pictures (" in said
    assert "coded anew" in said
    assert str(target) in out
    (insert,) = plan_inserts(episode).inserts
    old, new = studio.look(film), studio.look(target)
    assert new.messages == []
    changed = [
        round(t * 1000)
        for t, was, now in zip(old.times, old.pictures, new.pictures, strict=True)
        if np.abs(was[20:120, 40:300].astype(int) - now[20:120, 40:300]).mean() > 4
    ]
    assert changed == list(range(insert.start_ms, insert.end_ms, 40))
    outside = [t < 2 or t >= 14 for t in old.times]
    assert [h for h, out in zip(old.hashes, outside, strict=True) if out] == [
        h for h, out in zip(new.hashes, outside, strict=True) if out
    ]


@pytest.mark.parametrize("rotation", [0, 90, 180, 270])
def test_in_the_video_the_panel_looks_as_it_was_drawn(
    studio: Studio, episode: Path, tmp_path: Path, run: Run, rotation: int
) -> None:
    """Also where the picture is turned for showing: the panel stands upright, of the size shown."""
    film, target = studio.make(frames=450, size=(640, 360), rotation=rotation), tmp_path / "new.mp4"
    assert run("insert", episode, "--burn", film, "--to", target)[0] == 0
    shown = (640, 360) if rotation % 180 == 0 else (360, 640)
    (insert,) = plan_inserts(episode).inserts
    at = insert.cards[0].start_ms + 1000
    picture = as_shown(target, at)
    assert picture.shape[:2] == shown[::-1]
    folder = episode / "out" / "inserts" / "panels"
    assert sizes(folder) == {shown}
    panel = np.array(Image.open(io.BytesIO((folder / "01-guard-off-1.png").read_bytes())))
    solid = panel[..., 3] == 255
    # Greys of a moving picture lie near 104; colours are coded at half size, so the mean is looked at.
    assert np.abs(picture[solid].astype(int) - panel[..., :3][solid]).mean() < 12
    assert np.abs(picture[~solid].astype(int) - 108).mean() < 15


def as_shown(path: Path, at_ms: int) -> Any:  # noqa: ANN401 - a picture as numbers
    import av

    with av.open(str(path)) as container:
        for frame in container.decode(video=0):
            if frame.time is not None and frame.time * 1000 >= at_ms:
                return np.rot90(frame.to_ndarray(format="rgb24"), round(frame.rotation / 90))
    raise AssertionError("no picture there")


def test_json_is_one_document_also_when_burning(episode: Path, film: Path, tmp_path: Path, run: Run) -> None:
    """Standard output holds the document alone, with what was coded anew; what is said goes elsewhere."""
    target = tmp_path / "new.mp4"
    code, out, said = run("insert", episode, "--burn", film, "--to", target, "--json")
    document = json.loads(out)
    assert code == 0
    assert document["burned"]["pictures"] == 450
    assert 0 < document["burned"]["coded_anew"] < 450
    assert document["burned"]["reason"] is None
    assert str(target) in document["files"]
    assert "coded anew" in said


def test_a_whole_film_coded_anew_is_told_with_the_reason(
    studio: Studio, episode: Path, tmp_path: Path, run: Run
) -> None:
    """Before it starts, with the time it will take, once."""
    film = studio.make(frames=450, size=(640, 360), suffix=".mkv")
    code, _, said = run("insert", episode, "--burn", film, "--to", tmp_path / "new.mp4")
    assert code == 0
    (line,) = [line for line in said.splitlines() if "coded anew" in line]
    assert "because it is not an MP4 or MOV file" in line
    assert "takes about 0:0" in line


def test_a_film_where_nothing_stands_alone_is_told_so(studio: Studio, episode: Path) -> None:
    """With one group for the whole film, an insert at its start touches all of it."""
    film = studio.make(frames=450, size=(640, 360), coding="keyint=infinite:scenecut=0:bframes=0")
    planned = plan_inserts(episode)
    press = Press((640, 360), planned.facts.workshop.panels)
    layers = [p for one in planned.inserts for p in press.burned(press.typeset(one, None)[0])]
    foreseen = foresee(film, layers)
    assert foreseen.reason is None
    assert foreseen.pictures == 450
    assert foreseen.touched > 300
    early = foresee(film, [type(layers[0])(layers[0].picture, 0, 1000, (640, 360))])
    assert early.touched == 450
    assert "nothing that follows" in early.sentence


def test_a_video_tells_the_frame_rate_where_nothing_else_does(
    episode: Path, film: Path, tmp_path: Path, run: Run
) -> None:
    """Then there are timelines too."""
    (episode / "episode.toml").unlink()
    code, _, said = run("insert", episode, "--burn", film, "--to", tmp_path / "new.mp4")
    assert code == 0
    assert "frame_rate" not in said
    assert (episode / "out" / "inserts" / "panels.otio").is_file()


# --- what is refused -------------------------------------------------------------------------------------


def test_the_input_is_never_overwritten(episode: Path, film: Path, run: Run) -> None:
    """Neither under its own name nor through a link, and no other file is."""
    before = film.read_bytes()
    assert run("insert", episode, "--burn", film, "--to", film)[0] == 2
    link = film.parent / "link.mp4"
    if not link.exists():
        link.symlink_to(film)
    code, _, said = run("insert", episode, "--burn", film, "--to", link)
    assert code == 2
    assert "never overwritten" in said
    assert film.read_bytes() == before


def test_another_file_is_not_overwritten_either(episode: Path, film: Path, tmp_path: Path, run: Run) -> None:
    """What is there stays there."""
    target = tmp_path / "there.mp4"
    target.write_bytes(b"mine")
    code, _, said = run("insert", episode, "--burn", film, "--to", target)
    assert code == 2
    assert "already there" in said
    assert target.read_bytes() == b"mine"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"glue, 15 ml\n" * 40, "no video"),
        (b"", "no video"),
        (b"\x00\x00\x00\x18ftypisom\x00\x00\x02\x00isomiso2\x00\x00\x10\x00mdatxxxx", "cut short"),
        (None, "no such file"),
    ],
)
def test_what_is_no_video_is_refused_in_a_sentence(
    episode: Path, tmp_path: Path, run: Run, content: bytes | None, words: str
) -> None:
    """Exit code 2, the file named, nothing written."""
    path = tmp_path / "notes.mp4"
    if content is not None:
        path.write_bytes(content)
    code, out, said = run("insert", episode, "--burn", path, "--to", tmp_path / "new.mp4")
    assert (code, out) == (2, "")
    assert words in said
    assert path.name in said
    assert len(said.strip().splitlines()) == 1
    assert not (episode / "out").exists()
    assert not (tmp_path / "new.mp4").exists()


def test_the_two_files_go_together(episode: Path, film: Path, run: Run) -> None:
    """One without the other is wrong use."""
    assert run("insert", episode, "--burn", film)[0] == 2
    assert "--to" in run("insert", episode, "--to", film.parent / "new.mp4")[2]


def test_an_ending_that_is_not_written_is_refused(
    episode: Path, film: Path, tmp_path: Path, run: Run
) -> None:
    """Before anything is done."""
    code, _, said = run("insert", episode, "--burn", film, "--to", tmp_path / "new.webm")
    assert code == 2
    assert ".mp4" in said
    assert not (episode / "out").exists()


def test_another_episodes_video_is_refused(studio: Studio, episode: Path, tmp_path: Path, run: Run) -> None:
    """A film that ends before the last words cannot be this episode's; one that just reaches them can."""
    short = studio.make(frames=250, size=(640, 360))
    code, _, said = run("insert", episode, "--burn", short, "--to", tmp_path / "new.mp4")
    assert code == 2
    assert "0:10 long" in said
    assert "0:12" in said
    enough = studio.make(frames=300, size=(640, 360))
    assert run("insert", episode, "--burn", enough, "--to", tmp_path / "new.mp4")[0] in {0, 1}


def test_a_card_after_the_end_is_refused_with_the_way_out(
    studio: Studio, episode: Path, tmp_path: Path, run: Run
) -> None:
    """A held frame gives it room; a last card that begins while the film runs is burned in and reported."""
    record = episode.parents[1] / "corrections" / "guard-off.toml"
    record.write_text(RECORD.replace("0:04-0:06", "0:11-0:12"), encoding="utf-8")
    film = studio.make(frames=300, size=(640, 360))
    code, _, said = run("insert", episode, "--burn", film, "--to", tmp_path / "new.mp4")
    assert code == 2
    assert "recut EPISODE --hold 0:11 --for" in said
    assert not (tmp_path / "new.mp4").exists()
    last = plan_inserts(episode).inserts[0].cards[-1]
    enough = studio.make(frames=last.start_ms // 40 + 1, size=(640, 360))
    assert run("insert", episode, "--burn", enough, "--to", tmp_path / "new.mp4")[0] == 1
    assert (tmp_path / "new.mp4").exists()


def test_with_nothing_to_insert_no_video_is_written(
    episode: Path, film: Path, tmp_path: Path, run: Run
) -> None:
    """A copy without any panel would look like a corrected video and is none."""
    (episode.parents[1] / "corrections" / "guard-off.toml").unlink()
    code, _, said = run("insert", episode, "--burn", film, "--to", tmp_path / "new.mp4")
    assert code == 2
    assert "nothing to burn in" in said
    assert not (tmp_path / "new.mp4").exists()


def test_a_full_disk_is_one_sentence(
    episode: Path, film: Path, tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """How much is needed and how much is free; no half video stays."""
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=1 << 20))
    target = tmp_path / "video" / "new.mp4"
    code, _, said = run("insert", episode, "--burn", film, "--to", target)
    assert code == 2
    assert "the disk is full" in said
    assert not list(target.parent.iterdir())


# --- the bar ---------------------------------------------------------------------------------------------


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        """Somebody looks."""
        return True


def test_the_bar_tells_the_time_left(monkeypatch: pytest.MonkeyPatch) -> None:
    """Once it can be told: a quarter done in 10 s leaves 30 s; not in the first moment, not at the end."""
    terminal, clock = Terminal(), [100.0]
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setattr(time, "monotonic", lambda: clock[0])
    with progress_bar("burning in") as report:
        clock[0] = 101.0
        report(0.1)
        clock[0] = 110.0
        report(0.25)
        report(1.0)
    drawn = [line for line in terminal.getvalue().split("\r") if "%" in line]
    assert [line.partition("%")[2].strip() for line in drawn] == ["", "", "0:30 left", ""]


def test_what_is_told_stands_above_the_bar(monkeypatch: pytest.MonkeyPatch) -> None:
    """The bar's line is cleared for it; where nobody looks no sign for terminals is printed."""
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    tell("This takes about 0:05.")
    assert terminal.getvalue() == "\r\x1b[KThis takes about 0:05.\n"
    pipe = io.StringIO()
    monkeypatch.setattr(sys, "stderr", pipe)
    tell("This takes about 0:05.")
    assert pipe.getvalue() == "This takes about 0:05.\n"
