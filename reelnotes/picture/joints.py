"""Where a film is joined: what is gone at each place, what is held there, and where everything else goes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from reelnotes.model import HeldFrame
from reelnotes.picture.coding import Pictures
from reelnotes.picture.film import Track
from reelnotes.picture.tables import Marks, Whole
from reelnotes.records import frozen
from reelnotes.timing import Span


@frozen
class Joint:
    """Seconds `gone_from` to `gone_to` of the old programme are out; `held` seconds stand there instead."""

    gone_from: Fraction
    gone_to: Fraction
    held: Fraction = Fraction(0)


@frozen
class Joints:
    """All joints of a film in order of time."""

    all: tuple[Joint, ...]

    def moved(self, at: Fraction, *, behind: bool = False) -> Fraction:
        """Give where a time of the old programme stands in the new one; what is gone stands at its joint.

        What begins where a picture is held begins with the hold, or `behind` it.
        """
        new = at
        for joint in self.all:
            if joint.gone_from < at or (behind and joint.gone_from == at):
                new += joint.held - (min(joint.gone_to, at) - joint.gone_from)
        return new

    def begun(self, at: Fraction) -> Fraction:
        """Give where a hold, or sound that began then, begins now: the silence of the hold is part of it."""
        start = next((j.gone_from for j in self.all if j.held and j.gone_from < at <= j.gone_to), at)
        return self.moved(start)

    def after(self, start: Fraction) -> Joints:
        """Give the joints as far as they concern a track that begins at `start`."""
        return Joints(
            tuple(
                Joint(max(j.gone_from, start), j.gone_to, j.held)
                for j in self.all
                if j.gone_to > start or (j.held and j.gone_to >= start)
            )
        )


@frozen
class Shown:
    """One picture of the new film: the number of an old one, whether it is held, and how long it stands."""

    number: int
    held: bool
    length: int


@dataclass(slots=True)
class Cutting:
    """The new film as a list of pictures, and what that means for everything that runs beside them."""

    shown: list[Shown]
    joints: Joints
    first_gone: bool
    first_held: bool
    first_seen: int


def cut(
    pictures: Pictures,
    track: Track,
    seen: tuple[Whole, Whole],
    removed: Sequence[Span],
    holds: Iterable[HeldFrame],
) -> Cutting | None:
    """Decide picture by picture what stays and what is held; None if no picture would stay.

    `seen` are the numbers of the pictures that are seen, and when, in ms. Pictures before and after those go
    with the first and the last one.
    """
    numbers, ms = seen
    gone = np.zeros(len(ms), bool)
    for span in removed:
        gone |= (ms >= span.start_ms) & (ms < span.end_ms)
    if gone.all():
        return None
    keep = np.ones(len(pictures.times), bool)
    keep[numbers[gone]] = False
    first, last = int(numbers[0]), int(numbers[-1])
    if not keep[first]:
        keep[:first] = False
    if not keep[last]:
        keep[last:] = False
    ends = np.append(pictures.times[1:], pictures.times[-1] + max(int(pictures.samples.length[-1]), 1))
    before, after = _held(pictures, seen, keep, holds)
    step = round(pictures.scale / pictures.rate)
    shown = []
    for number in range(len(keep)):
        shown += [Shown(number, held=True, length=step)] * before.get(number, 0)
        if keep[number]:
            shown.append(Shown(number, held=False, length=int(ends[number] - pictures.times[number])))
        shown += [Shown(number, held=True, length=step)] * after.get(number, 0)
    joints = _joints(track, (numbers, pictures.times, ends, keep), before, after, step)
    joints = to_the_edges(joints, removed, int(ms[0]), int(ms[-1]))
    return Cutting(shown, joints, first_gone=not keep[first], first_held=first in before, first_seen=first)


def _held(
    pictures: Pictures, seen: tuple[Whole, Whole], keep: Marks, holds: Iterable[HeldFrame]
) -> tuple[dict[int, int], dict[int, int]]:
    """Count the held pictures before and after each number.

    Where the picture to be held is out itself, the last one before it is held; there being none, the next.
    """
    numbers, ms = seen
    before: dict[int, int] = {}
    after: dict[int, int] = {}
    for hold in holds:
        count = max(1, round(hold.length_ms * pictures.rate / 1000))
        place = max(int(np.searchsorted(ms, hold.at_ms, "right")) - 1, 0)
        number = int(numbers[place])
        earlier = [int(n) for n in numbers[: place + 1] if keep[n]] if not keep[number] else []
        if keep[number] or not earlier:
            number = number if keep[number] else int(next(n for n in numbers if keep[n]))
            before[number] = before.get(number, 0) + count
        else:
            after[earlier[-1]] = after.get(earlier[-1], 0) + count
    return before, after


def _joints(
    track: Track,
    seen: tuple[Whole, Whole, Whole, Marks],
    before: dict[int, int],
    after: dict[int, int],
    step_ticks: int,
) -> Joints:
    numbers, times, ends, keep = seen
    step = Fraction(step_ticks, track.scale)
    limit = None if track.lasts is None else track.delay + track.lasts
    found: list[Joint] = []
    for number in [n for n in numbers.tolist() if not keep[n] or n in before or n in after]:
        start = max(track.programme_s(times[number]), track.delay)
        end = track.programme_s(ends[number])
        end = end if limit is None else min(end, limit)
        if number in before:
            _add(found, Joint(start, start, before[number] * step))
        if not keep[number]:
            _add(found, Joint(start, end))
        if number in after:
            _add(found, Joint(end, end, after[number] * step))
    return Joints(tuple(found))


def to_the_edges(joints: Joints, removed: Sequence[Span], first_ms: int, last_ms: int) -> Joints:
    """Let a span that takes the first or the last picture out take what is heard before or behind it too.

    Sound may begin before the first picture and end after the last; `first_ms` and `last_ms` say when those
    were shown.
    """
    found = list(joints.all)
    for start_ms, end_ms in _joined_spans(removed):
        if start_ms <= first_ms < end_ms:
            head = found[0]
            start = min(head.gone_from, Fraction(start_ms, 1000))
            found[0] = Joint(start, head.gone_to, head.held)
        if start_ms <= last_ms < end_ms:
            tail = found[-1]
            found[-1] = Joint(tail.gone_from, max(tail.gone_to, Fraction(end_ms, 1000)), tail.held)
    return Joints(tuple(found))


def _joined_spans(spans: Sequence[Span]) -> list[tuple[int, int]]:
    """Give the spans in order, those that touch or overlap as one."""
    joined: list[tuple[int, int]] = []
    for span in sorted(spans, key=lambda one: one.start_ms):
        if joined and span.start_ms <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], span.end_ms))
        else:
            joined.append((span.start_ms, span.end_ms))
    return joined


def _add(found: list[Joint], new: Joint) -> None:
    """Join what touches: one place in the programme is one joint."""
    if found and found[-1].gone_to == new.gone_from:
        last = found.pop()
        new = Joint(last.gone_from, new.gone_to, last.held + new.held)
    found.append(new)
