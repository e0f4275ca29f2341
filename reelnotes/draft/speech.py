"""The transcript as running text that still knows its times: trade words mended, cues joined."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Sequence
from typing import NamedTuple

from reelnotes.model import Cue
from reelnotes.words.lexicon import Lexicon

_CHUNK = 8
_FIRST_MARK = 0xE000  # a private-use sign before each cue survives the mending and tells where the cue begins
_MARKS = 6000
_WORD = re.compile(r"[^\W\d_]+(?:['’][^\W\d_]+)*")
_MARK = re.compile(f"([{chr(_FIRST_MARK)}-{chr(_FIRST_MARK + _MARKS)}])")


class Passage(NamedTuple):
    """Some cues in a row as one text; `starts` are the characters where the cues of `cues` begin."""

    text: str
    starts: tuple[int, ...]
    cues: tuple[int, ...]

    def cue_at(self, character: int) -> int:
        """Give the index of the cue that a character belongs to."""
        return self.cues[max(0, bisect_right(self.starts, character) - 1)]


def passages(cues: Sequence[Cue], lexicon: Lexicon | None) -> list[Passage]:
    """Join cues into passages of about eight, cut at the end of a sentence where there is one.

    With a lexicon, words that captions misheard are put back, across the borders of cues too.
    """
    found, group = [], list[int]()
    for index, cue in enumerate(cues):
        group.append(index)
        ended = cue.text.rstrip().endswith((".", "?", "!", "]"))
        if len(group) >= 2 * _CHUNK or (len(group) >= _CHUNK and ended):
            found.append(_passage(cues, group, lexicon))
            group = []
    if group:
        found.append(_passage(cues, group, lexicon))
    return found


def _misheard(text: str, lexicon: Lexicon) -> bool:
    """Tell whether a text may hold a mishearing: a look that costs less than mending all of it."""
    words = _WORD.findall(text.lower())
    if not lexicon.doubtful.keys().isdisjoint(words):
        return True
    suspects = lexicon.misheard.keys() & set(words)
    return any(
        tuple(words[at + 1 : at + 1 + len(rest)]) == rest
        for at, word in enumerate(words)
        if word in suspects
        for rest, _ in lexicon.misheard[word]
    )


def _passage(cues: Sequence[Cue], group: list[int], lexicon: Lexicon | None) -> Passage:
    marked = " ".join(chr(_FIRST_MARK + i % _MARKS) + cues[i].text for i in group)
    if lexicon is not None and _misheard(marked, lexicon):
        marked = lexicon.repair(marked)
    head, *rest = _MARK.split(marked)
    parts, starts, kept, at = [head], list[int](), list[int](), len(head)
    for sign, text in zip(rest[::2], rest[1::2], strict=True):
        starts.append(at)
        kept.append(group[(ord(sign) - _FIRST_MARK - group[0]) % _MARKS])
        parts.append(text)
        at += len(text)
    return Passage("".join(parts), tuple(starts), tuple(kept))
