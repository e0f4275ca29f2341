"""Words of a log that are nowhere in the transcript, and what they may be short or misspelt for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

_VOWELS = frozenset("aeiouy")
_MOST = 3
_SKELETON, _PREFIX, _SLIP = 3, 4, 6


class Spellings:
    """The vocabulary of a transcript, ready to be searched by spelling."""

    def __init__(self, words: Iterable[str]) -> None:
        self._by_bones: dict[str, list[str]] = defaultdict(list)
        self._by_letter: dict[str, list[str]] = defaultdict(list)
        for word in words:
            if word[0].isalpha() and " " not in word:
                self._by_bones[_bones(word)].append(word)
                self._by_letter[word[0]].append(word)

    def near(self, word: str) -> list[str]:
        """Give up to three words that a word may stand for, likeliest kind first.

        A word without vowels stands for those of the same consonants (`brckt`); one of four letters or more
        for those that it begins or that begin it with most of their letters; one of six or more also for
        those a slip of one letter away.
        """
        if len(word) < _SKELETON or not word.isalpha():
            return []
        found = []
        if not _VOWELS & set(word[1:]):
            found += self._by_bones.get(word, [])
        for other in self._by_letter.get(word[0], []) if len(word) >= _PREFIX else ():
            short, long = sorted((word, other), key=len)
            begins = len(short) >= _PREFIX and long.startswith(short) and 3 * len(short) >= 2 * len(long)
            if begins or (len(short) >= _SLIP - 1 and len(long) >= _SLIP and _one_slip(short, long)):
                found.append(other)
        return list(dict.fromkeys(found))[:_MOST]


def _bones(word: str) -> str:
    return word[0] + "".join(letter for letter in word[1:] if letter not in _VOWELS)


def _one_slip(short: str, long: str) -> bool:
    """Tell whether one letter was left out, doubled, changed, or two stand the wrong way round."""
    if len(long) - len(short) > 1:
        return False
    at = next((k for k in range(len(short)) if short[k] != long[k]), len(short))
    if len(short) < len(long):
        return short[at:] == long[at + 1 :]
    swapped = short[at : at + 2] == long[at : at + 2][::-1] and short[at + 2 :] == long[at + 2 :]
    return short[at + 1 :] == long[at + 1 :] or swapped
