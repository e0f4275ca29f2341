"""Measures as the bench writes them (`420mm`, `16 1/2in`, `1 qt`), read exactly: fractions, never floats.

Factors: 16 CFR 500.19 (inch, foot, square foot, gallon as 231 cubic inches and its parts, pound to six
figures). The exact pound, 453.59237 g, and the board foot, 144 cubic inches, are from memory. Gallons,
quarts, pints and fluid ounces are those of the United States.
"""

from __future__ import annotations

import re
from fractions import Fraction
from math import ceil

from reelnotes.problems import Refusal

MM_PER_INCH = Fraction("25.4")
M2_PER_SQUARE_FOOT = Fraction("0.09290304")
ML_PER_CUBIC_INCH = Fraction("16.387064")
ML_PER_GALLON = 231 * ML_PER_CUBIC_INCH
GRAMS_PER_POUND = Fraction("453.59237")
M3_PER_BOARD_FOOT = 144 * ML_PER_CUBIC_INCH / 1_000_000
#: 1 ft² per US gallon in m² per litre.
M2_PER_L_IN_FT2_PER_GALLON = M2_PER_SQUARE_FOOT / (ML_PER_GALLON / 1000)

LENGTHS_MM: dict[str, Fraction] = {
    "mm": Fraction(1), "cm": Fraction(10), "m": Fraction(1000),
    "in": MM_PER_INCH, "inch": MM_PER_INCH, "inches": MM_PER_INCH, '"': MM_PER_INCH, "″": MM_PER_INCH,
    "ft": 12 * MM_PER_INCH, "foot": 12 * MM_PER_INCH, "feet": 12 * MM_PER_INCH, "'": 12 * MM_PER_INCH,
}  # fmt: skip
AREAS_M2: dict[str, Fraction] = {
    "m2": Fraction(1), "m²": Fraction(1), "sqm": Fraction(1),
    "cm2": Fraction(1, 10_000), "cm²": Fraction(1, 10_000),
    "ft2": M2_PER_SQUARE_FOOT, "ft²": M2_PER_SQUARE_FOOT, "sqft": M2_PER_SQUARE_FOOT,
}  # fmt: skip
VOLUMES_ML: dict[str, Fraction] = {
    "ml": Fraction(1), "cl": Fraction(10), "l": Fraction(1000),
    "gal": ML_PER_GALLON, "qt": ML_PER_GALLON / 4, "pt": ML_PER_GALLON / 8, "floz": ML_PER_GALLON / 128,
}  # fmt: skip
MASSES_G: dict[str, Fraction] = {
    "g": Fraction(1), "kg": Fraction(1000), "lb": GRAMS_PER_POUND, "oz": GRAMS_PER_POUND / 16,
}  # fmt: skip
COVERAGES_M2_PER_L: dict[str, Fraction] = {
    "m2/l": Fraction(1), "m²/l": Fraction(1),
    "ft2/gal": M2_PER_L_IN_FT2_PER_GALLON, "ft²/gal": M2_PER_L_IN_FT2_PER_GALLON,
    "sqft/gal": M2_PER_L_IN_FT2_PER_GALLON,
}  # fmt: skip

