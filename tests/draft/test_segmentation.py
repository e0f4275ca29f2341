"""The cut of least cost: against brute force, against the formula, and by Pk and window difference."""

from __future__ import annotations

import math
import random
from collections import Counter, defaultdict
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from nltk.metrics.segmentation import pk, windowdiff

from reelnotes.draft.segmentation import cheapest_cuts, topic_costs

BLOCKS = st.lists(st.lists(st.sampled_from("abcdefgh"), min_size=1, max_size=6), min_size=1, max_size=9)


def unit_vector(block: list[str], blocks: list[list[str]]) -> dict[str, float]:
    spread = Counter(word for other in blocks for word in set(other))
    weights = {word: n * math.log(len(blocks) / spread[word]) for word, n in Counter(block).items()}
    norm = math.sqrt(sum(weight * weight for weight in weights.values()))
    return {word: weight / norm for word, weight in weights.items()} if norm else {}


def cost_by_formula(blocks: list[list[str]], first: int, end: int) -> float:
    """Work the cost of a run out word by word, straight from the formula."""
    words = [word for block in blocks[first:end] for word in block]
    vocabulary = {word for block in blocks for word in block}
    likelihood = len(words) * math.log(len(words) + len(vocabulary))
    likelihood -= sum(n * math.log(n + 1) for n in Counter(words).values())
    total: defaultdict[str, float] = defaultdict(float)
    for block in blocks[first:end]:
        for word, weight in unit_vector(block, blocks).items():
            total[word] += weight
    cohesion = 8 * math.sqrt(sum(weight * weight for weight in total.values()))
    return likelihood - cohesion + 2.5 * math.log(max(sum(map(len, blocks)), 2))


@given(BLOCKS, st.integers(1, 9))
@settings(max_examples=60, deadline=None)
def test_costs_follow_the_formula(blocks: list[list[str]], longest: int) -> None:
    """The costs worked out for all runs at once are those of the formula for each run."""
    costs = topic_costs(blocks, longest)
    assert costs.shape == (len(blocks), longest)
    for first in range(len(blocks)):
        for more in range(longest):
            end = first + more + 1
            wanted = cost_by_formula(blocks, first, end) if end <= len(blocks) else math.inf
            assert costs[first, more] == pytest.approx(wanted, abs=1e-6)


@given(st.integers(1, 9), st.integers(1, 9), st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_cheapest_of_all(count: int, longest: int, rng: random.Random) -> None:
    """The cut found costs no more than any other cut (brute force over all of them)."""
    table = {(i, j): rng.uniform(-5, 5) for i in range(count) for j in range(i + 1, count + 1)}

    def total(starts: tuple[int, ...]) -> float:
        runs = list(zip(starts, [*starts[1:], count], strict=True))
        return math.inf if any(j - i > longest for i, j in runs) else sum(table[run] for run in runs)

    every = ((0, *rest) for size in range(count) for rest in combinations(range(1, count), size))
    rows = [[table[i, j] for j in range(i + 1, min(count, i + longest) + 1)] for i in range(count)]
    found = tuple(cheapest_cuts(rows))
    assert total(found) == pytest.approx(min(map(total, every)))


def test_all_forbidden() -> None:
    """Where every cut is forbidden there is one run, and nothing is cut where there is nothing."""
    assert cheapest_cuts([[math.inf] * 4] * 4) == [0]
    assert cheapest_cuts([]) == [0]


def test_over_the_end() -> None:
    """What a row holds beyond the last block does not count."""
    assert cheapest_cuts([[1.0, 5.0, -9.0], [1.0, -9.0, -9.0]]) == [0, 1]


def talk(rng: random.Random, topics: int) -> tuple[list[list[str]], list[int]]:
    """Make a talk of several topics: each has words of its own beside those that all share."""
    blocks: list[list[str]] = []
    starts: list[int] = []
    for topic in range(topics):
        starts.append(len(blocks))
        own = [f"own{topic}-{n}" for n in range(14)]
        common = [f"all-{n}" for n in range(40)]
        blocks += [rng.choices(own, k=9) + rng.choices(common, k=15) for _ in range(rng.randint(4, 9))]
    return blocks, starts


def marks(starts: list[int], count: int) -> str:
    return "".join("1" if i in starts and i else "0" for i in range(count))


def test_pk_and_window_difference() -> None:
    """On joined topics Pk and window difference (nltk, window of half a mean topic) are far below chance.

    Cutting at even distances is the yardstick; Pk counts a window as wrong when it disagrees on whether a
    border lies in it (Beeferman and others, 1999), window difference when the numbers of borders differ
    (Pevzner and Hearst, 2002).
    """
    rng = random.Random(7)  # noqa: S311 - a fixed sequence is wanted
    figures = []
    for _ in range(12):
        blocks, starts = talk(rng, 7)
        count = len(blocks)
        found = cheapest_cuts(topic_costs(blocks, count).tolist())
        even = [round(i * count / len(starts)) for i in range(len(starts))]
        window = max(2, round(count / len(starts) / 2))
        true = marks(starts, count)
        figures.append(
            [
                measure(true, marks(cut, count), k=window)
                for measure in (pk, windowdiff)
                for cut in (found, even)
            ]
        )
    pk_found, pk_even, wd_found, wd_even = np.mean(figures, axis=0)
    assert pk_found < 0.10
    assert wd_found < 0.10
    assert min(pk_even, wd_even) > 0.25
