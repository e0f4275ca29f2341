"""The ledger of coats: what finish went on when, by the log's clock, against what the tin asks for."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime

from reelnotes.model import Entry, ShelfItem
from reelnotes.records import frozen
from reelnotes.words.tokens import stem, tokenise
from reelnotes.words.waiting import Wait, hours_in, too_soon, waits_of

#: Finishes that build a film, which is what an oil or another product underneath spoils.
FILMS = frozenset(("paint", "varnish", "lacquer", "shellac", "primer"))
#: Words of a finish, and the kind each counts as.
_KINDS = {
    "primer": "primer", "undercoat": "primer", "topcoat": "paint", "paint": "paint", "emulsion": "paint",
    "eggshell": "paint", "gloss": "paint", "varnish": "varnish", "poly": "varnish", "polyurethane": "varnish",
    "lacquer": "lacquer", "shellac": "shellac", "polish": "shellac", "knotting": "shellac", "oil": "oil",
    "danish": "oil", "wax": "wax", "beeswax": "wax", "stain": "stain",
}  # fmt: skip
_ORDINALS = {"first": 1, "second": 2, "third": 3, "fourth": 4}
_COAT = re.compile(
    r"\b(?:(?P<before>\d)(?:st|nd|rd|th)|(?P<word>first|second|third|fourth))\s+(?:\w+\s+)?(?:coat|ct|rubber)\b"
    r"|(?:coat|ct|rubber)s?\s*(?P<after>\d)\b(?!\s*(?:coat|ct))",
    re.IGNORECASE,
)
_LABEL = re.compile(r"\b(?:tin|can|label|tub|it)?\s*(?:says|said|wants|asks)\b", re.IGNORECASE)


@frozen
class Coat:
    """A coat that the log tells of; `number` is None where it does not say which."""

    entry: Entry
    kind: str
    item: ShelfItem | None
    number: int | None
    says_h: float | None


@frozen
class Hurried:
    """Two coats too close together: hours apart by the clock, and hours that the tin asks for.

    `said` are the words of the shelf that ask for them, None where an entry of the log told the hours itself.
    """

    before: Coat
    after: Coat
    apart_h: float
    wanted_h: float
    own: bool
    said: str | None = None


def coats_of(entries: Sequence[Entry], shelf: Sequence[ShelfItem]) -> list[Coat]:
    """Give the coats of the log in its order."""
    finishes = [(item, _name_stems(item)) for item in shelf if _kind_of(item.name) or item.kind in _KINDS]
    coats: list[Coat] = []
    for entry in entries:
        coat = _coat(entry, finishes, coats)
        if coat is not None:
            coats.append(coat)
    return coats


def _coat(entry: Entry, finishes: list[tuple[ShelfItem, frozenset[str]]], before: list[Coat]) -> Coat | None:
    match = _COAT.search(entry.text)
    number = None
    if match:
        number = int(match["before"] or match["after"] or 0) or _ORDINALS[match["word"].casefold()]
    item = _item(entry.text, finishes)
    kind = (item and (_kind_of(item.name) or item.kind)) or _kind_of(entry.text)
    if not kind and number and number > 1 and before:
        kind, item = before[-1].kind, before[-1].item
    if not kind or (number is None and item is None):
        return None
    if item is None and number and number > 1:
        item = next((c.item for c in reversed(before) if c.kind == kind), None)
    if item is None:
        alike = [finish for finish, _ in finishes if (_kind_of(finish.name) or finish.kind) == kind]
        item = alike[0] if len(alike) == 1 else None
    label = _LABEL.search(entry.text)
    return Coat(entry, kind, item, number, hours_in(entry.text[label.end() :]) if label else None)


def _kind_of(text: str) -> str | None:
    words = [token.text.casefold() for token in tokenise(text)]
    found = [_KINDS[word] for word in words if word in _KINDS]
    return found[-1] if found else None


def _name_stems(item: ShelfItem) -> frozenset[str]:
    return frozenset(token.stem for token in tokenise(item.name))


def _item(text: str, finishes: list[tuple[ShelfItem, frozenset[str]]]) -> ShelfItem | None:
    """Give the finish whose name shares most words with the text: two, or all it has."""
    stems = {token.stem for token in tokenise(text)} | {stem(w) for w in text.split()}
    scored = [(len(name & stems), item) for item, name in finishes if len(name & stems) >= min(2, len(name))]
    return max(scored, key=lambda pair: pair[0])[1] if scored else None


def hurried(coats: Sequence[Coat]) -> list[Hurried]:
    """Give the coats that came earlier than the tin asks for."""
    found = []
    for number, after in enumerate(coats):
        for before in reversed(coats[:number]):
            case = _own(before, after) or _other(before, after)
            if case is not None:
                found.append(case)
                break
            if before.kind == after.kind:
                break
    return found


def _own(before: Coat, after: Coat) -> Hurried | None:
    if before.kind != after.kind or before.item != after.item:
        return None
    if after.number is None or (before.number or 1) >= after.number:
        return None
    said_h = after.says_h or before.says_h
    if said_h is not None:
        return _case(before, after, Wait(said_h, ""), own=True)
    return _case(before, after, waits_of(before.item.notes).own if before.item else None, own=True)


def _other(before: Coat, after: Coat) -> Hurried | None:
    if before.item is None or before.item == after.item or after.kind not in FILMS:
        return None
    return _case(before, after, waits_of(before.item.notes).other, own=False)


def _case(before: Coat, after: Coat, wanted: Wait | None, *, own: bool) -> Hurried | None:
    apart_h = hours_between(before.entry.logged_at, after.entry.logged_at)
    if wanted is None or apart_h is None or not too_soon(apart_h, wanted.hours):
        return None
    return Hurried(before, after, apart_h, wanted.hours, own, wanted.said or None)


def hours_between(first: datetime | None, then: datetime | None) -> float | None:
    """Give the hours from one moment to a later one; None where one is not known or they are out of order."""
    if first is None or then is None or then < first:
        return None
    return (then - first).total_seconds() / 3600
