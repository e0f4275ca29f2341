"""The decisions made by hand: reading `kept.toml`, and honouring what it says."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import Chapter, Dismissal, Flag, Kept, KeptChapter, Pin, Step
from reelnotes.problems import Problem
from reelnotes.review.kept import honour_chapters, honour_flags, read_kept, stale_pins
from reelnotes.store import SourceText
from reelnotes.timing import Span

WHOLE = """# mine
[[pin]]
step = "3f9a01bc"
spans = ["9:12-9:41", "1:02:03-1:02:10.500"]

[[pin]]
step = "aa"
off_camera = true

[[chapter]]
at = "4:10"
title = "Gluing  the top"

[[chapter]]
at = 00:05:10
gone = true

[[dismiss]]
flag = "77c0d2e4"
reason = "offcut, scrapped on camera"
"""


def read(text: str) -> tuple[Kept, list[Problem]]:
    return read_kept(SourceText("kept.toml", text))


def codes(problems: list[Problem]) -> list[tuple[str, int | None]]:
    return [(problem.code, problem.line) for problem in problems]


# --- reading -----------------------------------------------------------------------------------------


def test_every_kind_of_decision() -> None:
    """Pins with spans and off camera, chapters named and gone, a dismissal with its reason."""
    assert read(WHOLE) == (
        Kept(
            pins=(Pin("3f9a01bc", (Span(552_000, 581_000), Span(3_723_000, 3_730_500))), Pin("aa")),
            chapters=(KeptChapter(250_000, "Gluing the top"), KeptChapter(310_000, gone=True)),
            dismissed=(Dismissal("77c0d2e4", "offcut, scrapped on camera"),),
        ),
        [],
    )


@pytest.mark.parametrize("text", ["", "# nothing yet\n", "\n"])
def test_no_decisions(text: str) -> None:
    """An empty file and remarks alone are no problem."""
    assert read(text) == (Kept(), [])


@pytest.mark.parametrize(
    ("at", "start_ms"),
    [('"4:10.5"', 250_500), ("250", 250_000), ("250.25", 250_250), ("00:04:10", 250_000), ("0", 0)],
)
def test_times_of_chapters(at: str, start_ms: int) -> None:
    """As text, in seconds, or as TOML's own time of day."""
    kept, problems = read(f'[[chapter]]\nat = {at}\ntitle = "x"\n')
    assert (problems, kept.chapters[0].start_ms) == ([], start_ms)


@pytest.mark.parametrize(
    ("block", "message"),
    [
        ('[[pin]]\nspans = ["9:12-9:41"]', "needs step"),
        ('[[pin]]\nstep = "a"', "say where"),
        ('[[pin]]\nstep = "a"\noff_camera = false', "say where"),
        ('[[pin]]\nstep = "a"\nspans = []', "say where"),
        ('[[pin]]\nstep = "a"\nspans = ["9:12"]', "9:12-9:41"),
        ('[[pin]]\nstep = "a"\nspans = ["9:41-9:12"]', "the end after the start"),
        ('[[pin]]\nstep = "a"\nspans = [5]', "9:12-9:41"),
        ('[[pin]]\nstep = "a"\nspans = ["0:01-0:02"]\noff_camera = true', "one of them must go"),
        ('[[pin]]\nstep = "a"\noff_camera = "yes"', "true or false"),
        ("[[pin]]\nstep = 5\noff_camera = true", "needs step"),
        ('[[chapter]]\ntitle = "x"', "say when"),
        ('[[chapter]]\nat = "4:60"\ntitle = "x"', "not a time"),
        ('[[chapter]]\nat = -1\ntitle = "x"', "say when"),
        ('[[chapter]]\nat = nan\ntitle = "x"', "say when"),
        ('[[chapter]]\nat = "4:10"', "needs title"),
        ('[[chapter]]\nat = "4:10"\ntitle = " "', "needs title"),
        ('[[dismiss]]\nreason = "x"', "needs flag"),
        ('[[dismiss]]\nflag = "a"', "needs reason"),
        ('[[dismiss]]\nflag = "a"\nreason = ""', "needs reason"),
    ],
)
def test_a_decision_that_cannot_be_read(block: str, message: str) -> None:
    """It is shown with its line and what it wants; the decisions around it count."""
    kept, problems = read(
        f'[[pin]]\nstep = "x"\noff_camera = true\n\n{block}\n\n[[dismiss]]\nflag = "f"\nreason = "r"\n'
    )
    assert codes(problems) == [("kept-value", 5)]
    assert message in problems[0].message
    assert problems[0].excerpt == block.split("\n", maxsplit=1)[0]
    assert kept == Kept((Pin("x"),), (), (Dismissal("f", "r"),))


