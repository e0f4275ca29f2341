"""Cues as caption files: SubRip and WebVTT."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from reelnotes.model import Cue
from reelnotes.timing import format_exact
from reelnotes.write.plain import one_line, referenced


def captions_vtt(cues: Iterable[Cue]) -> str:
    """Write cues as WebVTT (W3C WebVTT): in order of their starts, each with an end after its start.

    A cue without words is left out: it would show nothing.
    """
    blocks = [
        f"\n{format_exact(start)} --> {format_exact(end)}\n{referenced(text)}\n"
        for start, end, text in _in_order(cues)
    ]
    return "WEBVTT\n" + "".join(blocks)


def captions_srt(cues: Iterable[Cue]) -> str:
    """Write cues as SubRip: counted from 1, comma before the milliseconds (common practice, no standard).

    SubRip cannot quote its own arrow, so `-->` in the words becomes `→`. A cue without words is left out.
    """
    blocks = [
        f"{number}\n{format_exact(start, ',')} --> {format_exact(end, ',')}\n{text.replace('-->', '→')}\n"
        for number, (start, end, text) in enumerate(_in_order(cues), start=1)
    ]
    return "\n".join(blocks)


def _in_order(cues: Iterable[Cue]) -> Iterator[tuple[int, int, str]]:
    for cue in sorted(cues, key=lambda cue: cue.start_ms):
        text = one_line(cue.text)
        if text:
            yield cue.start_ms, max(cue.end_ms, cue.start_ms + 1), text
