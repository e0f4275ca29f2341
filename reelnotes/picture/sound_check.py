"""What is wrong with the sound of a finished film: as a whole, and against the cues of its speech.

Where speech is, the cues say. What plays between and under it is known by its level alone: music and a
machine that runs are one to this check.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Literal

import numpy as np

from reelnotes.model import Cue
from reelnotes.picture.sound import BLOCK_MS, Heard, Levels, level_of, mean_square_of
from reelnotes.records import frozen
from reelnotes.settings import SoundSettings
from reelnotes.timing import MS_PER_SECOND, Span, format_time

#: Below this there is no sound; ours: quieter than the noise of any room.
_SILENT_LUFS = -60.0
#: Of a stretch, what lies so far below its mean is no part of its level (the relative gate of BS.1770).
_GATE_LU = 10.0
#: A cue shorter than this says too little of a level; ours.
_SHORTEST_MS = 800
#: Quiet speech and what plays under speech is told when it lasts so long in all; ours.
_LASTING_MS = 2000
#: Cues this close belong to one place.
_CLOSE_MS = 2000
#: Between cues so far apart something else can be heard; its loudest 3 s count, as in short-term loudness.
_BETWEEN_MS, _WINDOW_MS = 1500, 3000
#: The tenth of speech that is quietest lies between the words: there is what plays under it. Ours, measured
#: on spoken words over steady tones.
_UNDER_SHARE = 10
#: One channel that carries so much less than the other, in dB, is empty; ours.
_ONE_SIDED_DB = 30.0
_SHOWN = 6
_NO_SPEECH = re.compile(r"[\[(♪♫].*[\])♪♫]|[♪♫\s]*")


SoundKind = Literal["none", "loudness", "peak", "side", "clipped", "silence", "quiet", "between", "under"]


@frozen
class SoundFault:
    """One thing wrong with the sound, and where it begins; None where it is the whole."""

    kind: SoundKind
    message: str
    at_ms: int | None = None


def check_sound(heard: Heard | None, cues: Sequence[Cue], settings: SoundSettings) -> tuple[SoundFault, ...]:
    """List what is wrong with the sound of a film, the whole first, then by place."""
    if heard is None or heard.integrated is None:
        what = "the film has no sound" if heard is None else "nothing can be heard in the film"
        return (SoundFault("none", f"{what}; if that is meant, leave --video away"),)
    speech = _Speech.of(heard.levels, cues)
    whole = [*_loudness(heard, heard.integrated, settings), *_peaks(heard, settings), *_sides(heard)]
    places = [
        *_first(_clipped(heard)),
        *_first(_silent(heard, settings)),
        *_first(_quiet(speech, settings)),
        *_first(_between(heard, speech, settings)),
        *_first(_under(heard, speech, settings)),
    ]
    return (*whole, *sorted(places, key=lambda fault: fault.at_ms or 0))


# --- the whole ---------------------------------------------------------------------------------------


def _loudness(heard: Heard, integrated: float, settings: SoundSettings) -> Iterator[SoundFault]:
    """Hold the loudness of the whole against the target."""
    over = round(integrated - float(settings.target_lufs), 1)
    if abs(over) <= settings.tolerance_lu:
        return
    word = "louder" if over > 0 else "quieter"
    message = (
        f"the whole is {integrated:.1f} LUFS, {abs(over):.1f} LU {word} than {settings.target_lufs} LUFS"
    )
    peak = (heard.true_peak or 0.0) - over
    if over > 0:
        message += f"; lower it by {over:.1f} dB"
    elif peak <= settings.true_peak_dbtp:
        message += f"; raise it by {-over:.1f} dB"
    else:
        message += f"; raised by {-over:.1f} dB its peaks would be at {peak:.1f} dBTP, so a limiter is needed"
    yield SoundFault("loudness", message)


def _peaks(heard: Heard, settings: SoundSettings) -> Iterator[SoundFault]:
    """Hold the true peak against what is allowed."""
    if heard.true_peak is not None and round(heard.true_peak, 1) > settings.true_peak_dbtp:
        limit = settings.true_peak_dbtp
        message = f"the true peak is {heard.true_peak:.1f} dBTP, and {limit} dBTP are allowed"
        yield SoundFault("peak", f"{message}; lower it, or use a limiter")


def _sides(heard: Heard) -> Iterator[SoundFault]:
    """Find a channel of two that carries nothing: the sound then comes from one side."""
    if len(heard.channels) != 2:  # noqa: PLR2004 - left and right
        return
    left, right = (10 * np.log10(max(square, 1e-12)) for square in heard.channels)
    if abs(left - right) > _ONE_SIDED_DB:
        side = "left" if left > right else "right"
        yield SoundFault("side", f"the sound comes from the {side} alone; put it on both channels")


# --- places ------------------------------------------------------------------------------------------


def _first(faults: Iterator[SoundFault]) -> Iterator[SoundFault]:
    """Give the first faults of one kind, and count the rest."""
    every = list(faults)
    yield from every[:_SHOWN]
    if len(every) > _SHOWN:
        at = every[_SHOWN]
        more = len(every) - _SHOWN - 1
        yield replace(at, message=f"{at.message}; and {more} more such places after it") if more else at


def _clipped(heard: Heard) -> Iterator[SoundFault]:
    """List the places where samples run at full scale."""
    for span in heard.clipped:
        yield SoundFault("clipped", "the sound is clipped", span.start_ms)


def _silent(heard: Heard, settings: SoundSettings) -> Iterator[SoundFault]:
    """Find stretches without any sound, also where the sound ends before the picture does."""
    quiet = heard.levels < mean_square_of(_SILENT_LUFS)
    missing = max(0, heard.film_ms // BLOCK_MS - len(quiet))
    edges = np.flatnonzero(np.diff(np.concatenate([[0], quiet, np.ones(missing), [0]]).astype(int)))
    for start, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        lasting_ms = (end - start) * BLOCK_MS
        if lasting_ms >= settings.silence_s * MS_PER_SECOND:
            message = f"there is no sound for {lasting_ms / MS_PER_SECOND:.1f} s"
            yield SoundFault("silence", message, start * BLOCK_MS)


@frozen
class _Spoken:
    """A stretch of speech with its level in LUFS."""

    span: Span
    level: float


@frozen
class _Speech:
    """The speech of an episode: its stretches, and its own level, of which half is louder."""

    spoken: tuple[_Spoken, ...]
    level: float | None

    @classmethod
    def of(cls, levels: Levels, cues: Sequence[Cue]) -> _Speech:
        """Take the speech's level from its cues, each as long as it lasts."""
        spans = [Span(c.start_ms, c.end_ms) for c in cues if not _NO_SPEECH.fullmatch(c.text.strip())]
        spoken = [_Spoken(span, level_of(_gated(_part(levels, span)))) for span in spans if span.length_ms]
        heard = sorted(
            (one for one in spoken if one.level > _SILENT_LUFS and one.span.length_ms >= _SHORTEST_MS),
            key=lambda one: one.level,
        )
        half, total = 0, sum(one.span.length_ms for one in heard)
        for one in heard:
            half += one.span.length_ms
            if 2 * half >= total:
                return cls(tuple(spoken), one.level)
        return cls(tuple(spoken), None)


