"""The second path, first half: the ledger, what is owed to viewers, and what the next piece is asked.

ledger → retime → insert → write        corrections
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar, get_args

from reelnotes.corrections.ledger import REACH_PLACES
from reelnotes.corrections.reach import Owed, owed
from reelnotes.corrections.recording import (
    disclosure_record,
    history_members,
    is_id,
    made_id,
    place_members,
    reach_members,
    record_text,
)
from reelnotes.corrections.refusals import (
    BadChoice,
    BadDay,
    BadId,
    IdTaken,
    NothingGiven,
    RecordDamaged,
    SpanOutside,
    TooMuchSaid,
    UnknownEpisode,
    UnknownFlag,
    UnplacedFlag,
    WordsMissing,
    WordsTaken,
)
from reelnotes.model import SIGNAL_ORDER, Correction, Entry, Flag, Place, Reach, Topic
from reelnotes.pipeline import EpisodeFacts, draft_episode, read_episode
from reelnotes.pipeline_ledger import Ledger, add_tables, read_ledger, spans_now
from reelnotes.problems import Problem
from reelnotes.project import LEDGER, episodes_of, find_workshop
from reelnotes.store import alone_in, read_text, write_file
from reelnotes.timing import Span, typed_span

if TYPE_CHECKING:
    from reelnotes.corrections.lessons import Lesson
    from reelnotes.draft.disclosures import Disclosure

_TOPICS: tuple[Topic, ...] = get_args(Topic)
C = TypeVar("C", bound=str)


# --- recording -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a new record shall say, as it was asked for; empty where nothing was said.

    `again` names a record that gets a further place; `caution` a flag that becomes a caution; `disclose` a
    given product. Spans are in the time of the version that the episode's folder names, usually the newest.
    """

    spans: tuple[Span, ...] = ()
    shown: str = ""
    wrong: str = ""
    instead: str = ""
    signal: str = ""
    topic: str = ""
    record: str = ""
    evidence: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    again: str = ""
    caution: str = ""
    disclose: str = ""


@dataclass(frozen=True, slots=True)
class Recorded:
    """A record with its file, and what was found on the way; `found_topic` if the topic was worked out."""

    path: Path
    record: Correction
    problems: tuple[Problem, ...] = ()
    found_topic: bool = False


def record_correction(episode: Path, asked: Asked, today: date | None = None) -> Recorded:
    """Put a new record into the ledger, or a further place into one that is there. Raises a `Refusal`."""
    asked = _tidied(asked)
    facts, _ = read_episode(episode)
    workshop = find_workshop(episode)
    day = today or date.today()  # noqa: DTZ011 - the calendar of the workshop is meant
    problems = _check_spans(asked, facts)
    if asked.again:
        return replace(_record_again(workshop, asked, facts, day), problems=tuple(problems))
    wanted = _wanted(asked, facts, day)
    topic = wanted.topic or _topic_of(wanted, facts)
    with alone_in(workshop / LEDGER):
        ledger = read_ledger(workshop)
        record = replace(wanted, id=_free_id(asked, wanted, ledger), topic=topic)
        write_file(ledger.path(record.id), record_text(record))
    return Recorded(ledger.path(record.id), record, tuple(problems), topic is not wanted.topic)


def _tidied(asked: Asked) -> Asked:
    """Put every text on one line, and take out what UTF-8 cannot hold."""

    def plain(text: str) -> str:
        return " ".join(text.encode("utf-8", "replace").decode().split())

    return replace(
        asked,
        shown=plain(asked.shown),
        wrong=plain(asked.wrong),
        instead=plain(asked.instead),
        evidence=tuple(filter(None, map(plain, asked.evidence))),
        sources=tuple(filter(None, map(plain, asked.sources))),
    )


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


def _free_id(asked: Asked, wanted: Correction, ledger: Ledger) -> str:
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
        new = [p for p in _places(asked.spans, facts) if (p.episode, p.version, p.span) not in known]
        tables = [("place", place_members(place)) for place in new]
        history = [f"{day} also in {place.episode} at {typed_span(place.span)}" for place in new]
        tables += [("history", history_members(line)) for line in history]
        add_tables(ledger.path(record.id), tables)
    record = replace(record, places=(*record.places, *new), history=(*record.history, *history))
    return Recorded(ledger.path(record.id), record)


