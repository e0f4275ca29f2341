"""Which clip an event of the cut list shows, and which part of it, counted from the clip's first frame."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from reelnotes.model import Clip, CutEvent
from reelnotes.problems import Problem, Severity
from reelnotes.read.edl import Track
from reelnotes.read.frame_rates import base_of
from reelnotes.read.numbered import NumberedLines
from reelnotes.timing import MS_PER_SECOND, Span

#: A clip list gives whole seconds, and editors round: so much may a source lie outside its clip.
_SLACK_MS = 2000


@dataclass(slots=True)
class Shown:
    """An event with its source in frames: from `first` on towards `last`, the lesser when it runs backwards.

    `names` are what the clip may be called, best first; `from_start` says that frames count from the clip's
    first one already; `line` is 0 where the file has no lines to show.
    """

    number: str
    names: tuple[str, ...]
    record: Span
    track: Track
    first: Fraction
    last: Fraction
    speed: Fraction
    rate: Fraction
    drop: bool = False
    from_start: bool = False
    line: int = 0


def relate(
    shown: Sequence[Shown], clips: Sequence[Clip], numbered: NumberedLines
) -> tuple[tuple[CutEvent, ...], list[Problem]]:
    """Turn events into those of the model, in order of the programme.

    Source times count from the clip's first frame where all events of the clip then lie inside it; otherwise
    they are the time of day of its camera, and the clip's start is taken off. What fits neither way keeps its
    clip and loses its source, with a problem. A clip that the list does not know keeps its times as they are.
    """
    by_name = _by_name(clips)
    found = [_clip_of(event.names, by_name) for event in shown]
    by_day = {
        clip.name
        for clip in clips
        if not all(
            _fits(event, clip, 0)
            for event, its in zip(shown, found, strict=True)
            if its is clip and not event.from_start
        )
    }
    problems: list[Problem] = []
    events = []
    for event, clip in zip(shown, found, strict=True):
        start = 0
        if clip and clip.name in by_day and not event.from_start:
            start = _day_frames(event, clip)
        source: Span | None = _span(event, start)
        if clip and not _fits(event, clip, start):
            message = f"the source times lie neither inside {clip.name} nor in its time of day"
            problems.append(_problem(event, numbered, message))
            source = None
        name = clip.name if clip else next(iter(event.names), None)
        if name is None:
            source = None
        events.append(CutEvent(event.number, name, event.record, source, event.track, event.speed))
    if clips:
        problems += _strangers(shown, found, numbered)
    return tuple(sorted(events, key=lambda event: event.record.start_ms)), problems


def _by_name(clips: Iterable[Clip]) -> dict[str, Clip]:
    """Clips under their names; without the suffix too, where that leaves no doubt."""
    named = {clip.name.casefold(): clip for clip in clips}
    stems: dict[str, list[Clip]] = {}
    for name, clip in named.items():
        stems.setdefault(name.rpartition(".")[0] or name, []).append(clip)
    return {stem: its[0] for stem, its in stems.items() if len(its) == 1} | named


def _clip_of(names: tuple[str, ...], by_name: dict[str, Clip]) -> Clip | None:
    for name in names:
        folded = name.casefold()
        if clip := by_name.get(folded) or by_name.get(folded.rpartition(".")[0]):
            return clip
    return None


def _day_frames(event: Shown, clip: Clip) -> int:
    """Give the frame that a time-of-day counter shows at the clip's start.

    Drop-frame labels keep to the clock; others count the full base a second and fall behind it at 29.97.
    """
    seconds = clip.start.hour * 3600 + clip.start.minute * 60 + clip.start.second
    return round(seconds * event.rate) if event.drop else seconds * base_of(event.rate)


def _ms(frames: Fraction, rate: Fraction) -> int:
    return round(frames * MS_PER_SECOND / rate)


def _fits(event: Shown, clip: Clip, start: int) -> bool:
    low, high = sorted((event.first, event.last))
    return (
        _ms(low - start, event.rate) >= -_SLACK_MS
        and _ms(high - start, event.rate) <= clip.duration_ms + _SLACK_MS
    )


def _span(event: Shown, start: int) -> Span:
    low, high = sorted((event.first - start, event.last - start))
    return Span(max(0, _ms(low, event.rate)), max(0, _ms(high, event.rate)))


def _strangers(
    shown: Sequence[Shown], found: Sequence[Clip | None], numbered: NumberedLines
) -> list[Problem]:
    """Report once the names that the clip list does not know: stills, most of the time, or a typing error."""
    events = [e for e, clip in zip(shown, found, strict=True) if clip is None and e.names]
    if not events:
        return []
    names = list(dict.fromkeys(event.names[0] for event in events))
    message = f"the clip list does not know {', '.join(names[:5])}{' …' if len(names) > 5 else ''}"  # noqa: PLR2004
    return [_problem(events[0], numbered, message, code="cut-clip")]


def _problem(event: Shown, numbered: NumberedLines, message: str, code: str = "cut-place") -> Problem:
    severity: Severity = "note" if code == "cut-clip" else "warning"
    if event.line:
        return numbered.problem(code, event.line, message, severity)
    return Problem(code, f"event {event.number}: {message}", numbered.name, severity=severity)
