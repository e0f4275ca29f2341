"""The chapters of a new version: they move, open at the joint, or join the one beside them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from reelnotes.corrections.changes import Fate
from reelnotes.corrections.retime import Gone, TimeMap
from reelnotes.corrections.retiming import opening
from reelnotes.model import Chapter
from reelnotes.records import frozen
from reelnotes.settings import HostLimits
from reelnotes.timing import MS_PER_SECOND, Span


@frozen
class _Left:
    """A chapter with what is left of it: its new start, and the time of its own in both versions."""

    chapter: Chapter
    start_ms: int
    was_ms: int
    left_ms: int


def retime_chapters(
    chapters: Sequence[Chapter], duration_ms: int, to: TimeMap, limits: HostLimits
) -> tuple[tuple[Chapter, ...], tuple[tuple[Chapter, Fate], ...]]:
    """Give the chapters of the new version, and those of the old one that fared otherwise than to move.

    A chapter of which nothing is left goes. One whose start was cut opens at the joint. One of which the cut
    left less than the host's shortest chapter joins the one before it; where that is the first one, the two
    take the title of the longer. The first chapter opens with the programme if it did so before.
    `duration_ms` is the length of the old version.
    """
    ordered = sorted(chapters, key=lambda chapter: chapter.start_ms)
    held: list[_Left] = []
    fates: list[tuple[Chapter, Fate]] = []
    for chapter, end in _with_ends(ordered, duration_ms):
        span = Span(chapter.start_ms, end)
        left = to.over(span)
        if left is None:
            fates.append((chapter, "went"))
            continue
        if isinstance(to.point(chapter.start_ms), Gone):
            fates.append((chapter, "opens at the joint"))
        first = not held and ordered[0].start_ms == 0
        start = 0 if first else opening(chapter.start_ms, to)
        held.append(_Left(chapter, start, span.length_ms, left.length_ms))
    kept, joined = _joined(held, to.nearest(duration_ms), limits.chapter_min_s * MS_PER_SECOND)
    fates = [fate for fate in fates if fate[0] not in joined]
    fates += [(chapter, "joined to its neighbour") for chapter in joined]
    fates.sort(key=lambda fate: fate[0].start_ms)
    return tuple(replace(left.chapter, start_ms=left.start_ms) for left in kept), tuple(fates)


def _with_ends(ordered: Sequence[Chapter], duration_ms: int) -> list[tuple[Chapter, int]]:
    ends = [chapter.start_ms for chapter in ordered[1:]] + [duration_ms]
    return [(c, max(end, c.start_ms + 1)) for c, end in zip(ordered, ends, strict=True)] if ordered else []


def _joined(held: list[_Left], duration_ms: int, shortest_ms: int) -> tuple[list[_Left], list[Chapter]]:
    """Join chapters that the cut made too short, the shortest first, until none is."""
    kept, gone = list(held), []
    while len(kept) > 1:
        ends = [left.start_ms for left in kept[1:]] + [duration_ms]
        short = [
            (end - left.start_ms, n)
            for n, (left, end) in enumerate(zip(kept, ends, strict=True))
            if end - left.start_ms < shortest_ms and left.left_ms != left.was_ms
        ]
        if not short:
            break
        _, n = min(short)
        before = max(n - 1, 0)
        one, other = kept[before], kept[before + 1]
        staying, going = (other, one) if n == 0 and other.left_ms > one.left_ms else (one, other)
        gone.append(going.chapter)
        both = replace(
            staying,
            start_ms=one.start_ms,
            was_ms=one.was_ms + other.was_ms,
            left_ms=one.left_ms + other.left_ms,
        )
        kept[before : before + 2] = [both]
    return kept, gone
