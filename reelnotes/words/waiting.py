"""Waiting times of a finish as the shelf notes them: until its next coat, until another product, until cured.

One reading for the bench, which works out what may go on when, and for risk, which flags a coat too soon.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from reelnotes.records import frozen

#: A coat that comes so much early (hours) is still on time: clocks and notes are not that exact; ours.
GRACE_H = 0.25
#: A wait of more than ten years is a slip of the pen.
_LONGEST_H = 87_600
#: Units of time by their first letters, in hours; a month counts thirty days.
_HOURS: tuple[tuple[str, Fraction], ...] = (
    ("min", Fraction(1, 60)),
    ("month", Fraction(720)),
    ("h", Fraction(1)),
    ("d", Fraction(24)),
    ("w", Fraction(168)),
)
_TIME = re.compile(
    r"(?<![\d.])(\d+(?:\.\d+)?|\.\d+)(?:\s*(?:-|–|to)\s*(\d+(?:\.\d+)?))?\s*-?\s*"
    r"(min(?:ute)?s?|months?|h(?:rs?|ours?)?|d(?:ays?)?|w(?:ee)?ks?)\b",
    re.IGNORECASE,
)
_OTHER = re.compile(r"\b(?:other|another|different)\b", re.IGNORECASE)
_CURE = re.compile(r"\b(?:cure[sd]?|curing|hard|hardens?|hardened)\b", re.IGNORECASE)
_COAT = re.compile(r"coat", re.IGNORECASE)
#: What a time can be of; "touch dry 1 h" asks for no wait, but its time is taken.
_TOLD = re.compile(rf"{_OTHER.pattern}|{_CURE.pattern}|{_COAT.pattern}|\bdr(?:y|ies)\b", re.IGNORECASE)
#: `recoat within 24 h` is the end of a time to recoat in, and no wait.
_AT_MOST = re.compile(r"\b(?:within|at most|no later than|not later than|up to)\s*$", re.IGNORECASE)
_CLAUSES = re.compile(r"[;,]|\.(?:\s|$)")


@frozen
class Wait:
    """A wait in hours, a range by its end; `said` are the shelf's own words for it."""

    hours: float
    said: str


@frozen
class Waits:
    """What the shelf says of a finish; None where it is silent.

    `own` until its own next coat, `other` until any other product may go over it, `cure` until it has cured.
    """

    own: Wait | None = None
    other: Wait | None = None
    cure: Wait | None = None

    @property
    def hours(self) -> tuple[float | None, float | None, float | None]:
        """The hours of all three, in that order."""
        own, other, cure = (wait.hours if wait else None for wait in (self.own, self.other, self.cure))
        return own, other, cure


def waits_of(notes: str) -> Waits:
    """Read a shelf note clause by clause: `next coat 18 h, 3 days before any other product, hard in 2 weeks`.

    A time counts for what its own clause speaks of; a clause that speaks of none of these is passed over, and
    so is the end of a time to recoat in (`recoat within 24 h`). Several times in one clause each take the
    words on their side of it.
    """
    own: Wait | None = None
    other: Wait | None = None
    cure: Wait | None = None
    for clause in _clauses(notes):
        match = _TIME.search(clause)
        if match is None or _AT_MOST.search(clause, 0, match.start()):
            continue
        wait = Wait(_hours(match), clause)
        if wait.hours > _LONGEST_H:
            continue
        if _OTHER.search(clause):
            other = wait
        elif _CURE.search(clause):
            cure = wait
        elif _COAT.search(clause):
            own = wait
    return Waits(own, other, cure)


def hours_in(text: str) -> float | None:
    """Give the first time in a text, in hours: `tin says 2 hrs`; a range by its end, None without one."""
    match = _TIME.search(text)
    return _hours(match) if match else None


def too_soon(apart_h: float, wanted_h: float) -> bool:
    """Tell whether what came `apart_h` hours later came before its wait was over, a grace apart."""
    return apart_h < wanted_h - GRACE_H


def _clauses(notes: str) -> Iterator[str]:
    """Cut a note at its stops, and a clause with several times between them.

    What the first time is of stands before it (`recoat 4 h full cure 2 weeks`) or after it (`4 h between
    coats, 7 days to cure`), and so for all that follow.
    """
    for clause in _CLAUSES.split(notes):
        times = list(_TIME.finditer(clause))
        if len(times) < 2:  # noqa: PLR2004 - one time needs no cutting
            yield clause.strip()
        elif _TOLD.search(clause, 0, times[0].start()):
            ends = [0, *(time.end() for time in times[:-1]), len(clause)]
            yield from (clause[a:b].strip() for a, b in pairwise(ends))
        else:
            starts = [0, *(time.start() for time in times[1:]), len(clause)]
            yield from (clause[a:b].strip() for a, b in pairwise(starts))


def _hours(match: re.Match[str]) -> float:
    unit = match[3].casefold()
    by = next(hours for start, hours in _HOURS if unit.startswith(start))
    return float(Fraction(match[2] or match[1]) * by)
