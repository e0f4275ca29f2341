"""Texts that carry a correction outside the picture, within what the host allows."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import DEFERS, Correction, Draft, SignalWord, Spending
from reelnotes.settings import HostLimits
from reelnotes.timing import Span
from reelnotes.write.description import description
from reelnotes.write.publishing import (
    Told,
    corrected_description,
    end_note,
    pinned_note,
    told_in_full,
    told_in_short,
)

LIMITS = HostLimits()
SPANS = (Span(552_000, 581_000),)


def record(name: str = "top", signal: SignalWord = "NOTICE", words: int = 6) -> Correction:
    return Correction(
        name,
        "the top glued in all round",
        " ".join(["swells"] * words),
        "screw it on through slots",
        signal,
        sources=("a handbook, p. 4",),
    )


def test_told_in_full_it_has_its_time_and_all_its_words() -> None:
    """Time, what is wrong, what happens, what to do instead, where it can be read."""
    assert told_in_full(record(words=1), (*SPANS, Span(600_000, 601_000))) == (
        "CORRECTION (NOTICE) at 9:12–9:41 and 10:00–10:01. Wrong here: the top glued in all round. Swells. "
        "Instead: screw it on through slots. Source: a handbook, p. 4."
    )


def test_told_in_short_it_leaves_out_the_reason() -> None:
    """What is wrong and what to do instead are never left out."""
    assert told_in_short(record(), SPANS) == (
        "CORRECTION (NOTICE) at 9:12. Wrong here: the top glued in all round. "
        "Instead: screw it on through slots."
    )


def test_a_caution_is_no_correction_and_a_disclosure_its_words_alone() -> None:
    """Each kind in its own form."""
    care = replace(record(signal="WARNING"), kind="caution")
    assert told_in_full(care, SPANS).startswith("WARNING at 9:12–9:41. Careful here: ")
    gift = replace(record(), kind="disclosure", instead="the glue was given to me")
    assert told_in_full(gift, SPANS) == "The glue was given to me."


def test_the_corrections_stand_above_the_description(draft: Draft) -> None:
    """First thing in the text, then the description as it is."""
    text, problems = corrected_description(draft, [(record(), SPANS)], LIMITS)
    plain, _ = description(draft, LIMITS.description_max_chars)
    assert text.startswith("CORRECTION (NOTICE) at 9:12–9:41")
    assert text.endswith(plain)
    assert [problem for problem in problems if problem.code == "description-long"] == []


def test_without_corrections_the_description_is_the_usual_one(draft: Draft) -> None:
    """Nothing is put above it."""
    assert corrected_description(draft, [], LIMITS)[0] == description(draft, 5000)[0]


def test_a_given_product_that_the_description_names_is_not_named_twice(draft: Draft) -> None:
    """The description says it at its top already."""
    given = next(m.name for m in draft.spending.materials if m.given)
    gift = replace(record(), kind="disclosure", shown=given, instead=f"{given} was given to me")
    assert "was given to me" not in corrected_description(draft, [(gift, SPANS)], LIMITS)[0]
    bare = replace(draft, spending=Spending())
    assert "was given to me" in corrected_description(bare, [(gift, SPANS)], LIMITS)[0]


@pytest.mark.parametrize(("signal", "defers"), [("NOTICE", False), ("CAUTION", True)])
def test_where_somebody_can_be_hurt_it_defers_to_codes_and_labels(signal: SignalWord, defers: bool) -> None:
    """Local codes, the label and licensed practice come first."""
    note, _ = pinned_note([(record(signal=signal), SPANS)], LIMITS)
    assert (DEFERS in note) is defers


def test_a_note_pins_retractions_alone() -> None:
    """Cautions and disclosures are no news to those who have seen the video."""
    care = replace(record(), kind="caution")
    assert pinned_note([(care, SPANS)], LIMITS) == ("", [])
    assert end_note([(care, SPANS)]) == ""


def test_an_end_note_can_be_read_out() -> None:
    """Plain sentences without signs."""
    assert end_note([(record(words=1), SPANS)]) == (
        "A correction: at 9:12 you saw this: the top glued in all round. Do not copy it. Swells. "
        "Do this instead: screw it on through slots.\n"
    )


# --- limits ------------------------------------------------------------------------------------------


def length_of(told: list[Told]) -> int:
    return len(pinned_note(told, LIMITS)[0])


def test_a_note_that_just_fits_is_whole_and_one_character_less_shortens_it() -> None:
    """At the limit nothing is lost; below it the reason of the least bad gives way, unreported."""
    told: list[Told] = [(record("a", "WARNING"), SPANS), (record("b"), SPANS)]
    whole = length_of(told)
    text, problems = pinned_note(told, HostLimits(pinned_note_max_chars=whole))
    assert (len(text), text.count("Swells"), problems) == (whole, 2, [])
    text, problems = pinned_note(told, HostLimits(pinned_note_max_chars=whole - 1))
    assert (text.count("Swells"), text.count("Instead"), problems) == (1, 2, [])


def test_what_does_not_fit_even_in_short_is_reported() -> None:
    """The least bad goes first, and the maker is told how many."""
    told: list[Told] = [(record("a", "WARNING"), SPANS), (record("b"), SPANS), (record("c"), SPANS)]
    text, problems = pinned_note(told, HostLimits(pinned_note_max_chars=300))
    assert text.startswith("CORRECTION (WARNING)")
    assert "… and 1 more" in text
    assert [problem.code for problem in problems] == ["description-long"]
    assert "lacks 1 of its corrections" in problems[0].message


told_lists = st.lists(
    st.builds(
        lambda n, signal, words: (record(f"r{n}", signal, words), SPANS),
        st.integers(0, 99),
        st.sampled_from(["DANGER", "WARNING", "CAUTION", "NOTICE"]),
        st.integers(1, 80),
    ),
    max_size=6,
)


@settings(max_examples=60, deadline=None)
@given(told_lists, st.integers(20, 3000))
def test_no_text_is_longer_than_the_host_allows(told: list[Told], limit: int) -> None:
    """Note and description alike, whatever there is to tell."""
    limits = HostLimits(description_max_chars=limit, pinned_note_max_chars=limit)
    assert len(pinned_note(told, limits)[0]) <= limit
    bare = Draft("oak", "The oak stool", 600_000)
    assert len(corrected_description(bare, told, limits)[0]) <= limit
