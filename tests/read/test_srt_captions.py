"""SubRip captions, with the `srt` and `pysubs2` libraries as independent readers."""

from __future__ import annotations

from datetime import timedelta

import pysubs2
import pytest
import srt
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import Cue
from reelnotes.problems import Problem
from reelnotes.read.captions import read_transcript
from reelnotes.store import SourceText

modest = settings(max_examples=80, deadline=None)

VALID = """1
00:00:00,400 --> 00:00:02,500
So this is <i>the lid</i>,
planed flat

2
00:00:02,500 --> 00:00:04,000
[Music]

3
01:01:01,500 --> 01:01:03,000
{\\an8}done &amp; dusted
"""


def read(text: str) -> tuple[tuple[Cue, ...], list[Problem]]:
    return read_transcript(SourceText("transcript.srt", text))


def codes(problems: list[Problem]) -> list[tuple[str, int | None]]:
    return [(problem.code, problem.line) for problem in problems]


def test_a_plain_file() -> None:
    """Lines of a cue are joined, markup goes out, non-speech stays; 3661.5 s is 01:01:01,500."""
    cues, problems = read(VALID)
    assert problems == []
    assert cues == (
        Cue(400, 2500, "So this is the lid, planed flat", 2),
        Cue(2500, 4000, "[Music]", 7),
        Cue(3_661_500, 3_663_000, "done & dusted", 11),
    )


@pytest.mark.parametrize(
    "timing",
    [
        "00:00:01,000 --> 00:00:02,500",
        "00:00:01.000 --> 00:00:02.500",
        "0:00:01,0 --> 0:00:02,5",
        "00:01,000 --> 00:02,500",
        "00:00:01,000-->00:00:02,500",
        "00:00:01,000 -> 00:00:02,500",
        "00:00:01,0004 --> 00:00:02,5009",
        "00:00:01:000 --> 00:00:02:500",
        "00:00:01 --> 00:00:02,500",
        "  00:00:01,000 --> 00:00:02,500  X1:40 X2:600 Y1:20 Y2:50",
    ],
)
def test_forms_that_readers_take(timing: str) -> None:
    """Full stop for comma, any count of digits, missing hours and placing words are no problem."""
    cues, problems = read(f"1\n{timing}\nwords\n")
    assert problems == []
    assert cues == (Cue(1000, 2500, "words", 2),)


@pytest.mark.parametrize("text", ["00:00:01,000 --> 00:00:02,000\na\n\n00:00:03,000 --> 00:00:04,000\nb\n"])
def test_numbers_may_be_missing(text: str) -> None:
    """A file without counters is read without a problem."""
    cues, problems = read(text)
    assert (problems, [c.text for c in cues]) == ([], ["a", "b"])


def test_a_blank_line_may_be_missing() -> None:
    """The number right above a timing is a number and not a word of the cue above."""
    cues, problems = read("1\n00:00:01,000 --> 00:00:02,000\na\n2\n00:00:03,000 --> 00:00:04,000\nb\n")
    assert (problems, [c.text for c in cues]) == ([], ["a", "b"])


def test_a_number_may_be_what_was_said() -> None:
    """`180` as the last line of a cue is a word."""
    cues, problems = read(
        "1\n00:00:01,000 --> 00:00:02,000\nsanded to\n180\n\n2\n00:00:03,000 --> 00:00:04,000\nb\n"
    )
    assert (problems, [c.text for c in cues]) == ([], ["sanded to 180", "b"])


def test_times_that_cannot_be_true() -> None:
    """Minute 75 and second 60 are refused (59 is the last), and the words keep a place between neighbours."""
    cues, problems = read(
        "1\n00:59:59,000 --> 01:00:00,000\na\n\n"
        "2\n00:75:00,000 --> 00:75:02,000\nb\n\n"
        "3\n01:00:10,000 --> 01:00:60,000\nc d\n"
    )
    assert codes(problems) == [("cue-time", 6), ("cue-time", 10)]
    assert "00:75" in problems[0].excerpt
    assert [(c.start_ms, c.end_ms, c.text) for c in cues] == [
        (3_599_000, 3_600_000, "a"),
        (3_600_000, 3_601_000, "b"),
        (3_610_000, 3_611_000, "c d"),
    ]


def test_an_end_before_the_start() -> None:
    """The start holds; the end is worked out from the words, 375 ms each, up to the next start."""
    cues, problems = read(
        "1\n00:00:05,000 --> 00:00:04,000\none two three four five\n\n2\n00:00:06,000 --> 00:00:06,000\nb\n"
    )
    assert codes(problems) == [("cue-time", 2), ("cue-time", 6)]
    assert [(c.start_ms, c.end_ms) for c in cues] == [(5000, 6000), (6000, 7000)]


def test_a_damaged_timing_does_not_fold_into_the_cue_above() -> None:
    """The words of a cue whose times cannot be read are a cue of their own."""
    cues, problems = read(
        "1\n00:00:01,000 --> 00:00:02,000\na\n\n2\n00:0x:05,000 --> 00:00:06,000\nb\n\n3\nc\n"
    )
    assert codes(problems) == [("cue-time", 6), ("cue-time", 9)]
    assert [(c.text, c.start_ms) for c in cues] == [("a", 1000), ("b", 2000), ("c", 2000)]


