"""Asking the archive: where a practice or a product stands, and retracting it everywhere at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import get_args

from reelnotes.archive.index import Archive
from reelnotes.archive.trace import Found, Traced, Wanted, trace
from reelnotes.corrections.recording import history_members, place_members
from reelnotes.corrections.refusals import NothingAsked
from reelnotes.model import Correction, Place, Topic
from reelnotes.pipeline.archive import ask_archive
from reelnotes.pipeline.corrections import days_of
from reelnotes.pipeline.ledger import add_tables, read_ledger
from reelnotes.pipeline.records import chosen
from reelnotes.pipeline.versions import spans_now
from reelnotes.problems import Problem
from reelnotes.project import LEDGER, episodes_of, find_workshop
from reelnotes.records import frozen
from reelnotes.store import alone_in
from reelnotes.timing import Span, typed_span
from reelnotes.words.lexicon import load_lexicon


def wanted_of(*, words: str, product: str, topic: str, kind: str, since: str, until: str) -> Wanted:
    """Read what is looked for. Raises a `Refusal` for nothing, and for what is no topic, work or day."""
    begin, end = days_of(since, until)
    if not any(part.strip() for part in (words, product, topic, kind)):
        raise NothingAsked
    return Wanted(
        words=" ".join(words.split()),
        product=" ".join(product.split()),
        topic=chosen("--topic", topic, get_args(Topic)) if topic.strip() else "",
        kind=chosen("--kind", kind, known_kinds()) if kind.strip() else "",
        since=begin,
        until=end,
    )


def known_kinds() -> tuple[str, ...]:
    """Give the kinds of work that the lexicon knows."""
    fields = load_lexicon().fields.values()
    return tuple(sorted({name.removeprefix("~") for names in fields for name in names}))


@frozen
class Answer:
    """What was found in a workshop, and which corrections speak of the places already, by their index."""

    workshop: Path
    traced: Traced
    corrected: Mapping[int, tuple[str, ...]]
    episodes: int
    problems: tuple[Problem, ...] = ()


def trace_in(folder: Path, wanted: Wanted, progress: Callable[[float], None] | None = None) -> Answer:
    """Find a practice or a product in the whole archive of the workshop that a folder is or lies in."""

    def question(archive: Archive) -> tuple[Traced, int]:
        return trace(archive, wanted), len(archive.episodes())

    (traced, episodes), problems = ask_archive(folder, question, progress)
    workshop = find_workshop(folder)
    ledger = read_ledger(workshop)
    corrected = _spoken_of(workshop, traced.found, ledger.records)
    return Answer(workshop, traced, corrected, episodes, (*problems, *ledger.problems))


def _spoken_of(
    workshop: Path, found: Sequence[Found], records: Sequence[Correction]
) -> dict[int, tuple[str, ...]]:
    """Tell which of some records speak of each place that was found, by its index."""
    slugs = {place.episode for record in records for place in record.places}
    mapped, _ = spans_now({slug: path for slug, path in episodes_of(workshop).items() if slug in slugs})
    told: dict[str, list[tuple[str, Span]]] = {}
    for record in records:
        for place in record.places:
            told.setdefault(place.episode, []).extend((record.id, span) for span in mapped(place))
    by_place = {}
    for number, one in enumerate(found):
        if one.episode in told and (here := one.span):
            ids = [id_ for id_, span in told[one.episode] if span.overlaps(here)]
            if ids:
                by_place[number] = tuple(dict.fromkeys(ids))
    return by_place


@frozen
class Added:
    """Places that were added to a record, or would be: `new` in the order found, `known` there already.

    `unsure` are those of the new ones where another product may be meant.
    """

    record: Correction
    path: Path
    new: tuple[Place, ...]
    known: int
    unsure: tuple[Place, ...] = ()


def add_places(answer: Answer, record: str, *, do_it: bool, today: date | None = None) -> Added:
    """Add the places that were found to a record of the ledger; with `do_it` false only tell which.

    What is in the log alone has no place in the picture and is left out. Raises a `Refusal` for an id that no
    record has.
    """
    if not do_it:
        return _to_add(answer, record)
    with alone_in(answer.workshop / LEDGER):  # another one may have added them since the question was asked
        added = _to_add(answer, record)
        day = today or date.today()  # noqa: DTZ011 - the calendar of the workshop is meant
        tables = [("place", place_members(place)) for place in added.new]
        lines = [
            f"{day} also in {place.episode} at {typed_span(place.span)}, found by trace"
            for place in added.new
        ]
        tables += [("history", history_members(line)) for line in lines]
        add_tables(added.path, tables)
    return added


def _to_add(answer: Answer, record: str) -> Added:
    """Tell which of the places that were found a record does not speak of yet, as the ledger is now."""
    ledger = read_ledger(answer.workshop)
    found = ledger.get(record)
    spoken_of = _spoken_of(answer.workshop, answer.traced.found, [found])
    new: list[Place] = []
    unsure: list[Place] = []
    known = 0
    for number, one in enumerate(answer.traced.found):
        span = one.span
        if span is None or not one.episode or span.length_ms == 0:
            continue
        if number in spoken_of:
            known += 1
            continue
        if any(place.episode == one.episode and place.span.overlaps(span) for place in new):
            continue
        new.append(Place(one.episode, one.version, Span(span.start_ms, span.end_ms)))
        unsure += [] if one.sure else new[-1:]
    return Added(found, ledger.path(found.id), tuple(new), known, tuple(unsure))
