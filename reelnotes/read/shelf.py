"""The shelf: what the workshop stocks, with pack and price, from `shelf.csv`."""

from __future__ import annotations

import re
from decimal import Decimal

from reelnotes.model import ShelfItem
from reelnotes.problems import Problem
from reelnotes.read.numbers import read_number
from reelnotes.read.table import Columns, Row, Table, read_table
from reelnotes.store import SourceText

COLUMNS = Columns(
    known=("name", "pack", "unit", "price", "kind", "notes", "given", "cautions"),
    needed=("name",),
    optional=("given", "cautions"),
    line_code="shelf-line",
    column_code="shelf-column",
)

_CURRENCY = re.compile(r"[£$€]|\b(?:gbp|usd|eur|cad|aud|nzd|chf)\b", re.IGNORECASE)
_PACK = re.compile(r"([0-9.,]+)\s*([A-Za-z].*)")


def read_shelf(source: SourceText) -> tuple[tuple[ShelfItem, ...], list[Problem]]:
    """Read the shelf. The columns may stand in any order; `given` and `cautions` may be missing.

    `price` buys one pack of `pack` `unit`s. Prices may carry £, $ or € and a decimal comma. What cannot be
    read of a row is reported and left unknown; the product itself stays on the shelf.
    """
    table, problems = read_table(source, COLUMNS)
    items: dict[str, ShelfItem] = {}
    for row in table:
        key = " ".join(row["name"].casefold().split())
        if not key:
            message = "names no product and was left out"
            problems.append(table.numbered.problem("shelf-line", row.line, message))
        elif key in items:
            message = (
                f"{row['name']} stands on line {items[key].line} already, which holds; "
                "give this one a name of its own, such as its pack"
            )
            problems.append(table.numbered.problem("shelf-twice", row.line, message))
        else:
            items[key] = _item(table, row, problems)
    return tuple(items.values()), problems


def _item(table: Table, row: Row, problems: list[Problem]) -> ShelfItem:
    pack, unit = _pack(table, row, problems)
    return ShelfItem(
        name=" ".join(row["name"].split()),
        pack=pack,
        unit=unit,
        price=_price(table, row, problems),
        kind=row["kind"].casefold(),
        notes=" ".join(row["notes"].split()),
        given=row["given"],
        cautions=" ".join(row["cautions"].split()),
        line=row.line,
    )


def _pack(table: Table, row: Row, problems: list[Problem]) -> tuple[Decimal | None, str]:
    """Read pack and unit; `500 ml` in the pack alone gives both."""
    text, unit = row["pack"], row["unit"]
    if not unit and (match := _PACK.fullmatch(text)):
        text, unit = match[1], match[2]
    if not text:
        return None, unit
    pack = read_number(text)
    if not pack:  # a pack of nothing has no price per unit either
        message = f"the pack {row['pack']!r} is no number above 0; write 500, and ml under unit"
        problems.append(table.numbered.problem("shelf-value", row.line, message))
        return None, unit
    return pack, unit


def _price(table: Table, row: Row, problems: list[Problem]) -> Decimal | None:
    text = row["price"]
    if not text:
        return None
    price = read_number(_CURRENCY.sub("", text))
    if price is None:
        message = (
            f"the price {text!r} is no number; write 0 for what cost nothing, or leave it empty, "
            "and say under given who gave it"
        )
        problems.append(table.numbered.problem("shelf-value", row.line, message))
    return price
