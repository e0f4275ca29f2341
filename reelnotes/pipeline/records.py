"""What a new record says: the maker's words, or those of a flag or of a product that was given."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, TypeVar, get_args

from reelnotes.corrections.recording import disclosure_record
from reelnotes.corrections.refusals import (
    BadChoice,
    NothingGiven,
    TooMuchSaid,
    UnknownFlag,
    UnplacedFlag,
    WordsMissing,
)
from reelnotes.model import SIGNAL_ORDER, Correction, Entry, Flag, Place, Topic
from reelnotes.pipeline.episode import draft_episode
from reelnotes.pipeline.evidence import CITES, lent_measures
from reelnotes.pipeline.reading import EpisodeFacts
from reelnotes.project import find_workshop
from reelnotes.timing import Span
from reelnotes.write.wording import bare_caution

if TYPE_CHECKING:
    from reelnotes.draft.disclosures import Disclosure

_TOPICS: tuple[Topic, ...] = get_args(Topic)
C = TypeVar("C", bound=str)


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


def tidied(asked: Asked) -> Asked:
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


def wanted_record(asked: Asked, facts: EpisodeFacts, day: date) -> Correction:
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
        signal=chosen("--signal", asked.signal, SIGNAL_ORDER),
        topic=chosen("--topic", asked.topic, _TOPICS) if asked.topic else None,
        places=places_of(asked.spans, facts),
        evidence=_evidence(asked.evidence, facts),
        sources=asked.sources,
        history=(f"{day} recorded",),
        recorded=day,
    )


def chosen(option: str, given: str, known: tuple[C, ...]) -> C:
    """Give the word that was meant, whatever its case. Raises `BadChoice` for one that is none of them."""
    for word in known:
        if word.casefold() == given.strip().casefold():
            return word
    raise BadChoice(option, given, [word.lower() for word in known])


def places_of(spans: Iterable[Span], facts: EpisodeFacts) -> tuple[Place, ...]:
    """Give spans of an episode as places in the version that is meant, each once."""
    folder = facts.folder
    return tuple(Place(folder.slug, folder.version, span) for span in dict.fromkeys(spans))


def _evidence(lines: Iterable[str], facts: EpisodeFacts) -> tuple[str, ...]:
    """Take evidence as it is; a line that cites the bench gets its answer of today. Raises a `Refusal`."""
    kept = []
    for line in lines:
        if line.startswith(CITES):
            from reelnotes.bench.evidence import recorded, worked_out

            lent = lent_measures(line, facts.workshop, find_workshop(facts.folder.path))
            finding, _ = worked_out(line, lent)
            kept.append(recorded(finding))
        else:
            kept.append(line)
    return tuple(kept)


def topic_of(record: Correction, facts: EpisodeFacts) -> Topic | None:
    """Read the words of a record for risk: the topic of what is surely seen in them, None if nothing is.

    What the rules take more seriously than the record does is not what the record is about.
    """
    if record.kind == "disclosure":
        return None
    from reelnotes.risk.reading import read_risks
    from reelnotes.words.lexicon import load_lexicon

    entry = Entry(0, f"{record.shown}, {record.wrong}", 1)
    flags, _ = read_risks([entry], [], [], facts.shelf, load_lexicon(facts.workshop.words))
    most = SIGNAL_ORDER.index(record.signal) if record.signal else len(SIGNAL_ORDER)
    fitting = [f for f in flags if f.tier == "firm" and SIGNAL_ORDER.index(f.signal) >= most]
    nearest = sorted(fitting, key=lambda flag: SIGNAL_ORDER.index(flag.signal))
    return next((flag.topic for flag in nearest if flag.topic != "disclosure"), None)


def _caution(asked: Asked, facts: EpisodeFacts, day: date) -> Correction:
    """Make a caution of a flag: its reason, what could happen, and the usual caution."""
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
    usual = bare_caution(flag.caution)
    return Correction(
        id="",
        shown=asked.shown or flag.why,
        wrong=asked.wrong or own_rules().topics[flag.topic].signal_reason,
        instead=asked.instead or " ".join(usual.split()),
        signal=chosen("--signal", asked.signal or flag.signal, SIGNAL_ORDER),
        topic=chosen("--topic", asked.topic, _TOPICS) if asked.topic else flag.topic,
        places=places_of(spans, facts),
        evidence=(*_evidence(asked.evidence, facts), f"said or logged: “{flag.quote}”"),
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
        places=places_of(spans, facts),
        evidence=_evidence(asked.evidence, facts),
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
