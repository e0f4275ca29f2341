"""The trade's words: what captions mishear, what dirty hands shorten, and which words mean the same.

The data stand in `lexicon.toml`, one group a line; a workshop adds its own words in `workshop.toml`.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from dataclasses import field
from functools import cache
from pathlib import Path
from typing import TypeAlias

from reelnotes.records import frozen
from reelnotes.settings import WordSettings
from reelnotes.words.tokens import Token, remember_stems, stem, tokenise, words_in

#: By first word: the words that must follow, and what the whole counts as; longest first.
Heads: TypeAlias = dict[str, list[tuple[tuple[str, ...], str]]]

_VOWELS = "aeiouy"
_DOUBLING = re.compile(r"[^aeiou]*[aeiou][bdgmnprt]")


@frozen
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
    _wholes: dict[str, str] = field(default_factory=dict, repr=False, compare=False)

    def repair(self, text: str) -> str:
        """Put back the trade words that automatic captions misheard; the rest stays as it is.

        Doubtful ones (`promise` for pumice) are mended only in company that fits. A capital at the beginning
        of a mended word is kept.
        """
        return _rewritten(text, self._mended(tokenise(text), doubt=True))

    def expand(self, text: str) -> str:
        """Write out the shortened words of a dirty-handed note: `sndd drwr` gives `sanded drawer`."""
        return _rewritten(text, self._expanded(tokenise(text)))

    def heads(self, text: str, *, parts: bool = False) -> list[Token]:
        """Read a text as heads: mended, written out, stemmed, each group of the trade under one `stem`.

        Places are those of the text as given; a phrase is one token, with `parts` followed by its words. A
        doubtful mishearing gives both readings at the same place.
        """
        return self._grouped(self._expanded(self._mended(tokenise(text), doubt=False)), parts=parts)

    def stems(self, text: str, *, parts: bool = False) -> list[str]:
        """Give the `stem` of every token of `heads`, without their places: three times as fast."""
        words = words_in(text)
        if self._suspect(words):
            return [token.stem for token in self.heads(text, parts=parts)]
        row: list[str] = []
        for word in words:
            whole = self._whole(word)
            row += map(stem, whole.split(" ")) if whole else (stem(word),)
        found = []
        for head, at, length in self._groups(row):
            found.append(head)
            if length > 1 and parts:
                found += [self._groups([word])[0][0] for word in row[at : at + length]]
        return found

    def fields_of(self, head: str) -> tuple[str, ...]:
        """Name the fields of work (`~gluing`, `~sanding` …) that a head belongs to; none for a plain word."""
        return self.fields.get(head, ())

    # --- from words to words -----------------------------------------------------------------------

    def _mended(self, tokens: list[Token], *, doubt: bool) -> list[Token]:
        """Put misheard words right; doubtful ones only with `doubt`, where the company decides."""
        plains = [_plain(token.text) for token in tokens]
        if not self._suspect(plains):
            return tokens
        company = {token.stem for token in tokens}
        mended, at = [], 0
        while at < len(tokens):
            length, said = self._said(plains, at, company if doubt else set())
            if said:
                token = tokens[at]
                end = tokens[at + length - 1].end
                mended.append(Token(_cased(said, token.text), stem(said), token.start, end))
            else:
                mended.append(tokens[at])
            at += length
        return mended

    def _suspect(self, words: list[str]) -> bool:
        """Tell whether any of these words could be misheard."""
        if not self.doubtful.keys().isdisjoint(words):
            return True
        if self.misheard.keys().isdisjoint(words):
            return False
        none: set[str] = set()
        return any(word in self.misheard and self._said(words, at, none)[1] for at, word in enumerate(words))

    def _said(self, plains: list[str], at: int, company: set[str]) -> tuple[int, str]:
        """Tell how many words from here on are a mishearing, and of what; one and nothing if none is."""
        for rest, said in self.misheard.get(plains[at], ()):
            if tuple(plains[at + 1 : at + 1 + len(rest)]) == rest:
                return 1 + len(rest), said
        said, wanted = self.doubtful.get(plains[at], ("", frozenset()))
        return 1, said if wanted & company else ""

    def _expanded(self, tokens: list[Token]) -> list[Token]:
        expanded = []
        for token in tokens:
            whole = self._whole(_plain(token.text))
            if whole:
                words = _cased(whole, token.text).split(" ")
                expanded += [Token(word, stem(word), token.start, token.end) for word in words]
            else:
                expanded.append(token)
        return expanded

    def _whole(self, plain: str) -> str:
        """Give the written-out form of a shortened word, nothing for a word that is whole."""
        whole = self._wholes.get(plain)
        if whole is None:
            self._wholes[plain] = whole = self.short.get(plain) or self._past(plain)
        return whole

    def _past(self, plain: str) -> str:
        """Write out a deed that was shortened to a `d`: `plugd`, `walkd`, `glu'd`."""
        if len(plain) < 4 or not plain.endswith("d") or stem(plain) in self.known:  # noqa: PLR2004 - `add`
            return ""
        base = plain[:-1].removesuffix("'")
        if stem(base) not in self.known:
            return ""
        if base[-1] in _VOWELS:
            return f"{base}ed" if plain.endswith("'d") and not base.endswith("e") else ""
        return f"{base}{base[-1]}ed" if _DOUBLING.fullmatch(base) else f"{base}ed"

    def _grouped(self, words: list[Token], *, parts: bool = False) -> list[Token]:
        """Put each word or phrase of a group under its head; both readings of a doubtful mishearing."""
        grouped = []
        for head, at, length in self._groups([word.stem for word in words]):
            first, last = words[at], words[at + length - 1]
            grouped.append(Token(first.text, head, first.start, last.end))
            if length > 1 and parts:
                grouped += [part for word in words[at : at + length] for part in self._grouped([word])]
            said, _ = self.doubtful.get(first.text.casefold(), ("", None))
            if said:
                grouped += self._grouped([Token(said, stem(said), first.start, first.end)])
        return grouped

    def _groups(self, stems: list[str]) -> list[tuple[str, int, int]]:
        """Give the heads of a row of stems, each with its place in the row and its number of words."""
        groups, at, same = [], 0, self.same
        while at < len(stems):
            head, length = stems[at], 1
            for rest, whole in same.get(head, ()):
                if not rest or tuple(stems[at + 1 : at + 1 + len(rest)]) == rest:
                    head, length = whole, 1 + len(rest)
                    break
            groups.append((head, at, length))
            at += length
        return groups


def _rewritten(text: str, tokens: list[Token]) -> str:
    """Give a text with the tokens in the places they stand for."""
    parts, at = [], 0
    for token in tokens:
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
        first, *rest = [token.stem for token in tokenise(word)] or [""]
        for wanted, head in trade.same.get(first, ()):
            if wanted == tuple(rest):
                return head
    return " ".join(token.stem for token in tokenise(group[0]))


@cache
def _trade() -> Lexicon:
    text = Path(__file__).with_name("lexicon.toml").read_text("utf-8")
    remember_stems(list(set(text.replace(",", " ").replace(":", " ").split())))
    table = tomllib.loads(text)
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
    if " " not in phrase:
        first = stem(phrase)
        return next((head for wanted, head in same.get(first, ()) if not wanted), first)
    first, *rest = map(stem, phrase.split())
    for wanted, head in same.get(first, ()):
        if wanted == tuple(rest):
            return head
    return " ".join([first, *rest])


def _phrases(groups: Iterable[tuple[str, Iterable[str]]]) -> Heads:
    found: Heads = {}
    for head, words in groups:
        for word in words:
            if " " in word:
                first, *rest = map(stem, word.split())
                found.setdefault(first, []).append((tuple(rest), head))
            else:
                found.setdefault(stem(word), []).append(((), head))
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


def _cased(said: str, heard: str) -> str:
    return said[0].upper() + said[1:] if heard[:1].isupper() and said else said


def _plain(word: str) -> str:
    return word.casefold().replace("’", "'")
