"""The second path, second half: the inserts of an episode, and every text that carries its corrections."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from reelnotes.corrections.refusals import BurnUnclear
from reelnotes.model import Draft
from reelnotes.picture.refusals import NothingToBurn
from reelnotes.pipeline.episode import draft_episode
from reelnotes.pipeline.film import Film, film_to_burn
from reelnotes.pipeline.panels import Panels, Report, Tell, burn_panels, panel_files, set_panels, stale_files
from reelnotes.pipeline.planning import Planned, plan_inserts
from reelnotes.problems import Problem
from reelnotes.read.captions import form_of
from reelnotes.read.cue_words import plain_words
from reelnotes.records import frozen
from reelnotes.store import read_text, remove_files, write_folder
from reelnotes.write.caption_file import caption_file
from reelnotes.write.chapters import placed_chapters
from reelnotes.write.insert_texts import inserts_json, inserts_text
from reelnotes.write.insert_tracks import TRACKS, insert_tracks
from reelnotes.write.publishing import (
    DESCRIPTION_TEXT,
    END_NOTE,
    PINNED_NOTE,
    corrected_description,
    end_note,
    pinned_note,
)

if TYPE_CHECKING:
    from reelnotes.picture.film import Done

#: The folder inside an episode's `out` for all that its corrections make.
INSERTS = "inserts"


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
