"""Numbers as they are written and spoken: `1-1/4`, `½`, "a hundred and fifty", "two fifty", "half a"."""

from __future__ import annotations

import re
from decimal import Decimal
from functools import lru_cache
from typing import NamedTuple

from reelnotes.words.tokens import READ_ONCE


class Piece(NamedTuple):
    """A word, number or sign of a text, case folded, with its place."""

    text: str
    start: int
    end: int


class Number(NamedTuple):
    """A number read from the pieces: `after` is the index of the first piece behind it.

    `fraction` tells that it is a part of one ("half a", `3/4`); `rough` that it was a range or "a couple".
    """

    value: Decimal
    after: int
    fraction: bool = False
    rough: bool = False


def word_set(words: str) -> frozenset[str]:
    """Make a set of words from a block of them."""
    return frozenset(words.split())


def _counted(words: str, first: int, by: int) -> dict[str, int]:
    return {word: first + by * place for place, word in enumerate(words.split())}


ONES = _counted(
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
    "seventeen eighteen nineteen",
    0,
    1,
)
TENS = _counted("twenty thirty forty fifty sixty seventy eighty ninety", 20, 10) | {"fourty": 40}
_THIRD = Decimal(1) / 3
_FRACTIONS = {
    "half": Decimal("0.5"), "halves": Decimal("0.5"), "quarter": Decimal("0.25"), "quarters": Decimal("0.25"),
    "third": _THIRD, "thirds": _THIRD, "eighth": Decimal("0.125"), "eighths": Decimal("0.125"),
    "fifth": Decimal("0.2"), "fifths": Decimal("0.2"),
}  # fmt: skip
_VULGAR = {
    "½": Decimal("0.5"), "¼": Decimal("0.25"), "¾": Decimal("0.75"), "⅓": _THIRD, "⅔": 2 * _THIRD,
    "⅛": Decimal("0.125"), "⅜": Decimal("0.375"), "⅝": Decimal("0.625"), "⅞": Decimal("0.875"),
}  # fmt: skip
_GROUPS = {"couple": 2, "pair": 2, "dozen": 12}
_ARTICLES = ("a", "an", "one")
_DIGITS, _HUNDRED = 10, 100
_MULTIPLES = {"hundred": _HUNDRED, "dozen": 12}
_TO, _BETWEEN = frozenset({"or", "to", "-", "–"}), frozenset({"and"})
_LONGEST = 12  # figures: what is longer is no number of anything at a bench

#: First words at which a number can begin: everything else is passed over without a look.
STARTS = frozenset({"a", "an", "hundred", "thousand", *_FRACTIONS, *_VULGAR, *_GROUPS, *ONES, *TENS})

_LETTERS = r"(?:(?![½¼¾⅓⅔⅛⅜⅝⅞²³])[^\W\d_])+"
_PIECES = re.compile(
    r"[0-9]+(?:,[0-9]{3})+(?![0-9])|[0-9]+(?:[.,][0-9]+)?|[½¼¾⅓⅔⅛⅜⅝⅞]|"
    rf"{_LETTERS}(?:['’]{_LETTERS})?[²³]?|[^\s\w]|_"
)
#: What a number written in figures begins with.
FIGURES = frozenset("0123456789")


def pieces_of(text: str) -> list[Piece]:
    """Cut a text into words, numbers and single signs, in lower case."""
    return list(_cut(text))


@lru_cache(maxsize=READ_ONCE)
def _cut(text: str) -> tuple[Piece, ...]:
    return tuple([Piece(m[0], m.start(), m.end()) for m in _PIECES.finditer(lowered(text))])


def is_figure(word: str) -> bool:
    """Tell whether a piece is a number written in figures."""
    return word[:1] in FIGURES


def lowered(text: str) -> str:
    """Put a text in lower case without moving a place: the few letters that would become two stay."""
    plain = text.lower()
    return plain if len(plain) == len(text) else "".join(c if len(c.lower()) > 1 else c.lower() for c in text)


def read_number(pieces: list[Piece], at: int) -> Number | None:
    """Read the number that begins at a piece, the longest there is; None if none does.

    "half a tin" leaves `after` at "tin", "a quarter of a litre" at "litre". "a" alone is no number here.
    `10-15`, "10 to 15" and "two or three" are taken as the middle between the two.
    """
    word = pieces[at].text
    number = None
    if is_figure(word):
        number = _written(pieces, at) if len(word) <= _LONGEST else None
    elif word in _VULGAR:
        number = Number(_VULGAR[word], at + 1, fraction=True)
    elif word in STARTS:
        number = _spoken(pieces, at)
    return _range(pieces, number, between=at > 0 and pieces[at - 1].text == "between") if number else None


def _text(pieces: list[Piece], at: int) -> str:
    return pieces[at].text if at < len(pieces) else ""


# --- written -----------------------------------------------------------------------------------------


def _written(pieces: list[Piece], at: int) -> Number:
    if over := _over(pieces, at):
        return Number(over, at + 3, fraction=True)
    value, behind = _decimal(pieces[at].text), at + 1
    sign = _text(pieces, behind)
    if sign in _VULGAR:
        return Number(value + _VULGAR[sign], behind + 1)
    start = behind + (sign == "-")
    if (part := _over(pieces, start)) is not None and part < 1:  # `1-1/4`, `1 1/4`
        return Number(value + part, start + 3)
    if mixed := and_a_part(pieces, behind):
        return Number(value + mixed.value, mixed.after)
    if sign in _MULTIPLES:
        return Number(value * _MULTIPLES[sign], behind + 1)
    return Number(value, behind)


