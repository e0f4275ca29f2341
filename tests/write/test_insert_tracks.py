"""Inserts in caption tracks, read back by webvtt-py, pysubs2 and ttconv, and held against published rules."""

from __future__ import annotations

import html
import re
import xml.etree.ElementTree as ET
from fractions import Fraction
from itertools import pairwise

import pysubs2
import pytest
import ttconv.imsc.reader
import ttconv.model
import webvtt
from hypothesis import given, settings
from hypothesis import strategies as st
from ttconv.isd import ISD

from reelnotes.model import Card, Cue, Insert, SignalWord
from reelnotes.read.captions import form_of, read_transcript
from reelnotes.read.cue_words import plain_words
from reelnotes.store import SourceText
from reelnotes.timing import Span
from reelnotes.write.caption_file import Caption, CaptionFile, caption_file, file_text, retimed_file, srt_text
from reelnotes.write.insert_tracks import card_lines, cards_of, insert_tracks, merged_captions

modest = settings(max_examples=60, deadline=None)

VTT = SourceText(
    "transcript.vtt",
    """WEBVTT - the stool

STYLE
::cue { color: white }

REGION
id:high
viewportanchor:10%,10%

NOTE a word between us

first
00:00:01.000 --> 00:00:04.000 line:10% align:start
<i>First</i> words &amp; more
on two lines

00:00:04.020 --> 00:00:06.000
Second <c.loud>caption</c>

NOTE and another

00:00:09.000 --> 00:00:12.000 region:high
Third
""",
)
SRT = SourceText(
    "transcript.srt",
    "1\n00:00:01,000 --> 00:00:04,000\n<i>First</i> words\non two lines\n\n"
    "2\n00:00:04,020 --> 00:00:06,000 X1:10\n{\\an8}Second\n\n3\n00:00:09,000 --> 00:00:12,000\nThird\n",
)


def insert(*cards: tuple[int, int, str], signal: SignalWord | None = "NOTICE") -> Insert:
    """Make an insert of cards, each with start, end and lines."""
    made = tuple(Card(tuple(text.split("|")), signal, a, b, "glued-top") for a, b, text in cards)
    return Insert("glued-top", "correction", signal, Span(cards[0][0], cards[-1][1]), made)


def file_of(source: SourceText) -> CaptionFile:
    """Take a caption file apart."""
    cues, problems = read_transcript(source)
    assert problems == []
    return caption_file(source, cues, form_of(source), plain_words)


TWO = [insert((2_000, 5_000, "The top will split|in winter"), (5_000, 9_200, "Leave a gap & slots"))]


# --- the file goes through whole -----------------------------------------------------------------------


@pytest.mark.parametrize("source", [VTT, SRT], ids=lambda source: source.name)
def test_a_file_goes_through_unchanged(source: SourceText) -> None:
    """Taken apart and put together, a file is byte for byte what it was."""
    assert file_text(file_of(source)) == source.text


def test_an_unruly_file_keeps_its_words() -> None:
    """Where words cannot be told from what is none, captions are made of the cues alone."""
    text = "1\n00:00:01,000 --> 00:00:04,000\nFirst\n\nbehind a blank line\n\n"
    text += "2\n00:00:05,000 --> 00:00:06,000\n<b>x</b>\n"
    source = SourceText("t.srt", text)
    cues, _ = read_transcript(source)
    made = caption_file(source, cues, "srt", plain_words)
    assert [c.lines for c in made.captions] == [("First behind a blank line",), ("x",)]


