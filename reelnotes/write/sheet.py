"""The sheet: one self-contained HTML page on which a draft is looked at, worked through and printed.

The log and the speech stand side by side. On a wide screen a few lines of script draw the links between them;
in a narrow window and on paper each piece of speech carries the entries told there as notes in its margin.
Nothing is fetched from anywhere; every word of the maker's goes through jinja2's autoescape.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import accumulate
from typing import Any

from reelnotes.model import SIGNAL_ORDER, Cue, Draft, Flag, Step, StepSpan
from reelnotes.records import frozen
from reelnotes.write.pages import TEMPLATES, page_template, raw
from reelnotes.write.wording import DEFERENCE, PROMISE_WORDS, TOPIC_WORDS, bare_caution

_PAUSE_MS = 1500
_SAME_MS = 250  # a span and a cue that start this close start together
_LONG_BLOCK_WORDS = 45
_LONGEST_BLOCK_WORDS = 80
_SURE, _FAIR = 0.8, 0.5
_Marked = tuple[int, list[tuple[int, int]]]  # a flag's number with its spans
_MARK_WIDTH = 6.0  # per cent of the strip: a mark of 22 px on a strip of 370 px


@frozen
class MarginNote:
    """An entry told in a block of speech; `again` marks a second telling."""

    step: Step
    again: bool


@frozen
class SpokenLine:
    """Consecutive cues as they stand on the sheet; `flags` are the numbers of the flags told there."""

    text: str
    flags: tuple[int, ...]


@frozen
class SpeechBlock:
    """Some consecutive cues: a paragraph on the sheet. `heading` is the chapter that opens with it."""

    start_ms: int
    end_ms: int
    lines: tuple[SpokenLine, ...]
    notes: tuple[MarginNote, ...]
    heading: str
    speech: bool

    @property
    def anchor(self) -> str:
        """The id that links on the page point at."""
        return f"t{self.start_ms}"


def sheet_html(draft: Draft) -> str:
    """Write the sheet of a draft."""
    template = page_template("sheet.html")
    return template.render(
        style=raw(TEMPLATES / "sheet.css"), script=raw(TEMPLATES / "sheet.js"), **_view(draft)
    )


def _view(draft: Draft) -> dict[str, Any]:
    blocks = speech_blocks(draft)
    told = [step for step in draft.steps if step.spans]
    return {
        "draft": draft,
        "blocks": blocks,
        "days": _days(draft),
        "told": len(told),
        "absent": [step for step in draft.steps if not step.spans],
        "flags": list(enumerate(draft.flags, start=1)),
        "signals": [(word, sum(f.signal == word for f in draft.flags)) for word in SIGNAL_ORDER],
        "topic_words": TOPIC_WORDS,
        "promise_words": PROMISE_WORDS,
        "deference": DEFERENCE,
        "strip": (strip := _strip(draft)),
        "lanes": max((mark["lane"] + 1 for mark in strip["flags"]), default=0),
        "anchor": lambda ms: _anchor_at(blocks, ms),
        "surety": surety,
        "bare_caution": bare_caution,
        "over_budget": draft.spending.over_budget,
        "paid": any(one.counts for one in draft.spending.bought),
    }


def surety(span: StepSpan) -> str:
    """Name how sure a span is: `sure` from 0.8, `fair` from 0.5, else `unsure`; a pinned one is `kept`."""
    if span.evidence == "pinned":
        return "kept"
    return "sure" if span.confidence >= _SURE else "fair" if span.confidence >= _FAIR else "unsure"


def speech_blocks(draft: Draft) -> list[SpeechBlock]:
    """Cut the speech into paragraphs: at pauses, chapters and step starts, and before they grow long."""
    openings = {c.start_ms: c.title for c in draft.chapters}
    step_starts = sorted(span.start_ms for step in draft.steps for span in step.spans)
    blocks: list[SpeechBlock] = []
    group: list[Cue] = []
    words = 0
    heading = openings.pop(0, "")
    margin = _margin(draft)
    marked = [(n, _spans_of(flag)) for n, flag in enumerate(draft.flags, start=1)]
    for cue in draft.cues:
        opened = [start for start in openings if start < cue.end_ms]
        if group and (opened or _breaks(group[-1], words, cue, step_starts)):
            blocks.append(_block(group, heading, margin, marked))
            group, heading, words = [], "", 0
        for start in opened:
            heading = openings.pop(start)
        group.append(cue)
        words += len(cue.text.split())
    if group:
        blocks.append(_block(group, heading, margin, marked))
    return blocks


def _breaks(last: Cue, words: int, cue: Cue, step_starts: Sequence[int]) -> bool:
    """Tell whether a new paragraph begins with a cue, `words` words after the last one began."""
    return (
        cue.start_ms - last.end_ms >= _PAUSE_MS
        or is_speech(cue) != is_speech(last)
        or any(last.start_ms < start - _SAME_MS <= cue.start_ms for start in step_starts)
        or (words >= _LONG_BLOCK_WORDS and last.text.endswith((".", "?", "!")))
        or words >= _LONGEST_BLOCK_WORDS
    )


def is_speech(cue: Cue) -> bool:
    """Tell speech from a cue that only names a sound, such as `[Music]`."""
    text = cue.text.strip()
    return not (text[:1] in ("[", "(", "♪") and text[-1:] in ("]", ")", "♪"))


def _block(
    group: Sequence[Cue], heading: str, margin: Sequence[tuple[int, MarginNote]], marked: Sequence[_Marked]
) -> SpeechBlock:
    start, end = group[0].start_ms, group[-1].end_ms
    notes = tuple(note for opens, note in margin if start <= opens < end)
    here = [(n, held) for n, spans in marked if (held := _within(spans, start, end))]
    return SpeechBlock(start, end, _lines(here, group), notes, heading, is_speech(group[0]))


def _lines(marked: Sequence[_Marked], group: Sequence[Cue]) -> tuple[SpokenLine, ...]:
    """Join neighbours that hold the same flags, so that a marked passage carries its number once."""
    runs: list[SpokenLine] = []
    for cue in group:
        held = tuple(n for n, spans in marked if _within(spans, cue.start_ms, cue.end_ms))
        if runs and runs[-1].flags == held:
            runs[-1] = SpokenLine(f"{runs[-1].text} {cue.text}", held)
        else:
            runs.append(SpokenLine(cue.text, held))
    return tuple(runs)


def _margin(draft: Draft) -> list[tuple[int, MarginNote]]:
    """Give each span's note with its time; one that opens in a pause belongs to the speech after it."""
    ends = [cue.end_ms for cue in draft.cues]
    reached = list(accumulate(ends, max))  # cues may overlap: where speech has got to is what rises
    notes = []
    for step in draft.steps:
        for n, span in enumerate(step.spans):
            after = bisect_right(reached, span.start_ms)
            opens = draft.cues[after].start_ms if after < len(ends) else span.start_ms
            notes.append((opens, MarginNote(step, again=n > 0)))
    return notes


