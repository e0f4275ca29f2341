"""Three clocks in one: the log's, the camera's and the programme's.

The cut list says which moment of which clip stands at a time of the programme, the clip's start says when
the camera filmed it, and the log says what was done then, once the camera's offset is known. The offset is
what makes the footage agree best with what is said over it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from reelnotes.align.beats import Beat
from reelnotes.align.deeds import Deed
from reelnotes.model import Clip, ClockOffset, CutEvent, Entry
from reelnotes.records import frozen

Array = NDArray[np.float64]
Habit = Literal["before", "after", "mixed"]

HABITS: tuple[Habit, ...] = ("before", "after", "mixed")
_FARTHEST_S, _STEP_S = 3 * 3600, 10
#: An entry without a neighbour on its day covers this long.
_OPEN_S = 2 * 3600.0
#: Chance that footage is right although the clock says otherwise: stock shots, late notes, work done twice.
_FLOOR = 0.1
#: How sharply a note's time divides one deed from the next, in seconds.
_EDGE_S = 8.0
#: An interval holds every offset at most this many nats below the best (about 95 % for one unknown).
_DROP = 2.5
_SURE_MASS, _WIDEST_S, _EVENTS, _ENTRIES = 0.9, 1200, 6, 3
_BEYOND_S, _LOOKS, _LONGEST_STRIDE_S = 45, 11, 60

_NOTED = re.compile(
    r"\b(?:camera|cam)\b.{0,30}?(?P<number>\d+(?:\.\d+)?|an?|one|two|three|four|five|ten|half an?)\s*"
    r"(?P<unit>s(?:ec\w*)?|m(?:in\w*)?|h(?:(?:ou)?rs?)?)\b.{0,12}?\b(?P<way>fast|ahead|slow|behind)\b",
    re.IGNORECASE,
)
_COUNTS = {"a": 1.0, "an": 1.0, "one": 1.0, "two": 2.0, "three": 3.0, "four": 4.0, "five": 5.0, "ten": 10.0}
_UNITS_S = {"s": 1.0, "m": 60.0, "h": 3600.0}
_NOTED_SPREAD_S = 40.0


@frozen
class Footage:
    """The camera's time of each beat and the hours of each deed, in seconds from a common start.

    `camera_s` is NaN where no clip stands; `windows` give for each habit of noting the start and end of each
    deed by the log's clock.
    """

    camera_s: Array
    windows: dict[Habit, tuple[Array, Array]]

    def fit(self, habit: Habit, offset_s: float, edge_s: float = _EDGE_S) -> Array:
        """Give the chance (0 to 1) that each beat's footage shows each deed, if the offset is this."""
        if habit == "mixed":
            return (self.fit("before", offset_s, edge_s) + self.fit("after", offset_s, edge_s)) / 2
        start, end = self.windows[habit]
        at = self.camera_s - offset_s
        inside: Array = _soft((at - start[:, None]) / edge_s) * _soft((end[:, None] - at) / edge_s)
        return inside

    def gain(self, habit: Habit, offset_s: float, edge_s: float = _EDGE_S) -> Array:
        """Give the log likelihood of each beat's footage under each entry; 0 where no clip stands."""
        return np.nan_to_num(np.log(_FLOOR + (1 - _FLOOR) * self.fit(habit, offset_s, edge_s)), nan=0.0)


def _soft(ratio: Array) -> Array:
    step: Array = 1 / (1 + np.exp(-np.clip(ratio, -30, 30)))
    return step


def footage_of(
    beats: tuple[Beat, ...], clips: tuple[Clip, ...], cuts: tuple[CutEvent, ...], deeds: tuple[Deed, ...]
) -> Footage | None:
    """Join clips, cut list and log; None where one of them is missing or tells no time."""
    starts = {clip.name: clip.start for clip in clips}
    events = [e for e in cuts if e.clip in starts and e.source is not None and e.track != "audio"]
    dated = [deed for deed in deeds if deed.day is not None and deed.at is not None]
    if not events or len(dated) < len(deeds):
        return None
    origin = min(starts[event.clip] for event in events if event.clip)
    camera_s = np.full(len(beats), np.nan)
    firsts = [event.record.start_ms for event in events]
    order = sorted(range(len(events)), key=firsts.__getitem__)
    at = 0
    for j, beat in enumerate(beats):
        middle = (beat.start_ms + beat.end_ms) // 2
        while at + 1 < len(order) and events[order[at + 1]].record.start_ms <= middle:
            at += 1
        event = events[order[at]]
        if event.record.start_ms <= middle < event.record.end_ms and event.clip:
            into_ms = _source_ms(event, middle)
            camera_s[j] = (starts[event.clip] - origin).total_seconds() + into_ms / 1000
    return Footage(camera_s, _windows(deeds, origin))


def _source_ms(event: CutEvent, programme_ms: int) -> float:
    """Give the time inside the clip that stands at a time of the programme."""
    assert event.source is not None  # noqa: S101 - only events with a source get here
    begins = event.source.end_ms if event.speed < 0 else event.source.start_ms
    return begins + float(event.speed) * (programme_ms - event.record.start_ms)


