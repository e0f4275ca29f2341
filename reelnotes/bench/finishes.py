"""How much finish an area takes, and how things are mixed by parts.

Coverage is what the label says, and the label always wins; the usual ranges here are for noticing a slip of
the pen only. Volumes in ml, areas in m², coverage in m² per litre.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from reelnotes.bench.units import GRAMS_PER_POUND, ML_PER_GALLON
from reelnotes.records import frozen

#: Usual coverage a coat in m² per litre: common practice, from memory, for sanity checks only.
USUAL_COVERAGE: dict[str, tuple[float, float]] = {
    "clear finish": (8.6, 12.3),
    "penetrating oil": (3.7, 9.8),
    "wiping stain": (3.7, 6.7),
    "shellac": (7.4, 12.3),
    "paint": (7.4, 9.8),
    "stripper": (0.6, 2.5),
    "glue": (3.9, 6.1),
}


def coverage_of_film(wet_um: float) -> float:
    """Give the coverage in m² per litre of a wet film `wet_um` micrometres thick: 1000 / thickness.

    Plain geometry: a litre spread a thousandth of a millimetre thin covers 1000 m².
    """
    return 1000 / wet_um


def volume_ml(area_m2: Fraction, coats: int, coverage_m2_per_l: Fraction, waste: Fraction) -> Fraction:
    """Work out the finish for an area: area · coats / coverage, and `waste` (0.1 is a tenth) on top."""
    return area_m2 * coats / coverage_m2_per_l * 1000 * (1 + waste)


def packs_needed(ml: Fraction, pack_ml: Fraction) -> tuple[int, Fraction]:
    """Give how many packs hold a volume, and what is left in the last one."""
    packs = -(-ml // pack_ml)
    return int(packs), packs * pack_ml - ml


@frozen
class Part:
    """An ingredient by its parts, and the amount that the mix wants of it."""

    name: str
    parts: Fraction
    amount: Fraction


def mixed(parts: dict[str, Fraction], total: Fraction) -> tuple[Part, ...]:
    """Share a total among ingredients by their parts; the amounts add up to the total exactly.

    Parts and amounts are in one measure, all by volume or all by weight. Raises `ValueError` unless every
    part is above nothing.
    """
    if not parts or min(parts.values()) <= 0:
        raise ValueError("parts above nothing are wanted")
    whole = sum(parts.values())
    return tuple(Part(name, share, total * share / whole) for name, share in parts.items())


def total_from(parts: dict[str, Fraction], name: str, amount: Fraction) -> Fraction:
    """Give the total that comes of using `amount` of one ingredient. Raises `KeyError` for one not in it."""
    return amount * sum(parts.values()) / parts[name]


def shellac_g(pounds_cut: Fraction, solvent_ml: Fraction) -> Fraction:
    """Give the flakes in grams for a cut: pounds of flake to a US gallon of alcohol (from memory)."""
    return pounds_cut * GRAMS_PER_POUND * solvent_ml / ML_PER_GALLON


def shellac_solvent_ml(pounds_cut: Fraction, flakes_g: Fraction) -> Fraction:
    """Give the alcohol in ml that turns flakes into a cut; the inverse of `shellac_g`."""
    return flakes_g * ML_PER_GALLON / (pounds_cut * GRAMS_PER_POUND)


def shown(value: Fraction, places: int = 1) -> str:
    """Write a number rounded to the nearest, without idle zeros: `120`, `66.7`."""
    text = f"{rounded(value, places):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def rounded(value: Fraction, places: int = 1) -> Decimal:
    """Give a decimal rounded to the nearest, halves to the even digit."""
    return Decimal(round(value * 10**places)).scaleb(-places)
