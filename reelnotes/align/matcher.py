"""From log and speech to steps: where each entry is told, how surely, or that it is not in the video."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from reelnotes.align.aliases import add_aliases
from reelnotes.align.beats import Beat, beats_of
from reelnotes.align.breaks import readiness
from reelnotes.align.days import day_gains
from reelnotes.align.deeds import deeds_of, in_order
from reelnotes.align.lines import Chances, chance_told
from reelnotes.align.path import Course, Habits, Posterior, coarse, moves, posterior
from reelnotes.align.score import Echo, Heard, features_of, gains, lifts
from reelnotes.model import Clip, ClockOffset, Cue, CutEvent, Entry, ShelfItem, Step, StepSpan, step_ids
from reelnotes.problems import Problem
from reelnotes.timing import Span
from reelnotes.words.lexicon import Lexicon

Array = NDArray[np.float64]

_TOLD = 0.5
_THIN_SHARE = 0.15
_THIN_ENTRIES = 4
_PINNED_GAIN = 60.0
_BEAT_CHARS = 40
_LONG_BEATS = 1_500


@dataclass(frozen=True, slots=True)
class Tuning:
    """All that is fitted: habits of telling and of logging, common to makers at large.

    `heed` is the lean towards telling over idling, in nats for a beat of usual length; `day` what a day
    named in speech weighs; `pause` and `onward` how much readier a pause or a "then" makes to move on.
    """

    echo: Echo = field(default_factory=Echo)
    habits: Habits = field(default_factory=Habits)
    chances: Chances = field(default_factory=Chances)
    heed: float = 0.1
    day: float = 0.5
    pause: float = 2.0
    onward: float = 2.0


@dataclass(frozen=True, slots=True)
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
) -> tuple[Alignment, list[Problem]]:
    """Place every entry of the log in the programme, or tell that it is off camera.

    `pins` are spans set by hand by index of entry (empty: off camera): they are kept exactly, and the other
    entries are placed around them.
    """
    pins = pins or {}
    beats = beats_of(cues)
    if not entries or not beats:
        steps = [_pinned(entry, pins.get(entry.index, ())) for entry in entries]
        return Alignment(_identified(entries, steps)), []
    found = believed(entries, beats, lexicon, pins, Tuning())
    steps = [
        _pinned(entry, pins[entry.index]) if entry.index in pins else _placed(entry, found, beats)
        for entry in entries
    ]
    return Alignment(_identified(entries, steps)), _thin(steps, pins)


def believed(
    entries: tuple[Entry, ...],
    beats: tuple[Beat, ...],
    lexicon: Lexicon,
    pins: Mapping[int, tuple[Span, ...]],
    tuning: Tuning,
) -> Posterior:
    """Give what the speech says of each entry at each beat, the rows in the order of the log."""
    deeds = deeds_of(entries)
    order = in_order(deeds)
    heard = Heard([features_of(beat.text, lexicon) for beat in beats], lexicon)
    logged = [features_of(entry.text, lexicon) for entry in entries]
    chance = np.array([chance_told(features.words, lexicon, tuning.chances) for features in logged])
    clues = day_gains(deeds, beats, tuning.day)
    clues += tuning.heed * np.array([len(beat.text) for beat in beats]) / _BEAT_CHARS
    _pin(clues, chance, beats, pins)
    course = _course(beats, chance[order], tuning)
    back = np.argsort(order)
    lift = lifts(logged, heard, tuning.echo)
    gain = (gains(lift, heard, tuning.echo) + clues)[order]
    if tuning.echo.aliases:
        lift = add_aliases(lift, _first_look(gain, course)[back], logged, heard, tuning.echo.aliases)
        gain = (gains(lift, heard, tuning.echo) + clues)[order]
    found = posterior(gain, course)
    return Posterior(found.telling[back], found.starting[back], found.idle, found.likelihood)


def _first_look(gain: Array, course: Course) -> Array:
    """Give a first telling to learn aliases from; over a long transcript two beats at a time will do."""
    if gain.shape[1] < _LONG_BEATS:
        return posterior(gain, course).telling
    pairs = posterior(*coarse(gain, course)).telling
    twice: Array = np.repeat(pairs, 2, axis=1)[:, : gain.shape[1]]
    return twice


def _course(beats: tuple[Beat, ...], chance: Array, tuning: Tuning) -> Course:
    """Say how the telling may go on; `chance` stands in the order of the deeds.

    The mean length of a telling follows from the length of the programme and the tellings to expect.
    """
    starts = np.array([beat.start_ms for beat in beats], dtype=float)
    since_ms = np.diff(starts, prepend=starts[0]) * readiness(beats, tuning.pause, tuning.onward)
    length_ms = max(1.0, float(beats[-1].end_ms - beats[0].start_ms))
    share_ms = length_ms / max(1.0, float(chance.sum()))
    telling_ms = min(max(tuning.habits.telling * share_ms, 2_000.0), 60_000.0)
    idling_ms = min(max(tuning.habits.idling * share_ms, 2_000.0), 60_000.0)
    return Course(
        np.exp(-since_ms / telling_ms),
        np.exp(-since_ms / idling_ms),
        moves(chance, tuning.habits),
        tuning.habits.rest,
    )


def _pin(gain: Array, chance: Array, beats: tuple[Beat, ...], pins: Mapping[int, tuple[Span, ...]]) -> None:
    """Hold pinned entries to their beats and keep them away from all others."""
    starts = np.array([beat.start_ms for beat in beats])
    ends = np.array([beat.end_ms for beat in beats])
    for entry, spans in pins.items():
        if entry >= len(gain):
            continue
        inside = np.zeros(len(beats), dtype=bool)
        for span in spans:
            inside |= (starts < span.end_ms) & (ends > span.start_ms)
        gain[entry] += np.where(inside, _PINNED_GAIN, -_PINNED_GAIN)
        chance[entry] = 0.99 if spans else 0.01


def _placed(entry: Entry, found: Posterior, beats: tuple[Beat, ...]) -> Step:
    telling, told = found.telling[entry.index], min(1.0, float(found.starting[entry.index].sum()))
    if told <= _TOLD:
        return Step("", entry.index, entry.text, told)
    first = last = int(telling.argmax())
    while first and telling[first - 1] > telling.max() / 2:
        first -= 1
    while last + 1 < len(beats) and telling[last + 1] > telling.max() / 2:
        last += 1
    span = StepSpan(beats[first].start_ms, beats[last].end_ms, round(float(telling.max()), 3), "words")
    return Step("", entry.index, entry.text, told, (span,))


def _pinned(entry: Entry, spans: tuple[Span, ...]) -> Step:
    kept = tuple(StepSpan(span.start_ms, span.end_ms, 1.0, "pinned") for span in spans)
    return Step("", entry.index, entry.text, 1.0 if kept else 0.0, kept)


def _identified(entries: tuple[Entry, ...], steps: list[Step]) -> tuple[Step, ...]:
    return tuple(
        Step(
            name,
            step.entry,
            step.text,
            round(step.told, 3),
            step.spans,
            entry.logged_at.isoformat() if entry.logged_at else None,
        )
        for name, step, entry in zip(step_ids(entries), steps, entries, strict=True)
    )


def _thin(steps: list[Step], pins: Mapping[int, tuple[Span, ...]]) -> list[Problem]:
    free = [step for step in steps if step.entry not in pins]
    told = sum(1 for step in free if step.spans)
    if len(free) < _THIN_ENTRIES or told >= _THIN_SHARE * len(free):
        return []
    message = (
        f"of {len(free)} entries of the log hardly any ({told}) is told in this transcript; "
        "is it another video's? --transcript FILE names the right one"
    )
    return [Problem("match-thin", message)]
