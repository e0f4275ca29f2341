"""Amounts in free text: what counts as one, what does not, and that print and read agree."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.words.amounts import PACKS, Amount, find_amounts
from reelnotes.words.units import UNITS


def read(text: str) -> list[tuple[str, str]]:
    return [(f"{amount.value.normalize():f}", amount.unit) for amount in find_amounts(text)]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("abt 90 ml", [("90", "ml")]),
        ("90ml", [("90", "ml")]),
        ("1 L", [("1", "l")]),
        ("2,5 l", [("2.5", "l")]),
        ("1,000 ml", [("1000", "ml")]),
        ("rest of tub abt 600 ml", [("600", "ml")]),
        ("1 qt", [("1", "qt")]),
        ("1 1/2 pints", [("1.5", "pt")]),
        ("3/4 l", [("0.75", "l")]),
        ("½ l", [("0.5", "l")]),
        ("1½ tsp", [("1.5", "tsp")]),
        ("2 tsp in a mug", [("2", "tsp")]),
        ("2 x 25 ml", [("50", "ml")]),
        ("300 + 250 ml", [("550", "ml")]),
        ("3 + 4 drawers, 20 ml", [("20", "ml")]),
        ("2.5 m flex", [("2.5", "m")]),
        ("3 m2 of veneer", [("3", "m²")]),
        ("30 cm of dowel", [("30", "cm")]),
        ("2 lbs of nails", [("2", "lb")]),
        ("two pounds of nails", [("2", "lb")]),
        ("half tin", [("0.5", "tin")]),
        ("half a tin", [("0.5", "tin")]),
        ("half of the tub", [("0.5", "tub")]),
        ("a tin of the blue", [("1", "tin")]),
        ("2 coats", [("2", "coats")]),
        ("2 lengths redwood", [("2", "lengths")]),
        ("2 patches of veneer", [("2", "patches")]),
        ("11 screws", [("11", "pcs")]),
        ("5mm, 2 off", [("2", "pcs")]),
        ("holes x4", [("4", "times")]),
    ],
)
def test_written(text: str, wanted: list[tuple[str, str]]) -> None:
    """A note's amounts are read in every way they are written."""
    assert read(text) == wanted


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("sixty mil", [("60", "ml")]),
        ("a hundred and fifty mil", [("150", "ml")]),
        ("two fifty mil", [("250", "ml")]),
        ("twenty five mil, in the holes", [("25", "ml")]),
        ("a hundred grams into a litre", [("100", "g"), ("1", "l")]),
        ("a quarter of a litre gone", [("0.25", "l")]),
        ("three quarters of a pint", [("0.75", "pt")]),
        ("one and a half litres", [("1.5", "l")]),
        ("two and a half metres of it", [("2.5", "m")]),
        ("two point five litres", [("2.5", "l")]),
        ("half a dozen screws", [("6", "pcs")]),
        ("a couple of coats", [("2", "coats")]),
        ("an egg cup of it", [("1", "egg cup")]),
        ("couple of egg cups", [("2", "egg cup")]),
        ("a dessert spoon", [("1", "dessertspoon")]),
        ("two or three coats", [("2.5", "coats")]),
        ("10 to 15 ml", [("12.5", "ml")]),
    ],
)
def test_spoken(text: str, wanted: list[tuple[str, str]]) -> None:
    """Number words, fractions and household measures are read as they are said."""
    assert read(text) == wanted


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("6x #8 x 1-1/4", "6"),
        ("4x #6 x 3/4", "4"),
        ("33x A2 screws 4.5 x 40", "33"),
        ("14x 20mm panel pins", "14"),
        ("8x #8 x 1-1/4 screws", "8"),
    ],
)
def test_pieces_of_a_size(text: str, wanted: str) -> None:
    """So many pieces of a size are a count; the size is none."""
    assert read(text) == [(wanted, "pcs")]


