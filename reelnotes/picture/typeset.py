"""An insert set in type: how large its letters are, which lines stand on which card, and where its box is.

Text is never lower than 1/22 of the picture's height, from above an l to below a g; where the lines have room
for it, a capital letter alone is as tall as that. All measures of the box are multiples of the type size. One
insert has one size and one box, so that nothing but its words changes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import accumulate

from reelnotes.model import Card, Insert
from reelnotes.picture.face import Face
from reelnotes.picture.lettering import Word, fitted, laid, shared_out, sizes_between, words_of
from reelnotes.picture.refusals import PictureOdd
from reelnotes.picture.safe_area import Area, captions_at, check_shape, line_width, text_safe
from reelnotes.problems import Problem
from reelnotes.records import frozen
from reelnotes.settings import PanelSettings
from reelnotes.timing import frames_to_ms, ms_to_frames

#: The height of text at least, as a share of the picture's height.
LEAST_TEXT = Fraction(1, 22)
#: So many letters should fit a line of a narrow picture (BBC Subtitle Guidelines, 3.1: 25 in 90 % of 9:16).
_LINE_LETTERS = 25
#: So much smaller may letters become to keep the lines of the card as they are; ours.
_KEEPING_LINES = 0.85
#: A box is at most so high, as a share of the height of a wide picture and of an upright one; ours.
_HIGHEST_WIDE, _HIGHEST_UPRIGHT = 0.40, 0.45

# In type sizes:
PITCH, SIDE, TOP, BOTTOM = 1.2, 0.62, 0.5, 0.5
FIELD, FIELD_GAP, FIELD_SIDE, SYMBOL, SYMBOL_GAP = 1.2, 0.34, 0.4, 0.86, 0.3
LOZENGE, LOZENGES_GAP = 0.62, 0.8


@frozen
class SetCard:
    """What one panel shows, and when; `number` counts from 1 inside its insert. The end is not part of it."""

    lines: tuple[str, ...]
    start_ms: int
    end_ms: int
    number: int
    count: int


@frozen
class SetInsert:
    """An insert with its type size in pixels, its box in the picture as shown, and its cards.

    `lozenges` tells that there is one for each card beside the signal word, the present one filled.
    """

    insert: Insert
    shown: tuple[int, int]
    size: int
    box: Area
    cards: tuple[SetCard, ...]
    lozenges: bool


def set_insert(
    insert: Insert,
    shown: tuple[int, int],
    settings: PanelSettings,
    faces: tuple[Face, Face],
    rate: Fraction | None,
) -> tuple[SetInsert, list[Problem]]:
    """Set an insert for a picture of the size `shown` (columns, rows).

    `faces` are those of the words and of the signal word; `rate` is in frames a second, None where it is not
    known. Words that find no room on their card even in the smallest type go on to another card, which takes
    its share of the time. A letter that the font has not, and a word longer than a line, are problems. Raises
    `PictureOdd`.
    """
    check_shape(*shown)
    words, word_face = faces
    room = _Room(shown, words)
    problems = _missing(insert, words)
    cards = [words_of(card.lines) for card in insert.cards]
    size, parts, cut = room.best(cards, [len(card.lines) for card in insert.cards])
    problems += [
        Problem("insert-long", f"{insert.of}: {word!r} is longer than a line of the panel and was cut there")
        for word in cut
    ]
    lines = [[_texts(part) for part in shared] for shared in parts]
    set_cards = tuple(_timed(insert.cards, lines, rate))
    widest = max(words.width(line, size) for card in set_cards for line in card.lines)
    field = field_width(insert, size, word_face)
    head = field + (len(set_cards) * LOZENGE + LOZENGES_GAP) * size
    lozenges = len(set_cards) > 1 and head <= text_safe(*shown).width - 2 * SIDE * size
    head = head if lozenges else field
    highest = max(len(card.lines) for card in set_cards)
    has_head = field > 0 or lozenges
    box = _box(shown, settings, max(widest, head), _height(highest, has_head=has_head), size)
    return SetInsert(insert, shown, size, box, set_cards, lozenges), problems


def field_width(insert: Insert, size: int, face: Face) -> float:
    """Give the width of the field of the signal word; 0 for a disclosure, which has none."""
    if insert.signal is None:
        return 0.0
    symbol = (SYMBOL * 1.16 + SYMBOL_GAP) * size if insert.cards[0].alert_symbol else 0.0
    return 2 * FIELD_SIDE * size + symbol + face.width(insert.signal, size)


def _height(lines: int, *, has_head: bool) -> float:
    """Give the height of a box of so many lines, in type sizes."""
    return TOP + (FIELD + FIELD_GAP if has_head else 0.0) + lines * PITCH + BOTTOM


@frozen
class _Room:
    """What a picture has room for."""

    shown: tuple[int, int]
    face: Face

    def best(
        self, cards: Sequence[Sequence[Word]], counts: Sequence[int]
    ) -> tuple[int, list[list[tuple[tuple[Word, ...], ...]]], list[str]]:
        """Give the type size, the lines of each card shared out over panels, and the words that were cut.

        At first the cards keep their number of lines while letters become a little smaller, then lines may
        become more, at last letters as small as is allowed; and if that is not enough, panels more.
        """
        least, most = self._sizes()
        slightly = max(least, math.ceil(most * _KEEPING_LINES))
        for size in sizes_between(most, slightly):
            lines, cut = self._lines(cards, size)
            if not cut and all(len(one) <= count for one, count in zip(lines, counts, strict=True)):
                return size, [[tuple(one)] for one in lines], []
        for size in sizes_between(most, least):
            lines, cut = self._lines(cards, size)
            if not cut and all(len(one) <= self._most_lines(size) for one in lines):
                return size, [[tuple(one)] for one in lines], []
        lines, cut = self._lines(cards, least)
        return least, [shared_out(one, self._most_lines(least)) for one in lines], cut

    def _sizes(self) -> tuple[int, int]:
        """Give the smallest type and the wished one, in pixels."""
        wide, high = self.shown
        least = math.ceil(high * LEAST_TEXT / Fraction(self.face.body))
        tall = math.ceil(high * LEAST_TEXT / Fraction(self.face.capital))
        safe = text_safe(wide, high).width
        narrow = int(safe / (_LINE_LETTERS * self.face.mean_width + 2 * SIDE))
        return least, max(least, min(tall, narrow))

    def _lines(
        self, cards: Sequence[Sequence[Word]], size: int
    ) -> tuple[list[list[tuple[Word, ...]]], list[str]]:
        width = min(line_width(*self.shown), text_safe(*self.shown).width - 2 * SIDE * size)
        lines, cut = [], []
        for card in cards:
            words, more = fitted(card, lambda text: self.face.width(text, size), width)
            lines.append(laid(words, lambda text: self.face.width(text, size), width))
            cut += more
        return lines, cut

    def _most_lines(self, size: int) -> int:
        """Give how many lines a box may have: it covers a part of the picture and never the captions."""
        safe, high = text_safe(*self.shown), self.shown[1]
        share = _HIGHEST_WIDE if self.shown[0] >= high else _HIGHEST_UPRIGHT
        free = min(high * share, captions_at(*self.shown).top - safe.top)
        return max(1, int((free / size - _height(0, has_head=True)) / PITCH))


def _box(shown: tuple[int, int], settings: PanelSettings, width: float, height: float, size: int) -> Area:
    """Place the box at the top of the safe area. Raises `PictureOdd` where it would not fit."""
    safe = text_safe(*shown)
    wide, high = math.ceil(width + 2 * SIDE * size), math.ceil(height * size)
    if wide > safe.width or safe.top + high > captions_at(*shown).top:
        raise PictureOdd(*shown)
    spare = safe.width - wide
    left = safe.left + {"left": 0, "middle": spare // 2, "right": spare}[settings.side]
    return Area(left, safe.top, left + wide, safe.top + high)


def _texts(lines: Sequence[tuple[Word, ...]]) -> tuple[str, ...]:
    return tuple(" ".join(word.text for word in line) for line in lines)


def _missing(insert: Insert, face: Face) -> list[Problem]:
    """Report the letters that the font has not."""
    missing = face.missing("".join("".join(card.lines) for card in insert.cards))
    if not missing:
        return []
    letters = ", ".join(f"“{letter}” (U+{ord(letter):04X})" for letter in missing)
    message = (
        f"{insert.of}: the font of the panels lacks {letters}; write it in other letters, or name a font"
    )
    return [
        Problem("panel-letter", f"{message} that has it under [panels] in workshop.toml", severity="error")
    ]


def _timed(
    cards: Sequence[Card], lines: Sequence[Sequence[tuple[str, ...]]], rate: Fraction | None
) -> Iterator[SetCard]:
    """Give each part of a card its share of the time, by its words, on whole frames."""
    count = sum(len(parts) for parts in lines)
    number = 0
    for card, parts in zip(cards, lines, strict=True):
        words = list(accumulate(sum(len(line.split()) for line in part) for part in parts))
        start_ms = card.start_ms
        for part, read in zip(parts, words, strict=True):
            number += 1
            share = Fraction(read, words[-1])
            end_ms = card.start_ms + round((card.end_ms - card.start_ms) * share)
            if rate is not None and share < 1:
                end_ms = frames_to_ms(ms_to_frames(end_ms, rate), rate)
            yield SetCard(part, start_ms, end_ms, number, count)
            start_ms = end_ms
