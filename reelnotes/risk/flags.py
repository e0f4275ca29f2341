"""Places into flags: those of one lapse together, each with its signal word, reason, caution and source."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from reelnotes.model import COMMON_PRACTICE, DEFERS, SIGNAL_ORDER, Flag, Step, Topic, stable_id
from reelnotes.risk.places import Place
from reelnotes.risk.rules import RuleBook
from reelnotes.timing import Span, format_time

#: How the reason of an unsure flag begins.
ONLY_A_LOOK = "Worth a look, it may be in order:"
#: Places of one topic nearer than this are one flag with several places.
TOGETHER_MS = 20_000
#: How far from a step's span speech may stand and still tell the same lapse as its log entry.
STEP_MS = 20_000
TOLD = 0.5
#: How many words are shown as evidence.
SHOWN = 6
#: Worst first among equal signal words: what a viewer could die of, then what maims, then what harms.
_BY_HARM: tuple[Topic, ...] = (
    "mains", "chemical-mix", "tip-over", "rag-fire", "ignition", "fumes", "old-paint", "missing-guard",
    "live-tool", "loose-work", "eyes-ears", "dust", "finish-stack", "wood-movement", "blind-fit",
)  # fmt: skip


def flags_of(places: Iterable[Place], steps: Sequence[Step], book: RuleBook) -> tuple[Flag, ...]:
    """Join places of one lapse and give them as flags, worst first, then in order of time."""
    groups = _together(sorted(places, key=_in_order))
    groups = _with_log(groups, steps)
    flags = [_flag(group, book, _entry_of(group, steps)) for group in groups]
    return tuple(sorted(flags, key=_worst_first))


def _in_order(place: Place) -> tuple[str, int, int]:
    return (place.topic, -1 if place.start_ms is None else place.start_ms, place.entry or 0)


def _together(places: Sequence[Place]) -> list[list[Place]]:
    groups: list[list[Place]] = []
    for place in places:
        last = groups[-1][-1] if groups else None
        if last and last.topic == place.topic and _near(last, place):
            groups[-1].append(place)
        else:
            groups.append([place])
    return groups


def _near(one: Place, other: Place) -> bool:
    if one.end_ms is None or other.start_ms is None:
        return one.entry is not None and one.entry == other.entry
    return other.start_ms - one.end_ms <= TOGETHER_MS


def _with_log(groups: list[list[Place]], steps: Sequence[Step]) -> list[list[Place]]:
    """Join a log entry's place with the speech that tells the same step."""
    by_entry = {step.entry: step for step in steps if step.told > TOLD}
    spoken = [group for group in groups if group[0].entry is None]
    alone = []
    hosts: set[int] = set()
    for group in groups:
        if group[0].entry is None:
            continue
        host = _host(group, by_entry.get(group[0].entry), spoken, hosts)
        if host is None:
            alone.append(group)
        else:
            hosts.add(host)
            spoken[host] = [*spoken[host], *group]
    return spoken + alone


def _host(
    group: Sequence[Place], step: Step | None, spoken: list[list[Place]], taken: set[int]
) -> int | None:
    """Find the speech that a log entry's place belongs with; each speech takes in one entry at most."""
    if step is None:
        return None
    for number, other in enumerate(spoken):
        if number not in taken and other[0].topic == group[0].topic and _tells(step, other):
            return number
    return None


def _tells(step: Step, group: Sequence[Place]) -> bool:
    return any(
        place.start_ms is not None
        and place.end_ms is not None
        and place.start_ms < span.end_ms + STEP_MS
        and place.end_ms > span.start_ms - STEP_MS
        for place in group
        for span in step.spans[:1]
    )


def _entry_of(group: Sequence[Place], steps: Sequence[Step]) -> int | None:
    """Find the entry of a lapse: the one that tells it, else the one whose step is told at that time."""
    noted = next((place.entry for place in group if place.entry is not None), None)
    first, last = group[0], group[-1]
    if noted is not None or first.start_ms is None or last.end_ms is None:
        return noted
    middle_ms = (first.start_ms + last.end_ms) // 2
    sure = [
        (step.told * span.confidence, step.entry)
        for step in steps
        for span in step.spans[:1]
        if span.start_ms <= middle_ms <= span.end_ms
    ]
    chance, entry = max(sure, default=(0.0, None))
    return entry if chance > TOLD else None


def _flag(group: Sequence[Place], book: RuleBook, entry: int | None) -> Flag:
    best = max(group, key=lambda p: (p.tier == "firm", p.entry is None, p.score))
    known = book.topics[best.topic]
    rules = [rule for place in (best, *group) for rule in place.rules]
    firm = any(p.tier == "firm" for p in group)
    source = next((r.source for r in rules if r.source), known.source)
    caution = next((r.caution for r in rules if r.caution), known.caution)
    why = next((r.why for r in rules if r.why), known.why)
    spans = _spans([p for p in group if p.entry is None]) or _spans(group)
    return Flag(
        id=stable_id(best.topic, best.quote),
        topic=best.topic,
        signal=min((known.signal, *(r.signal for r in rules if r.signal)), key=SIGNAL_ORDER.index),
        start_ms=min((s.start_ms for s in spans), default=None),
        end_ms=max((s.end_ms for s in spans), default=None),
        entry=entry,
        quote=best.quote,
        why=why if firm else f"{ONLY_A_LOOK} {why}",
        caution=" ".join([caution, *([] if source else [COMMON_PRACTICE]), DEFERS]),
        source=source,
        evidence=_evidence(group, book),
        tier="firm" if firm else "look",
        places=tuple(spans[1:]),
    )


def _spans(places: Sequence[Place]) -> list[Span]:
    return [Span(p.start_ms, p.end_ms) for p in places if p.start_ms is not None and p.end_ms is not None]


def _evidence(group: Sequence[Place], book: RuleBook) -> tuple[str, ...]:
    lines = []
    for place in group:
        where = (
            f"log entry {place.entry + 1}" if place.entry is not None else format_time(place.start_ms or 0)
        )
        words = ", ".join(f"“{word}”" for word in place.words[:SHOWN])
        if words:
            lines.append(f"{where}: {words}")
    back = dict.fromkeys(
        book.examples[g] for p in group for r in p.rules for g in r.unless if book.examples.get(g)
    )
    if back:
        lines.append(f"would have taken it back: {'; '.join(list(back)[:2])}")
    return tuple(lines)


def _worst_first(flag: Flag) -> tuple[int, int, int, int, str]:
    return (
        SIGNAL_ORDER.index(flag.signal),
        _BY_HARM.index(flag.topic),
        flag.tier == "look",
        flag.start_ms if flag.start_ms is not None else (flag.entry or 0) * 1000,
        flag.id,
    )
