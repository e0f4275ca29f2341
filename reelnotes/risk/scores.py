"""Scores of the windows of a run: the reader's, raised by rules, steadied by what stands around them.

A window is not read for itself alone. What a maker says around it counts too (the precaution told in the next
clause), and so does what the log says of the same step.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reelnotes.model import Step
from reelnotes.records import frozen
from reelnotes.risk.features import Features, hashed
from reelnotes.risk.finding import TAKES_BACK_WITHIN, Finding, findings
from reelnotes.risk.mentions import Mentions
from reelnotes.risk.reader import own_weights, reading
from reelnotes.risk.rules import SHARED_WARNED, TOPICS, Rule, RuleBook
from reelnotes.risk.speech import WINDOW_CLAUSES, Run, Window, bounds, windows

#: How much a rule that is met adds to the reader's odds (natural logarithm), by tier. Little: the reader has
#: learnt the word groups of the tool's own rules, and on voices that it has not seen a rule that is met says
#: hardly anything more (fitted on held-out voices: 0.0 for firm rules, -0.6 for others). A maker's rule is
#: new to the reader.
RULE_ADDS = {"firm": 0.5, "look": 0.0}
MAKERS_RULE_ADDS = {"firm": 3.0, "look": 1.5}
#: The share that the windows holding a window have in its score; the rest is its own (docs/risk-rules.md).
AROUND = 0.6
#: How much each precaution that is told nearby takes from a topic's odds (natural logarithm); how many count.
PRECAUTION_TAKES, PRECAUTIONS = 0.75, 2
#: How much speech and log entry of one step bear each other out: one is often written out of the other.
APART = 0.75
#: A reading that sees less than this has nothing that could be borne out.
SOMETHING = 0.1
_LEAST = 1e-6


@frozen
class Scored:
    """A run as it was read: `scores[window, topic]` from 0 to 1, and the rules that are met."""

    run: Run
    features: Features
    spans: Sequence[Window]
    met: Sequence[Finding]
    scores: NDArray[np.float32]


def scored(run: Run, mentions: Mentions, book: RuleBook) -> Scored:
    """Read a run by itself."""
    features = hashed(run.words, mentions)
    spans = list(windows(run))
    within = bounds(run)
    met = list(findings(mentions, within, book))
    scores = _with_rules(reading(features, spans, own_weights()), spans, met)
    eased = _eased(steadied(scores, spans), spans, within, mentions, book)
    return Scored(run, features, spans, met, eased)


def _adds(rule: Rule) -> float:
    return (MAKERS_RULE_ADDS if rule.makers else RULE_ADDS)[rule.tier]


def _with_rules(
    scores: NDArray[np.float32], spans: Sequence[Window], met: Sequence[Finding]
) -> NDArray[np.float32]:
    """Raise the score of every window that a rule's words touch."""
    first = np.fromiter((w.first for w in spans), np.int64, len(spans))
    end = np.fromiter((w.end for w in spans), np.int64, len(spans))
    gain = np.zeros_like(scores)
    for finding in met:
        adds = _adds(finding.rule)
        if adds:
            touched = (first < finding.end) & (end > finding.first)
            column = TOPICS.index(finding.topic)
            gain[touched, column] = np.maximum(gain[touched, column], adds)
    sure = np.clip(scores, _LEAST, 1 - _LEAST)
    odds = sure / (1 - sure) * np.exp(gain)
    raised: NDArray[np.float32] = (odds / (1 + odds)).astype(np.float32, copy=False)
    return raised


