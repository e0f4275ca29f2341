"""The trade's words: what captions mishear, what dirty hands shorten, and which words mean the same.

The data stand in `lexicon.toml`, one group a line; a workshop adds its own words in `workshop.toml`.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import TypeAlias

from reelnotes.settings import WordSettings
from reelnotes.words.tokens import Token, stem, tokenise

#: By first word: the words that must follow, and what the whole counts as; longest first.
Heads: TypeAlias = dict[str, list[tuple[tuple[str, ...], str]]]
Rewrite: TypeAlias = Callable[[list[Token]], Iterable[Token]]

_DOUBLING = re.compile(r"[^aeiou]*[aeiou][bdgmnprt]")


@dataclass(frozen=True, slots=True)
class Lexicon:
    """The words of the trade and of this workshop, ready for look-up.

    `misheard` holds what no maker says and captions write (`she lack`); `doubtful` what a maker may well say
    and captions also write for a word of the trade (`promise` for pumice), with the company that decides.
    `short` expands dirty-handed words; `same` maps each word or phrase, stemmed, to the head of its group;
    `fields` names the fields of work that a head belongs to.
    """

    misheard: Heads = field(default_factory=dict)
    doubtful: dict[str, tuple[str, frozenset[str]]] = field(default_factory=dict)
    short: dict[str, str] = field(default_factory=dict)
    same: Heads = field(default_factory=dict)
    fields: dict[str, tuple[str, ...]] = field(default_factory=dict)
    known: frozenset[str] = frozenset()

    def repair(self, text: str) -> str:
        """Put back the trade words that automatic captions misheard; the rest stays as it is.

        Doubtful ones (`promise` for pumice) are mended only in company that fits. Capitals at the beginning
        of a mended word are kept.
        """
        return self._rewritten(text, tokenise(text), self._mended)

    def expand(self, text: str) -> str:
        """Write out the shortened words of a dirty-handed note: `sndd drwr` gives `sanded drawer`."""
        return self._rewritten(text, tokenise(text), self._expanded)

    def heads(self, text: str, *, parts: bool = False) -> list[Token]:
        """Read a text as heads: mended, written out, stemmed, each group of the trade under one `stem`.

        Places are those of the text as given; a phrase is one token, with `parts` followed by its words. A
        doubtful mishearing gives both readings at the same place.
        """
        words = list(self._expanded(self._mended(tokenise(text), doubt=False)))
        both = [*self._grouped(words, parts=parts)]
        if not self.doubtful:
            return both
        return [token for word in both for token in (word, *self._other_reading(word))]

    def fields_of(self, head: str) -> tuple[str, ...]:
        """Name the fields of work (`gluing`, `stripping` …) that a head belongs to; none for a plain word."""
        return self.fields.get(head, ())

    # --- from words to words -----------------------------------------------------------------------

    def _mended(self, tokens: list[Token], *, doubt: bool = True) -> Iterator[Token]:
        company = {token.stem for token in tokens} if doubt and self.doubtful else frozenset()
        at = 0
        while at < len(tokens):
            token = tokens[at]
            plain = token.text.casefold().replace("’", "'")
            for rest, said in self.misheard.get(plain, ()):
                if all(
                    at + 1 + k < len(tokens) and tokens[at + 1 + k].text.casefold() == word
                    for k, word in enumerate(rest)
                ):
                    last = tokens[at + len(rest)]
                    yield Token(_cased(said, token.text), stem(said), token.start, last.end)
                    at += len(rest)
                    break
            else:
                said, wanted = self.doubtful.get(plain, ("", frozenset()))
                if said and wanted & company:
                    yield Token(_cased(said, token.text), stem(said), token.start, token.end)
                else:
                    yield token
            at += 1

    def _expanded(self, tokens: Iterable[Token]) -> Iterator[Token]:
        for token in tokens:
            whole = self._whole(token.text.casefold().replace("’", "'"))
            if whole is None:
                yield token
            else:
                for word in _cased(whole, token.text).split(" "):
                    yield Token(word, stem(word), token.start, token.end)

    def _whole(self, plain: str) -> str | None:
        """Give the written-out form of a shortened word, None for a word that is whole."""
        listed = self.short.get(plain)
        if listed is not None or len(plain) < 4 or not plain.endswith("d"):  # noqa: PLR2004 - `odd`, `add`
            return listed
        base = plain[:-2] if plain.endswith("'d") else plain[:-1]
        if stem(plain) in self.known or base[-1:] in "aeiou":
            return None if not plain.endswith("'d") or base not in self.known else f"{base}d"
        return _past(base) if stem(base) in self.known else None

    def _grouped(self, words: list[Token], *, parts: bool = False) -> Iterator[Token]:
        at = 0
        while at < len(words):
            token = words[at]
            for rest, head in self.same.get(token.stem, ()):
                if not rest:
                    yield Token(token.text, head, token.start, token.end)
                    break
                following = words[at + 1 : at + 1 + len(rest)]
                if tuple(word.stem for word in following) == rest:
                    yield Token(f"{token.text} …", head, token.start, following[-1].end)
                    if parts:
                        for word in (token, *following):
                            yield from self._grouped([word])
                    at += len(rest)
                    break
            else:
                yield token
            at += 1

    def _other_reading(self, token: Token) -> Iterator[Token]:
        said, _ = self.doubtful.get(token.text.casefold(), ("", frozenset()))
        if said:
            yield from self._grouped([Token(token.text, stem(said), token.start, token.end)])

    @staticmethod
    def _rewritten(text: str, tokens: list[Token], rewrite: Rewrite) -> str:
        parts, at = [], 0
        for token in rewrite(tokens):
            if token.start < at:  # a further word for the same place
                parts.append(f" {token.text}")
                continue
            parts += [text[at : token.start], token.text]
            at = token.end
        return "".join([*parts, text[at:]])


def load_lexicon(extra: WordSettings | None = None) -> Lexicon:
    """Give the lexicon of the trade, with a workshop's own words added to it (and going before it)."""
    trade = _trade()
    if extra is None or not (extra.same or extra.misheard):
        return trade
    groups = [[word for word in group if word.strip()] for group in extra.same]
    same = _phrases([(_head(trade, group), group) for group in groups if group])
    misheard = _surfaces([(said, [heard]) for heard, said in extra.misheard.items()])
    return Lexicon(
        _joined(trade.misheard, misheard),
        trade.doubtful,
        trade.short,
        _joined(trade.same, same),
        trade.fields,
        trade.known,
    )


