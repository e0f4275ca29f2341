"""Rules laid on a run of words: where all that a rule needs stands together and nothing takes it back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reelnotes.model import Topic
from reelnotes.records import frozen
from reelnotes.risk.mentions import Mention, Mentions
from reelnotes.risk.rules import Rule, RuleBook

#: How far what takes a rule back may stand from it, in words.
TAKES_BACK_WITHIN = 25


@frozen
class Finding:
    """A rule met by words `first` up to and without `end`."""

    topic: Topic
    rule: Rule
    first: int
    end: int
    mentions: tuple[Mention, ...]


def findings(mentions: Mentions, bounds: Sequence[tuple[int, int]], book: RuleBook) -> Iterator[Finding]:
    """Give every place where a rule is met; `bounds[i]` are the words that word i may be joined with."""
    for topic, known in book.topics.items():
        for rule in known.rules:
            yield from _of_rule(topic, rule, mentions, bounds)


def _of_rule(
    topic: Topic, rule: Rule, mentions: Mentions, bounds: Sequence[tuple[int, int]]
) -> Iterator[Finding]:
    anchors = rule.needs[:1] or rule.one_of
    reached = -1
    for anchor_group in anchors:
        for anchor in mentions.by_group.get(anchor_group, ()):
            if anchor.first < reached:
                continue
            joined = _joined(rule, anchor, mentions, bounds[anchor.first])
            if joined is None:
                continue
            first, end = min(m.first for m in joined), max(m.end for m in joined)
            if not taken_back(rule, first, end, mentions, bounds[anchor.first]):
                yield Finding(topic, rule, first, end, joined)
                reached = end


def _joined(
    rule: Rule, anchor: Mention, mentions: Mentions, bounds: tuple[int, int]
) -> tuple[Mention, ...] | None:
    found = [anchor]
    for group in rule.needs[1:]:
        other = _near(mentions, group, anchor, rule.within, bounds)
        if other is None:
            return None
        found.append(other)
    if rule.one_of and rule.needs:
        others = (_near(mentions, group, anchor, rule.within, bounds) for group in rule.one_of)
        other = next((m for m in others if m is not None), None)
        if other is None:
            return None
        found.append(other)
    return tuple(sorted(found, key=lambda m: m.first))


def _near(
    mentions: Mentions, group: str, anchor: Mention, within: int, bounds: tuple[int, int]
) -> Mention | None:
    found = mentions.near(group, anchor.first, anchor.end, within)
    return found if found and bounds[0] <= found.first and found.end <= bounds[1] else None


def taken_back(rule: Rule, first: int, end: int, mentions: Mentions, bounds: tuple[int, int]) -> bool:
    """Tell whether something that takes the rule back stands within or near words first..end."""
    low, high = max(bounds[0], first - TAKES_BACK_WITHIN), min(bounds[1], end + TAKES_BACK_WITHIN)
    return any(
        low <= m.first and m.end <= high for group in rule.unless for m in mentions.by_group.get(group, ())
    )
