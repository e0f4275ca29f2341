"""Cutting a talk into topics: the cut of least cost by dynamic programming.

The cost of a topic is that of Utiyama and Isahara (A statistical model for domain-independent text
segmentation, ACL 2001), less a term for its cohesion. It is in nats, so that evidence for a topic's opening
(a pause, "next", the start of a step) can be added to it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

#: Weight of cohesion, and of the price of each further topic: measured on joined texts.
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
    vocabulary: dict[str, int] = {}
    rows: list[int] = []
    columns: list[int] = []
    times: list[int] = []
    for row, block in enumerate(blocks):
        for word, often in Counter(block).items():
            rows.append(row)
            columns.append(vocabulary.setdefault(word, len(vocabulary)))
            times.append(often)
    size, standing = len(vocabulary), (np.array(rows), np.array(columns))
    repeated = _repeated(np.repeat(standing, times, axis=1), count, longest)
    products = _products(standing, np.array(times, dtype=np.float64), (count, size), longest)
    words = np.array([0, *(len(block) for block in blocks)], dtype=np.float64).cumsum()
    costs: NDArray[np.float64] = np.full((count, longest), np.inf)
    for more in range(min(longest, count)):
        some = slice(count - more)
        said = words[more + 1 :] - words[some]
        norm = np.sqrt(np.maximum(products[some, more], 0.0))
        costs[some, more] = said * np.log(said + size) - repeated[some, more] - _COHESION * norm
    costs += _PRICE * np.log(max(float(words[-1]), 2.0))
    return costs


def _over_runs(pairs: NDArray[np.float64]) -> NDArray[np.float64]:
    """Sum what stands on pairs of blocks over all pairs within each run.

    `pairs` has the earlier block in its row and the distance to the later one in its column, the result the
    first block of a run and how many more it has.
    """
    import numpy as np

    count, longest = pairs.shape
    by_end = np.zeros_like(pairs)
    for apart in range(min(longest, count)):
        by_end[apart:, apart] = pairs[: count - apart, apart]
    by_end = by_end.cumsum(axis=1)
    sums = np.zeros_like(pairs)
    for more in range(min(longest, count)):
        before = sums[: count - more, more - 1] if more else 0.0
        sums[: count - more, more] = before + by_end[more:, more]
    return sums


def _neighbours(
    row: NDArray[np.intp], word: NDArray[np.intp], longest: int
) -> Iterator[tuple[int, NDArray[np.bool_]]]:
    """Go through the pairs that are m-th neighbours among the places of one word (m = 0, 1, 2 …).

    The places are sorted by word, then row. Pairs further apart than a run can be are left out.
    """
    for apart in range(row.size):
        end = row.size - apart
        near = (word[:end] == word[apart:]) & (row[apart:] - row[:end] < longest)
        if not near.any():
            return
        yield apart, near


def _repeated(standing: NDArray[np.intp], count: int, longest: int) -> NDArray[np.float64]:
    """Sum `f ln(f + 1)` for all runs at once.

    A pair of occurrences of one word that are m-th neighbours adds the second difference of that function at
    m + 1 to the cell of their two blocks: summed over a run, the pairs in it add up to the function itself.
    """
    import numpy as np

    row, word = standing[:, np.lexsort(standing)]
    often = np.arange(row.size + 2, dtype=np.float64)
    second = np.diff(np.diff(often * np.log(often + 1), prepend=0.0), prepend=0.0)
    pairs = np.zeros((count, longest))
    for apart, near in _neighbours(row, word, longest):
        early, late = row[: row.size - apart][near], row[apart:][near]
        np.add.at(pairs, (early, late - early), second[apart + 1])
    return _over_runs(pairs)


def _products(
    standing: tuple[NDArray[np.intp], NDArray[np.intp]],
    times: NDArray[np.float64],
    shape: tuple[int, int],
    longest: int,
) -> NDArray[np.float64]:
    """Sum the products of the blocks' unit TF-IDF vectors, word by word: a block has few of all the words."""
    import numpy as np

    row, word = standing
    weight = times * np.log(shape[0] / np.bincount(word, minlength=shape[1])[word])
    norm = np.sqrt(np.bincount(row, weight * weight, minlength=shape[0]))
    weight /= np.where(norm > 0, norm, 1.0)[row]
    order = np.lexsort(standing)
    row, word, weight = row[order], word[order], weight[order]
    pairs = np.zeros((shape[0], longest))
    for apart, near in _neighbours(row, word, longest):
        early, late = row[: row.size - apart][near], row[apart:][near]
        product = weight[: row.size - apart][near] * weight[apart:][near]
        np.add.at(pairs, (early, late - early), product if apart == 0 else 2 * product)
    return _over_runs(pairs)


def cheapest_cuts(costs: Sequence[Sequence[float]]) -> list[int]:
    """Find the starts of the runs that cut all blocks at least total cost; the first is always 0.

    `costs` has a row for each block: what a run from there costs that has no, one, two … more blocks; what
    would go over the end does not count, infinite forbids. Where every cut is forbidden, there is one run. On
    a tie the longest last run wins.
    """
    infinite = float("inf")
    count = len(costs)
    best = [0.0] + [infinite] * count
    come_from = [0] * (count + 1)
    for first, row in enumerate(costs):
        base = best[first]
        if base == infinite:
            continue
        for end, cost in enumerate(row[: count - first], first + 1):
            if base + cost < best[end]:
                best[end], come_from[end] = base + cost, first
    starts: list[int] = []
    end = count if best[count] < infinite else 0
    while end > 0:
        end = come_from[end]
        starts.append(end)
    return starts[::-1] or [0]
