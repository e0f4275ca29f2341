"""Times, spans, frame rates and timecode. Inside, time is whole milliseconds; rates are fractions."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from reelnotes.problems import BadTime

MS_PER_SECOND = 1000
MS_PER_MINUTE = 60_000
MS_PER_HOUR = 3_600_000

_CLOCK = re.compile(r"(?:(?P<h>[0-9]{1,6}):)?(?P<m>[0-9]{1,6}):(?P<s>[0-9]{1,2})(?:[.,](?P<f>[0-9]{1,3}))?")
_SECONDS = re.compile(r"(?P<s>[0-9]{1,9})(?:\.(?P<f>[0-9]{1,3}))?")
_SEXAGESIMAL = 60
_FASTEST = 240


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """Start and end in programme time, whole milliseconds; the end is not part of it."""

    start_ms: int
    end_ms: int

    def __post_init__(self) -> None:
        """Hold 0 ≤ start ≤ end."""
        if not 0 <= self.start_ms <= self.end_ms:
            raise ValueError(f"no span: {self.start_ms} to {self.end_ms} ms")

    @property
    def length_ms(self) -> int:
        """Length in milliseconds."""
        return self.end_ms - self.start_ms

    def overlaps(self, other: Span) -> bool:
        """Tell whether the two share any time."""
        return self.start_ms < other.end_ms and other.start_ms < self.end_ms


def parse_time(text: str) -> int:
    """Read `9:12`, `9:12.500`, `1:02:03` or `552.5` as milliseconds.

    In the colon form seconds, and minutes behind hours, must be below 60. Raises `BadTime`.
    """
    stripped = text.strip()
    if match := _CLOCK.fullmatch(stripped):
        hours, minutes, seconds = int(match["h"] or 0), int(match["m"]), int(match["s"])
        if seconds < _SEXAGESIMAL and (match["h"] is None or minutes < _SEXAGESIMAL):
            return hours * MS_PER_HOUR + minutes * MS_PER_MINUTE + seconds * 1000 + _fraction_ms(match["f"])
    elif match := _SECONDS.fullmatch(stripped):
        return int(match["s"]) * 1000 + _fraction_ms(match["f"])
    raise BadTime(text)


def parse_span(text: str) -> Span:
    """Read `9:12-9:41` as a span. Raises `BadTime`, also for an end that is not after the start."""
    start, dash, end = text.replace("–", "-").partition("-")
    if not dash:
        raise BadTime(text, "9:12-9:41")
    start_ms, end_ms = parse_time(start), parse_time(end)
    if end_ms <= start_ms:
        raise BadTime(text, "9:12-9:41, the end after the start")
    return Span(start_ms, end_ms)


def _fraction_ms(digits: str | None) -> int:
    return int((digits or "0").ljust(3, "0"))


def format_time(ms: int) -> str:
    """Write as people read it: `9:12`, `1:02:03`; parts of a second are dropped, never rounded up."""
    seconds = ms // MS_PER_SECOND
    hours, rest = divmod(seconds, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"


def typed_time(ms: int) -> str:
    """Write a time as it is typed (see `parse_time`): `9:12`, with milliseconds only where there are any."""
    part = ms % MS_PER_SECOND
    return f"{format_time(ms)}.{part:03d}" if part else format_time(ms)


def typed_span(span: Span) -> str:
    """Write a span as it is typed: `9:12-9:41`."""
    return f"{typed_time(span.start_ms)}-{typed_time(span.end_ms)}"


def moment(address: str, ms: int) -> str:
    """Give a published address with a moment in it, as W3C Media Fragments URI 1.0 writes it (`#t=552`).

    An address with `{s}` in it has its own way of naming a time: the seconds go there. Empty without one.
    """
    if not address:
        return ""
    seconds = str(ms // MS_PER_SECOND)
    return address.replace("{s}", seconds) if "{s}" in address else f"{address}#t={seconds}"


def beginning(address: str) -> str:
    """Give a published address without a moment in it; where one has to stand in it, the start."""
    return address.replace("{s}", "0")


def format_exact(ms: int, decimal_mark: str = ".") -> str:
    """Write `HH:MM:SS.mmm`, the form of WebVTT (full stop) and of SubRip (comma)."""
    hours, rest = divmod(ms, MS_PER_HOUR)
    minutes, rest = divmod(rest, MS_PER_MINUTE)
    return f"{hours:02d}:{minutes:02d}:{rest // 1000:02d}{decimal_mark}{rest % 1000:03d}"


def iso_duration(ms: int) -> str:
    """Write an ISO 8601 duration such as `PT1H30M`; minutes always stand behind the T."""
    hours, rest = divmod(ms, MS_PER_HOUR)
    minutes, rest = divmod(rest, MS_PER_MINUTE)
    seconds = (
        f"{rest // 1000}.{rest % 1000:03d}".rstrip("0").rstrip(".") if rest % 1000 else str(rest // 1000)
    )
    parts = (
        (f"{hours}H" if hours else "") + (f"{minutes}M" if minutes else "") + (f"{seconds}S" if rest else "")
    )
    return f"PT{parts or '0S'}"


def seconds(ms: int) -> float:
    """Give seconds for the edges (JSON, schema.org); exact to the millisecond."""
    return ms / MS_PER_SECOND


# --- frames and timecode -------------------------------------------------------------------------

#: Rates for which SMPTE ST 12-1 defines drop-frame labels, and the labels dropped each minute.
_DROPPED = {Fraction(30000, 1001): 2, Fraction(60000, 1001): 4}
_TIMECODE = re.compile(r"([0-9]{2}):([0-9]{2}):([0-9]{2})([:;])([0-9]{2})")


def parse_timecode(label: str, rate: Fraction, *, drop: bool = False) -> int:
    """Turn an `HH:MM:SS:FF` label into a frame number.

    A semicolon before the frames, or `drop`, means drop-frame, which exists only at 30000/1001 and
    60000/1001 (SMPTE ST 12-1). Raises `BadTime` for a label that does not exist, such as `00:01:00;00`.
    """
    match = _TIMECODE.fullmatch(label.strip())
    if not match:
        raise BadTime(label, "HH:MM:SS:FF")
    hours, minutes, secs, frames = (int(match[i]) for i in (1, 2, 3, 5))
    base = -(-rate.numerator // rate.denominator)
    if minutes >= _SEXAGESIMAL or secs >= _SEXAGESIMAL or frames >= base:
        raise BadTime(label, f"HH:MM:SS:FF below {base} frames a second")
    number = (hours * 3600 + minutes * 60 + secs) * base + frames
    if not (drop or match[4] == ";"):
        return number
    dropped = _DROPPED.get(rate)
    if dropped is None:
        raise BadTime(label, "HH:MM:SS:FF; drop-frame exists only at 29.97 and 59.94 frames a second")
    if secs == 0 and frames < dropped and minutes % 10:
        raise BadTime(label, "a label that exists: drop-frame leaves this one out")
    total_minutes = 60 * hours + minutes
    return number - dropped * (total_minutes - total_minutes // 10)


def format_timecode(frame: int, rate: Fraction, *, drop: bool = False) -> str:
    """Turn a frame number into its label; the inverse of `parse_timecode`."""
    base = -(-rate.numerator // rate.denominator)
    if drop:
        dropped = _DROPPED[rate]
        per_minute, per_ten = base * 60 - dropped, base * 600 - 9 * dropped
        tens, rest = divmod(frame, per_ten)
        frame += 9 * dropped * tens
        if rest >= dropped:
            frame += dropped * ((rest - dropped) // per_minute)
    total, frames = divmod(frame, base)
    minutes, secs = divmod(total, 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}:{secs:02d}{';' if drop else ':'}{frames:02d}"


def parse_rate(text: str) -> Fraction:
    """Read `25`, `29.97` or `30000/1001` as frames a second, from 1 to 240. Raises `BadTime`."""
    try:
        rate = Fraction(text.strip())
    except (ValueError, ZeroDivisionError):
        rate = Fraction(0)
    if not 1 <= rate <= _FASTEST:
        raise BadTime(text, f"25, 29.97 or 30000/1001, {_FASTEST} at most", "a frame rate")
    return rate


def frames_to_ms(frames: int, rate: Fraction) -> int:
    """Turn a count of frames into milliseconds, to the nearest."""
    return round(Fraction(frames * MS_PER_SECOND) / rate)


def ms_to_frames(ms: int, rate: Fraction) -> int:
    """Turn milliseconds into a count of frames, to the nearest."""
    return round(Fraction(ms, MS_PER_SECOND) * rate)