def _decimal(text: str) -> Decimal:
    """Read `1,000` as a thousand, `2,5` as two and a half."""
    if re.fullmatch(r"\d{1,3}(?:,\d{3})+", text):
        return Decimal(text.replace(",", ""))
    return Decimal(text.replace(",", "."))


def _over(pieces: list[Piece], at: int) -> Decimal | None:
    """Read `3/4` written without spaces."""
    if at + 2 >= len(pieces) or pieces[at + 1].text != "/":
        return None
    top, bar, low = pieces[at : at + 3]
    if top.end != bar.start or bar.end != low.start or not (top.text.isdecimal() and low.text.isdecimal()):
        return None
    return Decimal(top.text) / Decimal(low.text) if int(low.text) else None


# --- spoken ------------------------------------------------------------------------------------------


def _spoken(pieces: list[Piece], at: int) -> Number | None:
    word, start = pieces[at].text, at
    if word in {"a", "an"}:
        word, start = _text(pieces, at + 1), at + 1
        if word not in _GROUPS and word not in _FRACTIONS and word not in {"hundred", "thousand"}:
            return None
    if word in _GROUPS:
        return _group(pieces, start)
    if word in _FRACTIONS:
        return _part(pieces, start, Decimal(1))
    number = _cardinal(pieces, start)
    return _with_a_part(pieces, number) if number else None


def _with_a_part(pieces: list[Piece], number: Number) -> Number:
    """Go on from "three" to "three quarters of", from "two" to "two and a half"."""
    if _text(pieces, number.after) in _FRACTIONS.keys() - {"half"} and number.value < _DIGITS:
        return _part(pieces, number.after, number.value)
    if _text(pieces, number.after) == "dozen":
        return Number(number.value * 12, number.after + 1)
    mixed = and_a_part(pieces, number.after)
    return Number(number.value + mixed.value, mixed.after) if mixed else number


def and_a_part(pieces: list[Piece], at: int) -> Number | None:
    """Read "and a half", "and a quarter", "and three quarters" behind a whole number."""
    if _text(pieces, at) != "and":
        return None
    times, start, word = Decimal(1), at + 1, _text(pieces, at + 1)
    if word in _ARTICLES:
        start += 1
    elif word in ONES and _text(pieces, start + 1) in _FRACTIONS:
        times, start = Decimal(ONES[word]), start + 1
    else:
        return None
    word = _text(pieces, start)
    return Number(times * _FRACTIONS[word], start + 1) if word in _FRACTIONS else None


def _part(pieces: list[Piece], at: int, times: Decimal) -> Number:
    """Read "half", "quarters" and what leads on to the thing: "of a", "a", "the"."""
    value, after = times * _FRACTIONS[pieces[at].text], at + 1
    if _text(pieces, after) in {"a", "an"} and _text(pieces, after + 1) == "dozen":
        return Number(value * 12, after + 2)
    after += _text(pieces, after) == "of"
    after += _text(pieces, after) in {"a", "an", "the"}
    return Number(value, after, fraction=True)


def _group(pieces: list[Piece], at: int) -> Number | None:
    """Read "couple of", "dozen", "pair of"; the pair itself stays a unit where no "of" follows."""
    word, after = pieces[at].text, at + 1
    of = _text(pieces, after) == "of"
    if word == "pair" and not of:
        return None
    return Number(Decimal(_GROUPS[word]), after + of, rough=word == "couple")


def _cardinal(pieces: list[Piece], at: int) -> Number | None:
    """Read "two hundred and fifty", "a thousand", "one twenty" (120), "two point five"."""
    total = now = 0
    i, joined = at, False
    while i < len(pieces):
        word = pieces[i].text
        if word == "and" and not joined and i > at and pieces[i - 1].text in {"hundred", "thousand"}:
            joined = True
        elif word == "point" and i > at:
            return _point(pieces, i, total + now)
        elif word == "thousand":
            total, now, joined = total + (now or 1) * 1000, 0, False
        elif (more := _with(now, word, first=i == at or joined)) is not None:
            now, joined = more, False
        else:
            break
        i += 1
    return Number(Decimal(total + now), i - joined) if i > at else None


def _with(now: int, word: str, *, first: bool) -> int | None:
    """Add a number word to what was heard so far; None if it belongs to another number."""
    whole = now % _HUNDRED == 0
    if word in ONES:
        tens_stand = now % _HUNDRED in TENS.values() and ONES[word] < _DIGITS
        return now + ONES[word] if (whole or tens_stand) and (ONES[word] or first) else None
    if word in TENS and whole:
        return now + TENS[word]
    if word in TENS and 1 <= now < _DIGITS:  # "one twenty", as grits and volumes are said
        return now * _HUNDRED + TENS[word]
    return (now or 1) * _HUNDRED if word == "hundred" and now < _HUNDRED else None


def _point(pieces: list[Piece], at: int, whole: int) -> Number:
    """Read "point five", "point oh three" behind a whole number."""
    digits, i = "", at + 1
    while (word := _text(pieces, i)) and (word == "oh" or ONES.get(word, _DIGITS) < _DIGITS):
        digits += str(ONES.get(word, 0))
        i += 1
    return Number(Decimal(f"{whole}.{digits}"), i) if digits else Number(Decimal(whole), at)


def _range(pieces: list[Piece], first: Number, *, between: bool) -> Number:
    """Take `10-15`, "two or three" and "between 10 and 15" as the middle, if the second is not far above."""
    start = first.after + 1
    if _text(pieces, first.after) not in (_BETWEEN if between else _TO) or start >= len(pieces):
        return first
    word = pieces[start].text
    second = read_number(pieces, start) if is_figure(word) or word in ONES or word in TENS else None
    if second is None or second.fraction or not first.value < second.value <= 3 * first.value:
        return first
    return Number((first.value + second.value) / 2, second.after, rough=True)