def test_a_retimed_file_keeps_all_but_the_times() -> None:
    """Notes, styles, names, settings, tags stay; what went took its lines along; a cut caption is plain."""
    cues, _ = read_transcript(VTT)

    def left_of(cue: Cue) -> list[Cue]:
        if cue.start_ms == 4_020:
            return []
        if cue.start_ms == 9_000:
            return [Cue(6_000, 8_000, "…", cue.line)]
        return [Cue(cue.start_ms + 500, cue.end_ms + 500, cue.text, cue.line)]

    text = file_text(retimed_file(file_of(VTT), cues, left_of))
    assert text.startswith(VTT.text[: VTT.text.index("first\n")])
    assert text.endswith(
        "first\n00:00:01.500 --> 00:00:04.500 line:10% align:start\n<i>First</i> words &amp; more\n"
        "on two lines\n\nNOTE and another\n\n00:00:06.000 --> 00:00:08.000 region:high\n…\n"
    )


def test_times_inside_the_words_go() -> None:
    """Times between words would be those of the old version."""
    text = "WEBVTT\n\n00:01.000 --> 00:04.000\nOne <00:02.000><c>two</c>\n"
    source = SourceText("t.vtt", text)
    cues, _ = read_transcript(source)
    moved = retimed_file(
        caption_file(source, cues, "vtt", plain_words), cues, lambda c: [Cue(0, 3_000, c.text, c.line)]
    )
    assert file_text(moved) == "WEBVTT\n\n00:00:00.000 --> 00:00:03.000\nOne <c>two</c>\n"


# --- WebVTT --------------------------------------------------------------------------------------------

STAMP = r"(?:\d{2,}:)?[0-5]\d:[0-5]\d\.\d{3}"
SETTING = r"(?:line|position|size|align|region|vertical):\S+"
SPAN = re.compile(r"</?(?:c|i|b|u|v|ruby|rt|lang)(?:[.\s][^<>]*)?>|&(?:amp|lt|gt|nbsp|lrm|rlm);")


def seconds_of(stamp: str) -> float:
    """Read a WebVTT time."""
    seconds = 0.0
    for part in stamp.split(":"):
        seconds = 60 * seconds + float(part)
    return seconds


def check_webvtt(text: str) -> None:
    """Hold a file against the syntax of the W3C's WebVTT, section on syntax."""
    head, *blocks = text.rstrip("\n").split("\n\n")
    assert re.fullmatch(r"WEBVTT(?:[ \t].*)?(?:\n.+)*", head)
    before, names, cues_begun = 0.0, [], False
    for block in blocks:
        lines = block.split("\n")
        assert all(lines), "no blank line inside a block"
        if re.match(r"NOTE(?:\s|$)", block):
            continue
        if re.match(r"(?:STYLE|REGION)(?:\s|$)", block):
            assert not cues_begun, "STYLE and REGION stand before the first cue"
            continue
        cues_begun = True
        if "-->" not in lines[0]:
            names.append(lines.pop(0))
        match = re.fullmatch(rf"({STAMP}) --> ({STAMP})((?: {SETTING})*)", lines[0])
        assert match, lines[0]
        start, end = seconds_of(match[1]), seconds_of(match[2])
        assert end > start >= before, "an end behind its start, starts that never go back"
        before = start
        kinds = [word.split(":")[0] for word in match[3].split()]
        assert len(kinds) == len(set(kinds)), "each setting at most once"
        for line in lines[1:]:
            assert "-->" not in line
            assert not re.search(r"[&<]", SPAN.sub("", line)), line
    assert len(names) == len(set(names)), "identifiers are unique"


@pytest.mark.parametrize(
    ("text", "valid"),
    [
        ("00:01.000 --> 00:02.500", True),
        ("01:00:00.000 --> 01:00:01.000", True),
        ("00:01,000 --> 00:02,500", False),
        ("00:02.000 --> 00:02.000", False),
        ("0:01.000 --> 0:02.000", False),
        ("100:00:00.000 --> 100:00:01.000", True),
    ],
)
def test_the_check_of_webvtt_would_notice(text: str, valid: bool) -> None:
    """The lines that the W3C's WebVTT allows pass, the others fail."""
    if valid:
        check_webvtt(f"WEBVTT\n\n{text}\nx\n")
    else:
        with pytest.raises(AssertionError):
            check_webvtt(f"WEBVTT\n\n{text}\nx\n")
    with pytest.raises(AssertionError):
        check_webvtt(f"WEBVTTfoo\n\n{text}\nx\n")


