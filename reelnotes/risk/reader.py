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
WEIGHTS_FILE = "reader.npz"
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
    with files("reelnotes.risk").joinpath(WEIGHTS_FILE).open("rb") as file, np.load(file) as held:
        return Weights(
            held["table"], held["step"], held["offset"], held["rarity"], json.loads(bytes(held["about"]))
        )


def reading(features: Features, spans: Sequence[Window], weights: Weights) -> NDArray[np.float32]:
    """Give the score of each topic for each window, 0 to 1."""
    return combined(window_logits(features, spans, weights))


def window_logits(features: Features, spans: Sequence[Window], weights: Weights) -> NDArray[np.float32]:
    """Give the raw value of each head for each window."""
    first = np.fromiter((w.first for w in spans), np.int64, len(spans))
    end = np.fromiter((w.end for w in spans), np.int64, len(spans))
    total = np.zeros((len(spans), HEADS), np.float32)
    norm = np.zeros(len(spans), np.float32)
    rarity = weights.rarity[features.bucket].astype(np.float32)
    signed = rarity * features.times
    for span in np.flatnonzero(np.bincount(features.span)):  # np.unique would load the masked arrays
        own = features.span == span
        at = features.word[own]
        order = np.argsort(at, kind="stable")
        at = at[order]
        rare = signed[own][order]
        gain = weights.table[features.bucket[own][order]].astype(np.float32) * rare[:, None]
        sums = np.concatenate([np.zeros((1, HEADS), np.float32), np.cumsum(gain, axis=0, dtype=np.float32)])
        squares = np.concatenate(
            [np.zeros(1, np.float32), np.cumsum(rare * rarity[own][order], dtype=np.float32)]
        )
        low = np.searchsorted(at, first + int(span) - 1)
        high = np.maximum(low, np.searchsorted(at, end))
        total += sums[high] - sums[low]
        norm += squares[high] - squares[low]
    length = np.sqrt(norm + np.float32(BALLAST))
    logits: NDArray[np.float32] = (total * weights.step / length[:, None] + weights.offset).astype(np.float32)
    return logits


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
        gain = (weights.table[bucket][:, heads] * weights.step[heads]).sum(axis=1)
        gain *= weights.rarity[bucket].astype(np.float32) * features.times[own]
        share = np.zeros(place.end - place.first)
        span = features.span[own].astype(np.int64)
        for back in range(int(span.max(initial=1))):
            held = span > back
            np.add.at(share, features.word[own][held] - back - place.first, gain[held] / span[held])
        best = sorted(i for i in np.argsort(-share, kind="stable")[:TELLING] if share[i] > 0)
        told.append(tuple(words[place.first + i] for i in best))
    return told
