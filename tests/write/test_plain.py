"""Words, numbers and money as plain text."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from reelnotes.write.plain import (
    amount_text,
    in_cents,
    money_text,
    number_text,
    one_line,
    referenced,
    shortened,
)


@given(st.text(st.characters()))
def test_one_line_is_one_line_that_xml_and_utf8_carry(text: str) -> None:
    """Whatever comes in, what goes out has no line break and stands in XML 1.0 as it is."""
    line = one_line(text)
    assert line.splitlines() in ([line], [])
    assert etree.fromstring(f"<a>{referenced(line)}</a>".encode()).text == (line or None)


@given(st.text(st.characters(exclude_categories=["Cc", "Cs", "Cn"])))
def test_one_line_loses_no_words(text: str) -> None:
    """Words made of characters stay; only the white space between them changes."""
    assert one_line(text).split() == text.split()


@given(st.text(), st.integers(0, 40))
def test_shortened_keeps_within_its_room(text: str, room: int) -> None:
    """A cut text is never longer than asked for."""
    assert len(shortened(text, room)) <= room


def test_shortened_cuts_at_a_word() -> None:
    """Ten characters hold `a long`, an ellipsis says that more followed; eleven hold it whole."""
    assert shortened("a long text", 10) == "a long…"
    assert shortened("a long text", 11) == "a long text"


@pytest.mark.parametrize(
    ("value", "text"), [("1000", "1000"), ("1E+3", "1000"), ("2.40", "2.4"), ("0.5", "0.5"), ("5.00", "5")]
)
def test_numbers_have_no_exponent_and_no_idle_zeros(value: str, text: str) -> None:
    """A thousand stays a thousand."""
    assert number_text(Decimal(value)) == text


def test_an_unknown_amount_is_empty() -> None:
    """No amount, no unit; an amount without a unit stands alone."""
    assert amount_text(None, "ml") == ""
    assert amount_text(Decimal(3), None) == "3"
    assert amount_text(Decimal("1.5"), "l") == "1.5 l"


def test_money_rounds_halves_up_as_a_till_does() -> None:
    """0.005 is a cent and 0.0049 is none."""
    assert in_cents(Decimal("0.005")) == Decimal("0.01")
    assert in_cents(Decimal("0.0049")) == Decimal("0.00")


@pytest.mark.parametrize(
    ("currency", "text"), [("GBP", "18.50 GBP"), ("£", "£18.50"), ("", "18.50"), ("kr", "18.50 kr")]
)
def test_symbols_stand_before_and_codes_behind(currency: str, text: str) -> None:
    """Common practice, no source."""
    assert money_text(Decimal("18.5"), currency) == text