def steadied(scores: NDArray[np.float32], spans: Sequence[Window]) -> NDArray[np.float32]:
    """Draw each window's score towards the geometric mean over the windows that hold it, itself among them.

    The best of some thousand windows is often one that was cut just so: without the clause that took the risk
    back. `spans` are all windows of a run in order, as `windows` gives them.
    """
    if not spans:
        return scores
    first = np.fromiter((w.first for w in spans), np.int64, len(spans))
    starts = np.flatnonzero(np.concatenate([[True], first[1:] != first[:-1]]))
    clause = np.repeat(np.arange(len(starts)), np.diff(np.append(starts, len(first))))
    depth = np.arange(len(first)) - starts[clause]
    logs = np.log(np.maximum(scores, _LEAST))
    # Row: the clause a window begins with, after empty rows; column: how many more clauses it holds.
    shape = (len(starts) + WINDOW_CLAUSES, WINDOW_CLAUSES)
    total, count = np.zeros((*shape, scores.shape[1]), np.float32), np.zeros(shape, np.float32)
    row = clause + WINDOW_CLAUSES
    total[row, depth], count[row, depth] = logs, 1
    for column in range(WINDOW_CLAUSES - 2, -1, -1):  # with all that begin there and are longer
        total[:, column] += total[:, column + 1]
        count[:, column] += count[:, column + 1]
    held, many = np.zeros_like(logs), np.zeros(len(logs), np.float32)
    for back in range(WINDOW_CLAUSES):
        reaches = depth + back < WINDOW_CLAUSES
        at = (row[reaches] - back, depth[reaches] + back)
        held[reaches] += total[at]
        many[reaches] += count[at]
    mean: NDArray[np.float32] = np.exp((1 - AROUND) * logs + AROUND * held / many[:, None])
    return mean


def _eased(
    scores: NDArray[np.float32],
    spans: Sequence[Window],
    within: Sequence[tuple[int, int]],
    mentions: Mentions,
    book: RuleBook,
) -> NDArray[np.float32]:
    """Lower every window near which a precaution of the topic is told: what takes its rules back."""
    low = np.array([max(within[w.first][0], w.first - TAKES_BACK_WITHIN) for w in spans], np.int64)
    high = np.array([min(within[w.first][1], w.end + TAKES_BACK_WITHIN) for w in spans], np.int64)
    told = np.zeros_like(scores)
    for column, topic in enumerate(TOPICS):
        groups = {group for rule in book.topics[topic].rules for group in rule.unless}
        groups = {group for group in groups if group != SHARED_WARNED and not group.startswith("no ")}
        at = np.sort([m.first for group in groups for m in mentions.by_group.get(group, ())])
        if len(at):
            told[:, column] = np.searchsorted(at, high) - np.searchsorted(at, low)
    lower = np.exp(-PRECAUTION_TAKES * np.minimum(told, PRECAUTIONS))
    eased: NDArray[np.float32] = scores * lower / (1 - scores + scores * lower)
    return eased


def read_together(spoken: Scored, noted: Scored, steps: Sequence[Step]) -> tuple[Scored, Scored]:
    """Let speech and log entry of one step bear each other out.

    Two readings of one step are two chances to tell its risk: the surest window of each is raised to
    1 - (1 - a)(1 - b), the other's chance weighed with the probability that the step is told there and with
    `APART`; all windows of the step rise in proportion. One that sees next to nothing rises less.
    """
    said_at = np.array([spoken.run.at_ms[w.first] for w in spoken.spans], np.int64)
    entry = np.array([noted.run.entry(w.first) for w in noted.spans], np.int64)
    said, written = spoken.scores.copy(), noted.scores.copy()
    for step in steps:
        for span in step.spans[:1]:
            here = slice(*np.searchsorted(said_at, (span.start_ms, span.end_ms + 1)))
            there = slice(*np.searchsorted(entry, (step.entry, step.entry + 1)))
            if here.start < here.stop and there.start < there.stop:
                told = np.float32(APART * step.told * span.confidence)
                _bear_out(said, here, spoken.scores[here], told * noted.scores[there].max(axis=0))
                _bear_out(written, there, noted.scores[there], told * spoken.scores[here].max(axis=0))
    return _with_scores(spoken, said), _with_scores(noted, written)


def _bear_out(
    raised: NDArray[np.float32], where: slice, own: NDArray[np.float32], other: NDArray[np.float32]
) -> None:
    best = np.maximum(own.max(axis=0), _LEAST)
    gain = (1 - best) * other / best * np.minimum(1, best / SOMETHING)
    raised[where] = np.maximum(raised[where], own * (1 + gain))


def _with_scores(read: Scored, scores: NDArray[np.float32]) -> Scored:
    return Scored(read.run, read.features, read.spans, read.met, scores)
