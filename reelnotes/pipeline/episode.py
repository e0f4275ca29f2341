"""An episode from its files to its draft: read → align → draft → review → write."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field, replace
from fractions import Fraction
from pathlib import Path

from reelnotes.align.matcher import align
from reelnotes.draft.chapters import draft_chapters
from reelnotes.draft.disclosures import disclosure_flags, find_disclosures
from reelnotes.draft.materials import draft_materials
from reelnotes.draft.promises import draft_promises
from reelnotes.model import (
    Clip,
    Cue,
    CutEvent,
    Draft,
    Entry,
    Flag,
    Kept,
    ShelfItem,
    Step,
    step_ids,
    worst_first,
)
from reelnotes.problems import BadTime, Problem
from reelnotes.project import LEDGER, EpisodeFolder, find_episode, find_workshop
from reelnotes.read.captions import read_transcript
from reelnotes.read.shop_log import read_shop_log
from reelnotes.records import frozen
from reelnotes.review.kept import honour_chapters, honour_flags, stale_pins
from reelnotes.risk.reading import read_risks
from reelnotes.settings import EpisodeSettings, WorkshopSettings, read_settings
from reelnotes.store import SourceText, fingerprint, read_text, write_folder
from reelnotes.timing import Span, parse_time, typed_time
from reelnotes.words.lexicon import Lexicon, load_lexicon

_FASTEST = 1000  # frames a second; above that it is a slip of the pen


@frozen
class EpisodeFacts:
    """All that was read of one episode, before anything is made of it."""

    folder: EpisodeFolder
    workshop: WorkshopSettings
    settings: EpisodeSettings
    entries: tuple[Entry, ...] = ()
    cues: tuple[Cue, ...] = ()
    shelf: tuple[ShelfItem, ...] = ()
    clips: tuple[Clip, ...] = ()
    cuts: tuple[CutEvent, ...] = ()
    kept: Kept = field(default_factory=Kept)

    @property
    def duration_ms(self) -> int:
        """Length of the programme as far as cues, cut list and episode.toml show it."""
        ends = [c.end_ms for c in self.cues] + [e.record.end_ms for e in self.cuts]
        return max([*ends, _length_ms(self.settings)])

    @property
    def pins(self) -> Mapping[int, tuple[Span, ...]]:
        """Spans set by hand, by the index of their entry."""
        by_id = {pin.step: pin.spans for pin in self.kept.pins}
        return {i: by_id[step] for i, step in enumerate(step_ids(self.entries)) if step in by_id}


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
    sources = [_source(folder, path, problems) for path in sorted((workshop.parent / "rules").glob("*.toml"))]
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


# --- reading ---------------------------------------------------------------------------------------


def read_episode(path: Path, transcript: Path | None = None) -> tuple[EpisodeFacts, list[Problem]]:
    """Read every file of the episode in `path`; what is not there is empty."""
    folder, problems = find_episode(path, transcript)
    workshop, settings = WorkshopSettings(), EpisodeSettings()
    if source := _source(folder, folder.workshop_settings, problems):
        workshop, more = read_settings(WorkshopSettings, source.text, source.name)
        problems += more
    if source := _source(folder, folder.episode_settings, problems):
        settings, more = read_settings(EpisodeSettings, source.text, source.name)
        problems += more
        problems += _unread_settings(settings, source)
    if folder.version_folder:
        settings, more = _settings_of_version(settings, folder)
        problems += more
    facts = EpisodeFacts(folder, workshop, settings)
    if source := _source(folder, folder.log, problems):
        entries, more = read_shop_log(source)
        facts, problems = replace(facts, entries=entries), problems + more
    if source := _source(folder, folder.transcript, problems):
        cues, more = read_transcript(source)
        facts, problems = replace(facts, cues=cues), problems + more
    facts, more = _with_shelf(facts)
    problems += more
    facts, more = _with_footage(facts)
    problems += more
    if source := _source(folder, folder.kept, problems):
        from reelnotes.review.kept import read_kept

        kept, more = read_kept(source)
        facts, problems = replace(facts, kept=kept), problems + more
    return facts, problems


def _settings_of_version(
    settings: EpisodeSettings, folder: EpisodeFolder
) -> tuple[EpisodeSettings, list[Problem]]:
    """Give the settings with the times of a later version: episode.toml tells those of the first one.

    A promise seen to may stand there at its time in either.
    """
    from reelnotes.corrections.versions import VersionUnreadable, map_between
    from reelnotes.pipeline.ledger import read_versions

    versions, problems = read_versions(folder.path)
    try:
        to = map_between(versions, 1, folder.version)
    except VersionUnreadable:
        return replace(settings, length=""), problems
    first = [parse_time(text) for text in settings.promises_kept if _is_time(text)]
    moved = [typed_time(now) for at in first if isinstance(now := to.point(at), int)]
    kept = (*settings.promises_kept, *moved)
    return replace(settings, length=typed_time(to.length_after), promises_kept=kept), problems


def _is_time(text: str) -> bool:
    try:
        parse_time(text)
    except BadTime:
        return False
    return True


def _source(folder: EpisodeFolder, path: Path | None, problems: list[Problem]) -> SourceText | None:
    if path is None:
        return None
    source, more = read_text(path, folder.shown(path))
    problems += more
    return source


def _with_shelf(facts: EpisodeFacts) -> tuple[EpisodeFacts, list[Problem]]:
    problems: list[Problem] = []
    source = _source(facts.folder, facts.folder.shelf, problems)
    if source is None:
        return facts, problems
    from reelnotes.read.shelf import read_shelf

    shelf, more = read_shelf(source)
    if facts.workshop.words.same:
        from reelnotes.words.nicknames import nicknamed

        shelf = nicknamed(shelf, facts.workshop.words.same)
    return replace(facts, shelf=shelf), problems + more


def _with_footage(facts: EpisodeFacts) -> tuple[EpisodeFacts, list[Problem]]:
    problems: list[Problem] = []
    clips_source = _source(facts.folder, facts.folder.clips, problems)
    if clips_source is not None:
        from reelnotes.read.clips import read_clips

        clips, more = read_clips(clips_source)
        facts, problems = replace(facts, clips=clips), problems + more
    cuts_source = _source(facts.folder, facts.folder.cuts, problems)
    if cuts_source is not None:
        from reelnotes.read.cut_list import read_cut_list

        rate, more = _frame_rate(facts)
        cuts, found = read_cut_list(cuts_source, rate, facts.clips)
        facts, problems = replace(facts, cuts=cuts), problems + more + found
    return facts, problems


def _frame_rate(facts: EpisodeFacts) -> tuple[Fraction | None, list[Problem]]:
    text = facts.settings.frame_rate.strip()
    if not text:
        return None, []
    try:
        rate = Fraction(text)
    except (ValueError, ZeroDivisionError):
        rate = Fraction(0)
    if 1 <= rate <= _FASTEST:
        return rate, []
    way_out = 'write "25" or "30000/1001"; the rate was worked out from the cut list'
    return None, [Problem("setting", f"frame_rate: {text!r} is no frame rate; {way_out}", "episode.toml")]


def given_rate(settings: EpisodeSettings) -> Fraction | None:
    """Give the frame rate of episode.toml; None where it says none, or none that can be read."""
    try:
        rate = Fraction(settings.frame_rate.strip())
    except (ValueError, ZeroDivisionError):
        return None
    return rate if rate > 0 else None


def _length_ms(settings: EpisodeSettings) -> int:
    try:
        return parse_time(settings.length) if settings.length.strip() else 0
    except BadTime:
        return 0


def _unread_settings(settings: EpisodeSettings, source: SourceText) -> list[Problem]:
    """Report times and rates of episode.toml that cannot be read; settings themselves are but text."""
    problems = []
    if settings.frame_rate.strip() and given_rate(settings) is None:
        message = f'frame_rate: {settings.frame_rate!r} is no rate; write it as "25" or "30000/1001"'
        problems.append(Problem("setting", message, source.name))
    if settings.length.strip() and not _length_ms(settings):
        message = f'length: {settings.length!r} is no time; write it as "15:20"'
        problems.append(Problem("setting", message, source.name))
    return problems
