"""Recoat and cure times: what the shelf says, held against the clock of the log."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction

from reelnotes.problems import Problem

#: Units of time by their first letters, in hours; a month counts thirty days.
_HOURS: tuple[tuple[str, Fraction], ...] = (
    ("min", Fraction(1, 60)),
    ("month", Fraction(720)),
    ("h", Fraction(1)),
    ("d", Fraction(24)),
    ("w", Fraction(168)),
)
_AMOUNT = r"(?P<low>\d+(?:\.\d+)?)(?:\s*(?:-|–|to)\s*(?P<high>\d+(?:\.\d+)?))?"
_UNIT = r"(?P<unit>min(?:ute)?s?|months?|h(?:rs?|ours?)?|d(?:ays?)?|w(?:ee)?ks?)\b"
_AFTER = rf"[^\d,;.]*{_AMOUNT}\s*{_UNIT}"
_RECOAT = re.compile(rf"(?:next coat|re-?coat|second coat|between coats){_AFTER}", re.IGNORECASE)
_CURE = re.compile(rf"(?:cured?|cures|hard){_AFTER}", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class DryingTimes:
    """What the shelf says of a finish, in hours; None where it is silent. A range counts by its end."""

    recoat_h: float | None
    cure_h: float | None


@dataclass(frozen=True, slots=True)
class Coat:
    """A coat as logged: what went on, and when."""

    product: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Readiness:
    """When the next coat may go on, and when the coat has cured; None where the shelf does not say."""

    coat: Coat
    recoat_from: datetime | None
    cured_from: datetime | None


def drying_times(notes: str) -> DryingTimes:
    """Read recoat and cure times from a shelf note such as `next coat 18 h, full cure 2 weeks`."""
    return DryingTimes(_hours(_RECOAT.search(notes)), _hours(_CURE.search(notes)))


def _hours(match: re.Match[str] | None) -> float | None:
    if match is None:
        return None
    hours = next(hours for start, hours in _HOURS if match["unit"].casefold().startswith(start))
    return float(Fraction(match["high"] or match["low"]) * hours)


def readiness(coats: Sequence[Coat], times: dict[str, DryingTimes]) -> tuple[list[Readiness], list[Problem]]:
    """Work out for every coat when the next may follow, and report a coat that came too soon.

    `times` is by product. Cold and damp lengthen every time: the label's figures are for a warm, dry room.
    """
    ordered = sorted(coats, key=lambda coat: coat.at)
    found, problems = [], []
    for number, coat in enumerate(ordered):
        known = times.get(coat.product, DryingTimes(None, None))
        found.append(Readiness(coat, _after(coat.at, known.recoat_h), _after(coat.at, known.cure_h)))
        if number and (early := _early(found[number - 1], coat)):
            problems.append(early)
    return found, problems


def _after(at: datetime, hours: float | None) -> datetime | None:
    return None if hours is None else at + timedelta(hours=hours)


def _early(before: Readiness, coat: Coat) -> Problem | None:
    if before.recoat_from is None or coat.at >= before.recoat_from:
        return None
    words = (
        f"{coat.product} went on {coat.at:%Y-%m-%d %H:%M}, over {before.coat.product} "
        f"of {before.coat.at:%Y-%m-%d %H:%M}, which the shelf wants left until "
        f"{before.recoat_from:%Y-%m-%d %H:%M}"
    )
    return Problem("bench-range", words)
