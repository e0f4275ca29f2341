"""Prices in free text: `£14.80`, `25 cash`, "sixty four quid", "a fiver"; `12 50` where money is the talk."""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from reelnotes.words.numbers import STARTS, Number, Piece, is_figure, pieces_of, read_number, word_set
from reelnotes.words.units import SPELLINGS

SIGNS = {"£": "GBP", "$": "USD", "€": "EUR"}
#: Words behind a number that make it a price; "" where they do not name the currency.
_MONEY = {
    "quid": "GBP", "pounds": "GBP", "pound": "GBP", "euro": "EUR", "euros": "EUR", "dollars": "USD",
    "dollar": "USD", "bucks": "USD", "gbp": "GBP", "eur": "EUR", "usd": "USD", "cash": "", "paid": "",
}  # fmt: skip
_PENCE = frozenset({"pence", "p", "cents", "cent", "c"})
_NOTES = {"fiver": 5, "tenner": 10}
#: Any of these near by makes a bare `12.50` (or "12 50" in speech) a price.
_TALK = word_set(
    """
    shop shopping bought buy cost costs paid pay price prices yard till receipt budget spent total
    added merchant merchants store market quid pounds cash money £ $ €
    """
)
_REACH = 14  # pieces: how far money talk carries to a bare number
_HUNDREDTHS, _TEN = 100, 10


class Price(NamedTuple):
    """A price from `start` to `end` (characters); `currency` is a code, or "" where the text does not say."""

    value: Decimal
    currency: str
    text: str
    start: int
    end: int


def find_prices(text: str, *, money: bool = False) -> list[Price]:
    """Find the prices of a text in order.

    `money` says that the text is about money anyway, so that a bare `2.99` counts as a price.
    """
    reading = _Reading(text, pieces_of(text))
    talk = [i for i, piece in enumerate(reading.pieces) if piece.text in _TALK]
    found: list[Price] = []
    i = 0
    while i < len(reading.pieces):
        word = reading.pieces[i].text
        price, after = None, i + 1
        if is_figure(word) or word in STARTS or word in SIGNS:
            near = money or any(abs(at - i) <= _REACH for at in talk)
            price, after = reading.price_at(i, near=near)
        elif word in _NOTES and reading.word(i - 1) in {"a", "another", "the"}:
            price = reading.made(i, i + 1, Decimal(_NOTES[word]), "")
        found += [price] if price else []
        i = max(after, i + 1)
    return found


class _Reading(NamedTuple):
    """A text with its pieces, while prices are read from it."""

    text: str
    pieces: list[Piece]

    def word(self, at: int) -> str:
        return self.pieces[at].text if 0 <= at < len(self.pieces) else ""

    def made(self, at: int, after: int, value: Decimal, currency: str) -> Price:
        start, end = self.pieces[at].start, self.pieces[after - 1].end
        return Price(value, currency, self.text[start:end], start, end)

    def price_at(self, at: int, *, near: bool) -> tuple[Price | None, int]:
        """Read the price that begins at a piece, and the piece to go on from."""
        sign = self.pieces[at].text in SIGNS
        start = at + sign
        number = read_number(self.pieces, start) if start < len(self.pieces) else None
        if number is None or number.fraction:
            return None, start
        behind = self.word(number.after)
        if sign:
            return self.made(at, number.after, number.value, SIGNS[self.pieces[at].text]), number.after
        if behind in SIGNS and not is_figure(self.word(number.after + 1)):
            return self.made(at, number.after + 1, number.value, SIGNS[behind]), number.after + 1
        if behind in _PENCE:
            return self._small(at, number)
        if behind in _MONEY:
            return self._named(at, number)
        return self._bare(at, number) if near else (None, number.after)

    def _small(self, at: int, number: Number) -> tuple[Price | None, int]:
        """Read `5p`, "83 pence"; a single letter must stick to its number."""
        sign = self.pieces[number.after]
        if len(sign.text) == 1 and sign.start != self.pieces[number.after - 1].end:
            return None, number.after
        return self.made(at, number.after + 1, number.value / _HUNDREDTHS, ""), number.after + 1

    def _named(self, at: int, number: Number) -> tuple[Price | None, int]:
        """Read "sixty four quid", "69 pounds 83 pence"; pounds of something are a weight."""
        name = self.word(number.after)
        if name.startswith("pound") and self.word(number.after + 1) == "of":
            return None, number.after + 1
        value, after = self._and_small(number.value, number.after + 1)
        return self.made(at, after, value, _MONEY[name]), after

    def _and_small(self, value: Decimal, at: int) -> tuple[Decimal, int]:
        """Read "83 pence", or the bare "fifty" that ends "two pounds fifty"."""
        start = at + (self.word(at) == "and")
        number = read_number(self.pieces, start) if start < len(self.pieces) else None
        if number is None or number.fraction or not 1 <= number.value < _HUNDREDTHS:
            return value, at
        if self.word(number.after) in {"pence", "cents"}:
            return value + number.value / _HUNDREDTHS, number.after + 1
        if start == at and number.value >= _TEN and number.after >= len(self.pieces):
            return value + number.value / _HUNDREDTHS, number.after
        return value, at

    def _bare(self, at: int, number: Number) -> tuple[Price | None, int]:
        """Read `2.99` and "12 50" without sign or word: two places after the point, or two numbers."""
        written, after = self.pieces[at].text, number.after
        if after == at + 1 and len(written.partition(".")[2]) == 2:  # noqa: PLR2004
            return self.made(at, after, number.value, ""), after
        follow = self.word(at + 1)
        apart = after < len(self.pieces) and self.pieces[after].start == self.pieces[at].end + 1
        if not (written.isdecimal() and follow.isdecimal() and len(follow) == 2 and apart):  # noqa: PLR2004
            return None, after
        if self.word(at + 2) in SPELLINGS or self.word(at + 2) in {"x", "grit"}:
            return None, after
        return self.made(at, at + 2, number.value + Decimal(follow) / _HUNDREDTHS, ""), at + 2
