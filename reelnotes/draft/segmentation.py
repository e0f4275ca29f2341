"""Cutting a talk into topics: the cut of least cost by dynamic programming.

The cost of a topic is that of Utiyama and Isahara (A statistical model for domain-independent text
segmentation, ACL 2001), less a term for its cohesion. It is in nats, so that evidence for a topic's opening
(a pause, "next", the start of a step) can be added to it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

#: Weight of cohesion and of the price of each further topic; measured on a set of joined texts.
_COHESION = 8.0
_PRICE = 2.5


def topic_costs(blocks: Sequence[Sequence[str]], longest: int) -> NDArray[np.float64]:
    """Give the cost of every run of blocks as one topic: row is the first block, column how many more.

    A block is the list of its words (stems). With N words of which f fall on each of V different ones, a run
    costs `N ln(N + V) - sum f ln(f + 1) - 8 |sum of the blocks' unit TF-IDF vectors| + 2.5 ln(words in all)`.
    Runs longer than `longest` blocks, or over the end, are infinite.
    """
    import numpy as np

    count = len(blocks)
    totals = Counter(word for block in blocks for word in block)
    spread = Counter(word for block in blocks for word in set(block))
    shared = {word: i for i, word in enumerate(w for w, n in totals.items() if n > 1)}
    table = np.zeros((count, len(shared)), dtype=np.int32)
    weights = np.zeros((count, len(shared)), dtype=np.float32)
    lengths, norms = np.zeros(count), np.zeros(count)
    for row, block in enumerate(blocks):
        lengths[row] = len(block)
        for word, times in Counter(block).items():
            weight = times * np.log(count / spread[word])
            norms[row] += weight * weight
            if (column := shared.get(word)) is not None:
                table[row, column] = times
                weights[row, column] = weight
    unit = weights / np.sqrt(np.maximum(norms, 1e-9))[:, None]
    # Words that stand once take no part in any product of two blocks: only in each block with itself.
    products = np.asarray(unit @ unit.T, dtype=np.float64)
    np.fill_diagonal(products, (norms > 0).astype(np.float64))
    alone = lengths - table.sum(axis=1)
    gain = np.arange(int(max(totals.values(), default=1)) + 2, dtype=np.float64)
    gain = gain * np.log(gain + 1)
    price = _PRICE * np.log(max(lengths.sum(), 2.0))
    square = np.zeros((count + 1, count + 1))
    square[1:, 1:] = products.cumsum(axis=0).cumsum(axis=1)
    costs = np.full((count, longest), np.inf)
    for first in range(count):
        last = min(count, first + longest)
        ends = np.arange(first + 1, last + 1)
        words = lengths[first:last].cumsum()
        repeated = gain[table[first:last].cumsum(axis=0)].sum(axis=1)
        once = np.log(2.0) * alone[first:last].cumsum()
        norm2 = square[ends, ends] - 2 * square[first, ends] + square[first, first]
        cohesion = _COHESION * np.sqrt(np.maximum(norm2, 0.0))
        costs[first, : last - first] = (
            words * np.log(words + len(totals)) - repeated - once - cohesion + price
        )
    return costs


def cheapest_cuts(count: int, longest: int, cost: Callable[[int, int], float]) -> list[int]:
    """Find the starts of the runs that cut `count` blocks at least total cost; the first is always 0.

    `cost(first, end)` is that of the run of blocks `first` to `end` (excluded), at most `longest` of them;
    infinite forbids. Where every cut is forbidden, there is one run. On a tie the longer last run wins.
    """
    infinite = float("inf")
    best = [0.0] + [infinite] * count
    come_from = [0] * (count + 1)
    for end in range(1, count + 1):
        for first in range(max(0, end - longest), end):
            if best[first] == infinite:
                continue
            total = best[first] + cost(first, end)
            if total < best[end]:
                best[end], come_from[end] = total, first
    starts: list[int] = []
    end = count if best[count] < infinite else 0
    while end > 0:
        end = come_from[end]
        starts.append(end)
    return starts[::-1] or [0]
