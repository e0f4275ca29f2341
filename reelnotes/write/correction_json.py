"""Records of the ledger as JSON for programs."""

from __future__ import annotations

from collections.abc import Sequence

from reelnotes.model import Correction, Reach
from reelnotes.timing import Span, seconds


def correction_record(record: Correction) -> dict[str, object]:
    """Give a record as a JSON object: times in seconds, days as ISO 8601."""
    return {
        "id": record.id,
        "kind": record.kind,
        "signal": record.signal,
        "topic": record.topic,
        "shown": record.shown,
        "wrong": record.wrong,
        "instead": record.instead,
        "recorded": record.recorded.isoformat() if record.recorded else None,
        "flag": record.flag or None,
        "evidence": list(record.evidence),
        "worked_out": list(record.worked_out),
        "sources": list(record.sources),
        "places": [
            {
                "episode": place.episode,
                "version": place.version,
                **span_record(place.span),
                "gone_in": list(place.gone_in),
            }
            for place in record.places
        ],
        "reach": reach_records(record.reach),
        "history": list(record.history),
    }


def span_record(span: Span) -> dict[str, float]:
    """Give a span in seconds."""
    return {"start_s": seconds(span.start_ms), "end_s": seconds(span.end_ms)}


def reach_records(reach: Sequence[Reach]) -> list[dict[str, str]]:
    """Give where and when a record was published."""
    return [{"where": one.where, "episode": one.episode, "on": one.on.isoformat()} for one in reach]
