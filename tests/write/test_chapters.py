"""Chapters are read back by libraries that had no part in writing them."""

from __future__ import annotations

import html
import io
import json
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import jsonschema
import numpy as np
import pysubs2
import pytest
import webvtt
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from reelnotes.model import Chapter, Draft
from reelnotes.timing import parse_time
from reelnotes.write.chapters import (
    chapters_ffmetadata,
    chapters_matroska,
    chapters_podcast,
    chapters_text,
    chapters_vtt,
    placed_chapters,
)
from reelnotes.write.plain import one_line

SIGNS = ["-->", ";", "#", "=", "\\", "&", "&amp;", "<i>", '"', "'", "]]>", "2", "NOTE"]
AWKWARD = [*SIGNS, "\n", "\r\n", "\t", "🪑", "שלום", "\u202e", "\x00", "\x85"]
TITLES = st.lists(st.sampled_from(AWKWARD) | st.text(max_size=6), max_size=6).map(" ".join) | st.text()
DURATION_MS = 5 * 3_600_000


@st.composite
def drafts(draw: st.DrawFn) -> Draft:
    """Drafts with chapters at any times, in any order, some twice, some past the end."""
    starts = st.integers(0, DURATION_MS + 10_000)
    chapters = draw(st.lists(st.builds(Chapter, starts, TITLES), max_size=8))
    return Draft("piece", draw(TITLES), DURATION_MS, chapters=tuple(chapters))


def placed(draft: Draft) -> list[tuple[int, int, str]]:
    """Give what every form must say: start, end, title."""
    return [(c.start_ms, c.end_ms, c.title) for c in placed_chapters(draft)[0]]


modest = settings(max_examples=40, deadline=None)


# --- the order behind all forms ----------------------------------------------------------------------


@modest
@given(drafts())
def test_every_chapter_is_placed_or_reported(draft: Draft) -> None:
    """Nothing is lost in silence: a chapter is in the files or in the problems."""
    chapters, problems = placed_chapters(draft)
    assert len(chapters) + len(problems) == len(draft.chapters)


@modest
@given(drafts())
def test_placed_chapters_cover_the_rest_of_the_programme(draft: Draft) -> None:
    """Each chapter has length and ends where the next begins, the last with the programme."""
    rows = placed(draft)
    assert all(start < end for start, end, _ in rows)
    assert [end for _, end, _ in rows] == [start for start, _, _ in rows[1:]] + [DURATION_MS] * bool(rows)


def test_a_chapter_at_the_very_end_is_left_out(draft: Draft) -> None:
    """The last millisecond still holds a chapter, the end itself does not."""
    inside = replace(draft, chapters=(Chapter(109_999, "just inside"),))
    outside = replace(draft, chapters=(Chapter(110_000, "just outside"),))
    assert len(placed_chapters(inside)[0]) == 1
    assert placed_chapters(inside)[1] == []
    assert placed_chapters(outside)[0] == ()
    assert [p.code for p in placed_chapters(outside)[1]] == ["chapter-place"]


def test_of_two_chapters_at_one_place_the_first_stays(draft: Draft) -> None:
    """A second chapter at the same time is reported with its title; a millisecond later it has room."""
    chapters = (Chapter(0, "one"), Chapter(0, "two"), Chapter(1, "three"))
    kept, problems = placed_chapters(replace(draft, chapters=chapters))
    assert [c.title for c in kept] == ["one", "three"]
    assert "'two'" in problems[0].message


def test_uids_outlive_a_shifted_start(draft: Draft) -> None:
    """A chapter keeps its id when it moves, twins have two ids, and none is 0 (RFC 9559: not 0)."""
    first = placed_chapters(replace(draft, chapters=(Chapter(0, "Sanding"), Chapter(9, "Sanding"))))[0]
    moved = placed_chapters(replace(draft, chapters=(Chapter(5, "Sanding"),)))[0]
    assert first[0].uid == moved[0].uid
    assert len({c.uid for c in first} | {0}) == 3


def test_a_chapter_without_a_title_is_called_by_its_number(draft: Draft) -> None:
    """Players show an empty line otherwise."""
    assert placed_chapters(replace(draft, chapters=(Chapter(0, " \n "),)))[0][0].title == "Chapter 1"


# --- plain text with times ---------------------------------------------------------------------------


