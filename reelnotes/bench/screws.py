"""Screw sizes and the holes they pass through."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Literal

from reelnotes.bench.units import MM_PER_INCH, BadMeasure, parse_length
from reelnotes.records import frozen

Fit = Literal["fine", "medium", "coarse"]

#: Clearance holes for bolts and machine screws in mm (ISO 273:1979): fine H12, medium H13, coarse H14.
CLEARANCE_MM: dict[str, dict[Fit, float]] = {
    "M2": {"fine": 2.2, "medium": 2.4, "coarse": 2.6},
    "M2.5": {"fine": 2.7, "medium": 2.9, "coarse": 3.1},
    "M3": {"fine": 3.2, "medium": 3.4, "coarse": 3.6},
    "M4": {"fine": 4.3, "medium": 4.5, "coarse": 4.8},
    "M5": {"fine": 5.3, "medium": 5.5, "coarse": 5.8},
    "M6": {"fine": 6.4, "medium": 6.6, "coarse": 7.0},
    "M8": {"fine": 8.4, "medium": 9.0, "coarse": 10.0},
    "M10": {"fine": 10.5, "medium": 11.0, "coarse": 12.0},
    "M12": {"fine": 13.0, "medium": 13.5, "coarse": 14.5},
}
_GAUGES = range(25)
_WIDEST_MM = 30


@frozen
class Screw:
    """A screw by its name and body; `clearance_mm` only where ISO 273 gives holes: wood screws have none."""

    name: str
    diameter_mm: float
    clearance_mm: dict[Fit, float] | None = None


def gauge_mm(number: int) -> float:
    """Give the nominal body of an inch-size screw: 0.060 in + 0.013 in a number (ASME B18.6.1, as charted).

    The formula is from memory; the charts it meets at numbers 0 and 20 were read. Old and British screws in
    antique furniture may differ. Raises `BadMeasure` beyond number 24.
    """
    if number not in _GAUGES:
        raise BadMeasure(f"#{number}", "#0 to #24")
    return float((Fraction("0.060") + number * Fraction("0.013")) * MM_PER_INCH)


def parse_screw(text: str) -> Screw:
    """Read `M4`, `#8` or a body such as `4.5mm`. Raises `BadMeasure`."""
    plain = text.strip().upper()
    if plain in CLEARANCE_MM:
        return Screw(plain, float(plain[1:]), CLEARANCE_MM[plain])
    if match := re.fullmatch(r"#\s*([0-9]{1,3})", plain):
        return Screw(f"#{match[1]}", gauge_mm(int(match[1])))
    if plain.startswith("M"):
        raise BadMeasure(text, f"one of {', '.join(CLEARANCE_MM)}, #8, or its body such as 4.5mm")
    body = float(parse_length(text))
    if not 0 < body <= _WIDEST_MM:
        raise BadMeasure(text, f"a body above nothing, and up to {_WIDEST_MM} mm")
    return Screw(text.strip(), body)
