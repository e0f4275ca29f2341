"""The shelf."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import ShelfItem
from reelnotes.problems import Problem
from reelnotes.read.numbers import read_number
from reelnotes.read.shelf import read_shelf
from reelnotes.store import SourceText

HEADER = "name,pack,unit,price,kind,notes\n"


def read(text: str) -> tuple[tuple[ShelfItem, ...], list[Problem]]:
    return read_shelf(SourceText("shelf.csv", text))


def codes(problems: list[Problem]) -> list[tuple[str, int | None]]:
    return [(problem.code, problem.line) for problem in problems]


def test_a_shelf() -> None:
    """Quoted commas, unquoted semicolons, empty fields and all eight columns."""
    items, problems = read(
        "name,pack,unit,price,kind,notes,given,cautions\n"
        'Plane iron oil,100,ml,3.40,Oil,"thin; not on wood, ever",by the maker,gloves\n'
        "Wedge stock,1.5,m,,timber,,,\n"
    )
    assert problems == []
    assert items == (
        ShelfItem(
            name="Plane iron oil",
            pack=Decimal(100),
            unit="ml",
            price=Decimal("3.40"),
            kind="oil",
            notes="thin; not on wood, ever",
            given="by the maker",
            cautions="gloves",
            line=2,
        ),
        ShelfItem("Wedge stock", Decimal("1.5"), "m", kind="timber", line=3),
    )


def test_columns_in_any_order_and_case() -> None:
    """`given` and `cautions` may be missing without a word; a column that means nothing is named."""
    items, problems = read("Price;NAME;Unit;Pack;kind;notes;supplier\n3,40;Oil;ml;100;oil;;shed\n")
    assert (items[0].name, items[0].price, items[0].pack) == ("Oil", Decimal("3.40"), Decimal(100))
    assert [(p.code, p.severity) for p in problems] == [("shelf-column", "note")]
    assert "supplier" in problems[0].message


def test_a_missing_column_is_named() -> None:
    """The products stay on the shelf, without a price."""
    items, problems = read("name,pack,unit,kind,notes\nOil,100,ml,oil,\n")
    assert [i.name for i in items] == ["Oil"]
    assert codes(problems) == [("shelf-column", 1)]
    assert "price" in problems[0].message


@pytest.mark.parametrize("text", ["", "pack,unit,price\n100,ml,3.40\n", "Oil,100,ml,3.40,oil,\n"])
def test_without_names_nothing_can_be_read(text: str) -> None:
    """An empty file, a shelf without the column, and one without a header say so in one problem."""
    items, problems = read(text)
    assert items == ()
    assert [p.code for p in problems] == ["shelf-column"]
    assert "name" in problems[0].message


def test_a_price_of_free() -> None:
    """The way out is named, and the product is kept without a price."""
    items, problems = read(HEADER + "Rags,1,kg,free,other,\nPegs,1,pcs,0,other,\n")
    assert [i.price for i in items] == [None, Decimal(0)]
    assert codes(problems) == [("shelf-value", 2)]
    assert "write 0" in problems[0].message
    assert "given" in problems[0].message


@pytest.mark.parametrize(
    ("price", "value"),
    [
        ("£4.50", "4.50"),
        ("4.50 €", "4.50"),
        ("$ 1,250.00", "1250.00"),
        ("4.50 GBP", "4.50"),
        ('"18,50"', "18.50"),
        ("18", "18"),
    ],
)
def test_prices_as_people_write_them(price: str, value: str) -> None:
    """Signs of currency and decimal commas are read without a problem."""
    items, problems = read(
        HEADER
        + f"Oil,100,ml,{price.replace(',', ',') if price[0] == chr(34) else price.replace(',', '')},oil,\n"
    )
    assert problems == []
    assert items[0].price == Decimal(value)


def test_an_unquoted_decimal_comma_is_mended() -> None:
    """The price is put together again and shown, with the kind in its place."""
    items, problems = read(HEADER + "Oil,100,ml,18,50,oil,thin\n")
    assert (items[0].price, items[0].kind, items[0].notes) == (Decimal("18.50"), "oil", "thin")
    assert codes(problems) == [("shelf-line", 2)]


@pytest.mark.parametrize("price", ["-4", "4.50/kg", "n/a", "nan", "1e5", "4.5.0", "four"])
def test_what_is_no_price(price: str) -> None:
    """It is reported; nothing is guessed."""
    items, problems = read(HEADER + f"Oil,100,ml,{price},oil,\n")
    assert items[0].price is None
    assert codes(problems) == [("shelf-value", 2)]


@pytest.mark.parametrize("pack", ["0", "-1", "some", "1/2"])
def test_a_pack_is_above_nothing(pack: str) -> None:
    """A pack of 0 would have no price per unit; 0.001, just inside, has one."""
    items, problems = read(HEADER + f"Oil,{pack},ml,3,oil,\n")
    assert items[0].pack is None
    assert codes(problems) == [("shelf-value", 2)]
    assert read(HEADER + "Oil,0.001,ml,3,oil,\n") == (
        (ShelfItem("Oil", Decimal("0.001"), "ml", Decimal(3), "oil", line=2),),
        [],
    )


def test_pack_and_unit_in_one_field() -> None:
    """`500 ml` under pack gives both where unit is empty."""
    items, problems = read(HEADER + "Oil,500 ml,,3,oil,\n")
    assert problems == []
    assert (items[0].pack, items[0].unit) == (Decimal(500), "ml")


def test_a_product_that_stands_there_twice() -> None:
    """Case and spaces do not count; the first one holds, and the second is shown."""
    items, problems = read(
        HEADER + "Hide glue,250,ml,12,glue,\nhide  GLUE,500,ml,20,glue,\nHide glue 2,1,ml,1,glue,\n"
    )
    assert [(i.name, i.pack) for i in items] == [("Hide glue", Decimal(250)), ("Hide glue 2", Decimal(1))]
    assert codes(problems) == [("shelf-twice", 3)]
    assert "line 2" in problems[0].message


def test_rows_of_a_wrong_width() -> None:
    """Too few fields are filled up, surplus ones go to the last column; both are shown."""
    items, problems = read(HEADER + "Oil,100,ml,3\nAcid,500,g,9,other,poison, top shelf\n")
    assert [(i.name, i.kind, i.notes) for i in items] == [
        ("Oil", "", ""),
        ("Acid", "other", "poison, top shelf"),
    ]
    assert codes(problems) == [("shelf-line", 2), ("shelf-line", 3)]


def test_a_row_without_a_name_is_shown() -> None:
    """A row of commas alone is what spreadsheets leave behind and means nothing."""
    items, problems = read(HEADER + ",100,ml,3,oil,\n,,,,,\n")
    assert items == ()
    assert codes(problems) == [("shelf-line", 2)]


def test_inch_marks_are_no_quotation_marks() -> None:
    """A quote inside a field is a mark like any other; one that opens a field for good costs one line."""
    items, problems = read(
        HEADER + 'Hinge 3",1,pair,8,hardware,\n"Hinge 4,1,pair,9,hardware,\nWax,400,g,13,wax,\n'
    )
    assert [i.name for i in items] == ['Hinge 3"', "Hinge 4", "Wax"]
    assert codes(problems) == [("shelf-line", 3)]


def test_notes_may_run_over_lines() -> None:
    """A quoted field goes on over line ends, and the rows below keep their numbers."""
    items, problems = read(HEADER + 'Wax,400,g,13,wax,"soft\nin summer"\nOil,100,ml,3,oil,\n')
    assert problems == []
    assert [(i.name, i.notes, i.line) for i in items] == [("Wax", "soft in summer", 2), ("Oil", "", 4)]


@pytest.mark.parametrize(
    ("text", "value"),
    [("18.50", "18.50"), ("18,50", "18.50"), ("1,250", "1250"), ("1.250,5", "1250.5"), ("1,250.5", "1250.5"),
     ("0,250", "0.250"), ("1,25", "1.25"), (".5", "0.5"), ("5.", "5"), ("1 250", "1250"),
     ("1,000,000", "1000000")],
)  # fmt: skip
def test_numbers(text: str, value: str) -> None:
    """Decimal points and commas, thousands parted by commas, points or spaces."""
    assert read_number(text) == Decimal(value)


FIELD = st.text(st.characters(exclude_characters="\n\r\0", exclude_categories=["Cs"]), max_size=12)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(FIELD, FIELD, FIELD), max_size=6))
def test_what_a_spreadsheet_writes_reads_back(rows: list[tuple[str, str, str]]) -> None:
    """Python's csv writes any text (RFC 4180 quoting); names and notes come back, white space aside."""
    import csv
    import io

    file = io.StringIO()
    table = [("name", "kind", "notes"), *rows]
    csv.writer(file, lineterminator="\n").writerows(table)
    items, _ = read(file.getvalue())
    wanted: dict[str, tuple[str, str]] = {}
    for name, _, notes in rows:
        plain = " ".join(name.split())
        if plain:
            wanted.setdefault(plain.casefold(), (plain, " ".join(notes.split())))
    assert [(i.name, i.notes) for i in items] == list(wanted.values())


@settings(max_examples=150, deadline=None)
@given(st.text(st.sampled_from('abc,;"\n 5.£\t'), max_size=60))
def test_any_text_gives_a_shelf(text: str) -> None:
    """Whatever stands below the header: each line is in a product, blank of words, or shown by a problem."""
    items, problems = read(HEADER + text)
    shown = {p.line for p in problems}
    starts = [i.line for i in items]
    for number, line in enumerate((HEADER + text).split("\n"), 1):
        inside = any(start <= number for start in starts)
        assert number == 1 or not line.strip(' ,";\t') or inside or number in shown
