"""The examples on the pages are read as the pages say."""

from __future__ import annotations

import re
from collections.abc import Callable, Sized
from dataclasses import fields, is_dataclass
from fractions import Fraction
from pathlib import Path

import pytest

from reelnotes.problems import Problem
from reelnotes.read.captions import read_transcript
from reelnotes.read.clips import read_clips
from reelnotes.read.cut_list import read_cut_list
from reelnotes.read.shelf import read_shelf
from reelnotes.read.shop_log import read_shop_log
from reelnotes.settings import EpisodeSettings, WorkshopSettings, read_settings
from reelnotes.store import SourceText

DOCS = Path(__file__).resolve().parents[2] / "docs"
FENCE = re.compile(r"^```\w+ ([\w.-]+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
EXAMPLES = FENCE.findall((DOCS / "formats.md").read_text(encoding="utf-8"))


def reader(name: str) -> Callable[[SourceText], tuple[object, list[Problem]]]:
    """Give the reader of a file name."""
    if name.startswith("transcript"):
        return read_transcript
    if name.startswith("shop-log"):
        return read_shop_log
    if name == "cuts.edl":
        return lambda source: read_cut_list(source, Fraction(25), ())
    if name == "workshop.toml":
        return lambda source: read_settings(WorkshopSettings, source.text, source.name)
    if name == "episode.toml":
        return lambda source: read_settings(EpisodeSettings, source.text, source.name)
    return {"shelf.csv": read_shelf, "clips.csv": read_clips}[name]


@pytest.mark.parametrize(("name", "text"), EXAMPLES, ids=[name for name, _ in EXAMPLES])
def test_every_example_is_read_without_a_problem(name: str, text: str) -> None:
    """Each example is a file that the tool likes, and holds something."""
    found, problems = reader(name)(SourceText(name, text))
    assert problems == []
    assert not isinstance(found, Sized) or len(found) > 1


def test_there_is_an_example_of_every_form() -> None:
    """Every file in the page's table but the optional timeline and kept.toml has one."""
    page = (DOCS / "formats.md").read_text(encoding="utf-8")
    table = page[page.index("| file |") : page.index("A loose folder")]
    named = set(re.findall(r"`([\w-]+\.\w+)`", table)) | {
        f"transcript.{form}" for form in ("vtt", "ttml", "txt", "json")
    }
    assert named - {"cuts.otio", "kept.toml"} == {name for name, _ in EXAMPLES}


@pytest.mark.parametrize("kind", [WorkshopSettings, EpisodeSettings])
def test_every_setting_is_on_the_page(kind: type) -> None:
    """Each stands in the example of docs/formats.md: what is not shown is not found by anybody."""
    page = (DOCS / "formats.md").read_text(encoding="utf-8")
    names = []
    for field in fields(kind):
        names.append(field.name)
        if is_dataclass(part := getattr(kind(), field.name)):
            names += [inner.name for inner in fields(part)]
    assert [name for name in names if not re.search(rf"^\[?{name}\b", page, re.MULTILINE)] == []
