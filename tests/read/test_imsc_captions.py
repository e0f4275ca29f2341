"""IMSC and other TTML captions. Values after the W3C's IMSC 1.1; ttconv is the second reader."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from fractions import Fraction

import pytest
import ttconv.imsc.reader
from hypothesis import given, settings
from hypothesis import strategies as st
from ttconv.isd import ISD

from reelnotes.model import Cue
from reelnotes.read.captions import form_of, read_transcript
from reelnotes.read.imsc_captions import Rates, read_imsc, time_of
from reelnotes.store import SourceText

HEAD = '<tt xmlns="http://www.w3.org/ns/ttml" xmlns:ttp="http://www.w3.org/ns/ttml#parameter" xml:lang="en"'


def document(body: str, parameters: str = "") -> SourceText:
    """Make a document around a body."""
    return SourceText("t.ttml", f"{HEAD}{parameters}>\n<body><div>\n{body}\n</div></body></tt>")


def said(body: str, parameters: str = "") -> list[tuple[int, int, str]]:
    """Read a body that has no problem."""
    cues, problems = read_imsc(document(body, parameters))
    assert problems == []
    return [(cue.start_ms, cue.end_ms, cue.text) for cue in cues]


@pytest.mark.parametrize(
    ("text", "rates", "seconds"),
    [
        # frames count by the frame rate and its multiplier; worked out from IMSC's formula for frame times
        ("00:00:10:12", Rates(Fraction(24)), Fraction("10.5")),
        ("00:00:10:15", Rates(Fraction(30000, 1001)), 10 + Fraction(15 * 1001, 30000)),
        ("25000000t", Rates(tick=Fraction(10_000_000)), Fraction("2.5")),
        ("12f", Rates(Fraction(24)), Fraction("0.5")),
        ("00:00:01:12.1", Rates(Fraction(25), sub_frames=2), 1 + Fraction(25, 50)),
        ("1.5h", Rates(), Fraction(5400)),
        ("250ms", Rates(), Fraction(1, 4)),
        ("100:00:00.5", Rates(), Fraction(360_000) + Fraction(1, 2)),
        ("00:60:00", Rates(), None),
        ("00:00:60", Rates(), None),
        ("00:00:01:25", Rates(Fraction(25)), None),
        ("0:00:01", Rates(), None),
        ("10", Rates(), None),
        ("-1s", Rates(), None),
    ],
)
def test_time_expressions(text: str, rates: Rates, seconds: Fraction | None) -> None:
    """Clock times, frames, ticks and offsets; what is none is none."""
    assert time_of(text, rates) == seconds


def test_paragraphs_are_cues() -> None:
    """Line breaks and spans are one text; tags, styles and references are taken out."""
    body = """<p begin="00:00:01.000" end="00:00:02.500">First<br/>line &amp; <span>second</span>  one</p>
    <p begin="3s" dur="1s">   </p><p begin="3s" dur="1s">Third</p>"""
    assert said(body) == [(1000, 2500, "First line & second one"), (3000, 4000, "Third")]


def test_times_lie_within_those_above() -> None:
    """A begin counts from that of the element above, whose end is the latest end."""
    body = '<p begin="2s" end="20s"><span begin="1s" end="3s">One</span><span begin="3s">Two</span></p>'
    assert said(f'<div begin="10s" end="30s">{body}</div>') == [(13000, 15000, "One"), (15000, 30000, "Two")]


def test_frame_and_tick_rates_of_the_root() -> None:
    """Frames at 30 with the multiplier 1000 1001 are those of 30000/1001: 10.5005 s."""
    rate = ' ttp:frameRate="30" ttp:frameRateMultiplier="1000 1001"'
    assert said('<p begin="00:00:10:15" end="11s">x</p>', rate) == [(10_500, 11_000, "x")]
    assert said('<p begin="25000000t" end="3s">x</p>', ' ttp:tickRate="10000000"') == [(2500, 3000, "x")]
    assert said('<p begin="30t" end="3s">x</p>', ' ttp:frameRate="30"') == [(1000, 3000, "x")]


def test_what_is_not_speech_is_left_out() -> None:
    """Titles and descriptions are not said."""
    text = f"{HEAD}><head><metadata><title>No</title></metadata></head><body><div><desc>No</desc>"
    text += '<p begin="1s" end="2s">Yes<metadata>No</metadata></p></div></body></tt>'
    assert [cue.text for cue in read_imsc(SourceText("t.ttml", text))[0]] == ["Yes"]


@pytest.mark.parametrize(
    ("body", "parameters", "code", "words"),
    [
        ('<p begin="1:00" end="2s">x</p>', "", "cue-time", "is no time of TTML"),
        ("<p>x</p>", "", "cue-time", "have no time"),
        ('<p begin="1s" end="2s">x</p>', ' ttp:frameRate="0"', "cue-form", "is no rate"),
        ('<p begin="1s" end="2s">x</p><p', "", "cue-line", "is not XML from here on"),
        ("", "", "transcript-empty", "could be placed"),
    ],
)
def test_what_cannot_be_read_is_told(body: str, parameters: str, code: str, words: str) -> None:
    """Each fault is told with its line, and the words stay."""
    cues, problems = read_imsc(document(body, parameters))
    assert [p.code for p in problems] == [code]
    assert words in problems[0].message
    assert problems[0].line is not None
    assert [cue.text for cue in cues] == (["x"] if body else [])


def test_entities_are_not_expanded() -> None:
    """A file that declares entities is not read: a few bytes of it could fill the memory."""
    text = '<!DOCTYPE tt [<!ENTITY a "aaaaaaaa">]>\n' + document('<p begin="1s" end="2s">&a;</p>').text
    cues, problems = read_imsc(SourceText("t.ttml", text))
    assert (cues, problems[0].code) == ((), "cue-line")
    assert "declares entities" in problems[0].message


def test_the_form_is_told_by_name_and_content() -> None:
    """A .ttml file, and any text that begins as such a document, is one."""
    assert form_of(SourceText("t.ttml", "")) == "ttml"
    assert form_of(SourceText("t.txt", '<?xml version="1.0"?>\n<tt/>')) == "ttml"
    assert form_of(SourceText("t.txt", "[0:01] <tt> is a tag")) == "txt"
    cues, _ = read_transcript(document('<p begin="1s" end="2s">x</p>'))
    assert cues == (Cue(1000, 2000, "x", 3),)


WORDS = st.text(st.characters(categories=["L", "N", "P"], exclude_characters="<>&"), min_size=1, max_size=8)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 3000), st.integers(1, 3000), WORDS), min_size=1, max_size=5))
def test_ttconv_reads_the_same(rows: list[tuple[int, int, str]]) -> None:
    """The other reader, ttconv, finds each text at the times that we read."""
    at, body, expected = 0, "", []
    for gap, length, words in rows:
        start, end = at + gap, at + gap + length
        body += f'<p region="r" begin="{start}ms" dur="{length}ms">{words}</p>\n'
        expected.append((start, end, words))
        at = end
    text = document(body).text.replace("<body>", '<head><layout><region xml:id="r"/></layout></head><body>')
    assert said(body) == expected
    model = ttconv.imsc.reader.to_model(ET.ElementTree(ET.fromstring(text)))  # noqa: S314 - made right here
    assert model is not None
    for start, end, words in expected:
        for moment, shown in ((start, True), (end - 1, True), (end, False)):
            isd = ISD.from_model(model, Fraction(moment, 1000))
            seen = "".join(
                element.get_text()
                for region in isd.iter_regions()
                for element in region.dfs_iterator()
                if hasattr(element, "get_text")
            )
            assert seen == (words if shown else "")
