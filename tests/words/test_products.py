"""Products under any name they go by, on shelves of several makers invented here."""

from __future__ import annotations

from decimal import Decimal

import pytest

from reelnotes.model import ShelfItem
from reelnotes.words.goods import load_goods, singular
from reelnotes.words.products import ShelfNames, shelf_names


def shelf(*names: str) -> tuple[ShelfItem, ...]:
    """Make a shelf of `name | kind | notes` lines."""
    rows = [[part.strip() for part in f"{name}||".split("|")] for name in names]
    return tuple(ShelfItem(row[0], Decimal(1), "pcs", kind=row[1], notes=row[2]) for row in rows)


STOCK = shelf(
    "Fenland hemp oil | oil", "Clock and hinge oil | oil", "Denatured alcohol | solvent", "Mineral spirits "
    "| solvent",
    "Bluebell clear paste wax | wax", "Coal black wax | wax", "Liquid hide glue | glue", "White wood glue | "
    "glue",
    "Old white chalk paint | paint", "Wet sand mineral paint | paint", "Screws #8 x 1-1/2 | hardware",
    "Oak screws plug 10mm | hardware", "Sanding discs 120 | abrasive", "Sanding discs 240 | abrasive",
    "Steel wool 0000 | abrasive", "Cup pull 76mm | hardware", "Reed webbing jute | upholstery",
    "Moonstone sealant | other",
)  # fmt: skip


@pytest.fixture(scope="module")
def names() -> ShelfNames:
    return shelf_names(STOCK)


def found(names: ShelfNames, text: str, *, log: bool = False) -> list[list[str]]:
    return [[STOCK[i].name for i in mention.options] for mention in names.find(text, log=log)]


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("a wipe of meths on a rag", "Denatured alcohol"),
        ("white spirit on a cloth", "Mineral spirits"),
        ("then the hemp oil", "Fenland hemp oil"),
        ("a dab of p v a", "White wood glue"),
        ("some hide glue in the joint", "Liquid hide glue"),
        ("the black wax for the iron", "Coal black wax"),
        ("clear wax over it", "Bluebell clear paste wax"),
        ("two coats of wet sand", "Wet sand mineral paint"),
        ("old white on the fronts", "Old white chalk paint"),
        ("second coat of sand on the base", "Wet sand mineral paint"),
        ("8x #8 x 1-1/2 through slots", "Screws #8 x 1-1/2"),
        ("the sander with one twenty paper", "Sanding discs 120"),
        ("rubbed down with 0000", "Steel wool 0000"),
        ("jute webbing across", "Reed webbing jute"),
        ("a bead of moonstone", "Moonstone sealant"),
    ],
)
def test_named(names: ShelfNames, text: str, name: str) -> None:
    """A product is found by its kind's other names, its own words, its size or its grade."""
    assert [name] in found(names, text)


@pytest.mark.parametrize(
    "text",
    [
        "there is an ink stain on it", "the plug is not in the wall", "a wooden spoon", "she is pale",
        "clear the bench", "old and white as chalk dust", "the sand on the beach was wet", "up at the fen",
        "120 years old", "fold it in two",
    ],
)  # fmt: skip
def test_plain_english(names: ShelfNames, text: str) -> None:
    """Plain English that shares words with the shelf names nothing on it."""
    assert [options for options in found(names, text) if options] == []


def test_colours_exclude_each_other(names: ShelfNames) -> None:
    """A red wax is neither the black nor the clear one."""
    assert found(names, "a red wax") == [[]]


def test_general_name_gives_all(names: ShelfNames) -> None:
    """A general name gives every product of the kind, for the context to decide."""
    assert found(names, "some wax on it") == [["Bluebell clear paste wax", "Coal black wax"]]


def test_kind_that_is_not_stocked(names: ShelfNames) -> None:
    """A kind that stands on no shelf is a mention without options, also where a wider kind is stocked."""
    assert found(names, "danish oil on the top") == [[]]
    assert found(names, "epoxy in the cracks") == [[]]


