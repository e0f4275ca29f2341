"""The question of drying as the maker asks it, and its answer."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from reelnotes.bench.drying import Coat, DryingTimes, Readiness, drying_times, readiness
from reelnotes.bench.finding import Finding, Measures, Row
from reelnotes.bench.units import BadMeasure
from reelnotes.problems import Problem

DRYING_MEASURES = ("product", "notes", "at")
_CAUTIONS = (
    "The label's times are for a warm, dry room; cold, damp and thick coats take longer.",
    "Dry to the touch is not cured: nothing stands on it, and nothing else goes over it, before its time.",
)


def answer_drying(given: Mapping[str, str]) -> tuple[Finding, list[Problem]]:
    """Answer when the next coat may go on and when a finish has cured.

    Measures: product (its name), notes (what the shelf says of it: `next coat 18 h, full cure 2 weeks`), at
    (when coats went on: `2026-03-04 14:20`, several with commas between). Raises a `Refusal`.
    """
    measures = Measures("drying", given, DRYING_MEASURES)
    product = measures.words("product", "the finish")
    times = drying_times(measures.needed("notes", '"next coat 18 h, full cure 2 weeks"'))
    if times == DryingTimes():
        raise BadMeasure(measures.words("notes"), "next coat 18 h, full cure 2 weeks")
    measures.needed("at", '"2026-03-04 14:20"')
    coats = [Coat(product, _moment(text)) for text in measures.several("at")]
    found, problems = readiness(coats, {product: times})
    last = found[-1]
    finding = Finding(
        kind="drying",
        sentence=f"{product}, coat {len(found)}: {_ready_text(last)}.",
        rows=tuple(
            Row(f"coat {n}, {_text(r.coat.at)}", _ready_text(r)) for n, r in enumerate(found, start=1)
        ),
        record={
            "product": product,
            "recoat_h": times.recoat_h,
            "other_h": times.other_h,
            "cure_h": times.cure_h,
            "coats": [
                {
                    "at": r.coat.at.isoformat(),
                    "recoat_from": r.recoat_from.isoformat() if r.recoat_from else None,
                    "other_from": r.other_from.isoformat() if r.other_from else None,
                    "cured_from": r.cured_from.isoformat() if r.cured_from else None,
                }
                for r in found
            ],
        },
        cautions=_CAUTIONS,
        cite=measures.cite,
    )
    return finding, problems


def _moment(text: str) -> datetime:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise BadMeasure(text, "a day and a time, 2026-03-04 14:20") from None


def _text(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d %H:%M}"


def _ready_text(ready: Readiness) -> str:
    waits = [
        ("next coat", ready.recoat_from),
        ("another product", ready.other_from),
        ("cured", ready.cured_from),
    ]
    told = [f"{name} from {_text(moment)}" for name, moment in waits if moment]
    return "; ".join(told)
