"""Places in speech or log at which something risky is told, before they become flags."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reelnotes.model import Tier, Topic
from reelnotes.records import frozen
from reelnotes.risk.finding import Finding
from reelnotes.risk.rules import Join, Rule
from reelnotes.risk.speech import Run, Window

#: Windows of one topic nearer than this tell the same thing.
SAME_MS = 8000


@frozen
class Place:
    """Words `first` up to and without `end` of a run, with how sure the reading is (0 to 1).

    `entry` is the log entry, times are None there. `rules` are the rules met, `words` what raised it.
    """

    topic: Topic
    score: float
    tier: Tier
    first: int
    end: int
    quote: str
    entry: int | None = None
    start_ms: int | None = None
    end_ms: int | None = None
    rules: tuple[Rule | Join, ...] = ()
    words: tuple[str, ...] = ()

    def at(self, start_ms: int, end_ms: int) -> Place:
        """Give the place with times in the programme."""
        return replace(self, start_ms=start_ms, end_ms=end_ms)

    def told_by(self, words: Sequence[str]) -> Place:
        """Give the place with the reader's telling words behind those of the rules."""
        return replace(self, words=(*self.words, *(w for w in words if w not in self.words)))


@frozen
class Reading:
    """What was read of one topic in a run: each window with its score, and the rules that are met."""

    run: Run
    topic: Topic
    spans: Sequence[Window]
    scores: NDArray[np.floating]
    met: Sequence[Finding]

    def places(self, look: float, firm: float) -> list[Place]:
        """Give the best windows from score `look` on, the surest first, none of them near a surer one."""
        chosen: list[Place] = []
        taken = _Taken(self.run)
        for number in np.argsort(-self.scores, kind="stable"):
            score = float(self.scores[number])
            if score < look:
                break
            if taken.takes(self.spans[number]):
                chosen.append(self._place(self.spans[number], score, "firm" if score >= firm else "look"))
        return chosen

    def _place(self, span: Window, score: float, tier: Tier) -> Place:
        run, speech = self.run, self.run.entries is None
        met = [f for f in self.met if f.first < span.end and f.end > span.first]
        words = [run.quote(m.first, m.end) for f in met for m in f.mentions]
        return Place(
            topic=self.topic,
            score=score,
            tier=tier,
            first=span.first,
            end=span.end,
            quote=run.quote(span.first, span.end),
            entry=run.entry(span.first),
            start_ms=run.at_ms[span.first] if speech else None,
            end_ms=run.ends_at_ms(span.end - 1) if speech else None,
            rules=tuple(dict.fromkeys(f.rule for f in met)),
            words=tuple(dict.fromkeys(words)),
        )


class _Taken:
    """Where a topic has been told already: log entries, or times of speech, none of them near another."""

    def __init__(self, run: Run) -> None:
        self.run = run
        self.entries: set[int | None] = set()
        self.times: list[tuple[int, int]] = []

    def takes(self, span: Window) -> bool:
        """Take a window unless it tells what is told already; times stay in order: two are compared."""
        if self.run.entries is not None:
            entry = self.run.entry(span.first)
            new = entry not in self.entries
            self.entries.add(entry)
            return new
        start_ms, end_ms = self.run.at_ms[span.first], self.run.ends_at_ms(span.end - 1)
        at = bisect_left(self.times, (start_ms, end_ms))
        beside = self.times[max(0, at - 1) : at + 1]
        if any(start_ms < end + SAME_MS and end_ms > start - SAME_MS for start, end in beside):
            return False
        self.times.insert(at, (start_ms, end_ms))
        return True
