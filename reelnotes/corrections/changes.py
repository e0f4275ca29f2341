"""What a new version changed beyond moving things: what went, what was shortened, what opens elsewhere."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Literal

from reelnotes.corrections.retime import TimeMap
from reelnotes.corrections.retiming import retimed
from reelnotes.model import Chapter, Draft, Flag, Kept, KeptChapter, Pin
from reelnotes.records import frozen
from reelnotes.timing import Span

Kind = Literal["chapter", "cue", "step", "flag", "material", "promise", "decision"]
Fate = Literal[
    "went", "shortened", "opens at the joint", "joined to its neighbour", "not told any more",
    "not named any more", "open again", "off camera now",
]  # fmt: skip


@frozen
class Change:
    """Something that fared otherwise than to move; `was` is in the time of the old version."""

    kind: Kind
    fate: Fate
    was: Span | None
    words: str


@frozen
class Moved:
    """How many of a kind stand at another time than before."""

    kind: str
    count: int


def changes_of(draft: Draft, to: TimeMap, fates: Sequence[tuple[Chapter, Fate]]) -> tuple[Change, ...]:
    """List what of a draft fared otherwise than to move, kind by kind in order of time.

    `fates` are those of its chapters, from `retime_chapters`.
    """
    chapters = [Change("chapter", fate, _at(chapter.start_ms), chapter.title) for chapter, fate in fates]
    return (*chapters, *_cues(draft, to), *_steps(draft, to), *_flags(draft.flags, to), *_named(draft, to))


def _at(ms: int) -> Span:
    return Span(ms, ms)


def _cues(draft: Draft, to: TimeMap) -> Iterator[Change]:
    for cue in draft.cues:
        left = retimed(cue, to)
        span = Span(cue.start_ms, cue.end_ms)
        if not left:
            yield Change("cue", "went", span, cue.text)
        elif left[0].text != cue.text:
            yield Change("cue", "shortened", span, left[0].text)


def _steps(draft: Draft, to: TimeMap) -> Iterator[Change]:
    for step in draft.steps:
        if step.spans and not retimed(step, to)[0].spans:
            span = Span(step.spans[0].start_ms, step.spans[0].end_ms)
            yield Change("step", "not told any more", span, step.text)


def _flags(flags: Sequence[Flag], to: TimeMap) -> Iterator[Change]:
    for flag in flags:
        if not retimed(flag, to) and flag.start_ms is not None and flag.end_ms is not None:
            yield Change("flag", "went", Span(flag.start_ms, flag.end_ms), f"{flag.signal} {flag.quote}")


def _named(draft: Draft, to: TimeMap) -> Iterator[Change]:
    for material in draft.spending.materials:
        at = material.said_at_ms
        if at is not None and retimed(material, to)[0].said_at_ms is None:
            yield Change("material", "not named any more", _at(at), material.name)
    for spoken in draft.spending.spoken_only:
        if not retimed(spoken, to):
            yield Change("material", "went", _at(spoken.said_at_ms), spoken.name)
    for promise in draft.promises:
        left = retimed(promise, to)
        if not left:
            yield Change("promise", "went", _at(promise.said_at_ms), promise.quote)
        elif promise.kept_at_ms is not None and left[0].kept_at_ms is None:
            yield Change("promise", "open again", _at(promise.said_at_ms), promise.quote)


def changed_decisions(
    kept: Kept, to: TimeMap, chapters: Mapping[KeptChapter, KeptChapter | None]
) -> Iterator[Change]:
    """List the decisions made by hand that fared otherwise than to move."""
    for pin in kept.pins:
        if pin.spans and not retimed(pin, to)[0].spans:
            yield Change("decision", "off camera now", pin.spans[0], f"the pinned step {pin.step}")
    for chapter, now in chapters.items():
        if now is None:
            words = chapter.title or "a chapter taken out by hand"
            yield Change("decision", "went", _at(chapter.start_ms), words)


def moved_of(draft: Draft, to: TimeMap) -> tuple[Moved, ...]:
    """Count what stands at another time than before, kind by kind."""
    kinds: dict[str, Sequence[object]] = {
        "chapters": draft.chapters,
        "captions": draft.cues,
        "steps": [step for step in draft.steps if step.spans],
        "flags": [flag for flag in draft.flags if flag.start_ms is not None],
    }
    return tuple(
        Moved(kind, sum(bool(left := retimed(one, to)) and left != (one,) for one in records))
        for kind, records in kinds.items()
    )


def decision_in(
    decision: Pin | KeptChapter, to: TimeMap, chapters: Mapping[KeptChapter, KeptChapter | None]
) -> Pin | KeptChapter | None:
    """Give a decision made by hand as it is in the new version; None where it is not."""
    return retimed(decision, to)[0] if isinstance(decision, Pin) else chapters.get(decision)
