"""How well letters stand out from their ground, by the W3C's formula, and the colours that were chosen by it.

Source: W3C, Web Content Accessibility Guidelines 2.2, 'relative luminance' and 'contrast ratio'; 7:1 is its
criterion 1.4.6. The colours are ours: published signal colours are defined by other systems than a screen's.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
import numpy.typing as npt

from reelnotes.model import SignalWord
from reelnotes.records import frozen

#: What a letter must reach against its ground (WCAG 2.2, 1.4.6).
LEAST_CONTRAST = 7.0

Colour = tuple[int, int, int]
Ground = Literal["dark", "light"]


def luminance(colours: npt.NDArray[np.uint8]) -> npt.NDArray[np.float64]:
    """Give the relative luminance, 0 to 1, of colours in bytes; the last axis holds red, green and blue."""
    share = colours[..., :3].astype(np.float64) / 255
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)  # noqa: PLR2004 - the formula's own
    weighed: npt.NDArray[np.float64] = linear @ np.array([0.2126, 0.7152, 0.0722])
    return weighed


def contrast(one: Colour, other: Colour) -> float:
    """Give the contrast of two colours, 1 to 21. It is never rounded before it is compared."""
    lights = luminance(np.array([one, other], np.uint8))
    return float((lights.max() + 0.05) / (lights.min() + 0.05))


@frozen
class Paint:
    """A ground and what is written on it."""

    ground: Colour
    letters: Colour


@frozen
class Board:
    """The box of a panel: its ground with its letters, and the line that is inlaid along its edge."""

    paint: Paint
    line: Colour


BOARDS: dict[Ground, Board] = {
    "dark": Board(Paint((29, 36, 34), (248, 244, 235)), (196, 163, 107)),
    "light": Board(Paint((245, 240, 229), (27, 31, 30)), (122, 90, 44)),
}

#: The fields of the signal words: red and blue with white letters, orange and yellow with black ones, as is
#: usual for them (ANSI Z535.4).
FIELDS: dict[SignalWord, Paint] = {
    "DANGER": Paint((150, 16, 28), (255, 255, 255)),
    "WARNING": Paint((240, 138, 36), (18, 16, 12)),
    "CAUTION": Paint((242, 196, 50), (18, 16, 12)),
    "NOTICE": Paint((20, 78, 128), (255, 255, 255)),
}
