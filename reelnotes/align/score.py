"""How much more likely a beat of speech is under an entry of the log than under speech at large."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from math import log

import numpy as np
from numpy.typing import NDArray

from reelnotes.align.near import Spellings
from reelnotes.records import frozen
from reelnotes.words.lexicon import Lexicon
from reelnotes.words.numbers import ONES, STARTS, TENS, pieces_of, read_number
from reelnotes.words.products import ShelfNames
from reelnotes.words.tokens import stem

Array = NDArray[np.float64]

_STOP = frozenset(
    stem(word)
    for word in """
    a an and are as at be been being but by can could did do does doing done for from get gets getting got
    go goes going gone went had has have having he her here him his i if in into is it its just like me my
    no not now of on one or our out over really so some than that the their them then there these they
    this those to too up us very was we well were what when where which who will with would you your im
    ive ill id thats theres its hes shes youre youve dont didnt doesnt isnt wasnt cant couldnt wont
    wouldnt hadnt havent were theyre about all also any because both each few more most much only other
    own same should such uh um er ah oh ok okay yes yeah right bit sort kind thing things lot way say said
    see look know think want let make made put take took come came give gave still again back down off
    even ever every forgot write wrote written note late with b c d f g h j k l m n o p q r s t u v w x y
    z re
    """.split()  # noqa: SIM905 - a list of words to read
)


#: What begins a number, except "a" and "one", which mostly do not.
_COUNTING = frozenset(stem(word) for word in (*ONES, *TENS, "hundred", "thousand")) - {"one"}
_NUMERAL = _COUNTING | {stem(word) for word in STARTS - {"a", "an", "one"}}
_ORDINALS = {"first": "#1", "second": "#2", "third": "#3", "fourth": "#4", "fifth": "#5"}
#: Speech beyond this transcript, in words, and how often a word and a field stand in it: so that a short
#: transcript does not take for common what it happens to say twice.
_OTHER_SPEECH, _SEEN_WORD, _SEEN_FIELD = 200.0, 0.5, 3.0
_CENTS = range(10, 100)
_UNSAYING = _STOP | _COUNTING | {"number"}
#: What a word counts that the transcript does not hold, and one that it holds under a near spelling.
_ABSENT, _NEAR = 0.5, 0.8
_AT_ONCE = 500  # beats, so that a long episode needs little memory


@frozen
class Echo:
    """How much of a log's words a maker says again: shares of the words spoken while telling an entry.

    `words` is the share of the entry's own words, `fields` that of words of the same field of work,
    `aliases` that of what the maker turns out to call these things; `temper` below one would allow for
    neighbouring words not being independent.
    """

    words: float = 0.25
    fields: float = 0.2
    aliases: float = 0.1
    temper: float = 1.0


@frozen
class Features:
    """What a text says: heads (function words left out, numbers as `#6`) and the fields of work they name."""

    words: tuple[str, ...]
    fields: tuple[str, ...]


def features_of(text: str, lexicon: Lexicon) -> Features:
    """Read the heads and fields of a text."""
    stems = lexicon.stems(text, parts=True)
    words = [_ORDINALS.get(word, word) for word in stems if word not in _UNSAYING and not word[0].isdigit()]
    words += numbers_of(text, stems)
    return Features(tuple(words), tuple(name for word in words for name in lexicon.fields_of(word)))


def with_products(features: Features, text: str, names: ShelfNames, *, log: bool = False) -> Features:
    """Add the products of the shelf that a text can only mean, as `@7` for the seventh after the first."""
    if not features.words:
        return features
    found = names.find(text, log=log)
    products = [f"@{one.options[0]}" for one in found if len(one.options) == 1 and not one.loose]
    return replace(features, words=(*features.words, *products))


def numbers_of(text: str, stems: list[str]) -> list[str]:
    """Give the numbers of a text as `#6`, `#0.5`, however they are written or spoken."""
    if _NUMERAL.isdisjoint(stems) and not any(word[0].isdigit() for word in stems):
        return []
    pieces, at, found = pieces_of(text), 0, []
    before: tuple[int, float] = (-1, 0.0)
    while at < len(pieces):
        number = read_number(pieces, at)
        if number is None:
            at += 1
            continue
        value = float(number.value)
        found.append(f"#{value:g}")
        if before[0] == at and value in _CENTS and before[1].is_integer():
            found.append(f"#{before[1] + value / 100:g}")  # "twelve fifty" is 12.50 as well
        before, at = (number.after, value), number.after
    return found


class Heard:
    """All beats of a transcript as counts: what is common in it and what is rare."""

    def __init__(self, spoken: list[Features], lexicon: Lexicon) -> None:
        self.lexicon = lexicon
        self.beats = [frozenset(beat.words) for beat in spoken]
        self.lengths = np.array([len(words) for words in self.beats], dtype=float)
        self.counts: Counter[str] = Counter()
        for words in self.beats:
            self.counts.update(words)
            self.counts.update(name for word in words for name in lexicon.fields_of(word))
        self.total = float(self.lengths.sum()) or 1.0
        self.index = {name: column for column, name in enumerate(self.counts)}
        self.spellings = Spellings(self.index)
        self.share = np.array([self._share(name) for name in self.counts])

    def rarity(self, word: str) -> float:
        """Give the nats that a word tells in this transcript; the rarest are those it does not hold."""
        return -log(self._share(word))

    def _share(self, name: str) -> float:
        seen = _SEEN_FIELD if name[0] == "~" else _SEEN_WORD
        return (self.counts.get(name, 0) + seen) / (self.total + _OTHER_SPEECH)


def lifts(logged: list[Features], heard: Heard, echo: Echo) -> Array:
    """Give for each entry and each word or field of the transcript how many times likelier it is there.

    The entry's own words share `echo.words` by their rarity, its fields share `echo.fields` by their number.
    """
    lift = np.zeros((len(logged), len(heard.index)))
    for row, entry in zip(lift, logged, strict=True):
        weights = _weights(entry, heard)
        _share_out(row, weights, echo.words, heard)
        _share_out(row, Counter(entry.fields), echo.fields, heard)
    return lift


def _weights(entry: Features, heard: Heard) -> dict[str, float]:
    """Weigh the words of an entry by rarity; a word that is not heard passes it on to near spellings."""
    weights: dict[str, float] = {}
    for word in dict.fromkeys(entry.words):
        if word in heard.index:
            weights[word] = heard.rarity(word)
            continue
        near = heard.spellings.near(word) if word not in heard.lexicon.known else []
        for other in near:
            weights[other] = max(weights.get(other, 0.0), _NEAR * heard.rarity(other))
        if not near:
            weights[word] = _ABSENT * heard.rarity(word)
    return weights


def _share_out(row: Array, weights: dict[str, float] | Counter[str], share: float, heard: Heard) -> None:
    whole = sum(weights.values())
    for name, weight in weights.items():
        column = heard.index.get(name)
        if column is not None:
            row[column] += share * weight / whole / heard.share[column]


def gains(lift: Array, heard: Heard, echo: Echo) -> Array:
    """Give the log likelihood of each beat (columns) under each entry (rows), over that at large.

    A word of a beat is drawn from speech at large, from the entry's own words or from the words of its
    fields; so a word counts the more, the rarer it is in this transcript, and a beat that shares nothing
    with an entry counts a little against it.
    """
    rest = 1 - echo.words - echo.fields
    whole = lift.T.copy()
    for word, column in heard.index.items():
        names = heard.lexicon.fields_of(word)
        if names:
            whole[column] += lift[:, [heard.index[name] for name in names]].sum(axis=1)
    told = np.log1p(whole / rest)
    gain = np.empty((len(heard.beats), len(lift)))
    for first in range(0, len(heard.beats), _AT_ONCE):
        part = heard.beats[first : first + _AT_ONCE]
        columns = [heard.index[word] for words in part for word in words]
        ends = np.cumsum([len(words) for words in part])
        summed = np.vstack([np.zeros(len(lift)), np.cumsum(told[columns], axis=0)])
        gain[first : first + len(part)] = summed[ends] - summed[ends - [len(words) for words in part]]
    gain += (log(rest) * heard.lengths)[:, None]
    return echo.temper * gain.T
