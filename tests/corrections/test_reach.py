"""How far a correction has reached, and what is owed."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelnotes.corrections.reach import due_places, harm_rank, owed, reached_on, worst_first
from reelnotes.model import (
    HARM_ORDER,
    SIGNAL_ORDER,
    Correction,
    Place,
    Reach,
    ReachPlace,
    RecordKind,
    SignalWord,
    Topic,
)
from reelnotes.timing import Span

SPAN = Span(60_000, 70_000)


def record(
    name: str,
    signal: SignalWord = "NOTICE",
    topic: Topic | None = None,
    *,
    places: tuple[str, ...] = ("oak",),
    reach: tuple[tuple[ReachPlace, str], ...] = (),
    kind: RecordKind = "correction",
    recorded: date | None = None,
) -> Correction:
    return Correction(
        name, "s", "w", "i", signal, topic,
        places=tuple(Place(episode, 1, SPAN) for episode in places),
        reach=tuple(Reach(where, episode, date(2026, 3, 28)) for where, episode in reach),
        kind=kind, recorded=recorded,
    )  # fmt: skip


def where_it_was(place: Place) -> tuple[Span, ...]:
    return (place.span,)


def test_the_worst_come_first() -> None:
    """By signal word, then by harm, then corrections before cautions, then the older one."""
    records = [
        record("gift", "DANGER", kind="disclosure"),
        record("new", "WARNING", "dust", recorded=date(2026, 5, 1)),
        record("old", "WARNING", "dust", recorded=date(2026, 1, 1)),
        record("care", "WARNING", "dust", kind="caution"),
        record("mains", "WARNING", "mains"),
        record("split", "NOTICE", "wood-movement"),
        record("plain", "NOTICE"),
        record("worst", "DANGER"),
    ]
    order = ["worst", "mains", "old", "new", "care", "split", "plain", "gift"]
    assert [one.id for one in worst_first(reversed(records))] == order


@given(st.sampled_from(SIGNAL_ORDER), st.sampled_from(SIGNAL_ORDER), st.sampled_from(HARM_ORDER))
def test_no_topic_outweighs_a_signal_word(one: SignalWord, other: SignalWord, topic: Topic) -> None:
    """A worse word is a worse record, whatever the topics."""
    worse = SIGNAL_ORDER.index(one) < SIGNAL_ORDER.index(other)
    assert not worse or harm_rank(record("a", one)) < harm_rank(record("b", other, topic))


def test_what_reached_the_picture_is_not_owed() -> None:
    """In the picture of that episode, and in nothing less."""
    done = record("done", reach=(("in-picture", "oak"),))
    elsewhere = record("elsewhere", reach=(("in-picture", "elm"),))
    described = record("described", reach=(("description", "oak"), ("pinned-note", "oak")))
    found = owed([done, elsewhere, described], where_it_was)
    assert [one.record.id for one in found] == ["described", "elsewhere"]
    assert found[0].missing == ("in-picture", "caption-track", "roundup")
    assert [where for where, _ in found[0].reached] == ["description", "pinned-note"]


def test_every_episode_owes_for_itself() -> None:
    """A mistake in two episodes that reached one is owed in the other."""
    both = record("both", places=("oak", "elm"), reach=(("in-picture", "oak"),))
    assert [one.episode for one in owed([both], where_it_was)] == ["elm"]


def test_what_was_taken_out_is_not_owed() -> None:
    """A place that the newest version does not have needs no insert."""
    assert owed([record("top")], lambda _: ()) == []


def test_spans_are_those_of_the_newest_version() -> None:
    """What is owed says where it stands now."""
    (one,) = owed([record("top")], lambda _: (Span(1, 2),))
    assert one.spans == (Span(1, 2),)


@pytest.mark.parametrize(
    ("kind", "pinned"), [("correction", True), ("caution", False), ("disclosure", False)]
)
def test_only_a_retraction_is_pinned_and_told_in_a_roundup(kind: RecordKind, pinned: bool) -> None:
    """Cautions and disclosures belong to the video and its text."""
    due = due_places(record("top", kind=kind))
    assert due[0] == "in-picture"
    assert ("pinned-note" in due) is pinned
    assert ("roundup" in due) is pinned


def test_the_first_day_counts() -> None:
    """Published twice, reached on the first day."""
    twice = Correction(
        "a", "s", "w", "i", "NOTICE",
        reach=(Reach("roundup", "oak", date(2026, 5, 1)), Reach("roundup", "oak", date(2026, 4, 1))),
    )  # fmt: skip
    assert reached_on(twice, "roundup", "oak") == date(2026, 4, 1)
    assert reached_on(twice, "in-picture", "oak") is None
