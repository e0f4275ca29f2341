"""How much of each product an episode used: amounts joined to names, log before speech, coats added up."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from reelnotes.draft.found import Place, Source
from reelnotes.model import ShelfItem
from reelnotes.words.amounts import PACKS, Amount
from reelnotes.words.numbers import pieces_of, read_number, word_set
from reelnotes.words.units import UNITS, convert, unit_named

_COAT = re.compile(
    r"\b(?:coats?|ct|topcoat|top coat|rubbers?|lap|layer|application|pass|fad|bodying|helping|session|go)\b"
)
_COUNT_UNITS = frozenset({"pcs", "lengths", "patches", "strips", "sheet", "set", "pair", "dozen"})
_FAR = 45  # characters between an amount and the name it belongs to


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value in a unit: the shelf's where it converts, else the maker's own."""

    value: Decimal
    unit: str


@dataclass(slots=True)
class Tally:
    """The amounts of one product, by the entry they belong to (None: no step), log and speech apart."""

    log: list[tuple[int | None, Quantity]] = field(default_factory=list)
    speech: list[tuple[int | None, Quantity]] = field(default_factory=list)
    implied: list[tuple[int | None, Quantity]] = field(default_factory=list)


def tally(sources: Sequence[Source], shelf: Sequence[ShelfItem], *, imperial: bool) -> dict[int, Tally]:
    """Join every amount to the product it tells of. Gives the tallies by the shelf's index."""
    tallies: dict[int, Tally] = {}
    coat_of: dict[str, int] = {}
    for source in sources:
        taken: set[int] = set()
        for index, amount in enumerate(source.amounts):
            entry = source.entry if source.entry is not None else source.entries[index]
            place = _owner(amount, source, shelf, imperial=imperial)
            product = place.product if place else None
            coat = _coat_word(source.text, amount) if source.entry is not None else ""
            if product is None and coat:
                product = coat_of.get(coat)
            if product is None:
                continue
            quantity = _in_shelf_unit(amount, shelf[product], source, imperial=imperial)
            if quantity is None:
                continue
            if coat and quantity.unit not in _COUNT_UNITS:
                coat_of[coat] = product
            taken.add(product)
            kept = tallies.setdefault(product, Tally())
            (kept.log if source.entry is not None else kept.speech).append((entry, quantity))
        _counts(source, shelf, tallies, taken)
    return tallies


def _coat_word(text: str, amount: Amount) -> str:
    before = text[max(0, amount.start - _FAR) : amount.start].casefold()
    found = _COAT.findall(before)
    return (
        "coat" if found and found[-1] in {"coats", "ct", "coat"} else (found[-1].rstrip("s") if found else "")
    )


def _owner(amount: Amount, source: Source, shelf: Sequence[ShelfItem], *, imperial: bool) -> Place | None:
    """Find the mention that an amount belongs to: beside it, else the nearest before it, else behind it."""
    ranked = []
    for place in source.places:
        if place.product is None or place.use != "used":
            continue
        if not _fits(amount, shelf[place.product], imperial=imperial):
            continue
        mention = place.mention
        if mention.end <= amount.start:
            between = source.text[mention.end : amount.start]
            distance = len(between) + 25 * len(re.findall(r"[.;!?]\s", between))
            if re.search(r"\b(?:in|into|with)\s+(?:a |an )?$", between) and source.entry is not None:
                distance += 60  # `100 g in 1 L`: the litre is water
        elif mention.start >= amount.end:
            between = source.text[amount.end : mention.start]
            beside = re.fullmatch(r"\s*(?:(?:of|more)\s+(?:the\s+|that\s+)?)?(?:[\w/#-]+\s+){0,2}", between)
            distance = 0 if beside else len(between) + 15 + 40 * len(re.findall(r"[.,;!?+]\s", between))
        else:
            distance = 0
        ranked.append((distance, place))
    if not ranked:
        return None
    distance, place = min(ranked, key=lambda pair: pair[0])
    far = 2 * _FAR if source.entry is not None else _FAR
    return place if distance <= far else None


