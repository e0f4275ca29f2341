"""The steps as CSV, and the list of those that the video does not show."""

from __future__ import annotations

from reelnotes.model import Draft, Step, StepSpan
from reelnotes.timing import seconds
from reelnotes.write.materials import clock_text
from reelnotes.write.plain import one_line
from reelnotes.write.table_text import csv_text, markdown, markdown_line

_HEADER = (
    "entry",
    "logged_at",
    "text",
    "told",
    "start_s",
    "end_s",
    "at",
    "confidence",
    "evidence",
    "also_at_s",
)


def steps_csv(draft: Draft) -> str:
    """Write one row an entry, counted from 1: its words, its best span in seconds, further spans last.

    Cells of a step that is off camera are empty from `start_s` on; `at` is the start as `H:MM:SS`.
    """
    return csv_text(_HEADER, [_row(step) for step in draft.steps])


def _row(step: Step) -> tuple[str, ...]:
    head = (str(step.entry + 1), step.logged_at or "", one_line(step.text), f"{step.told:.3f}")
    if not step.spans:
        return (*head, "", "", "", "", "", "")
    best, *others = step.spans
    return (
        *head,
        str(seconds(best.start_ms)),
        str(seconds(best.end_ms)),
        clock_text(best.start_ms),
        f"{best.confidence:.3f}",
        best.evidence,
        " ".join(_seconds_span(span) for span in others),
    )


def _seconds_span(span: StepSpan) -> str:
    return f"{seconds(span.start_ms)}-{seconds(span.end_ms)}"


def off_camera_markdown(draft: Draft) -> str:
    """List what the log holds and the video does not: a viewer may ask for it."""
    unseen = [step for step in draft.steps if not step.spans]
    lines = [f"# In the log, not in the video: {markdown(one_line(draft.title))}", ""]
    if not unseen:
        lines.append("Every entry of the log is told or shown.")
    lines += [f"- {markdown_line(_when(step) + one_line(step.text))}" for step in unseen]
    return "\n".join(lines) + "\n"


def _when(step: Step) -> str:
    return f"{step.logged_at.replace('T', ' ')[:16]}: " if step.logged_at else ""
