"""Conversions, against the factors that 16 CFR 500.19 prints (six figures) and exact definitions."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.words.units import UNITS, convert


@pytest.mark.parametrize(
    ("unit", "wanted", "factor"),
    [
        ("inch", "cm", "2.54"),
        ("ft", "cm", "30.48"),
        ("sq ft", "m²", "0.0929030"),
        ("gallon", "l", "3.78541"),
        ("quart", "l", "0.946353"),
        ("pint", "l", "0.473177"),
        ("fl oz", "ml", "29.5735"),
        ("lbs", "g", "453.592"),
        ("oz", "g", "28.3495"),
    ],
)
def test_published_factors(unit: str, wanted: str, factor: str) -> None:
    """Each factor is the one that 16 CFR 500.19 prints, within one of its last (sixth) figure."""
    value = convert(Decimal(1), unit, wanted)
    assert value is not None
    last = Decimal(10) ** (Decimal(factor).adjusted() - 5)
    assert abs(value - Decimal(factor)) <= last


def test_exact() -> None:
    """Inch and foot are exact: a thousand inches are 25.4 m to the last figure."""
    assert convert(Decimal(1000), "in", "m") == Decimal("25.4")
    assert convert(Decimal(1), "yd", "mm") == Decimal("914.4")


def test_imperial() -> None:
    """Where the gallon is the British one, a pint is 568 ml and has twenty fluid ounces (from memory)."""
    pint = convert(Decimal(1), "pt", "ml", imperial=True)
    assert pint is not None
    assert round(pint, 2) == Decimal("568.26")
    assert convert(Decimal(1), "pt", "fl oz", imperial=True) == 20
    assert convert(Decimal(1), "pt", "fl oz") == 16


@pytest.mark.parametrize(
    ("unit", "wanted"), [("ml", "g"), ("pcs", "ml"), ("tin", "ml"), ("mm", "m²"), ("coats", "pcs")]
)
def test_no_common_measure(unit: str, wanted: str) -> None:
    """Units of different measures, and packs, do not convert."""
    assert convert(Decimal(1), unit, wanted) is None


def test_ounce_of_a_liquid() -> None:
    """An ounce asked for as a volume is a fluid ounce, and as a mass an ounce of mass."""
    assert convert(Decimal(2), "oz", "ml") == convert(Decimal(2), "fl oz", "ml")
    assert convert(Decimal(1), "lb", "oz") == 16


@given(
    st.decimals(min_value=Decimal("0.01"), max_value=10000, places=2),
    st.sampled_from(sorted(UNITS)),
    st.booleans(),
)
@settings(max_examples=60, deadline=None)
def test_there_and_back(value: Decimal, unit: str, imperial: bool) -> None:
    """Every unit converts to the others of its measure and back, within the last of 28 figures."""
    for other in UNITS:
        there = convert(value, unit, other, imperial=imperial)
        if there is not None and UNITS[other].measure == UNITS[unit].measure:
            back = convert(there, other, unit, imperial=imperial)
            assert back is not None
            assert abs(back - value) <= value * Decimal("1e-25")
