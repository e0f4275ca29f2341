"""Recoat and cure times: what the shelf says, held against the clock of the log."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from reelnotes.problems import Problem
from reelnotes.records import frozen
from reelnotes.words.waiting import Waits, too_soon


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


def readiness(coats: Sequence[Coat], times: Mapping[str, Waits]) -> tuple[list[Readiness], list[Problem]]:
    """Work out for every coat when what may follow, and report a coat that came too soon for the one before.

    `times` is by product; all coats are taken to lie on one surface, in order of time; a quarter of an hour
    early is on time. Cold and damp lengthen every time: the label's figures are for a warm, dry room.
    """
    found: list[Readiness] = []
    problems: list[Problem] = []
    for coat in sorted(coats, key=lambda coat: coat.at):
        if found and (early := _early(found[-1], coat)):
            problems.append(early)
        waits = times.get(coat.product, Waits())
        found.append(Readiness(coat, *(_after(coat.at, hours) for hours in waits.hours)))
    return found, problems


def _after(at: datetime, hours: float | None) -> datetime | None:
    try:
        return None if hours is None else at + timedelta(hours=hours)
    except OverflowError:  # a wait of a thousand years is a slip of the pen
        return None


def _early(before: Readiness, coat: Coat) -> Problem | None:
    ready = before.recoat_from if coat.product == before.coat.product else before.other_from
    if ready is None or not too_soon(hours_apart(before.coat, coat), _hours(before.coat.at, ready)):
        return None
    words = (
        f"{coat.product} went on {coat.at:%Y-%m-%d %H:%M}, over {before.coat.product} "
        f"of {before.coat.at:%Y-%m-%d %H:%M}, which the shelf wants left until {ready:%Y-%m-%d %H:%M}"
    )
    return Problem("bench-early", words)


def hours_apart(before: Coat, after: Coat) -> float:
    """Give the hours by the clock between two coats."""
    return _hours(before.at, after.at)


def _hours(first: datetime, then: datetime) -> float:
    return (then - first).total_seconds() / 3600
