"""Fit the matcher's habits on labelled episodes: which round values give the truth the best chances.

Coordinate ascent over a coarse grid from plain starting values; a value is changed only where that clearly
helps, so that the habits of a few makers are not taken for those of all. `scripts/score.py` uses it to fit on
the episodes of the other makers and score the one left out.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reelnotes.align.beats import beats_of
from reelnotes.align.telling import Reading, Tuning, read_words, weigh
from reelnotes.pipeline.reading import read_episode
from reelnotes.words.lexicon import load_lexicon

Array = NDArray[np.float64]

TOLERANCE_S = 10.0
#: A change must raise the mean log chance of the truth by this.
CLEARLY = 0.003
#: No single entry counts for more than this chance's logarithm.
FLOOR = 0.02
ROUNDS = 3
GRID: dict[str, tuple[float, ...]] = {
    "echo.words": (0.12, 0.16, 0.2, 0.25, 0.3),
    "echo.fields": (0.1, 0.15, 0.2, 0.28),
    "echo.aliases": (0.05, 0.1, 0.2, 0.3),
    "habits.rest": (0.3, 0.5, 0.7),
    "habits.jump": (0.1, 0.2, 0.3),
    "habits.telling": (0.2, 0.3, 0.45),
    "habits.idling": (0.2, 0.3, 0.45),
    "habits.kin": (0.3, 0.5, 0.7),
    "chances.off": (0.05, 0.1, 0.15),
    "chances.work": (0.7, 0.8, 0.9),
    "chances.plain": (0.5, 0.7, 0.8),
    "heed": (-0.2, -0.1, 0.0, 0.1),
    "day": (0.0, 0.5, 1.0),
    "pause": (1.5, 2.5, 4.0),
    "onward": (1.0, 1.5, 2.0),
}
START: dict[str, float] = {
    "echo.words": 0.2, "echo.fields": 0.2, "echo.aliases": 0.1, "habits.rest": 0.5, "habits.jump": 0.2,
    "habits.telling": 0.3, "habits.idling": 0.3, "habits.kin": 0.5, "chances.off": 0.1, "chances.work": 0.8,
    "chances.plain": 0.7, "heed": 0.0, "day": 0.5, "pause": 2.5, "onward": 1.5,
}  # fmt: skip


@dataclass(frozen=True)
class Labelled:
    """An episode with its labels: `told` for each entry, `right` for each beat at which it may begin."""

    name: str
    reading: Reading
    told: NDArray[np.bool_]
    right: Array


def labelled(folder: Path) -> Labelled:
    """Read an episode folder that holds a `truth.json`."""
    facts, _ = read_episode(folder)
    beats = beats_of(facts.cues)
    steps = json.loads((folder / "truth.json").read_text("utf-8"))["steps"]
    starts = np.array([beat.start_ms / 1000 for beat in beats])
    right = np.zeros((len(facts.entries), len(beats)))
    for step in steps:
        for low, high in step["spans"]:
            right[step["entry"]] += (starts >= low - TOLERANCE_S) & (starts <= high + TOLERANCE_S)
    told = np.array([bool(step["spans"]) for step in steps])
    lexicon = load_lexicon(facts.workshop.words)
    return Labelled(
        folder.name, read_words(facts.entries, beats, lexicon, facts.shelf), told, np.minimum(right, 1)
    )


def tuning_of(values: dict[str, float]) -> Tuning:
    """Turn named values into a tuning."""
    tuning = Tuning()
    for name, value in values.items():
        room, _, inner = name.rpartition(".")
        change: Any = replace(getattr(tuning, room), **{inner: value}) if room else value
        tuning = replace(tuning, **{room or inner: change})
    return tuning


def chance_of_truth(episode: Labelled, tuning: Tuning) -> float:
    """Give the mean log chance that the matcher gives to what is true of each entry."""
    starting = weigh(episode.reading, {}, tuning).posterior().starting
    whole = starting.sum(axis=1)
    placed = np.minimum((starting * episode.right).sum(axis=1), 1) / np.maximum(whole, 1)
    hit = np.where(episode.told, placed, 1 - np.minimum(whole, 1))
    return float(np.log(np.maximum(hit, FLOOR)).mean())


def fitted(episodes: Sequence[Labelled]) -> dict[str, float]:
    """Find the values of the grid that suit these episodes; each counts the same."""

    def score(values: dict[str, float]) -> float:
        tuning = tuning_of(values)
        return float(np.mean([chance_of_truth(episode, tuning) for episode in episodes]))

    best, best_score = dict(START), score(START)
    for _ in range(ROUNDS):
        before = best_score
        for name, choices in GRID.items():
            tried = [(score({**best, name: value}), value) for value in choices if value != best[name]]
            found, value = max(tried)
            if found > best_score + CLEARLY:
                best_score, best = found, {**best, name: value}
        if best_score == before:
            break
    return best


def changed(values: dict[str, float]) -> str:
    """Say which values differ from the plain ones."""
    pairs = [f"{name} {value:g}" for name, value in values.items() if value != START[name]]
    return ", ".join(pairs) or "nothing changed"


def main(arguments: Iterable[str] | None = None) -> int:
    """Print the values fitted on the given episode folders."""
    parser = argparse.ArgumentParser(description="Fit the matcher's habits on labelled episode folders.")
    parser.add_argument("folders", nargs="+", type=Path)
    folders = parser.parse_args(None if arguments is None else list(arguments)).folders
    values = fitted([labelled(folder) for folder in folders])
    print("\n".join(f"{name:16} {value:g}" for name, value in values.items()))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