# --- what a record says ----------------------------------------------------------------------------


def _wanted(asked: Asked, facts: EpisodeFacts, day: date) -> Correction:
    """Make the record that was asked for, its id apart. Raises a `Refusal` where words are missing."""
    if asked.caution and asked.disclose:
        raise TooMuchSaid("--caution", ["--disclose"], "a record is one or the other")
    if asked.caution:
        return _caution(asked, facts, day)
    if asked.disclose:
        return _disclosure(asked, facts, day)
    needed = (
        ("--span", asked.spans, "where it is seen, such as 9:12-9:41"),
        ("--shown", asked.shown, "what was shown"),
        ("--wrong", asked.wrong, "why it is wrong, or what happens"),
        ("--instead", asked.instead, "what to do instead"),
        ("--signal", asked.signal, "danger, warning, caution (somebody can be hurt) or notice"),
    )
    for option, given, wanted in needed:
        if not given:
            raise WordsMissing(option, wanted)
    return Correction(
        id="",
        shown=asked.shown,
        wrong=asked.wrong,
        instead=asked.instead,
        signal=_chosen("--signal", asked.signal, SIGNAL_ORDER),
        topic=_chosen("--topic", asked.topic, _TOPICS) if asked.topic else None,
        places=_places(asked.spans, facts),
        evidence=_evidence(asked.evidence),
        sources=asked.sources,
        history=(f"{day} recorded",),
        recorded=day,
    )


def _chosen(option: str, given: str, known: tuple[C, ...]) -> C:
    for word in known:
        if word.casefold() == given.strip().casefold():
            return word
    raise BadChoice(option, given, [word.lower() for word in known])


def _places(spans: Iterable[Span], facts: EpisodeFacts) -> tuple[Place, ...]:
    folder = facts.folder
    return tuple(Place(folder.slug, folder.version, span) for span in dict.fromkeys(spans))


def _evidence(lines: Iterable[str]) -> tuple[str, ...]:
    """Take evidence as it is; a line that cites a bench computation must be one. Raises a `Refusal`."""
    kept = tuple(lines)
    for line in kept:
        if line.startswith("bench:"):
            from reelnotes.bench.evidence import worked_out

            worked_out(line)
    return kept


def _topic_of(record: Correction, facts: EpisodeFacts) -> Topic | None:
    """Read the words of a record for risk: the topic of what is surely seen in them, None if nothing is."""
    if record.kind == "disclosure":
        return None
    from reelnotes.risk.reading import read_risks
    from reelnotes.words.lexicon import load_lexicon

    entry = Entry(0, f"{record.shown}, {record.wrong}", 1)
    flags, _ = read_risks([entry], [], [], facts.shelf, load_lexicon(facts.workshop.words))
    fitting = [flag for flag in flags if flag.tier == "firm" and flag.signal == record.signal]
    return next((flag.topic for flag in fitting if flag.topic != "disclosure"), None)


def _caution(asked: Asked, facts: EpisodeFacts, day: date) -> Correction:
    """Make a caution of a flag: its reason, what could happen, and the usual caution."""
    from reelnotes.risk.flags import COMMON_PRACTICE, DEFERS
    from reelnotes.risk.rules import own_rules

    draft, _ = draft_episode(facts.folder.named)
    flags = [*draft.flags, *(flag for flag, _ in draft.dismissed)]
    flag = next((flag for flag in flags if flag.id == asked.caution), None)
    if flag is None:
        raise UnknownFlag(asked.caution, facts.folder.slug)
    if flag.topic == "disclosure":
        return _disclosure(asked, facts, day)
    spans = asked.spans or _flag_spans(flag)
    if not spans:
        raise UnplacedFlag(flag.id)
    usual = flag.caution.replace(COMMON_PRACTICE, "").replace(DEFERS, "")
    return Correction(
        id="",
        shown=asked.shown or flag.why,
        wrong=asked.wrong or own_rules().topics[flag.topic].signal_reason,
        instead=asked.instead or " ".join(usual.split()),
        signal=_chosen("--signal", asked.signal or flag.signal, SIGNAL_ORDER),
        topic=_chosen("--topic", asked.topic, _TOPICS) if asked.topic else flag.topic,
        places=_places(spans, facts),
        evidence=(*_evidence(asked.evidence), f"said or logged: “{flag.quote}”"),
        sources=asked.sources or ((flag.source,) if flag.source else ()),
        history=(f"{day} recorded",),
        kind="caution",
        flag=flag.id,
        recorded=day,
    )


