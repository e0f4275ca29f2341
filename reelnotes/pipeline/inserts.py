"""The second path, second half: the inserts of an episode, and every text that carries its corrections."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from reelnotes.corrections.insert import place_inserts, wishes_of
from reelnotes.corrections.reach import worst_first
from reelnotes.corrections.recording import disclosure_record
from reelnotes.corrections.refusals import BurnUnclear
from reelnotes.model import Correction, Draft, Insert, Place
from reelnotes.picture.refusals import NothingToBurn
from reelnotes.pipeline.episode import EpisodeFacts, draft_episode, given_rate, read_episode
from reelnotes.pipeline.ledger import read_ledger, spans_now
from reelnotes.pipeline.panels import (
    Film,
    Panels,
    Report,
    Tell,
    burn_panels,
    check_length,
    film_to_burn,
    panel_files,
    set_panels,
    stale_files,
)
from reelnotes.pipeline.records import disclosures_of
from reelnotes.problems import Problem
from reelnotes.project import find_workshop
from reelnotes.read.captions import form_of
from reelnotes.read.cue_words import plain_words
from reelnotes.read.programme_rate import programme_rate
from reelnotes.records import frozen
from reelnotes.settings import UPRIGHT_CHARS, UPRIGHT_LINES, CaptionSettings, parse_size
from reelnotes.store import read_text, remove_files, write_folder
from reelnotes.write.caption_file import caption_file
from reelnotes.write.chapters import placed_chapters
from reelnotes.write.insert_texts import inserts_json, inserts_text
from reelnotes.write.insert_tracks import TRACKS, insert_tracks
from reelnotes.write.publishing import (
    DESCRIPTION_TEXT,
    END_NOTE,
    PINNED_NOTE,
    Told,
    corrected_description,
    end_note,
    pinned_note,
)

if TYPE_CHECKING:
    from reelnotes.picture.film import Done

#: The folder inside an episode's `out` for all that its corrections make.
INSERTS = "inserts"


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


@frozen
class Made:
    """All that was made of an episode's inserts: the files, and what was burned into which video."""

    planned: Planned
    paths: tuple[Path, ...]
    done: Done | None = None


def make_inserts(
    episode: Path,
    out: Path | None = None,
    *,
    source: Path | None = None,
    target: Path | None = None,
    with_chapters: bool = False,
    report: Report | None = None,
    tell: Tell | None = None,
) -> Made:
    """Make the inserts of an episode in every form, and burn them into a video if one is given.

    `with_chapters` writes the draft's chapters into that video, if it has none of its own.

    `report` is told the share of burning in that is done, `tell` beforehand what it takes. Raises a
    `Refusal`.
    """
    if (source is None) != (target is None):
        raise BurnUnclear
    film = film_to_burn(source, target) if source and target else None
    planned = plan_inserts(episode, film)
    panels, problems = set_panels(planned, film)
    planned = replace(planned, problems=(*planned.problems, *problems))
    if film and panels is None:
        raise NothingToBurn(film.source)
    planned, paths = write_inserts(planned, out, panels, film)
    if film is None:
        return Made(planned, tuple(paths))
    chapters = drafted_chapters(draft_episode(planned.facts.folder.named)[0]) if with_chapters else []
    done = burn_panels(panels, film, report, tell, chapters=chapters)
    if with_chapters:
        lacking = unwritten_chapters(done, film.target)
        planned = replace(planned, problems=(*planned.problems, *lacking))
    return Made(planned, (*paths, film.target), done)


def drafted_chapters(draft: Draft) -> list[tuple[int, int, str]]:
    """Give the chapters of a draft as a video takes them: start and end in milliseconds, title."""
    return [(chapter.start_ms, chapter.end_ms, chapter.title) for chapter in placed_chapters(draft)[0]]


def unwritten_chapters(done: Done, target: Path) -> list[Problem]:
    """Tell where chapters were asked for and none were written."""
    if done.chapters:
        return []
    message = "no chapters were written in: the video has its own, or the draft has none"
    return [Problem("video-chapters", message, target.name, severity="note")]


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


def write_inserts(
    planned: Planned, out: Path | None = None, panels: Panels | None = None, film: Film | None = None
) -> tuple[Planned, list[Path]]:
    """Write the inserts in every form, and the texts to publish; give the plan with all that was found.

    The usual place is `inserts` in the episode's `out` folder. The paths written come second.
    """
    folder = out or planned.facts.folder.out / INSERTS
    facts = planned.facts
    draft, _ = draft_episode(facts.folder.named)
    texts, problems = publishing_texts(draft, planned)
    drawn, more = panel_files(planned, panels, folder, film) if panels else ({}, [])
    planned = replace(planned, problems=(*planned.problems, *problems, *more))
    files: dict[str, str | bytes] = {
        "inserts.json": inserts_json(
            facts.folder.slug,
            facts.folder.version,
            planned.inserts,
            planned.rate,
            drop=planned.drop,
            answers=planned.answers,
        ),
        "inserts.txt": inserts_text(
            draft.title, planned.inserts, planned.rate, drop=planned.drop, answers=planned.answers
        ),
        **_tracks(planned),
        **texts,
        **drawn,
    }
    paths = write_folder(folder, files)
    if out is None:
        ours = (*TRACKS, DESCRIPTION_TEXT, PINNED_NOTE, END_NOTE)
        remove_files(stale_files(folder, files, ours))
    return planned, paths


def _tracks(planned: Planned) -> dict[str, str]:
    """Write the caption tracks; with nothing to insert there are none, the transcript is the track then."""
    facts, transcript = planned.facts, planned.facts.folder.transcript
    if not planned.inserts:
        return {}
    source = read_text(transcript, facts.folder.shown(transcript))[0] if transcript else None
    spoken = caption_file(source, facts.cues, form_of(source) if source else "", plain_words)
    return insert_tracks(spoken, planned.inserts)


def publishing_texts(draft: Draft, planned: Planned) -> tuple[dict[str, str], list[Problem]]:
    """Write what is to be published beside the picture; empty where an episode has nothing to tell."""
    limits = planned.facts.workshop.host
    if not planned.told:
        return {}, []
    described, problems = corrected_description(draft, planned.told, limits)
    note, more = pinned_note(planned.told, limits)
    texts = {DESCRIPTION_TEXT: described, PINNED_NOTE: note, END_NOTE: end_note(planned.told)}
    kept = [p for p in (*problems, *more) if p.code == "description-long"]
    return {name: text for name, text in texts.items() if text}, kept
