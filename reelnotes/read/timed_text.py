"""Timed text: paragraphs that begin with a time, `[0:11] words` or `[1:02:03] words`.

A cue lasts until the next one begins. Nothing says when the last one ends: its end is an estimate from its
words, at 160 a minute.
"""

from __future__ import annotations

import re

from reelnotes.model import Cue
from reelnotes.problems import Problem
from reelnotes.read.cue_times import CLOCK, Spoken, clock_ms, nothing_timed, settle
from reelnotes.read.numbered import NumberedLines
from reelnotes.store import SourceText

_BRACKETED = re.compile(
    rf"\s*[\[(]\s*{CLOCK}\s*(?:(?:-{{1,3}}>?|–|—|→|to)\s*{CLOCK}\s*)?[\])]\s*(?:[-–—:]\s)?(.*)"
)
_BARE = re.compile(rf"\s*{CLOCK}(?:\s*[-–—]+>?\s*{CLOCK})?(?:\s+[-–—:])?(?:\s+|$)(.*)")


def read_timed_text(source: SourceText) -> tuple[tuple[Cue, ...], list[Problem]]:
    """Read timed text. Lines without a time go on with the cue above.

    A file without any time in brackets may have its times bare (`0:11 words`, or a time on a line of its
    own). A second time in the brackets is the cue's end.
    """
    numbered = NumberedLines.of(source)
    found = _stamps(numbered.lines, _BRACKETED) or _stamps(numbered.lines, _BARE)
    if not found:
        return (), [nothing_timed(numbered, "[0:11] at the beginning of a line")]
    problems = numbered.problem_of_each(
        "cue-line", range(1, min(found)), "stands before the first time: it was left out"
    )
    spoken: list[Spoken] = []
    for number in range(min(found), len(numbered.lines) + 1):
        if match := found.get(number):
            spoken.append(_cue(number, match, numbered, problems))
        else:
            spoken[-1].words.append(numbered.lines[number - 1])
    cues, more = settle(spoken, numbered, until_next=True)
    return cues, problems + more


def _stamps(lines: list[str], form: re.Pattern[str]) -> dict[int, re.Match[str]]:
    return {number: match for number, line in enumerate(lines, 1) if (match := form.match(line))}


def _cue(number: int, match: re.Match[str], numbered: NumberedLines, problems: list[Problem]) -> Spoken:
    start = clock_ms(match[1], match[2], match[3], match[4])
    end = clock_ms(match[5], match[6], match[7], match[8]) if match[6] else None
    if start is None or (match[6] and end is None):
        message = "minutes and seconds go up to 59; the cue was placed by its neighbours"
        problems.append(numbered.problem("cue-time", number, message))
    elif end is not None and end <= start:
        message = "the cue ends before it has begun; its end was worked out from its words"
        problems.append(numbered.problem("cue-time", number, message))
    return Spoken(number, start, end, [match[9]])
