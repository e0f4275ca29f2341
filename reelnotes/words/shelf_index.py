"""The products of a shelf by everything they can be recognised by: kinds, words, sizes, colours, grades."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import NamedTuple, TypeVar

from reelnotes.model import ShelfItem
from reelnotes.words.goods import Goods, load_goods, singular
from reelnotes.words.numbers import ONES, TENS, is_figure, pieces_of, word_set

GRITS = word_set("24 36 40 50 60 80 100 120 150 180 220 240 280 320 360 400 500 600 800 1000 1200 1500 2000")
#: `#6 x 3/4`, `145x18`, `4.5 x 40`.
DIMENSION = re.compile(
    r"#\s?\d+\s?[x×]\s?\d+(?:[-\s]\d+/\d+|/\d+|\.\d+)?|"
    r"\d+(?:\.\d+|/\d+)?\s?[x×]\s?\d+(?:\.\d+|-\d+/\d+|/\d+)?(?![\d/])"
)
_NUMBER = re.compile(r"\d+")
_NICKNAMES = re.compile(r"\b(?:aka|a\.k\.a\.|also called|we call it)\s*:?\s*([^.;]+)", re.IGNORECASE)
_COATED = ("paint", "stain", "varnish", "dye")
_SIZE_UNITS = frozenset({"mm", "cm", "in", "m"})
_NOT_NAMES = frozenset({"x", "mm", "in", "cm", "of", "and", "for"})
_SHORT_WORD, _LONG_WORD = 3, 6
_VOWELS = frozenset("aeiou")
#: What the shelf's own column may call a kind, for names that say none.
_COLUMN_KINDS = word_set("oil wax glue paint stripper stain varnish filler abrasive")


class Product(NamedTuple):
    """What a shelf item can be recognised by: kinds, words in order, words of its notes, sizes."""

    number: int
    kinds: tuple[str, ...]
    order: tuple[str, ...]
    words: frozenset[str]
    notes: frozenset[str]
    sizes: frozenset[str]


@dataclass(slots=True)
class ShelfIndex:
    """Under what the products of a shelf can be found.

    `pairs` are words side by side that only these products have, `own` single words of products of no known
    kind, `single` telling words of the others, `dimensions` sizes such as `#6x3/4`, `colours` words that name
    a paint beside "coat", `grades` those of wire wool, `shorthand` long words as hasty notes write them;
    `rarity` weighs a name's word: 1 if it stands once on the shelf, less the more often. `firsts` (and
    `note_firsts` in a note) are all words that a mention can begin with: the others are passed over without a
    look.
    """

    goods: Goods
    products: list[Product]
    rarity: dict[str, float]
    pairs: dict[tuple[str, str], list[int]] = field(default_factory=dict)
    own: dict[str, list[int]] = field(default_factory=dict)
    single: dict[str, list[int]] = field(default_factory=dict)
    dimensions: dict[str, list[int]] = field(default_factory=dict)
    colours: dict[str, list[int]] = field(default_factory=dict)
    grades: dict[str, list[int]] = field(default_factory=dict)
    shorthand: dict[str, str] = field(default_factory=dict)
    firsts: frozenset[str] = frozenset()
    note_firsts: frozenset[str] = frozenset()

    def of_kind(self, kind: str) -> list[int]:
        """Give the products of a kind, its narrower kinds among them; if none, those of a wider kind."""
        within = self.goods.within
        for one in kind.split("|"):  # a name that two kinds share: the kind that stands on this shelf
            narrow = [p.number for p in self.products if any(within(k, one) for k in p.kinds)]
            if narrow:
                return narrow
        return [
            p.number
            for p in self.products
            if p.kinds and within(kind, p.kinds[-1]) and p.kinds[-1] not in self.goods.distinct
        ]

    def akin(self, kind: str, words: Sequence[str]) -> list[int]:
        """Give the products of a sister kind that alone on the shelf have one of the words in their name."""
        parent = self.goods.wider.get(kind)
        if parent is None:
            return []
        kin = [p for p in self.products if any(self.goods.within(k, parent) for k in p.kinds)]
        told = {word for word in words if sum(word in p.words for p in kin) == 1} - set(parent.split())
        return [p.number for p in kin if told & p.words]

    def sands(self, index: int) -> bool:
        """Tell whether a product is an abrasive."""
        return any(self.goods.within(kind, "abrasive") for kind in self.products[index].kinds)


AnyIndex = TypeVar("AnyIndex", bound=ShelfIndex)


def index_shelf(kind: type[AnyIndex], shelf: Sequence[ShelfItem]) -> AnyIndex:
    """Make an index of the given kind for a shelf."""
    goods = load_goods()
    products = [_product(number, item, goods) for number, item in enumerate(shelf)]
    counts = Counter(word for product in products for word in product.words)
    names = kind(goods, products, {word: 1 / count for word, count in counts.items()})
    for product, item in zip(products, shelf, strict=True):
        _enter(names, product, item.name)
        _enter_nicknames(names, product, item.notes)
    names.shorthand = _shorthand(names)
    pairs = {first for first, _ in names.pairs}
    names.firsts = frozenset({"#", *goods.names, *pairs, *names.own, *names.colours, *ONES, *TENS})
    names.note_firsts = names.firsts | goods.deeds.keys() | names.single.keys()
    return names


def _shorthand(names: ShelfIndex) -> dict[str, str]:
    """Give the long words of products' names as dirty hands write them: `blackwd`, `wbbng`, `emlsn`.

    Each of the last vowels may be left out, or all of them; what could stand for two words stands for none.
    """
    found: dict[str, str] = {}
    unclear: set[str] = set()
    for word in {word for product in names.products for word in product.words if len(word) >= _LONG_WORD}:
        for short in _shortened(word):
            unclear |= {short} if found.get(short, word) != word else set()
            found[short] = word
    return {
        short: word
        for short, word in found.items()
        if short not in unclear and not names.goods.longest([short], 0)
    }


def _shortened(word: str) -> set[str]:
    """Give a word without all its inner vowels, and without those of its second half."""

    def bare(part: str) -> str:
        return "".join(letter for letter in part if letter not in _VOWELS)

    half = len(word) // 2
    shorts = {word[0] + bare(word[1:]), word[:half] + bare(word[half:])}
    return {short for short in shorts if short != word and len(short) > _SHORT_WORD}


def _enter(names: ShelfIndex, product: Product, name: str) -> None:
    """Enter a product under everything but its kinds that it can be found by."""
    for size in DIMENSION.findall(name):
        names.dimensions.setdefault(plain_size(size), []).append(product.number)
    for grade in product.sizes if "wire wool" in product.kinds else ():
        if set(grade) == {"0"}:
            names.grades.setdefault(grade, []).append(product.number)
    initials = "".join(word[0] for word in product.order)
    if len(initials) >= _SHORT_WORD and _VOWELS.isdisjoint(initials):  # `rsg` for rabbit skin glue
        names.single.setdefault(initials, []).append(product.number)
    goods = names.goods
    coated = any(goods.within(kind, wide) for kind in product.kinds for wide in _COATED)
    pairs = list(pairwise(product.order))
    for pair in pairs:
        last = (
            not product.kinds and pair == pairs[-1] and "".join(pair).isalpha()
        )  # `cup hooks`: no kind tells
        if last or _telling(pair, goods, colours=coated):
            names.pairs.setdefault(pair, []).append(product.number)
        joined = "".join(pair)
        if joined.isalpha() and goods.longest([joined], 0) is None:
            names.own.setdefault(joined, []).append(product.number)  # captions write `micro mesh` as one word
    for word in product.words:
        _enter_word(names, product, word, coated=coated)


def _enter_nicknames(names: ShelfIndex, product: Product, notes: str) -> None:
    """Enter the names that the shelf's notes give a product: `aka gold top, the good stuff`."""
    match = _NICKNAMES.search(notes)
    for nickname in match[1].split(",") if match else ():
        words = [singular(piece.text) for piece in pieces_of(nickname) if piece.text[0].isalnum()]
        words = words[1:] if words[:1] in (["the"], ["a"]) else words
        if len(words) == 1:
            names.own.setdefault(words[0], []).append(product.number)
        elif words:
            names.pairs.setdefault((words[0], words[1]), []).append(product.number)


