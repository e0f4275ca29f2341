"""What a maker calls things: learnt within the episode, from where the same words of the log are told."""

from __future__ import annotations

from collections import Counter, defaultdict

import numpy as np
from numpy.typing import NDArray

from reelnotes.align.score import Features, Heard

Array = NDArray[np.float64]

_LIKELY = 0.1
_ENTRIES = 2
_PRIOR, _OFTENER = 2.0, 6.0


def add_aliases(lift: Array, telling: Array, logged: list[Features], heard: Heard, share: float) -> Array:
    """Give the lifts with the maker's own names for things added.

    A word of the log that stands in several entries gathers the words that are spoken while those entries
    are told; those spoken there much more often than elsewhere, and in more than one of them, are its
    aliases ("the lamp" and "Doris"). A word of one entry alone learns nothing: it could only confirm where
    it was first put. After IBM Model 1 (Brown and others, Computational Linguistics 19, 1993), one round.
    """
    entries_with: dict[str, list[int]] = defaultdict(list)
    for entry, features in enumerate(logged):
        for word in dict.fromkeys(features.words):
            entries_with[word].append(entry)
    by_entry = _gathered(telling, heard)
    added = lift.copy()
    for word, entries in entries_with.items():
        if len(entries) < _ENTRIES or word[0] == "#" or 3 * len(entries) > 2 * len(logged):
            continue
        names = _names_for([by_entry[entry] for entry in entries], heard)
        whole = sum(names.values())
        for entry in entries:
            known = len(set(logged[entry].words))
            for name, weight in names.items():
                column = heard.index[name]
                added[entry, column] += share / known * weight / whole / heard.share[column]
    return added


def _gathered(telling: Array, heard: Heard) -> list[Counter[str]]:
    by_entry: list[Counter[str]] = [Counter() for _ in telling]
    rows, columns = np.nonzero(telling > _LIKELY)
    for entry, j in zip(rows.tolist(), columns.tolist(), strict=True):
        weight = float(telling[entry, j])
        for word in heard.beats[j]:
            by_entry[entry][word] += weight  # type: ignore[assignment]
    return by_entry


def _names_for(gathered: list[Counter[str]], heard: Heard) -> dict[str, float]:
    """Pick the words that are spoken in several of these tellings and seldom elsewhere, with their weight."""
    told = sum(sum(words.values()) for words in gathered)
    names: dict[str, float] = {}
    for word in {word for words in gathered for word in words}:
        parts = [words[word] for words in gathered if words[word] > _LIKELY]
        if len(parts) < _ENTRIES or word[0] == "#":
            continue
        spoken, count = sum(parts), heard.counts[word]
        elsewhere = max(0.0, count - spoken) + _PRIOR * count / heard.total
        often = spoken * (heard.total - told + _PRIOR) > _OFTENER * elsewhere * told
        surplus = spoken - count / heard.total * told
        if often and surplus > 0:
            names[word] = surplus
    return names
