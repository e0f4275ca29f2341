"""The materials of an episode: what was used, how much, at what cost; what was only spoken of."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from reelnotes.draft.found import Place, Source, read_log, read_speech, settle
from reelnotes.draft.quantities import Quantity, tally, total
from reelnotes.model import Cue, Entry, Material, ShelfItem, Spending, SpokenOnly, Step
from reelnotes.problems import Problem
from reelnotes.words.lexicon import Lexicon
from reelnotes.words.products import shelf_names
from reelnotes.words.units import convert

_CENT = Decimal("0.01")
_STERLING = frozenset({"GBP", "£"})


def draft_materials(  # noqa: PLR0917 - the facts of an episode, in the order of the path
    entries: Sequence[Entry],
    steps: Sequence[Step],
    cues: Sequence[Cue],
    shelf: Sequence[ShelfItem],
    lexicon: Lexicon,
    currency: str,
    budget: Decimal | None,
) -> tuple[Spending, list[Problem]]:
    """Draft the list of materials from the log and the speech.

    A product counts as used where the log notes it (but for what was only bought, taken off, or not used), or
    where speech tells of its use. Amounts are those of the episode, coats added up, in the shelf's unit where
    they convert exactly. The cost is the part of the pack that was used, rounded half up to a hundredth.
    """
    names = shelf_names(shelf)
    sources = settle(
        [*read_log(entries, names, shelf, lexicon), *read_speech(cues, steps, names, lexicon)], names
    )
    tallies = tally(sources, shelf, imperial=currency in _STERLING)
    places = _by_product(sources)
    materials, spoken, problems = [], [], []
    for index, item in enumerate(shelf):
        mentioned = places.get(index, [])
        if _is_used(mentioned, has_log=bool(entries)):
            quantity = total(tallies[index], item) if index in tallies else None
            material, more = _material(item, quantity, mentioned, currency)
            materials.append(material)
            problems += more
        elif (said := _said_at(mentioned, exact=True)) is not None:
            spoken.append(SpokenOnly(item.name, said))
    costs = [material.cost for material in materials if material.cost is not None]
    spending = Spending(
        materials=tuple(materials),
        spoken_only=tuple(spoken),
        total=sum(costs, Decimal(0)) if costs else None,
        budget=budget,
        unlisted=_unlisted(sources),
    )
    return spending, problems


def _by_product(sources: Sequence[Source]) -> dict[int, list[Place]]:
    places: dict[int, list[Place]] = {}
    for source in sources:
        for place in source.places:
            if place.product is not None:
                places.setdefault(place.product, []).append(place)
    return places


def _is_used(places: Sequence[Place], *, has_log: bool) -> bool:
    """Decide whether a product was used, from all the places that name it.

    A note that names it as used is enough, and so is an exact name in the telling of a step. A word of
    everyday talk has to come twice, and not be taken back as often.
    """
    if any(place.in_log and place.use == "used" for place in places):
        return True
    told = [p for p in places if not p.in_log and p.use == "used" and (p.entry is not None or not has_log)]
    if any(place.mention.exact for place in told):
        return True
    taken_back = sum(place.use == "spoken" for place in places)
    return len({place.said_at_ms for place in told}) > max(1, taken_back)


def _said_at(places: Sequence[Place], *, exact: bool = False) -> int | None:
    times = [
        place.said_at_ms
        for place in places
        if place.said_at_ms is not None and (place.mention.exact or not exact)
    ]
    return min(times, default=None)


def _material(
    item: ShelfItem, quantity: Quantity | None, places: Sequence[Place], currency: str
) -> tuple[Material, list[Problem]]:
    problems = []
    cost = None
    if item.price is None:
        message = f"{item.name} was used, but the shelf gives no price; add one to know the cost"
        problems.append(Problem("price-missing", message, "shelf.csv", item.line or None))
    elif quantity is not None:
        cost = part_cost(item, quantity)
        if cost is None:
            message = (
                f"{quantity.value:f} {quantity.unit} of {item.name}: the shelf counts it in "
                f"{item.unit or 'no unit'}, so no cost was worked out"
            )
            problems.append(
                Problem("amount-unclear", message, "shelf.csv", item.line or None, severity="note")
            )
    used = [place for place in places if place.use == "used"]
    return (
        Material(
            name=item.name,
            amount=quantity.value.normalize() + 0 if quantity else None,
            unit=quantity.unit if quantity else None,
            cost=cost,
            currency=currency,
            kind=item.kind,
            said_at_ms=_said_at(used),
            entries=tuple(
                sorted({place.entry for place in used if place.in_log and place.entry is not None})
            ),
            given=bool(item.given),
        ),
        problems,
    )


def part_cost(item: ShelfItem, quantity: Quantity) -> Decimal | None:
    """Give the cost of the part of a pack, half a hundredth rounded up; None without a common measure."""
    if item.price is None or not item.pack:
        return None
    amount = convert(quantity.value, quantity.unit, item.unit)
    if amount is None:
        return None
    return (item.price * amount / item.pack).quantize(_CENT, ROUND_HALF_UP)


def _unlisted(sources: Sequence[Source]) -> tuple[str, ...]:
    """Name the kinds that were used and stand on no shelf."""
    found: dict[str, None] = {}
    for source in sources:
        for place in source.places:
            mention = place.mention
            if (
                not mention.options
                and place.use == "used"
                and not mention.loose
                and not mention.deed
                and mention.kind
            ):
                found[mention.kind] = None
    return tuple(found)
