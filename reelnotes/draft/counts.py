"""Counts that stand beside a product's name without a unit: `16 cut nails`, "four little screws"."""

from __future__ import annotations

import re
from decimal import Decimal

from reelnotes.draft.found import Place
from reelnotes.words.amounts import Amount
from reelnotes.words.numbers import pieces_of, read_number, word_set

_BACK, _ON = 40, 45
_SHORTEST_MM = 40
_WORDS_BETWEEN = 2
#: Words that cannot stand between a count and the thing counted.
_NOT_BETWEEN = word_set(
    """
    mm cm m ml mil g l kg p in and with on for to from fr then out off at the was is are coat ct min mins hrs
    hours days years weeks minutes grit or th st nd rd places times each goes quid pounds wide long thick deep
    high lg sets into by under over up down per it i we you had got put
    """
)
_THESE = frozenset({"the", "these", "those", "my", "our", "them"})
_NOT_BEFORE = frozenset(
    {"#", "/", "-", "£", "$", "€", "no", "number", "x", "×", ">", "coat", "ct", "drawer", "day"}
)
_NUMBER_BEHIND = re.compile(
    r"[^.;]{0,22}?\b(\d+)\s?places\b|[^.;,]{0,12}?\bx\s?(\d+)\b(?!\s?mm)|"
    r"(?:\s+|[^.;,\d]{0,25},\s*)(\d{1,3})\s*(?:$|[.,;+](?!\d))"
)
_WORD_BEHIND = re.compile(
    r"\s*,?\s*(?:there's |about |call it )?([a-z]+)(?: of (?:them|those|these)\b|,)|"
    r"[^.;]{0,40}?\b([a-z]+) (?:of (?:them|those|these)|places)\b"
)
_LENGTH_BEHIND = re.compile(
    r"\s+(\d{2,4}(?:\.\d+)?)\s?(mm|cm)\b(?!\s?[x×]|\s*(?:dia|thick|wide|deep))", re.IGNORECASE
)
_PAIR = re.compile(r"\ba pair of (?:\w+ ){0,2}$")
_ONE = re.compile(r"\b(?:a|an|one|the|new)\s+(?:[\w-]+\s+){0,2}$")


def count_beside(place: Place) -> Decimal | None:
    """Read the count that stands beside a name: before it, or behind as `x4`, "eight of them", "3 places"."""
    if not place.mention.text[:1].isalpha():  # a size or a grit is no thing to count
        return None
    before = _number_before(place)
    return before if before is not None else _number_behind(place)


def _number_before(place: Place) -> Decimal | None:
    """Read the number in front of a name, a few words between: `2 new dwl`, "eight titchy nails"."""
    pieces = pieces_of(place.text[max(0, place.mention.start - _BACK) : place.mention.start])
    for at in range(max(0, len(pieces) - _WORDS_BETWEEN - 4), len(pieces)):
        before = pieces[at - 1].text if at else ""
        if before in _NOT_BEFORE or before[:1].isdigit():
            continue
        number = read_number(pieces, at)
        if number is None or number.fraction or number.value % 1:
            continue
        between = [piece.text for piece in pieces[number.after :]]
        between = between[1:] if between[:1] in (["x"], ["×"]) else between
        if between[:1] == ["of"] and _THESE.issuperset(between[1:2]):  # `eight of the fasteners`
            between = between[2:]
        if len(between) <= _WORDS_BETWEEN and all(w.isalpha() and w not in _NOT_BETWEEN for w in between):
            return number.value
    return Decimal(2) if _PAIR.search(place.text[: place.mention.start].casefold()) else None


def _number_behind(place: Place) -> Decimal | None:
    after = place.text[place.mention.end : place.mention.end + _ON].casefold()
    if match := _NUMBER_BEHIND.match(after):
        return Decimal(match[1] or match[2] or match[3])
    if match := _WORD_BEHIND.match(after):
        pieces = pieces_of(match[1] or match[2])
        number = read_number(pieces, 0) if pieces else None
        return number.value if number and not number.fraction else None
    return None


def length_behind(place: Place) -> Amount | None:
    """Read a length right behind a name: `beech dowel 60 mm`; what is shorter than 40 mm is a thickness."""
    match = _LENGTH_BEHIND.match(place.text, place.mention.end)
    if match is None or Decimal(match[1]) * (10 if match[2].lower() == "cm" else 1) < _SHORTEST_MM:
        return None
    return Amount(Decimal(match[1]), match[2].lower(), match[0].strip(), *match.span())


def implies_one(place: Place) -> bool:
    """Tell whether a thing is named in the singular: "a lid stay", `wall bracket on back`."""
    if place.mention.deed or not place.mention.text[:1].isalpha():
        return False
    word = place.mention.text.casefold()
    if word.endswith("s") and not word.endswith("ss"):
        return False
    return place.in_log or bool(_ONE.search(place.text[: place.mention.start].casefold()))
