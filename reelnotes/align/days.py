"""Days and hours named in speech ("so Sunday", "next morning", "after dinner") against those of the log."""

from __future__ import annotations

import re
from datetime import date, time

import numpy as np
from numpy.typing import NDArray

from reelnotes.align.beats import Beat
from reelnotes.align.deeds import WEEKDAYS, Deed

Array = NDArray[np.float64]

_NAMED = re.compile(r"\b(monday|tuesday|wednesday|thursday|friday|saturday|sunday)s?\b", re.IGNORECASE)
_NEW_DAY = re.compile(
    r"\b(?:(?:the )?(?:next|following) (?:morning|day|weekend)|(?:a|one|two|three|couple of) days? later"
    r"|overnight|(?:second|third|fourth|last) (?:day|morning)|day (?:two|three|four|five|2|3|4|5))\b",
    re.IGNORECASE,
)
_MORNING = re.compile(r"\b(?:morning|first thing|breakfast|before lunch|before dinner)\b", re.IGNORECASE)
_LATER = re.compile(
    r"\b(?:afternoon|after (?:lunch|dinner)|tea ?time|evening|end of the day|before supper)\b", re.IGNORECASE
)
_EARLY_ENTRIES = 3
_NOON = time(12)
#: How long the day named last still counts, and how much it weighs once it is only remembered.
_MEMORY_MS, _REMEMBERED = 90_000, 0.5


def day_gains(deeds: tuple[Deed, ...], beats: tuple[Beat, ...], weight: float) -> Array:
    """Give the log likelihood that a beat tells an entry, by the day and part of the day that is named.

    A day named counts fully in its own beat and fades over the next minute and a half; a name that is none
    of the log's days counts for nothing. `weight` is in nats for a day that fits.
    """
    gain = np.zeros((len(deeds), len(beats)))
    days = [deed.day for deed in deeds]
    if any(day is None for day in days) or len(set(days)) < 2:  # noqa: PLR2004 - one day tells nothing apart
        return gain
    fits = _fits(deeds)
    remembered: Array | None = None
    since = 0
    for j, beat in enumerate(beats):
        clue = _clue(beat.text, fits)
        if clue is not None:
            gain[:, j] += weight * clue
            if _NAMED.search(beat.text):
                remembered, since = clue, beat.start_ms
        elif remembered is not None:
            fading = max(0.0, 1 - (beat.start_ms - since) / _MEMORY_MS)
            gain[:, j] += weight * _REMEMBERED * fading * remembered
    return gain


def _fits(deeds: tuple[Deed, ...]) -> dict[str, Array]:
    """Give for each kind of clue a row of +1 (fits the entry), -1 (does not) or 0."""
    days: list[date] = sorted({deed.day for deed in deeds if deed.day})
    fits: dict[str, Array] = {}
    for number, name in enumerate(WEEKDAYS):
        row = np.array([1.0 if deed.day and deed.day.weekday() == number else -1.0 for deed in deeds])
        fits[name] = row if (row > 0).any() else np.zeros(len(deeds))
    early = np.full(len(deeds), -0.5)
    for day in days[1:]:
        on_day = [deed.entry for deed in sorted(deeds, key=_hour) if deed.day == day]
        early[on_day[:_EARLY_ENTRIES]] = 1.0
    fits["new"] = early
    fits["morning"] = np.array([_part(deed, morning=True) for deed in deeds])
    fits["later"] = np.array([_part(deed, morning=False) for deed in deeds])
    return fits


def _hour(deed: Deed) -> time:
    return deed.at or time.max


def _part(deed: Deed, *, morning: bool) -> float:
    if deed.at is None:
        return 0.0
    return 0.4 if (deed.at < _NOON) == morning else -0.4


def _clue(words: str, fits: dict[str, Array]) -> Array | None:
    named = _NAMED.findall(words)
    clues = [fits[name.casefold()] for name in named]
    if len(set(named)) > 1:  # "takes from Wednesday to Friday": no day is meant
        return None
    if not named and _NEW_DAY.search(words):
        clues.append(fits["new"])
    if _MORNING.search(words):
        clues.append(fits["morning"])
    elif _LATER.search(words):
        clues.append(fits["later"])
    return np.sum(clues, axis=0) if clues else None