@pytest.mark.parametrize(
    "text",
    [
        "#8", "120>180>240", "10mm dowel", "R6 long edges", "M8 bolt", "redwood 145x18", "22 mm x 1.6 m",
        "gel no 2 - lid", "coat 2", "it was six mil out", "forty mil ones", "6 mil ply", "6ft2 tall, 3ft1",
        "one metre 88", "40min", "tin says 4 hrs", "one twenty paper", "£5", "in 2 days", "3 in the back",
        "a tin", "a coat", "9:40", "2026-03-04", "no. 3", "grade 0 wool", "C0109",
    ],
)  # fmt: skip
def test_no_amount(text: str) -> None:
    """Sizes, grits, names, times, money and bare articles are no amounts."""
    assert read(text) == []


@pytest.mark.parametrize("text", ["abt 90 ml", "about a litre", "2-3 coats", "an egg cup", "90 mil or so"])
def test_approximate(text: str) -> None:
    """'About', a range and a household measure mark the amount as approximate."""
    assert [amount.approximate for amount in find_amounts(text)] == [True]


def test_exact_is_not_approximate() -> None:
    """A plain number with a unit is not marked as approximate."""
    assert [amount.approximate for amount in find_amounts("90 ml")] == [False]


@pytest.mark.parametrize(
    ("text", "share"), [("1:1 mix", "0.5"), ("3:1", "0.75"), ("fifty fifty", "0.5"), ("50/50", "0.5")]
)
def test_mix(text: str, share: str) -> None:
    """A mix gives the share of the part named first."""
    assert read(text) == [(share, "mix")]


def test_places() -> None:
    """An amount knows where it stands, whatever letters come before it."""
    text = "İ — ca. 90 ml"
    (amount,) = find_amounts(text)
    assert text[amount.start : amount.end] == amount.text == "90 ml"


VALUES = st.decimals(min_value=Decimal("0.001"), max_value=9999, places=3).map(lambda d: d.normalize() + 0)
MEASURES = st.sampled_from(sorted({*UNITS, *PACKS} - {"mm", "cm", "in", "lb", "pair", "dozen"}))


@given(VALUES, MEASURES, st.booleans())
@settings(max_examples=60, deadline=None)
def test_print_then_read(value: Decimal, unit: str, about: bool) -> None:
    """What an amount prints, alone or in a sentence, is read as the same value and unit."""
    printed = str(Amount(value, unit, "", 0, 0, about))
    for text in (printed, f"oil on, {printed}. wiped"):
        assert [(a.value, a.unit) for a in find_amounts(text)] == [(value, unit)]


@given(st.integers(1, 9999))
@settings(max_examples=60, deadline=None)
def test_number_words(number: int) -> None:
    """Every whole number spoken in full is read as that number."""
    assert [a.value for a in find_amounts(f"{spoken(number)} millilitres of it")] == [number]


ONES = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
    "seventeen eighteen nineteen"
)
TENS = "twenty thirty forty fifty sixty seventy eighty ninety"


def spoken(number: int) -> str:
    """Say a whole number below ten thousand, the long way."""
    ones, tens = ONES.split(), TENS.split()
    if number < 20:
        return ones[number]
    if number < 100:
        return tens[number // 10 - 2] + (f" {ones[number % 10]}" if number % 10 else "")
    big, name = (1000, "thousand") if number >= 1000 else (100, "hundred")
    head, rest = divmod(number, big)
    link = " and " if rest and (rest < 100) else " "
    return f"{spoken(head)} {name}" + (f"{link}{spoken(rest)}" if rest else "")


@given(st.text(max_size=60))
@settings(max_examples=200, deadline=None)
def test_any_text(text: str) -> None:
    """Any text is read without an error; amounts stand in order, do not overlap, and quote it."""
    at = 0
    for amount in find_amounts(text):
        assert at <= amount.start < amount.end <= len(text)
        assert text[amount.start : amount.end] == amount.text
        at = amount.end
