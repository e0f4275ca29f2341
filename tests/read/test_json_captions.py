"""Captions as JSON."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import Cue
from reelnotes.problems import Problem
from reelnotes.read.captions import read_transcript
from reelnotes.store import SourceText

ROWS = [
    {"start": 0.4, "end": 2.5, "text": "the lid\noff"},
    {"start": 2.5, "end": 4, "text": "<i>so</i>", "id": 7},
]


def read(text: str) -> tuple[tuple[Cue, ...], list[Problem]]:
    return read_transcript(SourceText("transcript.json", text))


def codes(problems: list[Problem]) -> list[tuple[str, int | None]]:
    return [(problem.code, problem.line) for problem in problems]


@pytest.mark.parametrize(
    "text",
    [
        json.dumps(ROWS),
        json.dumps(ROWS, indent=2),
        json.dumps({"language": "en", "words": [[1, {}], "]"], "segments": ROWS, "more": 1.5}),
    ],
)
def test_a_list_and_a_list_under_segments(text: str) -> None:
    """Other members, before and after, are left aside."""
    cues, problems = read(text)
    assert problems == []
    assert [(c.start_ms, c.end_ms, c.text) for c in cues] == [(400, 2500, "the lid off"), (2500, 4000, "so")]


def test_a_problem_names_the_line_of_its_item() -> None:
    """Each kind of item that cannot be read is shown where it stands; its words are kept if it has any."""
    text = (
        '[\n{"start": 0, "end": 1, "text": "a"},\n{"start": 1, "end": 2},\n{"end": 3, "text": "b"},\n'
        '{"start": -1, "text": "c"},\n{"start": 5, "end": "late", "text": "d"},\n7,\n'
        '{"start": 9, "end": 8, "text": "e"},\n{"start": 1e999, "text": "f"},\n{"start": true, "text": "g"}]'
    )
    cues, problems = read(text)
    assert sorted(codes(problems)) == [
        ("cue-line", 3), ("cue-line", 7),
        ("cue-time", 4), ("cue-time", 5), ("cue-time", 6), ("cue-time", 8), ("cue-time", 9), ("cue-time", 10),
    ]  # fmt: skip
    assert sorted(c.text for c in cues) == list("abcdefg")


def test_times_may_be_text() -> None:
    """`"1:02.5"` and `"62.5"` are times, too."""
    cues, problems = read('[{"start": "1:02.5", "end": "63.5", "text": "a"}]')
    assert problems == []
    assert [(c.start_ms, c.end_ms) for c in cues] == [(62_500, 63_500)]


def test_half_a_character_is_replaced() -> None:
    """A lone surrogate, which JSON can write and no file can hold, does not come through."""
    cues, problems = read('[{"start": 1, "end": 2, "text": "a \\ud83d b"}]')
    assert (problems, cues[0].text) == ([], "a ? b")


def test_no_end_is_no_problem() -> None:
    """The cue lasts as long as its words take, up to the next start."""
    cues, problems = read('[{"start": 1, "text": "a b c d e f"}, {"start": 2, "text": "b"}]')
    assert problems == []
    assert [(c.start_ms, c.end_ms) for c in cues] == [(1000, 2000), (2000, 3000)]


def test_what_stands_before_a_break_is_read() -> None:
    """A file that breaks off gives its whole items, and the line of the break."""
    cues, problems = read('[\n{"start": 0, "end": 1, "text": "a"},\n{"start": 1, "en')
    assert [c.text for c in cues] == ["a"]
    assert codes(problems) == [("cue-line", 3)]


def test_words_behind_the_end_are_shown() -> None:
    """What follows the list is no JSON."""
    assert codes(read('[{"start": 0, "end": 1, "text": "a"}]\nand more\n')[1]) == [("cue-line", 2)]


@pytest.mark.parametrize("text", ["", "{}", "[]", '{"segments": {}}', "nonsense", '"words"', "[" * 100_000])
def test_no_list_of_cues(text: str) -> None:
    """An error says that nothing was found and what is wanted."""
    cues, problems = read(text)
    assert cues == ()
    assert ("transcript-empty", "error") in [(p.code, p.severity) for p in problems]


SECONDS = st.integers(0, 10_000_000).map(lambda ms: ms / 1000)


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.tuples(SECONDS, st.text(st.characters(categories=["L"]), min_size=1)), min_size=1, max_size=6)
)
def test_milliseconds_are_exact(rows: list[tuple[float, str]]) -> None:
    """Seconds that Python's json writes with three decimals come back as the same millisecond."""
    rows.sort(key=lambda row: row[0])
    cues, _ = read(json.dumps([{"start": at, "end": at + 1, "text": words} for at, words in rows]))
    assert [c.start_ms for c in cues] == [round(at * 1000) for at, _ in rows]


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_damaged_json_never_raises(data: st.DataObject) -> None:
    """Whatever single character is changed, there is a result, and it is in order."""
    text = json.dumps({"a": [1, "x"], "segments": ROWS}, indent=1)
    at = data.draw(st.integers(0, len(text) - 1))
    cues, _ = read(text[:at] + data.draw(st.sampled_from([*'{}[]":,0e\\ \n', ""])) + text[at + 1 :])
    assert [c.start_ms for c in cues] == sorted(c.start_ms for c in cues)
