"""Caption tracks among the inserts, and the bar that long work shows on a terminal."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import pytest
import webvtt

from reelnotes.cli.progress import progress_bar
from reelnotes.pipeline.inserts import write_inserts
from reelnotes.pipeline.planning import plan_inserts

SPEECH = (
    "WEBVTT\n\n00:01.000 --> 00:06.000\nI <i>glue</i> it all round.\n\n00:30.000 --> 00:36.000\nAnd done.\n"
)
RECORD = """\
signal = "NOTICE"
shown = "the top glued all round"
wrong = "solid wood swells, the frame will split"
instead = "screw it on through slots"

[[place]]
episode = "stool"
span = "0:01-0:20"
"""


@pytest.fixture
def episode(tmp_path: Path) -> Path:
    """Make an episode with a transcript and one correction."""
    folder = tmp_path / "episodes" / "stool"
    folder.mkdir(parents=True)
    (folder / "transcript.vtt").write_text(SPEECH, encoding="utf-8")
    (tmp_path / "workshop.toml").write_text("", encoding="utf-8")
    (tmp_path / "corrections").mkdir()
    (tmp_path / "corrections" / "glued-top.toml").write_text(RECORD, encoding="utf-8")
    return folder


def test_the_tracks_are_written_with_the_inserts(episode: Path) -> None:
    """Speech keeps its markup, and every card stands in the track at its time."""
    planned, paths = write_inserts(plan_inserts(episode))
    names = {f"{kind}.{form}" for kind in ("captions", "inserts") for form in ("srt", "vtt", "ttml")}
    assert names <= {path.name for path in paths}
    text = (episode / "out" / "inserts" / "captions.vtt").read_text(encoding="utf-8")
    assert "I <i>glue</i> it all round." in text
    cards = [card for insert in planned.inserts for card in insert.cards]
    shown = [
        (c.start_in_seconds, c.end_in_seconds) for c in webvtt.from_string(text).captions if c.identifier
    ]
    assert cards
    assert shown == [(card.start_ms // 1000, card.end_ms // 1000) for card in cards]


def test_without_inserts_there_are_no_tracks(episode: Path) -> None:
    """The transcript is the track then."""
    (episode.parents[1] / "corrections" / "glued-top.toml").unlink()
    _, paths = write_inserts(plan_inserts(episode))
    assert {path.name for path in paths} == {"inserts.json", "inserts.txt"}


def test_what_spoke_of_a_correction_that_is_gone_goes(episode: Path) -> None:
    """Tracks and texts of an earlier run are taken away; what somebody else put there stays."""
    write_inserts(plan_inserts(episode))
    folder = episode / "out" / "inserts"
    (folder / "notes.txt").write_text("mine", encoding="utf-8")
    assert (folder / "captions.srt").exists()
    (episode.parents[1] / "corrections" / "glued-top.toml").unlink()
    write_inserts(plan_inserts(episode))
    assert {path.name for path in folder.rglob("*") if path.is_file()} == {
        "inserts.json",
        "inserts.txt",
        "notes.txt",
    }


@pytest.mark.parametrize(
    ("about", "workshop", "letters", "lines"),
    [
        ("", "", 37, 2),
        ('picture = "1080x1920"', "", 25, 3),
        ('picture = "1080x1920"', "[captions]\nline_chars = 30\n", 30, 2),
        ('picture = "1920x1080"', '[panels]\npicture = "1080x1920"\n', 37, 2),
    ],
)
def test_an_upright_picture_has_shorter_lines_and_more(
    episode: Path, about: str, workshop: str, letters: int, lines: int
) -> None:
    """Three lines of 25 letters (BBC Subtitle Guidelines), unless the workshop says how."""
    (episode / "episode.toml").write_text(about, encoding="utf-8")
    (episode.parents[1] / "workshop.toml").write_text(workshop, encoding="utf-8")
    cards = [card for insert in plan_inserts(episode).inserts for card in insert.cards]
    assert max(len(line) for card in cards for line in card.lines) <= letters
    assert max(len(card.lines) for card in cards) <= lines
    assert max(len(line) for card in cards for line in card.lines) > letters - 12


class Terminal(io.StringIO):
    """A stream that says it is a terminal, or not."""

    def __init__(self, looked_at: bool) -> None:
        super().__init__()
        self.looked_at = looked_at

    def isatty(self) -> bool:
        """Tell whether somebody looks."""
        return self.looked_at


def test_a_bar_grows_on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each per cent is drawn once, and nothing of the bar stays."""
    terminal = Terminal(looked_at=True)
    monkeypatch.setattr(sys, "stderr", terminal)
    with progress_bar("cutting") as report:
        for share in (0.25, 0.251, 0.5, 2.0):
            report(share)
    drawn = terminal.getvalue().split("\r")
    assert [line.split()[-2] for line in drawn if "%" in line] == ["0", "25", "50", "100"]
    assert drawn[-1] == "\x1b[K"


def test_a_pipe_sees_no_bar(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is written where nobody looks."""
    pipe = Terminal(looked_at=False)
    monkeypatch.setattr(sys, "stderr", pipe)
    with progress_bar("cutting") as report:
        report(0.5)
    assert pipe.getvalue() == ""
