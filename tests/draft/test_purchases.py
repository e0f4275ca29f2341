"""Prices noted in the log, and what counts against the budget."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from reelnotes.model import OutlayKind, Purchase, Spending

Spent = Callable[..., Any]

SHELF = "Heron grey primer | 1000 ml | 12.50 | paint\nFurniture castor 40mm | 4 pcs | 9 | hardware"
LOG = """
wardrobe off clearance bloke, £25 cash. van £10 + £5 to lad
door off
lunch crab sandwich £4.80 (not budget!!)
shop. primer 12.50, 2 roller slvs 2.99, drill bit 3.40
primer on
knobs £5 hospice shop
added up. 63.69!!!
stood in bedroom
cust came, £140 paid
"""


def test_kinds(spent: Spent) -> None:
    """Each price is read with its words and its kind; a sum is none."""
    bought = [(p.name, str(p.price), p.kind, p.entry) for p in spent(SHELF, LOG).spending.bought]
    assert bought == [
        ("wardrobe off clearance bloke", "25", "piece", 0),
        ("van", "10", "travel", 0),
        ("lad", "5", "help", 0),
        ("lunch crab sandwich (not budget", "4.80", "food", 2),
        ("primer", "12.50", "material", 3),
        ("roller sleeves", "2.99", "material", 3),
        ("drill bit", "3.40", "tool", 3),
        ("knobs hospice shop", "5", "material", 5),
        ("customer came", "140", "earned", 8),
    ]


def test_what_counts(spent: Spent) -> None:
    """Food, tools and what was earned do not count against the budget; the rest does."""
    assert spent(SHELF, LOG).spending.spent == Decimal("60.49")


def test_nothing_bought(spent: Spent) -> None:
    """A log without prices has no purchases and nothing spent."""
    spending = spent(SHELF, "primer on\nsecond coat").spending
    assert (spending.bought, spending.spent) == ((), Decimal(0))


@pytest.mark.parametrize(
    ("log", "name"),
    [
        ("to town for castors, brass ones, £9 the set", "Furniture castor 40mm"),
        ("shop for castors. 9.00 daylight robbery", "Furniture castor 40mm"),
    ],
)
def test_price_of_a_product_further_back(spent: Spent, log: str, name: str) -> None:
    """A price that stands apart from its product still belongs to it, so nothing is called unlisted."""
    shelf = SHELF.replace("| 9 |", "| |")
    drafted = spent(shelf, f"{log}\n4 castors on")
    assert drafted.used[name].cost == Decimal("9.00")
    assert drafted.spending.unlisted == ()


@pytest.mark.parametrize(
    ("bought", "total", "against", "over"),
    [
        ((), "55", "55", False),
        ((), "61", "61", True),
        ((("wax", "20", "material"), ("old chair", "45", "piece")), "12", "65", True),
        (
            (("wax", "20", "material"), ("lunch", "45", "food"), ("sold it", "300", "earned")),
            "90",
            "20",
            False,
        ),
        ((("lunch", "45", "food"),), "70", "70", True),
        ((), None, None, False),
    ],
)
def test_what_was_paid_is_held_against_the_budget(
    bought: tuple[tuple[str, str, OutlayKind], ...], total: str | None, against: str | None, over: bool
) -> None:
    """What the log says was paid for the piece counts, else the parts used; the two are never added up."""
    spending = Spending(
        total=None if total is None else Decimal(total),
        budget=Decimal(60),
        bought=tuple(Purchase(name, Decimal(price), 0, kind) for name, price, kind in bought),
    )
    assert spending.against_budget == (None if against is None else Decimal(against))
    assert spending.over_budget is over