def _quiet(speech: _Speech, settings: SoundSettings) -> Iterator[SoundFault]:
    """Find speech that is much quieter than the episode's own."""
    if speech.level is None:
        return
    limit = speech.level - float(settings.speech_below_lu)
    low = [s for s in speech.spoken if _SILENT_LUFS < s.level < limit and s.span.length_ms >= _SHORTEST_MS]
    for place in _places(low):
        below = speech.level - min(one.level for one in place)
        message = f"speech is {below:.1f} LU quieter than this episode's own, until {_end(place)}"
        yield SoundFault("quiet", message, place[0].span.start_ms)


def _between(heard: Heard, speech: _Speech, settings: SoundSettings) -> Iterator[SoundFault]:
    """Find sound between speech that is louder than the speech."""
    if speech.level is None:
        return
    limit = speech.level + float(settings.between_over_lu)
    window = _WINDOW_MS // BLOCK_MS
    for gap in _gaps([one.span for one in speech.spoken], heard.film_ms):
        part = _part(heard.levels, gap)
        if not len(part):
            continue
        wide = min(window, len(part))
        means = np.convolve(part, np.ones(wide) / wide, "valid")
        loudest, at = level_of(float(means.max())), int(means.argmax())
        if loudest > limit:
            over = loudest - speech.level
            message = f"music or a machine between speech is {over:.1f} LU louder than the speech"
            yield SoundFault("between", message, gap.start_ms + at * BLOCK_MS)


def _under(heard: Heard, speech: _Speech, settings: SoundSettings) -> Iterator[SoundFault]:
    """Find speech with something under it that is nearly as loud, or louder."""
    loud = []
    for one in speech.spoken:
        part = _part(heard.levels, one.span)
        if one.span.length_ms < _SHORTEST_MS or one.level <= _SILENT_LUFS:
            continue
        under = level_of(float(np.percentile(part, _UNDER_SHARE)))
        if one.level - under < settings.under_below_lu:
            loud.append(_Spoken(one.span, one.level - under))
    for place in _places(loud):
        least = min(one.level for one in place)
        message = (
            f"music or a machine under the speech is only {least:.1f} LU quieter than it, until {_end(place)}"
        )
        message += f"; {settings.under_below_lu} LU are wanted"
        yield SoundFault("under", message, place[0].span.start_ms)


# --- levels and places ---------------------------------------------------------------------------------


def _part(levels: Levels, span: Span) -> Levels:
    return levels[span.start_ms // BLOCK_MS : -(-span.end_ms // BLOCK_MS)]


def _gated(part: Levels) -> float:
    """Give the mean square of a stretch without its pauses."""
    if not len(part):
        return 0.0
    mean = float(part.mean())
    return float(part[part >= mean * 10 ** (-_GATE_LU / 10)].mean())


def _places(stretches: Sequence[_Spoken]) -> list[list[_Spoken]]:
    """Join stretches that are close; what lasts too short in all is left out."""
    ordered = sorted(stretches, key=lambda one: one.span)
    places: list[list[_Spoken]] = [ordered[:1]] if ordered else []
    for before, after in pairwise(ordered):
        if after.span.start_ms - before.span.end_ms <= _CLOSE_MS:
            places[-1].append(after)
        else:
            places.append([after])
    return [place for place in places if sum(one.span.length_ms for one in place) >= _LASTING_MS]


def _end(place: Sequence[_Spoken]) -> str:
    return format_time(max(one.span.end_ms for one in place))


def _gaps(spans: Sequence[Span], length_ms: int) -> Iterator[Span]:
    """Give what lies between, before and after spans, where it is long enough."""
    at = 0
    for span in (*sorted(spans), Span(length_ms, length_ms)):
        if span.start_ms - at >= _BETWEEN_MS:
            yield Span(at, span.start_ms)
        at = max(at, span.end_ms)
