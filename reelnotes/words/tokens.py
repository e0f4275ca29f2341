"""Words of a text with their places: one way of cutting for logs and speech alike."""

from __future__ import annotations

import re
from functools import lru_cache

from Stemmer import Stemmer

from reelnotes.records import frozen

#: A number with its inner marks (`12.50`, `3/4`, `1,200`), ordinal endings kept; `w/` and `w/o`; a word with
#: its inner apostrophes. A unit that sticks to its number (`6mm`, `ct1`, `x2`) comes out on its own.
_TOKEN = re.compile(
    r"\d+(?:[.,:/]\d+)*(?:(?:st|nd|rd|th)(?![^\W\d_]))?|[½¼¾⅓⅔⅛]|w/(?:o(?![^\W\d_]))?|[^\W\d_]+(?:['’][^\W\d_]+)*",
    re.IGNORECASE,
)
#: So many texts are kept cut: matching, materials and risk reading look at the same entries and cues.
READ_ONCE = 1024
_ENGLISH = Stemmer("english")
_ENGLISH.maxCacheSize = 0  # our own cache is three times as fast
_STEMS: dict[str, str] = {}
_MOST_STEMS = 50_000


@frozen
class Token:
    """A word as it stands (`text`), what it counts as (`stem`), and its place in the text (end excluded)."""

    text: str
    stem: str
    start: int
    end: int


def tokenise(text: str) -> list[Token]:
    """Cut a text into words and numbers, in order.

    `6mm` gives `6` and `mm`; `w/` stays whole; an apostrophe inside a word (straight or curly) belongs to it.
    """
    return list(_tokens(text))


@lru_cache(maxsize=READ_ONCE)
def _tokens(text: str) -> tuple[Token, ...]:
    return tuple([Token(m[0], stem(m[0]), m.start(), m.end()) for m in _TOKEN.finditer(text)])


def words_in(text: str) -> list[str]:
    """Give the words of `tokenise` in haste: lower case, straight apostrophes, no places."""
    return list(_words(text))


@lru_cache(maxsize=READ_ONCE)
def _words(text: str) -> tuple[str, ...]:
    return tuple(_TOKEN.findall(text.casefold().replace("’", "'")))


def stem(word: str) -> str:
    """Reduce a word to its Snowball English stem, lower case, without apostrophes: `Glueing` to `glue`.

    The algorithm is that of https://snowballstem.org/algorithms/english/stemmer.html (Porter's second).
    """
    found = _STEMS.get(word)
    if found is None:
        found = remember_stems([word])[0]
    return found


def remember_stems(words: list[str]) -> list[str]:
    """Stem many words at once and keep their stems at hand: a fifth of the time of one by one."""
    if len(_STEMS) > _MOST_STEMS:
        _STEMS.clear()
    stems: list[str] = _ENGLISH.stemWords([_bare(word) for word in words])
    _STEMS.update(zip(words, stems, strict=True))
    return stems


def _bare(word: str) -> str:
    plain = word.casefold().replace("’", "'")
    return plain.removesuffix("'s").replace("'", "") if "'" in plain else plain
