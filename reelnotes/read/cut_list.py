"""The cut list: which part of which clip stands where in the programme, from CMX 3600 or OpenTimelineIO."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from reelnotes.model import Clip, CutEvent
from reelnotes.problems import BadTime, Problem
from reelnotes.read.cut_sources import Shown, relate
from reelnotes.read.edl import BLACK, NO_SOURCE, Edl, EdlLine, parse_edl
from reelnotes.read.frame_rates import base_of, drops, known_rate, split_label, work_out_rate
from reelnotes.read.numbered import NumberedLines
from reelnotes.records import frozen
from reelnotes.store import SourceText
from reelnotes.timing import Span, frames_to_ms, parse_timecode

#: A programme starts at most so long before its first event, or so long before a full hour (leader, bars).
_GAP_S, _LEADER_S = 60, 120
_NEAR = Fraction(1, 10)

#: Source in and out, record in and out, in frames.
Counts = tuple[int, int, int, int]


def read_cut_list(
    source: SourceText, rate: Fraction | None, clips: Sequence[Clip]
) -> tuple[tuple[CutEvent, ...], list[Problem]]:
    """Read a cut list.

    `rate` is in frames a second; None lets it be worked out from a CMX 3600 list, which is reported (an OTIO
    timeline carries its own). The programme starts at the full hour at or before the first event. `clips`
    tell whether source times count from the clip's first frame or are times of day.
    """
    if source.name.casefold().endswith(".otio") or source.text.lstrip().startswith("{"):
        from reelnotes.read.otio import read_otio

        return read_otio(source, clips)
    numbered = NumberedLines.of(source)
    edl = parse_edl(numbered)
    if not edl.events:
        message = "holds no events of a CMX 3600 cut list"
        return (), [*edl.problems, Problem("cut-line", message, source.name)]
    chosen, problems = chosen_rate(edl, rate, numbered)
    frames = _frames(edl, chosen, numbered)
    origin, more = _origin(edl, frames, chosen, numbered)
    programme = _Programme(numbered, chosen, origin)
    shown = []
    for event in _lasting(edl, frames):
        seen, doubts = programme.shown(event, frames[event.line])
        shown += [seen] if seen else []
        more += doubts
    events, others = relate(shown, clips, numbered)
    return events, edl.problems + problems + more + others


def chosen_rate(edl: Edl, given: Fraction | None, numbered: NumberedLines) -> tuple[Fraction, list[Problem]]:
    """Choose the rate: the given one, unless the labels prove it wrong."""
    drop = any(event.drop or ";" in "".join(event.labels) for event in edl.events)
    cuts = [
        [split_label(label) for label in event.labels]
        for event in edl.events
        if event.motion is None and event.source.upper() not in NO_SOURCE
    ]
    labels = cuts or [[split_label(label) for label in event.labels] for event in edl.events]
    motions = [event.motion for event in edl.events if event.motion is not None]
    worked_out = work_out_rate(labels, motions, drop=drop)
    if given is None:
        message = f"the frame rate is not in the list; {_plain(worked_out)} was taken, as its labels count"
        first = edl.events[0].line
        return worked_out, [
            numbered.problem("rate-assumed", first, f"{message}; set frame_rate in episode.toml")
        ]
    rate = known_rate(given)
    for event in edl.events:
        highest = max(split_label(label)[1] for label in event.labels)
        if highest >= base_of(rate):
            message = f"frame {highest} does not exist at {_plain(rate)}; {_plain(worked_out)} was taken"
            return worked_out, [numbered.problem("rate-assumed", event.line, message)]
    if drop and not drops(rate):
        message = f"drop-frame labels do not exist at {_plain(rate)}; they were read as non-drop"
        return rate, [Problem("cut-line", message, numbered.name)]
    return rate, []


def _plain(rate: Fraction) -> str:
    text = str(rate.numerator) if rate.denominator == 1 else f"{rate.numerator}/{rate.denominator}"
    return f"{text} frames a second"


def _frames(edl: Edl, rate: Fraction, numbered: NumberedLines) -> dict[int, Counts]:
    """Turn the labels of every event line into frames; a line with a label that does not exist drops out."""
    frames = {}
    for event in edl.events:
        labels = event.labels if drops(rate) else [label.replace(";", ":") for label in event.labels]
        try:
            counts = [parse_timecode(label, rate, drop=event.drop and drops(rate)) for label in labels]
        except BadTime as error:
            edl.problems.append(numbered.problem("cut-line", event.line, f"{error} The event was left out"))
            continue
        frames[event.line] = (counts[0], counts[1], counts[2], counts[3])
    return frames


def _lasting(edl: Edl, frames: dict[int, Counts]) -> list[EdlLine]:
    """Leave out the lines that place nothing: without channels, and cuts of no length before a dissolve."""
    return [
        event
        for event in edl.events
        if event.line in frames and event.track and frames[event.line][2] != frames[event.line][3]
    ]


def _origin(
    edl: Edl, frames: dict[int, Counts], rate: Fraction, numbered: NumberedLines
) -> tuple[int, list[Problem]]:
    """Give the frame at which the programme starts: a full hour, or else the first event."""
    placed = [event for event in edl.events if event.line in frames]
    if not placed:
        return 0, []
    first = min(placed, key=lambda event: frames[event.line][2])
    hour, past = divmod(split_label(first.labels[2])[0], 3600)
    if past <= _GAP_S:
        return _hour_frame(hour, rate, first), []
    if 3600 - past <= _LEADER_S:
        following = _hour_frame(hour + 1, rate, first)
        if max(counts[3] for counts in frames.values()) > following:
            return following, []
    message = "the programme starts on no full hour; its first event was taken as its start"
    return frames[first.line][2], [numbered.problem("cut-start", first.line, message, "note")]


def start_frame(edl: Edl, rate: Fraction, numbered: NumberedLines) -> int:
    """Give the frame at which the programme of a list starts, as its labels count."""
    return _origin(edl, _frames(edl, rate, numbered), rate, numbered)[0]


def _hour_frame(hour: int, rate: Fraction, event: EdlLine) -> int:
    dropping = drops(rate) and (event.drop or ";" in event.labels[2])
    return parse_timecode(f"{hour:02d}:00:00:00", rate, drop=dropping)


@frozen
class _Programme:
    """What turns event lines into what they show: the rate, and the frame at which the programme starts."""

    numbered: NumberedLines
    rate: Fraction
    origin: int

    def shown(self, event: EdlLine, counts: Counts) -> tuple[Shown | None, list[Problem]]:
        """Turn an event line into what it shows; None where it shows nothing of the programme."""
        source_in, source_out, record_in, record_out = counts
        if record_out < record_in:
            return None, [
                self.numbered.problem("cut-line", event.line, "ends before it begins; it was left out")
            ]
        if record_out <= self.origin:
            message = "lies before the programme's start and was left out"
            return None, [self.numbered.problem("cut-line", event.line, message, "note")]
        length = record_out - record_in
        start = max(record_in - self.origin, 0)
        black = event.source.upper() in BLACK
        speed, problems = (Fraction(1), []) if black else self._speed(event, source_out - source_in, length)
        return Shown(
            number=event.number,
            names=() if black else _names(event),
            record=Span(frames_to_ms(start, self.rate), frames_to_ms(record_out - self.origin, self.rate)),
            track=event.track or "video",
            first=Fraction(source_in),
            last=source_in + length * speed,
            speed=speed,
            rate=self.rate,
            drop=event.drop and drops(self.rate),
            line=event.line,
        ), problems

    def _speed(self, event: EdlLine, taken: int, length: int) -> tuple[Fraction, list[Problem]]:
        """Give the speed of an event: of its M2 line, or of its two lengths where they differ."""
        base = base_of(self.rate)
        if event.motion is not None:
            # 29.97 or 30 frames a second of a 30-frame list both mean: as filmed.
            return (Fraction(1) if abs(event.motion - base) < _NEAR else event.motion / base), []
        if abs(taken - length) <= 1:
            return Fraction(1), []
        speed = Fraction(taken, length)
        if event.source.upper() in NO_SOURCE:
            return speed, []
        message = f"takes {taken} frames of its source for {length} of the programme and no M2 line says why"
        message += f"; a speed of {float(speed):.3g} was taken"
        return speed, [self.numbered.problem("cut-line", event.line, message, "note")]


def _names(event: EdlLine) -> tuple[str, ...]:
    reel = () if event.source.upper() in NO_SOURCE else (event.source,)
    # Some writers mark the name of a held frame.
    named = event.name.removesuffix(" FF") if event.motion == 0 else event.name
    return (named, *reel) if named else reel
