"""`draft.json`: what the page and other programs read; its schema is docs/schemas/draft-1.json."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reelnotes.model import Chapter, Draft, Flag, Material, Promise, Step
from reelnotes.problems import Problem
from reelnotes.timing import seconds
from reelnotes.write.json_text import json_text
from reelnotes.write.plain import in_cents

if TYPE_CHECKING:  # pydantic stands behind these: they are for the type checker alone
    from decimal import Decimal

    from reelnotes.write.contract import (
        ChapterRecord,
        DismissedRecord,
        DraftRecord,
        FlagRecord,
        MaterialRecord,
        ProblemRecord,
        PromiseRecord,
        StepRecord,
    )

_DIGITS = 3


def draft_json(draft: Draft) -> str:
    """Write a draft as JSON text, keys in the order of the contract; the same draft gives the same bytes.

    Times are seconds, exact to the millisecond; probabilities have three decimals; money has two.
    """
    return json_text(draft_record(draft))


def draft_record(draft: Draft) -> DraftRecord:
    """Give a draft as the record of the contract (see `contract.DraftRecord`)."""
    spending, offset = draft.spending, draft.clock_offset
    return {
        "schema": "reelnotes/draft-1",
        "episode": draft.episode,
        "title": draft.title,
        "published": draft.published.isoformat() if draft.published else None,
        "duration_s": seconds(draft.duration_ms),
        "clock_offset_s": {"low": offset.low_s, "best": offset.best_s, "high": offset.high_s}
        if offset
        else None,
        "steps": [_step(step) for step in draft.steps],
        "chapters": [_chapter(chapter) for chapter in draft.chapters],
        "materials": [_material(material) for material in spending.materials],
        "spoken_only": [
            {"name": spoken.name, "said_at_s": seconds(spoken.said_at_ms)} for spoken in spending.spoken_only
        ],
        "unlisted": list(spending.unlisted),
        "total_cost": _cents(spending.total),
        "budget": _cents(spending.budget),
        "spent": _cents(spending.spent) if any(one.counts for one in spending.bought) else None,
        "bought": [
            {
                "name": one.name,
                "price": _cents(one.price),
                "entry": one.entry,
                "kind": one.kind,
                "counts": one.counts,
            }
            for one in spending.bought
        ],
        "currency": draft.currency,
        "promises": [_promise(promise) for promise in draft.promises],
        "flags": [_flag(flag) for flag in draft.flags],
        "dismissed": [_dismissed(flag, reason) for flag, reason in draft.dismissed],
        "problems": [_problem(problem) for problem in draft.problems],
        "inputs": dict(draft.inputs),
    }


def _step(step: Step) -> StepRecord:
    return {
        "id": step.id,
        "entry": step.entry,
        "logged_at": step.logged_at,
        "text": step.text,
        "told": round(step.told, _DIGITS),
        "spans": [
            {
                "start_s": seconds(span.start_ms),
                "end_s": seconds(span.end_ms),
                "confidence": round(span.confidence, _DIGITS),
                "evidence": span.evidence,
            }
            for span in step.spans
        ],
    }


def _chapter(chapter: Chapter) -> ChapterRecord:
    return {"start_s": seconds(chapter.start_ms), "title": chapter.title, "from": chapter.origin}


def _material(material: Material) -> MaterialRecord:
    return {
        "name": material.name,
        "amount": material.amount,
        "unit": material.unit,
        "cost": _cents(material.cost),
        "currency": material.currency,
        "kind": material.kind,
        "said_at_s": _seconds_or_none(material.said_at_ms),
        "entries": list(material.entries),
        "given": material.given,
    }


def _promise(promise: Promise) -> PromiseRecord:
    return {
        "said_at_s": seconds(promise.said_at_ms),
        "quote": promise.quote,
        "kind": promise.kind,
        "kept_at_s": _seconds_or_none(promise.kept_at_ms),
    }


def _flag(flag: Flag) -> FlagRecord:
    return {
        "id": flag.id,
        "topic": flag.topic,
        "signal": flag.signal,
        "tier": flag.tier,
        "start_s": _seconds_or_none(flag.start_ms),
        "end_s": _seconds_or_none(flag.end_ms),
        "entry": flag.entry,
        "quote": flag.quote,
        "why": flag.why,
        "caution": flag.caution,
        "source": flag.source,
        "evidence": list(flag.evidence),
        "places": [
            {"start_s": seconds(place.start_ms), "end_s": seconds(place.end_ms)} for place in flag.places
        ],
    }


def _dismissed(flag: Flag, reason: str) -> DismissedRecord:
    return {**_flag(flag), "reason": reason}


def _problem(problem: Problem) -> ProblemRecord:
    return {
        "code": problem.code,
        "severity": problem.severity,
        "file": problem.file,
        "line": problem.line,
        "message": problem.message,
        "excerpt": problem.excerpt,
    }


def _seconds_or_none(ms: int | None) -> float | None:
    return None if ms is None else seconds(ms)


def _cents(value: Decimal | None) -> Decimal | None:
    return None if value is None else in_cents(value)
