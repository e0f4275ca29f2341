"""WebVTT captions: rules from the W3C's WebVTT (Syntax section), `webvtt-py` as an independent reader."""

from __future__ import annotations

import io

import pytest
import webvtt
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import Cue
from reelnotes.problems import Problem
from reelnotes.read.captions import read_transcript
from reelnotes.store import SourceText

modest = settings(max_examples=80, deadline=None)

VALID = """WEBVTT - shop talk
Kind: captions

STYLE
::cue { color: white }

REGION
id:low
width:40%

NOTE one line

NOTE
two lines
of remark

intro
00:00.400 --> 00:02.500 align:start position:0% line:-1
So this is <v.loud Ann>the <c.yellow.b>lid</c></v>,
1 &lt; 2 &amp; <00:01.000><lang en-GB>done</lang>

00:00:02.500 --> 00:00:04.000
<ruby>planed<rt>flat</rt></ruby>&nbsp;[Music]

100:00:00.000 --> 100:00:01.000
- late
"""


def read(text: str) -> tuple[tuple[Cue, ...], list[Problem]]:
    return read_transcript(SourceText("transcript.vtt", text))


def codes(problems: list[Problem]) -> list[tuple[str, int | None]]:
    return [(problem.code, problem.line) for problem in problems]


def test_a_valid_file() -> None:
    """Header, remarks, styles, regions, names, settings, tags and references: only what was said is left."""
    cues, problems = read(VALID)
    assert problems == []
    assert cues == (
        Cue(400, 2500, "So this is the lid, 1 < 2 & done", 18),
        Cue(2500, 4000, "planedflat [Music]", 22),
        Cue(360_000_000, 360_001_000, "- late", 25),
    )


@pytest.mark.parametrize(
    ("timing", "start_ms", "end_ms"),
    [
        ("00:01.000 --> 00:02.500", 1_000, 2_500),
        ("01:00:00.000 --> 01:00:01.000", 3_600_000, 3_601_000),
        ("100:00:00.000 --> 100:00:01.000", 360_000_000, 360_001_000),
        ("00:01.000\t-->\t00:02.500\talign:end", 1_000, 2_500),
    ],
)
def test_timings_that_the_standard_allows(timing: str, start_ms: int, end_ms: int) -> None:
    """Hours may be left out, and may have more than two digits."""
    cues, problems = read(f"WEBVTT\n\n{timing}\nwords\n")
    assert problems == []
    assert [(c.start_ms, c.end_ms) for c in cues] == [(start_ms, end_ms)]


@pytest.mark.parametrize(
    ("timing", "code"),
    [
        ("00:01,000 --> 00:02,500", "cue-form"),
        ("0:01.000 --> 0:02.000", "cue-form"),
        ("00:01.00 --> 00:02.000", "cue-form"),
        ("00:01.000-->00:02.000", "cue-form"),
        ("0:00:01.000 --> 0:00:02.000", "cue-form"),
        ("00:02.000 --> 00:02.000", "cue-time"),
        ("00:02.000 --> 00:01.999", "cue-time"),
        ("00:60.000 --> 01:01.000", "cue-time"),
        ("01:60:00.000 --> 02:00:00.000", "cue-time"),
    ],
)
def test_timings_that_the_standard_forbids(timing: str, code: str) -> None:
    """They are read as far as they can be true, and reported by line."""
    cues, problems = read(f"WEBVTT\n\n{timing}\nwords\n")
    assert [c.text for c in cues] == ["words"]
    assert (code, 3) in codes(problems)


@pytest.mark.parametrize("header", ["WEBVTTfoo", "webvtt", "", "Title"])
def test_a_wrong_header(header: str) -> None:
    """WEBVTT must stand alone or before a space or a tab; the cues are read all the same."""
    cues, problems = read(f"{header}\n\n00:01.000 --> 00:02.000\nwords\n")
    assert [c.text for c in cues] == ["words"]
    assert problems[0].code == "cue-form"


@pytest.mark.parametrize("header", ["WEBVTT", "WEBVTT ", "WEBVTT\twords", "WEBVTT words\nLanguage: en"])
def test_a_right_header(header: str) -> None:
    """What follows WEBVTT behind a space, and the lines below it, are header."""
    assert read(f"{header}\n\n00:01.000 --> 00:02.000\nwords\n")[1] == []


