"""Where in a picture an insert may stand, whatever its size and shape.

Sources: EBU R 95 and SMPTE ST 2046-1 for the edge that may be cut off (texts stay 5 % away from every edge;
both speak of 16:9, for other shapes it is our use of them); BBC Subtitle Guidelines for the width of a line
(3.1), the number of lines (3.3) and the 8 % of the picture's height that each takes, from which the place of
spoken captions at the bottom follows.
"""

from __future__ import annotations

from fractions import Fraction

from reelnotes.picture.refusals import PictureOdd
from reelnotes.records import frozen

_EDGE = Fraction(5, 100)
_LINE_WIDTH = Fraction(68, 100)
_CAPTION_LINE = Fraction(8, 100)
_WIDE, _BROADEST = Fraction(3, 2), Fraction(16, 9)
_SHAPES = (Fraction(9, 21), Fraction(4))
_LEAST_SIDE, _MOST_SIDE = 90, 16384


@frozen
class Area:
    """A rectangle of the picture as it is shown; right and bottom are not part of it."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def width(self) -> int:
        """Columns."""
        return self.right - self.left

    @property
    def height(self) -> int:
        """Rows."""
        return self.bottom - self.top

    def meets(self, other: Area) -> bool:
        """Tell whether the two share a pixel."""
        across = self.left < other.right and other.left < self.right
        return across and self.top < other.bottom and other.top < self.bottom


def check_shape(width: int, height: int) -> None:
    """Hold that a panel can be drawn for a picture of this size. Raises `PictureOdd`."""
    sides = (min(width, height), max(width, height))
    if sides[0] < _LEAST_SIDE or sides[1] > _MOST_SIDE:
        raise PictureOdd(width, height)
    if not _SHAPES[0] <= Fraction(width, height) <= _SHAPES[1]:
        raise PictureOdd(width, height)


def text_safe(width: int, height: int) -> Area:
    """Give the part in which texts may stand: 5 % in from every edge, rounded inwards."""
    across, down = -(-width * _EDGE // 1), -(-height * _EDGE // 1)
    return Area(int(across), int(down), width - int(across), height - int(down))


def captions_at(width: int, height: int) -> Area:
    """Give the part that spoken captions take at the foot of the safe area: two lines, upright three."""
    safe = text_safe(width, height)
    lines = 3 if height > width else 2
    return Area(0, safe.bottom - int(-(-height * lines * _CAPTION_LINE // 1)), width, height)


def line_width(width: int, height: int) -> int:
    """Give how wide a line of text may be: 68 % of a wide picture, else all of the safe area.

    Of pictures wider than 16:9, 68 % of what would be 16:9 at their height.
    """
    if Fraction(width, height) < _WIDE:
        return text_safe(width, height).width
    return int(min(Fraction(width), height * _BROADEST) * _LINE_WIDTH)
