"""Timed text: paragraphs headed by a time."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import Cue
from reelnotes.problems import Problem
from reelnotes.read.captions import read_transcript
from reelnotes.store import SourceText
from reelnotes.timing import format_time


def read(text: str) -> tuple[tuple[Cue, ...], list[Problem]]:
    return read_transcript(SourceText("transcript.txt", text))


def codes(problems: list[Problem]) -> list[tuple[str, int | None]]:
    return [(problem.code, problem.line) for problem in problems]


def test_paragraphs() -> None:
    """A cue lasts to the next one; the last one as long as its four words take at 160 a minute."""
    cues, problems = read("[0:00] So here\nwe are.\n\n[0:11] The lid.\n\n[1:00:05] And that was it.\n")
    assert problems == []
    assert cues == (
        Cue(0, 11_000, "So here we are.", 1),
        Cue(11_000, 3_605_000, "The lid.", 4),
        Cue(3_605_000, 3_605_000 + 4 * 375, "And that was it.", 6),
    )


@pytest.mark.parametrize("stamp", ["[0:11]", "[00:11]", "(0:11)", "[0:00:11]", "[0:11.000]", " [0:11] -"])
def test_stamps_as_people_write_them(stamp: str) -> None:
    """Round brackets, leading zeros, parts of a second and a dash behind are all the same."""
    cues, problems = read(f"[0:00] a\n{stamp} b\n")
    assert problems == []
    assert (cues[1].start_ms, cues[1].text) == (11_000, "b")


def test_a_second_time_is_the_end() -> None:
    """`[start --> end]` and `[start - end]` say when a cue ends."""
    cues, problems = read("[0:01.000 --> 0:02.500] a\n[0:03 - 0:04] b\n[0:09 - 0:08] c\n")
    assert [(c.start_ms, c.end_ms) for c in cues] == [(1000, 2500), (3000, 4000), (9000, 10_000)]
    assert codes(problems) == [("cue-time", 3)]


def test_bare_times_count_where_there_are_no_brackets() -> None:
    """A time on a line of its own, words below; with brackets anywhere, bare times are words."""
    cues, problems = read("0:00\nhello\n0:05 the lid\n")
    assert (problems, [(c.start_ms, c.text) for c in cues]) == ([], [(0, "hello"), (5000, "the lid")])
    cues, problems = read("[0:00] we began at\n9:40 in the morning\n")
    assert (problems, [c.text for c in cues]) == ([], ["we began at 9:40 in the morning"])


def test_times_that_cannot_be_true() -> None:
    """Second 60 is reported, and its words stand with the cue above in time; 75:59 is minute 75."""
    cues, problems = read("[0:05] a\n[0:60] b\n[75:59] c\n")
    assert codes(problems) == [("cue-time", 2)]
    assert [(c.start_ms, c.text) for c in cues] == [(5000, "a"), (5000, "b"), (4_559_000, "c")]


def test_lines_above_the_first_time_are_shown() -> None:
    """A title belongs to no cue."""
    cues, problems = read("My film\n\n[0:00] a\n")
    assert [c.text for c in cues] == ["a"]
    assert codes(problems) == [("cue-line", 1)]


def test_a_transcript_without_times() -> None:
    """One clear problem, with the form that is wanted."""
    cues, problems = read("So here we are.\nThe lid is off.\n")
    assert cues == ()
    assert [(p.code, p.severity) for p in problems] == [("transcript-empty", "error")]
    assert "[0:11]" in problems[0].message


@settings(max_examples=80, deadline=None)
@given(st.lists(st.integers(0, 20_000), min_size=1, max_size=8, unique=True))
def test_round_trip(starts: list[int]) -> None:
    """What is written as timed text comes back with its starts, each cue ending where the next begins."""
    starts.sort()
    cues, problems = read("\n\n".join(f"[{format_time(s * 1000)}] word{s}" for s in starts))
    assert problems == []
    assert [(c.start_ms, c.text) for c in cues] == [(s * 1000, f"word{s}") for s in starts]
    assert [c.end_ms for c in cues[:-1]] == [c.start_ms for c in cues[1:]]
