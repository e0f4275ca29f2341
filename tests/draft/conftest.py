"""Small episodes of makers invented here, written as they would write them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from time import process_time

import pytest

from reelnotes.draft.materials import draft_materials
from reelnotes.model import Cue, Entry, Material, ShelfItem, Spending, Step, StepSpan
from reelnotes.problems import Problem
from reelnotes.words.lexicon import load_lexicon

CUE_MS = 6000


def entries_of(log: str) -> tuple[Entry, ...]:
    """Make an entry of each line."""
    lines = [line.strip() for line in log.strip().splitlines() if line.strip()]
    return tuple(Entry(index, line, index + 1) for index, line in enumerate(lines))


def cues_of(speech: str, *, pauses: dict[int, int] | None = None) -> tuple[Cue, ...]:
    """Make a cue of 6 s of each line; `pauses` gives the pause in ms before a cue, by its index."""
    cues, at = [], 0
    for index, line in enumerate(line.strip() for line in speech.strip().splitlines() if line.strip()):
        at += (pauses or {}).get(index, 0)
        cues.append(Cue(at, at + CUE_MS, line, index + 1))
        at += CUE_MS
    return tuple(cues)


def steps_of(entries: tuple[Entry, ...], told: dict[int, tuple[int, int]]) -> tuple[Step, ...]:
    """Make steps; `told` gives the first and last second where an entry is told."""
    return tuple(
        Step(
            id=str(entry.index),
            entry=entry.index,
            text=entry.text,
            told=0.9 if entry.index in told else 0.1,
            spans=(StepSpan(told[entry.index][0] * 1000, told[entry.index][1] * 1000, 0.9, "words"),)
            if entry.index in told
            else (),
        )
        for entry in entries
    )


def shelf_of(rows: str) -> tuple[ShelfItem, ...]:
    """Make a shelf of `name | pack unit | price | kind | notes | given` lines."""
    items = []
    for line, row in enumerate((row for row in rows.strip().splitlines() if row.strip()), start=2):
        name, pack, price, kind, notes, given = [p.strip() for p in f"{row}|||||".split("|")[:6]]
        amount, _, unit = pack.partition(" ")
        items.append(
            ShelfItem(
                name=name,
                pack=Decimal(amount) if amount else None,
                unit=unit,
                price=Decimal(price) if price else None,
                kind=kind,
                notes=notes,
                given=given,
                line=line,
            )
        )
    return tuple(items)


@dataclass(frozen=True, slots=True)
class Spent:
    """What was drafted, with ways to ask for it."""

    spending: Spending
    problems: list[Problem]

    @property
    def used(self) -> dict[str, Material]:
        """The materials by name."""
        return {material.name: material for material in self.spending.materials}

    def amount(self, name: str) -> str | None:
        """Give amount and unit of a material as one text, None if it was not measured."""
        material = self.used[name]
        return None if material.amount is None else f"{material.amount:f} {material.unit}"


SpendingDraft = Callable[..., Spent]


@pytest.fixture
def spent() -> SpendingDraft:
    """Draft the materials of a log and a talk over a shelf."""

    def draft(
        shelf: str,
        log: str = "",
        speech: str = "",
        *,
        told: dict[int, tuple[int, int]] | None = None,
        currency: str = "GBP",
        budget: Decimal | None = None,
    ) -> Spent:
        entries = entries_of(log)
        spending, problems = draft_materials(
            entries,
            steps_of(entries, told or {}),
            cues_of(speech),
            shelf_of(shelf),
            load_lexicon(),
            currency,
            budget,
        )
        return Spent(spending, problems)

    return draft


@pytest.fixture
def benchmark_ms() -> Callable[[Callable[[], object]], float]:
    """Give the processor time of a call in ms: no clock on the wall, which others slow down."""

    def run(call: Callable[[], object]) -> float:
        start = process_time()
        call()
        return (process_time() - start) * 1000

    return run
