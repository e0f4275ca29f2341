"""SubRip captions: number, times, words, blank line. No standard says how.

The blocks are read line by line, because a problem must name its line; the `srt` library, which knows only
character offsets and accepts minute 75, is the second opinion in the tests.
"""

from __future__ import annotations

from reelnotes.model import Cue
from reelnotes.problems import Problem
from reelnotes.read.arrow_captions import is_counter, join_loose, take_apart
from reelnotes.read.cue_times import nothing_timed, settle
from reelnotes.read.numbered import NumberedLines
from reelnotes.store import SourceText


def read_srt(source: SourceText) -> tuple[tuple[Cue, ...], list[Problem]]:
    """Read SubRip captions.

    Tolerated without a word: a full stop for the comma, missing or odd numbers, hours left out, any count of
    digits behind the second, placing words such as `X1:40` behind the times.
    """
    numbered = NumberedLines.of(source)
    file = take_apart(numbered, 1, lambda block, _apart: is_counter(block[-1]))
    if not file.cues:
        return (), [nothing_timed(numbered, "00:00:01,000 --> 00:00:03,500")]
    problems = file.problems + join_loose(file, numbered)
    cues, more = settle(file.cues, numbered)
    return cues, problems + more
