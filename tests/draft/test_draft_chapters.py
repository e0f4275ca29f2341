"""Chapters: where they start, how they are called, and the host's limits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, time
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.draft.chapters import draft_chapters
from reelnotes.model import Chapter, Cue, Entry, Step, StepSpan
from reelnotes.settings import HostLimits

CUE_MS = 6000


def talk(*subjects: tuple[str, int], pause_ms: int = 0) -> tuple[Cue, ...]:
    """Make a talk: each subject is words and a number of cues of 6 s; `pause_ms` stands between subjects."""
    cues: list[Cue] = []
    at = 0
    for words, count in subjects:
        vocabulary = words.split()
        for n in range(count):
            text = " ".join(vocabulary[(n * 3 + k) % len(vocabulary)] for k in range(12))
            cues.append(Cue(at, at + CUE_MS - 50, text, len(cues) + 1))
            at += CUE_MS
        at += pause_ms
    return tuple(cues)


SAWING = "saw blade plank rip fence push stick board width edge cut timber guard riving knife"
OILING = "oil rag wipe tin coat soak tacky grain colour rub dry overnight thin lint hemp"
WIRING = "flex lamp plug fuse earth socket wire brown blue holder switch bulb screw terminal shade"


def starts_s(chapters: tuple[Chapter, ...]) -> list[float]:
    return [chapter.start_ms / 1000 for chapter in chapters]


def test_subjects_alone() -> None:
    """Without log, pauses or punctuation, chapters start where the words change."""
    cues = talk((SAWING, 12), (OILING, 12), (WIRING, 12))
    chapters, problems = draft_chapters((), (), cues, cues[-1].end_ms, HostLimits())
    assert starts_s(chapters) == [0, 72, 144]
    assert {chapter.origin for chapter in chapters} == {"speech"}
    assert not problems


def test_a_closing_is_short() -> None:
    """The last chapter may be half as long as the others: a look back and goodbye take no minute."""
    cues = talk((SAWING, 10), (OILING, 10), (OILING, 4), pause_ms=600)
    chapters, _ = draft_chapters((), (), cues, cues[-1].end_ms, HostLimits())
    assert starts_s(chapters) == [0, 60.6, 121.2]


def test_pauses() -> None:
    """A long pause opens a chapter where the words alone would leave it open."""
    cues = talk((SAWING, 10), (SAWING, 10), (SAWING, 10), pause_ms=3000)
    chapters, _ = draft_chapters((), (), cues, cues[-1].end_ms, HostLimits())
    assert starts_s(chapters) == [0, 63, 126]


@pytest.mark.parametrize(
    "opening", ["Right, next job is", "Meanwhile the lamp", "On Wednesday then", "[Music]"]
)
def test_openings(opening: str) -> None:
    """Opening words and music open a chapter within one subject."""
    cues = list(talk((SAWING, 24)))
    cues[11] = replace(cues[11], text=opening if opening[0] == "[" else f"{opening} {cues[11].text}")
    chapters, _ = draft_chapters((), (), tuple(cues), cues[-1].end_ms, HostLimits(chapters_min=2))
    assert starts_s(chapters) == [0, 72 if opening[0] == "[" else 66]


def log_of(*entries: tuple[str, date]) -> tuple[Entry, ...]:
    return tuple(Entry(i, text, i + 1, day, time(9, i)) for i, (text, day) in enumerate(entries))


def steps_for(entries: tuple[Entry, ...], *spans_s: tuple[int, int]) -> tuple[Step, ...]:
    return tuple(
        Step(str(e.index), e.index, e.text, 0.9, (StepSpan(a * 1000, b * 1000, 0.9, "words"),))
        for e, (a, b) in zip(entries, spans_s, strict=True)
    )


def test_steps() -> None:
    """The start of a step on another day opens a chapter, and its entry gives the title."""
    cues = talk((SAWING, 22))
    entries = log_of(
        ("ripped 3 bds, 45 wide", date(2026, 3, 4)), ("plnd to 20.0 + sndd 120", date(2026, 3, 5))
    )
    steps = steps_for(entries, (0, 60), (66, 130))
    chapters, _ = draft_chapters(entries, steps, cues, cues[-1].end_ms, HostLimits(chapters_min=1))
    assert starts_s(chapters) == [0, 66]
    assert [chapter.title for chapter in chapters] == [
        "Ripped 3 boards, 45 wide",
        "Planed to 20.0 and sanded 120",
    ]
    assert {chapter.origin for chapter in chapters} == {"steps"}


def test_not_inside_a_step() -> None:
    """A step that goes on is evidence against a chapter within it."""
    cues = talk((SAWING, 11), (OILING, 11))
    entries = log_of(("ripped the lot and oiled it", date(2026, 3, 4)))
    apart, _ = draft_chapters((), (), cues, cues[-1].end_ms, HostLimits(chapters_min=1))
    within = replace(steps_for(entries, (0, 130))[0])
    together, _ = draft_chapters(entries, (within,), cues, cues[-1].end_ms, HostLimits(chapters_min=1))
    assert len(together) <= len(apart)


def test_stretch_without_steps() -> None:
    """What no step fills, between steps, is a chapter of its own and named by speech."""
    day = date(2026, 3, 4)
    cues = list(
        talk(
            (SAWING, 10), ("he took my sausage and a comment said get him a lead for walks", 6), (OILING, 10)
        )
    )
    cues[10] = replace(
        cues[10], text="Right, a quick word about the gull on my balcony rail, because people ask."
    )
    entries = log_of(("ripped 3 boards", day), ("oil coat 1", day))
    steps = steps_for(entries, (0, 60), (96, 156))
    chapters, _ = draft_chapters(entries, steps, tuple(cues), cues[-1].end_ms, HostLimits())
    assert starts_s(chapters) == [0, 60, 96]
    assert [chapter.origin for chapter in chapters] == ["steps", "speech", "steps"]
    assert chapters[1].title == "A quick word about the gull on my balcony rail"


def test_too_few_chapters() -> None:
    """A video too short for the host's number of chapters is reported; one just long enough is not."""
    short, long = talk((SAWING, 4)), talk((SAWING, 6))
    limits = HostLimits(chapters_min=3, chapter_min_s=10)
    _, problems = draft_chapters((), (), short, short[-1].end_ms, limits)
    assert [problem.code for problem in problems] == ["chapter-limit"]
    chapters, problems = draft_chapters((), (), long, long[-1].end_ms, limits)
    assert (len(chapters), problems) == (3, [])


