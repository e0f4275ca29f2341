"""Chapters of a new version: they move, open at the joint, join, or go."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.corrections.chapters import retime_chapters
from reelnotes.corrections.retime import cut_and_hold
from reelnotes.model import Chapter, HeldFrame
from reelnotes.settings import HostLimits
from reelnotes.timing import Span, parse_span, parse_time

LENGTH = parse_time("10:00")
LIMITS = HostLimits()


def chapters(text: str) -> tuple[Chapter, ...]:
    """Read `0:00 A, 1:00 B`."""
    return tuple(
        Chapter(parse_time(at), title)
        for at, title in (row.split() for row in text.split(",") if row.strip())
    )


CHAPTERS = chapters("0:00 A, 1:00 B, 2:00 C, 3:00 D")


@pytest.mark.parametrize(
    ("removed", "left", "fates"),
    [
        ("4:00-5:00", "0:00 A, 1:00 B, 2:00 C, 3:00 D", []),
        ("1:10-1:40", "0:00 A, 1:00 B, 1:30 C, 2:30 D", []),
        ("1:50-2:20", "0:00 A, 1:00 B, 1:50 C, 2:30 D", ["C opens at the joint"]),
        ("1:00-2:00", "0:00 A, 1:00 C, 2:00 D", ["B went"]),
        ("1:10-2:50", "0:00 A, 1:00 B, 1:10 C, 1:20 D", ["C opens at the joint"]),
        ("1:10-2:51", "0:00 A, 1:00 B, 1:19 D", ["C joined to its neighbour"]),
        ("1:05-2:05", "0:00 A, 1:05 C, 2:00 D", ["B joined to its neighbour", "C opens at the joint"]),
        ("0:00-0:50", "0:00 A, 0:10 B, 1:10 C, 2:10 D", ["A opens at the joint"]),
        ("0:05-1:05", "0:00 B, 1:00 C, 2:00 D", ["A joined to its neighbour", "B opens at the joint"]),
        ("0:00-1:30", "0:00 B, 0:30 C, 1:30 D", ["A went", "B opens at the joint"]),
        ("3:05-10:00", "0:00 A, 1:00 B, 2:00 C", ["D joined to its neighbour"]),
    ],
)
def test_what_becomes_of_chapters(removed: str, left: str, fates: list[str]) -> None:
    """The whole row of cases, each beside its neighbour on the other side of the limit."""
    to = cut_and_hold(LENGTH, [parse_span(removed)], [])
    kept, told = retime_chapters(CHAPTERS, LENGTH, to, LIMITS)
    expected = [(c.start_ms, c.title) for c in chapters(left)]
    assert [(c.start_ms, c.title) for c in kept] == expected
    assert [f"{chapter.title} {fate}" for chapter, fate in told] == fates


def test_a_held_frame_at_the_start_leaves_the_first_chapter_at_nought() -> None:
    """Players want a chapter at 0:00."""
    to = cut_and_hold(LENGTH, [], [HeldFrame(0, 4_000)])
    assert [c.start_ms for c in retime_chapters(CHAPTERS, LENGTH, to, LIMITS)[0]] == [
        0,
        64_000,
        124_000,
        184_000,
    ]


def test_chapters_that_were_short_before_stay() -> None:
    """The maker's own short chapter is no concern of a cut elsewhere."""
    short = chapters("0:00 A, 1:00 B, 1:05 C, 3:00 D")
    to = cut_and_hold(LENGTH, [parse_span("5:00-6:00")], [])
    assert retime_chapters(short, LENGTH, to, LIMITS) == (short, ())


@settings(max_examples=100, deadline=None)
@given(
    st.lists(st.integers(0, 58), min_size=1, max_size=8, unique=True),
    st.lists(st.tuples(st.integers(0, 590), st.integers(1, 200)), min_size=1, max_size=4),
    st.lists(st.tuples(st.integers(0, 600), st.integers(1, 9)), max_size=2),
)
def test_the_limit_holds_after_any_cut(
    starts: list[int], cuts: list[tuple[int, int]], holds: list[tuple[int, int]]
) -> None:
    """Chapters ten seconds apart are so after any cut; what is left is in order and inside the programme."""
    before = tuple(Chapter(10_000 * n, str(n)) for n in sorted(starts))
    to = cut_and_hold(
        LENGTH,
        [Span(1000 * at, min(LENGTH, 1000 * (at + n))) for at, n in cuts],
        [HeldFrame(1000 * at, 1000 * n) for at, n in holds],
    )
    kept, fates = retime_chapters(before, LENGTH, to, LIMITS)
    edges = [*(c.start_ms for c in kept), to.length_after]
    assert len(kept) < 2 or all(b - a >= 10_000 for a, b in pairwise(edges))
    assert all(0 <= a <= b for a, b in pairwise(edges))
    assert {c.title for c in kept} | {c.title for c, _ in fates} == {c.title for c in before}
    if kept and before[0].start_ms == 0:
        assert kept[0].start_ms == 0


def test_no_chapters_stay_none() -> None:
    """Nothing comes of nothing."""
    assert retime_chapters((), LENGTH, cut_and_hold(LENGTH, [Span(0, 5)], []), LIMITS) == ((), ())
