"""What SubRip and WebVTT share: cues headed by a line `start --> end`, set apart by blank lines."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

from reelnotes.problems import Problem
from reelnotes.read.cue_times import CLOCK, Spoken, clock_ms
from reelnotes.read.numbered import NumberedLines

_TIMING = re.compile(rf"\s*{CLOCK}\s*(?:-{{1,3}}\s?>|→)\s*{CLOCK}(?![0-9:])(.*)")
#: An arrow beside a digit was meant as times; one between words is part of what was said.
_BROKEN = re.compile(r"[0-9]\s*-->|-->\s*[0-9]|^\s*-->\s*$")
_SETTING = re.compile(r"[A-Za-z][\w-]*:\S*")

#: Numbers of lines that stand together.
Block = list[int]
#: Decides whether the last of the lines right above a timing is the name or the number of the cue below, and
#: not words of the cue above; the flag tells whether a blank line parts them from that cue.
IsLabel = Callable[[list[str], bool], bool]


@dataclass(slots=True)
class ArrowFile:
    """A file taken apart.

    `loose` are blocks of lines behind a blank line that no timing heads, each with the cue above it (None
    before the first one); `timings` are the lines that were read as times.
    """

    cues: list[Spoken] = field(default_factory=list)
    loose: list[tuple[Spoken | None, Block]] = field(default_factory=list)
    timings: list[int] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def take_apart(numbered: NumberedLines, first: int, is_label: IsLabel) -> ArrowFile:
    """Take the lines from number `first` on apart into cues and loose blocks."""
    file = ArrowFile()
    blocks: list[Block] = [[]]  # the first one stands right below the timing of `cue`
    cue: Spoken | None = None
    lines = numbered.lines
    for number in range(first, len(lines) + 1):
        line = lines[number - 1]
        if not line:
            if blocks[-1] or len(blocks) == 1:
                blocks.append([])
        elif line.isspace():
            pass  # holds nothing and parts nothing: rolling captions have such lines inside a cue
        elif timed := _timing(file, numbered, number, line):
            apart = cue is None or len(blocks) > 1
            if blocks[-1] and is_label([lines[n - 1] for n in blocks[-1]], apart):
                blocks[-1].pop()
            _close(file, cue, blocks, lines)
            cue, blocks = timed, [[]]
            file.cues.append(cue)
        else:
            blocks[-1].append(number)
    _close(file, cue, blocks, lines)
    return file


def _close(file: ArrowFile, cue: Spoken | None, blocks: list[Block], lines: list[str]) -> None:
    if cue is not None:
        cue.words = [lines[n - 1] for n in blocks[0]]
        blocks = blocks[1:]
    file.loose += [(cue, block) for block in blocks if block]


def _timing(file: ArrowFile, numbered: NumberedLines, number: int, line: str) -> Spoken | None:
    """Read a line as times, with its problems; None where it is none."""
    if "-->" not in line and not line.lstrip()[:1].isdigit():
        return None
    match = _TIMING.match(line)
    if match is None:
        if not _BROKEN.search(line):
            return None
        message = "the times could not be read; the cue was placed between its neighbours"
        file.problems.append(numbered.problem("cue-time", number, message))
        return Spoken(number)
    file.timings.append(number)
    start = clock_ms(match[1], match[2], match[3], match[4])
    end = clock_ms(match[5], match[6], match[7], match[8])
    if start is None or end is None:
        message = "minutes and seconds go up to 59; the cue was placed by its neighbours"
        file.problems.append(numbered.problem("cue-time", number, message))
    elif end <= start:
        message = "the cue ends before it has begun; its end was worked out from its words"
        file.problems.append(numbered.problem("cue-time", number, message))
    if match[9].strip() and not all(map(_SETTING.fullmatch, match[9].split())):
        message = "the words behind the times belong to no cue; put them on the line below"
        file.problems.append(numbered.problem("cue-line", number, message))
    return Spoken(number, start, end)


def join_loose(file: ArrowFile, numbered: NumberedLines) -> list[Problem]:
    """Find a place for every loose block, and say which.

    A number with words beneath is a cue that lost its times; other words behind a blank line stay with the
    cue above. What stands before the first cue, and a number alone, is left out.
    """
    problems = []
    lines = numbered.lines
    for cue, block in file.loose:
        counted = is_counter(lines[block[0] - 1])
        if counted and len(block) > 1:
            message = "the cue has no times; it was placed between its neighbours"
            problems.append(numbered.problem("cue-time", block[0], message))
            file.cues.append(Spoken(block[0], words=[lines[n - 1] for n in block[1:]]))
        elif counted or cue is None:
            what = "a cue's number alone" if counted else "stands before the first cue"
            problems += numbered.problem_of_each("cue-line", block, f"{what}: it was left out")
        else:
            cue.words += [lines[n - 1] for n in block]
            message = "stands behind a blank line; it was taken with the cue above"
            problems += numbered.problem_of_each("cue-line", block, message)
    file.cues.sort(key=lambda cue: cue.line)
    return problems


def is_counter(line: str) -> bool:
    """Tell whether a line is the number of a cue."""
    plain = line.strip()
    return plain.isascii() and plain.isdigit()
