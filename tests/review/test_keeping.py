"""Writing decisions into `kept.toml`: they are read back, and everything else stays as it was."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import Dismissal, Kept, KeptChapter, Pin
from reelnotes.review.keeping import Decision, keep, kept_time, let_go
from reelnotes.review.kept import read_kept
from reelnotes.store import SourceText
from reelnotes.timing import Span

HAND_MADE = """# Decisions for the blue chest.

[[pin]]   # the hinges
step = "aa"            # told twice
spans = ["9:12-9:41"]

# I like this one better
[[chapter]]
at = 250
title = "Glue"

[[pin]]
step = "bb"
off_camera = true
# the end
"""


def read(text: str) -> Kept:
    return read_kept(SourceText("kept.toml", text))[0]


def test_a_new_decision_goes_to_the_end() -> None:
    """The text above it does not change by a letter."""
    text = keep(HAND_MADE, Dismissal("f1", 'it is a "test" piece'))
    assert text.startswith(HAND_MADE)
    assert text[len(HAND_MADE) :] == '\n[[dismiss]]\nflag = "f1"\nreason = "it is a \\"test\\" piece"\n'
    assert read(text).dismissed == (Dismissal("f1", 'it is a "test" piece'),)


def test_a_decision_is_changed_in_its_place() -> None:
    """Comments and order survive; only what was decided is another."""
    text = keep(HAND_MADE, Pin("aa", (Span(1000, 2500), Span(3000, 4000))))
    assert text == HAND_MADE.replace('["9:12-9:41"]', '["0:01-0:02.500", "0:03-0:04"]')
    text = keep(HAND_MADE, KeptChapter(250_000, "Gluing up"))
    assert text == HAND_MADE.replace('"Glue"', '"Gluing up"')
    text = keep(HAND_MADE, Pin("bb", (Span(0, 1000),)))
    assert text == HAND_MADE.replace("off_camera = true", 'spans = ["0:00-0:01"]')
    text = keep(HAND_MADE, KeptChapter(250_000, gone=True))
    assert text == HAND_MADE.replace('title = "Glue"', "gone = true")


def test_the_same_decision_again_changes_nothing() -> None:
    """Keeping what is kept already is the same text."""
    for decision in (Pin("aa", (Span(552_000, 581_000),)), Pin("bb"), KeptChapter(250_000, "Glue")):
        assert keep(HAND_MADE, decision) == HAND_MADE


def test_letting_go() -> None:
    """The decision and its own comments go; what stands above and below stays."""
    text = let_go(HAND_MADE, Pin("aa"))
    assert text == HAND_MADE.replace(
        '[[pin]]   # the hinges\nstep = "aa"            # told twice\nspans = ["9:12-9:41"]\n', ""
    )
    assert let_go(HAND_MADE, Pin("zz")) == HAND_MADE
    assert let_go(let_go(HAND_MADE, Pin("bb")), KeptChapter(250_000)).endswith(
        "# I like this one better\n\n# the end\n"
    )


def test_a_file_with_a_broken_decision_takes_another() -> None:
    """The broken lines are left to the maker; the new decision holds."""
    broken = HAND_MADE.replace("at = 250", "at = 4:10")
    text = keep(broken, Pin("cc"))
    assert text.startswith(broken)
    assert Pin("cc") in read(text).pins


def test_decisions_in_one_line_go_on_there() -> None:
    """TOML allows no `[[pin]]` beside `pin = [...]`, so the new one goes into the list."""
    text = keep('pin = [{step = "a", off_camera = true}]  # short\n', Pin("b", (Span(0, 1000),)))
    assert tomllib.loads(text)
    assert "# short" in text
    assert read(text).pins == (Pin("a"), Pin("b", (Span(0, 1000),)))


@pytest.mark.parametrize("text", ["", "# mine", "# mine\n"])
def test_a_file_without_decisions(text: str) -> None:
    """What is there stays, and there is a blank line between."""
    new = keep(text, Pin("a"))
    assert new.startswith(text)
    assert read(new).pins == (Pin("a"),)


@pytest.mark.parametrize(
    ("ms", "text"), [(0, "0:00"), (552_000, "9:12"), (552_500, "9:12.500"), (3_723_001, "1:02:03.001")]
)
def test_times_are_written_short(ms: int, text: str) -> None:
    """Milliseconds only where there are any."""
    assert kept_time(ms) == text


IDS = st.text(st.characters(categories=["L", "N", "P", "S"]), min_size=1, max_size=6)
WORDS = (
    st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1)
    .map(lambda t: " ".join(t.split()))
    .filter(bool)
)
MS = st.integers(0, 10_000_000)
SPANS = st.lists(st.tuples(MS, st.integers(1, 90_000)), max_size=3).map(
    lambda rows: tuple(Span(start, start + length) for start, length in rows)
)
DECISIONS: st.SearchStrategy[Decision] = st.one_of(
    st.builds(Pin, IDS, SPANS),
    st.builds(Dismissal, IDS, WORDS),
    st.builds(KeptChapter, MS, WORDS),
    st.builds(lambda at: KeptChapter(at, gone=True), MS),
)


def held(kept: Kept) -> list[Decision]:
    return [*kept.pins, *kept.chapters, *kept.dismissed]


@settings(max_examples=150, deadline=None)
@given(st.lists(DECISIONS, max_size=6), st.sampled_from(["", HAND_MADE]))
def test_every_decision_is_read_back(decisions: list[Decision], text: str) -> None:
    """Each is in the file after it was kept, the file is TOML throughout, and comments stay."""
    before = text
    for decision in decisions:
        text = keep(text, decision)
        assert tomllib.loads(text)
        assert decision in held(read(text))
    assert all(line in text for line in before.split("\n") if line.startswith("#"))
    for decision in decisions:
        text = let_go(text, decision)
        assert decision not in held(read(text))
    assert text.strip() == "" or before


@settings(max_examples=100, deadline=None)
@given(
    DECISIONS,
    st.lists(st.sampled_from([*HAND_MADE.split("\n"), '"""', "x = [", "[a"]), max_size=10).map("\n".join),
)
def test_any_file_takes_a_decision(decision: Decision, text: str) -> None:
    """Whatever the file holds, the decision is in it afterwards, and no comment is lost."""
    new = keep(text, decision)
    if '"""' not in text and "x = [" not in text and "[a" not in text:
        assert decision in held(read(new))
    for line in text.split("\n"):
        if line.startswith("#"):
            assert line in new
