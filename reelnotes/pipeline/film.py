"""A video at hand: looked at before anything is done to it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from reelnotes.picture.refusals import OtherVideo
from reelnotes.pipeline.reading import EpisodeFacts
from reelnotes.problems import AlreadyThere
from reelnotes.records import frozen

if TYPE_CHECKING:
    from reelnotes.picture.probe import Facts

#: A video that is so much shorter than its episode is another one.
_SHORTER_MS = 1000


@frozen
class Film:
    """A video to burn into, looked at: where it lies, where the new one goes, and what it is."""

    source: Path
    target: Path
    facts: Facts


def film_to_burn(source: Path, target: Path) -> Film:
    """Look at a video to burn into, before anything is done.

    Raises `FileUnreadable`, `SameFile`, `TargetForm`, `AlreadyThere`, `LibraryMissing`.
    """
    from reelnotes.picture.probe import probe

    check_new(source, target)
    return Film(source, target, probe(source).facts)


def check_new(source: Path, target: Path) -> None:
    """Hold that a video to be written is a new file. Raises as `film_to_burn` does."""
    from reelnotes.picture.probe import check_target

    check_target(source, target)
    if target.exists():
        raise AlreadyThere(target)


def check_length(video: Path, length_ms: int, facts: EpisodeFacts) -> None:
    """Hold that a video is not another one: it must last as long as its words. Raises `OtherVideo`."""
    last = max((cue.start_ms for cue in facts.cues), default=0)
    if length_ms + _SHORTER_MS < last:
        raise OtherVideo(video, length_ms, facts.folder.version, last)
