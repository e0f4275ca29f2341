"""Prices in free text."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.words.prices import find_prices


def read(text: str) -> list[tuple[str, str]]:
    return [(str(price.value), price.currency) for price in find_prices(text)]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("£14.80 pr", [("14.80", "GBP")]),
        ("$3.25", [("3.25", "USD")]),
        ("14,80 €", [("14.80", "EUR")]),
        ("£45 + £10 to lad", [("45", "GBP"), ("10", "GBP")]),
        ("25 cash", [("25", "")]),
        ("5p", [("0.05", "")]),
        ("260 paid", [("260", "")]),
        ("80 quid and it's", [("80", "GBP")]),
        ("sixty four quid", [("64", "GBP")]),
        ("69 pounds 83 pence", [("69.83", "GBP")]),
        ("a fiver the pair, and another tenner", [("5", ""), ("10", "")]),
        ("shop. primer 12.50, 2 sleeves 2.99", [("12.50", ""), ("2.99", "")]),
        ("money check, got the undercoat for 12 50", [("12.5", "")]),
    ],
)
def test_prices(text: str, wanted: list[tuple[str, str]]) -> None:
    """A price has a sign or a word, or stands bare where money is the talk."""
    assert read(text) == wanted


@pytest.mark.parametrize(
    "text",
    [
        "two pounds of nails",
        "thicknessed to 20.00",
        "3 coats",
        "p 5 of the book",
        "2.5 m",
        "12 50 mm pins from the shop",
    ],
)
def test_no_price(text: str) -> None:
    """Weights, sizes and counts are no prices."""
    assert read(text) == []


def test_bare_price_needs_money_talk() -> None:
    """A bare number with two places counts only where money is the talk, or where the caller says so."""
    assert find_prices("primer 12.50") == []
    assert [str(price.value) for price in find_prices("primer 12.50", money=True)] == ["12.50"]


@given(st.text(max_size=60))
@settings(max_examples=200, deadline=None)
def test_any_text(text: str) -> None:
    """Any text is read without an error, and every price quotes it."""
    assert all(text[p.start : p.end] == p.text for p in find_prices(text, money=True))
