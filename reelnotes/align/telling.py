"""What the words say of every entry at every beat, and how a telling goes on: the ground of the path."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import field

import numpy as np
from numpy.typing import NDArray

from reelnotes.align.aliases import add_aliases
from reelnotes.align.beats import Beat
from reelnotes.align.breaks import readiness
from reelnotes.align.days import day_gains
from reelnotes.align.deeds import Deed, deeds_of, in_order
from reelnotes.align.lines import Chances, chance_told
from reelnotes.align.path import Course, Habits, Posterior, coarse, moves, posterior
from reelnotes.align.score import Echo, Features, Heard, features_of, gains, lifts, with_products
from reelnotes.model import Entry, ShelfItem
from reelnotes.records import frozen
from reelnotes.timing import Span
from reelnotes.words.lexicon import Lexicon
from reelnotes.words.products import shelf_names

Array = NDArray[np.float64]

_PINNED_GAIN = 60.0
_BEAT_CHARS = 40
#: The chance that a video opens with a greeting or the like rather than with a step.
_GREETED = 0.5
#: Nats by which speech and log of one video agree at least, for each beat and for each entry.
_AGREE_BEAT, _AGREE_ENTRY = 0.24, 1.2
#: Above this many beats a first look takes them by twos.
_LONG_BEATS = 1_500
_SHORTEST_MS, _LONGEST_MS = 2_000.0, 60_000.0


@frozen
class Tuning:
    """All that is fitted: habits of telling and of logging, common to makers at large.

    `heed` is the lean towards telling over idling, in nats for a beat of usual length; `day` what a day
    named in speech weighs; `pause` and `onward` how much readier a pause or a "then" makes to move on.
    """

    echo: Echo = field(default_factory=Echo)
    habits: Habits = field(default_factory=Habits)
    chances: Chances = field(default_factory=Chances)
    heed: float = -0.1
    day: float = 0.5
    pause: float = 2.5
    onward: float = 1.5


@frozen
class Telling:
    """The log likelihoods of all beats (columns) under all entries (rows, in the order of the log).

    `words` is what the words alone give, `gain` adds days, hours and pins; `order` is the order of the
    deeds, in which `course` moves on.
    """

    words: Array
    gain: Array
    deeds: tuple[Deed, ...]
    order: list[int]
    course: Course

    def posterior(self, more: Array | None = None) -> Posterior:
        """Give the chances of every entry at every beat, with more evidence added if there is any."""
        gain = self.gain if more is None else self.gain + more
        found = posterior(gain[self.order], self.course)
        back = np.argsort(self.order)
        return Posterior(found.telling[back], found.starting[back], found.idle, found.likelihood)

    def likelihood(self) -> Callable[[Array], float] | None:
        """Give what tells how well more evidence goes with the words; None where that takes too long."""
        if self.gain.shape[1] >= _LONG_BEATS:
            return None
        return lambda more: posterior((self.gain + more)[self.order], self.course).likelihood


@frozen
class Reading:
    """Log and speech as read word by word, before anything is weighed."""

    entries: tuple[Entry, ...]
    beats: tuple[Beat, ...]
    logged: list[Features]
    heard: Heard
    deeds: tuple[Deed, ...]


def read_words(
    entries: tuple[Entry, ...], beats: tuple[Beat, ...], lexicon: Lexicon, shelf: tuple[ShelfItem, ...] = ()
) -> Reading:
    """Read the words of log and speech, with the products of the shelf under any name."""
    logged = [features_of(entry.text, lexicon) for entry in entries]
    spoken = [features_of(beat.text, lexicon) for beat in beats]
    if shelf:
        names = shelf_names(shelf)
        logged = [with_products(f, e.text, names, log=True) for f, e in zip(logged, entries, strict=True)]
        named = {word for features in logged for word in features.words if word[0] == "@"}
        shown = {w for k, item in enumerate(shelf) if f"@{k}" in named for w in _name_words(item, lexicon)}
        spoken = [
            features if shown.isdisjoint(features.words) else with_products(features, beat.text, names)
            for features, beat in zip(spoken, beats, strict=True)
        ]
    heard = Heard(spoken, lexicon)
    return Reading(entries, beats, logged, heard, deeds_of(entries))


def _name_words(item: ShelfItem, lexicon: Lexicon) -> tuple[str, ...]:
    """Give the heads by which a product may be called; what shares none of them need not be searched."""
    return features_of(f"{item.name} {item.kind}", lexicon).words


def weigh(reading: Reading, pins: Mapping[int, tuple[Span, ...]], tuning: Tuning) -> Telling:
    """Weigh what each beat says for each entry: words, names, days and hours, decisions by hand."""
    beats, logged, heard, deeds = reading.beats, reading.logged, reading.heard, reading.deeds
    order = in_order(deeds)
    chance = np.array(
        [
            chance_told(entry.text, features.words, heard.lexicon, tuning.chances)
            for entry, features in zip(reading.entries, logged, strict=True)
        ]
    )
    clues = day_gains(deeds, beats, tuning.day)
    clues += tuning.heed * np.array([len(beat.text) for beat in beats]) / _BEAT_CHARS
    _pin(clues, chance, beats, pins)
    course = _course(beats, chance[order], kinship([logged[entry] for entry in order]), tuning)
    lift = lifts(logged, heard, tuning.echo)
    words = gains(lift, heard, tuning.echo)
    if tuning.echo.aliases:
        look = _first_look((words + clues)[order], course)[np.argsort(order)]
        lift = add_aliases(lift, look, logged, heard, tuning.echo.aliases)
        words = gains(lift, heard, tuning.echo)
    return Telling(words, words + clues, deeds, order, course)


def kinship(logged: list[Features]) -> Array:
    """Give how much each later entry speaks of the same as each entry: shared words, the rare ones first.

    The next entries of a kind count most, those above nothing: a story of one part goes forward too.
    """
    holds: dict[str, list[int]] = defaultdict(list)
    for entry, features in enumerate(logged):
        for word in dict.fromkeys(features.words):
            if word[0] not in "#@":
                holds[word].append(entry)
    kin = np.zeros((len(logged), len(logged)))
    for entries in holds.values():
        rarity = np.log(len(logged) / len(entries))
        for place, entry in enumerate(entries):
            for step, later in enumerate(entries[place + 1 : place + 4]):
                kin[entry, later] += rarity / (1 + step)
    return kin


def chance_ours(found: Posterior) -> float:
    """Give the chance that log and transcript are of one video at all.

    Log and speech of one video agree by much more than chance finds between any two (measured on all pairs
    of two dozen episodes): in nats for each beat, or for each entry where the log is short.
    """
    entries, beats = found.telling.shape
    by_beat, by_entry = found.likelihood / beats, found.likelihood / entries
    nearer = max((by_beat - _AGREE_BEAT) / 0.03, (by_entry - _AGREE_ENTRY) / 0.15)
    return float(1 / (1 + np.exp(-np.clip(nearer, -30, 30))))


def _first_look(gain: Array, course: Course) -> Array:
    """Give a first telling to learn aliases from; over a long transcript two beats at a time will do."""
    if gain.shape[1] < _LONG_BEATS:
        return posterior(gain, course).telling
    pairs = posterior(*coarse(gain, course)).telling
    twice: Array = np.repeat(pairs, 2, axis=1)[:, : gain.shape[1]]
    return twice


def _course(beats: tuple[Beat, ...], chance: Array, kin: Array, tuning: Tuning) -> Course:
    """Say how the telling may go on; `chance` stands in the order of the deeds.

    The mean length of a telling follows from the length of the programme and the tellings to expect.
    """
    starts = np.array([beat.start_ms for beat in beats], dtype=float)
    since_ms = np.diff(starts, prepend=starts[0]) * readiness(beats, tuning.pause, tuning.onward)
    length_ms = max(1.0, float(beats[-1].end_ms - beats[0].start_ms))
    share_ms = length_ms / max(1.0, float(chance.sum()))
    telling_ms = min(max(tuning.habits.telling * share_ms, _SHORTEST_MS), _LONGEST_MS)
    idling_ms = min(max(tuning.habits.idling * share_ms, _SHORTEST_MS), _LONGEST_MS)
    stay_idle = np.exp(-since_ms / idling_ms)
    stay_idle[0] = _GREETED
    return Course(
        np.exp(-since_ms / telling_ms),
        stay_idle,
        moves(chance, tuning.habits, kin),
        tuning.habits.rest,
    )


def _pin(gain: Array, chance: Array, beats: tuple[Beat, ...], pins: Mapping[int, tuple[Span, ...]]) -> None:
    """Hold pinned entries to their beats and keep them away from all others."""
    starts = np.array([beat.start_ms for beat in beats])
    ends = np.array([beat.end_ms for beat in beats])
    for entry, spans in pins.items():
        if not 0 <= entry < len(gain):
            continue
        inside = np.zeros(len(beats), dtype=bool)
        for span in spans:
            inside |= (starts < span.end_ms) & (ends > span.start_ms)
        gain[entry] += np.where(inside, _PINNED_GAIN, -_PINNED_GAIN)
        chance[entry] = 0.99 if spans else 0.01
