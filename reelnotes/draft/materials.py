"""The materials of an episode: what was used, how much, at what cost; what was only spoken of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal

from reelnotes.draft.counts import count_beside
from reelnotes.draft.found import Place, Source, read_log, read_speech, settle
from reelnotes.draft.purchases import find_purchases, priced_products
from reelnotes.draft.quantities import Quantity, tally, total
from reelnotes.draft.signs import Signs, plain
from reelnotes.model import Cue, Entry, Material, Purchase, ShelfItem, Spending, SpokenOnly, Step
from reelnotes.problems import Problem
from reelnotes.words.goods import Goods
from reelnotes.words.lexicon import Lexicon
from reelnotes.words.products import shelf_names
from reelnotes.words.units import convert

_FRESH = Signs(
    """
    (new|fresh|some|another)( [a-z]+)?
    (bit|piece|lengths?|yards?|metres?|sheets?|couple|pair|strips?|box|bag) of( [a-z]+)?
    (dab|drop|spot|touch) of( [a-z]+)?
    """,
    at_end=True,
)
_FRESH_CHARS = 30
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
    read = [*read_log(entries, names, shelf, lexicon), *read_speech(cues, steps, names, lexicon)]
    sources = settle(read, names, shelf)
    tallies = tally(sources, shelf, imperial=currency in _STERLING)
    places = _by_product(sources)
    bought = find_purchases(sources)
    noted = priced_products(sources)
    materials, spoken, problems = [], [], []
    for index, item in enumerate(shelf):
        mentioned = places.get(index, [])
        if _is_used(mentioned, has_log=bool(entries)):
            if item.price is None and index in noted:  # what the log says it cost is the price of a pack
                item = replace(item, price=noted[index].value)  # noqa: PLW2901
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
        unlisted=_unlisted(sources, names.goods, bought, has_log=bool(entries)),
        bought=bought,
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

    A note that names it as used is enough, and so is an exact name in the telling of a step, or one with a
    sign of something fresh ("eight new dowels"). Else it has to come twice, and not be taken back as often.
    """
    if any(place.in_log and place.use == "used" for place in places):
        return True
    told = [p for p in places if not p.in_log and p.use == "used" and (p.entry is not None or not has_log)]
    if any(place.mention.exact or (not place.mention.loose and _is_fresh(place)) for place in told):
        return True
    taken_back = sum(place.use == "spoken" for place in places)
    return len({place.said_at_ms for place in told}) > max(1, taken_back)


def _is_fresh(place: Place) -> bool:
    before = plain(place.text[max(0, place.mention.start - _FRESH_CHARS) : place.mention.start])
    return _FRESH.search(before.rstrip()) is not None or count_beside(place) is not None


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


def _unlisted(
    sources: Sequence[Source], goods: Goods, bought: Sequence[Purchase], *, has_log: bool
) -> tuple[str, ...]:
    """Name what was bought or used and stands on no shelf.

    Parts of the piece and everyday words do not count.
    """
    places = [place for source in sources for place in source.places]
    stocked = {
        (place.entry, place.mention.text) for place in places if place.mention.options and place.in_log
    }
    found: dict[str, None] = {}
    for purchase in bought:
        known = any(entry == purchase.entry and words in purchase.name for entry, words in stocked)
        if purchase.kind == "material" and purchase.name and not known:
            found[purchase.name] = None
    for place in places:
        mention = place.mention
        told = place.use == "used" and (place.in_log or place.entry is not None or not has_log)
        common = mention.options or mention.loose or mention.deed or mention.kind in goods.parts
        if told and mention.kind and not common:
            found[mention.kind] = None
    return tuple(found)
