"""The texts that carry a correction to viewers outside the picture: description, pinned note, end note.

Few viewers open a description (common practice), so these come beside the insert, not instead of it.
"""

from __future__ import annotations

from collections.abc import Sequence

from reelnotes.model import DEFERS, Correction, Draft, ReachPlace
from reelnotes.problems import Problem
from reelnotes.settings import HostLimits
from reelnotes.timing import Span, format_time
from reelnotes.write.description import description
from reelnotes.write.plain import one_line, shortened, span_text

DESCRIPTION_TEXT = "description.txt"
PINNED_NOTE = "pinned-note.txt"
END_NOTE = "end-note.txt"

#: What each place of publishing is called in front of people.
PLACE_WORDS: dict[ReachPlace, str] = {
    "in-picture": "the picture",
    "caption-track": "the caption track",
    "description": "the description",
    "pinned-note": "a pinned note",
    "roundup": "a roundup",
}

#: A record with its places in the episode as it stands now, the worst record first.
Told = tuple[Correction, Sequence[Span]]


def told_in_full(record: Correction, spans: Sequence[Span]) -> str:
    """Tell a record in a paragraph: its time, what is wrong, what happens, what to do instead, the source.

    What its evidence works out to today comes with what happens: a number convinces.
    """
    if record.kind == "disclosure":
        return _sentence(record.instead)
    head = _head(record, [span_text(span) for span in spans])
    sources = f" Source: {'; '.join(map(one_line, record.sources))}." if record.sources else ""
    figures = "".join(f"Worked out: {_clause(answer)} " for answer in record.worked_out)
    return (
        f"{head}. {_label(record)}: {_clause(record.shown)} {_sentence(record.wrong)} {figures}"
        f"Instead: {_clause(record.instead)}{sources}"
    )


def told_in_short(record: Correction, spans: Sequence[Span]) -> str:
    """Tell a record in one line: its time, what is wrong, what to do instead."""
    if record.kind == "disclosure":
        return _sentence(record.instead)
    head = _head(record, [format_time(span.start_ms) for span in spans])
    return f"{head}. {_label(record)}: {_clause(record.shown)} Instead: {_clause(record.instead)}"


def corrected_description(
    draft: Draft, told: Sequence[Told], limits: HostLimits
) -> tuple[str, list[Problem]]:
    """Give the description with the corrections at its top, each with its time; within the host's limit.

    The rest of the description gives way first, then the reasons, then the least bad corrections, which is
    reported. Given products that it names already are not named twice.
    """
    named = {material.name for material in draft.spending.materials if material.given}
    told = [one for one in told if one[0].kind != "disclosure" or one[0].shown not in named]
    head, problems = _fitted(told, limits.description_max_chars, DESCRIPTION_TEXT)
    if not head:
        return description(draft, limits.description_max_chars)
    room = limits.description_max_chars - len(head) - 1
    body, more = description(draft, max(room, 0))
    return (f"{head}\n{body}" if body.strip() else head), problems + more


def pinned_note(told: Sequence[Told], limits: HostLimits) -> tuple[str, list[Problem]]:
    """Give the note to pin under the video, within what the host allows for one."""
    retractions = [(record, spans) for record, spans in told if record.kind == "correction"]
    text, problems = _fitted(retractions, limits.pinned_note_max_chars, PINNED_NOTE)
    return text, problems


def end_note(told: Sequence[Told]) -> str:
    """Give what to say at the end of the video, or of the next one: plain sentences, no signs."""
    parts = []
    for record, spans in told:
        if record.kind != "correction":
            continue
        times = _listed([format_time(span.start_ms) for span in spans])
        parts.append(
            f"A correction: at {times} you saw this: {_clause(record.shown)} "
            f"Do not copy it. {_sentence(record.wrong)} Do this instead: {_clause(record.instead)}"
        )
    return "\n\n".join(parts) + "\n" if parts else ""


def _fitted(told: Sequence[Told], max_chars: int, file: str) -> tuple[str, list[Problem]]:
    """Tell all in full if that fits, else the last in short, else without the last, and so on."""
    if not told:
        return "", []
    for whole in range(len(told), -1, -1):
        lines = [told_in_full(*one) for one in told[:whole]] + [told_in_short(*one) for one in told[whole:]]
        text = _joined(lines, told, 0)
        if len(text) <= max_chars:
            return text, []
    lines = [told_in_short(*one) for one in told]
    while len(lines) > 1 and len(_joined(lines, told, len(told) - len(lines))) > max_chars:
        lines.pop()
    left_out = len(told) - len(lines)
    text = _joined(lines, told, left_out)
    if len(text) > max_chars:
        text = f"{shortened(text, max(max_chars - 1, 0))}\n"[:max_chars]
    what = f"{left_out} of its corrections" if left_out else "the end of the correction"
    message = f"the host allows {max_chars} characters, so it lacks {what}; shorten the words of the record"
    return text, [Problem("description-long", message, file)]


def _joined(lines: Sequence[str], told: Sequence[Told], left_out: int) -> str:
    hurts = any(record.kind != "disclosure" and record.signal != "NOTICE" for record, _ in told)
    more = [f"… and {left_out} more"] if left_out else []
    return "\n\n".join([*lines, *more, *([DEFERS] if hurts else [])]) + "\n"


def _head(record: Correction, times: Sequence[str]) -> str:
    word = f"CORRECTION ({record.signal})" if record.kind == "correction" else record.signal
    return f"{word} at {_listed(times)}" if times else word


def _label(record: Correction) -> str:
    return "Wrong here" if record.kind == "correction" else "Careful here"


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""


def _sentence(text: str) -> str:
    clause = _clause(text)
    return clause[:1].upper() + clause[1:]


def _clause(text: str) -> str:
    """Close a text with a full stop; its first letter stays as the maker wrote it."""
    line = one_line(text).rstrip(" ,;:")
    return line if line.endswith((".", "!", "?", "…")) else f"{line}."
