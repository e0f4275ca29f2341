"""Panels into the picture: only the pictures they touch, and those that hang on them, are coded anew."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from reelnotes.picture.ahead import ahead
from reelnotes.picture.blend import Overlays, Panel
from reelnotes.picture.boxes import Box
from reelnotes.picture.coding import CannotPatch, Coded, Coder, Pictures, Quality, Sets, decoded
from reelnotes.picture.film import (
    Done,
    Film,
    Laid,
    Progress,
    Tell,
    Track,
    as_it_was,
    with_entry_box,
    write_film,
)
from reelnotes.picture.headers import put_chapter_list
from reelnotes.picture.patching import patch_or_code_whole
from reelnotes.picture.probe import duration_of, look_of, pictures_of
from reelnotes.picture.refusals import PanelUnseen
from reelnotes.picture.tables import MADE, Samples, Whole, put_samples
from reelnotes.picture.whole_plan import Changes, NewChapter
from reelnotes.store import scratch_file, whole_file
from reelnotes.timing import format_time

if TYPE_CHECKING:
    import av

#: Tables that describe how pictures hang on each other or how they are laid out, untrue after a change.
_STALE_TABLES = (b"sdtp", b"cslg", b"stps", b"sbgp", b"sgpd", b"stsh", b"padb", b"stdp")
_STALE_ENTRY = frozenset({b"btrt"})
SPARE = 64 << 20
#: Share of the work that is coding; the rest is copying.
CODING = 0.95


def burn_in(
    source: Path,
    panels: Sequence[Panel],
    target: Path,
    progress: Progress | None = None,
    *,
    quality: Quality | None = None,
    tell: Tell | None = None,
    chapters: Sequence[NewChapter] = (),
) -> Done:
    """Write a copy of a video with panels in its picture, and with `chapters` if it has none of its own.

    Where the form of the video allows it, only the pictures that a panel touches and those up to the next
    picture that stands alone are coded anew; every other packet is copied bit for bit, sound untouched.
    Otherwise the whole film is coded anew, and `tell` is called first with the reason and the expected time.
    The target is written whole or not at all; the source is never written.

    Raises `FileUnreadable`, `FileChanged`, `SameFile`, `TargetForm`, `TargetName`, `PanelUnfit`,
    `PanelUnseen`, `DiskFull`, `FolderUnwritable`, `LibraryMissing`.
    """
    changes = Changes(panels=tuple(panels), chapters=tuple(chapters))
    return patch_or_code_whole(
        source, changes, target, _patched, progress=progress, quality=quality, tell=tell
    )


def touched(pictures: Pictures, track: Track, panels: Sequence[Panel]) -> int:
    """Count the pictures that will be coded anew for these panels."""
    return sum(end - start for start, end in runs_of(pictures, windows_of(pictures, track, panels)))


def _patched(film: Film, changes: Changes, target: Path, report: Progress, quality: Quality) -> Done:
    panels = changes.panels
    pictures = pictures_of(film)
    track = film.tracks_of(b"vide")[0]
    look = look_of(film, pictures)
    overlays = Overlays(panels, look)
    windows = windows_of(pictures, track, panels)
    runs = runs_of(pictures, windows)
    total = sum(end - start for start, end in runs)
    count = Count(report, total)
    with whole_file(target, needs=film.size + SPARE) as file, scratch_file(target.parent) as made:
        coder = Coder(pictures, Sets(pictures.avcc, pictures.between), made, quality)
        samples = pictures.samples.rows(slice(None))
        for run in runs:
            _code_run(coder, samples, run, partial(_burned, pictures, run, overlays, windows, count))
            count.before += run[1] - run[0]
        order = as_it_was(track).order
        replace_pictures(track, samples, pictures.entry, coder.sets)
        named = put_chapter_list(film, changes.chapters)
        laid = [Laid(t, samples, order) if t is track else as_it_was(t) for t in film.tracks]
        write_film(film, laid, made, file, lambda share: report(CODING + (1 - CODING) * share))
    return Done(total, len(samples), chapters=named)


class Count:
    """Counts coded pictures into a share that never falls, though a run may have to be coded twice."""

    def __init__(self, report: Progress, total: int) -> None:
        self.report, self.total = report, max(total, 1)
        self.before = self.most = 0

    def at(self, number: int) -> None:
        """Note that so many pictures of the current run are done."""
        if self.before + number > self.most:
            self.most = self.before + number
            self.report(CODING * min(self.most / self.total, 1.0))


# --- which pictures ------------------------------------------------------------------------------------


def programme_ms(pictures: Pictures, track: Track) -> tuple[Whole, Whole]:
    """Give the numbers of the pictures that are seen, and when each is shown, in whole ms of the programme.

    To the nearest millisecond, so that a time written down for a picture finds this picture again. A picture
    that began before the programme does is shown from its start.
    """
    delay, scale = track.delay, pictures.scale
    ticks = (pictures.times - track.begin) * delay.denominator
    scaled = 1000 * (ticks + delay.numerator * scale)
    unit = scale * delay.denominator
    ms = (2 * scaled + unit) // (2 * unit)
    ends = np.append(pictures.times[1:], pictures.times[-1] + max(int(pictures.samples.length[-1]), 1))
    seen = ends > track.begin
    if track.lasts is not None:
        seen &= (pictures.times - track.begin) * track.lasts.denominator < track.lasts.numerator * scale
    numbers = np.flatnonzero(seen)
    return numbers, np.maximum(ms[numbers], round(delay * 1000))


def windows_of(pictures: Pictures, track: Track, panels: Sequence[Panel]) -> list[dict[int, int]]:
    """Give, for each panel, the pictures of its window, each with its time in ms. Raises `PanelUnseen`."""
    numbers, ms = programme_ms(pictures, track)
    found = []
    for panel in panels:
        inside = (ms >= panel.start_ms) & (ms < panel.end_ms)
        if not inside.any():
            length = format_time(round(duration_of(pictures.film, pictures) * 1000))
            raise PanelUnseen(format_time(panel.start_ms), format_time(panel.end_ms), length)
        found.append(dict(zip(numbers[inside].tolist(), ms[inside].tolist(), strict=True)))
    return found


def runs_of(pictures: Pictures, windows: list[dict[int, int]]) -> list[tuple[int, int]]:
    """Give the runs of pictures to be coded anew, joined where they meet."""
    runs: list[tuple[int, int]] = []
    for start, end in sorted((pictures.start_of(min(w)), pictures.idr_after(max(w) + 1)) for w in windows):
        if runs and start <= runs[-1][1]:
            runs[-1] = (runs[-1][0], max(runs[-1][1], end))
        else:
            runs.append((start, end))
    return runs


# --- coding and laying in --------------------------------------------------------------------------------


def _code_run(
    coder: Coder, samples: Samples, run: tuple[int, int], frames: Callable[[], Iterator[av.VideoFrame]]
) -> None:
    """Code one run and lay it into the table; without reordering if it would not fit otherwise."""
    pictures, rows = coder.pictures, slice(*run)
    forced = set((pictures.rank[rows][pictures.samples.sync[rows]] - run[0]).tolist())
    least = min(0, int(pictures.samples.shift.min()))
    for reorder in dict.fromkeys((min(pictures.reorder, 2), 0)):
        coded = coder.code(frames(), forced, reorder)
        shift = _shifts(pictures, run, coded)
        if (shift >= least).all():
            break
    else:
        raise CannotPatch("order")
    coder.sets.accept(coded)
    samples.where[rows] = MADE
    samples.offset[rows], samples.size[rows] = coded.offset, coded.size
    samples.shift[rows], samples.sync[rows] = shift, coded.sync


def _shifts(pictures: Pictures, run: tuple[int, int], coded: Coded) -> Whole:
    start, end = run
    if sorted(coded.number) != list(range(end - start)):
        raise CannotPatch("order")
    shown_at: Whole = pictures.times[start + np.array(coded.number)]
    return shown_at - pictures.samples.decode_at[start:end]


def _burned(
    pictures: Pictures,
    run: tuple[int, int],
    overlays: Overlays,
    windows: list[dict[int, int]],
    count: Count,
) -> Iterator[av.VideoFrame]:
    for done, frame in enumerate(ahead(laid_over(pictures, run, overlays, windows)), start=1):
        yield frame
        count.at(done)


def laid_over(
    pictures: Pictures, run: tuple[int, int], overlays: Overlays, windows: list[dict[int, int]]
) -> Iterator[av.VideoFrame]:
    """Decode a run, its panels laid over it."""
    frame_ms = 1000 / pictures.rate
    for number, frame in decoded(pictures, *run):
        strengths = {
            index: overlays.panels[index].strength(Fraction(window[number]), frame_ms)
            for index, window in enumerate(windows)
            if number in window
        }
        overlays.lay(frame, strengths)
        yield frame


def replace_pictures(track: Track, samples: Samples, entry: Box, sets: Sets) -> None:
    """Write a new table of pictures and their parameter sets into the boxes of the track."""
    stbl = track.tables
    stbl.drop(*_STALE_TABLES)
    new = with_entry_box(entry, Box(b"avcC", sets.avcc.packed()), drop=_STALE_ENTRY)
    head = next(box.body[:8] for box in stbl.all(b"stsd"))
    put_samples(stbl, samples, composition=stbl.first(b"ctts") is not None)
    stbl.put(Box(b"stsd", head + new.packed()))