def test_deeds_count_in_notes_only(names: ShelfNames) -> None:
    """A deed that uses up a product counts in a note, not in speech."""
    assert found(names, "top oiled", log=True) == [["Fenland hemp oil", "Clock and hinge oil"]]
    assert found(names, "the top was oiled once") == []


def test_nicknames() -> None:
    """What the shelf's notes call a product names it, in speech as well."""
    stock = shelf_names(shelf("Fenland hemp oil | oil | aka gold top, the goop. 24 h between coats"))
    assert [m.options for m in stock.find("some gold top on it and more goop")] == [(0,), (0,)]
    assert stock.find("gold on the top") == []


def test_initials_in_a_note() -> None:
    """A note may call a product of three words and more by its initials."""
    glue = shelf_names(shelf("Rabbit skin glue | glue"))
    assert [m.options for m in glue.find("size coat, rsg 40 g", log=True)] == [(0,)]
    assert glue.find("rsg it says on the bag") == []


def test_one_telling_word_in_a_note(names: ShelfNames) -> None:
    """One telling word of a name counts in a note that puts it to use, not as the name of a place."""
    assert found(names, "fenland, 2 coats", log=True) == [["Fenland hemp oil"]]
    assert found(names, "rubbed w fenland", log=True) == [["Fenland hemp oil"]]
    assert found(names, "fetched from the fenland farm", log=True) == []
    assert found(names, "the fenland is flat") == []


def test_grit_needs_company(names: ShelfNames) -> None:
    """A number is a grit only beside sanding; the product with that grit is meant."""
    assert found(names, "sanded 120>240", log=True)[-2:] == [["Sanding discs 120"], ["Sanding discs 240"]]
    assert found(names, "it took 120 minutes") == []


def test_count_is_no_size(names: ShelfNames) -> None:
    """A count that equals a number in a product's name makes the mention no more exact."""
    (mention,) = names.find("8 screws from the old top")
    assert not mention.exact


def test_misspelt_plural_and_case(names: ShelfNames) -> None:
    """Case, plurals and hyphens do not matter."""
    assert found(names, "STEEL-WOOL and Cup Pulls") == [["Steel wool 0000"], ["Cup pull 76mm"]]


def test_place(names: ShelfNames) -> None:
    """A mention quotes its place."""
    text = "É — then METHS on it"
    (mention,) = names.find(text)
    assert text[mention.start : mention.end] == mention.text == "METHS"


def test_empty_shelf() -> None:
    """An empty shelf finds kinds and no products; an item without words does no harm."""
    assert [m.options for m in shelf_names(()).find("hemp oil and rags")] == [(), ()]
    assert shelf_names(shelf("# 8", "")).find("nothing here") == []


@pytest.mark.parametrize(
    ("word", "wanted"),
    [
        ("brushes", "brush"),
        ("woodworker's", "woodworker"),
        ("brass", "brass"),
        ("glass", "glass"),
        ("discs", "disc"),
        ("putties", "putty"),
        ("boxes", "box"),
        ("gas", "gas"),
    ],
)
def test_singular(word: str, wanted: str) -> None:
    """Plural endings are taken off nouns; words that only look like plurals stay."""
    assert singular(word) == wanted


def test_goods_are_whole() -> None:
    """Every kind that the other blocks speak of is a kind of the tree, and the tree has no ring."""
    goods = load_goods()
    kinds = {kind for entries in goods.names.values() for _, kind in entries}
    kinds |= {part for kind in kinds for part in kind.split("|")} | set(goods.wider.values())
    for kind in kinds:
        assert goods.within(kind, kind)
    spoken_of = (
        {kind for entries in goods.deeds.values() for _, kind in entries}
        | set(goods.uses)
        | set(goods.strange)
    )
    assert spoken_of | goods.parts <= kinds | set(goods.wider)