def _fits(amount: Amount, item: ShelfItem, *, imperial: bool) -> bool:
    """Tell whether an amount can be one of this product at all."""
    if amount.unit in {"times", "mix"}:
        return False
    if amount.unit in PACKS:
        return item.pack is not None
    unit = unit_named(item.unit) or item.unit
    if amount.unit == "coats":
        return item.kind.casefold() not in {"hardware", "timber", "abrasive"}
    if amount.unit in _COUNT_UNITS:
        return unit not in UNITS or UNITS[unit].measure in {"count", "length"} or _is_hardware(item)
    if unit in UNITS and UNITS[unit].measure in {"count", "length"} and amount.unit in UNITS:
        return convert(amount.value, amount.unit, unit, imperial=imperial) is not None
    household = amount.unit in UNITS and UNITS[amount.unit].rough
    return household or convert(amount.value, amount.unit, unit, imperial=imperial) is not None


def _is_hardware(item: ShelfItem) -> bool:
    return item.kind.casefold() in {"hardware", "timber", "fixings", "fittings"}


def _in_shelf_unit(amount: Amount, item: ShelfItem, source: Source, *, imperial: bool) -> Quantity | None:
    if amount.unit in PACKS:
        return Quantity(amount.value * item.pack, item.unit) if item.pack is not None else None
    share = next((a.value for a in source.amounts if a.unit == "mix"), Decimal(1))
    value = amount.value * share if amount.unit in UNITS else amount.value
    converted = convert(value, amount.unit, item.unit, imperial=imperial)
    if converted is not None:
        return Quantity(converted, item.unit)
    return Quantity(value, amount.unit)


# --- counts beside a name ----------------------------------------------------------------------------


def _counts(source: Source, shelf: Sequence[ShelfItem], tallies: dict[int, Tally], taken: set[int]) -> None:
    """Read counts that stand beside a name without a unit: `16 cut nails`, "four little screws"."""
    for place in source.places:
        product = place.product
        if product is None or place.use != "used" or product in taken:
            continue
        item = shelf[product]
        unit = unit_named(item.unit) or item.unit
        counted = unit in {"pcs", "pair"} or (
            _is_hardware(item) and unit not in UNITS and unit not in {"sheet", "set"}
        )
        if not counted and not (_is_hardware(item) and unit in {"g", "kg"}):
            continue
        number = _number_before(place) or _number_behind(place)
        entry = source.entry if source.entry is not None else place.entry
        into = tallies.setdefault(product, Tally())
        shelf_unit = item.unit if counted else "pcs"
        if number is not None:
            value = number / 2 if unit == "pair" else number
            (into.log if place.in_log else into.speech).append((entry, Quantity(value, shelf_unit)))
            taken.add(product)
        elif counted and _implies_one(place, item, unit):
            into.implied.append((entry, Quantity(Decimal(1), shelf_unit)))


def _number_before(place: Place) -> Decimal | None:
    """Read the number in front of a name, a few words between: `2 new dwl`, "eight titchy nails"."""
    pieces = pieces_of(place.text[max(0, place.mention.start - 40) : place.mention.start])
    for back in range(min(5, len(pieces)), 0, -1):
        at = len(pieces) - back
        if at and (
            pieces[at - 1].text in {"#", "£", "$", "€", "no", "number", "x", ">"}
            or pieces[at - 1].text[0].isdigit()
        ):
            continue
        number = read_number(pieces, at)
        if number is None or number.fraction or number.value != number.value.to_integral_value():
            continue
        rest = [piece.text for piece in pieces[number.after :]]
        if rest and rest[0] in {"x", "×"}:
            rest = rest[1:]
        if len(rest) <= 3 and all(word.isalpha() and word not in _NOT_BETWEEN for word in rest):  # noqa: PLR2004
            return number.value
    pair = re.search(r"\ba pair of (?:\w+ ){0,2}$", place.text[: place.mention.start].casefold())
    return Decimal(2) if pair else None