def test_nothing_said() -> None:
    """Without speech there is one chapter at 0 for a video with a length, and none for no video."""
    assert [c.start_ms for c in draft_chapters((), (), (), 60_000, HostLimits(chapters_min=1))[0]] == [0]
    assert draft_chapters((), (), (), 0, HostLimits())[0] == ()


WORDS = st.sampled_from([*SAWING.split(), *OILING.split(), "so", "right", "next", "[Music]", "and", "the."])


@given(
    st.lists(
        st.tuples(st.lists(WORDS, min_size=1, max_size=14), st.integers(300, 9000), st.integers(0, 4000)),
        min_size=1,
        max_size=40,
    ),
    st.integers(1, 6),
    st.integers(1, 30),
    st.integers(8, 60),
)
@settings(max_examples=60, deadline=None)
def test_always_within_limits(
    spoken: list[tuple[list[str], int, int]], chapters_min: int, chapter_min_s: int, title_max: int
) -> None:
    """The first chapter is at 0, all are far enough apart, no title is empty, too long or there twice."""
    cues: list[Cue] = []
    at = 0
    for words, length, pause in spoken:
        cues.append(Cue(at + pause, at + pause + length, " ".join(words), len(cues) + 1))
        at += pause + length
    limits = HostLimits(chapters_min, chapter_min_s, title_max)
    chapters, problems = draft_chapters((), (), tuple(cues), at, limits)
    assert chapters[0].start_ms == 0
    edges = [*(chapter.start_ms for chapter in chapters), at]
    if len(chapters) > 1:
        assert all(b - a >= chapter_min_s * 1000 for a, b in pairwise(edges))
    titles = [chapter.title for chapter in chapters]
    assert all(0 < len(title) <= title_max for title in titles)
    assert len({title.casefold() for title in titles}) == len(titles)
    assert bool(problems) == (len(chapters) < chapters_min)


def test_many_cues(benchmark_ms: Callable[[Callable[[], Any]], float]) -> None:
    """Ten thousand cues are cut in a few seconds at most."""
    cues = talk(*[(subject, 40) for _ in range(83) for subject in (SAWING, OILING, WIRING)])
    assert benchmark_ms(lambda: draft_chapters((), (), cues, cues[-1].end_ms, HostLimits())) < 8000
