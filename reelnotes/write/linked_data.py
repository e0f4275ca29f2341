"""schema.org JSON-LD: the video with its chapters as clips, and how the work was done."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from reelnotes.model import Draft, Flag, Material, Step
from reelnotes.timing import iso_duration, seconds
from reelnotes.write.chapters import placed_chapters
from reelnotes.write.json_text import json_text
from reelnotes.write.plain import amount_text, in_cents, money_text, one_line

_CODE_LETTERS = 3
#: Shelf kinds that are not used up by the work.
TOOL_KINDS = frozenset({"tool", "tools"})
#: Escapes that keep the text whole inside an HTML script element, and inside old script readers.
_HTML_ESCAPES = str.maketrans(
    {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"}
)


def linked_data(draft: Draft) -> str:
    """Write JSON-LD (schema.org: VideoObject with Clip parts; HowTo with supplies, tools and steps).

    Times are seconds from the video's beginning, durations ISO 8601. The address of the video is not known
    here, so `url` is left to the page that embeds this. Safe inside `<script type="application/ld+json">`.
    """
    graph = [_video(draft), _how_to(draft)]
    return json_text({"@context": "https://schema.org", "@graph": graph}).translate(_HTML_ESCAPES)


def _video(draft: Draft) -> dict[str, Any]:
    clips = [_clip(c.title, c.start_ms, c.end_ms) for c in placed_chapters(draft)[0]]
    video: dict[str, Any] = {"@type": "VideoObject", "@id": "#video", "name": one_line(draft.title)}
    if draft.published:
        video["uploadDate"] = draft.published.isoformat()
    return {**video, "duration": iso_duration(draft.duration_ms), "hasPart": clips}


def _clip(name: str, start_ms: int, end_ms: int) -> dict[str, Any]:
    return {
        "@type": "Clip",
        "name": name,
        "startOffset": seconds(start_ms),
        "endOffset": seconds(max(end_ms, start_ms + 1)),
    }


def _how_to(draft: Draft) -> dict[str, Any]:
    materials, total = draft.spending.materials, draft.spending.total
    how: dict[str, Any] = {"@type": "HowTo", "name": one_line(draft.title), "video": {"@id": "#video"}}
    if total is not None:
        how["estimatedCost"] = _money(total, draft.currency)
    how["supply"] = [_item(m, draft.currency) for m in materials if m.kind.casefold() not in TOOL_KINDS]
    how["tool"] = [_item(m, draft.currency) for m in materials if m.kind.casefold() in TOOL_KINDS]
    told = [step for step in draft.steps if step.spans]
    how["step"] = [_step(step, place, draft.flags) for place, step in enumerate(told, start=1)]
    return how


def _item(material: Material, currency: str) -> dict[str, Any]:
    is_tool = material.kind.casefold() in TOOL_KINDS
    item: dict[str, Any] = {
        "@type": "HowToTool" if is_tool else "HowToSupply",
        "name": one_line(material.name),
    }
    if material.amount is not None:
        item["requiredQuantity"] = amount_text(material.amount, one_line(material.unit or ""))
    if material.cost is not None and not is_tool:
        item["estimatedCost"] = _money(material.cost, material.currency or currency)
    return item


def _money(value: Decimal, currency: str) -> dict[str, Any] | str:
    """Give a MonetaryAmount where the currency is an ISO 4217 code, else the words a reader would read."""
    if len(currency) == _CODE_LETTERS and currency.isascii() and currency.isupper():
        return {"@type": "MonetaryAmount", "currency": currency, "value": in_cents(value)}
    return money_text(value, currency)


def _step(step: Step, position: int, flags: tuple[Flag, ...]) -> dict[str, Any]:
    """Give a step with its clip; the cautions of open firm flags on it go along as tips."""
    text = one_line(step.text)
    own = [flag for flag in flags if flag.entry == step.entry and flag.tier == "firm"]
    tips = [{"@type": "HowToTip", "text": one_line(flag.caution)} for flag in own]
    best = step.spans[0]
    return {
        "@type": "HowToStep",
        "position": position,
        "itemListElement": [{"@type": "HowToDirection", "text": text}, *tips],
        "video": _clip(text, best.start_ms, best.end_ms),
    }
