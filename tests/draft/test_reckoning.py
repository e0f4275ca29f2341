"""Amounts left to be reckoned: weighings, so much a coat, what was put right, what is left of a pack."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.draft.reckoning import reckoned
from reelnotes.words.amounts import find_amounts

Spent = Callable[..., Any]

SHELF = """
Rowan hull varnish    | 1000 ml | 34.00 | varnish
Plover crystal soap   | 500 g   | 8.00  | other
Spruce batten 20 x 6  | 30 m    | 36.00 | timber
Linnet furniture feet | 48 pcs  | 12.00 | hardware
"""


def read(text: str) -> list[tuple[str, str]]:
    return [(f"{float(a.value):.4g}", a.unit) for a in reckoned(text, find_amounts(text))]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("tin 412 g before, 380 g after", [("32", "g")]),
        ("1.2 kg before, 900 g after", [("0.3", "kg")]),
        ("bottle 480 -> 430 ml", [("50", "ml")]),
        ("bottle 1.2 l → 1.1 l", [("0.1", "l")]),
        ("went from 96 g to 88 g", [("8", "g")]),
        ("2 coats, 40 ml each", [("80", "ml")]),
        ("five coats, about 40 ml a coat", [("200", "ml")]),
        ("40 ml a coat, 3 coats", [("120", "ml")]),
        ("15 g. make that 25", [("25", "g")]),
        ("40 ml. Correction: 55 ml", [("55", "ml")]),
        ("30 ml, sorry, 20 ml", [("20", "ml")]),
        ("30, 20, 10 ml", [("60", "ml")]),
        ("30, 20 and 10 ml", [("60", "ml")]),
        ("a third of the bottle left", [("0.6667", "bottle")]),
        ("a quarter of the tin is still left", [("0.75", "tin")]),
        ("12 lengths x 1.8 m", [("12", "lengths"), ("21.6", "m")]),
        ("7 strips at 60 cm", [("7", "strips"), ("420", "cm")]),
    ],
)
def test_reckoned(text: str, wanted: list[tuple[str, str]]) -> None:
    """What two figures say together is one amount."""
    assert read(text) == wanted


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("380 g before lunch, 412 g in the afternoon", [("380", "g"), ("412", "g")]),
        ("380 g before, 412 g after", [("380", "g"), ("412", "g")]),
        ("sanded 120 -> 180 grit", []),
        ("from 20 ml to 50 ml", [("20", "ml"), ("50", "ml")]),
        ("2 coats, 40 ml", [("2", "coats"), ("40", "ml")]),
        ("2 coats. the lid took 40 ml each time", [("2", "coats"), ("40", "ml")]),
        ("15 g. 25 minutes later", [("15", "g")]),
        ("15 g, make that 25 minutes", [("15", "g")]),
        ("coat 2, 20 ml", [("20", "ml")]),
        ("3 drawers, 20 ml", [("20", "ml")]),
        ("80, 120, 180, 90 ml", [("90", "ml")]),
        ("1, 2, 90 ml", [("90", "ml")]),
        ("half a tin", [("0.5", "tin")]),
        ("half a tin left over from the stool", [("0.5", "tin")]),
        ("2 tins left", [("2", "tin")]),
        ("2 lengths, 20 mm each", [("2", "lengths")]),
        ("7 strips, 60 cm", [("7", "strips")]),
    ],
)
def test_left_as_it_is(text: str, wanted: list[tuple[str, str]]) -> None:
    """Two amounts that only stand side by side stay two."""
    assert read(text) == wanted


@pytest.mark.parametrize(
    ("log", "name", "amount"),
    [
        ("varnish 5 coats at 40 ml each", "Rowan hull varnish", "200 ml"),
        ("varnish between 100 and 120 ml", "Rowan hull varnish", "110 ml"),
        ("varnish 1,5 dl on the lid", "Rowan hull varnish", "150 ml"),
        ("a third of the bottle of varnish left", "Rowan hull varnish", "666.7 ml"),
        ("crystal soap 60 g w 30 g water", "Plover crystal soap", "60 g"),
        ("spruce batten 12 lengths x 1.8 m", "Spruce batten 20 x 6", "21.6 m"),
        ("a metre and a half of spruce batten", "Spruce batten 20 x 6", "1.5 m"),
        ("two dozen linnet feet", "Linnet furniture feet", "24 pcs"),
    ],
)
def test_reckoned_use(spent: Spent, log: str, name: str, amount: str) -> None:
    """What was reckoned is what was used, in the shelf's unit."""
    value, _, unit = spent(SHELF, log).amount(name).partition(" ")
    assert f"{float(value):.4g} {unit}" == amount


@given(st.lists(st.sampled_from([
    "40 ml", "2 coats", "each", "a coat", "before,", "after", "->", "make that", "30,", "and", "7 strips",
    "at", "60 cm", "half a tin", "left", "from", "to", "ß", "İ",
]), max_size=9).map(" ".join))  # fmt: skip
@settings(max_examples=150, deadline=None)
def test_any_order(text: str) -> None:
    """Whatever stands side by side, no amount is reckoned to nothing or less, and each has a place."""
    for amount in reckoned(text, find_amounts(text)):
        assert amount.value > 0
        assert 0 <= amount.start < amount.end <= len(text)
