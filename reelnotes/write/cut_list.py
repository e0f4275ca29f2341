"""A cut list as CMX 3600: which part of which clip stands where in the programme.

Columns after the form's published description: event 3 characters, two spaces, reel 8, a space, channels 4,
two spaces, transition 4, a space, operand 3, a space, four labels of 11 characters. The form carries no frame
rate; drop-frame labels tell 30000/1001 and 60000/1001.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from reelnotes.model import CutEvent
from reelnotes.timing import format_timecode, ms_to_frames
from reelnotes.write.plain import one_line

_REEL_CHARS = 8
_NO_REEL, _BLACK = "AX", "BL"
_CHANNELS = {"video": "V", "audio": "A", "both": "B"}
_HOUR_S = 3600
_DROP_RATES = frozenset({Fraction(30000, 1001), Fraction(60000, 1001)})
#: Names that the form keeps for what is no clip.
_TAKEN_NAMES = frozenset({_NO_REEL, _BLACK, "BLACK", "BARS", "NONE"})


def cut_list_edl(title: str, events: Sequence[CutEvent], rate: Fraction) -> str:
    """Write events as a CMX 3600 list that starts at one hour, at `rate` frames a second.

    At 30000/1001 and 60000/1001 labels are drop-frame. Source times count from each clip's first frame. An
    event whose source times are not known is written without its clip, which a remark names. A speed other
    than that of filming stands in an M2 line, in frames a second; 0 is a held frame.
    """
    drop = rate in _DROP_RATES
    reels = _reels(event.clip for event in events if event.clip)
    start = _HOUR_S * -(-rate.numerator // rate.denominator)
    if drop:
        # One hour of drop-frame labels leaves 108 out at 30, 216 at 60 (SMPTE ST 12-1).
        start -= start // 1000
    lines = [f"TITLE: {one_line(title) or 'CUT LIST'}", f"FCM: {'' if drop else 'NON-'}DROP FRAME", ""]
    for number, event in enumerate(sorted(events, key=lambda e: e.record.start_ms), start=1):
        lines += _event_lines(number, event, reels, rate, start)
    return "\n".join(lines) + "\n"


def _event_lines(
    number: int, event: CutEvent, reels: dict[str, str], rate: Fraction, start: int
) -> Iterator[str]:
    """Write an event with what belongs to it."""
    low, high = (ms_to_frames(edge, rate) for edge in (event.record.start_ms, event.record.end_ms))
    if low == high:
        return
    reel = _BLACK if event.clip is None else _NO_REEL if event.source is None else reels[event.clip]
    first, last = _source(event, high - low, rate)
    labels = " ".join(
        format_timecode(frame, rate, drop=rate in _DROP_RATES)
        for frame in (first, last, start + low, start + high)
    )
    yield f"{number:03d}  {reel:<8} {_CHANNELS[event.track]:<4}  {'C':<4} {'':<3} {labels}"
    if event.clip is None:
        return
    if event.source is None:
        yield f"* SOURCE TIMES NOT KNOWN: {one_line(event.clip)}"
        return
    if event.speed != 1:
        base = -(-rate.numerator // rate.denominator)
        # Readers of M2 lines want colons here; what kind of labels they are, FCM has said.
        at = format_timecode(first, rate, drop=rate in _DROP_RATES).replace(";", ":")
        yield f"M2   {reel:<8} {float(event.speed * base):08.4f} {at:>20}"
    yield f"* FROM CLIP NAME: {one_line(event.clip)}"


def _source(event: CutEvent, length: int, rate: Fraction) -> tuple[int, int]:
    """Give the first and last source frame as the form has them.

    The length in the source is as much as runs by at the event's speed. What runs backwards begins at its
    end.
    """
    if event.source is None:
        return 0, length
    first = ms_to_frames(event.source.end_ms if event.speed < 0 else event.source.start_ms, rate)
    return first, first + round(length * abs(event.speed))


def _reels(clips: Iterable[str]) -> dict[str, str]:
    """Give each clip a reel name of eight characters at most, none twice."""
    reels: dict[str, str] = {}
    for clip in clips:
        if clip in reels:
            continue
        plain = re.sub(r"[^A-Z0-9]", "", clip.rpartition(".")[0].upper() or clip.upper())[:_REEL_CHARS]
        name, number = plain or "CLIP", 1
        while name in _TAKEN_NAMES or name in reels.values():
            number += 1
            name = f"{plain[: _REEL_CHARS - len(str(number))]}{number}"
        reels[clip] = name
    return reels