def _head(trade: Lexicon, group: list[str]) -> str:
    """Let a workshop's group join the trade's group of its first word that has one."""
    for word in group:
        tokens = trade.heads(word)
        if len(tokens) == 1 and tokens[0].stem != stem(word):
            return tokens[0].stem
    return " ".join(token.stem for token in tokenise(group[0]))


@cache
def _trade() -> Lexicon:
    table = tomllib.loads(files("reelnotes.words").joinpath("lexicon.toml").read_text("utf-8"))
    groups = [(_stemmed(head), [head, *words]) for head, words in _lines(table["same"])]
    same = _phrases(groups)
    doubtful = {}
    for said, words in _lines(table["doubtful"]):
        heard, _, company = ", ".join(words).partition("@")
        wanted = frozenset(stem(word) for word in company.replace(",", " ").split())
        doubtful.update({word.strip(): (said, wanted) for word in heard.split(",")})
    fields: dict[str, list[str]] = {}
    known = {part for first, rests in same.items() for rest, _ in rests for part in (first, *rest)}
    for name, words in _lines(table["fields"]):
        for word in words:
            head = _only_head(same, word)
            fields.setdefault(head, []).append(f"~{name}")
            known.add(head)
    short = {word: said for said, words in _lines(table["short"]) for word in words}
    return Lexicon(
        _surfaces(_lines(table["misheard"])),
        doubtful,
        short,
        same,
        {head: tuple(names) for head, names in fields.items()},
        frozenset(known),
    )


def _lines(block: str) -> list[tuple[str, list[str]]]:
    """Read a block of lines `head: word, word, two words`; a line that begins with # is a comment."""
    pairs = (line.split(": ", 1) for line in block.splitlines() if ": " in line and line[0] != "#")
    return [(head, words.split(", ")) for head, words in pairs]


def _stemmed(phrase: str) -> str:
    return " ".join(map(stem, phrase.split()))


def _only_head(same: Heads, phrase: str) -> str:
    first, *rest = map(stem, phrase.split())
    for wanted, head in same.get(first, ()):
        if wanted == tuple(rest):
            return head
    return " ".join([first, *rest])


def _phrases(groups: Iterable[tuple[str, Iterable[str]]]) -> Heads:
    found: Heads = {}
    for head, words in groups:
        for word in words:
            first, *rest = map(stem, word.split())
            found.setdefault(first, []).append((tuple(rest), head))
    return _longest_first(found)


def _surfaces(groups: Iterable[tuple[str, Iterable[str]]]) -> Heads:
    found: Heads = {}
    for said, heards in groups:
        for heard in heards:
            first, *rest = heard.casefold().split()
            found.setdefault(first, []).append((tuple(rest), said))
    return _longest_first(found)


def _longest_first(found: Heads) -> Heads:
    for rests in found.values():
        if len(rests) > 1:
            rests.sort(key=lambda pair: -len(pair[0]))
    return found


def _joined(trade: Heads, own: Heads) -> Heads:
    return trade | {
        first: _longest_first({first: [*rests, *trade.get(first, [])]})[first] for first, rests in own.items()
    }


def _past(base: str) -> str:
    """Put the ending back that was shortened to a `d`: `plug` gives `plugged`, `walk` `walked`."""
    return f"{base}{base[-1]}ed" if _DOUBLING.fullmatch(base) else f"{base}ed"


def _cased(said: str, heard: str) -> str:
    return said[0].upper() + said[1:] if heard[:1].isupper() and said else said
