"""Captions are read back by webvtt-py and pysubs2."""

from __future__ import annotations

import html

import pysubs2
import pytest
import webvtt
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import Cue
from reelnotes.read.captions import read_transcript
from reelnotes.store import SourceText
from reelnotes.write.captions import captions_srt, captions_vtt
from reelnotes.write.plain import one_line

TIME_LINE = "00:00:01,000 --> 00:00:02,000"
AWKWARD = ["-->", "&", "&lt;", "<i>", "42", "NOTE", "STYLE", "\n\n", "🪑", "שלום", TIME_LINE, "{\\an8}"]
WORDS = st.lists(st.sampled_from(AWKWARD) | st.text(max_size=5), max_size=5).map(" ".join)
PLAIN = st.text(
    st.characters(categories=["L", "N", "P", "Zs", "So"], exclude_characters="<>{}&\\"), max_size=20
)
modest = settings(max_examples=50, deadline=None)


def cues(words: st.SearchStrategy[str]) -> st.SearchStrategy[list[Cue]]:
    """Cues in any order, some overlapping, some without length."""
    times = st.tuples(st.integers(0, 40_000_000), st.integers(0, 9_000))
    return st.lists(st.builds(lambda t, w: Cue(t[0], t[0] + t[1], w, 0), times, words), max_size=6)


def told(given_cues: list[Cue]) -> list[tuple[int, int, str]]:
    """Say what a caption file must show: what has words, in order, each with a length."""
    rows = [(c.start_ms, max(c.end_ms, c.start_ms + 1), one_line(c.text)) for c in given_cues]
    return sorted((row for row in rows if row[2]), key=lambda row: row[0])


@modest
@given(cues(WORDS))
def test_webvtt_reads_back_with_webvtt_py(given_cues: list[Cue]) -> None:
    """No words can break a WebVTT file; they come back whole, references resolved."""
    text = captions_vtt(given_cues)
    back = [html.unescape(c.raw_text) for c in webvtt.from_string(text).captions] if told(given_cues) else []
    assert back == [words for _, _, words in told(given_cues)]


@modest
@given(cues(WORDS))
def test_webvtt_times_read_back_with_pysubs2(given_cues: list[Cue]) -> None:
    """Starts never go backwards and every end is after its start (W3C WebVTT)."""
    text = captions_vtt(given_cues)
    back = [(c.start, c.end) for c in pysubs2.SSAFile.from_string(text, "vtt")] if told(given_cues) else []
    assert back == [(start, end) for start, end, _ in told(given_cues)]


@modest
@given(cues(PLAIN))
def test_srt_reads_back_with_pysubs2(given_cues: list[Cue]) -> None:
    """Times and words come back through pysubs2."""
    text = captions_srt(given_cues)
    events = list(pysubs2.SSAFile.from_string(text, "srt")) if told(given_cues) else []
    assert [(e.start, e.end, e.plaintext) for e in events] == told(given_cues)


@modest
@given(cues(PLAIN))
def test_captions_are_read_by_our_own_readers(given_cues: list[Cue]) -> None:
    """What is written as SubRip and WebVTT comes back as cues, times to the millisecond, words whole."""
    wanted = told(given_cues)
    for name, text in (("a.srt", captions_srt(given_cues)), ("a.vtt", captions_vtt(given_cues))):
        read = read_transcript(SourceText(name, text))[0] if wanted else ()
        assert [(cue.start_ms, cue.end_ms, cue.text) for cue in read] == wanted


def test_srt_words_cannot_pose_as_a_time_line() -> None:
    """SubRip has no quoting, so an arrow in the words becomes another arrow."""
    text = captions_srt([Cue(0, 1000, "00:00:01,000 --> 00:00:02,000", 1)])
    assert text == "1\n00:00:00,000 --> 00:00:01,000\n00:00:01,000 → 00:00:02,000\n"


@pytest.mark.parametrize(
    ("ms", "text"), [(3_661_500, "01:01:01,500"), (0, "00:00:00,000"), (60_000, "00:01:00,000")]
)
def test_srt_times(ms: int, text: str) -> None:
    """Hours always, a comma before three digits (common practice, from memory)."""
    assert captions_srt([Cue(ms, ms + 1, "a", 1)]).split("\n")[1].startswith(f"{text} --> ")
