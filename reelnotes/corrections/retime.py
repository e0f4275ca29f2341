"""The map from the times of one version of an episode to those of another.

A version is made by walking through the programme: a stretch of it is taken, or cut, or a frame is held. The
order of these stretches is the map. It never goes back, what was taken keeps its length, and all is counted
in whole numbers, so that nothing is lost to rounding.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator
from dataclasses import field
from fractions import Fraction
from itertools import groupby, pairwise
from typing import Literal

from reelnotes.model import HeldFrame
from reelnotes.records import frozen
from reelnotes.timing import Span, frames_to_ms, ms_to_frames

Kind = Literal["taken", "cut", "held"]
_TURNED: dict[Kind, Kind] = {"taken": "taken", "cut": "held", "held": "cut"}
_ENDLESS = 1 << 60


@frozen
class Stretch:
    """A stretch of a map: so much of the earlier version is taken or cut, or so long a frame is held."""

    kind: Kind
    length: int


@frozen
class Gone:
    """What becomes of a time that was cut; `joint_ms` is where in the later version the cut was made."""

    joint_ms: int


@frozen
class _Part:
    """A stretch of the earlier version with its place in both; one that was cut is a point in the later."""

    before: int
    after: int
    length: int
    taken: bool


@frozen
class TimeMap:
    """A map of times: the walk through the earlier version (before) that gives the later one (after).

    Counts are milliseconds, or frames where a map says so (`in_frames`). Neighbours of one kind are joined,
    and stretches without length left out, so that two maps that do the same in the same order are equal.
    What lies behind the known end moves with the end.
    """

    stretches: tuple[Stretch, ...]
    _parts: tuple[_Part, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Join neighbours and lay out where each stretch begins. Raises `ValueError` for a length below 0."""
        if any(stretch.length < 0 for stretch in self.stretches):
            raise ValueError(f"no map: {self.stretches}")
        lasting = [stretch for stretch in self.stretches if stretch.length]
        joined = tuple(
            Stretch(kind, sum(stretch.length for stretch in group))
            for kind, group in groupby(lasting, key=lambda stretch: stretch.kind)
        )
        object.__setattr__(self, "stretches", joined)
        object.__setattr__(self, "_parts", tuple(_parts(joined)))

    @property
    def length_before(self) -> int:
        """Length of the earlier version: what was taken and what was cut."""
        return self._parts[-1].before

    @property
    def length_after(self) -> int:
        """Length of the later version: what was taken and what is held."""
        return self._parts[-1].after

    def length_of(self, kind: Kind) -> int:
        """Length of all that was taken, cut or held."""
        return sum(stretch.length for stretch in self.stretches if stretch.kind == kind)

    def point(self, at: int) -> int | Gone:
        """Give where a time stands in the later version, or at which joint it went.

        The very time at which a frame is held is where the programme moves on, behind the held frame.
        """
        part = self._parts[bisect_right(self._parts, at, key=lambda part: part.before) - 1]
        return part.after + at - part.before if part.taken else Gone(part.after)

    def nearest(self, at: int) -> int:
        """Give where a time stands in the later version; for one that was cut, its joint."""
        place = self.point(at)
        return place.joint_ms if isinstance(place, Gone) else place

    def arrival(self, at: int) -> int:
        """Give where the later version stands on coming up to a time, before any frame held there."""
        before = after = 0
        for stretch in self.stretches:
            step = stretch.length if stretch.kind == "held" else min(stretch.length, at - before)
            if before >= at:
                return after
            before += step * (stretch.kind != "held")
            after += step * (stretch.kind != "cut")
        return after + at - before

    def parts(self, span: Span) -> tuple[tuple[Span, Span], ...]:
        """Give every taken part of a span, before and after; parted at each cut and each held frame."""
        found = []
        for part in self._parts:
            start = max(span.start_ms, part.before)
            end = min(span.end_ms, part.before + part.length)
            if part.taken and start < end:
                shift = part.after - part.before
                found.append((Span(start, end), Span(start + shift, end + shift)))
        return tuple(found)

    def span(self, span: Span) -> tuple[Span, ...]:
        """Give what is left of a span: nothing, one span, or several where frames are held inside it.

        What a cut inside the span parted has grown together. A span without length stays if its time does.
        """
        if not span.length_ms:
            at = self.point(span.start_ms)
            return () if isinstance(at, Gone) else (Span(at, at),)
        left: list[Span] = []
        for _, now in self.parts(span):
            joins = bool(left) and left[-1].end_ms == now.start_ms
            left.append(Span(left.pop().start_ms, now.end_ms) if joins else now)
        return tuple(left)

    def over(self, span: Span) -> Span | None:
        """Give what is left of a span as one, with the frames held inside it; None where all of it went."""
        left = self.span(span)
        return Span(left[0].start_ms, left[-1].end_ms) if left else None

    def inverse(self) -> TimeMap:
        """Give the map from the later version back: exact on what was taken.

        What was cut stands there as held, and what was held as cut.
        """
        return TimeMap(tuple(Stretch(_TURNED[stretch.kind], stretch.length) for stretch in self.stretches))

    def snapped(self, rate: Fraction) -> TimeMap:
        """Give the map whose cuts lie on whole frames, and whose held frames last whole frames, one at least.

        `rate` is in frames a second. The known end stays where it is: it need not lie on a frame.
        """
        return self._on_frames(rate, lambda frames: frames_to_ms(frames, rate), self.length_before)

    def in_frames(self, rate: Fraction) -> TimeMap:
        """Give the map that counts frames instead of milliseconds.

        Whole milliseconds put each joint off by up to one at rates such as 30000/1001; frames are exact.
        """
        return self._on_frames(rate, lambda frames: frames, ms_to_frames(self.length_before, rate))

    def _on_frames(self, rate: Fraction, unit: Callable[[int], int], end: int) -> TimeMap:
        stretches: list[Stretch] = []
        at = reached = held = 0
        for stretch in self.stretches:
            if stretch.kind == "held":
                # What lies between two holds may be under a frame and go: together they last whole frames.
                more = held + max(1, ms_to_frames(stretch.length, rate))
                stretches.append(Stretch("held", unit(more) - unit(held)))
                held = more
                continue
            at += stretch.length
            edge = end if at == self.length_before else min(end, unit(ms_to_frames(at, rate)))
            held = held if edge == reached else 0
            stretches.append(Stretch(stretch.kind, edge - reached))
            reached = edge
        return TimeMap(tuple(stretches))


