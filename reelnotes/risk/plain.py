"""The words of a text as the reader and the rules see them."""

from __future__ import annotations

import re

#: Under this name stand the word groups that count for every topic.
SHARED = "shared"

_WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)*|\+(?=ve)")
_APOSTROPHE = str.maketrans("", "", "'’")


def plain_words(text: str) -> list[str]:
    """Give the words of a text: lower case, no apostrophes, each number a `#`."""
    return [plain_word(word) for word in _WORD.findall(text)]


def plain_word(word: str) -> str:
    """Give one word as it counts here."""
    return "#" if word.isdigit() else word.translate(_APOSTROPHE).casefold()
