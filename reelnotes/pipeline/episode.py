"""An episode from its files to its draft: read → align → draft → review → write."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from reelnotes.align.matcher import align
from reelnotes.draft.chapters import draft_chapters
from reelnotes.draft.disclosures import disclosure_flags, find_disclosures
from reelnotes.draft.materials import draft_materials
from reelnotes.draft.promises import draft_promises
from reelnotes.model import (
    Draft,
    Flag,
    Kept,
    Step,
    worst_first,
)
from reelnotes.pipeline.reading import EpisodeFacts, read_episode, source_of
from reelnotes.problems import Problem
from reelnotes.project import LEDGER, EpisodeFolder, find_workshop
from reelnotes.review.kept import honour_chapters, honour_flags, stale_pins
from reelnotes.risk.reading import read_risks
from reelnotes.store import fingerprint, write_folder
from reelnotes.words.lexicon import Lexicon, load_lexicon


def draft_episode(path: Path, transcript: Path | None = None) -> tuple[Draft, EpisodeFacts]:
    """Draft all there is to draft for the episode in `path`. Raises a `Refusal` if there is none."""
    facts, problems = read_episode(path, transcript)
    lexicon = load_lexicon(facts.workshop.words)
    draft = _draft_of_use(facts, problems, lexicon)
    chapters, more = draft_chapters(
        facts.entries, draft.steps, facts.cues, facts.duration_ms, facts.workshop.host
    )
    problems = [*draft.problems, *more]
    promises, more = draft_promises(facts.cues, draft.steps, facts.entries)
    problems += more
    repeats, more = _repeats(facts, draft.steps, lexicon)
    problems += more
    chapters, more = honour_chapters(chapters, facts.kept)
    problems += more
    draft = replace(
        draft,
        chapters=chapters,
        promises=promises,
        flags=(*draft.flags, *repeats),
        problems=tuple(problems),
        inputs=tuple((path.name, fingerprint(path)) for path in facts.folder.inputs),
    )
    return _with_decisions(draft, facts.kept), facts


def draft_use(path: Path) -> tuple[Draft, EpisodeFacts]:
    """Draft what an episode used and what can hurt, and nothing beside it: all that the archive holds.

    No chapters, no promises, and no flags for what the ledger of corrections knows. Raises a `Refusal`.
    """
    facts, problems = read_episode(path)
    draft = _draft_of_use(facts, problems, load_lexicon(facts.workshop.words))
    return _with_decisions(draft, facts.kept), facts


def _draft_of_use(facts: EpisodeFacts, problems: list[Problem], lexicon: Lexicon) -> Draft:
    """Draft steps, materials and flags, not yet held against what the maker decided."""
    alignment, more = align(
        facts.entries,
        facts.cues,
        lexicon,
        facts.shelf,
        facts.clips,
        facts.cuts,
        facts.pins,
        camera_offset_s=facts.settings.camera_offset_s,
    )
    problems += more
    steps: tuple[Step, ...] = alignment.steps
    spending, more = draft_materials(
        facts.entries, steps, facts.cues, facts.shelf, lexicon, facts.workshop.currency, facts.settings.budget
    )
    problems += more
    rules = _own_rules(facts.folder, problems)
    flags, more = read_risks(facts.entries, facts.cues, steps, facts.shelf, lexicon, rules)
    problems += more
    disclosures = disclosure_flags(find_disclosures(facts.cues, facts.shelf, lexicon))
    return Draft(
        episode=facts.folder.slug,
        title=facts.settings.title or facts.folder.slug.replace("-", " ").capitalize(),
        duration_ms=facts.duration_ms,
        currency=facts.workshop.currency,
        published=facts.settings.date,
        entries=facts.entries,
        cues=facts.cues,
        clock_offset=alignment.clock_offset,
        steps=steps,
        spending=spending,
        flags=(*flags, *disclosures),
        problems=tuple(problems),
    )


def _with_decisions(draft: Draft, kept: Kept) -> Draft:
    """Put the flags in order, those apart that the maker dismissed, and tell which decisions are stale."""
    flags, dismissed, more = honour_flags(tuple(sorted(draft.flags, key=worst_first)), kept)
    problems = (*draft.problems, *more, *stale_pins(draft.steps, kept))
    return replace(draft, flags=flags, dismissed=dismissed, problems=problems)


def _own_rules(folder: EpisodeFolder, problems: list[Problem]) -> list[tuple[str, str]]:
    """Read the rules for risk that the workshop adds to ours; a file that is no text is refused by name."""
    workshop = folder.workshop_settings
    if workshop is None:
        return []
    sources = [
        source_of(folder, path, problems) for path in sorted((workshop.parent / "rules").glob("*.toml"))
    ]
    return [(source.name, source.text) for source in sources if source]


def _repeats(
    facts: EpisodeFacts, steps: tuple[Step, ...], lexicon: Lexicon
) -> tuple[tuple[Flag, ...], list[Problem]]:
    """Flag the steps that repeat an earlier correction; costs nothing where the workshop has none."""
    workshop = find_workshop(facts.folder.path)
    if not any((workshop / LEDGER).glob("*.toml")):
        return (), []
    from reelnotes.pipeline.ledger import repeats_in

    return repeats_in(workshop, facts.folder.slug, steps, lexicon, facts.workshop)


def write_draft(draft: Draft, facts: EpisodeFacts, out: Path | None = None) -> tuple[Draft, list[Path]]:
    """Write every output form into `out` (usually the episode's own `out` folder); give the paths written."""
    from reelnotes.write.outputs import write_outputs

    files, problems = write_outputs(draft, facts.workshop.host)
    draft = replace(draft, problems=(*draft.problems, *problems))
    return draft, write_folder(out or facts.folder.out, {**files})
