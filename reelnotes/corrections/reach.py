"""How far a correction has reached: where it was published, and what is still owed to viewers."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date

from reelnotes.model import (
    HARM_ORDER,
    SIGNAL_ORDER,
    Correction,
    Place,
    ReachPlace,
    RecordKind,
)
from reelnotes.records import frozen
from reelnotes.timing import Span

_KIND_ORDER: tuple[RecordKind, ...] = ("correction", "caution", "disclosure")
#: What reaches viewers in the picture, and what else carries a correction, in the order of doing.
PUBLISHED_IN: tuple[ReachPlace, ...] = (
    "in-picture",
    "caption-track",
    "description",
    "pinned-note",
    "roundup",
)


def harm_rank(record: Correction) -> tuple[int, int, int]:
    """Give the rank of a record, the least the worst: its signal word, then the harm, then its kind."""
    topic = HARM_ORDER.index(record.topic) if record.topic else len(HARM_ORDER)
    signal = SIGNAL_ORDER.index(record.signal) if record.kind != "disclosure" else len(SIGNAL_ORDER)
    return signal, topic, _KIND_ORDER.index(record.kind)


def worst_first(records: Iterable[Correction]) -> list[Correction]:
    """Order records by what they could cost a viewer; among equals the older first."""
    return sorted(records, key=lambda r: (harm_rank(r), r.recorded or date.min, r.id))


def reached_on(record: Correction, where: ReachPlace, episode: str) -> date | None:
    """Give the day on which a record was first published in a place for an episode; None if it was not."""
    days = [reach.on for reach in record.reach if reach.where == where and reach.episode == episode]
    return min(days, default=None)


@frozen
class Owed:
    """What is owed for one record in one episode: `spans` are its places as the episode stands now.

    `missing` are the places where it is not yet published, the picture among them; `reached` the others with
    their days.
    """

    record: Correction
    episode: str
    spans: tuple[Span, ...]
    missing: tuple[ReachPlace, ...]
    reached: tuple[tuple[ReachPlace, date], ...]


def owed(records: Sequence[Correction], mapped: Callable[[Place], Sequence[Span]]) -> list[Owed]:
    """List, worst first, every record that has not reached viewers in the picture, episode by episode.

    `mapped` gives where a place stands in the episode's newest version; a record all of whose places were
    taken out of it owes nothing to that picture any more.
    """
    found = []
    for record in worst_first(records):
        for episode in dict.fromkeys(place.episode for place in record.places):
            spans = tuple(
                sorted(s for place in record.places if place.episode == episode for s in mapped(place))
            )
            due = due_places(record)
            days = [(where, reached_on(record, where, episode)) for where in due]
            if not spans or reached_on(record, "in-picture", episode):
                continue
            found.append(
                Owed(
                    record,
                    episode,
                    spans,
                    tuple(where for where, day in days if day is None),
                    tuple((where, day) for where, day in days if day is not None),
                )
            )
    return found


def due_places(record: Correction) -> tuple[ReachPlace, ...]:
    """Say where a record is to be published: a retraction everywhere, others in the video and its text."""
    if record.kind == "correction":
        return PUBLISHED_IN
    return ("in-picture", "caption-track", "description")
