"""The questions of drying as the maker asks them, and their answers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from reelnotes.bench.drying import Coat, Readiness, hours_apart, readiness
from reelnotes.bench.finding import Finding, Measures, Row
from reelnotes.bench.units import BadMeasure
from reelnotes.problems import Problem, Refusal
from reelnotes.records import frozen
from reelnotes.words.waiting import Waits, waits_of

DRYING_MEASURES = ("product", "notes", "at", "episode")
_LENT = ("notes", "at")
_CAUTIONS = (
    "The label's times are for a warm, dry room; cold, damp and thick coats take longer.",
    "Dry to the touch is not cured: nothing stands on it, and nothing else goes over it, before its time.",
)
_ONE_SURFACE = "All coats are taken to lie on one surface: look whether they do."
_LINE, _NAME = 80, 1
_WAITS = ("next coat", "another product", "cured")


@frozen
class Finish:
    """A finish of an episode: its name, what the shelf says of it and in which line, and when it went on."""

    product: str
    notes: str
    line: int = 0
    at: tuple[datetime, ...] = ()

    def measures(self, episode: str) -> dict[str, str]:
        """Give the question that asks for this finish alone."""
        times = ",".join(f"{moment:%Y-%m-%d %H:%M}" for moment in self.at)
        return {"product": self.product, "episode": episode, "notes": self.notes, "at": times}


class NoCoats(Refusal):
    """An episode of which nothing can be said about drying."""

    def __init__(self, products: Sequence[str]) -> None:
        told = f"{', '.join(products)} went on, but" if products else "the log tells of no coat of a finish;"
        super().__init__(
            f"{told} the shelf's notes must say how long it waits: next coat 18 h, full cure 2 weeks."
        )


class NoEpisode(Refusal):
    """The coats of an episode are asked for, and there is no such episode or no such finish in it."""

    def __init__(self, episode: str, product: str) -> None:
        super().__init__(
            f"the coats of {product or 'a finish'} in the episode {episode} are asked for, but no log and "
            "shelf tell of them; name the workshop with --workshop DIR, the product as the shelf has it."
        )


def answer_drying(given: Mapping[str, str]) -> tuple[Finding, list[Problem]]:
    """Answer when the next coat may go on and when a finish has cured.

    Measures: product (its name), notes (what the shelf says of it: `next coat 18 h, full cure 2 weeks`), at
    (when coats went on: `2026-03-04 14:20`, several with commas between); with episode those two are those of
    its shelf and its log, and what cites the answer asks for the episode. Raises a `Refusal`.
    """
    measures = Measures("drying", given, DRYING_MEASURES, _LENT if given.get("episode") else ())
    if "episode" in measures and not ("notes" in measures and "at" in measures):
        raise NoEpisode(measures.words("episode"), measures.words("product"))
    product = measures.words("product", "the finish")
    waits = waits_of(measures.needed("notes", '"next coat 18 h, full cure 2 weeks"'))
    if waits == Waits():
        raise measures.bad("notes", '"next coat 18 h, full cure 2 weeks"')
    measures.needed("at", '"2026-03-04 14:20"')
    coats = [Coat(product, _moment(text)) for text in measures.several("at")]
    if not coats:
        raise measures.bad("at", "a day and a time, 2026-03-04 14:20")
    found, problems = readiness(coats, {product: waits})
    finding = Finding(
        kind="drying",
        sentence=f"{product}, coat {len(found)}: {_ready_text(found[-1])}.",
        rows=(
            Row("the shelf says", _said(waits)),
            *(Row(f"coat {n}, {_text(r.coat.at)}", _ready_text(r)) for n, r in enumerate(found, start=1)),
        ),
        record=_finish_record(product, waits, found),
        cautions=(*_CAUTIONS, *([_ONE_SURFACE] if len(found) > 1 else [])),
        cite=measures.cite,
    )
    return finding, problems


def answer_episode(finishes: Sequence[Finish], episode: str) -> Finding:
    """Answer for every finish of an episode what may go on from when, by the clock of its log.

    What came too soon is not judged here: the episode's own flags do that. Raises `NoCoats` where the log
    tells of none, or the shelf of no times.
    """
    waits = {finish.product: waits_of(finish.notes) for finish in finishes}
    known = [finish for finish in finishes if waits[finish.product] != Waits() and finish.at]
    if not known:
        raise NoCoats([finish.product for finish in finishes])
    found, _ = readiness([Coat(one.product, at) for one in finishes for at in one.at], waits)
    by_finish = {one.product: [r for r in found if r.coat.product == one.product] for one in known}
    last = next(r for r in reversed(found) if _ready_text(r))
    return Finding(
        kind="drying",
        sentence=f"{last.coat.product} of {_text(last.coat.at)}: {_ready_text(last)}.",
        rows=tuple(
            Row(f"{one.product}, coat {len(by_finish[one.product])}", _ready_text(by_finish[one.product][-1]))
            for one in known
        ),
        record={
            "finishes": [
                {
                    **_finish_record(one.product, waits[one.product], by_finish[one.product]),
                    "shelf_line": one.line or None,
                    "cite": Measures("drying", one.measures(episode), DRYING_MEASURES, _LENT).cite,
                }
                for one in known
            ]
        },
        sources=tuple(
            (f"line {one.line} of the shelf: " if one.line else "") + _said(waits[one.product])
            for one in known
        ),
        cautions=(*_CAUTIONS, _ONE_SURFACE),
        table=_table(found),
    )


def _moment(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise BadMeasure(text, "a day and a time, 2026-03-04 14:20", "at") from None
    return moment.replace(tzinfo=None)  # the clock on the wall; a zone does not make paint dry


def _said(waits: Waits) -> str:
    return "; ".join(wait.said for wait in (waits.own, waits.other, waits.cure) if wait)


def _text(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d %H:%M}"


def _moments(ready: Readiness) -> tuple[datetime | None, datetime | None, datetime | None]:
    return ready.recoat_from, ready.other_from, ready.cured_from


def _ready_text(ready: Readiness) -> str:
    told = [f"{name} from {_text(at)}" for name, at in zip(_WAITS, _moments(ready), strict=True) if at]
    return "; ".join(told)


def _finish_record(product: str, waits: Waits, found: Sequence[Readiness]) -> dict[str, Any]:
    own_h, other_h, cure_h = waits.hours
    return {
        "product": product,
        "recoat_h": own_h,
        "other_h": other_h,
        "cure_h": cure_h,
        "coats": [
            {
                "at": r.coat.at.isoformat(),
                "recoat_from": r.recoat_from.isoformat() if r.recoat_from else None,
                "other_from": r.other_from.isoformat() if r.other_from else None,
                "cured_from": r.cured_from.isoformat() if r.cured_from else None,
            }
            for r in found
        ],
    }


def _table(found: Sequence[Readiness]) -> tuple[tuple[str, ...], ...]:
    """Lay out every coat in order of time; a column in which nothing would stand is left out.

    Names give way to what fits beside the times in a line of 80 characters.
    """
    head = ("went on", "what", "after", "next coat", "another", "cured")
    rows: list[tuple[str, ...]] = [head]
    for number, ready in enumerate(found):
        since = f"{hours_apart(found[number - 1].coat, ready.coat):.1f} h" if number else ""
        times = (_short(at) if at else "" for at in _moments(ready))
        rows.append((_short(ready.coat.at), ready.coat.product, since, *times))
    kept = [column for column in range(len(head)) if any(row[column] for row in rows[1:])]
    room = _LINE - sum(2 + max(len(row[column]) for row in rows) for column in kept if column != _NAME) - 4
    return tuple(
        tuple(_fitted(row[column], room) if column == _NAME else row[column] for column in kept)
        for row in rows
    )


def _short(moment: datetime) -> str:
    return f"{moment:%m-%d %H:%M}"


def _fitted(name: str, room: int) -> str:
    return name if len(name) <= room else f"{name[: room - 1].rstrip()}…"
