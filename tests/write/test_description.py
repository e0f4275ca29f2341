"""The description is short enough, honest, and says what is still owed."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from reelnotes.model import COMMON_PRACTICE, DEFERS, Draft, Material, Promise, Spending
from reelnotes.write.chapters import chapters_text
from reelnotes.write.description import CLOSING, description

ROOM = 5000


def test_the_disclosure_stands_before_everything_but_the_title(draft: Draft) -> None:
    """A given product is named at the top, not below the fold (16 CFR 255: hard to miss)."""
    lines = description(draft, ROOM)[0].split("\n")
    assert lines[:3] == [
        "A loose stool & its <seat>",
        "",
        "Given to the workshop, not paid for: =Best cloth.",
    ]


def test_a_disclosure_is_asked_for_in_the_video_too(draft: Draft) -> None:
    """The description alone is not enough (FTC, Disclosures 101); without a given product nothing is said."""
    bought = replace(draft, spending=Spending(draft.spending.materials[:1]))
    assert "disclosure" in [p.code for p in description(draft, ROOM)[1]]
    assert "disclosure" not in [p.code for p in description(bought, ROOM)[1]]


def test_an_owed_link_is_a_blank_and_a_kept_one_is_not(draft: Draft) -> None:
    """Only what was promised as a link and never kept waits to be filled in."""
    text, problems = description(draft, ROOM)
    assert "[fill in] 1:02 “I'll put the drawing in the description”" in text
    assert "next week" not in text
    assert [p.code for p in problems].count("description-blank") == 1
    kept = replace(draft, promises=(Promise(1, "link below", "link", 2),))
    assert "[fill in]" not in description(kept, ROOM)[0]
    assert "description-blank" not in [p.code for p in description(kept, ROOM)[1]]


def test_firm_cautions_are_told_and_others_are_not(draft: Draft) -> None:
    """Cautions of open firm flags stand, worst first; what is merely worth a look or put aside does not."""
    text = description(draft, ROOM)[0]
    assert text.index("Hang oily rags out") < text.index("Wear eye protection.") < text.index(CLOSING)
    assert "damp cloth" not in text
    assert "Pull the plug" not in text


def test_what_every_caution_ends_with_is_told_once(draft: Draft) -> None:
    """What the closing line says anyway is not repeated with each caution; what is a caution's own stays."""
    rag, eye = "Hang rags out.", "Wear glasses. Keep the label in sight."
    flags = [replace(draft.flags[0], caution=f"{words} {COMMON_PRACTICE} {DEFERS}") for words in (rag, eye)]
    text = description(replace(draft, flags=tuple(flags)), ROOM)[0]
    assert f"- {rag}\n- {eye}\n" in text
    assert DEFERS not in text
    assert COMMON_PRACTICE not in text
    assert "licensed trades" in text


def test_costs_stay_out(draft: Draft) -> None:
    """Amounts are told, money is not."""
    text = description(draft, ROOM)[0]
    assert "- Reed | linseed oil, 150 ml" in text
    assert "4.80" not in text
    assert "11.80" not in text


def test_what_fits_exactly_is_not_cut(draft: Draft) -> None:
    """At its own length the text is whole; one character less costs a material and is reported."""
    whole, problems = description(draft, ROOM)
    assert description(draft, len(whole)) == (whole, problems)
    cut, reported = description(draft, len(whole) - 1)
    assert len(cut) < len(whole)
    assert chapters_text(draft) in cut
    assert "of its materials" in next(p.message for p in reported if p.code == "description-long")


@settings(max_examples=60, deadline=None)
@example(138, 0)
@given(st.integers(0, 900), st.integers(0, 30))
def test_the_room_is_never_overrun(room: int, count: int) -> None:
    """Whatever the host allows, the text keeps within it, and says so when something is missing."""
    materials = tuple(Material(f"Thing {number}") for number in range(count))
    text, problems = description(Draft("a", "Piece", 1000, spending=Spending(materials)), room)
    assert len(text) <= room
    whole = all(material.name in text for material in materials) and CLOSING in text
    assert whole is not any(p.code == "description-long" for p in problems)


@pytest.mark.parametrize("part", ["Chapters", "Used in this episode", "Links", "Before you copy this"])
def test_empty_parts_have_no_heading(part: str) -> None:
    """A draft with nothing in it gives its title and the closing line."""
    assert part not in description(Draft("a", "Piece", 0), ROOM)[0]
