"""Every entry of OUTPUTS is written, described, kept golden, and read back by a reader of its own."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import pytest
import webvtt
from lxml import etree, html
from markdown_it import MarkdownIt

from reelnotes.model import Chapter, Draft
from reelnotes.settings import HostLimits
from reelnotes.timing import parse_time
from reelnotes.write.description import DESCRIPTION, description
from reelnotes.write.outputs import OUTPUTS, write_outputs

HERE = Path(__file__).parent
DOCS = HERE.parents[1] / "docs" / "outputs.md"
ALL = [*OUTPUTS, DESCRIPTION]


def _read_ffmetadata(text: str) -> int:
    import av

    with av.open(io.BytesIO(text.encode()), format="ffmetadata") as container:
        return len(container.chapters())


#: File name -> how many things an independent reader finds in it; each must find the draft's own number.
READERS: dict[str, Callable[[str], int]] = {
    "draft.json": lambda text: len(json.loads(text)["steps"]),
    "chapters.txt": lambda text: len([parse_time(line.split()[0]) for line in text.splitlines()]),
    "chapters.vtt": lambda text: len(webvtt.from_string(text)),
    "chapters.ffmetadata": _read_ffmetadata,
    "chapters.xml": lambda text: len(etree.fromstring(text.encode()).findall(".//ChapterAtom")),
    "chapters.json": lambda text: len(json.loads(text)["chapters"]),
    "materials.csv": lambda text: len(list(csv.DictReader(io.StringIO(text, newline="")))),
    "materials.md": lambda text: MarkdownIt().enable("table").render(text).count("<tr>") - 1,
    "flags.md": lambda text: MarkdownIt().render(text).count("<h3>"),
    "steps.csv": lambda text: len(list(csv.DictReader(io.StringIO(text, newline="")))),
    "off-camera.md": lambda text: MarkdownIt().render(text).count("<li>"),
    "linked-data.jsonld": lambda text: len(json.loads(text)["@graph"]),
    "sheet.html": lambda text: len(html.document_fromstring(text).findall("body")),
    DESCRIPTION: lambda text: sum(line[:1].isdigit() for line in text.splitlines()),
}
FOUND = {"draft.json": 4, "steps.csv": 4, "off-camera.md": 1, "linked-data.jsonld": 2, "sheet.html": 1}


@pytest.mark.parametrize("name", ALL)
def test_every_output_can_be_read_back(draft: Draft, name: str) -> None:
    """Each form has a reader that had no part in writing it, and that finds all three records or more."""
    files, _ = write_outputs(draft, HostLimits())
    assert READERS[name](files[name]) == FOUND.get(name, 3)


@pytest.mark.parametrize("name", ALL)
def test_every_output_of_an_empty_draft_can_be_written(name: str) -> None:
    """A draft with nothing in it breaks no writer, and every text ends with a line feed."""
    empty = Draft("a", "A", 0)
    text = OUTPUTS[name](empty) if name in OUTPUTS else description(empty, 5000)[0]
    assert text.endswith("\n") or text == ""


@pytest.mark.parametrize("name", ALL)
def test_every_output_is_described(name: str) -> None:
    """docs/outputs.md has a heading that is the file's name."""
    headings = [
        line.lstrip("# `").rstrip("`") for line in DOCS.read_text("utf-8").splitlines() if line[:1] == "#"
    ]
    assert name in headings


def test_outputs_are_as_they_were(draft: Draft, golden: Callable[[Path, Mapping[str, str]], None]) -> None:
    """The forms of a small draft change only on purpose; the sheet has tests of its own."""
    files, _ = write_outputs(draft, HostLimits())
    golden(HERE / "golden", {name: text for name, text in files.items() if name != "sheet.html"})


def test_what_was_found_while_writing_is_told_everywhere(draft: Draft) -> None:
    """Problems of the writing are given back and stand in draft.json too."""
    late = replace(draft, chapters=(*draft.chapters, Chapter(999_000, "too late")))
    files, problems = write_outputs(late, HostLimits(description_max_chars=500))
    codes = [problem.code for problem in problems]
    assert {"chapter-place", "description-long"} <= set(codes)
    assert [p["code"] for p in json.loads(files["draft.json"])["problems"]] == ["log-order", *codes]


def test_writing_twice_tells_nothing_twice(draft: Draft) -> None:
    """A draft that holds the problems already gives the same files."""
    files, problems = write_outputs(draft, HostLimits())
    again = replace(draft, problems=(*draft.problems, *problems))
    assert write_outputs(again, HostLimits()) == (files, problems)