_NOT_BETWEEN = word_set(
    """
    mm cm m ml mil g in and with on for to then out off at the was coat ct min mins hrs hours days
    years grit a or th st nd rd places times each goes weeks minutes l kg p quid pounds
    """
)


def _number_behind(place: Place) -> Decimal | None:
    """Read `8x`, `x4` and "eight, tapped in" close behind a name, and `3 places` behind a test."""
    after = place.text[place.mention.end : place.mention.end + 45].casefold()
    if match := re.match(
        r"[^.;]{0,22}?\b(\d+)\s?(?:x\b|off\b|places\b)|[^.;,]{0,12}?\bx\s?(\d+)\b(?!\s?mm)", after
    ):
        return Decimal(match[1] or match[2])
    if match := re.match(
        r"\s*,?\s*(?:there's |about |call it )?([a-z]+)(?: of (?:them|those|these)|,)", after
    ):
        pieces = pieces_of(match[1])
        number = read_number(pieces, 0) if pieces else None
        return number.value if number and not number.fraction else None
    if match := re.match(r"[^.;]{0,40}?\b([a-z]+) (?:of (?:them|those|these)|places)\b", after):
        number = read_number(pieces_of(match[1]), 0)
        return number.value if number and not number.fraction else None
    return None


def _implies_one(place: Place, item: ShelfItem, unit: str) -> bool:
    """Take a thing named in the singular as one: "a lid stay", `wall bracket on back`; a pair as one pair."""
    if item.kind.casefold() == "abrasive" or place.mention.deed:
        return False
    if unit == "pair":
        return True
    word = place.mention.text.casefold()
    if word.endswith("s") and not word.endswith("ss"):
        return False
    before = place.text[max(0, place.mention.start - 30) : place.mention.start].casefold()
    singular = bool(re.search(r"\b(?:a|an|one|the|new)\s+(?:[\w-]+\s+){0,2}$", before))
    return place.in_log or singular


# --- the sum -----------------------------------------------------------------------------------------


def total(kept: Tally, item: ShelfItem) -> Quantity | None:
    """Add up what a product's tally holds; None where nothing was measured.

    What the log says of a step stands; speech fills in steps whose entry gives no amount, and stands alone
    where the log gives none at all. The same piece of timber worked on in several steps counts once.
    """
    amounts = [quantity for _, quantity in kept.log]
    logged = {entry for entry, _ in kept.log}
    fill = _first_by_step([(e, q) for e, q in kept.speech if e not in logged])
    if amounts:
        amounts += [
            quantity for entry, quantity in fill if entry is not None and _same_kind(quantity, amounts[0])
        ]
    else:
        amounts = [quantity for _, quantity in fill]
    if not amounts:
        return kept.implied[0][1] if kept.implied else None
    return _added(amounts, item)


def _first_by_step(told: list[tuple[int | None, Quantity]]) -> list[tuple[int | None, Quantity]]:
    seen: set[object] = set()
    first = []
    for entry, quantity in told:
        key: object = entry if entry is not None else quantity
        if key not in seen and (entry is None or quantity not in seen):
            first.append((entry, quantity))
        seen |= {key, quantity}
    return first


def _same_kind(one: Quantity, other: Quantity) -> bool:
    return one.unit == other.unit


def _added(amounts: list[Quantity], item: ShelfItem) -> Quantity:
    measured = [quantity for quantity in amounts if quantity.unit != "coats"] or amounts
    unit = item.unit if any(q.unit == item.unit for q in measured) else measured[0].unit
    values = [quantity.value for quantity in measured if quantity.unit == unit]
    if (
        item.kind.casefold() == "timber"
        and (unit_named(unit) or unit) not in {"m", "ft"}
        and len(set(values)) == 1
    ):
        return Quantity(values[0], unit)
    return Quantity(sum(values, Decimal(0)), unit)