def test_a_blank_line_ends_a_cue() -> None:
    """What stands behind it is kept with the cue and shown; a remark there is a remark."""
    cues, problems = read(
        "WEBVTT\n\n00:01.000 --> 00:02.000\na\n\nstill a\n\nNOTE b\nc\n\n00:03.000 --> 00:04.000\nd\n"
    )
    assert [c.text for c in cues] == ["a still a", "d"]
    assert codes(problems) == [("cue-line", 6)]


def test_a_timing_ends_a_cue_too() -> None:
    """A payload never holds an arrow: the next cue begins there even without a blank line."""
    cues, problems = read("WEBVTT\n\n00:01.000 --> 00:02.000\na\n00:03.000 --> 00:04.000\nb\n")
    assert (problems, [c.text for c in cues]) == ([], ["a", "b"])


def test_rolling_captions_with_times_inside() -> None:
    """A line with a space alone ends no cue; what rolls up from the cue above is read once."""
    cues, problems = read(
        "WEBVTT\nKind: captions\n\n"
        "00:00.400 --> 00:02.470 align:start\n \nso<00:00.640><c> this</c><00:00.880><c> lid</c>\n\n"
        "00:02.470 --> 00:02.480 align:start\nso this lid\n \n\n"
        "00:02.480 --> 00:04.500 align:start\nso this lid\nhad<00:02.720><c> a</c>\n\n"
        "00:04.500 --> 00:04.510 align:start\nhad a\n \n\n"
        "00:04.510 --> 00:06.000 align:start\nhad a\ntwist<00:05.000><c> in it</c>\n\n"
        "00:06.000 --> 00:06.010 align:start\ntwist in it\n \n\n"
        "00:06.010 --> 00:08.000 align:start\ntwist in it\n<c>and a knot</c>\n\n"
    )
    assert [(c.start_ms, c.text) for c in cues] == [
        (400, "so this lid"),
        (2480, "had a"),
        (4510, "twist in it"),
        (6010, "and a knot"),
    ]
    assert [(p.code, p.severity) for p in problems] == [("cue-repeat", "note")]


def test_starts_must_not_go_back() -> None:
    """The same start twice is allowed; an earlier one is reported and put in order."""
    same = "WEBVTT\n\n00:01.000 --> 00:02.000\na\n\n00:02.000 --> 00:03.000\nb\n"
    assert read(same)[1] == []
    cues, problems = read("WEBVTT\n\n00:03.000 --> 00:04.000\nb\n\n00:01.000 --> 00:02.000\na\n")
    assert [c.text for c in cues] == ["a", "b"]
    assert codes(problems) == [("cue-order", 6)]


WORDS = st.text(st.characters(categories=["L"]), min_size=1, max_size=8)
TAGGED = st.builds(
    "{}{}{}".format, st.sampled_from(["", "<i>", "<v Ann>", "<c.a>"]), WORDS, st.sampled_from(["", "&amp;"])
)
PAYLOAD = st.lists(st.lists(TAGGED, min_size=1, max_size=4).map(" ".join), min_size=1, max_size=2)


@modest
@given(st.lists(st.tuples(st.integers(0, 9_000), st.integers(1, 9_000), PAYLOAD), min_size=1, max_size=6))
def test_webvtt_py_reads_the_same(rows: list[tuple[int, int, list[str]]]) -> None:
    """Times and words of valid files are what `webvtt-py` reads; it leaves character references be."""
    import html

    from reelnotes.timing import format_exact

    text, at = "WEBVTT\n", 0
    for gap, length, lines in rows:
        start, at = at + gap, at + gap + length
        text += f"\n{format_exact(start)} --> {format_exact(at)}\n" + "\n".join(lines) + "\n"
    cues, problems = read(text)
    assert problems == []
    theirs = webvtt.from_buffer(io.StringIO(text))
    assert [(format_exact(c.start_ms), format_exact(c.end_ms), c.text) for c in cues] == [
        (caption.start, caption.end, " ".join(html.unescape(caption.text).split()))
        for caption in theirs.captions
    ]
