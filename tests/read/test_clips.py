"""The clip list."""

from __future__ import annotations

from datetime import datetime

import pytest

from reelnotes.model import Clip
from reelnotes.problems import Problem
from reelnotes.read.clips import read_clips
from reelnotes.store import SourceText


def read(text: str) -> tuple[tuple[Clip, ...], list[Problem]]:
    return read_clips(SourceText("clips.csv", text))


def test_clips() -> None:
    """Name, start on the camera's clock, length in seconds to the millisecond; a time zone is left aside."""
    clips, problems = read(
        "clip,start,duration_s\n"
        "A01.MP4,2026-03-04T09:07:32,1799.041667\n"
        'A02.MP4,2026-03-04 09:40:00+01:00,"12,5"\n'
        "A03.MP4,2026-03-04T10:00,2:05\n"
    )
    assert problems == []
    assert clips == (
        Clip("A01.MP4", datetime(2026, 3, 4, 9, 7, 32), 1_799_042),
        Clip("A02.MP4", datetime(2026, 3, 4, 9, 40), 12_500),
        Clip("A03.MP4", datetime(2026, 3, 4, 10, 0), 125_000),
    )


@pytest.mark.parametrize(
    "row",
    ["A,soon,5", "A,2026-03-04T09:00:00,long", "A,2026-03-04T09:00:00,0", ",2026-03-04T09:00:00,5", "A,,5",
     "A,2026-02-30T09:00:00,5", "A,2026-03-04T09:00:00,-5"],
)  # fmt: skip
def test_rows_that_tell_no_clip(row: str) -> None:
    """They are shown and left out; the clip below is read."""
    clips, problems = read(f"clip,start,duration_s\n{row}\nB,2026-03-04T09:00:00,0.001\n")
    assert [c.name for c in clips] == ["B"]
    assert [(p.code, p.line) for p in problems] == [("clip-line", 2)]


def test_a_clip_twice() -> None:
    """The first one holds."""
    clips, problems = read(
        "clip,start,duration_s\na.mp4,2026-03-04T09:00:00,5\nA.MP4,2026-03-04T10:00:00,5\n"
    )
    assert [c.start.hour for c in clips] == [9]
    assert [(p.code, p.line) for p in problems] == [("clip-line", 3)]


def test_a_missing_column() -> None:
    """Without it no clip has a time."""
    clips, problems = read("clip,start\na.mp4,2026-03-04T09:00:00\n")
    assert clips == ()
    assert "duration_s" in problems[0].message
