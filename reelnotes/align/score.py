"""How much more likely a beat of speech is under an entry of the log than under speech at large."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reelnotes.align.beats import Beat
from reelnotes.model import Entry
from reelnotes.words.lexicon import Lexicon
from reelnotes.words.numbers import STARTS, pieces_of, read_number
from reelnotes.words.tokens import Token, stem

Array = NDArray[np.float64]

_STOP = frozenset(
    stem(word)
    for word in """
    a an and are as at be been being but by can could did do does doing done for from get gets getting go goes
    going gone got had has have having he her here him his i if in into is it its just like me my no not now of
    on one or our out over really so some than that the their them then there these they this those to too
    up us very was we well were what when where which who will with would you your im ive ill id thats theres
    its hes shes youre youve dont didnt doesnt isnt wasnt cant couldnt wont wouldnt hadnt havent were theyre
    about all also any because both each few more most much only other own same should such uh um er ah oh ok
    okay yes yeah right bit sort kind thing things lot way say said see look know think want let make made
    put take took come came give gave still again back down off even ever every
    """.split()  # noqa: SIM905 - a list of words to read
)


@dataclass(frozen=True, slots=True)
class Echo:
    """How much of a log's words a maker says again: shares of the words spoken while telling an entry.

    `words` is the share of the entry's own words, `fields` that of words of the same field of work;
    `temper` below one allows for neighbouring words not being independent.
    """

    words: float = 0.26
    fields: float = 0.20
    temper: float = 1.0


def features_of(text: str, lexicon: Lexicon) -> tuple[list[str], list[str]]:
    """Give the heads of a text (function words left out, numbers as `#6`) and the fields of work they name."""
    tokens = [token for token in lexicon.heads(text) if token.stem not in _STOP]
    heads = [token.stem for token in tokens if not token.stem[0].isdigit()]
    fields = [name for token in tokens for name in lexicon.fields_of(token.stem)]
    return heads + numbers_of(text, tokens), fields


def numbers_of(text: str, tokens: Iterable[Token]) -> list[str]:
    """Give the numbers of a text as `#6`, `#0.5`, however they are written or spoken."""
    if not any(token.stem[0].isdigit() or token.stem in STARTS for token in tokens):
        return []
    pieces, at, found = pieces_of(text), 0, []
    while at < len(pieces):
        number = read_number(pieces, at)
        if number is None:
            at += 1
            continue
        found.append(f"#{float(number.value):g}")
        at = number.after
    return found


def gains(entries: tuple[Entry, ...], beats: tuple[Beat, ...], lexicon: Lexicon, echo: Echo) -> Array:
    """Give the log likelihood of each beat under each entry, over that under speech at large.

    A word of a beat is drawn from speech at large, from the entry's own words (shared out by their rarity)
    or from the words of its fields of work; so a word counts the more, the rarer it is in this transcript,
    and a beat that shares nothing with an entry counts a little against it.
    """
    spoken = [features_of(beat.text, lexicon) for beat in beats]
    logged = [features_of(entry.text, lexicon) for entry in entries]
    counts: Counter[str] = Counter()
    for words, fields in spoken:
        counts.update(words)
        counts.update(fields)
    total = sum(len(words) for words, _ in spoken) or 1
    gain = np.zeros((len(entries), len(beats)))
    lengths = np.array([len(words) for words, _ in spoken], dtype=float)
    rest = 1 - echo.words - echo.fields
    gain += np.log(rest) * lengths
    index = {word: k for k, word in enumerate(counts)}
    background = np.array([(counts[word] + 0.5) / total for word in index])
    own = np.zeros((len(entries), len(index)))
    for i, (words, fields) in enumerate(logged):
        weights = {word: np.log(total / (counts.get(word, 0) + 0.5)) for word in set(words)}
        whole = sum(weights.values()) or 1
        for word, weight in weights.items():
            if word in index:
                own[i, index[word]] = echo.words * weight / whole / background[index[word]]
        shares = Counter(fields)
        for name, count in shares.items():
            if name in index:
                own[i, index[name]] = echo.fields * count / sum(shares.values()) / background[index[name]]
    for j, (words, _) in enumerate(spoken):
        for word in set(words):
            ratio = own[:, index[word]].copy()
            for name in set(lexicon.fields_of(word)):
                ratio += own[:, index[name]]
            gain[:, j] += np.log1p(ratio / rest)
    return echo.temper * gain
