"""How much of each product an episode used: amounts joined to names, log before speech, coats added up."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import NamedTuple

from reelnotes.draft.counts import count_beside, implies_one, length_behind
from reelnotes.draft.found import Place, Source
from reelnotes.model import ShelfItem
from reelnotes.words.amounts import COUNTED, PACKS, Amount
from reelnotes.words.units import UNITS, convert, unit_named

_COAT = re.compile(
    r"\b(coat|ct|topcoat|top coat|rubber|lap|layer|application|pass|fad|body|session|undercoat)(?:s|es)?\b"
)
#: Words for the same sequence of coats: polish goes on with fad and rubber, fadding before bodying up.
_ONE_COAT = {"ct": "coat", "fad": "rubber", "body": "rubber", "session": "rubber"}
_COUNT_UNITS = frozenset({"pcs", "lengths", "patches", "strips", "sheet", "set", "pair", "dozen"})
_LENGTHS = frozenset({"lengths", "strips"})
_CLOSE, _NEAR, _FAR = 40, 45, 90  # characters from amount to name: for a pack, in speech, in a note
_STOP, _OTHER_WAY, _INTO_WATER = (
    25,
    15,
    60,
)  # what a full stop, a name behind the amount, "in 1 L" add to them
_OF = re.compile(r"\s+of (?!(?:it|them|that|this|these|those|each|the)\b)(?:[\w'-]+\s*){1,3}")
#: `2 screws` counts screws and nothing else; `4x`, `2 off` and "3 lengths" count what stands beside.
_COUNTED_THING = re.compile(
    r"\b(?!x$|off$|pcs?$|pieces?$|lengths?$|patch(?:es)?$|strips?$|sheets?$|shts?$|pairs?$)[a-z]{3,}$",
    re.IGNORECASE,
)
_WATER = r"\s*(?:of )?(?:(?:warm|hot|cold|tap|boiling|rain) )?water\b"
_EACH = re.compile(r"\s*(?:of )?each\b", re.IGNORECASE)
_NEXT = 3
_UNCOATED = frozenset(
    {"hardware", "timber", "abrasive", "solvent", "glue", "filler", "stripper", "cleaner", "tool"}
)
_SAME = Decimal("0.05")


class Quantity(NamedTuple):
    """A value in a unit: the shelf's where it converts, else the maker's own."""

    value: Decimal
    unit: str

    def about(self, other: Quantity) -> bool:
        """Tell whether both say the same, give or take a twentieth."""
        return self.unit == other.unit and abs(self.value - other.value) <= _SAME * abs(other.value)


@dataclass(slots=True)
class Tally:
    """The amounts of one product, with the entry they belong to (None: no step), log and speech apart."""

    log: list[tuple[int | None, Quantity]] = field(default_factory=list)
    speech: list[tuple[int | None, Quantity]] = field(default_factory=list)
    implied: list[Quantity] = field(default_factory=list)


def tally(sources: Sequence[Source], shelf: Sequence[ShelfItem], *, imperial: bool) -> dict[int, Tally]:
    """Join every amount to the product it tells of. Gives the tallies by the shelf's index.

    `imperial` takes pints and gallons as the British ones.
    """
    joining = _Joining(shelf, imperial, _named_by_entry(sources))
    for source in sources:
        joining.read(source)
    return joining.tallies


def _named_by_entry(sources: Iterable[Source]) -> dict[int, set[int]]:
    """Give the products that log and speech of each step name as used."""
    named: dict[int, set[int]] = {}
    for source in sources:
        for place in source.places:
            if place.product is None or place.entry is None or place.mention.loose:
                continue
            if place.use == "used":
                named.setdefault(place.entry, set()).add(place.product)
    return named


@dataclass(slots=True)
class _Joining:
    """The state of the joining: tallies so far, the product of the last coat, each entry's amounts."""

    shelf: Sequence[ShelfItem]
    imperial: bool
    named: dict[int, set[int]]
    tallies: dict[int, Tally] = field(default_factory=dict)
    coat_of: dict[str, int] = field(default_factory=dict)
    logged: dict[int | None, list[Quantity]] = field(default_factory=dict)

    def read(self, source: Source) -> None:
        """Join the amounts and the bare counts of one source."""
        taken: set[int] = set()
        for index, amount in enumerate(source.amounts):
            entry = source.entry if source.in_log else source.entries[index]
            if source.in_log:
                self.logged.setdefault(entry, []).append(Quantity(amount.value, amount.unit))
            elif any(_tells_again(amount, known) for known in self.logged.get(entry, ())):
                continue  # the same amount in log and speech is one amount
            household = amount.unit in UNITS and UNITS[amount.unit].rough and not source.in_log
            for product, share in self._shares(amount, source, entry):
                if household and product in self.tallies and self.tallies[product].log:
                    continue  # a spoonful is the rough word for what was measured
                quantity = self._quantity(amount._replace(value=amount.value * share), product)
                self._note(product, entry, quantity, in_log=source.in_log)
                taken.add(product)
        for place in source.places:
            if place.product is not None and place.use == "used" and place.product not in taken:
                taken |= self._count(place, place.product)

    def _note(self, product: int, entry: int | None, quantity: Quantity, *, in_log: bool) -> None:
        kept = self.tallies.setdefault(product, Tally())
        (kept.log if in_log else kept.speech).append((entry, quantity))

    # --- whose amount --------------------------------------------------------------------------------

    def _product(self, amount: Amount, source: Source, entry: int | None) -> int | None:
        """Find the product an amount is of: named beside it, the coat's before, the only one of its step."""
        if _of_something_else(amount, source):
            return None
        inside = [p for p in source.places if p.mention.start < amount.end and amount.start < p.mention.end]
        if amount.unit in _COUNT_UNITS and (inside or _COUNTED_THING.search(amount.text)):
            return next((p.product for p in inside if p.product is not None and p.use == "used"), None)
        place = self._nearest(amount, source)
        coat = _coat_before(source, amount) if source.in_log and amount.unit not in _COUNT_UNITS else ""
        if place is not None and not (coat in self.coat_of and _weak(place, amount)):
            if coat and place.product is not None:
                self.coat_of[coat] = place.product
            return place.product
        if coat in self.coat_of:
            return self.coat_of[coat]
        alone = [i for i in self.named.get(entry, ()) if self._fits(amount, i)] if entry is not None else []
        return alone[0] if len(alone) == 1 and amount.unit not in {*_COUNT_UNITS, *PACKS, "coats"} else None

    def _shares(self, amount: Amount, source: Source, entry: int | None) -> list[tuple[int, Decimal]]:
        """Give the products an amount is of, each with its share: two for a mix (`1:1 oil + meths`)."""
        mix = next((a for a in source.amounts if a.unit == "mix"), None)
        if mix is not None and amount.unit in UNITS and UNITS[amount.unit].measure == "volume":
            behind = (p for p in source.places if p.mention.start > mix.start and p.use == "used")
            mixed = [p.product for p in behind if p.product is not None and self._fits(amount, p.product)]
            if mixed:
                return list(zip(mixed, (mix.value, 1 - mix.value), strict=False))
        if _EACH.match(source.text, amount.end):
            sentence = max(source.text.rfind(". ", 0, amount.start), 0)
            before = (
                p for p in source.places if sentence <= p.mention.start < amount.start and p.use == "used"
            )
            fitting = {p.product for p in before if p.product is not None and self._fits(amount, p.product)}
            return [(product, Decimal(1)) for product in sorted(fitting)]
        product = self._product(amount, source, entry)
        return [] if product is None else [(product, Decimal(1))]

    def _nearest(self, amount: Amount, source: Source) -> Place | None:
        """Give the used product named nearest; one bought by weight and told by volume only close by."""
        reach = _CLOSE if amount.unit in PACKS else _FAR if source.in_log else _NEAR
        for fits, within in ((self._fits, reach), (self._weighed, _CLOSE)):
            ranked = [
                (_distance(source, amount, place), order, place)
                for order, place in enumerate(source.places)
                if place.product is not None and place.use == "used" and fits(amount, place.product)
            ]
            distance, _, place = min(ranked, default=(within + 1, 0, None))
            if distance <= within:
                return place
        return None

    def _weighed(self, amount: Amount, product: int) -> bool:
        """Tell whether one of amount and pack is a volume and the other a mass: glue made up of pearls."""
        unit = unit_named(self.shelf[product].unit)
        return (
            unit is not None
            and amount.unit in UNITS
            and {UNITS[amount.unit].measure, UNITS[unit].measure} == {"volume", "mass"}
        )

    def _fits(self, amount: Amount, product: int) -> bool:
        """Tell whether an amount can be one of this product at all."""
        item = self.shelf[product]
        unit = unit_named(item.unit) or item.unit
        measure = UNITS[unit].measure if unit in UNITS else "count"
        if amount.unit in {"times", "mix"}:
            return False
        if amount.unit in PACKS:
            return item.pack is not None
        if amount.unit == "coats":
            return measure not in {"count", "length"} and item.kind.casefold() not in _UNCOATED
        if amount.unit in _COUNT_UNITS:  # pieces of a rod say nothing of its length
            return (
                amount.unit in _LENGTHS if measure == "length" else measure == "count" or _is_hardware(item)
            )
        if UNITS[amount.unit].rough and measure in {"volume", "mass"}:
            return True
        return convert(amount.value, amount.unit, unit, imperial=self.imperial) is not None

    def _quantity(self, amount: Amount, product: int) -> Quantity:
        """Put an amount into the shelf's unit, a pack by its size."""
        item = self.shelf[product]
        if amount.unit in PACKS:
            return Quantity(amount.value * (item.pack or 1), item.unit)
        if amount.unit in {unit_named(item.unit), COUNTED.get(item.unit.casefold().removesuffix("s"))}:
            return Quantity(amount.value, item.unit)  # `sht` on the shelf is a sheet, `no` a piece
        if amount.unit == "sheet" and unit_named(item.unit) == "pcs":
            return Quantity(amount.value, item.unit)  # what is bought by the sheet is counted so
        converted = convert(amount.value, amount.unit, item.unit, imperial=self.imperial)
        return Quantity(amount.value, amount.unit) if converted is None else Quantity(converted, item.unit)

    # --- bare counts ---------------------------------------------------------------------------------

    def _count(self, place: Place, product: int) -> set[int]:
        """Read a count beside a name without a unit; gives the product if one was read."""
        item = self.shelf[product]
        unit = unit_named(item.unit) or item.unit
        length = length_behind(place) if unit in UNITS and UNITS[unit].measure == "length" else None
        if length is not None and f"{length.value:f}" not in item.name:
            self._note(product, place.entry, self._quantity(length, product), in_log=place.in_log)
            return {product}
        by_piece = unit in {"pcs", "pair"}
        if not by_piece and not (_is_hardware(item) and unit in {"g", "kg"}):
            return set()
        if item.kind.casefold() == "abrasive" or (place.mention.loose and not place.in_log):
            return set()
        number = count_beside(place)
        if number is not None:
            value = number / 2 if unit == "pair" else number
            self._note(
                product, place.entry, Quantity(value, item.unit if by_piece else "pcs"), in_log=place.in_log
            )
            return {product}
        if by_piece and (unit == "pair" or implies_one(place)):
            self.tallies.setdefault(product, Tally()).implied.append(Quantity(Decimal(1), item.unit))
        return set()


