"""The second path, first half: the ledger, what is owed to viewers, and what the next piece is asked.

record → owe → learn        beside it: pipeline.inserts (the inserts), pipeline.recut (the versions)
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from reelnotes.corrections.ledger import REACH_PLACES
from reelnotes.corrections.reach import Owed, owed
from reelnotes.corrections.recording import (
    history_members,
    is_id,
    made_id,
    place_members,
    reach_members,
    record_text,
)
from reelnotes.corrections.refusals import (
    BadDay,
    BadId,
    DaysTurned,
    IdTaken,
    RecordDamaged,
    SpanOutside,
    TooMuchSaid,
    UnknownEpisode,
    WordsMissing,
    WordsTaken,
)
from reelnotes.model import Correction, Reach
from reelnotes.pipeline.evidence import with_evidence
from reelnotes.pipeline.ledger import Ledger, add_tables, read_ledger
from reelnotes.pipeline.reading import EpisodeFacts, read_episode, read_workshop
from reelnotes.pipeline.records import Asked, chosen, places_of, tidied, topic_of, wanted_record
from reelnotes.pipeline.versions import spans_now
from reelnotes.problems import Problem
from reelnotes.project import LEDGER, episodes_of, find_workshop
from reelnotes.records import frozen
from reelnotes.store import alone_in, write_file
from reelnotes.timing import typed_span

if TYPE_CHECKING:
    from reelnotes.corrections.lessons import Lesson


# --- recording -------------------------------------------------------------------------------------


@frozen
class Recorded:
    """A record with its file, and what was found on the way; `found_topic` if the topic was worked out."""

    path: Path
    record: Correction
    problems: tuple[Problem, ...] = ()
    found_topic: bool = False


def record_correction(episode: Path, asked: Asked, today: date | None = None) -> Recorded:
    """Put a new record into the ledger, or a further place into one that is there. Raises a `Refusal`."""
    asked = tidied(asked)
    facts, _ = read_episode(episode)
    workshop = find_workshop(episode)
    day = today or date.today()  # noqa: DTZ011 - the calendar of the workshop is meant
    problems = _check_spans(asked, facts)
    if asked.again:
        return replace(_record_again(workshop, asked, facts, day), problems=tuple(problems))
    wanted = wanted_record(asked, facts, day)
    topic = wanted.topic or topic_of(wanted, facts)
    wanted, _ = with_evidence(wanted, facts.workshop, workshop)
    with alone_in(workshop / LEDGER):
        ledger = read_ledger(workshop)
        record = replace(wanted, id=free_id(asked, wanted, ledger), topic=topic)
        write_file(ledger.path(record.id), record_text(record))
    return Recorded(ledger.path(record.id), record, tuple(problems), topic is not wanted.topic)


def _check_spans(asked: Asked, facts: EpisodeFacts) -> list[Problem]:
    if not asked.spans:
        return []
    if not facts.duration_ms:
        message = "neither transcript nor cut list tells how long the programme is; the span was not checked"
        return [Problem("ledger", message, facts.folder.slug, severity="note")]
    for span in asked.spans:
        if span.end_ms > facts.duration_ms:
            raise SpanOutside(span, facts.duration_ms)
    return []


def free_id(asked: Asked, wanted: Correction, ledger: Ledger) -> str:
    """Give an id that no record has. Raises `BadId`, `IdTaken`, `WordsTaken`."""
    names = [path.stem for path in (ledger.workshop / LEDGER).glob("*.toml")]
    if asked.record:
        if not is_id(asked.record):
            raise BadId(asked.record)
        for name in names:
            if name.casefold() == asked.record.casefold():
                raise IdTaken(name, ledger.path(name))
        return asked.record
    words = (wanted.kind, wanted.shown, wanted.wrong, wanted.instead)
    for record in ledger.records:
        if (record.kind, record.shown, record.wrong, record.instead) == words:
            raise WordsTaken(record.id, ledger.path(record.id))
    return made_id(f"given {wanted.shown}" if wanted.kind == "disclosure" else wanted.shown, names)


def _record_again(workshop: Path, asked: Asked, facts: EpisodeFacts, day: date) -> Recorded:
    said = {"--shown": asked.shown, "--wrong": asked.wrong, "--instead": asked.instead}
    said |= {"--signal": asked.signal, "--topic": asked.topic, "--id": asked.record}
    if others := [option for option, words in said.items() if words]:
        raise TooMuchSaid("--again", others, "it adds a place to a record; its words are changed in the file")
    if not asked.spans:
        raise WordsMissing("--span", "where it is seen, such as 9:12-9:41")
    with alone_in(workshop / LEDGER):
        ledger = read_ledger(workshop)
        record = ledger.get(asked.again)
        known = {(place.episode, place.version, place.span) for place in record.places}
        new = [p for p in places_of(asked.spans, facts) if (p.episode, p.version, p.span) not in known]
        tables = [("place", place_members(place)) for place in new]
        history = [f"{day} also in {place.episode} at {typed_span(place.span)}" for place in new]
        tables += [("history", history_members(line)) for line in history]
        add_tables(ledger.path(record.id), tables)
    record = replace(record, places=(*record.places, *new), history=(*record.history, *history))
    return Recorded(ledger.path(record.id), record)


# --- what is owed ------------------------------------------------------------------------------------


@frozen
class Owing:
    """What a workshop owes to viewers, worst first; `folders` are its episodes by name."""

    workshop: Path
    folders: Mapping[str, Path]
    owed: tuple[Owed, ...] = ()
    problems: tuple[Problem, ...] = ()


def owed_in(folder: Path) -> Owing:
    """List what has not reached viewers, worst first, for the workshop that a folder is or lies in."""
    workshop = find_workshop(folder)
    ledger = read_ledger(workshop)
    problems = list(ledger.problems)
    known = episodes_of(workshop)
    for record in ledger.records:
        for slug in dict.fromkeys(place.episode for place in record.places):
            if slug not in known:
                message = f"names the episode {slug}, which is not in this workshop"
                problems.append(Problem("ledger", message, f"{LEDGER}/{record.id}.toml"))
    mapped, more = spans_now(known)
    return Owing(workshop, known, tuple(owed(ledger.records, mapped)), (*problems, *more))


@frozen
class Marked:
    """A record that was marked as published: in which place, for which episodes, on which day."""

    record: Correction
    path: Path
    where: str
    new: tuple[Reach, ...]
    already: tuple[Reach, ...]


def mark_published(
    folder: Path,
    record: str,
    where: str,
    *,
    episodes: Sequence[str] = (),
    on: str = "",
    address: str = "",
    today: date | None = None,
) -> Marked:
    """Record that a correction has been published in a place; `on` is a day such as 2026-03-28, else today.

    `address` is where to look at it; the history keeps it. Without `episodes` it counts for all that the
    record speaks of. What is marked already stays as it is.
    """
    if not record:
        raise WordsMissing("--done", "the id of the record that was published")
    if not where:
        raise WordsMissing("--where", f"one of {', '.join(REACH_PLACES)}")
    day = day_of(on) if on else today or date.today()  # noqa: DTZ011 - the calendar of the workshop is meant
    place = chosen("--where", where, REACH_PLACES)
    workshop = find_workshop(folder)
    with alone_in(workshop / LEDGER):
        ledger = read_ledger(workshop)
        found = ledger.get(record)
        known = list(dict.fromkeys(p.episode for p in found.places))
        if not known:
            raise RecordDamaged(ledger.path(found.id), "names no [[place]], so it belongs to no episode")
        for slug in episodes:
            if slug not in known:
                raise UnknownEpisode(slug, known, f"the record {found.id}")
        asked = [Reach(place, slug, day) for slug in episodes or known]
        already = tuple(
            r for r in found.reach if r.where == place and r.episode in {one.episode for one in asked}
        )
        new = tuple(one for one in asked if one.episode not in {r.episode for r in already})
        tables = [("reach", reach_members(one)) for one in new]
        at = f", at {address}" if address else ""
        lines = [f"{day} published: {place}, {one.episode}{at}" for one in new]
        tables += [("history", history_members(line)) for line in lines]
        add_tables(ledger.path(found.id), tables)
    return Marked(found, ledger.path(found.id), place, new, already)


def days_of(since: str, until: str) -> tuple[date | None, date | None]:
    """Read the two ends of a stretch of days, each may be empty. Raises `BadDay`, `DaysTurned`."""
    begin, end = (day_of(text) if text.strip() else None for text in (since, until))
    if begin and end and end < begin:
        raise DaysTurned(begin, end)
    return begin, end


def day_of(text: str) -> date:
    """Read a day such as 2026-03-28. Raises `BadDay`."""
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise BadDay(text) from None


# --- lessons -----------------------------------------------------------------------------------------


def lessons_in(
    folder: Path, steps: Sequence[str], episode: str = ""
) -> tuple[list[Lesson], list[str], list[Problem]]:
    """Give what earlier corrections ask of planned steps, or of an episode's log as far as it has grown.

    Gives the lessons, the steps they were matched to (none: all lessons), and what was wrong.
    """
    from reelnotes.corrections.lessons import lessons_for
    from reelnotes.words.lexicon import load_lexicon

    workshop = find_workshop(folder)
    ledger = read_ledger(workshop)
    problems = list(ledger.problems)
    wanted = [step for step in (" ".join(step.split()) for step in steps) if step]
    if episode:
        known = episodes_of(workshop)
        if episode not in known:
            raise UnknownEpisode(episode, known, str(workshop))
        facts, more = read_episode(known[episode])
        wanted += [entry.text for entry in facts.entries]
        problems, words = problems + more, facts.workshop.words
        others = [r for r in ledger.records if any(p.episode != episode for p in r.places) or not r.places]
        return lessons_for(others, wanted, load_lexicon(words)), wanted, problems
    words = read_workshop(workshop)[0].words
    return lessons_for(ledger.records, wanted, load_lexicon(words)), wanted, problems