def _enter_word(names: ShelfIndex, product: Product, word: str, *, coated: bool) -> None:
    if names.goods.longest([word], 0):
        return  # a kind's name is looked for as such
    if word not in names.goods.plain and len(word) == _SHORT_WORD and word == product.order[0]:
        names.single.setdefault(word, []).append(product.number)  # `bog 60 g`: only where it is put to use
    if word not in names.goods.plain and len(word) > _SHORT_WORD:
        (names.single if product.kinds else names.own).setdefault(word, []).append(product.number)
    if coated and names.rarity[word] == 1:
        names.colours.setdefault(word, []).append(product.number)


def _telling(pair: tuple[str, str], goods: Goods, *, colours: bool) -> bool:
    """Tell whether two words side by side mean the product: "wet slate", but not "two part" or "wood glue".

    A word that names a kind does not count: it is found by itself, and its neighbours are weighed then. Two
    plain words do where they name a colour ("old white").
    """
    if any(is_figure(word) or len(word) == 1 or goods.longest([word], 0) for word in pair):
        return False
    return goods.longest(list(pair), 0) is None and (colours or not goods.plain.issuperset(pair))


def _product(number: int, item: ShelfItem, goods: Goods) -> Product:
    pieces = [singular(p.text) for p in pieces_of(item.name) if p.text[0].isalnum() or p.text == "#"]
    words = [word for word in pieces if word != "#"]
    kinds = _kinds(words, goods)
    column = item.kind.casefold()
    if column in _COLUMN_KINDS and (not kinds or column == "abrasive"):
        kinds = kinds if any(goods.within(kind, column) for kind in kinds) else (*kinds, column)
    sizes = {size for size in sizes_of(pieces) if len(size) > 1}  # a bare digit is as often a count
    if any(goods.within(kind, "abrasive") for kind in kinds):
        sizes |= GRITS.intersection(_NUMBER.findall(f"{item.name} {item.notes}"))
    notes = {
        singular(p.text) for p in pieces_of(item.notes) if p.text.isalpha() and len(p.text) > _SHORT_WORD
    }
    return Product(
        number=number,
        kinds=kinds,
        order=tuple(words),
        words=frozenset(w for w in words if w[0].isalpha() and len(w) > 1 and w not in _NOT_NAMES),
        notes=frozenset(notes),
        sizes=frozenset(sizes),
    )


def _kinds(words: list[str], goods: Goods) -> tuple[str, ...]:
    kinds: list[str] = []
    at = 0
    while at < len(words):
        named = goods.whole(words, at)
        kinds += [named[0]] if named else []
        at += named[1] if named else 1
    return tuple(k for k in kinds if not any(other != k and goods.within(other, k) for other in kinds))


def sizes_of(words: Sequence[str]) -> list[str]:
    """Give each number as a size, with the mark or unit beside it (`#6`, `10mm`); "" for other words."""
    sizes = [""] * len(words)
    for at, word in enumerate(words):
        if is_figure(word):
            before, behind = words[at - 1] if at else "", words[at + 1] if at + 1 < len(words) else ""
            mark = (
                before if before == "#" or (len(before) == 1 and before.isalpha() and before != "x") else ""
            )
            sizes[at] = f"{mark}{word}{behind if behind in _SIZE_UNITS else ''}"
    return sizes


def plain_size(size: str) -> str:
    """Write a size one way, `#6x3/4`, whatever its spaces and its cross."""
    return re.sub(r"\s+", "", size.lower().replace("×", "x"))