def _is_hardware(item: ShelfItem) -> bool:
    return item.kind.casefold() in {"hardware", "timber", "fixings", "fittings"}


def _coat_before(source: Source, amount: Amount) -> str:
    """Give the word for a coat (in the singular) that stands shortly before an amount, the last one."""
    found = _COAT.findall(source.text[max(0, amount.start - _NEAR) : amount.start].casefold())
    return _ONE_COAT.get(found[-1], found[-1]) if found else ""


def _tells_again(amount: Amount, logged: Quantity) -> bool:
    """Tell whether speech gives what the step's entry gives: about the same, or a spoonful for it."""
    if Quantity(amount.value, amount.unit).about(logged):
        return True
    unit, other = UNITS.get(amount.unit), UNITS.get(logged.unit)
    return unit is not None and other is not None and unit.rough and unit.measure == other.measure


def _of_something_else(amount: Amount, source: Source) -> bool:
    """Tell "a pint of milk", "a mug of warm water", "into a litre": amounts of nothing on the shelf."""
    close = source.text[amount.end : amount.end + _OTHER_WAY]
    if "water" in close and re.match(_WATER, close):
        return True
    behind = _OF.match(source.text, amount.end)
    named = behind is not None and any(
        place.mention.options and behind.start() <= place.mention.start <= behind.end()
        for place in source.places
    )
    if named or any(0 <= place.mention.start - amount.end <= _NEXT for place in source.places):
        return False
    before = source.text[max(0, amount.start - 12) : amount.start].casefold()
    return behind is not None or re.search(r"\b(?:in|into|to|per) (?:about )?$", before) is not None