def test_inserts_stand_at_the_top_of_webvtt() -> None:
    """An insert has `line:0`, but `line:-1` while speech stands at the top; speech stays as it is."""
    text = insert_tracks(file_of(VTT), TWO)["captions.vtt"]
    check_webvtt(text)
    cues = webvtt.from_string(text).captions
    placed = {
        c.identifier: text.split(c.identifier + "\n")[1].split("\n")[0].split()[3:]
        for c in cues
        if c.identifier
    }
    assert placed["insert-1-glued-top"] == ["line:-1"], "the first caption stands at 10 %"
    assert placed["insert-2-glued-top"] == ["line:-1"], "the third caption's region is high"
    assert placed["first"] == ["line:10%", "align:start"]
    low = insert_tracks(file_of(SRT), TWO)["captions.vtt"]
    assert low.count("line:0") == 2
    assert "-1" not in low.replace("insert-1", "")


def test_the_words_of_an_insert_in_webvtt() -> None:
    """The signal word stands in bold above the lines, and signs of markup are quoted."""
    text = insert_tracks(file_of(SRT), TWO)["inserts.vtt"]
    check_webvtt(text)
    assert [c.raw_text for c in webvtt.from_string(text).captions] == [
        "<b>NOTICE</b>\nThe top will split\nin winter",
        "<b>NOTICE</b>\nLeave a gap &amp; slots",
    ]


# --- SubRip --------------------------------------------------------------------------------------------


def shown(text: str) -> list[tuple[int, int, str]]:
    """Read SubRip with pysubs2."""
    if not text:
        return []
    return [(e.start, e.end, e.plaintext) for e in pysubs2.SSAFile.from_string(text, "srt")]


def test_inserts_are_merged_into_subrip() -> None:
    """Where speech and insert meet, they stand together, the insert in brackets above; nothing overlaps."""
    assert shown(insert_tracks(file_of(SRT), TWO)["captions.srt"]) == [
        (1_000, 2_000, "First words\non two lines"),
        (2_000, 4_020, "[NOTICE\nThe top will split\nin winter]\nFirst words\non two lines"),
        (4_020, 5_000, "[NOTICE\nThe top will split\nin winter]\nSecond"),
        (5_000, 6_000, "[NOTICE\nLeave a gap & slots]\nSecond"),
        (6_000, 9_000, "[NOTICE\nLeave a gap & slots]"),
        (9_000, 12_000, "Third"),
    ]


def test_a_disclosure_has_no_signal_word() -> None:
    """Brackets alone tell its words from speech."""
    given = [insert((0, 3_000, "The oil was a gift"), signal=None)]
    assert shown(insert_tracks(file_of(SRT), given)["inserts.srt"]) == [(0, 3_000, "[The oil was a gift]")]


def test_markup_of_subrip_stays_where_no_insert_is() -> None:
    """A tag for the place at the top goes only where the caption carries an insert too."""
    text = insert_tracks(file_of(SRT), [insert((20_000, 23_000, "x"))])["captions.srt"]
    assert text.startswith(SRT.text)
    mixed = insert_tracks(file_of(SRT), [insert((4_000, 7_000, "x"))])["captions.srt"]
    assert "{" not in mixed
    assert "<i>First</i> words" in mixed


def spoken(rows: list[tuple[int, int]]) -> list[Caption]:
    """Make captions one after the other from gaps and lengths."""
    made, at = [], 0
    for n, (gap, length) in enumerate(rows):
        made.append(Caption(at + gap, at + gap + length, (f"said{n}",)))
        at += gap + length
    return made


