"""Chapters: where the talk turns to something else, by what is said, how, and by the steps of the log."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from reelnotes.draft.openings import opening_weight, says_nothing
from reelnotes.draft.segmentation import cheapest_cuts, topic_costs
from reelnotes.draft.titles import chapter_titles
from reelnotes.model import Chapter, Cue, Entry, Step
from reelnotes.problems import Problem
from reelnotes.settings import HostLimits
from reelnotes.words.tokens import stem, words_in

#: A chapter is about a minute long: the natural logarithm of its length scatters around that of 56 s.
_USUAL_S, _SCATTER = 56.0, 0.55
#: The last one is shorter: a look back, what it cost, goodbye (mean and scatter of 17 labelled episodes).
_CLOSING_S, _CLOSING_SCATTER = 39.0, 0.56
_LONGEST_MS = 260_000
_BLOCK_WORDS = 24
_NEAR_MS = 3500
#: What words in common count for, beside the evidence for an opening (nats).
_WORDS_SHARE = 0.06
_WORTH = (0.0, 2.0, 5.0, 10.0, 40.0)  # nats for each further chapter, tried until there are enough
_AFTER_MUSIC, _MID_SENTENCE = 2.5, -1.7
_PAUSE_MOST, _PAUSE_MS = 3.0, 800
_STEP, _NEW_DAY, _NEW_PIECE = 0.5, 1.0, 0.9
_STRETCH_MS, _AFTER_STRETCH, _STRETCH = 15_000, 0.6, 0.7
_INSIDE_STEP, _INTO_MS, _TO_END_MS = -1.5, 8000, 5000
_OVERLAPPING = 12  # spans that may run at one time


class Block(NamedTuple):
    """Some cues in a row that no chapter will part: start, words, and the evidence (nats) for opening."""

    start_ms: int
    words: tuple[str, ...]
    evidence: float
    first_cue: int


def draft_chapters(
    entries: Sequence[Entry],
    steps: Sequence[Step],
    cues: Sequence[Cue],
    duration_ms: int,
    limits: HostLimits,
) -> tuple[tuple[Chapter, ...], list[Problem]]:
    """Draft the chapters of an episode.

    Both kinds of evidence are weighed together: what is said (words in common, pauses, opening words) and,
    where there is a log, the steps (a start, a change of day or piece, a stretch no step fills). The first
    chapter is at 0; all keep the host's limits, and where that cannot be, a Problem says so.
    """
    blocks = _blocks(cues, steps, entries)
    if not blocks:
        return _too_few((Chapter(0, "Start"),) if duration_ms else (), duration_ms, limits)
    starts = _starts(blocks, max(duration_ms, blocks[-1].start_ms + 1), limits)
    from_steps = any(step.spans for step in steps)
    titles = chapter_titles(starts, duration_ms, entries, steps, cues, limits.title_max_chars)
    chapters = tuple(
        Chapter(start, title, "steps" if by_step and from_steps else "speech")
        for start, (title, by_step) in zip(starts, titles, strict=True)
    )
    return _too_few(chapters, duration_ms, limits)


def _too_few(
    chapters: tuple[Chapter, ...], duration_ms: int, limits: HostLimits
) -> tuple[tuple[Chapter, ...], list[Problem]]:
    if len(chapters) >= limits.chapters_min or not chapters:
        return chapters, []
    message = (
        f"{len(chapters)} chapters were found, and the host shows none below {limits.chapters_min}; "
        f"add some by hand, or set host.chapters_min in workshop.toml (the video is {duration_ms // 1000} s "
        f"long)"
    )
    return chapters, [Problem("chapter-limit", message)]


# --- evidence ----------------------------------------------------------------------------------------


def _blocks(cues: Sequence[Cue], steps: Sequence[Step], entries: Sequence[Entry]) -> list[Block]:
    """Join cues to blocks of at least two dozen words; a cue that may open a chapter always begins one."""
    pauses = _pause_weights(cues)
    by_steps = _StepEvidence(steps, entries)
    ended = [cue.text.rstrip().endswith((".", "?", "!", "]")) for cue in cues]
    punctuated = sum(ended) > len(cues) / 4
    blocks: list[Block] = []
    words: list[str] = []
    opened, evidence, first, music = 0, 0.0, 0, False
    for index, cue in enumerate(cues):
        if says_nothing(cue.text):
            music = True
            continue
        weight = pauses[index] + opening_weight(cue.text) + by_steps.at(cue.start_ms) + _AFTER_MUSIC * music
        weight += _MID_SENTENCE * (punctuated and index > 0 and not ended[index - 1])
        music = False
        if words and (len(words) >= _BLOCK_WORDS or weight > 0):
            blocks.append(Block(opened, tuple(words), evidence, first))
            words = []
        if not words:
            opened, evidence, first = cue.start_ms, weight, index
        words += map(stem, words_in(cue.text))
    if words:
        blocks.append(Block(opened, tuple(words), evidence, first))
    return blocks


def _pause_weights(cues: Sequence[Cue]) -> list[float]:
    """Weigh the pause before each cue against this talk's usual ones: up to 3 nats."""
    gaps = [max(0, after.start_ms - before.end_ms) for before, after in pairwise(cues)]
    if not gaps or max(gaps) == 0:
        return [0.0] * len(cues)
    usual = sorted(gaps)[int(0.8 * (len(gaps) - 1))] + 150
    return [0.0, *(min(_PAUSE_MOST, max(0.0, (gap - usual) / _PAUSE_MS)) for gap in gaps)]


