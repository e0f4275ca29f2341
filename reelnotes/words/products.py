"""Mentions of a shelf's products in log and speech, under any name they go by.

A product is known by the kinds in its name (`goods.toml`: "meths" for methylated spirit), by two of its
name's words side by side ("wet slate"), by its sizes (`4x #6 x 3/4`, "sanded to 180"), and in a note by the
deed that uses it up ("oiled"). The more exact name decides; among products of one kind the words and sizes
beside the name do, those that are rare on this shelf most.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from reelnotes.model import ShelfItem
from reelnotes.words.goods import singular
from reelnotes.words.numbers import FIGURES, ONES, TENS, Piece, is_figure, pieces_of, read_number, word_set
from reelnotes.words.shelf_index import (
    DIMENSION,
    GRITS,
    Product,
    ShelfIndex,
    index_shelf,
    plain_size,
    sizes_of,
)

_REACH = 3
_BREAKS = frozenset(".,;:!?()")
_UNSAID = frozenset({"-", "–", "'", '"'})
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
_USING = frozenset({".", ";", ":", "with", "w", "using", "+", "then", "of", "in", "some", "more", "coat"})
_COAT_WORDS = frozenset({"coat", "topcoat", "ct", "lap", "layer", "basecoat"})


class Mention(NamedTuple):
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


@dataclass(slots=True)
class ShelfNames(ShelfIndex):
    """The names of a shelf, made ready for finding. Make one with `shelf_names`."""

    def find(self, text: str, pieces: list[Piece] | None = None, *, log: bool = False) -> list[Mention]:
        """Find the mentions of a text in order; `log` reads deeds ("oiled") as well.

        `pieces` are those of the text, if at hand.
        """
        shown = _said(pieces_of(text) if pieces is None else pieces)
        words = [singular(piece.text) for piece in shown]
        if log and self.shorthand:
            words = [self.shorthand.get(word, word) for word in words]
        return _Finding(self, text, shown, words, sizes_of(words), log).mentions()


def shelf_names(shelf: Sequence[ShelfItem]) -> ShelfNames:
    """Make the names of a shelf ready for finding."""
    return index_shelf(ShelfNames, shelf)


class _Finding(NamedTuple):
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
            if (word in firsts or word[:1] in FIGURES) and at >= free:
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
        match = DIMENSION.match(self.text, piece.start)
        options = self.names.dimensions.get(plain_size(match[0])) if match else None
        if match is None or options is None:
            return None
        end = next(
            (i for i in range(at, len(self.pieces)) if self.pieces[i].start >= match.end()), len(self.pieces)
        )
        kinds = self.names.products[options[0]].kinds
        return self._made(kinds[-1] if kinds else "", options, at, end, exact=True), end - at

    def _coat_of(self, at: int) -> tuple[Mention, int] | None:
        """Read the one word of a paint's name beside "coat" or a volume: `2nd coat cream`, `cream 40 ml`."""
        options = self.names.colours.get(self.words[at])
        if options is None:
            return None
        behind = self.words[at + 1 : at + 4]
        coated = _COAT_WORDS.intersection(self.words[max(0, at - 3) : at] + behind[:1])
        if not coated and not (self.log and is_figure("".join(behind[:1])) and "ml" in behind[1:2]):
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
        if number is None or grit not in GRITS:
            return None
        before = self.words[max(0, at - _GRIT_REACH_BACK) : at]
        behind = self.words[number.after : number.after + _GRIT_REACH_ON]
        graded = before[-1:] == ["p"]  # `P240` is a grade of paper (FEPA, from memory) and nothing else
        sanding = graded or _GRIT_COMPANY.intersection([*before, *behind])
        if not sanding or _NO_GRIT_BEFORE.intersection(behind[:1]):
            return None
        options = [p.number for p in self.names.products if grit in p.sizes and self.names.sands(p.number)]
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