def test_a_file_that_is_no_toml_loses_one_decision_only() -> None:
    """The broken line is shown; what stands above and below still holds."""
    kept, problems = read(WHOLE.replace('at = "4:10"', "at = 4:10"))
    assert codes(problems) == [("kept-value", 11)]
    assert problems[0].excerpt == "at = 4:10"
    assert (len(kept.pins), len(kept.chapters), len(kept.dismissed)) == (2, 1, 1)


def test_misspelt_members_are_named() -> None:
    """They would do nothing in silence otherwise."""
    kept, problems = read('[[dismiss]]\nflag = "a"\nreason = "r"\nreasn = "x"\n')
    assert kept.dismissed == (Dismissal("a", "r"),)
    assert codes(problems) == [("kept-value", 1)]
    assert "reasn" in problems[0].message


@pytest.mark.parametrize("text", ['[[pins]]\nstep = "a"\n', "x = 1\n", 'pin = "a"\n', "pin = [1]\n"])
def test_what_is_no_decision(text: str) -> None:
    """Other tables and values are named."""
    kept, problems = read(text)
    assert kept == Kept()
    assert [p.code for p in problems] == ["kept-value"]


def test_the_later_decision_holds() -> None:
    """Two decisions on one step, one chapter time or one flag: the second is taken, and shown."""
    kept, problems = read(
        '[[pin]]\nstep = "a"\noff_camera = true\n[[pin]]\nstep = "a"\nspans = ["0:01-0:02"]\n'
        '[[chapter]]\nat = "1:00"\ntitle = "x"\n[[chapter]]\nat = 60\ngone = true\n'
        '[[dismiss]]\nflag = "f"\nreason = "r"\n[[dismiss]]\nflag = "f"\nreason = "s"\n'
    )
    assert kept == Kept(
        (Pin("a", (Span(1000, 2000),)),), (KeptChapter(60_000, gone=True),), (Dismissal("f", "s"),)
    )
    assert codes(problems) == [("kept-value", 4), ("kept-value", 10), ("kept-value", 16)]


def test_headers_inside_long_texts_are_no_headers() -> None:
    """A line of a text in three quotes that looks like a header does not part its decision."""
    kept, problems = read(
        '[[dismiss]]\nflag = "f"\nreason = """see\n[[pin]]\nbelow"""\n'
        '[[pin]]\nstep = "a"\noff_camera = true\n'
    )
    assert problems == []
    assert kept == Kept((Pin("a"),), (), (Dismissal("f", "see [[pin]] below"),))


def test_decisions_in_one_line() -> None:
    """`pin = [{...}]` is the same in TOML."""
    kept, problems = read('pin = [{step = "a", off_camera = true}, {step = "b", spans = "0:01-0:02"}]\n')
    assert problems == []
    assert kept.pins == (Pin("a"), Pin("b", (Span(1000, 2000),)))


@settings(max_examples=150, deadline=None)
@given(st.lists(st.sampled_from([*WHOLE.split("\n"), '"""', "[x]", "]", "at = 4:10", "'"]), max_size=12))
def test_any_lines_give_decisions_and_problems(lines: list[str]) -> None:
    """Nothing is raised, and every problem shows a line of the file."""
    _, problems = read("\n".join(lines))
    assert all(p.line and 1 <= p.line <= max(1, len(lines)) for p in problems)


# --- honouring ---------------------------------------------------------------------------------------


DRAFTED = (
    Chapter(0, "Start"),
    Chapter(60_000, "Lid"),
    Chapter(250_000, "Glue", "speech"),
    Chapter(400_000, "Wax"),
)


def titles(chapters: tuple[Chapter, ...]) -> list[tuple[int, str, str]]:
    return [(chapter.start_ms, chapter.title, chapter.origin) for chapter in chapters]


def test_without_decisions_nothing_changes() -> None:
    """The drafted chapters come back as they are."""
    assert honour_chapters(DRAFTED, Kept()) == (DRAFTED, [])


@pytest.mark.parametrize(
    ("at", "renames"), [(245_000, True), (255_000, True), (244_999, False), (255_001, False)]
)
def test_a_title_within_5_s_renames(at: int, renames: object) -> None:
    """The drafted start holds then; a millisecond further off, the chapter is added at its own time."""
    chapters, problems = honour_chapters(DRAFTED, Kept(chapters=(KeptChapter(at, "Gluing"),)))
    assert problems == []
    row = (250_000, "Gluing", "kept") if renames else (at, "Gluing", "kept")
    assert row in titles(chapters)
    assert len(chapters) == (4 if renames else 5)
    assert [c.start_ms for c in chapters] == sorted(c.start_ms for c in chapters)


