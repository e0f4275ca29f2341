"""Words of a text with their places: one way of cutting for logs and speech alike."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from Stemmer import Stemmer

#: A number with its inner marks (`12.50`, `3/4`, `1,200`), ordinal endings kept; `w/` and `w/o`; a word with
#: its inner apostrophes. A unit that sticks to its number (`6mm`, `ct1`, `x2`) comes out on its own.
_TOKEN = re.compile(
    r"\d+(?:[.,:/]\d+)*(?:(?:st|nd|rd|th)(?![^\W\d_]))?|[½¼¾⅓⅔⅛]|w/(?:o(?![^\W\d_]))?|[^\W\d_]+(?:['’][^\W\d_]+)*",
    re.IGNORECASE,
)
_ENGLISH = Stemmer("english")


@dataclass(frozen=True, slots=True)
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
    return [Token(m[0], stem(m[0]), m.start(), m.end()) for m in _TOKEN.finditer(text)]


def words_in(text: str) -> list[str]:
    """Give the words and numbers of a text, lower case, straight apostrophes: what `tokenise` gives, in haste."""
    return _TOKEN.findall(text.casefold().replace("’", "'"))


@lru_cache(maxsize=16384)
def stem(word: str) -> str:
    """Reduce a word to its Snowball English stem, lower case, without apostrophes: `Glueing` to `glue`.

    The algorithm is that of https://snowballstem.org/algorithms/english/stemmer.html (Porter's second).
    """
    plain = word.casefold().replace("’", "'")
    if "'" in plain:
        plain = plain.removesuffix("'s").replace("'", "")
    stemmed: str = _ENGLISH.stemWord(plain)
    return stemmed
