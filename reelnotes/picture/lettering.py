"""The words of a card laid into lines of a given width, as large as there is room for."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence
from functools import cache

from reelnotes.records import frozen

#: Type sizes are tried from the wished one down, each a little smaller.
_STEPS = 12
_PAUSE = re.compile(r"[.!?…:;][\"'”’)\]]*$")
_HALT = re.compile(r"(?:,|–|—|\))[\"'”’]*$")
_SHORT = 3
_KEPT_BREAK, _COMMA, _PLAIN, _TORN = 0.0, 0.5, 1.5, 5.0
_RAGGED = 14.0
#: A last line may be short, as long as it is more than a word or two.
_LAST = 0.6

Measure = Callable[[str], float]


@frozen
class Word:
    """A word of a card; `breaks` tells that a line ended after it where the card was made."""

    text: str
    breaks: bool = False

    @property
    def cost(self) -> float:
        """What it costs to end a line after it: least where the card did, or at a pause."""
        if self.breaks or _PAUSE.search(self.text):
            return _KEPT_BREAK
        if _HALT.search(self.text):
            return _COMMA
        return _TORN if len(self.text) <= _SHORT else _PLAIN


def words_of(lines: Sequence[str]) -> list[Word]:
    """Take the lines of a card apart into words, each as one code point a letter where there is one."""
    words = (line.split() for line in lines)
    return [
        Word(unicodedata.normalize("NFC", text), breaks=number == len(line))
        for line in words
        for number, text in enumerate(line, start=1)
    ]


def fitted(words: Sequence[Word], measure: Measure, width: float) -> tuple[list[Word], list[str]]:
    """Cut the words that no line can hold, with a hyphen; give all words, and those that were cut."""
    fitting: list[Word] = []
    cut: list[str] = []
    for word in words:
        text = word.text
        while measure(text) > width and len(text) > 1:
            at = max((n for n in range(1, len(text)) if measure(text[:n] + "-") <= width), default=1)
            fitting.append(Word(text[:at] + "-", breaks=True))
            text = text[at:]
        if text is not word.text:
            cut.append(word.text)
        fitting.append(Word(text, word.breaks))
    return fitting, cut


def laid(words: Sequence[Word], measure: Measure, width: float) -> list[tuple[Word, ...]]:
    """Break words into as few lines as they need, and among such breaks into the most natural.

    Every word must fit the width. Found by dynamic programming over where each line begins.
    """

    @cache
    def line(start: int, end: int) -> float:
        return measure(" ".join(word.text for word in words[start:end]))

    @cache
    def rest(start: int) -> tuple[int, float, int]:
        """Give the number of lines from a word on, what they cost, and where the first of them ends."""
        options = []
        for end in range(start + 1, len(words) + 1):
            long = line(start, end)
            if long > width and end > start + 1:
                break
            slack = _RAGGED * (1 - long / width) ** 2
            if end == len(words):
                options.append((1, slack * _LAST, end))
                continue
            lines, cost, _ = rest(end)
            options.append((lines + 1, cost + words[end - 1].cost + slack, end))
        return min(options)

    lines, at = [], 0
    while at < len(words):
        end = rest(at)[2]
        lines.append(tuple(words[at:end]))
        at = end
    return lines


def shared_out(lines: Sequence[tuple[Word, ...]], most: int) -> list[tuple[tuple[Word, ...], ...]]:
    """Share lines out over as few cards as hold them, evenly, a card ending at a pause if one is near."""
    count = -(-len(lines) // most)
    if count <= 1:
        return [tuple(lines)]
    even = len(lines) / count

    @cache
    def rest(start: int, cards: int) -> tuple[float, int]:
        if cards == 1:
            long = len(lines) - start
            return (abs(long - even) if 0 < long <= most else float("inf")), len(lines)
        options = []
        for end in range(start + 1, min(start + most, len(lines) - cards + 1) + 1):
            ends_well = lines[end - 1][-1].cost
            options.append((abs(end - start - even) + ends_well + rest(end, cards - 1)[0], end))
        return min(options, default=(float("inf"), start))

    shared, at = [], 0
    for cards in range(count, 0, -1):
        end = rest(at, cards)[1]
        shared.append(tuple(lines[at:end]))
        at = end
    return shared


def sizes_between(most: int, least: int) -> list[int]:
    """List the type sizes that are tried, from the largest down."""
    step = max(1, (most - least) // _STEPS)
    return [*range(most, least, -step), least] if most > least else [least]
