"""The lines of a CMX 3600 cut list, taken apart. Columns as that form has them, any white space between."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from reelnotes.problems import Problem
from reelnotes.read.numbered import NumberedLines

Track = Literal["video", "audio", "both"]

_LABEL = r"[0-9]{2}:[0-9]{2}:[0-9]{2}[:;][0-9]{2}"
_EVENT = re.compile(
    r"\s*([0-9]{1,6}[A-Z]?)\s+(\S.*?)\s+([A-Z0-9/]+)\s+(C|D|W[0-9]{3}|K\s?[BO]?)(?:\s+([0-9]{1,3})(?:\s+\(?F\)?)?)?"
    rf"\s+({_LABEL})\s+({_LABEL})\s+({_LABEL})\s+({_LABEL})\s*",
    re.IGNORECASE,
)
_MOTION = re.compile(
    rf"\s*M2\s+(\S.*?)\s+([-+]?[0-9]{{1,4}}(?:\.[0-9]{{1,4}})?)\s+({_LABEL})\s*", re.IGNORECASE
)
_NAMED = re.compile(r"\s*\*?\s*(FROM CLIP NAME|TO CLIP NAME|SOURCE FILE)\s*:\s*(.*?)\s*", re.IGNORECASE)
_MODE = re.compile(r"\s*FCM\s*:\s*((?:NON[- ]?)?)DROP[- ]?FRAME\s*", re.IGNORECASE)
#: Statements that place nothing in the programme. All but TITLE and the comment are from memory.
_REMARK = re.compile(r"\s*(?:TITLE\s*:|\*|>>>|SPLIT\s*:|AUD\s|GPI\s|[A-Z][A-Z ]* REEL\s*:)", re.IGNORECASE)

#: The form has 76 columns; reels of 128 characters occur. Beyond this a line is something else.
_LONGEST = 1000

#: Names in the source column that stand for no camera file.
BLACK = frozenset({"BL", "BLACK"})
NO_SOURCE = BLACK | {"AX", "BARS", "NONE"}


@dataclass(slots=True)
class EdlLine:
    """One event line. `labels` are source in and out, record in and out; `motion` frames a second, of M2.

    `name` is the clip that a comment names; `drop` says that its labels are drop-frame.
    """

    line: int
    number: str
    source: str
    track: Track | None
    transition: str
    labels: tuple[str, str, str, str]
    drop: bool
    name: str = ""
    motion: Fraction | None = None

    @property
    def enters(self) -> bool:
        """Tell whether it comes in over what stood there: by a dissolve, a wipe or as a key."""
        return self.transition not in {"C", "KB"}


@dataclass(slots=True)
class Edl:
    """All event lines in the file's order; lines with one number form one event."""

    events: list[EdlLine] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    def group(self) -> list[EdlLine]:
        """Give the lines of the event that was read last."""
        lines = []
        for event in reversed(self.events):
            if event.number != self.events[-1].number:
                break
            lines.append(event)
        return lines


def parse_edl(numbered: NumberedLines) -> Edl:
    """Take a cut list apart. A line that is no event, comment or statement of the form is a problem."""
    edl = Edl()
    drop = False
    for number, line in enumerate(numbered.lines, 1):
        if not line.strip():
            continue
        if len(line) > _LONGEST and not _REMARK.match(line):
            message = "is too long for a line of a CMX 3600 cut list and was left out"
            edl.problems.append(numbered.problem("cut-line", number, message))
        elif match := _EVENT.fullmatch(line):
            _event(edl, match, number, numbered, drop=drop)
        elif match := _MODE.fullmatch(line):
            drop = not match[1]
        elif match := _NAMED.fullmatch(line):
            _name(edl, match[1].upper(), match[2])
        elif match := _MOTION.fullmatch(line):
            if not _set_motion(edl, match):
                edl.problems.append(numbered.problem("cut-line", number, "a speed stands before any event"))
        elif not _REMARK.match(line):
            message = "is no event of a CMX 3600 cut list and was left out"
            edl.problems.append(numbered.problem("cut-line", number, message))
    return edl


def _event(edl: Edl, match: re.Match[str], number: int, numbered: NumberedLines, *, drop: bool) -> None:
    channels = match[3].upper()
    track = _track(channels)
    if track is None and channels != "NONE":
        message = f"edits the channels {channels}, which are neither picture nor sound; it was left out"
        edl.problems.append(numbered.problem("cut-line", number, message))
        return
    transition = match[4].upper().replace(" ", "")
    labels = (match[6], match[7], match[8], match[9])
    edl.events.append(EdlLine(number, match[1], match[2], track, transition, labels, drop))


def _track(channels: str) -> Track | None:
    """Read the channel column: V, A, A2, AA, B, AA/V; None for NONE, which edits nothing."""
    if not re.fullmatch(r"B|[AV]{1,2}[0-9]{0,2}(?:/V[0-9]?)?", channels):
        return None
    if channels == "B" or ("A" in channels and "V" in channels):
        return "both"
    return "video" if "V" in channels else "audio"


def _name(edl: Edl, what: str, name: str) -> None:
    """Give a clip's name to the line of the event that it belongs to."""
    if not edl.events:
        return
    lines = edl.group()
    if what == "SOURCE FILE":
        target = [event for event in lines if not event.name][:1]
        name = re.split(r"[/\\]", name)[-1]
    else:
        target = [event for event in lines if event.enters == (what == "TO CLIP NAME")]
    for event in target:
        event.name = name


def _set_motion(edl: Edl, match: re.Match[str]) -> bool:
    """Give a speed to the line that starts at its label, else to that of its source, else to the last one."""
    if not edl.events:
        return False
    lines = edl.group()
    starting = [event for event in lines if event.labels[0] == match[3]]
    of_source = [event for event in lines if event.source == match[1]]
    (starting or of_source or lines)[0].motion = Fraction(match[2])
    return True