def _weak(place: Place, amount: Amount) -> bool:
    """Tell a name that only stands behind the amount (`last rubber 15 ml, spirited off`) or a mere deed."""
    return place.mention.deed or place.mention.start > amount.start


def _distance(source: Source, amount: Amount, place: Place) -> int:
    """Measure how far an amount is from a name, in characters; signs between count as more."""
    mention = place.mention
    if mention.end <= amount.start:
        between = source.text[mention.end : amount.start]
        return len(between) + _STOP * len(re.findall(r"[.;!?]\s", between))
    if mention.start >= amount.end:
        between = source.text[amount.end : mention.start]
        if re.fullmatch(r"\s*(?:(?:of|more)\s+(?:the\s+|that\s+)?)?(?:[\w/#-]+\s+){0,2}", between):
            return 0
        return len(between) + _OTHER_WAY + 2 * _STOP * len(re.findall(r"[.,;!?+]\s", between))
    return 0


# --- the sum -----------------------------------------------------------------------------------------


def total(kept: Tally, item: ShelfItem) -> Quantity | None:
    """Add up what a product's tally holds; None where nothing was measured.

    What the log says of a step stands; speech fills in steps whose entry gives no amount, and stands alone
    where the log gives none at all. The same amount in log and speech is one amount, and a piece of timber
    that was worked on in several steps counts once.
    """
    amounts = [quantity for _, quantity in kept.log]
    logged = {entry for entry, _ in kept.log}
    for entry, quantity in _once(kept.speech):
        new = entry not in logged and not any(quantity.about(known) for known in amounts)
        if new and (not logged or (entry is not None and quantity.unit == amounts[0].unit)):
            amounts.append(quantity)
    if not amounts:
        return kept.implied[0] if kept.implied else None
    measured = [quantity for quantity in amounts if quantity.unit != "coats"] or amounts
    unit = item.unit if any(q.unit == item.unit for q in measured) else measured[0].unit
    values = [quantity.value for quantity in measured if quantity.unit == unit]
    once = item.kind.casefold() == "timber" and (unit_named(unit) or unit) not in {"m", "ft"}
    return Quantity(max(values) if once else sum(values, Decimal(0)), unit)


def _once(told: list[tuple[int | None, Quantity]]) -> list[tuple[int | None, Quantity]]:
    """Keep the first amount that speech gives for each step; outside the steps, each amount once."""
    seen: set[int] = set()
    kept: list[tuple[int | None, Quantity]] = []
    for entry, quantity in told:
        if entry in seen or (entry is None and any(quantity.about(known) for _, known in kept)):
            continue
        kept.append((entry, quantity))
        if entry is not None:
            seen.add(entry)
    return kept