#: What rounding up lets pass: a binary fraction is a hair off.
_HAIR = Fraction(1, 1_000_000)
_VULGAR = {"¼": "1/4", "½": "1/2", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_NUMBER = r"(?:([0-9]{1,7})[ -]+)?([0-9]{1,7})/([0-9]{1,7})|([0-9]{1,7}(?:\.[0-9]{1,9})?|\.[0-9]{1,9})"


class BadMeasure(Refusal):
    """A measure that cannot be read, or cannot be; `name` is what it was asked under, where that is known.

    `wanted` completes "write it as …": an example, or what it has to be.
    """

    def __init__(self, text: str, wanted: str, name: str = "") -> None:
        self.text, self.wanted, self.name = text, wanted, name
        option = f"--{name.replace('_', '-')}" if name else ""
        if text.strip():
            head = f"{option} {text!r}".strip()
            super().__init__(f"{head} is not what is wanted here; write it as {wanted}.")
        else:
            super().__init__(f"{option or 'something'} is missing; write it as {wanted}.")


def parse_length(text: str) -> Fraction:
    """Read `420mm`, `16.5in`, `16 1/2in`, `3¾"` or `2ft 3in` as millimetres. Raises `BadMeasure`."""
    return _summed(text, LENGTHS_MM, "420mm or 16 1/2in")


def parse_volume(text: str) -> Fraction:
    """Read `500ml`, `1.5 l`, `1 qt` or `8 floz` (US) as millilitres. Raises `BadMeasure`."""
    return _summed(text, VOLUMES_ML, "500ml, 1l, 1qt or 8floz (US measures)")


def parse_mass(text: str) -> Fraction:
    """Read `120g`, `1.2kg`, `4oz` or `1 lb` as grams. Raises `BadMeasure`."""
    return _summed(text, MASSES_G, "120g or 4oz")


def parse_coverage(text: str) -> Fraction:
    """Read `10 m2/l` or `400 ft2/gal` (US) as square metres per litre. Raises `BadMeasure`."""
    return _summed(text, COVERAGES_M2_PER_L, "10m2/l or 400ft2/gal")


def parse_area(text: str) -> Fraction:
    """Read `2.3m2`, `25 sqft`, or sides such as `760x1520mm`, as square metres. Raises `BadMeasure`."""
    first, cross, second = text.casefold().replace("×", "x").partition("x")
    if not cross:
        return _summed(text, AREAS_M2, "2.3m2, 25sqft or 760x1520mm")
    unit = re.sub(r".*[\d¼½¾⅛⅜⅝⅞]", "", second).strip()
    if first.strip()[-1:].isdigit() or first.strip()[-1:] in _VULGAR:
        first += unit
    return parse_length(first) * parse_length(second) / 1_000_000


def parse_temperature(text: str) -> Fraction:
    """Read `20C` or `68F`, with or without a degree sign, as degrees Celsius. Raises `BadMeasure`."""
    plain = text.strip().replace("°", "").replace("−", "-").upper()
    match = re.fullmatch(r"(-?[0-9]{1,4}(?:\.[0-9]{1,9})?)\s*([CF])", plain)
    if not match:
        raise BadMeasure(text, "20C or 68F")
    degrees = Fraction(match[1])
    return degrees if match[2] == "C" else (degrees - 32) * Fraction(5, 9)


def parse_number(text: str) -> Fraction:
    """Read `3`, `2.5`, `1/2`, `1 1/2` or `1½`. Raises `BadMeasure`."""
    return _summed(text, {"": Fraction(1)}, "3, 2.5 or 1 1/2")


def _summed(text: str, units: dict[str, Fraction], wanted: str) -> Fraction:
    """Add up terms of number and unit, each unit smaller than the one before; nothing may be left over."""
    plain = text.strip().casefold().replace("fl oz", "floz").replace("sq ft", "sqft")
    if "," in plain:
        wanted += ", with a point before decimals"
    for sign, words in _VULGAR.items():
        plain = plain.replace(sign, f" {words}")
    names = "|".join(sorted(map(re.escape, units), key=len, reverse=True))
    term = re.compile(rf"\s*(?:{_NUMBER})\s*({names})(?![a-z²2])")
    total, last, at = Fraction(0), None, 0
    while at < len(plain):
        match = term.match(plain, at)
        if match is None or match[3] == "0" or (last is not None and units[match[5]] >= last):
            raise BadMeasure(text, wanted)
        last, at = units[match[5]], match.end()
        total += _value(match) * last
    if last is None:
        raise BadMeasure(text, wanted)
    return total


def _value(match: re.Match[str]) -> Fraction:
    if match[4] is not None:
        return Fraction(match[4])
    return int(match[1] or 0) + Fraction(int(match[2]), int(match[3]))


# --- writing ---------------------------------------------------------------------------------------


def mm_text(mm: Fraction | float, places: int = 1) -> str:
    """Write millimetres with a fixed number of decimals: `6.5 mm`."""
    return f"{round(float(mm), places) + 0.0:.{places}f} mm"


def inch_text(mm: Fraction | float, denominator: int = 32, *, at_least: bool = False) -> str:
    """Write the nearest fractional inch, `16 17/32 in`; the fraction in lowest terms.

    `denominator` is the finest division, a power of two. A length that rounds to nothing is `under 1/32 in`.
    `at_least` rounds up: for what must not come out too short, such as a slot.
    """
    exact = Fraction(mm) / MM_PER_INCH * denominator
    parts = ceil(exact - _HAIR) if at_least else round(exact)
    if parts == 0:
        return "0 in" if mm == 0 else f"under 1/{denominator} in"
    sign = "−" if parts < 0 else ""
    whole, rest = divmod(abs(parts), denominator)
    fraction = Fraction(rest, denominator)
    words = [str(whole)] * bool(whole) + [f"{fraction.numerator}/{fraction.denominator}"] * bool(rest)
    return f"{sign}{' '.join(words)} in"


def both_text(mm: Fraction | float) -> str:
    """Write a length both ways: `6.5 mm (1/4 in)`."""
    return f"{mm_text(mm)} ({inch_text(mm)})"


def at_least_text(mm: Fraction | float) -> str:
    """Write a length both ways, rounded up in both: `11.4 mm (15/32 in)` for what must not be shorter."""
    up = ceil(Fraction(mm) * 10 - _HAIR) / 10
    return f"{mm_text(up)} ({inch_text(mm, at_least=True)})"


def fahrenheit(celsius: Fraction | float) -> float:
    """Turn degrees Celsius into degrees Fahrenheit."""
    return float(celsius) * 1.8 + 32


def fluid_ounces(ml: Fraction | float) -> float:
    """Turn millilitres into US fluid ounces."""
    return float(Fraction(ml) / VOLUMES_ML["floz"])
