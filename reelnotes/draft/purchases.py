"""Prices noted in the log: what was bought, for how much, and whether it counts against the budget."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from reelnotes.draft.found import Source
from reelnotes.draft.signs import Signs, plain
from reelnotes.model import OutlayKind, Purchase
from reelnotes.words.prices import Price, find_prices

#: What an outlay is by the words beside the price; the first that fits. Common practice, no source.
_OUTLAYS: tuple[tuple[OutlayKind, Signs], ...] = (
    (
        "food",
        Signs(
            """
            (lunch|dinner|breakfast|sandwich|sandwiches|chips|chippy|coffee|tea)
            (cakes?|pies?|pasty|beers?|pizza|snacks?|soup)
            """
        ),
    ),
    ("travel", Signs("(van|petrol|fuel|diesel|parking|postage|delivery|toll|bus|train|taxi|hire)")),
    ("help", Signs("(lads?|helpers?|help|mate|labour|lifting|neighbour)")),
    (
        "tool",
        Signs(
            """
            ((drill|router) bits?|blades?|saw|drill|sander|router|plane|chisels?|clamps?|cramps?|heat gun)
            (screwdrivers?|jig|spanners?|mallet|square|tape measure|knife|scraper|goggles|respirator|mask)
            """
        ),
    ),
)
_EARNED = Signs("(quoted|quote|sold|deposit|invoiced?|owes?)")
_SUM = Signs("(added up|adds up|adding up|total|totals|in all|altogether|so far|sum|left over|left in)")
_GIVEN_AWAY = Signs("(paid|pays|collected|took|taken|delivered|picked up|went to|customer|cust)")
_FETCHED = Signs("(fetched|collected|got|bought|picked up|off|from|sale|auction|in)")
_SHOP = re.compile(r"(?:to )?(?:the )?(?:\w+ )?(?:shop|yard|store|merchants?|diy)\b")
_CUTS = re.compile(r"[,;+&]\s*|[.!?]+(?:\s+|$)|\s-\s|\s\band\b\s")
_LEADS = re.compile(
    r"^(?:(?:to|at|the|from|shop|shops|yard|store|town|merchants?|bought|got|new|for|some|a|an|"
    r"about|abt|cost|costs?|of|x)\b\W*|\d+(?:\.\d+)?\s*(?:x\s*)?(?=[^\W\d]))+",
    re.IGNORECASE,
)
_TAILS = re.compile(
    r"(?:\W|\b(?:at|for|cost|was|were|is|pr|pair|each|ea|cash|only|about|abt|paid|@)\b)+$", re.IGNORECASE
)
_LAST_PART = 0.8  # of the log: there a piece that is collected was sold, not fetched
_NAME_CHARS = 40
_WORD = re.compile(r"[^\W\d]{3,}")


def find_purchases(sources: Sequence[Source]) -> tuple[Purchase, ...]:
    """Read the prices of the log in order, each with the words it stands beside; sums are left out.

    The first price beside which no product of the shelf stands, in the entry that tells how the piece came,
    is that of the piece.
    """
    logged = [source for source in sources if source.in_log]
    found: list[Purchase] = []
    for number, source in enumerate(logged):
        late, note = number > _LAST_PART * len(logged), plain(source.text)
        for price, low, high in _priced(source):
            beside = plain(source.text[low:high])
            if _SUM.search(beside):
                continue
            kind = _outlay(beside, note, late=late)
            first = not any(purchase.kind == "piece" for purchase in found)
            if kind == "material" and first and number <= 1 and not _stocked(source, low, high):
                kind = "piece" if _FETCHED.search(note) and not _SHOP.match(note) else kind
            found.append(Purchase(_name(source.text, price, low, high), price.value, source.entry or 0, kind))
    return tuple(found)


def priced_products(sources: Sequence[Source]) -> dict[int, Price]:
    """Give the prices that the log notes beside products of the shelf, by the shelf's index, the last one."""
    return {
        product: price
        for source in sources
        if source.in_log
        for price, low, high in _priced(source)
        for product in _stocked(source, low, high)
    }


def _stocked(source: Source, low: int, high: int) -> list[int]:
    places = (place for place in source.places if low <= place.mention.start < high)
    return [place.product for place in places if place.product is not None]


def _priced(source: Source) -> Iterator[tuple[Price, int, int]]:
    """Give each price with the part of the note it belongs to.

    A bare price belongs to the part before it, and the only price of a note to the only product named there.
    """
    prices = find_prices(source.text)
    bounds = [0, *(match.end() for match in _CUTS.finditer(source.text)), len(source.text)]
    for price in prices:
        part = max(i for i, start in enumerate(bounds[:-1]) if start <= price.start)
        low, high = bounds[part], bounds[part + 1]
        if len(prices) == 1 and len(set(_stocked(source, 0, len(source.text)))) == 1:
            low, high = 0, len(source.text)
        rest = source.text[low : price.start] + source.text[price.end : high]
        while part and low and not _WORD.search(_TAILS.sub("", rest)):
            part -= 1
            low = bounds[part]
            rest = source.text[low : price.start]
        yield price, low, high


def _name(text: str, price: Price, low: int, high: int) -> str:
    words = " ".join(f"{text[low : price.start]} {text[price.end : high]}".split())
    name = _TAILS.sub("", _LEADS.sub("", words)).strip(" ,.;:!?()+")
    return name if len(name) <= _NAME_CHARS else name[: _NAME_CHARS + 1].rsplit(" ", 1)[0]


def _outlay(beside: str, note: str, *, late: bool) -> OutlayKind:
    if _EARNED.search(note) or (late and _GIVEN_AWAY.search(note)):
        return "earned"
    return next((kind for kind, signs in _OUTLAYS if signs.search(beside)), "material")
