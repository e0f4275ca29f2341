"""WebVTT captions, by the syntax of the W3C's WebVTT: what breaks its rules is read too, and reported."""

from __future__ import annotations

import re

from reelnotes.model import Cue
from reelnotes.problems import Problem
from reelnotes.read.arrow_captions import is_counter, join_loose, take_apart
from reelnotes.read.cue_times import nothing_timed, settle
from reelnotes.read.numbered import NumberedLines
from reelnotes.store import SourceText

MAGIC = "WEBVTT"
_STAMP = r"(?:[0-9]{2,}:)?[0-9]{2}:[0-9]{2}\.[0-9]{3}"
_STRICT = re.compile(rf"{_STAMP}[ \t]+-->[ \t]+{_STAMP}(?:[ \t]|$)")
_NOTE = re.compile(r"NOTE(?:[ \t]|$)")
_DEFINITION = re.compile(r"(?:STYLE|REGION)[ \t]*$")


def read_vtt(source: SourceText) -> tuple[tuple[Cue, ...], list[Problem]]:
    """Read WebVTT captions.

    The header, `NOTE`, `STYLE` and `REGION` blocks, cue names and cue settings hold no words that were said.
    """
    numbered = NumberedLines.of(source)
    first, problems = _past_header(numbered)
    file = take_apart(numbered, first, _is_label)
    if not file.cues:
        return (), [*problems, nothing_timed(numbered, "00:01.000 --> 00:03.500")]
    file.loose = [(cue, block) for cue, block in file.loose if not _is_remark(numbered.lines[block[0] - 1])]
    problems += file.problems + join_loose(file, numbered)
    odd = [number for number in file.timings if not _STRICT.match(numbered.lines[number - 1])]
    problems += numbered.problem_of_all(
        "cue-form", odd, "the times were read, though WebVTT writes them as 00:01.000 --> 00:03.500", "note"
    )
    cues, more = settle(file.cues, numbered)
    return cues, problems + more


def _past_header(numbered: NumberedLines) -> tuple[int, list[Problem]]:
    """Give the number of the first line behind the header, which ends at a blank line."""
    lines = numbered.lines
    head = next((n for n, line in enumerate(lines, 1) if line.strip()), 1)
    line = lines[head - 1]
    problems = []
    if not re.match(r"WEBVTT(?:[ \t]|$)", line) or head > 1:
        message = "the first line is not WEBVTT; the file was read all the same"
        problems.append(numbered.problem("cue-form", head, message, "note"))
    if not line.lstrip().startswith(MAGIC):
        return head, problems
    number = head + 1
    while number <= len(lines) and lines[number - 1].strip() and "-->" not in lines[number - 1]:
        number += 1
    return number, problems


def _is_label(block: list[str], apart: bool) -> bool:  # noqa: FBT001 - the form that take_apart asks for
    if is_counter(block[-1]):
        return True
    return apart and len(block) == 1 and not _is_remark(block[0])


def _is_remark(line: str) -> bool:
    return bool(_NOTE.match(line) or _DEFINITION.match(line))
