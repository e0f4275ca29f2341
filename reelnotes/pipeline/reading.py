"""Reading an episode and its workshop: every file that is there, each with what is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field, replace
from fractions import Fraction
from pathlib import Path

from reelnotes.model import (
    Clip,
    Cue,
    CutEvent,
    Entry,
    Kept,
    ShelfItem,
    step_ids,
)
from reelnotes.problems import BadTime, Problem
from reelnotes.project import EpisodeFolder, find_episode, find_workshop
from reelnotes.read.captions import read_transcript
from reelnotes.read.shop_log import read_shop_log
from reelnotes.records import frozen
from reelnotes.settings import EpisodeSettings, WorkshopSettings, read_settings
from reelnotes.store import SourceText, read_text
from reelnotes.timing import Span, parse_time, typed_time

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


def workshop_settings(folder: Path) -> WorkshopSettings:
    """Read the settings of the workshop that a folder is or lies in; the usual ones where it has none."""
    return read_workshop(find_workshop(folder))[0]


def read_workshop(workshop: Path) -> tuple[WorkshopSettings, list[Problem]]:
    """Read workshop.toml at the top of a workshop; the usual settings where there is none."""
    path = workshop / "workshop.toml"
    if not path.is_file():
        return WorkshopSettings(), []
    source, problems = read_text(path)
    settings, more = read_settings(WorkshopSettings, source.text, source.name)
    return settings, problems + more


def read_episode(path: Path, transcript: Path | None = None) -> tuple[EpisodeFacts, list[Problem]]:
    """Read every file of the episode in `path`; what is not there is empty."""
    folder, problems = find_episode(path, transcript)
    workshop, settings = WorkshopSettings(), EpisodeSettings()
    if source := source_of(folder, folder.workshop_settings, problems):
        workshop, more = read_settings(WorkshopSettings, source.text, source.name)
        problems += more
    if source := source_of(folder, folder.episode_settings, problems):
        settings, more = read_settings(EpisodeSettings, source.text, source.name)
        problems += more
        problems += _unread_settings(settings, source)
    if folder.version_folder:
        settings, more = _settings_of_version(settings, folder)
        problems += more
    facts = EpisodeFacts(folder, workshop, settings)
    if source := source_of(folder, folder.log, problems):
        entries, more = read_shop_log(source)
        facts, problems = replace(facts, entries=entries), problems + more
    if source := source_of(folder, folder.transcript, problems):
        cues, more = read_transcript(source)
        facts, problems = replace(facts, cues=cues), problems + more
    facts, more = _with_shelf(facts)
    problems += more
    facts, more = _with_footage(facts)
    problems += more
    if source := source_of(folder, folder.kept, problems):
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
    from reelnotes.pipeline.versions import read_versions

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


def source_of(folder: EpisodeFolder, path: Path | None, problems: list[Problem]) -> SourceText | None:
    """Read a file of an episode, if it has it; what is wrong with its bytes is added to `problems`."""
    if path is None:
        return None
    source, more = read_text(path, folder.shown(path))
    problems += more
    return source


def _with_shelf(facts: EpisodeFacts) -> tuple[EpisodeFacts, list[Problem]]:
    problems: list[Problem] = []
    source = source_of(facts.folder, facts.folder.shelf, problems)
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
    clips_source = source_of(facts.folder, facts.folder.clips, problems)
    if clips_source is not None:
        from reelnotes.read.clips import read_clips

        clips, more = read_clips(clips_source)
        facts, problems = replace(facts, clips=clips), problems + more
    cuts_source = source_of(facts.folder, facts.folder.cuts, problems)
    if cuts_source is not None:
        from reelnotes.read.cut_list import read_cut_list

        cuts, more = read_cut_list(cuts_source, given_rate(facts.settings), facts.clips)
        facts, problems = replace(facts, cuts=cuts), problems + more
    return facts, problems


def given_rate(settings: EpisodeSettings) -> Fraction | None:
    """Give the frame rate of episode.toml; None where it says none, or none that can be read."""
    try:
        rate = Fraction(settings.frame_rate.strip())
    except (ValueError, ZeroDivisionError):
        return None
    return rate if 1 <= rate <= _FASTEST else None


def _length_ms(settings: EpisodeSettings) -> int:
    try:
        return parse_time(settings.length) if settings.length.strip() else 0
    except BadTime:
        return 0


def _unread_settings(settings: EpisodeSettings, source: SourceText) -> list[Problem]:
    """Report times and rates of episode.toml that cannot be read; settings themselves are but text."""
    problems = []
    if settings.frame_rate.strip() and given_rate(settings) is None:
        message = f'frame_rate: {settings.frame_rate!r} is no frame rate; write it as "25" or "30000/1001"'
        problems.append(Problem("setting", message, source.name))
    if settings.length.strip() and not _length_ms(settings):
        message = f'length: {settings.length!r} is no time; write it as "15:20"'
        problems.append(Problem("setting", message, source.name))
    return problems
