"""Chapters of the draft written into the video, read back by FFmpeg; a video with its own keeps them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from reelnotes.picture.blend import Panel
from reelnotes.picture.burn import burn_in
from reelnotes.picture.splice import take_out
from reelnotes.timing import Span

if TYPE_CHECKING:
    from conftest import Studio

NEW = ((0, 1500, "Taking apart"), (1500, 3000, "Crème brûlée, 3 × ½"), (3000, 5000, "Glue & clamps"))


def panel() -> Panel:
    """Give a small grey panel."""
    return Panel(np.full((16, 32, 4), 255, np.uint8), 1000, 1600, (320, 180), 8, 8)


@pytest.fixture
def target(tmp_path: Path) -> Path:
    """Give the path of the film to write."""
    return tmp_path / "new.mp4"


@pytest.mark.parametrize("coding", ["keyint=50:scenecut=0", "keyint=50:interlaced=1"], ids=["parts", "whole"])
def test_chapters_are_read_back(studio: Studio, target: Path, coding: str) -> None:
    """FFmpeg finds every chapter at its start with its title, whether parts or the whole was coded anew."""
    done = burn_in(studio.make(coding=coding), [panel()], target, chapters=NEW)
    assert (done.reason is None) == ("interlaced" not in coding)
    assert done.chapters
    found = studio.look(target).chapters
    assert [title for *_, title in found] == [title for *_, title in NEW]
    assert [float(start) for start, _, _ in found] == pytest.approx([start / 1000 for start, _, _ in NEW])


def test_chapters_of_a_new_version_are_in_its_time(studio: Studio, target: Path) -> None:
    """Where a span is taken out, the chapters given are written as they are: they are of the new film."""
    done = take_out(
        studio.make(), [Span(1600, 3000)], [], target, chapters=((0, 1600, "One"), (1600, 3600, "Two"))
    )
    assert done.chapters
    assert [(float(a), t) for a, _, t in studio.look(target).chapters] == [(0, "One"), (1.6, "Two")]


def test_a_films_own_chapters_stay(studio: Studio, target: Path) -> None:
    """What the film has of its own is not replaced, and that is told."""
    source = studio.make(chapters=((0, 2000, "Mine"), (2000, 5000, "Mine too")))
    done = burn_in(source, [panel()], target, chapters=NEW)
    assert not done.chapters
    assert [title for *_, title in studio.look(target).chapters] == ["Mine", "Mine too"]


def test_pictures_and_sound_are_the_same_with_chapters(studio: Studio, target: Path) -> None:
    """The chapters change the head of the file and nothing else.

    Every packet keeps its times and its order, sound its bytes; the few pictures that are coded anew may come
    out otherwise twice, because the encoder works in several threads.
    """
    source = studio.make()
    burn_in(source, [panel()], target)
    bare = studio.look(target)
    burn_in(source, [panel()], named := target.with_name("named.mp4"), chapters=NEW)
    found = studio.look(named)
    times = [
        {name: [row[:2] for row in rows] for name, rows in look.packets.items()} for look in (bare, found)
    ]
    assert times[0] == times[1]
    sounds = [
        {n: rows for n, rows in look.packets.items() if n.startswith("audio")} for look in (bare, found)
    ]
    assert sounds[0] == sounds[1]
    assert sounds[0]
    assert found.messages == []


def test_a_very_long_title_is_cut_between_letters(studio: Studio, target: Path) -> None:
    """The form holds 255 bytes of a title; a letter of several bytes is not cut through."""
    burn_in(studio.make(), [panel()], target, chapters=((0, 5000, "x" + "é" * 200),))
    ((_, _, title),) = studio.look(target).chapters
    assert title == "x" + "é" * 127
