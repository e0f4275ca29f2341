"""Where each product of the shelf is named in log and speech, how it is meant, and with what amount."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Sequence
from typing import NamedTuple

from reelnotes.draft.reckoning import reckoned
from reelnotes.draft.signs import plain
from reelnotes.draft.speech import passages
from reelnotes.draft.usage import Use, note_use, speech_use
from reelnotes.model import Cue, Entry, ShelfItem, Step
from reelnotes.words.amounts import Amount, find_amounts
from reelnotes.words.lexicon import Lexicon
from reelnotes.words.numbers import pieces_of
from reelnotes.words.products import Mention, ShelfNames
from reelnotes.words.units import UNITS, unit_named

_MARGIN_MS = 3000
_BESIDE = 20  # characters between a name and an amount of it
_OVERLAPPING = 12  # spans that may run at one time


class Place(NamedTuple):
    """A mention with its place: in an entry of the log, or in speech at `said_at_ms` within the step `entry`.

    `product` is the shelf's index, None where it is not plain which product (or none) is meant.
    """

    mention: Mention
    use: Use
    product: int | None
    entry: int | None
    said_at_ms: int | None
    text: str

    @property
    def in_log(self) -> bool:
        """Tell a place in the log from one in speech."""
        return self.said_at_ms is None


class Source(NamedTuple):
    """A text that amounts are read from: the entry `entry`, or a passage of speech.

    For speech, `entries` gives the step told at each amount (None: none).
    """

    text: str
    places: tuple[Place, ...]
    amounts: tuple[Amount, ...]
    entry: int | None = None
    entries: tuple[int | None, ...] = ()
    in_log: bool = False


def read_log(
    entries: Sequence[Entry], names: ShelfNames, shelf: Sequence[ShelfItem], lexicon: Lexicon
) -> list[Source]:
    """Read every entry: its text written out, its mentions with how they are meant, its amounts."""
    sources = []
    for entry in entries:
        text = lexicon.expand(lexicon.repair(entry.text))
        pieces, note, places = pieces_of(text), plain(text), []
        amounts = reckoned(text, find_amounts(text, pieces))
        for mention in names.find(text, pieces, log=True):
            product = mention.options[0] if len(mention.options) == 1 else None
            hardware = _is_hardware(mention, shelf)
            use = note_use(note, mention, hardware=hardware)
            places.append(Place(mention, use, product, entry.index, None, text))
        sources.append(Source(text, tuple(places), tuple(amounts), entry.index, in_log=True))
    return sources


def _is_hardware(mention: Mention, shelf: Sequence[ShelfItem]) -> bool:
    kinds = {shelf[i].kind.casefold() for i in mention.options}
    return bool(kinds & {"hardware", "timber", "fixings", "fixing", "fittings"}) or not kinds


def read_speech(
    cues: Sequence[Cue], steps: Sequence[Step], names: ShelfNames, lexicon: Lexicon
) -> list[Source]:
    """Read the transcript passage by passage: mentions, how they are meant, the step told there."""
    sources, told = [], Told(steps)
    for passage in passages(cues, lexicon):
        pieces, said, places = pieces_of(passage.text), plain(passage.text), []
        amounts = reckoned(passage.text, find_amounts(passage.text, pieces))
        for mention in names.find(passage.text, pieces):
            cue = cues[passage.cue_at(mention.start)]
            product = mention.options[0] if len(mention.options) == 1 else None
            use = speech_use(said, mention)
            places.append(Place(mention, use, product, told.entry(cue), cue.start_ms, passage.text))
        owners = tuple(told.entry(cues[passage.cue_at(amount.start)]) for amount in amounts)
        sources.append(Source(passage.text, tuple(places), tuple(amounts), None, owners))
    return sources


class Told:
    """Which step is told when."""

    def __init__(self, steps: Sequence[Step]) -> None:
        self.spans = sorted((span.start_ms, span.end_ms, step.entry) for step in steps for span in step.spans)

    def entry(self, cue: Cue) -> int | None:
        """Give the entry of the step that a cue tells: whose span, give or take 3 s, shares most with it."""
        last = bisect_left(self.spans, (cue.end_ms + _MARGIN_MS,))
        shared = [
            (min(end, cue.end_ms) - max(start, cue.start_ms), -start, entry)
            for start, end, entry in self.spans[max(0, last - _OVERLAPPING) : last]
        ]
        most, _, entry = max(shared, default=(-_MARGIN_MS, 0, -1))
        return entry if most > -_MARGIN_MS else None


# --- which of several ------------------------------------------------------------------------------


def settle(sources: list[Source], names: ShelfNames, shelf: Sequence[ShelfItem]) -> list[Source]:
    """Settle general names ("the oil", "glued") by what stands near: the same step's exact name first.

    Then by words that tell what a kind is for (a drop of oil on a hinge), by the unit of an amount beside it
    (25 ml are of the solution, not of the flakes), then by the only product of the kind that this episode
    uses anyway.
    """
    by_entry: dict[int, set[int]] = {}
    unstocked: dict[int, set[str]] = {}
    used: set[int] = set()
    for place in (place for source in sources for place in source.places):
        if place.use != "used" or place.mention.loose:
            continue
        if place.product is not None and place.mention.exact:
            used.add(place.product)
            if place.entry is not None:
                by_entry.setdefault(place.entry, set()).add(place.product)
        elif not place.mention.options and place.entry is not None:
            unstocked.setdefault(place.entry, set()).add(place.mention.kind)
    settled = []
    for source in sources:
        places = []
        for place in source.places:
            told = unstocked.get(place.entry, set()) if place.entry is not None else set()
            if not place.mention.exact and any(names.goods.within(kind, place.mention.kind) for kind in told):
                places.append(place._replace(product=None))  # the step names another one, not on the shelf
            elif place.product is None and place.mention.options:
                measured = _measured(place, source.amounts, shelf)
                places.append(_settled(place, by_entry, used, measured, names))
            else:
                places.append(place)
        settled.append(source._replace(places=tuple(places)))
    return settled


def _measured(place: Place, amounts: Sequence[Amount], shelf: Sequence[ShelfItem]) -> set[int]:
    """Give the products meant that are sold by the measure of an amount close behind or before the name."""
    mention = place.mention
    near = {
        UNITS[amount.unit].measure
        for amount in amounts
        if amount.unit in UNITS
        and (0 <= amount.start - mention.end <= _BESIDE or 0 <= mention.start - amount.end <= _BESIDE)
    }
    units = {i: unit_named(shelf[i].unit) for i in mention.options}
    return {i for i, unit in units.items() if unit in UNITS and UNITS[unit].measure in near}


def _settled(
    place: Place, by_entry: dict[int, set[int]], used: set[int], measured: set[int], names: ShelfNames
) -> Place:
    options = set(place.mention.options)
    suited = {i for i in options if _suits(place, i, names)}
    same_step = options & by_entry.get(place.entry, set()) if place.entry is not None else set()
    unsuited = {i for i in options if not suited and _has_uses(i, names)}
    for choice in (same_step, suited, measured, options & used, options - unsuited):
        if len(choice) == 1:
            return place._replace(product=next(iter(choice)))
    return place


def _suits(place: Place, product: int, names: ShelfNames) -> bool:
    start = max(0, place.mention.start - 90)
    near = set(re.findall(r"[a-z]+", place.text[start : place.mention.end + 60].casefold()))
    near |= {word.removesuffix("s") for word in near}
    known = names.products[product]
    wanted = {word for kind in known.kinds for word in names.goods.uses.get(kind, ())}
    return bool(near & wanted) or bool(near & known.notes)


def _has_uses(product: int, names: ShelfNames) -> bool:
    return any(kind == "machine oil" for kind in names.products[product].kinds)