def _spans_of(flag: Flag) -> list[tuple[int, int]]:
    spans = [(p.start_ms, p.end_ms) for p in flag.places]
    if flag.start_ms is not None and flag.end_ms is not None:
        spans.append((flag.start_ms, flag.end_ms))
    return spans


def _within(spans: Sequence[tuple[int, int]], start_ms: int, end_ms: int) -> list[tuple[int, int]]:
    return [(start, end) for start, end in spans if start < end_ms and start_ms < end]


def _anchor_at(blocks: Sequence[SpeechBlock], ms: int) -> str:
    return next((b.anchor for b in reversed(blocks) if b.start_ms <= ms), blocks[0].anchor if blocks else "")


def _days(draft: Draft) -> list[tuple[str, list[tuple[str, Step]]]]:
    """Group the steps by the day of their entries, each with its time of day."""
    days: list[tuple[str, list[tuple[str, Step]]]] = []
    for entry, step in zip(draft.entries, draft.steps, strict=True):
        day = f"{entry.day:%A} {entry.day.day} {entry.day:%B %Y}" if entry.day else ""
        if not days or days[-1][0] != day:
            days.append((day, []))
        days[-1][1].append((f"{entry.at:%H:%M}" if entry.at else "", step))
    return days


def _strip(draft: Draft) -> dict[str, Any]:
    """Lay out the overview: everything in per cent of the programme."""
    total = max(draft.duration_ms, 1)
    starts = [c.start_ms for c in draft.chapters]

    def share(start_ms: int, end_ms: int) -> dict[str, float]:
        return {
            "left": round(100 * start_ms / total, 3),
            "width": round(100 * max(end_ms - start_ms, 0) / total, 3),
        }

    return {
        "chapters": [
            {"title": c.title, "start_ms": c.start_ms, **share(c.start_ms, end)}
            for c, end in zip(draft.chapters, [*starts[1:], draft.duration_ms], strict=False)
        ],
        "steps": [
            {"number": s.entry + 1, "text": s.text, "surety": surety(span), "start_ms": span.start_ms}
            | share(span.start_ms, span.end_ms)
            for s in draft.steps
            for span in s.spans
        ],
        "flags": _lanes(
            [
                {
                    "number": n,
                    "signal": f.signal,
                    "topic": TOPIC_WORDS[f.topic],
                    **share(f.start_ms, f.start_ms),
                }
                for n, f in enumerate(draft.flags, start=1)
                if f.start_ms is not None
            ]
        ),
    }


def _lanes(marks: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Give each mark a lane in which the one before it is far enough to the left even in a narrow window."""
    last: list[float] = []
    for mark in sorted(marks, key=lambda m: m["left"]):
        lane = next((n for n, left in enumerate(last) if mark["left"] - left >= _MARK_WIDTH), len(last))
        last[lane : lane + 1] = [mark["left"]]
        mark["lane"] = lane
    return marks
