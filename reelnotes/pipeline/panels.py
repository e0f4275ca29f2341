"""The second path, into the picture: inserts drawn as panels, put on a timeline, burned into a video."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Collection, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from reelnotes.picture.refusals import CardBeyond, LibraryMissing, NothingToBurn
from reelnotes.pipeline.film import Film
from reelnotes.pipeline.planning import Planned
from reelnotes.pipeline.reading import given_rate
from reelnotes.problems import Problem
from reelnotes.read.programme_rate import programme_start
from reelnotes.records import frozen
from reelnotes.settings import parse_size
from reelnotes.store import read_text
from reelnotes.write.timeline import Reel, Still, timeline_edl, timeline_otio

if TYPE_CHECKING:
    from reelnotes.picture.film import Done
    from reelnotes.picture.panel import Press
    from reelnotes.picture.typeset import SetInsert
    from reelnotes.picture.whole_plan import NewChapter


#: The folder of the panels, beside the timelines that name them.
PANELS = "panels"
_TIMELINES = ("panels.edl", "panels.otio")
_OURS = re.compile(r"[0-9]{2,}-[A-Za-z0-9-]+-[0-9]+\.png")
Report = Callable[[float], None]
Tell = Callable[[str], None]


@frozen
class Panels:
    """The inserts of an episode set in type, and what draws them."""

    press: Press
    inserts: tuple[SetInsert, ...]


# --- panels and timelines ------------------------------------------------------------------------------


def set_panels(planned: Planned, film: Film | None) -> tuple[Panels | None, list[Problem]]:
    """Set the inserts of an episode for the size of its picture; None where there is nothing to draw.

    Without a video the size is that of episode.toml, else of workshop.toml. Where the library that draws is
    not installed, that is a problem, and a refusal only if there is a video to burn into. Raises
    `PictureOdd`, `FontUnreadable`, `LibraryMissing`.
    """
    if not planned.inserts:
        return None, []
    from reelnotes.picture.panel import Press

    settings, episode = planned.facts.workshop.panels, planned.facts.settings
    shown = film.facts.shown if film else parse_size(episode.picture or settings.picture)
    home = planned.facts.folder.workshop_settings
    font = (home.parent if home else Path()) / settings.font if settings.font else None
    try:
        press = Press(shown, settings, font)
    except LibraryMissing:
        if film:
            raise
        message = (
            "no panels were drawn: the library for them is not installed; pip install 'reelnotes[picture]'"
        )
        return None, [Problem("panel-library", message, severity="note")]
    done, problems = [], []
    for insert in planned.inserts:
        one, more = press.typeset(insert, planned.rate)
        done.append(one)
        problems += [problem for problem in more if problem not in problems]
    return Panels(press, tuple(done)), problems


def panel_files(
    planned: Planned, panels: Panels, folder: Path, film: Film | None
) -> tuple[dict[str, str | bytes], list[Problem]]:
    """Give the panels as PNGs, and the timelines that put them in place, by their names in `folder`.

    Timelines count frames: without a frame rate there are none.
    """
    files: dict[str, str | bytes] = {}
    stills: list[Still] = []
    for number, one in enumerate(panels.inserts, start=1):
        for card in one.cards:
            name = f"{PANELS}/{number:02d}-{_plain(one.insert.of)}-{card.number}.png"
            files[name] = panels.press.png(one, card)
            signal = one.insert.signal or ""
            stills.append(Still(name, one.insert.of, signal, card.lines, card.start_ms, card.end_ms))
    if planned.rate is None:
        return files, []
    lists, problems = _timelines(planned, stills, folder, film)
    return {**files, **lists}, problems


def stale_files(folder: Path, written: Collection[str], texts: Sequence[str]) -> list[Path]:
    """List the panels, timelines and `texts` of an earlier run that this one did not write.

    What speaks of a correction that has changed or gone would be taken for true.
    """
    lists = [path for name in (*_TIMELINES, *texts) if (path := folder / name).is_file()]
    drawn = [path for path in (folder / PANELS).glob("*.png") if _OURS.fullmatch(path.name)]
    return [path for path in (*lists, *drawn) if path.relative_to(folder).as_posix() not in written]


def _timelines(
    planned: Planned, stills: Sequence[Still], folder: Path, film: Film | None
) -> tuple[dict[str, str], list[Problem]]:
    settings, facts = planned.facts.workshop.panels, planned.facts
    if planned.rate is None:
        raise ValueError("a timeline counts frames")
    cuts = facts.folder.cuts
    source = read_text(cuts, facts.folder.shown(cuts))[0] if cuts else None
    reel = Reel(
        title=facts.settings.title or facts.folder.slug,
        rate=planned.rate,
        duration_ms=max(facts.duration_ms, film.facts.duration_ms if film else 0),
        drop=planned.drop,
        first_frame=programme_start(source, given_rate(facts.settings)),
        video=_beside(film.source, folder) if film else "",
    )
    fade_ms, handle_ms = round(settings.fade_s * 1000), round(settings.handles_s * 1000)
    timeline, problems = timeline_otio(reel, stills, fade_ms, handle_ms)
    edl, otio = _TIMELINES
    files = {edl: timeline_edl(reel, stills, fade_ms, handle_ms)}
    return files | ({otio: timeline} if timeline else {}), problems


def _beside(path: Path, folder: Path) -> str:
    """Name a file as seen from a folder, whole where there is no way between them."""
    try:
        return Path(os.path.relpath(path.resolve(), folder.resolve())).as_posix()
    except ValueError:  # another drive
        return path.resolve().as_posix()


def _plain(name: str) -> str:
    return re.sub(r"[^A-Za-z0-9-]+", "-", name).strip("-") or "insert"


# --- burning in ------------------------------------------------------------------------------------------


def burn_panels(
    panels: Panels | None,
    film: Film,
    report: Report | None = None,
    tell: Tell | None = None,
    *,
    chapters: Sequence[NewChapter] = (),
) -> Done:
    """Burn panels into a video and write the corrected one.

    `tell` is called first, with how much is coded anew, why, and how long it takes about; `report` then with
    the share that is done. Raises `NothingToBurn`, `PanelUnseen`, `DiskFull`, `FolderUnwritable`,
    `FileUnreadable`.
    """
    if panels is None:
        raise NothingToBurn(film.source)
    _check_room(panels, film)
    from reelnotes.picture.burn import burn_in
    from reelnotes.picture.foresee import foresee

    layers = [panel for one in panels.inserts for panel in panels.press.burned(one)]
    foreseen = foresee(film.source, layers)
    if tell:
        tell(foreseen.sentence)
    # If it turns out on the way that parts will not do after all, that is told too.
    tell = None if foreseen.reason else tell
    return burn_in(film.source, layers, film.target, report, tell=tell, chapters=chapters)


def _check_room(panels: Panels, film: Film) -> None:
    """Hold that every card begins before the film ends. Raises `CardBeyond`."""
    for one in panels.inserts:
        if one.cards[-1].start_ms >= film.facts.duration_ms:
            over_ms = one.cards[-1].end_ms - film.facts.duration_ms
            raise CardBeyond(film.source, one.insert.of, film.facts.duration_ms, over_ms)
