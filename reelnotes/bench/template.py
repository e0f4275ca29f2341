"""The drilling template of a pull, at full size, with scale bars to check the print by."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import ceil
from typing import Literal

from reelnotes.bench.drawing import Circle, Drawing, Line, Shape, Words
from reelnotes.bench.pulls import Front, Hole, Placed, Pull
from reelnotes.bench.units import MM_PER_INCH
from reelnotes.records import frozen

Paper = Literal["a4", "letter"]
#: Sheets lying on their long side, in mm (ISO 216; 11 by 8 1/2 in).
PAPERS_MM: dict[Paper, tuple[float, float]] = {"a4": (297.0, 210.0), "letter": (279.4, 215.9)}

_EDGE = 12.0  # printers leave this much white at most (common practice)
_HEAD, _FOOT = 24.0, 34.0  # room for the words above and for the scale bars below
_CROSS = 7.0
_SAME = 0.005
_TEN = 10.0  # a line to draw by hand lies at a round place
_CHECK = "Print at 100 %, never to fit. Measure the bars before you drill: if they are out, so are the holes."


@frozen
class _Sheet:
    """How the front lies on the paper: what to add to its places, and which half is shown."""

    dx: float
    dy: float
    half: bool
    reference: str
    reference_y: float


def pull_template(
    front: Front, pull: Pull, placed: Placed, old: Mapping[Hole, str], paper: Paper = "a4"
) -> Drawing:
    """Draw the template of one pull: its holes, outline, middle line, the edge to lay it to, old holes.

    `old` are the holes that are there, each with what to write beside it.
    Where the pull is too wide for the paper, its right half is drawn; turned over on the middle line, it
    gives the left. Where the edge is out of reach, a line at a stated distance from it takes its place.
    """
    width, height = PAPERS_MM[paper]
    sheet = _laid_out(front, pull, placed, width, height)
    holes = [hole for hole in placed.holes if not sheet.half or hole.x_mm >= placed.x_mm]
    shapes: list[Shape] = [
        *_head(front, placed, pull, sheet),
        *_references(placed, sheet, width, height),
        *_outline(placed, pull, sheet),
        *(shape for hole in holes for shape in _hole(hole, sheet)),
        *(shape for hole in _near(old, sheet, width, height) for shape in _hole(hole, sheet, old[hole])),
        *_bars(width, height),
    ]
    description = (
        f"Holes of {placed.holes[0].diameter_mm:g} mm, {pull.spacing_mm:g} mm apart, "
        f"{placed.holes[0].y_mm:.1f} mm below the top edge of a front "
        f"{front.width_mm:g} by {front.height_mm:g} mm."
    )
    return Drawing(width, height, "Drilling template at full size", description, tuple(shapes))


def _laid_out(front: Front, pull: Pull, placed: Placed, width: float, height: float) -> _Sheet:
    side = max(pull.wide_mm, pull.spacing_mm) / 2 + _CROSS + 2
    half = 2 * side > width - 2 * _EDGE
    middle = _EDGE + 2 if half else width / 2
    room = height - _HEAD - _FOOT
    below = max(placed.bottom_mm - placed.holes[0].y_mm, _CROSS)
    above = max(placed.holes[0].y_mm - placed.top_mm, _CROSS)
    y, from_bottom = placed.holes[0].y_mm, front.height_mm - placed.holes[0].y_mm
    if y + below <= room:
        reference, reference_y = "top edge of the front", _HEAD
        dy = _HEAD
    elif from_bottom + above <= room:
        reference, reference_y = "bottom edge of the front", height - _FOOT
        dy = height - _FOOT - front.height_mm
    else:
        at = _TEN * ceil((y + below - room) / _TEN)
        reference, reference_y = f"line drawn {at:g} mm below the top edge of the front", _HEAD
        dy = _HEAD - at
    return _Sheet(middle - placed.x_mm, dy, half, reference, reference_y)


def _head(front: Front, placed: Placed, pull: Pull, sheet: _Sheet) -> list[Shape]:
    hole = placed.holes[0]
    apart = f", {pull.spacing_mm:g} mm apart" if pull.spacing_mm else ""
    twin = "" if abs(placed.x_mm - front.width_mm / 2) < _SAME else " (and from the right for the other pull)"
    words = (
        f"Drill {hole.diameter_mm:g} mm{apart}, {hole.y_mm:.1f} mm below the top edge; "
        f"middle line {placed.x_mm:.1f} mm from the left edge{twin}."
    )
    size = f"For a front of {front.width_mm:g} by {front.height_mm:g} mm, seen from outside."
    turn = " Half of it: turn it over on the middle line for the other hole." if sheet.half else ""
    return [
        Words(_EDGE, 10, words, 3.8, bold=True),
        Words(_EDGE, 15, size + turn),
        Words(_EDGE, 20, _CHECK),
    ]


def _references(placed: Placed, sheet: _Sheet, width: float, height: float) -> list[Shape]:
    x = placed.x_mm + sheet.dx
    y = sheet.reference_y
    return [
        Line(_EDGE, y, width - _EDGE, y, 0.5),
        Words(
            _EDGE + 6,
            y - 1.5 if y > height / 2 else y + 4.5,
            f"Lay this to the {sheet.reference}",
            3,
        ),
        Line(x, _HEAD, x, height - _FOOT, 0.25, dashed=True),
        Words(x + 1.5, height - _FOOT - 2 if y < height / 2 else _HEAD + 4, "middle of the pull", 3),
    ]


def _outline(placed: Placed, pull: Pull, sheet: _Sheet) -> list[Shape]:
    if not pull.wide_mm or not pull.high_mm:
        return []
    x = placed.x_mm + sheet.dx
    left, right = x - (0 if sheet.half else pull.wide_mm / 2), x + pull.wide_mm / 2
    top, bottom = placed.top_mm + sheet.dy, placed.bottom_mm + sheet.dy
    sides = [(left, top, right, top), (right, top, right, bottom), (right, bottom, left, bottom)]
    if not sheet.half:
        sides.append((left, bottom, left, top))
    return [Line(*side, 0.2, dashed=True) for side in sides]


def _hole(hole: Hole, sheet: _Sheet, old: str = "") -> list[Shape]:
    """Draw a hole to drill with its cross, or one that is there with what to write beside it."""
    x, y = hole.x_mm + sheet.dx, hole.y_mm + sheet.dy
    circle = Circle(x, y, hole.diameter_mm / 2, 0.25, bool(old))
    if old:
        return [circle, Words(x + hole.diameter_mm / 2 + 1, y + 3.5, old, 2.6)]
    return [circle, Line(x - _CROSS, y, x + _CROSS, y, 0.15), Line(x, y - _CROSS, x, y + _CROSS, 0.15)]


def _near(old: Iterable[Hole], sheet: _Sheet, width: float, height: float) -> list[Hole]:
    return [
        hole
        for hole in old
        if _EDGE < hole.x_mm + sheet.dx < width - _EDGE and _HEAD < hole.y_mm + sheet.dy < height - _FOOT
    ]


def _bars(width: float, height: float) -> list[Shape]:
    y = height - 14
    inches = 4 * float(MM_PER_INCH)
    x = width - _EDGE - 6
    return [
        *_ruler(_EDGE, y, 100, 10),
        Words(_EDGE + 103, y + 1, "100 mm"),
        *_ruler(_EDGE + 130, y, inches, float(MM_PER_INCH) / 2),
        Words(_EDGE + 130 + inches + 2, y + 1, "4 in"),
        Line(x, height - _FOOT - 102, x, height - _FOOT - 2, 0.35),
        *(
            Line(x - 1.5, height - _FOOT - 2 - 10 * n, x, height - _FOOT - 2 - 10 * n, 0.25)
            for n in range(11)
        ),
        Words(x - 18, height - _FOOT - 2, "100 mm"),
    ]


def _ruler(x: float, y: float, length: float, step: float) -> list[Shape]:
    ticks = round(length / step)
    marks: list[Shape] = [
        Line(x + n * step, y - (3 if n in {0, ticks} else 1.5), x + n * step, y, 0.25)
        for n in range(ticks + 1)
    ]
    return [Line(x, y, x + length, y, 0.35), *marks]
