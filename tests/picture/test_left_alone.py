"""Names under which nothing can be read or written, and work that is stopped: one sentence, nothing left."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from reelnotes.picture.burn import burn_in
from reelnotes.picture.refusals import TargetName
from reelnotes.picture.splice import take_out
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
