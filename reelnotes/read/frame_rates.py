"""The frame rate of a cut list: its form carries none, so it is given, or worked out from the labels."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from fractions import Fraction

#: Rates that cameras and editors use, and the labels a second that each counts.
KNOWN_RATES = tuple(
    Fraction(top, bottom)
    for top, bottom in (
        (24000, 1001), (24, 1), (25, 1), (30000, 1001), (30, 1), (48, 1),
        (50, 1), (60000, 1001), (60, 1), (100, 1), (120000, 1001), (120, 1),
    )
)  # fmt: skip
_BASES = (24, 25, 30, 48, 50, 60, 100)
_NEAR = Fraction(1, 100)
#: Drop-frame labels exist only here (SMPTE ST 12-1).
_DROP_RATES = {30: Fraction(30000, 1001), 60: Fraction(60000, 1001)}

#: A label taken apart: seconds since 0 hours, and frames.
Label = tuple[int, int]


def base_of(rate: Fraction) -> int:
    """Give the labels a second that a rate counts: 30 for 29.97."""
    return -(-rate.numerator // rate.denominator)


def known_rate(rate: Fraction) -> Fraction:
    """Give the rate that was meant by a rounded one: `29.97` means 30000/1001."""
    nearest = min(KNOWN_RATES, key=lambda known: abs(known - rate))
    return nearest if abs(nearest - rate) < _NEAR else rate


def drops(rate: Fraction) -> bool:
    """Tell whether drop-frame labels exist at a rate."""
    return rate in _DROP_RATES.values()


def split_label(label: str) -> Label:
    """Take `HH:MM:SS:FF` apart into seconds and frames."""
    hours, minutes, seconds, frames = (int(part) for part in label.replace(";", ":").split(":"))
    return hours * 3600 + minutes * 60 + seconds, frames


def work_out_rate(
    cuts: Iterable[Sequence[Label]], motions: Iterable[Fraction] = (), *, drop: bool
) -> Fraction:
    """Work out the rate from plain cuts, each as source in and out, record in and out.

    A cut is as long in the source as in the programme. Where its whole seconds differ between the two, the
    difference in frames tells how many make a second: `(1 s, 5) = (2 s, 5 - base)`. Most such votes win.
    Without any, `motions` (speeds in frames a second) that are halves or wholes of a rate decide, and at
    last the highest frame number seen, which is the least certain. Drop-frame labels mean 30000/1001, or
    60000/1001 above frame 29.
    """
    votes: Counter[int] = Counter()
    highest = 0
    for labels in cuts:
        highest = max(highest, *(frames for _, frames in labels))
        (source_in, source_out, record_in, record_out) = labels
        seconds = (source_out[0] - source_in[0]) - (record_out[0] - record_in[0])
        frames = (record_out[1] - record_in[1]) - (source_out[1] - source_in[1])
        if seconds and frames % seconds == 0:
            votes[frames // seconds] += 1
    fitting = [base for base in _BASES if base > highest]
    if not any(base in votes for base in fitting):
        votes.update(base for motion in motions for base in fitting if motion and 2 * motion % base == 0)
    base = max(fitting, key=votes.__getitem__, default=_BASES[-1])
    if drop:
        return _DROP_RATES[30 if highest < 30 else 60]  # noqa: PLR2004 - the highest label at 30 is 29
    return Fraction(base)
