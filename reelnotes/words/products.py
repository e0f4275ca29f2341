"""Mentions of a shelf's products in log and speech, under any name they go by.

A product is known by the kinds in its name (`goods.toml`: "meths" for methylated spirit), by two of its
name's words side by side ("wet slate"), by its sizes (`4x #6 x 3/4`, "sanded to 180"), and in a note by the
deed that uses it up ("oiled"). The more exact name decides; among products of one kind the words and sizes
beside the name do, those that are rare on this shelf most.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from reelnotes.model import ShelfItem
from reelnotes.words.goods import Goods, load_goods, singular
from reelnotes.words.numbers import ONES, TENS, Piece, is_figure, pieces_of, read_number, word_set

_REACH = 3
_BREAKS = frozenset(".,;:!?()")
_UNSAID = frozenset({"-", "–", "'", '"'})
_GRITS = word_set("24 36 40 50 60 80 100 120 150 180 220 240 280 320 360 400 500 600 800 1000 1200 1500 2000")
_GRIT_COMPANY = word_set(
    """
    sand sanded sanding sander paper grit ro orbital disc pad abrasive sandpaper denib denibbed dnib
    cork > mesh grade rubbed coarse flatted flat keyed key scuff scuffed cut hand
    """
)
_GRIT_REACH_BACK, _GRIT_REACH_ON = 9, 4
_NO_GRIT_BEFORE = frozenset({"ml", "mil", "mm", "g", "m", "pcs"})
#: Words of one class exclude each other: a black wax is not the clear one, a pine dowel not the beech one.
_CLASSES = (
    word_set(
        """
        black white clear red blue green grey cream brown pale dark yellow gold navy sage charcoal
        pink orange
        """
    ),
    word_set(
        """
        oak pine beech ash walnut mahogany rosewood cherry maple elm teak birch softwood hardwood
        cedar redwood
        """
    ),
    word_set("brass steel copper iron stainless zinc nickel chrome bronze"),
)
_FITTING, _OTHER, _SIZED, _NOTED, _FAR = 1.0, -2.0, 0.8, 0.3, 0.5
_EXCLUDED = -1.0
_TIE = 0.1
_NUMBER = re.compile(r"\d+")
_DIMENSION = re.compile(
    r"#\s?\d+\s?[x×]\s?\d+(?:[-\s]\d+/\d+|/\d+|\.\d+)?|"
    r"\d+(?:\.\d+|/\d+)?\s?[x×]\s?\d+(?:\.\d+|-\d+/\d+|/\d+)?(?![\d/])"
)
_USING = frozenset({".", ";", ":", "with", "w", "using", "+", "then", "of", "in", "some", "more", "coat"})
_COAT_WORDS = frozenset({"coat", "topcoat", "ct", "lap", "layer", "basecoat"})
_COATED = ("paint", "stain", "varnish", "dye")
_SIZE_UNITS = frozenset({"mm", "cm", "in", "m"})
_NOT_NAMES = frozenset({"x", "mm", "in", "cm", "of", "and", "for"})
_SHORT_WORD = 3
_VOWELS = frozenset("aeiou")
#: What the shelf's own column may call a kind, for names that say none.
_COLUMN_KINDS = word_set("oil wax glue paint stripper stain varnish filler abrasive")


@dataclass(frozen=True, slots=True)
class Mention:
    """A place in a text, `start` to `end` (characters), where something of the shelf may be named.

    `options` are the shelf's indices that fit best: one where it is plain which is meant, none where the kind
    stands on no shelf. `exact` tells that more than a general name stands there; `deed` that only a deed
    does; `loose` that the word alone is everyday talk.
    """

    kind: str
    options: tuple[int, ...]
    start: int
    end: int
    text: str
    exact: bool = False
    deed: bool = False
    loose: bool = False


@dataclass(frozen=True, slots=True)
class Product:
    """What a shelf item can be recognised by: kinds, words in order, words of its notes, sizes."""

    index: int
    kinds: tuple[str, ...]
    order: tuple[str, ...]
    words: frozenset[str]
    notes: frozenset[str]
    sizes: frozenset[str]


@dataclass(slots=True)
class ShelfNames:
    """The names of a shelf, made ready for finding. Make one with `shelf_names`.

    `pairs` are words side by side that only these products have, `own` single words of products of no known
    kind, `single` telling words of the others, `dimensions` sizes such as `#6x3/4`, `colours` words that name
    a paint beside "coat", `grades` those of wire wool; `rarity` weighs a name's word: 1 if it stands once on
    the shelf, less the more often. `firsts` (and `note_firsts` in a note) are all words that a mention can
    begin with: the others are passed over without a look.
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
    firsts: frozenset[str] = frozenset()
    note_firsts: frozenset[str] = frozenset()

    def find(self, text: str, pieces: list[Piece] | None = None, *, log: bool = False) -> list[Mention]:
        """Find the mentions of a text in order; `log` reads deeds ("oiled") as well.

        `pieces` are those of the text, if at hand.
        """
        shown = _said(pieces_of(text) if pieces is None else pieces)
        words = [singular(piece.text) for piece in shown]
        return _Finding(self, text, shown, words, _sizes(words), log).mentions()

    def of_kind(self, kind: str) -> list[int]:
        """Give the products of a kind, its narrower kinds among them; if none, those of a wider kind."""
        within = self.goods.within
        for one in kind.split("|"):  # a name that two kinds share: the kind that stands on this shelf
            narrow = [p.index for p in self.products if any(within(k, one) for k in p.kinds)]
            if narrow:
                return narrow
        return [
            p.index
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
        return [p.index for p in kin if told & p.words]

    def sands(self, index: int) -> bool:
        """Tell whether a product is an abrasive."""
        return any(self.goods.within(kind, "abrasive") for kind in self.products[index].kinds)


@dataclass(frozen=True, slots=True)
class _Finding:
    """A text with its pieces, while mentions are looked for in it."""

    names: ShelfNames
    text: str
    pieces: list[Piece]
    words: list[str]
    sizes: list[str]
    log: bool

    def mentions(self) -> list[Mention]:
        found: list[Mention] = []
        firsts = self.names.note_firsts if self.log else self.names.firsts
        free = 0
        for at, word in enumerate(self.words):
            if at >= free and (word in firsts or is_figure(word)):
                mention, count = self._at(at)
                found += [mention] if mention else []
                free = at + count
        return found

    def _at(self, at: int) -> tuple[Mention | None, int]:
        """Read the mention that begins at a word, if one does, and the count of words it takes."""
        word, names = self.words[at], self.names
        named = names.goods.whole(self.words, at) if word in names.goods.names else None
        pair = names.pairs.get((word, self.words[at + 1])) if at + 1 < len(self.words) else None
        if pair and (named is None or named[1] <= 2):  # noqa: PLR2004 - a longer name beats two words
            return self._paired(at, pair)
        if named:
            return self._named(at, *named)
        if word in names.own:
            return self._made("", names.own[word], at, at + 1, exact=True), 1
        found = self._dimension(at) or self._grit(at) or self._coat_of(at)
        return found or (self._noted(at) if self.log else None) or (None, 1)

    def _noted(self, at: int) -> tuple[Mention, int] | None:
        """Read what only a note means: one telling word put to use, or a deed that uses something up."""
        word, names = self.words[at], self.names
        if word in names.single and self._in_use(at):
            return self._made("", names.single[word], at, at + 1), 1
        deed = names.goods.longest(self.words, at, names.goods.deeds)
        if deed is None:
            return None
        return self._made(deed[0], names.of_kind(deed[0]), at, at + deed[1], deed=True), deed[1]

    def _in_use(self, at: int) -> bool:
        """Tell whether a word is put to use: it opens a sentence, follows "with", or an amount follows."""
        before = self.words[at - 1] if at else "."
        behind = self.words[at + 1 : at + 4]
        return before in _USING or any(is_figure(word) or word in _COAT_WORDS for word in behind)

    def _made(
        self, kind: str, fitting: Sequence[int], at: int, end: int, *, exact: bool = False, deed: bool = False
    ) -> Mention:
        start, stop = self.pieces[at].start, self.pieces[end - 1].end
        options = self._best(fitting, at, end)
        return Mention(kind, options, start, stop, self.text[start:stop], exact, deed)

    def _paired(self, at: int, pair: list[int]) -> tuple[Mention, int]:
        end = at + 2
        while end < len(self.words) and any(self.words[end] in self.names.products[i].words for i in pair):
            end += 1
        kinds = self.names.products[pair[0]].kinds
        return self._made(kinds[-1] if kinds else "", pair, at, end, exact=True), end - at

    def _named(self, at: int, kind: str, count: int) -> tuple[Mention | None, int]:
        """Read a kind's name; `exact` if it is a narrow kind's or more of a name is beside it."""
        goods = self.names.goods
        fitting = self.names.of_kind(kind)
        kin = [] if fitting else self.names.akin(kind, self.words[max(0, at - 1) : at + count])
        mention = self._made(kind, fitting or kin, at, at + count)
        beside = any(self._fit(i, at, at + count, name_too=False) > 0 for i in mention.options)
        beside = beside and mention.options != ()
        if not beside and self._strange(kind, at, at + count):
            return None, count
        loose = count == 1 and self.words[at] in goods.loose and not beside
        general = kind in goods.general or kind in goods.parts
        narrow = bool(mention.options) and (not general or bool(kin)) and not loose
        start, end = mention.start, mention.end
        return (
            Mention(kind, mention.options, start, end, mention.text, beside or narrow, loose=loose),
            count,
        )

    def _strange(self, kind: str, at: int, end: int) -> bool:
        """Tell whether a word close by shows that another thing of that name is meant: an ink stain."""
        left = _until_break(self.words[max(0, at - _REACH) : at][::-1])
        near = {*left, *_until_break(self.words[end : end + 2 * _REACH])}
        words = self.names.goods.strange.get(kind)
        return words is not None and not near.isdisjoint(words)

    def _dimension(self, at: int) -> tuple[Mention, int] | None:
        """Read a size that a product has in its name: `#6 x 3/4`, `145x18`."""
        piece = self.pieces[at]
        if not self.names.dimensions or not (piece.text == "#" or is_figure(piece.text)):
            return None
        match = _DIMENSION.match(self.text, piece.start)
        options = self.names.dimensions.get(_plain_size(match[0])) if match else None
        if match is None or options is None:
            return None
        end = next(
            (i for i in range(at, len(self.pieces)) if self.pieces[i].start >= match.end()), len(self.pieces)
        )
        kinds = self.names.products[options[0]].kinds
        return self._made(kinds[-1] if kinds else "", options, at, end, exact=True), end - at

    def _coat_of(self, at: int) -> tuple[Mention, int] | None:
        """Read the one word of a paint's name that stands beside "coat": `2nd coat cream`."""
        options = self.names.colours.get(self.words[at])
        if options is None or not _COAT_WORDS.intersection(
            self.words[max(0, at - 3) : at] + self.words[at + 1 : at + 2]
        ):
            return None
        kinds = self.names.products[options[0]].kinds
        return self._made(kinds[-1] if kinds else "paint", options, at, at + 1, exact=True), 1

    def _grit(self, at: int) -> tuple[Mention, int] | None:
        """Read a grit in the company of sanding: `sndd 120>180`, "one twenty paper"."""
        word = self.words[at]
        number = read_number(self.pieces, at) if is_figure(word) or word in ONES or word in TENS else None
        grit = str(number.value) if number else ""
        if set(word) == {"0"} and word in self.names.grades:
            return self._made("wire wool", self.names.grades[word], at, at + 1, exact=True), 1
        if number is None or grit not in _GRITS:
            return None
        before = self.words[max(0, at - _GRIT_REACH_BACK) : at]
        behind = self.words[number.after : number.after + _GRIT_REACH_ON]
        if not _GRIT_COMPANY.intersection([*before, *behind]) or _NO_GRIT_BEFORE.intersection(behind[:1]):
            return None
        options = [p.index for p in self.names.products if grit in p.sizes and self.names.sands(p.index)]
        if not options:
            return None
        return self._made("abrasive", options, at, number.after, exact=True), number.after - at

    # --- which of several ----------------------------------------------------------------------------

    def _best(self, fitting: Sequence[int], at: int, end: int) -> tuple[int, ...]:
        """Give those that fit best with the name and what stands beside it; none if all are excluded."""
        scores = {i: self._fit(i, at, end) for i in fitting}
        best = max(scores.values(), default=_EXCLUDED)
        return tuple(i for i, score in scores.items() if score > best - _TIE) if best > _EXCLUDED else ()

    def _fit(self, index: int, at: int, end: int, *, name_too: bool = True) -> float:
        """Weigh what stands beside a name (and the name itself) for and against a product."""
        product, name = self.names.products[index], self.words[at:end]
        left = _until_break(self.words[max(0, at - _REACH) : at][::-1])
        right = _until_break(self.words[end : end + _REACH + 2])
        score = sum(self._weight(product, word) for word in [*(name if name_too else []), *left])
        score += sum(self._weight(product, word, far=True) for word in right)
        around = self.sizes[max(0, at - _REACH) : at] + self.sizes[end : end + _REACH + 2]
        score += _SIZED * len(product.sizes.intersection(around))
        near = {*name, *left[:2]}
        for one_class in _CLASSES:
            said, has = one_class & near, one_class & product.words
            if said and has and not said & has:
                score += _OTHER
        return score

    def _weight(self, product: Product, word: str, *, far: bool = False) -> float:
        if word in product.words:
            return (_FAR if far else _FITTING) * self.names.rarity[word]
        return _NOTED if word in product.notes else 0.0


def _sizes(words: Sequence[str]) -> list[str]:
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


def _plain_size(size: str) -> str:
    return re.sub(r"\s+", "", size.lower().replace("×", "x"))


def _said(pieces: list[Piece]) -> list[Piece]:
    """Leave out the signs that part no words: hyphens, quotes, a stroke between letters (`a/b bleach`)."""
    ends = len(pieces) - 1
    return [
        p
        for at, p in enumerate(pieces)
        if p.text not in _UNSAID
        and not (
            p.text == "/"
            and 0 < at < ends
            and pieces[at - 1].text.isalpha()
            and pieces[at + 1].text.isalpha()
        )
    ]


def _until_break(words: list[str]) -> list[str]:
    return next((words[:i] for i, word in enumerate(words) if word in _BREAKS), words)


def shelf_names(shelf: Sequence[ShelfItem]) -> ShelfNames:
    """Make the names of a shelf ready for finding."""
    goods = load_goods()
    products = [_product(index, item, goods) for index, item in enumerate(shelf)]
    counts = Counter(word for product in products for word in product.words)
    names = ShelfNames(goods, products, {word: 1 / count for word, count in counts.items()})
    for product, item in zip(products, shelf, strict=True):
        _enter(names, product, item.name)
    pairs = {first for first, _ in names.pairs}
    names.firsts = frozenset({"#", *goods.names, *pairs, *names.own, *names.colours, *ONES, *TENS})
    names.note_firsts = names.firsts | goods.deeds.keys() | names.single.keys()
    return names


def _enter(names: ShelfNames, product: Product, name: str) -> None:
    """Enter a product under everything but its kinds that it can be found by."""
    for size in _DIMENSION.findall(name):
        names.dimensions.setdefault(_plain_size(size), []).append(product.index)
    for grade in product.sizes if "wire wool" in product.kinds else ():
        if set(grade) == {"0"}:
            names.grades.setdefault(grade, []).append(product.index)
    initials = "".join(word[0] for word in product.order)
    if len(initials) >= _SHORT_WORD and _VOWELS.isdisjoint(initials):  # `rsg` for rabbit skin glue
        names.single.setdefault(initials, []).append(product.index)
    goods = names.goods
    coated = any(goods.within(kind, wide) for kind in product.kinds for wide in _COATED)
    for pair in pairwise(product.order):
        if _telling(pair, goods, colours=coated):
            names.pairs.setdefault(pair, []).append(product.index)
        joined = "".join(pair)
        if joined.isalpha() and goods.longest([joined], 0) is None:
            names.own.setdefault(joined, []).append(product.index)  # captions write `micro mesh` as one word
    for word in product.words:
        _enter_word(names, product, word, coated=coated)


def _enter_word(names: ShelfNames, product: Product, word: str, *, coated: bool) -> None:
    if names.goods.longest([word], 0):
        return  # a kind's name is looked for as such
    if word not in names.goods.plain and len(word) > _SHORT_WORD:
        (names.single if product.kinds else names.own).setdefault(word, []).append(product.index)
    if coated and names.rarity[word] == 1:
        names.colours.setdefault(word, []).append(product.index)


def _telling(pair: tuple[str, str], goods: Goods, *, colours: bool) -> bool:
    """Tell whether two words side by side mean the product: "wet slate", but not "two part" or "wood glue".

    A word that names a kind does not count: it is found by itself, and its neighbours are weighed then. Two
    plain words do where they name a colour ("old white").
    """
    if any(is_figure(word) or len(word) == 1 or goods.longest([word], 0) for word in pair):
        return False
    return goods.longest(list(pair), 0) is None and (colours or not goods.plain.issuperset(pair))


def _product(index: int, item: ShelfItem, goods: Goods) -> Product:
    pieces = [singular(p.text) for p in pieces_of(item.name) if p.text[0].isalnum() or p.text == "#"]
    words = [word for word in pieces if word != "#"]
    kinds = _kinds(words, goods)
    column = item.kind.casefold()
    if column in _COLUMN_KINDS and (not kinds or column == "abrasive"):
        kinds = kinds if any(goods.within(kind, column) for kind in kinds) else (*kinds, column)
    sizes = {size for size in _sizes(pieces) if len(size) > 1}  # a bare digit is as often a count
    if any(goods.within(kind, "abrasive") for kind in kinds):
        sizes |= _GRITS.intersection(_NUMBER.findall(f"{item.name} {item.notes}"))
    notes = {
        singular(p.text) for p in pieces_of(item.notes) if p.text.isalpha() and len(p.text) > _SHORT_WORD
    }
    return Product(
        index=index,
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
