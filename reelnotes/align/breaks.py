"""Where a telling is likely to end and another to begin: pauses, and the words with which makers move on."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from reelnotes.align.beats import Beat

Array = NDArray[np.float64]

_ONWARD = re.compile(
    r"\s*(?:(?:okay|ok|alright|all right|right|anyway|well|oh|and|but|now|um|uh|er)\W+)*"
    r"(?:so|then|next|now|right|okay|alright|anyway|after that|first|last|finally|meanwhile|while|before|"
    r"once|when|back to|the other|another|(?:mon|tues|wednes|thurs|fri|satur|sun)day)\b",
    re.IGNORECASE,
)
_PAUSE_MS = 1_000


def readiness(beats: tuple[Beat, ...], pause: float, onward: float) -> Array:
    """Give for each beat how many times readier than usual the maker is to move on just before it.

    `pause` counts for a second or more of silence, `onward` for an opening such as "then" or "right, next";
    both multiply; a beat with neither is a little less ready than usual.
    """
    ready = np.full(len(beats), 0.7)
    for j in range(1, len(beats)):
        if _ONWARD.match(beats[j].text):
            ready[j] *= onward
        if beats[j].start_ms - beats[j - 1].end_ms >= _PAUSE_MS:
            ready[j] *= pause
    return ready
