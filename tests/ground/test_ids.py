"""Ids that outlive every redraft."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import Entry, stable_id, step_ids

ENTRIES = tuple(
    Entry(n, text, n + 1, date(2026, 3, 4), time(9, n))
    for n, text in enumerate(["glued", "clamped", "wax on"])
)


def test_an_id_depends_on_the_words_alone() -> None:
    """Case and white space do not count, the borders between words do."""
    assert stable_id("Glued  the lid") == stable_id("glued the\nLID")
    assert stable_id("a", "b") != stable_id("ab")
    assert stable_id("a b") != stable_id("a", "b")
    assert len(stable_id("")) == 8


def test_steps_keep_their_ids() -> None:
    """Neither the line nor the place in the log counts: an entry put before them changes nothing."""
    ids = step_ids(ENTRIES)
    first = Entry(0, "swept", 1, date(2026, 3, 4), time(8))
    moved = (first, *(replace(entry, index=entry.index + 1, line=entry.line + 7) for entry in ENTRIES))
    assert step_ids(moved)[1:] == ids


def test_a_change_of_words_or_time_is_another_step() -> None:
    """What a decision was made about is no longer there then."""
    ids = step_ids(ENTRIES)
    assert step_ids((replace(ENTRIES[0], text="glued again"),))[0] not in ids
    assert step_ids((replace(ENTRIES[0], at=time(10)),))[0] not in ids


@settings(max_examples=100, deadline=None)
@given(st.lists(st.sampled_from(ENTRIES), max_size=8))
def test_twins_are_told_apart(entries: list[Entry]) -> None:
    """Entries with the same time and words get ids of their own, in their order."""
    ids = step_ids(tuple(entries))
    assert len(set(ids)) == len(ids)
    assert step_ids(tuple(entries[:-1])) == ids[:-1] if entries else ids == ()
