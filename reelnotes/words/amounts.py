"""Amounts in free text, as a dirty hand writes them and as they are spoken.

`abt 90 ml`, `half a tin`, `2 coats`, `6x #8 x 1-1/4`, `14x 20mm panel pins`, "sixty mil", "an egg cup of it".
Sizes and grits (`#8`, `120>180`, `10mm dowel`, `145x18`, `R6`, `no 2`) are not amounts.
"""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from reelnotes.words.numbers import (
    FIGURES,
    STARTS,
    Number,
    Piece,
    and_a_part,
    is_figure,
    pieces_of,
    read_number,
    word_set,
)
from reelnotes.words.units import SPELLINGS, UNITS

#: Vessels and packs: a unit of their own, worth what the shelf says a pack holds.
PACKS = word_set("tin tub bottle can jar pack packet box bag tube pot roll")
_PIECES_COUNTED = word_set(
    """
    screw nail pin pen plug dowel disc disk bolt nut washer tack staple hinge bracket knob handle
    pull castor cloth rag glide hook biscuit brad swab wedge button clip spring
    """
)
#: Things that are counted and the unit that makes; small hardware goes by the piece.
COUNTED = {
    "sheet": "sheet", "sht": "sheet", "length": "lengths", "patch": "patches", "strip": "strips",
    "set": "set", "application": "coats", "pass": "coats", **dict.fromkeys(_PIECES_COUNTED, "pcs"),
}  # fmt: skip
_ABOUT = word_set("abt about around roughly approx circa ca nearly almost maybe say ~")
_CROSSES = frozenset({"x", "×"})
_LENGTHS = frozenset({"mm", "cm", "in", "ft", "m", "yd"})
#: Behind "mil" these words say that a thickness or a distance is meant: "six mil out", "forty mil ones".
_SIZED = word_set(
    """
    out off over deep thick wide long high bit ones one ply board boards oak pine drill hole holes
    dowel dowels dole doles screw screws nail nails pin pins plug plugs pilot gap cutter centres
    centers up down proud shy too bolt chisel bigger smaller further short thicker thinner wider
    back mdf to from each bits glass x ×
    """
)
#: Words before a number that make it a name, not an amount: "coat 2", "no 3", "grade 0".
_NAMING = word_set("no number nr coat ct cts grade grit step part day drawer drwr type size model rule")
_SIGNS_BEFORE_NAMES = frozenset({"#", "£", "$", "€", ">", "/"})
#: One of these needs an "of" behind it to be an amount: "a tin of", "a mug of", but "an egg cup".
_NEED_OF = PACKS | {"mug", "cup", "set", "sheet", "lengths", "patches", "strips", *_LENGTHS}
_NEVER_ONE = frozenset({"coats", "pcs", "g", "oz", "ml", "pair"})


class Amount(NamedTuple):
    """An amount as it stands in a text from `start` to `end` (characters).

    `unit` is a name of `UNITS`, a pack ("tin", "tub"), a counted thing ("lengths", "patches", "sheet"),
    "times" for a bare `x2`, or "mix" for `1:1`, whose value is the share of the part named first.
    `approximate` tells that the maker said about, gave a range or used a household measure.
    """

    value: Decimal
    unit: str
    text: str
    start: int
    end: int
    approximate: bool = False

    def __str__(self) -> str:
        """Write it so that `find_amounts` reads the same value and unit again; a mix is written as found."""
        if self.unit == "mix":
            return self.text
        number = format(self.value, "f")
        body = f"of it x{number}" if self.unit == "times" else f"{number} {self.unit}"
        return f"abt {body}" if self.approximate and self.unit != "times" else body


def find_amounts(text: str, pieces: list[Piece] | None = None) -> list[Amount]:
    """Find the amounts of a text in order; they never overlap. `pieces` are those of the text, if at hand."""
    return _Reading(text, pieces_of(text) if pieces is None else pieces).amounts()


