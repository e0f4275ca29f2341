"""Names under which nothing can be read or written, and work that is stopped: one sentence, nothing left."""

from __future__ import annotations

import signal
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from reelnotes.picture.burn import burn_in
from reelnotes.picture.refusals import TargetName
from reelnotes.picture.splice import take_out
from reelnotes.picture.stopping import heeding
from reelnotes.problems import FileUnreadable
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
