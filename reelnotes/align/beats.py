"""Speech in even pieces of a few seconds, one breath each: long paragraphs cut, crumbs joined."""

from __future__ import annotations

import re

from reelnotes.model import Cue
from reelnotes.records import frozen

_LONG_CHARS = 90
_WANTED_CHARS = 55
_CRUMB_CHARS = 24
_CRUMB_MS = 2_500
_SILENCE_MS = 4_000
_NOISE = re.compile(r"[\[(♪].*?[\])♪]")
_BREATH = re.compile(r"(?<=[.!?;:,])\s+|\s+(?=(?:and|then|but|so|because)\s)")


@frozen
class Beat:
    """A piece of speech with its programme time; `cue` is the index of the cue it begins in."""

    start_ms: int
    end_ms: int
    text: str
    cue: int


def beats_of(cues: tuple[Cue, ...]) -> tuple[Beat, ...]:
    """Cut the transcript into beats, in order; cues without words (music) give none.

    Inside a paragraph that is cut, times run evenly over its characters.
    """
    beats: list[Beat] = []
    for index, cue in enumerate(cues):
        words = _NOISE.sub(" ", cue.text).strip()
        if not words:
            continue
        if len(words) > _LONG_CHARS:
            beats += _cut(cue, index, words)
        elif beats and _joins(beats[-1], cue, words):
            last = beats[-1]
            beats[-1] = Beat(last.start_ms, max(last.end_ms, cue.end_ms), f"{last.text} {words}", last.cue)
        else:
            beats.append(Beat(cue.start_ms, max(cue.start_ms, cue.end_ms), words, index))
    return tuple(beats)


def _joins(last: Beat, cue: Cue, words: str) -> bool:
    """Tell whether a cue is too small to stand alone (captions that come word by word)."""
    small = len(last.text) < _CRUMB_CHARS and cue.end_ms - last.start_ms < 2 * _CRUMB_MS
    return small and cue.start_ms - last.end_ms < _CRUMB_MS and len(last.text) + len(words) < _LONG_CHARS


def _cut(cue: Cue, index: int, words: str) -> list[Beat]:
    pieces: list[str] = []
    for piece in _BREATH.split(words):
        if pieces and len(pieces[-1]) + len(piece) < _WANTED_CHARS:
            pieces[-1] += f" {piece}"
        else:
            pieces.append(piece)
    total = sum(len(piece) for piece in pieces)
    length, done, beats = max(0, cue.end_ms - cue.start_ms), 0, []
    for piece in pieces:
        start = cue.start_ms + length * done // total
        done += len(piece)
        beats.append(Beat(start, cue.start_ms + length * done // total, piece, index))
    return beats


def with_silence(beats: tuple[Beat, ...], end_ms: int) -> tuple[Beat, ...]:
    """Put wordless beats where nothing is said for a while, so that footage can be told there too."""
    filled: list[Beat] = []
    at, cue = 0, 0
    for beat in (
        *beats,
        Beat(max(end_ms, beats[-1].end_ms), max(end_ms, beats[-1].end_ms), "", beats[-1].cue),
    ):
        while beat.start_ms - at > _SILENCE_MS:
            filled.append(Beat(at, min(at + _SILENCE_MS, beat.start_ms), "", cue))
            at += _SILENCE_MS
        if beat.text:
            filled.append(beat)
        at, cue = max(at, beat.end_ms), beat.cue
    return tuple(filled)