class _StepEvidence:
    """What the steps say for and against a chapter at a time."""

    def __init__(self, steps: Sequence[Step], entries: Sequence[Entry]) -> None:
        by_index = {entry.index: entry for entry in entries}
        self.told = sorted((span.start_ms, span.end_ms, step.entry) for step in steps for span in step.spans)
        starts: list[tuple[int, float]] = []
        before: Entry | None = None
        reached = 0
        for start, end, index in self.told:
            entry = by_index.get(index)
            weight = _STEP
            if before and entry:
                weight += _NEW_DAY * (before.day != entry.day)
                weight += _NEW_PIECE * (_piece(before.text) != _piece(entry.text))
            if start - reached > _STRETCH_MS:  # long enough to be something of its own
                weight += _AFTER_STRETCH
                starts.append((reached, _STRETCH))
            starts.append((start, weight))
            before, reached = entry, max(reached, end)
        self.starts = sorted([*starts, (reached, _STRETCH)] if reached else starts)

    def at(self, start_ms: int) -> float:
        """Give the nats for a chapter that opens at a time."""
        low = bisect_left(self.starts, (start_ms - _NEAR_MS,))
        high = bisect_left(self.starts, (start_ms + _NEAR_MS + 1,))
        if low < high:
            return max(weight for _, weight in self.starts[low:high])
        last = bisect_left(self.told, (start_ms - _INTO_MS,))
        running = self.told[max(0, last - _OVERLAPPING) : last]
        return _INSIDE_STEP if any(end > start_ms + _TO_END_MS for _, end, _ in running) else 0.0


def _piece(text: str) -> str:
    head, colon, _ = text.partition(":")
    return head.casefold().strip() if colon and len(head.split()) <= 2 else ""  # noqa: PLR2004


# --- the cut -----------------------------------------------------------------------------------------


def _starts(blocks: Sequence[Block], duration_ms: int, limits: HostLimits) -> list[int]:
    """Cut the blocks at least cost; while the host wants more chapters, each further one is worth more."""
    import numpy as np

    bounds = np.array([*(block.start_ms for block in blocks), duration_ms])
    bounds[0] = 0
    longest = _widest(blocks)
    first = np.arange(len(blocks))[:, None]
    end = np.minimum(first + np.arange(1, longest + 1), len(blocks))
    length = np.maximum(bounds[end] - bounds[first], 1)
    last = end == len(blocks)
    usual_s, scatter = np.where(last, _CLOSING_S, _USUAL_S), np.where(last, _CLOSING_SCATTER, _SCATTER)
    away = np.log(length / 1000 / usual_s) / scatter
    evidence = np.array([0.0, *(block.evidence for block in blocks[1:])])[:, None]
    costs = 0.5 * away * away + _WORDS_SHARE * topic_costs([block.words for block in blocks], longest)
    too_short = length < max(limits.chapter_min_s, 1) * 1000
    costs = np.where(too_short & (end - first < len(blocks)), np.inf, costs - evidence)
    found = [0]
    for worth in _WORTH:
        found = cheapest_cuts((costs - worth).tolist())
        if len(found) >= limits.chapters_min:
            break
    return [int(bounds[i]) for i in found]


def _widest(blocks: Sequence[Block]) -> int:
    """Give how many blocks the longest allowed chapter can hold, at least a dozen."""
    widest, first = 12, 0
    for end, block in enumerate(blocks):
        while block.start_ms - blocks[first].start_ms > _LONGEST_MS:
            first += 1
        widest = max(widest, end - first + 1)
    return min(widest, len(blocks))