def carded(rows: list[tuple[int, int]]) -> list[Card]:
    """Make cards one after the other from gaps and lengths."""
    made, at = [], 0
    for n, (gap, length) in enumerate(rows):
        made.append(Card((f"card{n}",), "NOTICE", at + gap, at + gap + length, "x"))
        at += gap + length
    return made


ROWS = st.lists(st.tuples(st.integers(0, 3_000), st.integers(100, 5_000)), max_size=6)
CARDS = st.lists(st.tuples(st.integers(0, 6_000), st.integers(1_500, 7_000)), max_size=4)


@modest
@given(ROWS, CARDS)
def test_nothing_overlaps_and_nothing_is_hidden(
    said: list[tuple[int, int]], cards: list[tuple[int, int]]
) -> None:
    """Captions never overlap, and each text stands as long as it did, but for 0.3 s at each end."""
    captions, wanted = spoken(said), carded(cards)
    rows = shown(srt_text(merged_captions(captions, wanted)))
    assert all(a[1] <= b[0] for a, b in pairwise(rows))
    lengths = {c.lines[0]: c.end_ms - c.start_ms for c in captions}
    lengths |= {card.lines[0]: card.end_ms - card.start_ms for card in wanted}
    for words, length in lengths.items():
        stood = [(a, b) for a, b, text in rows if re.search(rf"\b{words}\b", text)]
        total = sum(b - a for a, b in stood)
        assert stood
        assert total >= min(length, max(length - 600, 100))
        assert all(a[1] == b[0] for a, b in pairwise(stood)), "in one piece"


@modest
@given(ROWS, CARDS)
def test_rests_are_not_left(said: list[tuple[int, int]], cards: list[tuple[int, int]]) -> None:
    """No caption flashes by for less than 0.3 s, unless something said is itself that short."""
    captions, wanted = spoken(said), carded(cards)
    short = {c.lines[0] for c in captions if c.end_ms - c.start_ms < 300}
    for start, end, text in shown(srt_text(merged_captions(captions, wanted))):
        assert end - start >= 300 or any(words in text for words in short)


def test_no_inserts_leave_the_track_as_it_is() -> None:
    """Without inserts, the captions are the file's own, and the tracks of inserts are empty."""
    tracks = insert_tracks(file_of(SRT), [])
    assert tracks["captions.srt"] == SRT.text
    assert (tracks["inserts.srt"], tracks["inserts.vtt"]) == ("", "WEBVTT\n")
    assert insert_tracks(file_of(VTT), [])["captions.vtt"] == VTT.text


@pytest.mark.parametrize(
    ("ms", "text"), [(3_661_500, "01:01:01,500"), (0, "00:00:00,000"), (60_000, "00:01:00,000")]
)
def test_times_of_subrip(ms: int, text: str) -> None:
    """Hours always, a comma before three digits (common practice, from memory)."""
    assert srt_text([Caption(ms, ms + 1, ("a",))]).split("\n")[1].startswith(f"{text} --> ")


# --- IMSC ----------------------------------------------------------------------------------------------

NAMES = {"t": "http://www.w3.org/ns/ttml"}
STYLING = "{http://www.w3.org/ns/ttml#styling}"
XML_ID = "{http://www.w3.org/XML/1998/namespace}id"


def percents(text: str) -> tuple[float, float]:
    """Read `10% 5%`."""
    x, y = (float(part.rstrip("%")) for part in text.split())
    return x, y