def _parts(stretches: Iterable[Stretch]) -> Iterator[_Part]:
    """Lay stretches out; the last part is what lies behind the known end."""
    before = after = 0
    for stretch in stretches:
        if stretch.kind != "held":
            yield _Part(before, after, stretch.length, stretch.kind == "taken")
            before += stretch.length
        if stretch.kind != "cut":
            after += stretch.length
    yield _Part(before, after, _ENDLESS, taken=True)


def compose(first: TimeMap, second: TimeMap) -> TimeMap:
    """Give the map that does what two maps do one after the other.

    Where the first one cut and the second one holds at the same joint, the cut comes first: the held frame
    belongs to what follows. Where they know the programme between them to be of different length, the
    shorter one goes on.
    """
    gap = first.length_after - second.length_before
    firsts = [*first.stretches, *[Stretch("taken", -gap)] * (gap < 0)]
    seconds = [*second.stretches, *[Stretch("taken", gap)] * (gap > 0)]
    made: list[Stretch] = []
    while firsts or seconds:
        if firsts and firsts[0].kind == "cut":
            made.append(firsts.pop(0))
        elif seconds and seconds[0].kind == "held":
            made.append(seconds.pop(0))
        else:
            length = min(firsts[0].length, seconds[0].length)
            ours, theirs = _shortened(firsts, length), _shortened(seconds, length)
            if theirs == "taken":
                made.append(Stretch(ours, length))
            elif ours == "taken":
                made.append(Stretch("cut", length))
    return TimeMap(tuple(made))


def _shortened(stretches: list[Stretch], length: int) -> Kind:
    """Take a length off the first stretch, and the stretch off the list once it is used up; give its kind."""
    first = stretches.pop(0)
    if first.length > length:
        stretches.insert(0, Stretch(first.kind, first.length - length))
    return first.kind


def cut_and_hold(length_ms: int, removed: Iterable[Span], held: Iterable[HeldFrame]) -> TimeMap:
    """Give the map of a programme of `length_ms` from which spans are taken out and in which frames are held.

    Spans may overlap. A frame held where a cut begins comes before it and is the last one that was taken; one
    held where a cut ends comes after it and is the first one of what follows.
    """
    spans = list(removed)
    holds = sorted(held, key=lambda hold: hold.at_ms)
    edges = sorted(
        {0, length_ms, *(e for s in spans for e in (s.start_ms, s.end_ms)), *(h.at_ms for h in holds)}
    )
    stretches: list[Stretch] = []
    for start, end in pairwise([*edges, edges[-1]]):
        stretches += [Stretch("held", hold.length_ms) for hold in holds if hold.at_ms == start]
        is_cut = any(span.start_ms <= start and end <= span.end_ms for span in spans)
        stretches.append(Stretch("cut" if is_cut else "taken", end - start))
    return TimeMap(tuple(stretches))