def _windows(deeds: tuple[Deed, ...], origin: datetime) -> dict[Habit, tuple[Array, Array]]:
    """Give when each deed was done, for either habit.

    Up to the next note of its day if notes are made before, from the one above if they are made after.
    """
    when = np.array([_since(deed.day, deed.at, origin) for deed in deeds])
    following, previous = when + _OPEN_S, when - _OPEN_S
    for k, deed in enumerate(deeds):
        day = [when[i] for i, other in enumerate(deeds) if other.day == deed.day]
        following[k] = min([*(t for t in day if t > when[k]), following[k]])
        previous[k] = max([*(t for t in day if t < when[k]), previous[k]])
    return {"before": (when, following), "after": (previous, when)}


def _since(day: date | None, at: time | None, origin: datetime) -> float:
    return (datetime.combine(day or date.min, at or time()) - origin) / timedelta(seconds=1)


def noted_offset_s(entries: tuple[Entry, ...]) -> float | None:
    """Read an offset that the maker noted ("camera clock abt 4 min fast"); seconds, fast is positive."""
    for entry in entries:
        if match := _NOTED.search(entry.text):
            word = match["number"].casefold()
            number = 0.5 if word.startswith("half") else _COUNTS.get(word) or float(word)
            seconds = number * _UNITS_S[match["unit"][0].casefold()]
            return seconds if match["way"].casefold() in {"fast", "ahead"} else -seconds
    return None


def find_offset(
    footage: Footage, telling: Array, noted_s: float | None, likelihood: Callable[[Array], float] | None
) -> tuple[ClockOffset, Habit] | None:
    """Find the camera's offset from where the words put the entries; None where the evidence is thin.

    `telling` (entries by beats) is what the words say. `likelihood`, if given, tells how well all of the
    words and a footage gain go together, and narrows the interval. Every offset within 3 hours is weighed,
    under each habit of noting; one that has not nine tenths of the weight to itself is no finding.
    """
    seen = ~np.isnan(footage.camera_s)
    clear = (telling[:, seen] > 0.5).any(axis=1).sum()  # noqa: PLR2004 - more likely than not
    if seen.sum() < _EVENTS or clear < _ENTRIES:
        return None
    offsets = np.arange(-_FARTHEST_S, _FARTHEST_S + 1, _STEP_S, dtype=float)
    prior = 0.0 if noted_s is None else -0.5 * ((offsets - noted_s) / _NOTED_SPREAD_S) ** 2
    curves = {habit: _curve(footage, telling, habit, offsets) + prior for habit in HABITS}
    habit = max(HABITS, key=lambda one: float(np.logaddexp.reduce(curves[one])))
    curve = curves[habit]
    near = np.abs(offsets - offsets[int(curve.argmax())]) <= _WIDEST_S / 2
    weight = np.exp(curve - curve.max())
    within = offsets[near & (curve >= curve.max() - _DROP)]
    if weight[near].sum() < _SURE_MASS * weight.sum() or within[-1] - within[0] > _WIDEST_S:
        return None
    best = float(within[np.argmax(curve[np.isin(offsets, within)])])
    found = ClockOffset(round(within[0]), round(best), round(within[-1]))
    return (found if likelihood is None else _refined(footage, habit, found, noted_s, likelihood)), habit


def _curve(footage: Footage, telling: Array, habit: Habit, offsets: Array) -> Array:
    """Give the log likelihood of each offset, every beat with footage counted by what the words say of it."""
    parts: tuple[Habit, ...] = ("before", "after") if habit == "mixed" else (habit,)
    share = 1 / len(parts)
    total = np.zeros(len(offsets))
    for j in np.flatnonzero(~np.isnan(footage.camera_s)).tolist():
        chances = telling[:, j]
        likely = np.flatnonzero(chances > 0.05).tolist()  # noqa: PLR2004 - the rest changes nothing
        row = np.full(len(offsets), 1 - chances.sum() + _FLOOR * chances.sum())
        for part in parts:
            start, end = footage.windows[part]
            for entry in likely:
                low, high = np.searchsorted(
                    offsets, (footage.camera_s[j] - end[entry], footage.camera_s[j] - start[entry])
                )
                row[low:high] += (1 - _FLOOR) * share * chances[entry]
        total += np.log(np.maximum(row, 1e-6))
    return total


def _refined(
    footage: Footage,
    habit: Habit,
    found: ClockOffset,
    noted_s: float | None,
    likelihood: Callable[[Array], float],
) -> ClockOffset:
    low, high = found.low_s - _BEYOND_S, found.high_s + _BEYOND_S
    offsets = np.linspace(low, high, max(_LOOKS, 1 + (high - low) // _LONGEST_STRIDE_S))
    curve = np.array([likelihood(footage.gain(habit, offset)) for offset in offsets])
    if noted_s is not None:
        curve -= 0.5 * ((offsets - noted_s) / _NOTED_SPREAD_S) ** 2
    fine = np.arange(low, high + 1, 1.0)
    smooth = np.interp(fine, offsets, curve)
    within = fine[smooth >= smooth.max() - _DROP]
    return ClockOffset(round(within[0]), round(float(fine[smooth.argmax()])), round(within[-1]))
