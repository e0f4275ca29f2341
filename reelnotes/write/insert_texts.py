"""The inserts of an episode as JSON for programs, and as a text to read through."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from reelnotes.model import Card, Insert
from reelnotes.timing import format_exact, format_timecode, ms_to_frames, seconds
from reelnotes.write.json_text import json_text
from reelnotes.write.plain import span_text

_KIND_WORDS = {"correction": "correction", "caution": "caution", "disclosure": "disclosure"}


#: What each record cites of the bench, worked out afresh, by the record's id.
Answers = Mapping[str, Sequence[str]]
_NONE: Answers = {}


def inserts_json(
    episode: str,
    version: int,
    inserts: Sequence[Insert],
    rate: Fraction | None,
    *,
    drop: bool,
    answers: Answers = _NONE,
) -> str:
    """Write inserts as JSON text (docs/schemas/inserts-1.json); see `inserts_record`."""
    return json_text(inserts_record(episode, version, inserts, rate, drop=drop, answers=answers))


def inserts_record(
    episode: str,
    version: int,
    inserts: Sequence[Insert],
    rate: Fraction | None,
    *,
    drop: bool,
    answers: Answers = _NONE,
) -> dict[str, object]:
    """Give inserts as a JSON object: times in seconds, and in frames where a rate is known.

    `drop` gives drop-frame labels (SMPTE ST 12-1), which exist at 30000/1001 and 60000/1001 alone.
    """
    return {
        "schema": "reelnotes/inserts-1",
        "episode": episode,
        "version": version,
        "frame_rate": str(rate) if rate else None,
        "inserts": [
            _insert(insert, rate, drop=drop) | {"worked_out": list(answers.get(insert.of, ()))}
            for insert in inserts
        ],
    }


def _insert(insert: Insert, rate: Fraction | None, *, drop: bool) -> dict[str, object]:
    return {
        "of": insert.of,
        "kind": insert.kind,
        "signal": insert.signal,
        "alert_symbol": insert.cards[0].alert_symbol,
        "span": {"start_s": seconds(insert.span.start_ms), "end_s": seconds(insert.span.end_ms)},
        "returns": insert.returns,
        "hold_s": seconds(insert.hold_ms),
        "cards": [_card(card, rate, drop=drop) for card in insert.cards],
    }


def _card(card: Card, rate: Fraction | None, *, drop: bool) -> dict[str, object]:
    edges = {"start": card.start_ms, "end": card.end_ms}
    frames = {name: ms_to_frames(ms, rate) for name, ms in edges.items()} if rate else {}
    return {
        "part": card.part,
        "lines": list(card.lines),
        "start_s": seconds(card.start_ms),
        "end_s": seconds(card.end_ms),
        **{f"{name}_frame": frame for name, frame in frames.items()},
        **{
            f"{name}_timecode": format_timecode(frame, rate, drop=drop)
            for name, frame in frames.items()
            if rate
        },
    }


def inserts_text(
    title: str,
    inserts: Sequence[Insert],
    rate: Fraction | None,
    *,
    drop: bool,
    answers: Answers = _NONE,
) -> str:
    """Write inserts to be read through: each with its place, and its cards with their times and lines."""
    if not inserts:
        return (
            f"Inserts for {title}\n\nNone: nothing in the ledger speaks of this episode as it stands now.\n"
        )
    clock = f"at {_rate_text(rate)} frames a second" if rate else "on whole milliseconds"
    parts = [f"Inserts for {title}, {clock}\n"]
    for insert in inserts:
        word = insert.signal or "DISCLOSURE"
        again = ", returning" if insert.returns else ""
        parts.append(f"\n{span_text(insert.span)}  {word}  {_KIND_WORDS[insert.kind]} {insert.of}{again}\n")
        for card in insert.cards:
            times = _times(card, rate, drop=drop)
            indent = " " * (len(times) + 4)
            lines = f"\n{indent}".join(card.lines)
            parts.append(f"  {times}  {lines}\n")
        if not insert.returns:
            parts += [f"  worked out: {answer}\n" for answer in answers.get(insert.of, ())]
        if insert.hold_ms:
            parts.append(f"  needs a frame held for {seconds(insert.hold_ms):g} s to be read\n")
    return "".join(parts)


def _times(card: Card, rate: Fraction | None, *, drop: bool) -> str:
    if rate is None:
        return f"{format_exact(card.start_ms)} – {format_exact(card.end_ms)}"
    start, end = (
        format_timecode(ms_to_frames(ms, rate), rate, drop=drop) for ms in (card.start_ms, card.end_ms)
    )
    return f"{start} – {end}"


def _rate_text(rate: Fraction) -> str:
    return str(rate.numerator) if rate.denominator == 1 else f"{rate.numerator}/{rate.denominator}"
