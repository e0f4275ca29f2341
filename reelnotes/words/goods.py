"""The kinds of things a workshop buys, as a tree with every name a kind goes by (`goods.toml`)."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import NamedTuple

from reelnotes.words.numbers import pieces_of, word_set

#: By first word: the words that must follow and the kind they name, longest first.
Names = dict[str, list[tuple[tuple[str, ...], str]]]


class Goods(NamedTuple):
    """The tree of kinds.

    `names` and `deeds` map first words to what follows and the kind; `wider` gives each kind's parent;
    `plain` are words that only colour a name, `loose` names that everyday talk uses too; `uses` are words
    near a general name that tell which kind is meant; `general` are the kinds that have narrower ones,
    `parts` those that as often are part of the piece as bought for it, `strange`
    words close by that show that another thing of that name is meant, `distinct` wide kinds whose narrow ones
    never stand for each other.
    """

    names: Names
    deeds: Names
    wider: dict[str, str]
    plain: frozenset[str]
    loose: frozenset[str]
    uses: dict[str, frozenset[str]]
    general: frozenset[str]
    parts: frozenset[str]
    strange: dict[str, frozenset[str]]
    distinct: frozenset[str]

    def within(self, kind: str, wide: str) -> bool:
        """Tell whether a kind is `wide` or one of its narrower kinds."""
        while kind:
            if kind == wide:
                return True
            kind = self.wider.get(kind, "")
        return False

    def whole(self, words: list[str], at: int) -> tuple[str, int] | None:
        """Give what `longest` does, with a wider kind's name behind it included: "liquid hide" and "glue"."""
        named = self.longest(words, at)
        if named is None or at + named[1] >= len(words):
            return named
        kind, count = named
        behind = self.longest(words, at + count)
        more = behind is not None and behind[0] != kind and self.within(kind, behind[0])
        return (kind, count + behind[1]) if more and behind else named

    def longest(self, words: list[str], at: int, table: Names | None = None) -> tuple[str, int] | None:
        """Give the kind that the longest name beginning at a word stands for, and the count of its words."""
        for rest, kind in (self.names if table is None else table).get(words[at], ()):
            if tuple(words[at + 1 : at + 1 + len(rest)]) == rest:
                return kind, 1 + len(rest)
        return None


@cache
def load_goods() -> Goods:
    """Give the tree of kinds, read once."""
    table = tomllib.loads(Path(__file__).with_name("goods.toml").read_text("utf-8"))
    names: Names = {}
    wider: dict[str, str] = {}
    for head, others in _lines(table["kinds"]):
        kind, _, parent = (part.strip() for part in head.partition("<"))
        if parent:
            wider[kind] = parent
        for name in (*([] if "|" in kind else [kind]), *others):
            _enter(names, name, kind)
    deeds: Names = {}
    for kind, words in _lines(table["deeds"]):
        for word in words:
            first, *rest = word.split()
            deeds.setdefault(first, []).append((tuple(rest), kind))
    for entries in (*names.values(), *deeds.values()):
        entries.sort(key=lambda entry: -len(entry[0]))
    plain = frozenset(singular(word) for word in table["plain"].split())
    loose = frozenset(singular(word) for word in table["loose"].split())
    uses = {kind: frozenset(map(singular, words)) for kind, words in _lines(table["uses"])}
    strange = {kind: frozenset(words) for kind, words in _lines(table["strange"])}
    parts, distinct = (_list(table[name]) for name in ("parts", "distinct"))
    return Goods(names, deeds, wider, plain, loose, uses, frozenset(wider.values()), parts, strange, distinct)


def _lines(block: str) -> list[tuple[str, list[str]]]:
    pairs = (line.partition(":") for line in block.splitlines() if ":" in line and line[0] != "#")
    return [(head, [w for word in words.split(",") if (w := word.strip())]) for head, _, words in pairs]


def _list(block: str) -> frozenset[str]:
    return frozenset(kind.strip() for kind in block.strip().replace("\n", ",").split(","))


def _enter(names: Names, name: str, kind: str) -> None:
    first, *rest = map(singular, name.split())
    entry = (tuple(rest), kind)
    if all(entry[0] != known for known, _ in names.setdefault(first, [])):
        names[first].append(entry)


def words_of(text: str) -> list[str]:
    """Give the words and numbers of a text, case folded, in the singular; signs are left out."""
    return [singular(piece.text) for piece in pieces_of(text) if piece.text[0].isalnum()]


_KEPT = word_set(
    """
    brass glass cross press less loss boss moss bus gas lens as is was has its this us yes across
    """
)
_SINGULAR: dict[str, str] = {}


def singular(word: str) -> str:
    """Take a plural ending off a noun: `brushes` to `brush`, `woodworker's` to `woodworker`."""
    known = _SINGULAR.get(word)
    if known is None:
        known = _SINGULAR[word] = _without_plural(word.replace("’", "'"))
    return known


def _without_plural(word: str) -> str:
    word = word.removesuffix("'s").replace("'", "")
    if len(word) <= 2 or word in _KEPT or not word.endswith("s") or word.endswith(("ss", "us", "is")):  # noqa: PLR2004
        return word
    if word.endswith("ies") and len(word) > 4:  # noqa: PLR2004
        return word[:-3] + "y"
    if word.endswith(("ches", "shes", "xes", "sses")):
        return word[:-2]
    return word[:-1]
