"""The ledger of coats: what finish went on when, by the log's clock, against what the tin asks for."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime

from reelnotes.model import Entry, ShelfItem
from reelnotes.records import frozen
from reelnotes.words.tokens import stem, tokenise

#: A coat that comes so much early (hours) is still on time: clocks and notes are not that exact.
GRACE_H = 0.25
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
_HOURS = re.compile(r"(?P<number>\d+(?:\.\d+)?)\s*-?\s*(?P<unit>h|hrs?|hours?|d|days?)\b", re.IGNORECASE)
_OTHER = re.compile(r"\b(?:other|another|different)\b", re.IGNORECASE)
_RECOAT = re.compile(r"coat", re.IGNORECASE)
_LABEL = re.compile(r"\b(?:tin|can|label|tub|it)?\s*(?:says|said|wants|asks)\b", re.IGNORECASE)
_HOURS_A_DAY = 24


@frozen
class Wait:
    """Hours that a product asks for: before its own next coat, and before any other product."""

    own_h: float | None = None
    other_h: float | None = None


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
    """Two coats too close together: hours apart by the clock, and hours that the tin asks for."""

    before: Coat
    after: Coat
    apart_h: float
    wanted_h: float
    own: bool


def wait_of(notes: str) -> Wait:
    """Read `recoat 4 h`, `12 h between coats`, `72 h before any other product` out of a shelf note."""
    own: float | None = None
    other: float | None = None
    for part in re.split(r"[;,]|\.\s", notes):
        found = _hours(part)
        if found is None:
            continue
        if _OTHER.search(part):
            other = found
        elif _RECOAT.search(part):
            own = found
    return Wait(own, other)


def _hours(text: str) -> float | None:
    match = _HOURS.search(text)
    if match is None:
        return None
    return float(match["number"]) * (_HOURS_A_DAY if match["unit"].casefold().startswith("d") else 1)


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
    return Coat(entry, kind, item, number, _hours(entry.text[label.end() :]) if label else None)


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
    wait = wait_of(before.item.notes) if before.item else Wait()
    return _case(before, after, after.says_h or before.says_h or wait.own_h, own=True)


def _other(before: Coat, after: Coat) -> Hurried | None:
    if before.item is None or before.item == after.item or after.kind not in FILMS:
        return None
    return _case(before, after, wait_of(before.item.notes).other_h, own=False)


def _case(before: Coat, after: Coat, wanted_h: float | None, *, own: bool) -> Hurried | None:
    apart_h = _hours_between(before.entry.logged_at, after.entry.logged_at)
    if wanted_h is None or apart_h is None or apart_h >= wanted_h - GRACE_H:
        return None
    return Hurried(before, after, apart_h, wanted_h, own)


def _hours_between(first: datetime | None, then: datetime | None) -> float | None:
    if first is None or then is None or then < first:
        return None
    return (then - first).total_seconds() / 3600
