"""Units of the bench and the exact factors between them.

A table and not a units library: the one that was tried costs 300 ms to import, as much as drafting a whole
episode, and what a shelf needs are these few factors.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Literal, NamedTuple

Measure = Literal["volume", "mass", "length", "area", "count", "coats"]


class Unit(NamedTuple):
    """A unit with its size in the base unit of its measure: ml, g, mm, m², one piece.

    `rough` marks household measures, whose size is common practice, no source.
    """

    name: str
    measure: Measure
    size: Decimal
    rough: bool = False


# Inch, foot, square foot, US gallon and avoirdupois pound as in 16 CFR 500.19, which prints six figures; the
# exact forms are the definitions behind them: 231 cubic inches to the gallon, 453.59237 g to the pound.
_IN, _GALLON_ML, _POUND_G = Decimal("25.4"), Decimal("3785.411784"), Decimal("453.59237")
#: The imperial gallon, 4.54609 l exactly (from memory): what "pint" means where money is sterling.
_IMPERIAL_GALLON_ML = Decimal("4546.09")
#: How many of each go into a gallon, US and imperial.
_GALLON_PARTS = {"gal": (1, 1), "qt": (4, 4), "pt": (8, 8), "fl oz": (128, 160)}

_TABLE: tuple[Unit, ...] = (
    Unit("ml", "volume", Decimal(1)),
    Unit("cl", "volume", Decimal(10)),
    Unit("dl", "volume", Decimal(100)),
    Unit("l", "volume", Decimal(1000)),
    *(Unit(name, "volume", _GALLON_ML / parts[0]) for name, parts in _GALLON_PARTS.items()),
    Unit("tsp", "volume", Decimal(5), rough=True),
    Unit("dessertspoon", "volume", Decimal(10), rough=True),
    Unit("tbsp", "volume", Decimal(15), rough=True),
    Unit("egg cup", "volume", Decimal(50), rough=True),
    Unit("cup", "volume", Decimal(240), rough=True),
    Unit("mug", "volume", Decimal(300), rough=True),
    Unit("g", "mass", Decimal(1)),
    Unit("kg", "mass", Decimal(1000)),
    Unit("oz", "mass", _POUND_G / 16),
    Unit("lb", "mass", _POUND_G),
    Unit("mm", "length", Decimal(1)),
    Unit("cm", "length", Decimal(10)),
    Unit("m", "length", Decimal(1000)),
    Unit("in", "length", _IN),
    Unit("ft", "length", 12 * _IN),
    Unit("yd", "length", 36 * _IN),
    Unit("m²", "area", Decimal(1)),
    Unit("sq ft", "area", Decimal("0.09290304")),
    Unit("pcs", "count", Decimal(1)),
    Unit("pair", "count", Decimal(2)),
    Unit("dozen", "count", Decimal(12)),
    Unit("coats", "coats", Decimal(1)),
)
UNITS: dict[str, Unit] = {unit.name: unit for unit in _TABLE}

#: How each unit is written or spoken; the name itself counts too.
_SPELLINGS = """
ml: millilitre millilitres milliliter milliliters mil mils mls cc
cl: centilitre centilitres
dl: decilitre decilitres deciliter deciliters
l: litre litres liter liters ltr ltrs lt
gal: gallon gallons gals
qt: quart quarts qts
pt: pint pints pts
fl oz: fl_oz fluid_ounce fluid_ounces floz fl_ounces fl_ounce
tsp: tsps teaspoon teaspoons teaspoonful teaspoonfuls tea_spoon tea_spoons
dessertspoon: dessertspoons dessert_spoon dessert_spoons dsp
tbsp: tbsps tablespoon tablespoons tblsp tbs table_spoon table_spoons
egg cup: egg_cup egg_cups eggcup eggcups
cup: cups cupful
mug: mugs mugful
g: gram grams gramme grammes gramm gramms gm gms gr
kg: kilo kilos kilogram kilograms kgs
oz: ounce ounces ozs
lb: lbs
mm: millimetre millimetres millimeter millimeters
cm: centimetre centimetres centimeter centimeters cms
m: metre metres meter meters mtr mtrs mtre
in: inch inches ins
ft: foot feet
yd: yard yards yds
m²: m2 sqm square_metre square_metres square_meter square_meters sq_m
sq ft: sq_ft square_foot square_feet sqft
pcs: pc piece pieces each ea
pair: pairs pr prs
dozen: doz
coats: coat ct cts
"""
SPELLINGS: dict[str, str] = {
    spelt.replace("_", " "): line.partition(":")[0]
    for line in _SPELLINGS.strip().splitlines()
    for spelt in line.partition(":")[2].split()
} | {name: name for name in UNITS}


#: How shelves write pieces and sheets; in a text `no` says no.
_ON_SHELVES = {"no": "pcs", "nr": "pcs", "off": "pcs", "item": "pcs", "st": "pcs"}


def unit_named(word: str) -> str | None:
    """Give the unit's own name for any way of writing it on a shelf, or None."""
    folded = word.casefold().rstrip(".")
    return SPELLINGS.get(folded) or _ON_SHELVES.get(folded.removesuffix("s"))


def convert(value: Decimal, unit: str, wanted: str, *, imperial: bool = False) -> Decimal | None:
    """Convert exactly between units of one measure, under any spelling; None where that cannot be done.

    `imperial` takes gallon, quart, pint and fluid ounce as the British ones. An ounce asked for as a volume
    is a fluid ounce. The result is the exact quotient to 28 figures.
    """
    if unit == wanted:
        return value
    have, want = (
        UNITS.get(SPELLINGS.get(unit.casefold(), "")),
        UNITS.get(SPELLINGS.get(wanted.casefold(), "")),
    )
    if have is None or want is None:
        return None
    if have.name == want.name:
        return value
    if {have.measure, want.measure} == {"mass", "volume"}:
        have, want = (UNITS["fl oz"] if unit_.name == "oz" else unit_ for unit_ in (have, want))
    if have.measure != want.measure:
        return None
    ratio = Fraction(_size(have, imperial=imperial)) / Fraction(_size(want, imperial=imperial))
    return value * ratio.numerator / ratio.denominator


def _size(unit: Unit, *, imperial: bool) -> Decimal:
    if imperial and unit.name in _GALLON_PARTS:
        return _IMPERIAL_GALLON_ML / _GALLON_PARTS[unit.name][1]
    return unit.size