def test_the_nearest_title_renames() -> None:
    """Of two titles near one chapter, the nearer renames it and the other is added."""
    kept = Kept(chapters=(KeptChapter(247_000, "Early"), KeptChapter(251_000, "Near")))
    assert titles(honour_chapters(DRAFTED, kept)[0])[2:4] == [
        (247_000, "Early", "kept"),
        (250_000, "Near", "kept"),
    ]


def test_the_first_chapter_can_be_renamed_but_not_taken_out() -> None:
    """Players want a chapter at 0."""
    kept = Kept(chapters=(KeptChapter(0, "Hello"),))
    assert titles(honour_chapters(DRAFTED, kept)[0])[0] == (0, "Hello", "kept")
    chapters, problems = honour_chapters(DRAFTED, Kept(chapters=(KeptChapter(0, gone=True),)))
    assert chapters == DRAFTED
    assert [p.code for p in problems] == ["kept-value"]


def test_a_chapter_is_gone() -> None:
    """The nearest within 5 s is taken out; where none is, the decision is stale."""
    chapters, problems = honour_chapters(DRAFTED, Kept(chapters=(KeptChapter(63_000, gone=True),)))
    assert (problems, [c.title for c in chapters]) == ([], ["Start", "Glue", "Wax"])
    chapters, problems = honour_chapters(DRAFTED, Kept(chapters=(KeptChapter(65_001, gone=True),)))
    assert chapters == DRAFTED
    assert [(p.code, p.file) for p in problems] == [("kept-stale", "kept.toml")]
    assert "1:05" in problems[0].message


def test_a_chapter_is_moved() -> None:
    """Gone at its old time and named at a new one close by, it stands at the new one."""
    kept = Kept(chapters=(KeptChapter(250_000, gone=True), KeptChapter(253_000, "Glue")))
    chapters, problems = honour_chapters(DRAFTED, kept)
    assert problems == []
    assert titles(chapters)[2] == (253_000, "Glue", "kept")


def test_a_chapter_behind_the_end() -> None:
    """After a re-edit the programme may be shorter; the last millisecond is inside."""
    kept = Kept(chapters=(KeptChapter(500_000, "Late"),))
    chapters, problems = honour_chapters(DRAFTED, kept, 500_000)
    assert chapters == DRAFTED
    assert [p.code for p in problems] == ["kept-stale"]
    assert len(honour_chapters(DRAFTED, kept, 500_001)[0]) == 5


def flag(name: str) -> Flag:
    return Flag(name, "dust", "CAUTION", 0, 1000, None, "sanding", "dust", "wear a mask")


def test_dismissed_flags_are_put_aside_with_their_reasons() -> None:
    """The others stand in their order."""
    kept = Kept(dismissed=(Dismissal("b", "outdoors"),))
    standing, aside, problems = honour_flags((flag("a"), flag("b"), flag("c")), kept)
    assert [f.id for f in standing] == ["a", "c"]
    assert aside == ((flag("b"), "outdoors"),)
    assert problems == []


def test_a_dismissal_of_a_flag_that_is_gone_is_stale() -> None:
    """It is reported with its reason, and does no harm."""
    standing, aside, problems = honour_flags((flag("a"),), Kept(dismissed=(Dismissal("b", "outdoors"),)))
    assert (standing, aside) == ((flag("a"),), ())
    assert [p.code for p in problems] == ["kept-stale"]
    assert "outdoors" in problems[0].message


def test_a_pin_of_a_step_that_is_gone_is_stale() -> None:
    """A pin of a step that is there says nothing."""
    kept = Kept(pins=(Pin("a"), Pin("b")))
    problems = stale_pins((Step("a", 0, "glued", 0.9),), kept)
    assert [p.code for p in problems] == ["kept-stale"]
    assert " b " in problems[0].message


STARTS = st.integers(0, 60_000)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(STARTS, max_size=6, unique=True),
    st.lists(st.tuples(STARTS, st.booleans()), max_size=6, unique_by=lambda row: row[0]),
)
def test_every_title_set_by_hand_is_there_once(starts: list[int], decisions: list[tuple[int, bool]]) -> None:
    """Whatever was drafted: in order, no more than drafted plus added, and each title exactly once."""
    drafted = tuple(Chapter(start, f"d{start}") for start in sorted(starts))
    kept = Kept(chapters=tuple(KeptChapter(at, "" if gone else f"k{at}", gone) for at, gone in decisions))
    chapters, _ = honour_chapters(drafted, kept)
    ours = [c.title for c in chapters if c.origin == "kept"]
    assert sorted(ours) == sorted(k.title for k in kept.chapters if not k.gone)
    assert [c.start_ms for c in chapters] == sorted(c.start_ms for c in chapters)
    assert {c.title for c in chapters if c.origin != "kept"} <= {c.title for c in drafted}
