"""The programme's frame rate, and whether its timecode is drop-frame."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction

from reelnotes.read.cut_list import chosen_rate, start_frame
from reelnotes.read.edl import parse_edl
from reelnotes.read.frame_rates import drops, known_rate
from reelnotes.read.numbered import NumberedLines
from reelnotes.store import SourceText

#: An OpenTimelineIO time of rate 1 counts seconds, not frames.
_SECONDS = 1


def programme_rate(cuts: SourceText | None, given: Fraction | None) -> tuple[Fraction | None, bool]:
    """Give the programme's frames a second, None where neither file nor maker says, and if labels drop.

    An OpenTimelineIO timeline carries its rate; a CMX 3600 list lets it be worked out, unless it is given.
    Labels drop where the list says so, and without a list wherever drop-frame exists (SMPTE ST 12-1: at
    30000/1001 and 60000/1001), because such labels keep to the clock.
    """
    if cuts is None:
        rate = known_rate(given) if given else None
        return rate, bool(rate and drops(rate))
    if cuts.name.casefold().endswith(".otio") or cuts.text.lstrip().startswith("{"):
        rate = _timeline_rate(cuts.text) or (known_rate(given) if given else None)
        return rate, bool(rate and drops(rate))
    numbered = NumberedLines.of(cuts)
    edl = parse_edl(numbered)
    if not edl.events:
        return programme_rate(None, given)
    rate, _ = chosen_rate(edl, given, numbered)
    says_so = any(event.drop or ";" in "".join(event.labels) for event in edl.events)
    return rate, says_so and drops(rate)


def programme_start(cuts: SourceText | None, given: Fraction | None) -> int | None:
    """Give the number of the programme's first frame in a CMX 3600 list; None where no such list tells it."""
    if cuts is None or cuts.name.casefold().endswith(".otio") or cuts.text.lstrip().startswith("{"):
        return None
    numbered = NumberedLines.of(cuts)
    edl = parse_edl(numbered)
    if not edl.events:
        return None
    rate, _ = chosen_rate(edl, given, numbered)
    return start_frame(edl, rate, numbered)


def _timeline_rate(text: str) -> Fraction | None:
    """Find the rate at which most times of a timeline count."""
    try:
        found = Counter(_rates(json.loads(text)))
    except (ValueError, RecursionError):
        return None
    best = max(found, key=lambda rate: found[rate], default=None)
    return known_rate(Fraction(str(best))) if best else None


def _rates(item: object) -> Iterator[float]:
    if isinstance(item, list):
        for part in item:
            yield from _rates(part)
    elif isinstance(item, dict):
        rate = item.get("rate")
        if str(item.get("OTIO_SCHEMA")).startswith("RationalTime") and isinstance(rate, int | float):
            if rate > _SECONDS:
                yield rate
            return
        for name, part in item.items():
            if name != "metadata":
                yield from _rates(part)
