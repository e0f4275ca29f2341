"""From log and speech to steps: where each entry is told, how surely, or that it is not in the video."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from reelnotes.align.beats import beats_of, with_silence
from reelnotes.align.footage_clock import Footage, find_offset, footage_of, noted_offset_s
from reelnotes.align.path import Posterior
from reelnotes.align.spans import TOLD, closed_up, spans_of, told_chance
from reelnotes.align.telling import Telling, Tuning, chance_ours, read_words, weigh
from reelnotes.model import Clip, ClockOffset, Cue, CutEvent, Entry, ShelfItem, Step, StepSpan, step_ids
from reelnotes.problems import Problem
from reelnotes.records import frozen
from reelnotes.timing import Span
from reelnotes.words.lexicon import Lexicon

Array = NDArray[np.float64]

_THIN_SHARE, _THIN_ENTRIES = 0.15, 5


@frozen
class Alignment:
    """The steps, one for each entry in order, and the camera clock's offset where footage shows it."""

    steps: tuple[Step, ...]
    clock_offset: ClockOffset | None = None


def align(  # noqa: PLR0917 - the facts of an episode, in the order in which they are read
    entries: tuple[Entry, ...],
    cues: tuple[Cue, ...],
    lexicon: Lexicon,
    shelf: tuple[ShelfItem, ...] = (),
    clips: tuple[Clip, ...] = (),
    cuts: tuple[CutEvent, ...] = (),
    pins: Mapping[int, tuple[Span, ...]] | None = None,
    *,
    camera_offset_s: int | None = None,
    tuning: Tuning | None = None,
) -> tuple[Alignment, list[Problem]]:
    """Place every entry of the log in the programme, or tell that it is off camera.

    `pins` are spans set by hand by index of entry (empty: off camera): they are kept exactly, and the other
    entries are placed around them. `camera_offset_s`, the camera's clock minus the log's, counts as if the
    log had noted it, and wins over what the log notes.
    """
    pins = pins or {}
    beats = beats_of(cues)
    if not entries or not beats:
        steps = [
            Step("", entry.index, entry.text, 1.0 if pins.get(entry.index) else 0.0, _pinned(pins, entry))
            for entry in entries
        ]
        return Alignment(_identified(entries, steps)), []
    if clips and cuts:
        beats = with_silence(beats, max(event.record.end_ms for event in cuts))
    telling = weigh(read_words(entries, beats, lexicon, shelf), pins, tuning or Tuning())
    footage = footage_of(beats, clips, cuts, telling.deeds)
    by_words = telling.posterior()
    noted_s = noted_offset_s(entries) if camera_offset_s is None else float(camera_offset_s)
    ours = 1.0 if pins or len(entries) < _THIN_ENTRIES else chance_ours(by_words)
    found, shown, clock = _seen(telling, by_words, footage, noted_s)
    told = np.round(told_chance(found) * ours, 3)
    spans = [
        _pinned(pins, entry)
        if i in pins
        else spans_of(i, found, beats, telling.words[i], None if shown is None else shown[i])
        if told[i] > TOLD
        else ()
        for i, entry in enumerate(entries)
    ]
    steps = [
        Step("", i, entry.text, float(told[i]) if i not in pins else float(bool(pins[i])), placed)
        for i, (entry, placed) in enumerate(zip(entries, closed_up(spans, beats[-1].end_ms), strict=True))
    ]
    problems = _thin(steps, pins, ours) + _unclear(footage, clock)
    return Alignment(_identified(entries, steps), clock), problems


def _seen(
    telling: Telling, by_words: Posterior, footage: Footage | None, noted_s: float | None
) -> tuple[Posterior, Array | None, ClockOffset | None]:
    """Add the footage to the words, if its clock can be found; the chances, what is shown, the offset."""
    if footage is None:
        return by_words, None, None
    clock = find_offset(footage, by_words.telling, noted_s, telling.likelihood())
    if clock is None:
        return by_words, None, None
    offset, habit = clock
    gain = footage.gain(habit, offset.best_s, max(15.0, (offset.high_s - offset.low_s) / 4))
    return telling.posterior(gain), np.nan_to_num(footage.fit(habit, offset.best_s)), offset


def _pinned(pins: Mapping[int, tuple[Span, ...]], entry: Entry) -> tuple[StepSpan, ...]:
    return tuple(StepSpan(s.start_ms, s.end_ms, 1.0, "pinned") for s in pins.get(entry.index, ()))


def _identified(entries: tuple[Entry, ...], steps: list[Step]) -> tuple[Step, ...]:
    return tuple(
        Step(
            name,
            step.entry,
            step.text,
            step.told,
            step.spans,
            entry.logged_at.isoformat() if entry.logged_at else None,
        )
        for name, step, entry in zip(step_ids(entries), steps, entries, strict=True)
    )


def _unclear(footage: Footage | None, clock: ClockOffset | None) -> list[Problem]:
    if footage is None or clock is not None:
        return []
    message = (
        "the camera clock's offset could not be told from so little, so steps were placed by words alone; "
        "note it in the log (camera clock 4 min fast) to help"
    )
    return [Problem("clock-unclear", message, severity="note")]


def _thin(steps: list[Step], pins: Mapping[int, tuple[Span, ...]], ours: float) -> list[Problem]:
    free = [step for step in steps if step.entry not in pins]
    told = sum(1 for step in free if step.spans)
    if ours > TOLD and (len(free) < _THIN_ENTRIES or told >= _THIN_SHARE * len(free)):
        return []
    message = (
        f"of {len(free)} entries of the log hardly any ({told}) is told in this transcript; "
        "is it another video's? --transcript FILE names the right one"
    )
    return [Problem("match-thin", message)]
