"""Titles from the maker's own words."""

from __future__ import annotations

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from reelnotes.draft.titles import chapter_titles, title_from_note
from reelnotes.model import Cue
from reelnotes.words.lexicon import load_lexicon


@pytest.mark.parametrize(
    ("note", "title"),
    [
        ("oil coat 1 outside abt 120 ml. rags on the line", "Oil coat 1 outside"),
        ("forgot to write: yest abt 4 took hinges off. both bent", "Took hinges off"),
        ("gel on front + LH end abt 400 ml. cling film", "Gel on front and left hand end"),
        ("old drwr side glu'd", "Old drawer side glued"),
        ("lunch crab sandwich £4.80 (not budget!!)", "Lunch crab sandwich"),
        ("cramps off. top flat enough", "Cramps off"),
        ("oiled. second coat, thin", "Oiled, second coat, thin"),
        ("M8 bolt rear leg", "M8 bolt rear leg"),
        ("top back on and", "Top back on"),
    ],
)
def test_from_note(note: str, title: str) -> None:
    """A note's first clause is written out, without asides, amounts, prices and loose ends."""
    assert title_from_note(note, load_lexicon(), 60) == title


@pytest.mark.parametrize("note", ["", "...", "£4.80", "(x)"])
def test_nothing_to_call_it(note: str) -> None:
    """A note with nothing to say gives no title."""
    assert title_from_note(note, load_lexicon(), 60) == ""


def test_cut_at_a_word() -> None:
    """A long title is cut at the end of a word and loses what dangles."""
    assert (
        title_from_note("planed the long edge of the top board with a jointer", load_lexicon(), 25)
        == "Planed the long edge"
    )


def spoken(*texts: str) -> list[str]:
    """Title chapters of speech, one of 30 s for each text."""
    cues = [
        Cue(30_000 * chapter + 5000 * place, 30_000 * chapter + 5000 * place + 4900, line.strip(), 1)
        for chapter, text in enumerate(texts)
        for place, line in enumerate(text.strip().splitlines())
    ]
    starts = [30_000 * chapter for chapter in range(len(texts))]
    return [title for title, _ in chapter_titles(starts, 30_000 * len(texts), (), (), cues, 60)]


def test_from_speech() -> None:
    """The clause that says most near the beginning gives the title, fillers and openings left out."""
    titles = spoken(
        "So, um, stripper. You lay it on thick.\nStripper wants time, so leave the stripper alone.",
        "Right, new hinges. Same size as the old hinges.\nAnd I drilled straight off.",
        "[Music]\nokay you know the gull on my balcony is back.\nhe took a sausage",
    )
    assert titles == ["Stripper", "New hinges", "The gull on my balcony is back"]


def test_no_two_alike() -> None:
    """Titles that would be alike are numbered, also at the limit, and silence has a name too."""
    assert spoken("oil", "oil", "OIL", "[Music]") == ["Oil", "Oil (2)", "OIL (3)", "Part 4"]


@given(st.lists(st.text(max_size=40), min_size=1, max_size=6), st.integers(8, 60))
@example(["ß0000000"], 8)
@settings(max_examples=80, deadline=None)
def test_any_words(texts: list[str], max_chars: int) -> None:
    """Whatever is said, titles are there, within the limit, on one line, and no two alike."""
    cues = [Cue(20_000 * i, 20_000 * i + 10_000, text, 1) for i, text in enumerate(texts)]
    starts = [20_000 * i for i in range(len(texts))]
    titles = [title for title, _ in chapter_titles(starts, 20_000 * len(texts), (), (), cues, max_chars)]
    assert all(0 < len(title) <= max_chars and "\n" not in title for title in titles)
    assert len({title.casefold() for title in titles}) == len(titles)
