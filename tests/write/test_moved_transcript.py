"""The transcript of another version reads back, in its own form, as the cues that are left."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import Cue
from reelnotes.read.captions import form_of, read_transcript
from reelnotes.read.cue_words import plain_words
from reelnotes.store import SourceText
from reelnotes.write.moved_transcript import moved_transcript, timed_text

FORMS = {
    "t.srt": "1\n00:00:01,000 --> 00:00:02,000\none <i>two</i>\n\n2\n00:00:03,000 --> 00:00:05,500\nthree\n\n"
    "3\n00:00:06,000 --> 00:00:07,000\nfour\n",
    "t.vtt": "WEBVTT\n\n00:01.000 --> 00:02.000\none <i>two</i>\n\n00:03.000 --> 00:05.500\nthree\n\n"
    "00:06.000 --> 00:07.000\nfour\n",
    "t.txt": "[0:01] one two\n\n[0:03] three\n\n[0:06] four\n",
    "t.json": '{"segments": [{"start": 1.0, "end": 2.0, "text": " one two", "id": 7},\n'
    '{"start": 3, "end": 5.5, "text": "three", "words": [{"start": 3.1, "word": "three"}]},\n'
    '{"start": 6, "end": 7, "text": "four"}], "text": "one two three four", "language": "en"}',
    "t.ttml": '<tt xmlns="http://www.w3.org/ns/ttml"><body><div>\n<p begin="1s" end="2s">one <span>two</span>'
    '</p>\n<p begin="3s" end="5.5s">three</p>\n<p begin="6s" end="7s">four</p></div></body></tt>\n',
}


def earlier(cue: Cue) -> list[Cue]:
    """Take out everything before 0:02.500, and move the rest by two seconds."""
    if cue.start_ms < 2_500:
        return []
    return [Cue(cue.start_ms - 2_000, cue.end_ms - 2_000, cue.text, cue.line)]


def told(text: str, name: str) -> list[tuple[int, int, str]]:
    """Read a transcript that has no problem."""
    cues, problems = read_transcript(SourceText(name, text))
    assert problems == []
    return [(c.start_ms, c.end_ms, c.text) for c in cues]


@pytest.mark.parametrize("name", FORMS)
def test_every_form_moves(name: str) -> None:
    """What is left reads back at its new times with its words, and its form is told as before."""
    source = SourceText(name, FORMS[name])
    cues, problems = read_transcript(source)
    assert (len(cues), problems) == (3, [])
    text = moved_transcript(source, form_of(source), cues, earlier, plain_words)
    expected = [(c.start_ms, c.end_ms, c.text) for cue in cues for c in earlier(cue)]
    assert told(text, name) == expected
    assert form_of(SourceText(name, text)) == form_of(source)


@pytest.mark.parametrize("name", FORMS)
def test_the_same_version_gives_the_same_cues(name: str) -> None:
    """Moved by nothing, every form gives the cues it had; SubRip the very same bytes."""
    source = SourceText(name, FORMS[name])
    cues, _ = read_transcript(source)
    text = moved_transcript(source, form_of(source), cues, lambda cue: [cue], plain_words)
    assert told(text, name) == [(c.start_ms, c.end_ms, c.text) for c in cues]
    if name == "t.srt":
        assert text == source.text


def test_json_keeps_what_stands_beside_the_words() -> None:
    """Other members stay; times of single words and a text of the whole, which would be the old ones, go."""
    source = SourceText("t.json", FORMS["t.json"])
    cues, _ = read_transcript(source)
    document = json.loads(moved_transcript(source, "json", cues, lambda cue: [cue], plain_words))
    assert document == {
        "segments": [
            {"start": 1.0, "end": 2.0, "text": "one two", "id": 7},
            {"start": 3.0, "end": 5.5, "text": "three"},
            {"start": 6.0, "end": 7.0, "text": "four"},
        ],
        "language": "en",
    }


@pytest.mark.parametrize(
    "text",
    [
        '[{"start": 1, "end": 2, "text": "one"}, {"start": "0:03", "end": 4, "text": "two"}]',
        '[{"start": 1, "end": 2, "text": "one"}, {"end": 4, "text": "two"}]',
        '[{"start": 1, "end": 2, "text": "one"}, {"start": 3, "end": 4, "text": "two"}',
    ],
)
def test_unruly_json_is_written_anew(text: str) -> None:
    """Where an item cannot be told from its cue, the cues are written; no word is lost."""
    source = SourceText("t.json", text)
    cues, _ = read_transcript(source)
    moved = moved_transcript(source, "json", cues, lambda cue: [cue], plain_words)
    assert [row[2] for row in told(moved, "t.json")] == ["one", "two"]


WORDS = st.text(st.characters(categories=["L", "N"]), min_size=1, max_size=8)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 90_000), st.integers(1, 90_000), WORDS), min_size=1, max_size=6))
def test_timed_text_reads_back(rows: list[tuple[int, int, str]]) -> None:
    """Starts, ends and words come back to the millisecond."""
    cues, at = [], 0
    for gap, length, words in rows:
        cues.append(Cue(at + gap, at + gap + length, f"x{words}", 1))
        at += gap + length
    assert told(timed_text(cues), "t.txt") == [(c.start_ms, c.end_ms, c.text) for c in cues]
    assert timed_text(()) == ""