def _flag_spans(flag: Flag) -> tuple[Span, ...]:
    if flag.start_ms is None or flag.end_ms is None:
        return ()
    first = Span(flag.start_ms, max(flag.end_ms, flag.start_ms + 1))
    outer = [place for place in flag.places if not place.overlaps(first)]
    return (first, *outer)


def _disclosure(asked: Asked, facts: EpisodeFacts, day: date) -> Correction:
    """Make the disclosure of a product that was given to the workshop and is named in the episode."""
    owing = disclosures_of(facts)
    wanted = asked.disclose.strip().casefold()
    found = next((o for o in owing if wanted == o.product.casefold() or asked.caution == flag_id(o)), None)
    if found is None:
        raise NothingGiven(asked.disclose, [one.product for one in owing])
    record = disclosure_record(found.product, found.given)
    spans = asked.spans or (Span(found.span.start_ms, max(found.span.end_ms, found.span.start_ms + 1)),)
    return replace(
        record,
        instead=asked.instead or record.instead,
        places=_places(spans, facts),
        evidence=asked.evidence,
        sources=asked.sources or (found.source,),
        history=(f"{day} recorded",),
        flag=flag_id(found),
        recorded=day,
    )


def flag_id(owing: Disclosure) -> str:
    """Give the id of the flag that a draft raises for a disclosure that is owed."""
    from reelnotes.draft.disclosures import disclosure_flags

    return disclosure_flags([owing])[0].id


def disclosures_of(facts: EpisodeFacts) -> tuple[Disclosure, ...]:
    """Give the disclosures that an episode owes for products given to the workshop."""
    if not any(item.given.strip() for item in facts.shelf):
        return ()
    from reelnotes.draft.disclosures import find_disclosures
    from reelnotes.words.lexicon import load_lexicon

    return find_disclosures(facts.cues, facts.shelf, load_lexicon(facts.workshop.words))


# --- what is owed ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
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


@dataclass(frozen=True, slots=True)
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
    today: date | None = None,
) -> Marked:
    """Record that a correction has been published in a place; `on` is a day such as 2026-03-28, else today.

    Without `episodes` it counts for all that the record speaks of. What is marked already stays as it is.
    """
    if not record:
        raise WordsMissing("--done", "the id of the record that was published")
    if not where:
        raise WordsMissing("--where", f"one of {', '.join(REACH_PLACES)}")
    day = _day(on) if on else today or date.today()  # noqa: DTZ011 - the calendar of the workshop is meant
    place = _chosen("--where", where, REACH_PLACES)
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
        tables += [("history", history_members(f"{day} published: {place}, {one.episode}")) for one in new]
        add_tables(ledger.path(found.id), tables)
    return Marked(found, ledger.path(found.id), place, new, already)


def _day(text: str) -> date:
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
    from reelnotes.settings import WorkshopSettings, read_settings
    from reelnotes.words.lexicon import load_lexicon

    workshop = find_workshop(folder)
    ledger = read_ledger(workshop)
    problems = list(ledger.problems)
    wanted = [step for step in (" ".join(step.split()) for step in steps) if step]
    words = WorkshopSettings().words
    if episode:
        known = episodes_of(workshop)
        if episode not in known:
            raise UnknownEpisode(episode, known, str(workshop))
        facts, more = read_episode(known[episode])
        wanted += [entry.text for entry in facts.entries]
        problems, words = problems + more, facts.workshop.words
        others = [r for r in ledger.records if any(p.episode != episode for p in r.places) or not r.places]
        return lessons_for(others, wanted, load_lexicon(words)), wanted, problems
    if (workshop / "workshop.toml").is_file():
        source, _ = read_text(workshop / "workshop.toml")
        words = read_settings(WorkshopSettings, source.text, source.name)[0].words
    return lessons_for(ledger.records, wanted, load_lexicon(words)), wanted, problems
