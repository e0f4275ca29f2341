"""Looking back at a year: the archive's episodes and the ledger's corrections, on one page."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date
from pathlib import Path

from reelnotes.archive.index import Archive
from reelnotes.model import Correction
from reelnotes.pipeline.archive import ask_archive
from reelnotes.pipeline.corrections import owed_in
from reelnotes.pipeline.ledger import read_ledger
from reelnotes.pipeline.reading import read_workshop
from reelnotes.problems import Problem, Refusal
from reelnotes.project import find_workshop
from reelnotes.records import frozen
from reelnotes.store import write_file
from reelnotes.write.year_page import YearEpisode, YearFacts, YearFlag, YearMaterial, year_page

YEARS = "years"
_FIRST, _LAST = 1900, 9999


class BadYear(Refusal):
    """A number that is no year of an episode."""

    def __init__(self, year: int) -> None:
        self.year = year
        super().__init__(f"{year} is no year; write it as 2026.")


@frozen
class YearMade:
    """The year's facts, and the page that was written of them."""

    facts: YearFacts
    path: Path
    problems: tuple[Problem, ...] = ()


def look_back(
    folder: Path,
    year: int | None = None,
    out: Path | None = None,
    *,
    progress: Callable[[float], None] | None = None,
) -> YearMade:
    """Write the page of a year for the workshop that a folder is or lies in.

    Without `year` it is the last one in which an episode was published. The page goes to years/YEAR.html, or
    to `out`, a file or a folder.
    Raises a `Refusal`.
    """
    workshop = find_workshop(folder)
    if year is not None and not _FIRST <= year <= _LAST:
        raise BadYear(year)
    settings, _ = read_workshop(workshop)
    ledger, owing = read_ledger(workshop), owed_in(workshop)

    def question(archive: Archive) -> YearFacts:
        years = [one.published.year for one in archive.episodes() if one.published]
        today = date.today()  # noqa: DTZ011 - the calendar of the workshop is meant
        chosen = year or max(years, default=today.year)
        return replace(
            _published(archive, settings.name, chosen),
            corrections=_recorded(ledger.records, chosen),
            owed=tuple((one.record.id, one.episode) for one in owing.owed),
        )

    facts, problems = ask_archive(workshop, question, progress)
    name = f"{facts.year}.html"
    path = (out / name if out.is_dir() else out) if out else workshop / YEARS / name
    write_file(path, year_page(facts))
    return YearMade(facts, path, (*problems, *owing.problems))


def _recorded(records: Iterable[Correction], year: int) -> tuple[Correction, ...]:
    """Give the retractions of a year in order; a lesson speaks of no place, so no viewer waits for it."""
    retractions = [one for one in records if one.kind == "correction" and one.places and one.recorded]
    of_year = [one for one in retractions if one.recorded and one.recorded.year == year]
    return tuple(sorted(of_year, key=lambda one: (one.recorded or date.min, one.id)))


def _published(archive: Archive, name: str, year: int) -> YearFacts:
    """Give what the archive holds of the episodes of a year."""
    published = {e.slug: e for e in archive.episodes() if e.published and e.published.year == year}
    days = {slug: e.published for slug, e in published.items() if e.published}
    return YearFacts(
        workshop=name,
        year=year,
        episodes=tuple(
            YearEpisode(
                slug,
                e.title,
                days[slug],
                e.duration_ms,
                e.currency,
                e.total if e.spent is None else e.spent,
                e.budget,
            )
            for slug, e in published.items()
        ),
        materials=tuple(
            YearMaterial(slug, m.name, m.kind, m.cost, published[slug].currency)
            for slug, m in archive.materials()
            if slug in published
        ),
        flags=tuple(
            YearFlag(days[slug].month, flag.topic, flag.tier == "firm")
            for slug, flag in archive.flags()
            if slug in published
        ),
    )
