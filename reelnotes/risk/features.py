"""Words into hashed features, the same way when the reader is trained and when it reads.

A feature belongs to the word on which it ends and says how many words it spans; so the features of any
stretch of words are sums over it, and every window of a transcript costs one subtraction (see `reader.py`).
All of it is whole numbers in numpy: no feature is made twice, and nothing depends on the machine.
"""

from __future__ import annotations

from functools import cache
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from reelnotes.records import frozen
from reelnotes.risk.mentions import Mentions
from reelnotes.risk.plain import SHARED

#: Sizes of the two parts of the table of weights, as powers of two: words and letters; word groups.
TABLE_BITS = 17
GROUP_BITS = 14
TABLE_ROWS = (1 << TABLE_BITS) + (1 << GROUP_BITS)
#: How much more a word group counts than a word, and how many words apart two groups are still a pair.
GROUP_SCALE = 2.0
PAIR_WORDS = 12
#: The longest stretch of words that one feature spans, and how far apart a repeat is still a repeat.
LONGEST = 20
REPEAT_WORDS = 32
CHARACTER_GRAMS = (3, 4, 5)

_MIX = np.uint64(0x9E3779B97F4A7C15)
_STEP = np.uint64(0xD6E8FEB86659FD93)
_SPACE = 32


@frozen
class Features:
    """Hashed features: `word` a feature ends on, `span` the words it covers, `times` how often it counts.

    What is said twice counts once: a repeat adds a feature over both places that takes one away again.
    """

    word: NDArray[np.int32]
    span: NDArray[np.int8]
    bucket: NDArray[np.int32]
    times: NDArray[np.int8]


def hashed(words: list[str], mentions: Mentions) -> Features:
    """Give the features of a run of words.

    They are 1 to 3 words together, two words with a gap, 3 to 5 letters of a word; and the word groups of the
    rules that are said or denied there, alone and in pairs.
    """
    if not words:
        empty = np.zeros(0, np.int32)
        return Features(empty, empty.astype(np.int8), empty, empty.astype(np.int8))
    parts = [*_word_grams(words), *_letter_grams(words)]
    ends, spans, buckets = _groups(mentions)
    word = np.concatenate([*(at for at, _, _ in parts), np.array(ends, np.int64)])
    span = np.concatenate(
        [*(np.full(len(at), length, np.int8) for at, length, _ in parts), np.array(spans, np.int8)]
    )
    bucket = np.concatenate([*(_bucket(code) for _, _, code in parts), np.array(buckets, np.int32)])
    return _once(word.astype(np.int32), span, bucket)


def _once(word: NDArray[np.int32], span: NDArray[np.int8], bucket: NDArray[np.int32]) -> Features:
    """Add what takes the repeats away."""
    # One number a feature, bucket first: what is equal here is the same feature, and the order is settled.
    order = np.argsort((bucket.astype(np.int64) << 40) | (word.astype(np.int64) << 8) | span)
    at, held, key = word[order], span[order], bucket[order]
    start = np.minimum(at[1:] - held[1:], at[:-1] - held[:-1])
    over = at[1:] - start
    again = (key[1:] == key[:-1]) & (over <= REPEAT_WORDS)
    return Features(
        np.concatenate([word, at[1:][again]]),
        np.concatenate([span, over[again].astype(np.int8)]),
        np.concatenate([bucket, key[1:][again]]),
        np.concatenate([np.ones(len(word), np.int8), np.full(int(again.sum()), -1, np.int8)]),
    )


def _groups(mentions: Mentions) -> tuple[list[int], list[int], list[int]]:
    """Word groups and pairs of them: of one topic, or one of all topics; which comes first does not count."""
    found = sorted((m.first, m.end, key) for key, all_of in mentions.by_group.items() for m in all_of)
    ends: list[int] = []
    spans: list[int] = []
    buckets: list[int] = []
    topics = [key.removeprefix("no ").partition("/")[0] for _, _, key in found]
    for i, (first, end, key) in enumerate(found):
        ends.append(end - 1)
        spans.append(end - first)
        buckets.append(_group_bucket(key))
        for k in range(i + 1, len(found)):
            start, last, other = found[k]
            if start - first > PAIR_WORDS:
                break
            if key != other and (topics[i] == topics[k] or SHARED in (topics[i], topics[k])):
                ends.append(max(end, last) - 1)
                spans.append(min(LONGEST, max(end, last) - first))
                buckets.append(_pair_bucket(*sorted((key, other))))
    return ends, spans, buckets


@cache
def _group_bucket(key: str) -> int:
    return (1 << TABLE_BITS) + crc32(key.encode()) % (1 << GROUP_BITS)


@cache
def _pair_bucket(one: str, other: str) -> int:
    return _group_bucket(f"{one}&{other}")


def _word_grams(words: list[str]) -> list[tuple[NDArray[np.int64], int, NDArray[np.uint64]]]:
    codes = np.fromiter((crc32(w.encode()) for w in words), np.uint64, len(words))
    at = np.arange(len(words))
    grams = [(at, 1, _chain(codes, kind=1))]
    for apart, kind in ((1, 2), (2, 3), (3, 4)):
        grams.append((at[apart:], apart + 1, _chain(codes[:-apart], codes[apart:], kind=kind)))
    grams.append((at[2:], 3, _chain(codes[:-2], codes[1:-1], codes[2:], kind=5)))
    return [gram for gram in grams if len(gram[0])]


def _letter_grams(words: list[str]) -> list[tuple[NDArray[np.int64], int, NDArray[np.uint64]]]:
    """Letters inside a word, its edges counting as a space."""
    letters = np.frombuffer((" " + " ".join(words) + " ").encode("utf-32-le"), np.uint32).astype(np.uint64)
    spaces = letters == _SPACE
    owner = np.cumsum(spaces) - 1
    grams = []
    for length in CHARACTER_GRAMS:
        count = len(letters) - length + 1
        if count <= 0:
            continue
        inner = np.zeros(count, bool)
        for k in range(1, length - 1):
            inner |= spaces[k : k + count]
        starts = np.flatnonzero(~inner)
        code = _chain(*(letters[starts + k] for k in range(length)), kind=10 + length)
        grams.append((owner[starts + 1], 1, code))
    return grams


def _chain(*codes: NDArray[np.uint64], kind: int) -> NDArray[np.uint64]:
    state = np.full(len(codes[0]), kind, np.uint64)
    with np.errstate(over="ignore"):
        for code in codes:
            state = (state ^ code) * _MIX
            state ^= state >> np.uint64(29)
            state *= _STEP
    return state


def _bucket(code: NDArray[np.uint64]) -> NDArray[np.int32]:
    return (code >> np.uint64(64 - TABLE_BITS)).astype(np.int32)