@modest
@given(drafts())
def test_text_reads_back_to_the_second(draft: Draft) -> None:
    """A line is a time, a space and the title; the time is cut to whole seconds, never rounded up."""
    rows = []
    for line in chapters_text(draft).split("\n")[:-1]:
        time, _, title = line.partition(" ")
        rows.append((parse_time(time), title))
    assert rows == [(start // 1000 * 1000, title) for start, _, title in placed(draft)]


# --- WebVTT ------------------------------------------------------------------------------------------


def nested_only(spans: list[tuple[int, int]]) -> bool:
    """Tell whether cues are nested or apart, never partly over each other (W3C WebVTT, nested cues)."""
    return not any(a < c < b < d for a, b in spans for c, d in spans)


def test_the_rule_of_nested_cues_would_notice() -> None:
    """0 to 60 s and 30 to 90 s is no chapter file; one inside the other is."""
    assert not nested_only([(0, 60), (30, 90)])
    assert nested_only([(0, 60), (30, 45), (60, 90)])


@modest
@given(drafts())
def test_webvtt_reads_back_with_webvtt_py(draft: Draft) -> None:
    """Times, order and titles come back through webvtt-py; no title can break the file."""
    text = chapters_vtt(draft)
    captions = webvtt.from_string(text).captions if placed(draft) else []
    rows = [(c.start_in_seconds, html.unescape(c.text)) for c in captions]
    assert rows == [(start // 1000, title) for start, _, title in placed(draft)]
    assert [c.identifier for c in captions] == [c.name for c in placed_chapters(draft)[0]]
    assert nested_only([(start, end) for start, end, _ in placed(draft)])


@modest
@given(drafts())
def test_webvtt_reads_back_with_pysubs2(draft: Draft) -> None:
    """Times to the millisecond come back through pysubs2."""
    cues = pysubs2.SSAFile.from_string(chapters_vtt(draft), format_="vtt") if placed(draft) else []
    assert [(c.start, c.end) for c in cues] == [(start, end) for start, end, _ in placed(draft)]


@modest
@given(drafts())
def test_webvtt_keeps_the_rules_of_the_standard(draft: Draft) -> None:
    """Only timing lines hold an arrow, and no title holds a bare < or & (W3C WebVTT, syntax)."""
    lines = chapters_vtt(draft).split("\n")
    assert lines[:2] == ["WEBVTT", ""] or lines == ["WEBVTT", ""]
    timing = re.compile(r"\d{2,}:[0-5]\d:[0-5]\d\.\d{3} --> \d{2,}:[0-5]\d:[0-5]\d\.\d{3}")
    for line in lines:
        assert timing.fullmatch(line) if "-->" in line else "<" not in line
        assert not re.search(r"&(?!amp;|lt;|gt;)", line)


# --- FFmpeg metadata ---------------------------------------------------------------------------------


def in_ms(ticks: int, base: Fraction | None) -> int:
    """Turn a count of ticks into milliseconds."""
    assert base is not None
    return int(ticks * base * 1000)


def read_ffmetadata(text: str) -> tuple[dict[str, str], list[tuple[int, int, str]]]:
    """Let FFmpeg itself (through PyAV) read a metadata file; times in milliseconds."""
    with av.open(io.BytesIO(text.encode()), format="ffmetadata") as container:
        chapters = [
            (in_ms(c["start"], c["time_base"]), in_ms(c["end"], c["time_base"]), c["metadata"])
            for c in container.chapters()
        ]
        return dict(container.metadata), [(start, end, m.get("title", "")) for start, end, m in chapters]


@modest
@given(drafts())
def test_ffmetadata_reads_back_with_ffmpeg(draft: Draft) -> None:
    """Titles with = ; # and backslash, and times, come back through FFmpeg's own reader."""
    metadata, rows = read_ffmetadata(chapters_ffmetadata(draft))
    assert [(start, end, title.rstrip()) for start, end, title in rows] == placed(draft)
    assert metadata.get("title", "").rstrip() == one_line(draft.title)


@pytest.mark.parametrize(
    ("title", "read"), [("a\\", "a\\ "), ("a\\\\", "a\\\\ "), ("a\\b", "a\\b"), (";", ";")]
)
def test_a_backslash_at_the_end_keeps_to_its_line(draft: Draft, title: str, read: str) -> None:
    """FFmpeg joins lines at a backslash before the line feed, also an escaped one, so a space follows it."""
    one = replace(draft, title=title, chapters=(Chapter(0, title), Chapter(9, "next")))
    metadata, rows = read_ffmetadata(chapters_ffmetadata(one))
    assert metadata["title"] == rows[0][2] == read
    assert rows[1][2] == "next"


def test_without_a_timebase_ffmpeg_reads_nanoseconds() -> None:
    """Why TIMEBASE always stands first: FFmpeg reads bare numbers as nanoseconds (its current manual)."""
    _, rows = read_ffmetadata(";FFMETADATA1\n[CHAPTER]\nSTART=1000000000\nEND=2000000000\ntitle=a\n")
    assert rows == [(1000, 2000, "a")]


# --- Matroska ----------------------------------------------------------------------------------------


def read_matroska(text: str) -> list[dict[str, Any]]:
    """Read chapter XML by element names (RFC 9559), checking what the element rules ask for."""
    root = etree.fromstring(text.encode(), etree.XMLParser(resolve_entities=False))
    assert root.tag == "Chapters"
    atoms = []
    for edition in root:
        assert edition.tag == "EditionEntry"
        assert len(edition.findall("ChapterAtom")) >= 1
        for atom in edition.findall("ChapterAtom"):
            display = atom.find("ChapterDisplay")
            start, end = int(atom.findtext("ChapterTimeStart")), int(atom.findtext("ChapterTimeEnd"))
            assert 0 <= start <= end
            assert display.findtext("ChapLanguageBCP47") == "und"
            uid = int(atom.findtext("ChapterUID"))
            atoms.append({"id": uid, "start": start, "end": end, "title": display.findtext("ChapString")})
    assert len({atom["id"] for atom in atoms} | {0}) == len(atoms) + 1
    return atoms


@modest
@given(drafts())
def test_matroska_xml_reads_back_with_lxml(draft: Draft) -> None:
    """Nanoseconds and titles come back through lxml; ids are unique and never 0 (RFC 9559)."""
    rows = [(a["start"], a["end"], a["title"]) for a in read_matroska(chapters_matroska(draft))]
    assert rows == [(start * 1_000_000, end * 1_000_000, title) for start, end, title in placed(draft)]


def test_matroska_times_are_nanoseconds(draft: Draft) -> None:
    """5.000 to 25.000 s is 5000000000 to 25000000000, and 12:28 is 748000000000 (RFC 9559, first example)."""
    chapters = (Chapter(5_000, "Before"), Chapter(25_000, "The deed"), Chapter(748_000, "After"))
    longer = replace(draft, duration_ms=800_000, chapters=chapters)
    atoms = read_matroska(chapters_matroska(longer))
    assert (atoms[0]["start"], atoms[0]["end"]) == (5_000_000_000, 25_000_000_000)
    assert atoms[2]["start"] == 748_000_000_000


def test_matroska_chapters_live_in_a_real_file(draft: Draft, tmp_path: Path) -> None:
    """Put into a Matroska file as they stand in the XML, the chapters come back through FFmpeg."""
    atoms = read_matroska(chapters_matroska(draft))
    path = tmp_path / "chapters.mkv"
    base = Fraction(1, 1_000_000_000)
    with av.open(path, "w") as container:
        stream = container.add_stream("mpeg4", rate=1)
        stream.width, stream.height, stream.pix_fmt = 32, 32, "yuv420p"
        container.set_chapters(
            [
                {
                    "id": a["id"],
                    "start": a["start"],
                    "end": a["end"],
                    "time_base": base,
                    "metadata": {"title": a["title"]},
                }
                for a in atoms
            ]
        )
        for _ in range(2):
            frame = av.VideoFrame.from_ndarray(np.zeros((32, 32, 3), np.uint8), format="rgb24")
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
    with av.open(path) as container:
        back = [
            (c["id"], in_ms(c["start"], c["time_base"]), c["metadata"]["title"]) for c in container.chapters()
        ]
    assert back == [(c.uid, c.start_ms, c.title) for c in placed_chapters(draft)[0]]


def test_without_chapters_there_is_no_edition(draft: Draft) -> None:
    """An edition needs at least one chapter (RFC 9559), so none is written."""
    assert read_matroska(chapters_matroska(replace(draft, chapters=()))) == []


# --- podcast chapters --------------------------------------------------------------------------------

#: Written down from the podcast namespace's description of JSON chapters, version 1.2.
PODCAST_SCHEMA: dict[str, Any] = {
    "type": "object",
    "required": ["version", "chapters"],
    "properties": {
        "version": {"type": "string"},
        "chapters": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["startTime"],
                "properties": {
                    "startTime": {"type": "number", "minimum": 0},
                    "endTime": {"type": "number"},
                    "title": {"type": "string"},
                    "img": {"type": "string"},
                    "url": {"type": "string"},
                    "toc": {"type": "boolean"},
                    "location": {"type": "object", "required": ["name", "geo"]},
                },
            },
        },
    },
}


@pytest.mark.parametrize(
    ("text", "valid"),
    [
        ('{"version":"1.2.0","chapters":[{"startTime":0,"title":"Intro"}]}', True),
        ('{"version":"1.2.0","chapters":[{"title":"Intro"}]}', False),
        ('{"version":"1.2.0","chapters":[{"startTime":"12"}]}', False),
        ('{"chapters":[]}', False),
    ],
)
def test_the_podcast_schema_would_notice(text: str, valid: bool) -> None:
    """A missing start and a start in quotation marks are refused."""
    assert jsonschema.Draft202012Validator(PODCAST_SCHEMA).is_valid(json.loads(text)) is valid


@modest
@given(drafts())
def test_podcast_chapters_keep_their_rules(draft: Draft) -> None:
    """The file is valid, says 1.2.0, and its starts rise (podcast namespace, JSON chapters 1.2)."""
    document = json.loads(chapters_podcast(draft))
    jsonschema.validate(document, PODCAST_SCHEMA)
    assert document["version"] == "1.2.0"
    rows = [
        (round(c["startTime"] * 1000), round(c["endTime"] * 1000), c["title"]) for c in document["chapters"]
    ]
    assert rows == placed(draft)
    assert rows == sorted(rows)