@pytest.mark.parametrize("name", ["captions.ttml", "inserts.ttml"])
def test_the_rules_of_imsc(name: str) -> None:
    """Root, profile, regions and times as the W3C's IMSC 1.1 Text wants them."""
    root = ET.fromstring(insert_tracks(file_of(VTT), TWO)[name])  # noqa: S314 - made right here
    assert root.tag == "{http://www.w3.org/ns/ttml}tt"
    profile = root.get("{http://www.w3.org/ns/ttml#parameter}contentProfiles")
    assert profile == "http://www.w3.org/ns/ttml/profile/imsc1.1/text"
    regions = root.findall(".//t:region", NAMES)
    boxes = []
    for region in regions:
        (x, y), (w, h) = (
            percents(region.get(f"{STYLING}origin", "")),
            percents(region.get(f"{STYLING}extent", "")),
        )
        assert x + w <= 100
        assert y + h <= 100
        boxes.append((y, y + h))
    assert len(regions) <= 4
    assert all(a[1] <= b[0] or b[1] <= a[0] for a, b in pairwise(sorted(boxes))), "regions do not overlap"
    for paragraph in root.findall(".//t:p", NAMES):
        assert paragraph.get("begin")
        assert paragraph.get("end")
        assert paragraph.get("region") in {region.get(XML_ID) for region in regions}


def on_screen(text: str, at_ms: int) -> dict[str, str]:
    """Tell what ttconv puts on the screen at a time, by region."""
    document = ttconv.imsc.reader.to_model(ET.ElementTree(ET.fromstring(text)))  # noqa: S314 - made right here
    isd = ISD.from_model(document, Fraction(at_ms, 1000))
    found = {}
    for region in isd.iter_regions():
        words = ""
        for element in region.dfs_iterator():
            if isinstance(element, ttconv.model.Text):
                words += element.get_text()
            elif isinstance(element, ttconv.model.Br):
                words += "\n"
        if words:
            found[region.get_id()] = words
    return found


def test_ttconv_shows_both_at_once() -> None:
    """Speech stands at the bottom and the insert at the top, at the same time."""
    text = insert_tracks(file_of(VTT), TWO)["captions.ttml"]
    assert on_screen(text, 1_999) == {"speech": "First words & more\non two lines"}
    assert on_screen(text, 2_000) == {
        "insert": "NOTICE\nThe top will split\nin winter",
        "speech": "First words & more\non two lines",
    }
    assert on_screen(text, 9_100) == {"insert": "NOTICE\nLeave a gap & slots", "speech": "Third"}
    assert on_screen(text, 12_000) == {}


AWKWARD = ["-->", "&", "&lt;", "<i>", "42", "NOTE", "]]>", "🪑", "שלום", "{\\an8}", "\x07", "\ud800", "00:01"]
TEXTS = st.lists(st.sampled_from(AWKWARD) | st.text(max_size=5), max_size=4).map(" ".join)


@modest
@given(st.lists(TEXTS, min_size=1, max_size=3), TEXTS)
def test_no_words_can_break_a_track(lines: list[str], words: str) -> None:
    """Whatever is said and written: WebVTT keeps its syntax, XML parses, and the words come back."""
    cards = (Card(tuple(lines), "WARNING", 1_000, 4_000, "x --> y"),)
    cues = [Cue(500, 2_000, " ".join(words.split()), 1)] if words.strip() else []
    spoken_file = caption_file(None, cues, "json", plain_words)
    tracks = insert_tracks(spoken_file, [Insert("x", "correction", "WARNING", Span(0, 4_000), cards)])
    check_webvtt(tracks["captions.vtt"])
    told = card_lines(cards[0])
    raw = [c.raw_text for c in webvtt.from_string(tracks["inserts.vtt"]).captions]
    assert [html.unescape(SPAN.sub(_kept, text)) for text in raw] == ["\n".join(told)]
    assert on_screen(tracks["inserts.ttml"], 2_000) == {"insert": "\n".join(told)}
    ET.fromstring(tracks["captions.ttml"])  # noqa: S314 - made right here


def _kept(match: re.Match[str]) -> str:
    return match[0] if match[0].startswith("&") else ""


def test_cards_come_in_order() -> None:
    """Inserts in any order give their cards in order of time."""
    later, sooner = insert((9_000, 11_000, "b")), insert((1_000, 3_000, "a"))
    assert [card.start_ms for card in cards_of([later, sooner])] == [1_000, 9_000]