class _Reading(NamedTuple):
    """A text with its pieces, while amounts are read from it.

    Each reader gives the amount that begins at a piece, if one does, and the piece to go on from.
    """

    text: str
    pieces: list[Piece]

    def amounts(self) -> list[Amount]:
        found: list[Amount] = []
        i = 0
        while i < len(self.pieces):
            word = self.pieces[i].text
            if word in STARTS or word[0] in FIGURES or word in _CROSSES:
                amount, after = self._at(i)
                found += [amount] if amount else []
                i = max(after, i + 1)
            else:
                i += 1
        return found

    def _word(self, at: int) -> str:
        return self.pieces[at].text if 0 <= at < len(self.pieces) else ""

    def _glued(self, at: int) -> bool:
        """Tell whether a piece stands right behind the one before it."""
        return 0 < at < len(self.pieces) and self.pieces[at - 1].end == self.pieces[at].start

    def _made(self, at: int, after: int, value: Decimal, unit: str, *, rough: bool = False) -> Amount:
        start, end = self.pieces[at].start, self.pieces[after - 1].end
        near = {self._word(at - 1), self._word(at - 2) if self._word(at - 1) == "a" else ""}
        behind = (self._word(after), self._word(after + 1))
        about = bool(near & _ABOUT) or behind in {("or", "so"), ("near", "enough"), ("or", "thereabouts")}
        household = unit in UNITS and UNITS[unit].rough and unit not in {"tsp", "tbsp"}
        return Amount(value, unit, self.text[start:end], start, end, rough or about or household)

    def _at(self, at: int) -> tuple[Amount | None, int]:
        if self.pieces[at].text in _CROSSES:
            return self._times(at)
        if mix := self._mix(at):
            return mix
        number = read_number(self.pieces, at)
        if number is None:
            return self._one(at)
        if self._is_name(at):
            return None, number.after
        if (end := self._dimension_end(number)) > number.after:
            return self._several_of(at, number, end) or (None, end)
        return self._marked_count(at, number) or self._measured(at, number)

    def _is_name(self, at: int) -> bool:
        """Tell whether a number is part of a name or a size: `#8`, `R6`, `no 2`, `coat 1`, `120>180`."""
        before = self._word(at - 1)
        if not before or before in _SIGNS_BEFORE_NAMES:
            return bool(before)
        if before in _CROSSES:  # the second part of a size: `#8 x 1-1/4`
            return is_figure(self._word(at - 2)) and self._word(at - 3) == "#"
        if self._glued(at) and (before[0].isalpha() or before == "."):
            return True
        if before == ".":
            before = self._word(at - 2)
        measured = SPELLINGS.get(self._word(at + 1), "coats") != "coats"  # `1st coat 60 ml` is no coat 60
        return before in _NAMING and self.pieces[at].text not in {"a", "an"} and not measured

    # --- crosses and colons --------------------------------------------------------------------------

    def _is_length(self, at: int) -> bool:
        return SPELLINGS.get(self._word(at)) in _LENGTHS

    def _dimension_end(self, number: Number) -> int:
        """Give the piece behind `145x18`, `22 mm x 1.6 m`, `4.5 x 40`; the number's own end if it is none.

        `14x 20mm panel pins` (the cross glued to the number only) is a count and stays out.
        """
        unit = self._is_length(number.after)
        cross = number.after + unit
        if self._word(cross) not in {*_CROSSES, "by"} or not is_figure(self._word(cross + 1)):
            return number.after
        if not unit and self._glued(cross) and not self._glued(cross + 1):
            return number.after
        second = read_number(self.pieces, cross + 1)
        if second is None:
            return number.after
        end = self._dimension_end(second)
        return end + self._is_length(end)

    def _several_of(self, at: int, number: Number, end: int) -> tuple[Amount, int] | None:
        """Read `2 x 25 ml`: the same amount several times."""
        unit = SPELLINGS.get(self._word(end), "")
        second = read_number(self.pieces, number.after + 1) if number.after + 1 < len(self.pieces) else None
        if second is None or second.after != end or unit not in UNITS or unit in _LENGTHS:
            return None
        return self._made(at, end + 1, number.value * second.value, unit), end + 1

    def _marked_count(self, at: int, number: Number) -> tuple[Amount, int] | None:
        """Read `4x …` and `2 off`: so many pieces."""
        mark = self._word(number.after)
        if number.fraction or number.value % 1 or mark not in {*_CROSSES, "off"}:
            return None
        if mark == "off" and not is_figure(self.pieces[at].text):
            return None
        if mark != "off" and not self._word(number.after + 1) and not self._glued(number.after):
            return None
        return self._made(at, number.after + 1, number.value, "pcs", rough=number.rough), number.after + 1

    def _times(self, at: int) -> tuple[Amount | None, int]:
        """Read `x2` and `x 14` behind a word."""
        value, before = self._word(at + 1), self._word(at - 1)
        if not value.isdecimal() or not before or is_figure(before) or before in SPELLINGS:
            return None, at + 1
        if self._word(at + 2) in SPELLINGS and self._glued(at + 2):
            return None, at + 2
        return self._made(at, at + 2, Decimal(value), "times"), at + 2

    def _mix(self, at: int) -> tuple[Amount, int] | None:
        """Read `1:1`, `2:1 mix`, "fifty fifty", `50/50`: the share of the part named first."""
        first, colon, second = (self._word(at + i) for i in range(3))
        if (first, colon) == ("fifty", "fifty"):
            return self._made(at, at + 2, Decimal("0.5"), "mix"), at + 2
        if (first, colon, second) == ("50", "/", "50"):
            return self._made(at, at + 3, Decimal("0.5"), "mix"), at + 3
        if not (colon == ":" and first.isdecimal() and second.isdecimal() and self._glued(at + 1)):
            return None
        parts = int(first), int(second)
        time_of_day = len(second) == 2 and second != "10"  # noqa: PLR2004 - `9:40`
        if sum(parts) == 0 or time_of_day or max(parts) > 20:  # noqa: PLR2004 - nobody mixes thinner
            return None
        return self._made(at, at + 3, Decimal(parts[0]) / sum(parts), "mix"), at + 3

    # --- with a unit ---------------------------------------------------------------------------------

    def _one(self, at: int) -> tuple[Amount | None, int]:
        """Read "an egg cup", "a litre", "a tin of": one of a vessel or a measure."""
        if self.pieces[at].text not in {"a", "an"}:
            return None, at + 1
        start = at + 1 + (self._word(at + 1) in {"full", "whole", "good", "small", "big", "large", "level"})
        unit, after = self._unit(start)
        if unit in UNITS and unit not in _NEVER_ONE and (more := and_a_part(self.pieces, after)):
            return self._made(at, more.after, 1 + more.value, unit), more.after  # "a yard and a half"
        if unit is None or unit in _NEVER_ONE or (unit in _NEED_OF and self._word(after) != "of"):
            return None, at + 1
        return self._made(at, after, Decimal(1), unit), after

    def _measured(self, at: int, number: Number) -> tuple[Amount | None, int]:
        """Read a number with its unit, pack or counted thing behind it; `300 + 250 ml` is one amount."""
        plus = number.after
        if self._word(plus) == "+" and is_figure(self._word(plus + 1)):
            second = read_number(self.pieces, plus + 1)
            if second and self._unit(second.after)[0] in UNITS:
                number = Number(number.value + second.value, second.after, rough=second.rough)
        start = number.after + (number.fraction and self._word(number.after) == "of")
        unit, after = self._unit(start)
        if unit is None:
            return None, number.after
        if self._is_size(unit, start, after) or (number.fraction and unit in {"pcs", "coats"}):
            return None, after
        return self._made(at, after, number.value, unit, rough=number.rough), after

    def _is_size(self, unit: str, start: int, after: int) -> bool:
        """Tell whether a number with a unit is a size or a distance, not an amount of something."""
        written, of = self._word(start), self._word(after) == "of"
        if written in {"mil", "mils"}:
            return self._word(after) in _SIZED
        if unit in {"mm", "cm", "in"} or written in {"pound", "pounds"}:
            return not of
        return unit in {"m", "ft"} and is_figure(self._word(after))  # `6ft2`, "1 metre 88"

    def _unit(self, at: int) -> tuple[str | None, int]:
        """Read a unit at a piece: one of the table (also of two words), a pack, a counted thing."""
        word, behind = self._word(at), self._word(at + 1)
        if word == "m" and behind == "2" and self._glued(at + 1):
            return "m²", at + 2
        if (two := SPELLINGS.get(f"{word} {behind}")) is not None:
            return two, at + 2
        if word in {"pound", "pounds"}:
            return "lb", at + 1
        for single in (word, word.removesuffix("s"), word.removesuffix("es")):
            unit = SPELLINGS.get(single) if single == word else None
            unit = unit or (single if single in PACKS else COUNTED.get(single))
            if unit:
                return unit, at + 1
        return None, at
