"""Looking back: one page for a year, with its plots in it as SVG.

Every plot has a title and a description, says its numbers in words too, and has its table beside it. Nothing
is told by colour alone, and nothing is fetched from anywhere.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from reelnotes.model import HARM_ORDER, Correction, FlagTopic, ReachPlace
from reelnotes.problems import Problem
from reelnotes.records import frozen
from reelnotes.timing import MS_PER_HOUR, MS_PER_MINUTE, seconds
from reelnotes.write.json_text import json_text
from reelnotes.write.pages import TEMPLATES, page_template, raw
from reelnotes.write.plain import in_cents, money_text
from reelnotes.write.publishing import PLACE_WORDS
from reelnotes.write.wording import DEFERENCE, TOPIC_WORDS

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_MOST_BARS = 20


@frozen
class YearEpisode:
    """An episode of the year; `against` is what is held against its budget."""

    slug: str
    title: str
    published: date
    duration_ms: int
    currency: str
    against: Decimal | None
    budget: Decimal | None


@frozen
class YearMaterial:
    """What an episode used of a product."""

    episode: str
    name: str
    kind: str
    cost: Decimal | None
    currency: str


@frozen
class YearFlag:
    """A flag of an episode of the year."""

    month: int
    topic: FlagTopic
    firm: bool


@frozen
class YearFacts:
    """All that the page tells. `owed` are ids of records, each with an episode whose viewers lack it."""

    workshop: str
    year: int
    episodes: tuple[YearEpisode, ...] = ()
    materials: tuple[YearMaterial, ...] = ()
    flags: tuple[YearFlag, ...] = ()
    corrections: tuple[Correction, ...] = ()
    owed: tuple[tuple[str, str], ...] = ()

    @property
    def length_ms(self) -> int:
        """The programme of the year."""
        return sum(episode.duration_ms for episode in self.episodes)

    @property
    def currencies(self) -> tuple[str, ...]:
        """The currencies that money stands in; sums are never made over two."""
        return tuple(sorted({e.currency for e in self.episodes} | {m.currency for m in self.materials}))


@frozen
class Bar:
    """A bar: its label, its value in words, its length from 0 to 1, and where a mark stands on it, if any."""

    label: str
    words: str
    share: float
    mark: float | None = None
    over: bool = False


def year_page(facts: YearFacts) -> str:
    """Write the page."""
    return page_template("year.html").render(
        style=raw(TEMPLATES / "year.css"),
        facts=facts,
        hours=hours_text(facts.length_ms),
        months=MONTHS,
        month_bars=month_bars(facts),
        budgets=budget_bars(facts),
        kinds=[(currency, kind_bars(facts, currency)) for currency in facts.currencies],
        topics=topic_rows(facts),
        corrections=[correction_row(one) for one in facts.corrections],
        longest=max((days for one in facts.corrections for _, days in reached_days(one)), default=0),
        place_words=PLACE_WORDS,
        deference=DEFERENCE,
    )


def hours_text(ms: int) -> str:
    """Give a length as a page says it: minutes up to an hour, hours with one decimal from there."""
    if ms < MS_PER_HOUR:
        return f"{round(ms / MS_PER_MINUTE)} min"
    return f"{ms / MS_PER_HOUR:.1f} h"


def month_bars(facts: YearFacts) -> list[Bar]:
    """Give the programme of each month: hours, and how many episodes."""
    lengths = [sum(e.duration_ms for e in facts.episodes if e.published.month == m) for m in range(1, 13)]
    counts = Counter(e.published.month for e in facts.episodes)
    most = max(lengths, default=0) or 1
    words = [f"{counts[m]} episode{'s' if counts[m] != 1 else ''}" for m in range(1, 13)]
    return [
        Bar(month, f"{words[m]}, {hours_text(lengths[m])}", lengths[m] / most)
        for m, month in enumerate(MONTHS)
    ]


def budget_bars(facts: YearFacts) -> list[Bar]:
    """Give what was held against each budget, those furthest over first."""
    held = [e for e in facts.episodes if e.budget and e.against is not None]
    held.sort(key=lambda e: (-(e.against or 0) / (e.budget or 1), e.published))
    most = max((max(e.against or Decimal(0), e.budget or Decimal(0)) for e in held), default=Decimal(1)) or 1
    return [
        Bar(
            e.title,
            f"{in_cents(e.against or Decimal(0))} of {money_text(e.budget, e.currency)}",
            float((e.against or Decimal(0)) / most),
            float((e.budget or Decimal(0)) / most),
            over=(e.against or Decimal(0)) > (e.budget or Decimal(0)),
        )
        for e in held[:_MOST_BARS]
    ]


def kind_bars(facts: YearFacts, currency: str) -> list[Bar]:
    """Give what the materials of each kind cost in a currency, the dearest first."""
    costs: dict[str, Decimal] = {}
    used: Counter[str] = Counter()
    unknown: Counter[str] = Counter()
    for material in facts.materials:
        if material.currency == currency:
            kind = material.kind or "of no kind"
            costs[kind] = costs.get(kind, Decimal(0)) + (material.cost or Decimal(0))
            used[kind] += 1
            unknown[kind] += material.cost is None
    most = max(costs.values(), default=Decimal(1)) or Decimal(1)
    ranked = sorted(costs, key=lambda kind: (-costs[kind], kind))
    words = {
        kind: _cost_words(money_text(in_cents(cost), currency), used[kind], unknown[kind])
        for kind, cost in costs.items()
    }
    return [Bar(kind, words[kind], float(costs[kind] / most)) for kind in ranked[:_MOST_BARS]]


def _cost_words(cost: str, used: int, unknown: int) -> str:
    """Say what a kind cost; a use whose cost is not known is none of nothing."""
    if unknown == used:
        return f"cost not known, used {used} ×"
    return f"{cost} for {used - unknown} of {used} uses" if unknown else f"{cost}, used {used} ×"


def topic_rows(facts: YearFacts) -> list[tuple[str, list[int], int]]:
    """Give for each topic how many flags there were in each month and in all, the worst harm first."""
    counts = Counter((flag.topic, flag.month) for flag in facts.flags)
    order: list[FlagTopic] = [*HARM_ORDER, "disclosure"]
    rows = [(TOPIC_WORDS[topic], [counts[topic, month] for month in range(1, 13)]) for topic in order]
    return [(words, months, sum(months)) for words, months in rows if any(months)]


def reached_days(record: Correction) -> list[tuple[ReachPlace, int]]:
    """Give in how many days a correction was first published in each place; none without its own day.

    What viewers were told before it was recorded took no days.
    """
    if record.recorded is None:
        return []
    first: dict[ReachPlace, date] = {}
    for reach in record.reach:
        first[reach.where] = min(reach.on, first.get(reach.where, reach.on))
    days = [(where, max(0, (on - record.recorded).days)) for where, on in first.items()]
    return sorted(days, key=lambda pair: pair[1])


def correction_row(record: Correction) -> dict[str, Any]:
    """Give a correction as a row: when, what, and how long it took to reach viewers where."""
    return {
        "id": record.id,
        "shown": record.shown,
        "signal": record.signal,
        "recorded": record.recorded,
        "reached": [(PLACE_WORDS[where], days) for where, days in reached_days(record)],
        "first": min((days for _, days in reached_days(record)), default=None),
    }


def median_days(records: Iterable[Correction]) -> int | None:
    """Give the median of the days until corrections first reached viewers; None where none has."""
    days = sorted(min(d for _, d in reached_days(one)) for one in records if reached_days(one))
    return days[len(days) // 2] if days else None


def year_json(facts: YearFacts, problems: Iterable[Problem] = ()) -> str:
    """Write the year as JSON text, with what was found wrong on the way."""
    told = [
        {"code": p.code, "severity": p.severity, "file": p.file, "line": p.line, "message": p.message}
        for p in problems
    ]
    return json_text({**year_record(facts), "problems": told})


def year_record(facts: YearFacts) -> dict[str, Any]:
    """Give the year as a record; money in the currency of its episode, times in seconds."""
    return {
        "schema": "reelnotes/year-1",
        "year": facts.year,
        "episodes": [
            {
                "episode": e.slug,
                "title": e.title,
                "published": e.published.isoformat(),
                "duration_s": seconds(e.duration_ms),
                "against_budget": None if e.against is None else in_cents(e.against),
                "budget": None if e.budget is None else in_cents(e.budget),
                "currency": e.currency,
            }
            for e in facts.episodes
        ],
        "materials_by_kind": [
            {"currency": currency, "kind": bar.label, "words": bar.words}
            for currency in facts.currencies
            for bar in kind_bars(facts, currency)
        ],
        "flags_by_topic": [
            {"topic": words, "months": months, "all": total} for words, months, total in topic_rows(facts)
        ],
        "corrections": [
            {
                "id": one.id,
                "recorded": one.recorded.isoformat() if one.recorded else None,
                "reached_after_days": dict(_plain(reached_days(one))),
            }
            for one in facts.corrections
        ],
        "owed": [{"id": record, "episode": slug} for record, slug in facts.owed],
    }


def _plain(pairs: Sequence[tuple[ReachPlace, int]]) -> list[tuple[str, int]]:
    return [(str(where), days) for where, days in pairs]