def test_an_arrow_among_words_is_words() -> None:
    """Only an arrow beside a digit was meant as times."""
    cues, problems = read("1\n00:00:01,000 --> 00:00:02,000\nstain --> seal --> wax\n")
    assert (problems, [c.text for c in cues]) == ([], ["stain --> seal --> wax"])


def test_words_behind_a_blank_line_stay_with_their_cue() -> None:
    """They are kept and shown, because a caption should hold no blank line."""
    cues, problems = read(
        "1\n00:00:01,000 --> 00:00:02,000\na\n\nstill a\n\n2\n00:00:03,000 --> 00:00:04,000\nb\n"
    )
    assert [c.text for c in cues] == ["a still a", "b"]
    assert codes(problems) == [("cue-line", 5)]


def test_lines_that_belong_nowhere() -> None:
    """A title above the first cue, and a number without anything, are shown each."""
    _, problems = read("My film\nby me\n\n1\n00:00:01,000 --> 00:00:02,000\na\n\n2\n")
    assert codes(problems) == [("cue-line", 1), ("cue-line", 2), ("cue-line", 8)]
    assert [p.excerpt for p in problems] == ["My film", "by me", "2"]


def test_words_behind_the_times_are_shown() -> None:
    """They would be lost without a word otherwise."""
    _, problems = read("1\n00:00:01,000 --> 00:00:02,000 and then\na\n")
    assert codes(problems) == [("cue-line", 2)]


def test_wrong_order_is_mended_and_said_once() -> None:
    """Cues are sorted by start; one problem names the first line and counts the others."""
    text = "".join(
        f"{n}\n00:00:{s:02d},000 --> 00:00:{s:02d},900\nw{s}\n\n" for n, s in enumerate([5, 3, 1, 7], 1)
    )
    cues, problems = read(text)
    assert [c.start_ms for c in cues] == [1000, 3000, 5000, 7000]
    assert codes(problems) == [("cue-order", 6)]
    assert "1 more" in problems[0].message


def test_overlaps_are_said_once() -> None:
    """Touching cues do not overlap; three that do give one note."""

    def at(start: int, end: int) -> str:
        return f"00:00:{start:02d},000 --> 00:00:{end:02d},000\nw\n\n"

    assert read(at(1, 3) + at(3, 4))[1] == []
    cues, problems = read(at(1, 3) + at(2, 4) + at(3, 5) + at(4, 6))
    assert len(cues) == 4
    assert [(p.code, p.severity) for p in problems] == [("cue-overlap", "note")]


def test_empty_cues_are_left_out_and_said_once() -> None:
    """Cues of white space or markup alone hold no words."""
    cues, problems = read(
        "1\n00:00:01,000 --> 00:00:02,000\n\n2\n00:00:02,000 --> 00:00:03,000\n<i></i>\n\n"
        "3\n00:00:03,000 --> 00:00:04,000\nc\n"
    )
    assert [c.text for c in cues] == ["c"]
    assert codes(problems) == [("cue-empty", 2)]


def test_rolling_captions_are_read_once() -> None:
    """Where each cue begins with the last line of the one above, that line is taken once, and said."""
    lines = ["so here we are", "with the lid off", "and the hinges", "in a jar", "of vinegar"]
    text = "".join(
        f"{n}\n00:00:{n:02d},000 --> 00:00:{n + 1:02d},000\n{above}\n{line}\n\n"
        for n, (above, line) in enumerate(zip(["", *lines], lines, strict=False), 1)
    ).replace(",000\n\nso", ",000\nso")
    cues, problems = read(text)
    assert [c.text for c in cues] == lines
    assert [(p.code, p.severity) for p in problems] == [("cue-repeat", "note")]


def test_a_line_said_twice_is_no_rolling() -> None:
    """Below three repeats, what is said again is said again."""
    text = "".join(
        f"00:00:{n:02d},000 --> 00:00:{n + 1:02d},000\n{w}\n\n"
        for n, w in enumerate(["no", "no", "no", "yes"])
    )
    cues, problems = read(text)
    assert (problems, [c.text for c in cues]) == ([], ["no", "no", "no", "yes"])


WORDS = st.text(st.characters(categories=["L", "P"], exclude_characters="<>{}&\\-"), min_size=1, max_size=8)
PAYLOAD = st.lists(st.lists(WORDS, min_size=1, max_size=4).map(" ".join), min_size=1, max_size=2)


@modest
@given(st.lists(st.tuples(st.integers(1, 9_000), st.integers(1, 9_000), PAYLOAD), min_size=1, max_size=6))
def test_two_libraries_read_the_same(rows: list[tuple[int, int, list[str]]]) -> None:
    """What the `srt` library composes, it, `pysubs2` and we read alike: times and words."""
    subtitles, at = [], 0
    for gap, length, lines in rows:
        start = timedelta(milliseconds=at + gap)
        end = start + timedelta(milliseconds=length)
        subtitles.append(srt.Subtitle(0, start, end, "\n".join(lines)))
        at += gap + length
    text = srt.compose(subtitles)
    cues, problems = read(text)
    assert problems == []
    ours = [(c.start_ms, c.end_ms, c.text) for c in cues]
    milli = timedelta(milliseconds=1)
    assert ours == [(s.start // milli, s.end // milli, " ".join(s.content.split())) for s in srt.parse(text)]
    events = pysubs2.SSAFile.from_string(text, format_="srt")
    assert ours == [(e.start, e.end, " ".join(e.plaintext.split())) for e in events]
