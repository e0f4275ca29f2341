"""Captions as IMSC text or other TTML (W3C): paragraphs with a begin and an end inside the times above them.

Read with expat, which knows the line of everything and gives what stands before a break. Styles, regions and
pictures are not asked for: this is about what was said and when.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction

from reelnotes.model import Cue
from reelnotes.problems import Problem
from reelnotes.read.cue_times import Spoken, nothing_timed, settle
from reelnotes.read.numbered import NumberedLines
from reelnotes.records import frozen
from reelnotes.store import SourceText
from reelnotes.timing import MS_PER_SECOND

#: Elements that hold no speech, whatever text stands inside.
_SILENT = frozenset({"head", "metadata", "title", "desc", "copyright", "agent", "name"})
_CLOCK = re.compile(r"(\d{2,}):(\d\d):(\d\d)(?:\.(\d+)|:(\d{2,})(?:\.(\d+))?)?")
_OFFSET = re.compile(r"(\d+(?:\.\d+)?)(h|m|s|ms|f|t)")
_SECONDS = {"h": Fraction(3600), "m": Fraction(60), "s": Fraction(1), "ms": Fraction(1, 1000)}
_WANTED = '<p begin="00:00:01.000" end="00:00:03.500">'


@frozen
class Rates:
    """What frames, their parts and ticks last: frames a second, parts a frame, ticks a second."""

    frame: Fraction = Fraction(30)
    sub_frames: int = 1
    tick: Fraction = Fraction(1)


def time_of(text: str, rates: Rates) -> Fraction | None:
    """Turn a time expression of TTML into seconds; None where it is none.

    `00:00:10.5`, `00:00:10:12` (frames), and offsets such as `10.5s`, `250ms`, `12f`, `25000000t`. Minutes
    and seconds are below 60, frames below the frame rate rounded up.
    """
    stripped = text.strip()
    if match := _OFFSET.fullmatch(stripped):
        amount = Fraction(match[1])
        if match[2] == "f":
            return amount / rates.frame
        return amount / rates.tick if match[2] == "t" else amount * _SECONDS[match[2]]
    match = _CLOCK.fullmatch(stripped)
    if not match or int(match[2]) > 59 or int(match[3]) > 59:  # noqa: PLR2004 - sixty is sixty
        return None
    whole = Fraction(int(match[1]) * 3600 + int(match[2]) * 60 + int(match[3]))
    if match[5] is None:
        return whole + Fraction(f"0.{match[4] or 0}")
    frames = Fraction(int(match[5])) + Fraction(int(match[6] or 0), rates.sub_frames)
    return whole + frames / rates.frame if int(match[5]) < -(-rates.frame // 1) else None


@dataclass(slots=True)
class _Open:
    """An element that is open: its interval in seconds (no end: as long as what is above), and its words."""

    name: str
    begin: Fraction
    end: Fraction | None
    line: int
    timed: bool
    silent: bool
    words: list[str] = field(default_factory=list)


def read_imsc(source: SourceText) -> tuple[tuple[Cue, ...], list[Problem]]:
    """Read IMSC or other TTML captions.

    Times of a paragraph, or of a span with times of its own, lie within those of the elements around it. A
    file that breaks off gives what stands before the break.
    """
    from xml.parsers import expat

    numbered = NumberedLines.of(source)
    reader = _Reader(numbered)
    # The text is decoded already: what the declaration says of its encoding does not count any more.
    parser = expat.ParserCreate(encoding="utf-8", namespace_separator=" ")
    parser.StartElementHandler = lambda name, members: reader.start(name, members, parser.CurrentLineNumber)
    parser.EndElementHandler = lambda _name: reader.end()
    parser.CharacterDataHandler = reader.text
    parser.EntityDeclHandler = reader.entity
    try:
        parser.Parse(source.text.encode(), True)  # noqa: FBT003 - expat takes it by place
    except (expat.ExpatError, _EntityError) as error:
        line = min(parser.CurrentLineNumber, len(numbered.lines))
        reason = (
            "declares entities, which captions never need"
            if isinstance(error, _EntityError)
            else (expat.errors.messages.get(getattr(error, "code", 0), "") or "breaks off")
        )
        message = f"is not XML from here on ({reason}); what stands above was read"
        reader.problems.append(numbered.problem("cue-line", line, message))
    if not reader.spoken:
        return (), [*reader.problems, nothing_timed(numbered, _WANTED)]
    cues, more = settle(reader.spoken, numbered)
    return cues, reader.problems + more


class _EntityError(Exception):
    """An entity is declared: a way to make a small file fill the memory."""


class _Reader:
    """Collects cues while the parser walks through the document."""

    def __init__(self, numbered: NumberedLines) -> None:
        self.numbered = numbered
        self.rates = Rates()
        self.open: list[_Open] = []
        self.spoken: list[Spoken] = []
        self.problems: list[Problem] = []

    def entity(self, *_: object) -> None:
        """Stop at a declared entity."""
        raise _EntityError

    def start(self, name: str, members: dict[str, str], line: int) -> None:
        """Open an element."""
        plain = name.rpartition(" ")[2]
        if plain == "tt":
            self.rates = self._rates(members, line)
        above = self.open[-1] if self.open else None
        if plain == "br" and above:
            above.words.append(" ")
        begin, end, timed = self._interval(members, line, above)
        silent = plain in _SILENT or bool(above and above.silent)
        self.open.append(_Open(plain, begin, end, line, timed, silent))

    def end(self) -> None:
        """Close an element: a paragraph and a span with times are cues, other words go to what is above."""
        done = self.open.pop()
        words = "".join(done.words)
        if done.silent:
            return
        if done.name == "p" or (done.name == "span" and done.timed):
            if words.strip():
                self._cue(done, words)
        elif self.open:
            self.open[-1].words.append(words)

    def text(self, text: str) -> None:
        """Take words that stand in a paragraph or a span; white space between elements is none."""
        if self.open and (text.strip() or self.open[-1].name in {"p", "span"}):
            self.open[-1].words.append(text)

    def _cue(self, done: _Open, words: str) -> None:
        if done.end is None and not done.timed and not any(above.timed for above in self.open):
            message = f"the words have no time such as {_WANTED}; they were placed by their neighbours"
            self.problems.append(self.numbered.problem("cue-time", done.line, message))
            self.spoken.append(Spoken(done.line, words=[words]))
            return
        end = None if done.end is None else round(done.end * MS_PER_SECOND)
        self.spoken.append(Spoken(done.line, round(done.begin * MS_PER_SECOND), end, [words]))

    def _interval(
        self, members: dict[str, str], line: int, above: _Open | None
    ) -> tuple[Fraction, Fraction | None, bool]:
        """Give begin and end in seconds, and whether the element has times of its own."""
        base = above.begin if above else Fraction(0)
        limit = above.end if above else None
        times = {}
        for name in ("begin", "end", "dur"):
            if name in members:
                times[name] = time_of(members[name], self.rates)
                if times[name] is None:
                    message = f'{name}="{members[name]}" is no time of TTML; the cue was placed without it'
                    self.problems.append(self.numbered.problem("cue-time", line, message))
        begin = base + (times.get("begin") or 0)
        ends = [limit] if limit is not None else []
        if (end := times.get("end")) is not None:
            ends.append(base + end)
        if (length := times.get("dur")) is not None:
            ends.append(begin + length)
        return begin, min(ends, default=None), any(value is not None for value in times.values())

    def _rates(self, members: dict[str, str], line: int) -> Rates:
        """Read the frame and tick rates of the root element."""
        given = {name.rpartition(" ")[2]: value for name, value in members.items() if " " in name}
        try:
            frame = Fraction(given.get("frameRate", "30"))
            if "frameRateMultiplier" in given:
                top, bottom = given["frameRateMultiplier"].split()
                frame *= Fraction(int(top), int(bottom))
            subs = int(given.get("subFrameRate", "1"))
            usual = frame * subs if "frameRate" in given else Fraction(1)
            tick = Fraction(given["tickRate"]) if "tickRate" in given else usual
            if frame <= 0 or subs <= 0 or tick <= 0:
                raise ValueError  # noqa: TRY301 - told below like any other
        except (ValueError, ZeroDivisionError):
            message = (
                "the frame or tick rate is no rate; times in frames and ticks were read at the usual ones"
            )
            self.problems.append(self.numbered.problem("cue-form", line, message))
            return Rates()
        return Rates(frame, subs, tick)
