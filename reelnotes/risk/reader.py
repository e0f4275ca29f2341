"""The trained reader: which topic a stretch of words is about, and whether something risky is told in it.

A linear model over hashed features (`features.py`), made by scripts/train_reader.py out of written passages
in many voices. Three kinds of heads are multiplied: which topic (one a topic), is anything risky told (one
for all), and is this topic's risk told (one a topic). Read with numpy alone.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reelnotes.records import frozen
from reelnotes.risk.features import Features
from reelnotes.risk.places import Place
from reelnotes.risk.rules import TOPICS
from reelnotes.risk.speech import Window

#: Added to the square of a window's length, so that a handful of words cannot be sure of anything.
BALLAST = 2000.0
#: How many telling words are given for a place.
TELLING = 4
WEIGHTS_FILE = "reader.weights"
#: Columns of the table: topics, risk at all, risk of each topic.
HEADS = 2 * len(TOPICS) + 1


@frozen
class Weights:
    """The trained table: `table[row, head]` in steps of `step[head]`; `rarity[row]` weighs the feature.

    `about` holds the SHA-256 of the passages, their number, and what held-out voices gave.
    """

    table: NDArray[np.int8]
    step: NDArray[np.float32]
    offset: NDArray[np.float32]
    rarity: NDArray[np.float16]
    about: dict[str, Any]


@cache
def own_weights() -> Weights:
    """Load the weights that the package ships."""
    return unpacked(files("reelnotes.risk").joinpath(WEIGHTS_FILE).read_bytes())


def unpacked(data: bytes) -> Weights:
    """Read a file of weights: a line of JSON that names the parts, then their numbers, little-endian.

    An archive of numpy's would be checked and copied at every start, which costs more than all of this.
    """
    at = data.index(b"\n") + 1
    head = json.loads(data[:at])
    parts: dict[str, NDArray[Any]] = {}
    for name, kind, shape in head["parts"]:
        count = int(np.prod(shape))
        parts[name] = np.frombuffer(data, np.dtype(kind), count, at).reshape(shape)
        at += parts[name].nbytes
    return Weights(parts["table"], parts["step"], parts["offset"], parts["rarity"], head["about"])


def reading(features: Features, spans: Sequence[Window], weights: Weights) -> NDArray[np.float32]:
    """Give the score of each topic for each window, 0 to 1."""
    return combined(window_logits(features, spans, weights))


def window_logits(features: Features, spans: Sequence[Window], weights: Weights) -> NDArray[np.float32]:
    """Give the raw value of each head for each window.

    The edges of all windows cut the run into segments. Features are summed once for each segment in which
    they begin and number of segments that they reach on; a window is then a few of these sums.
    """
    first = np.fromiter((w.first for w in spans), np.int64, len(spans))
    end = np.fromiter((w.end for w in spans), np.int64, len(spans))
    edges = np.flatnonzero(
        np.bincount(np.concatenate([first, end]))
    )  # np.unique would load the masked arrays
    first, end = np.searchsorted(edges, first), np.searchsorted(edges, end)
    reach = int((end - first).max(initial=1))
    sums = _segment_sums(features, edges, reach, weights)
    total = np.zeros((len(spans), HEADS + 1), np.float32)
    for later in range(reach):
        holds = np.flatnonzero(end - first > later)
        total[holds] += sums[first[holds] + later, end[holds] - first[holds] - later - 1]
    length = np.sqrt(total[:, HEADS:] + np.float32(BALLAST))
    logits: NDArray[np.float32] = total[:, :HEADS] * weights.step / length + weights.offset
    return logits


def _segment_sums(
    features: Features, edges: NDArray[np.int64], reach: int, weights: Weights
) -> NDArray[np.float32]:
    """Give `sums[segment, n]`: of what begins in a segment and ends at most n segments on, each head's sum.

    The last column is the sum of squares, for the length.
    """
    segment = np.zeros(int(features.word.max(initial=0)) + 2, np.int64)
    segment[edges[edges < len(segment)]] = 1
    segment = np.cumsum(segment) - 1
    begins = segment[features.word - features.span + 1]
    on = segment[features.word] - begins
    rarity = weights.rarity[features.bucket].astype(np.float32)
    used = np.flatnonzero((begins >= 0) & (on < reach) & (rarity > 0))
    cell = begins[used] * reach + on[used]
    order = np.argsort(cell.astype(np.int32), kind="stable")
    cell, used = cell[order], used[order]
    own, signed = rarity[used], rarity[used] * features.times[used]
    gain = np.empty((len(used), HEADS + 1), np.float32)
    np.multiply(weights.table[features.bucket[used]], signed[:, None], out=gain[:, :HEADS])
    gain[:, HEADS] = own * signed
    sums = np.zeros((len(edges) * reach, HEADS + 1), np.float32)
    starts = np.flatnonzero(np.diff(cell, prepend=-1))
    if len(starts):
        sums[cell[starts]] = np.add.reduceat(gain, starts, axis=0)
    return np.cumsum(sums.reshape(len(edges), reach, HEADS + 1), axis=1, dtype=np.float32)


def combined(logits: NDArray[np.float32]) -> NDArray[np.float32]:
    """Multiply the heads: the geometric mean of (topic times risk) and the topic's own risk."""
    odds = 1 / (1 + np.exp(-logits))
    count = len(TOPICS)
    product: NDArray[np.float32] = np.sqrt(
        odds[:, :count] * odds[:, count : count + 1] * odds[:, count + 1 :]
    )
    return product


def telling_words(
    features: Features, words: Sequence[str], places: Sequence[Place], weights: Weights
) -> list[tuple[str, ...]]:
    """Give for each place the words that raised its score most, in the order in which they stand."""
    told = []
    order = np.argsort(features.word, kind="stable")
    # One type on both sides: else numpy copies all the words for each place.
    edges = np.array([(place.first, place.end) for place in places], features.word.dtype).reshape(-1, 2)
    bounds = np.searchsorted(features.word[order], edges)
    for place, (low, high) in zip(places, bounds, strict=True):
        column = TOPICS.index(place.topic)
        heads = [column, len(TOPICS), len(TOPICS) + 1 + column]
        own = np.sort(order[low:high])
        own = own[features.word[own] - features.span[own] + 1 >= place.first]
        bucket = features.bucket[own]
        gain = weights.table[bucket[:, None], heads] @ weights.step[heads]
        gain *= weights.rarity[bucket].astype(np.float32) * features.times[own]
        # Each word that a feature spans has its share: up where it begins, down behind its end.
        span = features.span[own].astype(np.int64)
        last = features.word[own] - place.first
        size = place.end - place.first + 1
        share = np.bincount(last - span + 1, gain / span, size) - np.bincount(last + 1, gain / span, size)
        share = np.cumsum(share)[:-1].round(9)
        best = sorted(i for i in np.argsort(-share, kind="stable")[:TELLING] if share[i] > 0)
        told.append(tuple(words[place.first + i] for i in best))
    return told
