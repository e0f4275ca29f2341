"""The inserts of an episode, planned: which corrections, cautions and disclosures stand where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from reelnotes.corrections.insert import place_inserts, wishes_of
from reelnotes.corrections.reach import worst_first
from reelnotes.corrections.recording import disclosure_record
from reelnotes.model import Correction, Insert, Place
from reelnotes.pipeline.film import Film, check_length
from reelnotes.pipeline.ledger import read_ledger
from reelnotes.pipeline.reading import EpisodeFacts, given_rate, read_episode
from reelnotes.pipeline.records import disclosures_of
from reelnotes.pipeline.versions import spans_now
from reelnotes.problems import Problem
from reelnotes.project import find_workshop
from reelnotes.read.programme_rate import programme_rate
from reelnotes.records import frozen
from reelnotes.settings import UPRIGHT_CHARS, UPRIGHT_LINES, CaptionSettings, parse_size
from reelnotes.store import read_text
from reelnotes.write.publishing import (
    Told,
)


@frozen
class Planned:
    """The inserts of one version of an episode, placed; `told` are their records with their places."""

    facts: EpisodeFacts
    inserts: tuple[Insert, ...]
    told: tuple[Told, ...]
    rate: Fraction | None
    drop: bool
    problems: tuple[Problem, ...] = ()

    @property
    def answers(self) -> dict[str, tuple[str, ...]]:
        """What the records cite of the bench, worked out afresh, by their ids."""
        return {record.id: record.worked_out for record, _ in self.told if record.worked_out}


def plan_inserts(episode: Path, film: Film | None = None) -> Planned:
    """Place the inserts of an episode: its corrections, its cautions, and the disclosures it owes.

    A video tells the frame rate and the length where nothing else does. Raises `OtherVideo` where it is too
    short for the episode.
    """
    facts, _ = read_episode(episode)
    if film:
        check_length(film.source, film.facts.duration_ms, facts)
    folder = facts.folder
    ledger = read_ledger(find_workshop(folder.path), facts.workshop)
    problems = list(ledger.problems)
    mapped, more = spans_now({folder.slug: folder.path}, {folder.slug: folder.version})
    problems += more
    rate, drop = _rate(facts, film)
    records = worst_first([*ledger.records, *_unrecorded_disclosures(facts, ledger.records)])
    wishes = wishes_of(records, folder.slug, mapped)
    if rate is None and wishes:
        message = "the frame rate is not known, so there is no timeline of the panels; "
        message += 'set frame_rate = "25" in episode.toml'
        problems.append(Problem("rate-missing", message, folder.slug, severity="note"))
    duration_ms = max(facts.duration_ms, film.facts.duration_ms if film else 0)
    inserts, more = place_inserts(wishes, _captions(facts, film), rate, duration_ms)
    told = tuple(
        (record, tuple(wish.span for wish in wishes if wish.record is record))
        for record in records
        if any(wish.record is record for wish in wishes)
    )
    return Planned(facts, inserts, told, rate, drop, (*problems, *more))


def _captions(facts: EpisodeFacts, film: Film | None) -> CaptionSettings:
    """Give how captions stand: in an upright picture in more and shorter lines, unless the workshop says how.

    The BBC Subtitle Guidelines' usual lines for an upright picture; see `settings.CaptionSettings`.
    """
    captions, usual = facts.workshop.captions, CaptionSettings()
    picture = facts.settings.picture or facts.workshop.panels.picture
    wide, high = film.facts.shown if film else parse_size(picture)
    if high > wide and (captions.line_chars, captions.lines) == (usual.line_chars, usual.lines):
        return replace(captions, line_chars=UPRIGHT_CHARS, lines=UPRIGHT_LINES)
    return captions


def _rate(facts: EpisodeFacts, film: Film | None) -> tuple[Fraction | None, bool]:
    cuts = facts.folder.cuts
    source = read_text(cuts, facts.folder.shown(cuts))[0] if cuts else None
    return programme_rate(source, given_rate(facts.settings) or (film.facts.rate if film else None))


def _unrecorded_disclosures(facts: EpisodeFacts, records: Sequence[Correction]) -> list[Correction]:
    """Make records of the disclosures that are owed and stand in no record of the ledger."""
    folder = facts.folder
    kept = {
        record.shown.casefold()
        for record in records
        if record.kind == "disclosure" and any(place.episode == folder.slug for place in record.places)
    }
    return [
        replace(
            disclosure_record(one.product, one.given),
            places=(Place(folder.slug, folder.version, one.span),),
            sources=(one.source,),
        )
        for one in disclosures_of(facts)
        if one.product.casefold() not in kept
    ]
