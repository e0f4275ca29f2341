"""Where each product of the shelf is named in log and speech, how it is meant, and with what amount."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from reelnotes.draft.speech import passages
from reelnotes.draft.usage import Use, log_use, speech_use
from reelnotes.model import Cue, Entry, ShelfItem, Step
from reelnotes.words.amounts import Amount, find_amounts
from reelnotes.words.lexicon import Lexicon
from reelnotes.words.products import Mention, ShelfNames

_MARGIN_MS = 3000


@dataclass(frozen=True, slots=True)
class Place:
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


@dataclass(frozen=True, slots=True)
class Source:
    """A text that amounts are read from: an entry, or a passage of speech."""

    text: str
    places: tuple[Place, ...]
    amounts: tuple[Amount, ...]
    entry: int | None = None
    times_ms: tuple[int, ...] = ()
    entries: tuple[int | None, ...] = ()


def read_log(
    entries: Sequence[Entry], names: ShelfNames, shelf: Sequence[ShelfItem], lexicon: Lexicon
) -> list[Source]:
    """Read every entry: its text written out, its mentions with how they are meant, its amounts."""
    sources = []
    for entry in entries:
        text = lexicon.expand(lexicon.repair(entry.text))
        places = []
        for mention in names.find(text, log=True):
            product = mention.options[0] if len(mention.options) == 1 else None
            hardware = _is_hardware(mention, shelf)
            use = log_use(text, mention, hardware=hardware)
            places.append(Place(mention, use, product, entry.index, None, text))
        sources.append(Source(text, tuple(places), tuple(find_amounts(text)), entry.index))
    return sources


def _is_hardware(mention: Mention, shelf: Sequence[ShelfItem]) -> bool:
    kinds = {shelf[i].kind.casefold() for i in mention.options}
    return bool(kinds & {"hardware", "timber", "fixings", "fixing", "fittings"}) or not kinds


def read_speech(
    cues: Sequence[Cue], steps: Sequence[Step], names: ShelfNames, lexicon: Lexicon
) -> list[Source]:
    """Read the transcript passage by passage: mentions, how they are meant, the step told there."""
    sources = []
    for passage in passages(cues, lexicon):
        amounts = find_amounts(passage.text)
        places = []
        for mention in names.find(passage.text):
            at_ms = cues[passage.cue_at(mention.start)].start_ms
            product = mention.options[0] if len(mention.options) == 1 else None
            use = speech_use(passage.text, mention)
            places.append(Place(mention, use, product, entry_at(steps, at_ms), at_ms, passage.text))
        times = tuple(cues[passage.cue_at(a.start)].start_ms for a in amounts)
        told = tuple(entry_at(steps, at_ms) for at_ms in times)
        sources.append(Source(passage.text, tuple(places), tuple(amounts), None, times, told))
    return sources


def entry_at(steps: Sequence[Step], at_ms: int) -> int | None:
    """Give the entry of the step told at a time; where several are, the one that started last."""
    best: tuple[int, int] | None = None
    for step in steps:
        for span in step.spans:
            if span.start_ms - _MARGIN_MS <= at_ms < span.end_ms + _MARGIN_MS:
                inside = span.start_ms if span.start_ms <= at_ms < span.end_ms else -1
                if best is None or inside > best[0]:
                    best = (inside, step.entry)
    return best[1] if best else None


# --- which of several ------------------------------------------------------------------------------


def settle(sources: list[Source], names: ShelfNames) -> list[Source]:
    """Settle general names ("the oil", "glued") by what stands near: the same step's exact name first.

    Then by words that tell what a kind is for (a drop of oil on a hinge), then by the only product of the
    kind that this episode uses anyway.
    """
    by_entry: dict[int, set[int]] = {}
    used: set[int] = set()
    for source in sources:
        for place in source.places:
            if place.product is not None and place.use == "used" and not place.mention.loose:
                used.add(place.product)
                if place.entry is not None:
                    by_entry.setdefault(place.entry, set()).add(place.product)
    settled = []
    for source in sources:
        places = tuple(
            place
            if place.product is not None or not place.mention.options
            else _settled(place, by_entry, used, names)
            for place in source.places
        )
        settled.append(replace(source, places=places))
    return settled


def _settled(place: Place, by_entry: dict[int, set[int]], used: set[int], names: ShelfNames) -> Place:
    options = set(place.mention.options)
    suited = {i for i in options if _suits(place, i, names)}
    same_step = options & by_entry.get(place.entry, set()) if place.entry is not None else set()
    unsuited = {i for i in options if not suited and _has_uses(i, names)}
    for choice in (same_step, suited, options & used, options - unsuited):
        if len(choice) == 1:
            return replace(place, product=next(iter(choice)))
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
