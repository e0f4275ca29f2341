"""Names under which nothing can be read or written, and work that is stopped: one sentence, nothing left."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from reelnotes.picture.burn import burn_in
from reelnotes.picture.film import Done, Progress
from reelnotes.picture.refusals import TargetName
from reelnotes.picture.splice import take_out
from reelnotes.picture.stopping import heeding
from reelnotes.problems import FileChanged, FileUnreadable
from reelnotes.timing import Span

if TYPE_CHECKING:
    from tests.picture.conftest import Studio

CUT = [Span(1600, 3000)]


def test_a_name_longer_than_any_file_has_is_refused(studio: Studio, tmp_path: Path) -> None:
    """As source and as target; the sentence names the option that gives another name."""
    source, long = studio.make(), tmp_path / f"{'a' * 300}.mp4"
    panel = studio.panel(source, 1600, 3000)
    with pytest.raises(FileUnreadable, match="name too long"):
        burn_in(long, [panel], tmp_path / "new.mp4")
    with pytest.raises(TargetName, match=r"name too long\); name another file with --to"):
        burn_in(source, [panel], long)
    with pytest.raises(TargetName):
        take_out(source, CUT, [], long)


def test_a_link_that_leads_to_itself_is_refused(studio: Studio, tmp_path: Path) -> None:
    """Whether it is to be read or to be written."""
    loop = tmp_path / "loop.mp4"
    loop.symlink_to(loop.name)
    with pytest.raises(TargetName, match="symbolic links"):
        take_out(studio.make(), CUT, [], loop)
    with pytest.raises(FileUnreadable, match="symbolic links"):
        take_out(loop, CUT, [], tmp_path / "new.mp4")


# --- a film that somebody else writes to -------------------------------------------------------------------


def written_over(film: Path) -> None:
    """Write other bytes into the middle of a film, whose size stays."""
    with film.open("r+b") as file:
        file.seek(40_000)
        file.write(bytes(range(256)) * 20)


def cut_short(film: Path) -> None:
    """Leave the first half."""
    os.truncate(film, film.stat().st_size // 2)


def made_longer(film: Path) -> None:
    """Write on behind the end, as a recorder does that has not finished."""
    with film.open("ab") as file:
        file.write(bytes(5000))


@pytest.mark.parametrize("change", [written_over, cut_short, made_longer])
@pytest.mark.parametrize("suffix", [".mp4", ".mkv"])
def test_a_film_that_changes_meanwhile_is_not_used(
    studio: Studio, tmp_path: Path, suffix: str, change: Callable[[Path], None]
) -> None:
    """What was read before and after would not belong together: nothing is written, and that is told."""
    whole, folder = studio.make(suffix=suffix), tmp_path / "new"
    film = tmp_path / f"film{suffix}"
    jobs: list[Callable[[Progress], Done]] = [
        lambda report: burn_in(film, [studio.panel(whole, 3600, 4000)], folder / "new.mp4", report),
        lambda report: take_out(film, CUT, [], folder / "new.mp4", report),
    ]
    for job in jobs:
        shutil.copy(whole, film)
        left = [change]

        def meanwhile(share: float, left: list[Callable[[Path], None]] = left) -> None:
            if share > 0.3 and left:
                left.pop()(film)

        with pytest.raises((FileChanged, FileUnreadable), match=r"changed meanwhile|shorter|damaged|sense"):
            job(meanwhile)
        assert list(folder.iterdir()) == []


def test_a_film_that_is_taken_away_meanwhile_was_read_to_its_end(studio: Studio, tmp_path: Path) -> None:
    """Just inside the limit: its bytes stay as they were for whoever has it open."""
    for suffix in (".mp4", ".mkv"):
        film = tmp_path / f"film{suffix}"
        shutil.copy(studio.make(suffix=suffix), film)

        def meanwhile(share: float, film: Path = film) -> None:
            if share > 0.3:
                film.unlink(missing_ok=True)

        made = tmp_path / f"from-{suffix[1:]}.mp4"
        assert take_out(film, CUT, [], made, meanwhile).pictures == 90
        assert len(studio.look(made).times) == 90


# --- being asked to stop -----------------------------------------------------------------------------------

STOPPED = """
import os, signal, sys
from pathlib import Path
import numpy as np
from reelnotes.picture.blend import Panel
from reelnotes.picture.burn import burn_in
from reelnotes.picture.sound import hear
from reelnotes.picture.splice import take_out
from reelnotes.timing import Span
job, source, target, number = sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3]), int(sys.argv[4])
panel = Panel(np.full((40, 40, 4), 255, np.uint8), 1600, 3000, (320, 180))
def ask(share):
    if share > 0.3:
        os.kill(os.getpid(), number)
try:
    if job == "burn":
        burn_in(source, [panel], target, ask)
    elif job == "cut":
        take_out(source, [Span(1600, 3000)], [], target, ask)
    else:
        hear(source, ask)
except KeyboardInterrupt:
    sys.exit(f"stopped {signal.getsignal(signal.SIGTERM) == signal.SIG_DFL}")
"""


@pytest.mark.skipif(sys.platform == "win32", reason="signals of this kind are of Unix")
@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
@pytest.mark.parametrize("suffix", [".mp4", ".mkv"])
@pytest.mark.parametrize("job", ["burn", "cut", "hear"])
def test_whatever_asks_to_stop_leaves_no_half_file(
    studio: Studio, tmp_path: Path, job: str, suffix: str, name: str
) -> None:
    """Ctrl-C, the system's request and a closed terminal all end alike, and old ways are put back after."""
    source, folder = studio.make(suffix=suffix), tmp_path / "new"
    folder.mkdir()
    command = [sys.executable, "-c", STOPPED, job, str(source), str(folder / "new.mp4")]
    number = str(int(getattr(signal, name)))
    done = subprocess.run([*command, number], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 1
    assert done.stderr.strip() == "stopped True"
    assert list(folder.iterdir()) == []


@pytest.mark.skipif(sys.platform == "win32", reason="signals of this kind are of Unix")
def test_a_request_that_the_library_swallowed_is_heard_of_again() -> None:
    """The interruption is lost in a place of no concern here; the next report of progress ends the work."""
    shares: list[float] = []

    def work() -> None:
        with heeding(shares.append) as told:
            told(0.1)
            with suppress(KeyboardInterrupt):
                signal.raise_signal(signal.SIGTERM)
            told(0.2)

    with pytest.raises(KeyboardInterrupt):
        work()
    assert shares == [0.1]


def test_signals_that_somebody_minds_stay_with_them() -> None:
    """A program of which this is a part may have its own way to end."""
    heard: list[int] = []
    before = signal.signal(signal.SIGTERM, lambda number, _: heard.append(number))
    try:
        with heeding() as told:
            signal.raise_signal(signal.SIGTERM)
            told(0.5)
    finally:
        signal.signal(signal.SIGTERM, before)
    assert heard == [signal.SIGTERM]
