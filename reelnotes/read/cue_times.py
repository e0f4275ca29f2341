"""From what a caption file says to cues in order of time: mending, sorting, and saying so."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from reelnotes.model import Cue
from reelnotes.problems import Problem
from reelnotes.read.cue_words import plain_words
from reelnotes.read.numbered import NumberedLines
from reelnotes.timing import MS_PER_HOUR, MS_PER_MINUTE, MS_PER_SECOND

#: 160 words a minute, the lower end of what the BBC Subtitle Guidelines recommend for captions.
MS_PER_WORD = 375
_SHORTEST_MS = 1000
_SIXTY = 60
#: So many cues, and such a share of them, must repeat a line before captions count as rolling.
_ROLLING_LEAST, _ROLLING_SHARE = 3, 1 / 3

#: `[h:]m:s[.fff]` with the marks that caption files of all regions use; groups h, m, s, fraction.
CLOCK = r"(?:([0-9]{1,6})[:：])?([0-9]{1,6})[:：]([0-9]{1,6})(?:[.,:．，。：]([0-9]*))?"
_clock = re.compile(CLOCK)


@dataclass(slots=True)
class Spoken:
    """A cue as it stands in the file: `words` are its lines; a time that is not given is None."""

    line: int
    start_ms: int | None = None
    end_ms: int | None = None
    words: list[str] = field(default_factory=list)


def clock_ms(hours: str | None, minutes: str, seconds: str, fraction: str | None) -> int | None:
    """Turn the parts of a clock reading into milliseconds; None where a part is out of range.

    Seconds, and minutes behind hours, must be below 60. `5` as the fraction is half a second; digits behind
    the third are dropped.
    """
    if int(seconds) >= _SIXTY or (hours is not None and int(minutes) >= _SIXTY):
        return None
    whole = int(hours or 0) * MS_PER_HOUR + int(minutes) * MS_PER_MINUTE + int(seconds) * MS_PER_SECOND
    return whole + int((fraction or "0")[:3].ljust(3, "0"))


def read_clock(text: str) -> int | None:
    """Turn `0:11`, `1:02:03.5` or `00:01,500` into milliseconds; None where it is no time."""
    match = _clock.fullmatch(text)
    return clock_ms(match[1], match[2], match[3], match[4]) if match else None


def settle(
    spoken: list[Spoken], numbered: NumberedLines, *, until_next: bool = False
) -> tuple[tuple[Cue, ...], list[Problem]]:
    """Give every cue its place, in order of time.

    A cue whose start is not known begins where the one above it ends. One whose end is not known lasts as
    long as its words take at 160 a minute, but never beyond the next start; with `until_next` it always lasts
    to the next start. Wrong order, overlaps, empty cues and rolling captions are reported once a file.
    """
    spoken, problems = _unrolled(spoken, numbered)
    starts, late = _starts(spoken)
    problems += numbered.problem_of_all(
        "cue-order", late, "the cue starts before the one above it; the cues were put in order of time"
    )
    texts = [plain_words(" ".join(cue.words)) for cue in spoken]
    empty = [cue.line for cue, text in zip(spoken, texts, strict=True) if not text]
    problems += numbered.problem_of_all("cue-empty", empty, "the cue holds no words and was left out")
    order = sorted((n for n, text in enumerate(texts) if text), key=starts.__getitem__)
    cues: list[Cue] = []
    following: int | None = None  # the next start that lies later
    above: int | None = None
    for n in reversed(order):
        start, end = starts[n], spoken[n].end_ms
        if above is not None and above > start:
            following = above
        if end is None or end <= start:
            end = _ending(start, following, texts[n], until_next=until_next)
        cues.append(Cue(start, end, texts[n], spoken[n].line))
        above = start
    cues.reverse()
    guessed = {cue.line for cue in spoken if cue.start_ms is None}
    problems += _overlaps([cue for cue in cues if cue.line not in guessed], numbered)
    if not cues:
        problems.append(
            Problem("transcript-empty", "no words with a time were found", numbered.name, severity="error")
        )
    return tuple(cues), problems


def _ending(start: int, following: int | None, text: str, *, until_next: bool) -> int:
    if until_next and following is not None:
        return following
    estimate = start + max(_SHORTEST_MS, (text.count(" ") + 1) * MS_PER_WORD)
    return estimate if following is None else min(estimate, following)


def _starts(spoken: list[Spoken]) -> tuple[list[int], list[int]]:
    """Fill in the starts that are not known; give them all, and the lines where time goes back."""
    starts, late = [], []
    above = reached = 0
    for cue in spoken:
        start = reached if cue.start_ms is None else cue.start_ms
        if start < above:
            late.append(cue.line)
        starts.append(start)
        above, reached = start, max(start, cue.end_ms or 0)
    return starts, late


def _overlaps(cues: list[Cue], numbered: NumberedLines) -> list[Problem]:
    over, reached = [], 0
    for cue in cues:
        if cue.start_ms < reached:
            over.append(cue.line)
        reached = max(reached, cue.end_ms)
    return numbered.problem_of_all(
        "cue-overlap", over, "the cue starts before the one above it has ended", "note"
    )


def _unrolled(spoken: list[Spoken], numbered: NumberedLines) -> tuple[list[Spoken], list[Problem]]:
    """Take out what stands there only because captions roll: a first line that repeats the last one above."""
    said = [[words for line in cue.words if (words := plain_words(line))] for cue in spoken]
    repeats = []
    above = ""
    for n, lines in enumerate(said):
        if lines:
            if lines[0] == above:
                repeats.append(n)
            above = lines[-1]
    # A line alone may well be said twice; only a repeat with new words beneath it shows that captions roll.
    rolling = sum(len(said[n]) > 1 for n in repeats)
    if rolling < max(_ROLLING_LEAST, len(spoken) * _ROLLING_SHARE):
        return spoken, []
    for n in repeats:
        spoken[n] = Spoken(spoken[n].line, spoken[n].start_ms, spoken[n].end_ms, said[n][1:])
    emptied = {n for n in repeats if not spoken[n].words}
    return [cue for n, cue in enumerate(spoken) if n not in emptied], numbered.problem_of_all(
        "cue-repeat",
        [spoken[n].line for n in repeats],
        "the captions roll: the line repeated from the cue above was taken once",
        "note",
    )


def nothing_timed(numbered: NumberedLines, wanted: str) -> Problem:
    """Say that a file holds no cue at all, and what one looks like."""
    held = [number for number, line in enumerate(numbered.lines, 1) if line.strip()]
    if not held:
        return Problem("transcript-empty", "the file is empty", numbered.name, severity="error")
    message = f"none of its {len(held):,} lines could be placed: no times such as {wanted}"
    return numbered.problem("transcript-empty", held[0], message, "error")
