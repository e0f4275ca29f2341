"""Where a pull comes to sit on a drawer front, and what that means for the holes that are there already.

Places are in mm from the left edge (x) and from the top edge (y) of the front, seen from outside.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import hypot
from typing import Literal

from reelnotes.bench.units import MM_PER_INCH
from reelnotes.problems import Problem
from reelnotes.records import frozen

Rule = Literal["centre", "margin", "share"]
State = Literal["reuse", "clash", "thin", "clear"]

#: Wood to leave between two holes; common practice, no source.
LEAST_WOOD_MM = 3.0


@frozen
class Front:
    """A drawer front: width and height in mm."""

    width_mm: float
    height_mm: float


@frozen
class Pull:
    """A pull: spacing of its holes (0 for a knob), its outline, and how far below its top the holes are.

    Where the outline is not known it is as small as the holes, and the pull sits where its holes are.
    """

    spacing_mm: float
    wide_mm: float = 0.0
    high_mm: float = 0.0
    holes_below_top_mm: float = 0.0


@frozen
class Hole:
    """A hole: its middle and diameter in mm."""

    x_mm: float
    y_mm: float
    diameter_mm: float


@frozen
class Placed:
    """A pull on its front: middle of its outline, top and bottom of its outline, its new holes."""

    x_mm: float
    y_mm: float
    top_mm: float
    bottom_mm: float
    holes: tuple[Hole, ...]


@frozen
class Meeting:
    """A new hole and an old one: wood left between their edges (below 0: they break into each other)."""

    new: Hole
    old: Hole
    wood_mm: float
    state: State
    hidden: bool


def pull_middles(front: Front, count: int, inset_mm: float | None = None) -> tuple[float, ...]:
    """Give the x of one pull (the middle) or two (`inset_mm` from either side; else a quarter of the width).

    A quarter in is common practice, no source. Raises `ValueError` for any other.
    """
    if count == 1:
        return (front.width_mm / 2,)
    inset = front.width_mm / 4 if inset_mm is None else inset_mm
    if count != 2 or not 0 < inset <= front.width_mm / 2:  # noqa: PLR2004 - a pair
        raise ValueError("one pull, or two inside their halves")
    return (inset, front.width_mm - inset)


def place_pull(
    front: Front, pull: Pull, x_mm: float, bit_mm: float, *, rule: Rule, value: float = 0.0
) -> tuple[Placed, list[Problem]]:
    """Place a pull with its middle at `x_mm`, its height by a rule; `bit_mm` is the hole's diameter.

    `centre`: the middle of the pull at the middle of the front. `margin`: its top `value` mm below the top
    edge. `share`: its middle at the share `value` (0 to 1) of the height, from the top. The holes follow from
    the pull, and are the middle of it only where the pull is built so.
    """
    tops = {
        "centre": (front.height_mm - pull.high_mm) / 2,
        "margin": value,
        "share": front.height_mm * value - pull.high_mm / 2,
    }
    top = tops[rule]
    y = top + pull.holes_below_top_mm
    half = pull.spacing_mm / 2
    xs = (x_mm,) if pull.spacing_mm == 0 else (x_mm - half, x_mm + half)
    holes = tuple(Hole(x, y, bit_mm) for x in xs)
    placed = Placed(x_mm, top + pull.high_mm / 2, top, top + pull.high_mm, holes)
    side = max(pull.wide_mm, pull.spacing_mm) / 2
    inside = top >= 0 and placed.bottom_mm <= front.height_mm and side <= x_mm <= front.width_mm - side
    words = f"the pull does not fit on a front of {front.width_mm:g} by {front.height_mm:g} mm in that place"
    return placed, [] if inside else [Problem("bench-place", words)]


def holes_inside(front: Front, placed: Placed) -> bool:
    """Tell whether every hole of a pull lies whole on its front; a pull that overhangs may still do that."""
    return all(
        hole.diameter_mm / 2 <= hole.x_mm <= front.width_mm - hole.diameter_mm / 2
        and hole.diameter_mm / 2 <= hole.y_mm <= front.height_mm - hole.diameter_mm / 2
        for hole in placed.holes
    )


def meetings(placed: Placed, pull: Pull, old: Sequence[Hole], screw_mm: float) -> tuple[Meeting, ...]:
    """Compare every new hole with every old one.

    `reuse`: the screw finds its wanted place inside the old hole. `clash`: the holes break into each other,
    so the old one must be plugged first. `thin`: less than `LEAST_WOOD_MM` would be left between. `clear`
    otherwise. `hidden` tells whether the pull's outline covers the old hole.
    """
    found = []
    for new in placed.holes:
        for hole in old:
            apart = hypot(new.x_mm - hole.x_mm, new.y_mm - hole.y_mm)
            wood = apart - (new.diameter_mm + hole.diameter_mm) / 2
            if apart <= (hole.diameter_mm - screw_mm) / 2:
                state: State = "reuse"
            elif wood < 0:
                state = "clash"
            else:
                state = "thin" if wood < LEAST_WOOD_MM else "clear"
            found.append(Meeting(new, hole, wood, state, _covered(hole, placed, pull)))
    return tuple(found)


def _covered(hole: Hole, placed: Placed, pull: Pull) -> bool:
    radius = hole.diameter_mm / 2
    return (
        abs(hole.x_mm - placed.x_mm) + radius <= pull.wide_mm / 2
        and placed.top_mm + radius <= hole.y_mm <= placed.bottom_mm - radius
    )


# --- spacings --------------------------------------------------------------------------------------

#: Hole spacings in the trade, in mm (common practice); those in `FROM_MEMORY` were not seen on a page.
SPACINGS_MM: dict[str, Fraction] = {
    "2 1/2 in": Fraction(5, 2) * MM_PER_INCH,
    "64 mm": Fraction(64),
    "3 in": 3 * MM_PER_INCH,
    "3 1/2 in": Fraction(7, 2) * MM_PER_INCH,
    "96 mm": Fraction(96),
    "4 in": 4 * MM_PER_INCH,
    "128 mm": Fraction(128),
    "160 mm": Fraction(160),
    "192 mm": Fraction(192),
    "224 mm": Fraction(224),
    "256 mm": Fraction(256),
    "320 mm": Fraction(320),
}
SPACINGS_FROM_MEMORY = frozenset({"2 1/2 in", "64 mm", "320 mm"})
#: What a metric spacing is often called (common practice), and how long that name is.
NICKNAMES: dict[str, tuple[tuple[str, Fraction], ...]] = {
    "96 mm": (("3 3/4 in", Fraction(15, 4) * MM_PER_INCH),),
    "128 mm": (("5 in", 5 * MM_PER_INCH), ("5 1/16 in", Fraction(81, 16) * MM_PER_INCH)),
    "160 mm": (("6 5/16 in", Fraction(101, 16) * MM_PER_INCH), ("6 1/4 in", Fraction(25, 4) * MM_PER_INCH)),
}
#: Names and sizes this close are taken for each other: 5 in for 128 mm (1.0), 6 1/4 in for 160 mm (1.25).
_NEAR_MM = Fraction("1.3")


def spacing_problems(spacing_mm: Fraction) -> list[Problem]:
    """Warn where a spacing is not a size of the trade but the nickname of one, or has a twin beside it.

    3 3/4 in (95.25 mm) is what 96 mm is often called, and the screws will not meet the holes.
    """
    near = {name: mm for name, mm in SPACINGS_MM.items() if 0 < abs(mm - spacing_mm) <= _NEAR_MM}
    return [
        Problem(
            "bench-spacing",
            f"{float(spacing_mm):.2f} mm is not the same hole spacing as {name} ({float(mm):.2f} mm): "
            f"{float(abs(mm - spacing_mm)):.2f} mm apart; measure the pull itself from hole to hole",
        )
        for name, mm in near.items()
    ]
