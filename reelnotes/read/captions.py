"""The transcript, in whichever form it comes: SubRip, WebVTT, IMSC, timed text or JSON."""

from __future__ import annotations

import re

from reelnotes.model import Cue
from reelnotes.problems import Problem
from reelnotes.store import SourceText

_TTML = re.compile(r"\s*<(?:\?xml|tt[\s>])")
_JSON = re.compile(r"\s*(?:\{\s*\"|\[\s*[{\]])")


def read_transcript(source: SourceText) -> tuple[tuple[Cue, ...], list[Problem]]:
    """Read what was said, in order of time.

    The content decides the form where it is plain, the suffix of the name elsewhere. Every line that holds
    anything is a part of a cue, a header or a comment of the form, or shown by a problem.
    """
    form = form_of(source)
    if form == "vtt":
        from reelnotes.read.vtt_captions import read_vtt

        return read_vtt(source)
    if form == "srt":
        from reelnotes.read.srt_captions import read_srt

        return read_srt(source)
    if form == "json":
        from reelnotes.read.json_captions import read_json

        return read_json(source)
    if form == "ttml":
        from reelnotes.read.imsc_captions import read_imsc

        return read_imsc(source)
    from reelnotes.read.timed_text import read_timed_text

    return read_timed_text(source)


def form_of(source: SourceText) -> str:
    """Tell the form of a transcript: `srt`, `vtt`, `ttml`, `txt` or `json`."""
    suffix = source.name.rpartition(".")[2].casefold()
    if source.text.lstrip().startswith("WEBVTT"):
        return "vtt"
    if _JSON.match(source.text):
        return "json"
    if suffix == "ttml" or _TTML.match(source.text):
        return "ttml"
    if "-->" in source.text and suffix not in {"srt", "vtt"}:
        return "txt" if re.search(r"^\s*\[[^\]]*-->", source.text, re.MULTILINE) else "srt"
    return suffix if suffix in {"srt", "vtt", "json"} else "txt"
