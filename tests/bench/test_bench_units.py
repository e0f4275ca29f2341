"""Units and screws against the published factors and tables."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelnotes.bench.screws import CLEARANCE_MM, gauge_mm, parse_screw
from reelnotes.bench.units import (
    GRAMS_PER_POUND,
    M2_PER_SQUARE_FOOT,
    M3_PER_BOARD_FOOT,
    MM_PER_INCH,
    BadMeasure,
    both_text,
    fahrenheit,
    inch_text,
    mm_text,
    parse_area,
    parse_coverage,
    parse_length,
    parse_mass,
    parse_number,
    parse_temperature,
    parse_volume,
)

# --- factors: 16 CFR 500.19 --------------------------------------------------------------------------


def test_exact_factors() -> None:
    """Inch, foot and square foot are exact (16 CFR 500.19)."""
    assert parse_length("1in") == Fraction("25.4")
    assert parse_length("1ft") == Fraction("304.8")
    assert Fraction("0.09290304") == M2_PER_SQUARE_FOOT == parse_area("1sqft")


@pytest.mark.parametrize(
    ("text", "ml"), [("1gal", 3785.41), ("1qt", 946.353), ("1pt", 473.177), ("1floz", 29.5735)]
)
def test_us_measures_meet_the_six_figures_of_the_regulation(text: str, ml: float) -> None:
    """Gallon, quart, pint and fluid ounce to the six figures printed in 16 CFR 500.19."""
    assert float(parse_volume(text)) == pytest.approx(ml, rel=2e-6)


def test_the_gallon_is_231_cubic_inches() -> None:
    """3.785411784 l exactly, and a quart 946.352946 ml (from memory: NIST SP 811)."""
    assert parse_volume("1gal") == Fraction("3785.411784")
    assert parse_volume("1qt") == Fraction("946.352946")
    assert parse_volume("1floz") == Fraction("29.5735295625")


def test_masses() -> None:
    """Pound and ounce to the six figures of 16 CFR 500.19; the exact pound is from memory."""
    assert float(parse_mass("1lb")) == pytest.approx(453.592, abs=0.0005)
    assert float(parse_mass("1oz")) == pytest.approx(28.3495, abs=0.00005)
    assert Fraction("453.59237") == GRAMS_PER_POUND


def test_worked_conversions() -> None:
    """Values computed apart from this code: 3/4 in, 24 ft², 6 board feet, 400 ft² a gallon."""
    assert parse_length("3/4in") == Fraction("19.05")
    assert float(parse_area("24sqft")) == pytest.approx(2.22967, abs=0.00001)
    assert float(6 * M3_PER_BOARD_FOOT) == pytest.approx(0.014158, abs=0.000001)
    assert float(parse_coverage("400 ft2/gal")) == pytest.approx(9.8170, abs=0.00005)
    assert float(parse_coverage("500ft²/gal")) == pytest.approx(12.2712, abs=0.00005)
    assert float(parse_coverage("1ft2/gal")) == pytest.approx(0.024542387, abs=1e-9)
    assert float(1 / parse_coverage("1ft2/gal")) == pytest.approx(40.745833, abs=1e-6)


@pytest.mark.parametrize(
    ("text", "celsius"), [("68F", 20), ("20C", 20), ("32 °F", 0), ("−40F", -40), ("-3.5C", -3.5)]
)
def test_temperatures(text: str, celsius: float) -> None:
    """(F − 32) / 1.8, exactly."""
    assert parse_temperature(text) == Fraction(str(celsius))
    assert fahrenheit(20) == 68


# --- reading and writing -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("420mm", "420"), ("42 cm", "420"), ("0.42m", "420"), ("16.5in", "419.1"), ("16 1/2in", "419.1"),
        ('16-1/2"', "419.1"), ("16½ in", "419.1"), ("3¾″", "95.25"), ("2ft 3in", "685.8"),
        ("2' 3\"", "685.8"),
        (".5in", "12.7"), ("½in", "12.7"),
    ],
)  # fmt: skip
def test_lengths_are_read_as_the_bench_writes_them(text: str, mm: str) -> None:
    """Decimal and fractional inches, feet and inches, metric: all exact."""
    assert parse_length(text) == Fraction(mm)


@pytest.mark.parametrize(
    "text", ["", "420", "mm", "4 1/0in", "3in 4in", "3in 2ft", "12 ells", "3 in x", "-3mm", "3mmm"]
)
def test_a_length_that_cannot_be_read_is_refused(text: str) -> None:
    """No unit, no number, a division by nothing, terms out of order, leftovers: each is refused."""
    with pytest.raises(BadMeasure, match="write it as"):
        parse_length(text)


@pytest.mark.parametrize("text", ["3 4", "", "three", "3mm"])
def test_a_number_is_one_number(text: str) -> None:
    """Two numbers side by side are not added up."""
    with pytest.raises(BadMeasure, match="write it as"):
        parse_number(text)


@pytest.mark.parametrize(
    ("text", "m2"),
    [("2.3m2", "2.3"), ("760x1520mm", "1.1552"), ("30 x 60 in", "1.161288"), ("2ft x 3ft", "0.55741824")],
)
def test_areas_may_be_given_by_their_sides(text: str, m2: str) -> None:
    """The unit of the second side holds for a first side without one."""
    assert parse_area(text) == Fraction(m2)


@given(st.fractions(0, 100, max_denominator=64))
def test_fractional_inches_read_back(inches: Fraction) -> None:
    """What is written in 64ths is read back to within half of a 64th."""
    text = inch_text(inches * MM_PER_INCH, 64)
    read = Fraction(0) if text.startswith("under") else parse_length(text)
    assert abs(read - inches * MM_PER_INCH) <= MM_PER_INCH / 128


@pytest.mark.parametrize(
    ("mm", "text"),
    [("0", "0 in"), ("0.3", "under 1/32 in"), ("12.7", "1/2 in"), ("-25.4", "−1 in"), ("419.1", "16 1/2 in")],
)
def test_fractions_are_in_lowest_terms(mm: str, text: str) -> None:
    """16/32 is a half; less than half of a 32nd says so instead of vanishing."""
    assert inch_text(Fraction(mm)) == text


def test_nothing_is_never_minus_nothing() -> None:
    """A rounded zero has no sign."""
    assert mm_text(-0.01) == "0.0 mm"
    assert (
        both_text(Fraction("6.35")) == "6.3 mm (1/4 in)" or both_text(Fraction("6.35")) == "6.4 mm (1/4 in)"
    )


# --- screws ------------------------------------------------------------------------------------------

#: Nominal bodies of inch screws in mm (a chart after ASME B18.6.1; its ends were read, the line from memory).
GAUGES = {
    0: 1.52,
    2: 2.18,
    4: 2.84,
    5: 3.18,
    6: 3.51,
    7: 3.84,
    8: 4.17,
    9: 4.50,
    10: 4.83,
    12: 5.49,
    14: 6.15,
    20: 8.13,
}


@pytest.mark.parametrize(("number", "mm"), GAUGES.items())
def test_gauges_meet_the_chart(number: int, mm: float) -> None:
    """0.060 in + 0.013 in a number, to 0.01 mm."""
    assert gauge_mm(number) == pytest.approx(mm, abs=0.01)
    assert parse_screw(f"#{number}").diameter_mm == gauge_mm(number)


#: ISO 273:1979, clearance holes in mm (read in two transcriptions that agree): fine, medium, coarse.
ISO_273 = {
    "M2": (2.2, 2.4, 2.6), "M2.5": (2.7, 2.9, 3.1), "M3": (3.2, 3.4, 3.6), "M4": (4.3, 4.5, 4.8),
    "M5": (5.3, 5.5, 5.8), "M6": (6.4, 6.6, 7.0), "M8": (8.4, 9.0, 10.0), "M10": (10.5, 11.0, 12.0),
    "M12": (13.0, 13.5, 14.5),
}  # fmt: skip


def test_clearance_holes_are_those_of_iso_273() -> None:
    """Every hole of the table, M12 medium at 13.5 mm among them (an old list prints 14)."""
    assert {name: tuple(holes.values()) for name, holes in CLEARANCE_MM.items()} == ISO_273
    assert all(tuple(holes) == ("fine", "medium", "coarse") for holes in CLEARANCE_MM.values())


def test_only_machine_screws_have_clearance_holes() -> None:
    """A wood screw's clearance hole is not a value of ISO 273."""
    assert parse_screw("m4").clearance_mm == CLEARANCE_MM["M4"]
    assert parse_screw("#8").clearance_mm is None
    assert parse_screw("4.5mm").clearance_mm is None


@pytest.mark.parametrize("text", ["#25", "M7", "M", "eight", ""])
def test_a_screw_that_does_not_exist_is_refused(text: str) -> None:
    """Number 24 is the last one; M7 is not in the table."""
    with pytest.raises(BadMeasure, match="write it as"):
        parse_screw(text)
    assert parse_screw("#24").diameter_mm > parse_screw("#20").diameter_mm
