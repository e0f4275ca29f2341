"""Lessons: steps that come near an earlier correction, in anybody's words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reelnotes.corrections.lessons import lessons_for, repeated, repeated_without_topic
from reelnotes.model import Correction, Place, SignalWord, Step, StepSpan, Topic
from reelnotes.timing import Span
from reelnotes.words.lexicon import load_lexicon

LEXICON = load_lexicon()


def record(
    name: str, shown: str, wrong: str, instead: str, *, signal: SignalWord = "NOTICE", topic: Topic | None
) -> Correction:
    place = Place("old-stool", 1, Span(552_000, 581_000))
    return Correction(name, shown, wrong, instead, signal, topic, places=(place,))


TOP = record(
    "top",
    "the top glued into its frame all round",
    "solid wood swells across the grain, so the frame will split",
    "screw it on through slots, with a gap of 4 mm on each side",
    topic="wood-movement",
)
RAGS = record(
    "rags",
    "I threw the oily rags in the bin in a heap",
    "a heap of oily rags can set itself on fire",
    "spread them flat outside or drown them in a bucket of water",
    signal="WARNING",
    topic="rag-fire",
)
WAX = record(
    "wax",
    "shellac over the old wax without cleaning it off",
    "it will not stick and peels",
    "white spirit and wire wool until a rag stays clean, then shellac",
    topic="finish-stack",
)
HINGES = record(
    "hinges",
    "marked the hinges without having them in my hand",
    "the screws missed the holes",
    "wait till the hardware is on the bench, offer it up, then mark",
    topic="blind-fit",
)
ALL = [TOP, RAGS, WAX, HINGES]


def step(text: str, *spans: StepSpan, told: float = 0.9) -> Step:
    return Step("3f9a01bc", 4, text, told, spans)


# --- lessons -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("planned", "asked"),
    [
        ("glue the top into the frame", ["top"]),
        ("glue top", ["top"]),
        ("danish oil 2nd coat, rags in the bin", ["rags"]),
        ("rags flat outside on line", ["rags"]),
        ("shellac 2 coats", ["wax"]),
        ("fit hinges", ["hinges"]),
        ("sealed over old wax w/ shellac", ["wax"]),
        ("lunch", []),
        ("sanded top 180 > 240", []),
        ("paid 20 for the timber", []),
        ("", []),
    ],
)
def test_a_planned_step_brings_up_what_it_comes_near(planned: str, asked: list[str]) -> None:
    """In the words of a log or of speech; what has nothing to do with a correction brings up none."""
    steps = [planned, "tea and a biscuit"]
    assert [lesson.record.id for lesson in lessons_for(ALL, steps, LEXICON)] == asked


def test_without_steps_all_lessons_are_told_worst_first() -> None:
    """Cautions too; disclosures teach nothing."""
    gift = replace(WAX, id="gift", kind="disclosure")
    care = replace(RAGS, id="care", kind="caution", signal="DANGER")
    told = [lesson.record.id for lesson in lessons_for([*ALL, gift, care], [], LEXICON)]
    assert told == ["care", "rags", "wax", "top", "hinges"]


def test_a_lesson_names_its_steps_nearest_first() -> None:
    """With how much of the words they share."""
    (lesson,) = lessons_for([RAGS], ["rags on the line", "oily rags in a heap in the bin"], LEXICON)
    assert next(text for text, _ in lesson.steps) == "oily rags in a heap in the bin"
    assert all(0 < share <= 1 for _, share in lesson.steps)


# --- repeats -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("logged", "named"),
    [
        ("glue the top into the frame", ["top"]),
        ("rags to bin, oil coat 2", ["rags"]),
        ("sealed over old wax w/ shellac", ["wax"]),
        ("marked hinges", ["hinges"]),
        ("top on w/ slots + screws, gap each side", []),
        ("cleaned old wax off w/ white spirit + wire wool, then shellac", []),
        ("rags flat outside on line", []),
        ("shellac 2 coats", []),
        ("fit hinges", []),
        ("lunch", []),
    ],
)
def test_a_step_that_repeats_a_mistake_is_flagged(logged: str, named: list[str]) -> None:
    """The flag names the correction; a step done as the correction asks is none."""
    flags = repeated(ALL, "new-chair", [step(logged)], LEXICON)
    assert [flag.why.split("correction ")[1].split(" ")[0] for flag in flags] == named


def test_the_flag_carries_the_corrections_own_words() -> None:
    """Topic and signal word, what happens, what to do instead, and where it stood before."""
    spans = (StepSpan(10_000, 20_000, 0.8, "words"), StepSpan(50_000, 52_000, 0.4, "words"))
    (flag,) = repeated([TOP], "new-chair", [step("glued the top into its frame", *spans)], LEXICON)
    assert (flag.topic, flag.signal, flag.tier) == ("wood-movement", "NOTICE", "firm")
    assert (flag.start_ms, flag.end_ms, flag.entry) == (10_000, 20_000, 4)
    assert flag.places == (Span(50_000, 52_000),)
    assert flag.caution == TOP.instead
    assert "old-stool 9:12" in flag.why
    assert TOP.wrong in flag.why


@pytest.mark.parametrize(("told", "placed"), [(0.51, True), (0.5, False)])
def test_a_step_that_is_hardly_told_is_flagged_in_the_log(told: float, placed: bool) -> None:
    """Above one in two it has its place in the video."""
    span = StepSpan(10_000, 20_000, 0.8, "words")
    (flag,) = repeated([TOP], "new", [step("glued the top into its frame", span, told=told)], LEXICON)
    assert (flag.start_ms is not None) is placed


def test_the_episode_of_the_correction_does_not_repeat_itself() -> None:
    """It is the mistake."""
    assert repeated([TOP], "old-stool", [step("glued the top into its frame")], LEXICON) == ()


@pytest.mark.parametrize("kind", ["caution", "disclosure"])
def test_only_corrections_can_be_repeated(kind: str) -> None:
    """A caution was given in time."""
    of = replace(TOP, kind="caution" if kind == "caution" else "disclosure")
    assert repeated([of], "new", [step("glued the top into its frame")], LEXICON) == ()


def test_a_correction_without_a_topic_is_given_apart() -> None:
    """No flag can carry it; the caller names it in a problem."""
    plain = replace(TOP, topic=None)
    steps = [step("glued the top into its frame")]
    assert repeated([plain], "new", steps, LEXICON) == ()
    assert [(one.id, of.entry) for one, of in repeated_without_topic([plain], "new", steps, LEXICON)] == [
        ("top", 4)
    ]
    assert repeated_without_topic([TOP], "new", steps, LEXICON) == []
