"""The versions of an episode on disk, and where the places of records stand in them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from reelnotes.corrections.versions import places_in, read_version
from reelnotes.model import Place, Version
from reelnotes.problems import Problem
from reelnotes.project import VERSION_FILE, VERSIONS, versions_of
from reelnotes.store import decode, read_bytes
from reelnotes.timing import Span


def read_versions(episode: Path) -> tuple[dict[int, Version], list[Problem]]:
    """Read how the later versions of an episode were made, by number; none that cannot be read."""
    versions: dict[int, Version] = {}
    problems: list[Problem] = []
    for number, folder in versions_of(episode).items():
        path = folder / VERSION_FILE
        source, more = decode(read_bytes(path), f"{episode.name}/{VERSIONS}/{number}/{VERSION_FILE}", path)
        version, others = read_version(source, number)
        problems += more + others
        if version:
            versions[number] = version
    return versions, problems


def spans_now(
    episodes: Mapping[str, Path], versions: Mapping[str, int] | None = None
) -> tuple[Callable[[Place], Sequence[Span]], list[Problem]]:
    """Give where the places of records stand in their episodes' newest versions: nowhere, or in one span.

    `versions` names the version of an episode that is meant instead. A place in an episode that is not there
    stands where it stood.
    """
    read: dict[str, Callable[[Place], Sequence[Span]]] = {}
    now: dict[str, int] = {}
    problems: list[Problem] = []
    for slug, folder in episodes.items():
        made, more = read_versions(folder)
        problems += more
        now[slug] = (versions or {}).get(slug, max(versions_of(folder), default=1))
        read[slug] = places_in(made, now[slug])

    def mapped(place: Place) -> Sequence[Span]:
        if place.episode not in read:
            return (place.span,)
        return () if now[place.episode] in place.gone_in else read[place.episode](place)

    return mapped, problems
