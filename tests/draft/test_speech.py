"""Running text that knows its times; signs; openings."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.draft.openings import opening_weight, says_nothing
from reelnotes.draft.signs import Signs, plain
from reelnotes.draft.speech import passages
from reelnotes.model import Cue
from reelnotes.words.lexicon import load_lexicon


def cues_of(texts: list[str]) -> list[Cue]:
    return [Cue(1000 * i, 1000 * i + 900, text, i + 1) for i, text in enumerate(texts)]


@given(st.lists(st.text(st.characters(exclude_categories=("Co", "Cs")), max_size=30), max_size=40))
@settings(max_examples=80, deadline=None)
def test_every_cue_keeps_its_place(texts: list[str]) -> None:
    """Without mending, each cue's text stands where the passage says that the cue begins."""
    seen = []
    for passage in passages(cues_of(texts), None):
        for start, index in zip(passage.starts, passage.cues, strict=True):
            assert passage.text.startswith(texts[index], start)
            assert passage.cue_at(start) == index
            seen.append(index)
    assert seen == list(range(len(texts)))


def test_mended_across_cues() -> None:
    """A mishearing across two cues is mended, and the cues behind it keep their place."""
    (passage,) = passages(cues_of(["two coats of she", "lack on it", "then wax"]), load_lexicon())
    assert "shellac" in passage.text
    assert passage.cue_at(passage.text.index("wax")) == 2
    assert passage.cue_at(passage.text.index("shellac")) == 0


def test_passages_end_with_sentences() -> None:
    """A passage of eight cues or more ends where a sentence does; without any it ends at sixteen."""
    texts = ["and so on"] * 9 + ["the end."] + ["more"] * 3
    assert [len(p.cues) for p in passages(cues_of(texts), None)] == [10, 3]
    assert [len(p.cues) for p in passages(cues_of(["on"] * 20), None)] == [16, 4]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("we'll see", True),
        ("well see", True),
        ("put the long red list below", True),
        ("put it", False),
        ("a thousand", False),
    ],
)
def test_signs(text: str, found: bool) -> None:
    """A sign's apostrophe may be missing, its gap holds up to six words, and words are whole."""
    assert bool(Signs("we'll see\nput ... below\nthou").search(text)) is found


def test_sign_at_end() -> None:
    """A sign tied to the end is found only there."""
    sign = Signs("no( more)?", at_end=True)
    assert sign.search("there is no more")
    assert not sign.search("no more of it")


@given(st.text(max_size=40))
@settings(max_examples=80, deadline=None)
def test_plain_moves_nothing(text: str) -> None:
    """Lower case and straight apostrophes leave every character in its place."""
    assert len(plain(text)) == len(text)


@pytest.mark.parametrize(
    "text", ["So first job is the lock", "right. Meanwhile the lamp", "wednesday then", "Intermission."]
)
def test_opens(text: str) -> None:
    """A day, an ordinal, a turn to something else speak for a new subject."""
    assert opening_weight(text) > 1


@pytest.mark.parametrize("text", ["and then it went", "which is nice", "because of the glue", "it goes on"])
def test_goes_on(text: str) -> None:
    """A joining word or a pronoun speaks against it."""
    assert opening_weight(text) < -1


@pytest.mark.parametrize(
    ("text", "nothing"),
    [("[Music]", True), ("♪ la la ♪", True), ("(applause)", True), ("", False), ("[Music] hello", False)],
)
def test_says_nothing(text: str, nothing: bool) -> None:
    """A cue in brackets holds no speech."""
    assert says_nothing(text) is nothing
