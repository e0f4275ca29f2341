"""The flags as a sheet to work through with a pencil or in a text editor."""

from __future__ import annotations

from collections import Counter

from reelnotes.model import SIGNAL_ORDER, Draft, Flag
from reelnotes.timing import Span
from reelnotes.write.plain import one_line, span_text
from reelnotes.write.table_text import markdown, markdown_line
from reelnotes.write.wording import DEFERENCE, TOPIC_WORDS


def worst_first(flags: tuple[Flag, ...]) -> list[Flag]:
    """Order flags by signal word, then by place; those that are only in the log stand last in their word."""
    rank = {word: place for place, word in enumerate(SIGNAL_ORDER)}
    return sorted(flags, key=lambda f: (rank[f.signal], f.start_ms is None, f.start_ms or 0, f.entry or 0))


def flags_markdown(draft: Draft) -> str:
    """Write each flag with a box to tick, its signal word, place, words, reason, usual caution and source.

    Firm flags first, worst first; then what is merely worth a look; then what was put aside, with reasons.
    """
    ordered = worst_first(draft.flags)
    firm, look = ([f for f in ordered if f.tier == tier] for tier in ("firm", "look"))
    parts = [
        f"# Flags to work through: {markdown(one_line(draft.title))}\n",
        f"{_summary(ordered)}\n",
        DEFERENCE,
    ]
    number = 0
    for heading, flags in (("To settle before publishing", firm), ("Worth a look", look)):
        if flags:
            parts.append(f"\n## {heading}")
        for flag in flags:
            number += 1
            parts.append(_worked(flag, number, draft))
    if draft.dismissed:
        parts.append("\n## Put aside\n")
        for flag, reason in draft.dismissed:
            words = markdown(one_line(reason)) or "no reason given"
            parts.append(f"- {_place(flag, draft)}, {TOPIC_WORDS[flag.topic]}: {words}")
    return "\n".join(parts) + "\n"


def _summary(flags: list[Flag]) -> str:
    counts = Counter(flag.signal for flag in flags)
    named = ", ".join(f"{counts[word]} {word}" for word in SIGNAL_ORDER if counts[word])
    return (
        f"{len(flags)} open: {named}." if flags else "Nothing was flagged. That is no proof that all is well."
    )


def _worked(flag: Flag, number: int, draft: Draft) -> str:
    lines = [
        f"\n### {number}. {flag.signal}: {TOPIC_WORDS[flag.topic]}, {_place(flag, draft)}\n",
        "- [ ] settled\n",
        f"> {markdown_line(one_line(flag.quote))}\n",
        f"- Why: {markdown(one_line(flag.why))}",
        f"- Usual caution: {markdown(one_line(flag.caution))}",
        f"- Source: {markdown(one_line(flag.source)) if flag.source else 'common practice'}",
    ]
    if flag.evidence:
        lines.append(f"- Seen by: {'; '.join(markdown(one_line(words)) for words in flag.evidence)}")
    if flag.places:
        lines.append(f"- Also at: {', '.join(span_text(place) for place in flag.places)}")
    lines.append(f"- To put it aside, name it by its id: {flag.id}")
    return "\n".join(lines)


def _place(flag: Flag, draft: Draft) -> str:
    """Say where a flag stands: in the video, in the log, or both."""
    places = []
    if flag.start_ms is not None:
        places.append(span_text(Span(flag.start_ms, max(flag.end_ms or 0, flag.start_ms))))
    if flag.entry is not None and flag.entry < len(draft.entries):
        places.append(f"line {draft.entries[flag.entry].line} of the log")
    return " and ".join(places) or "the whole episode"
