"""Recoat and cure times: what the shelf says, held against the clock of the log."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from fractions import Fraction

from reelnotes.problems import Problem
from reelnotes.records import frozen

#: Units of time by their first letters, in hours; a month counts thirty days.
_HOURS: tuple[tuple[str, Fraction], ...] = (
    ("min", Fraction(1, 60)),
    ("month", Fraction(720)),
    ("h", Fraction(1)),
    ("d", Fraction(24)),
    ("w", Fraction(168)),
)
_TIME = re.compile(
    r"(?P<low>\d+(?:\.\d+)?)(?:\s*(?:-|–|to)\s*(?P<high>\d+(?:\.\d+)?))?\s*-?\s*"
    r"(?P<unit>min(?:ute)?s?|months?|h(?:rs?|ours?)?|d(?:ays?)?|w(?:ee)?ks?)\b",
    re.IGNORECASE,
)
_OTHER = re.compile(r"\b(?:other|another|different)\b", re.IGNORECASE)
_CURE = re.compile(r"\b(?:cure[sd]?|curing|hard)\b", re.IGNORECASE)
_COAT = re.compile(r"coat", re.IGNORECASE)


@frozen
class DryingTimes:
    """What the shelf says of a finish, in hours; None where it is silent. A range counts by its end.

    Until its own next coat, until any other product may go over it, and until it has cured.
    """

    recoat_h: float | None = None
    other_h: float | None = None
    cure_h: float | None = None


@frozen
class Coat:
    """A coat as logged: what went on, and when."""

    product: str
    at: datetime


@frozen
class Readiness:
    """From when a coat bears its next coat, another product, and use; None where the shelf does not say."""

    coat: Coat
    recoat_from: datetime | None
    other_from: datetime | None
    cured_from: datetime | None


def drying_times(notes: str) -> DryingTimes:
    """Read a shelf note clause by clause: `next coat 18 h, 3 days before any other product, hard in 2 weeks`.

    A time counts for what its own clause speaks of; a clause that speaks of none of these is passed over.
    """
    recoat: float | None = None
    other: float | None = None
    cure: float | None = None
    for clause in re.split(r"[;,]|\.\s", notes):
        match = _TIME.search(clause)
        if match is None:
            continue
        hours = _hours(match)
        if _OTHER.search(clause):
            other = hours
        elif _CURE.search(clause):
            cure = hours
        elif _COAT.search(clause):
            recoat = hours
    return DryingTimes(recoat, other, cure)


def _hours(match: re.Match[str]) -> float:
    hours = next(hours for start, hours in _HOURS if match["unit"].casefold().startswith(start))
    return float(Fraction(match["high"] or match["low"]) * hours)


def readiness(
    coats: Sequence[Coat], times: Mapping[str, DryingTimes]
) -> tuple[list[Readiness], list[Problem]]:
    """Work out for every coat when what may follow, and report a coat that came too soon for the one before.

    `times` is by product; all coats are taken to lie on one surface, in order of time. Cold and damp lengthen
    every time: the label's figures are for a warm, dry room.
    """
    found: list[Readiness] = []
    problems: list[Problem] = []
    for coat in sorted(coats, key=lambda coat: coat.at):
        if found and (early := _early(found[-1], coat)):
            problems.append(early)
        known = times.get(coat.product, DryingTimes())
        waits = (known.recoat_h, known.other_h, known.cure_h)
        found.append(Readiness(coat, *(_after(coat.at, hours) for hours in waits)))
    return found, problems


def _after(at: datetime, hours: float | None) -> datetime | None:
    return None if hours is None else at + timedelta(hours=hours)


def _early(before: Readiness, coat: Coat) -> Problem | None:
    ready = before.recoat_from if coat.product == before.coat.product else before.other_from
    if ready is None or coat.at >= ready:
        return None
    words = (
        f"{coat.product} went on {coat.at:%Y-%m-%d %H:%M}, over {before.coat.product} "
        f"of {before.coat.at:%Y-%m-%d %H:%M}, which the shelf wants left until {ready:%Y-%m-%d %H:%M}"
    )
    return Problem("bench-early", words)
