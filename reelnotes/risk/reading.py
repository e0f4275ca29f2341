"""Reading an episode for risk: the trained reader proposes, the rules join, take back and explain.

Speech is read across cue borders, every log entry as a text of its own, and what both say of one step becomes
one flag. Firm flags and those only worth a look differ in how sure the reading is.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from reelnotes.model import Cue, Entry, Flag, ShelfItem, Step
from reelnotes.problems import Problem
from reelnotes.risk.features import hashed
from reelnotes.risk.finding import Finding, findings
from reelnotes.risk.flags import flags_of
from reelnotes.risk.ledger import SEEN, log_ledger, speech_ledger, with_times
from reelnotes.risk.mentions import Mentions, find_mentions
from reelnotes.risk.places import Place, Reading
from reelnotes.risk.reader import own_weights, reading, telling_words
from reelnotes.risk.rules import TOPICS, Rule, RuleBook, rules_with
from reelnotes.risk.speech import Run, Window, bounds, log_run, speech_run, windows
from reelnotes.words.lexicon import Lexicon

#: How much a rule that is met adds to the reader's odds (natural logarithm), by tier. Little: the reader has
#: learnt the word groups of the tool's own rules, and on voices that it has not seen a rule that is met says
#: hardly anything more (fitted on held-out voices: 0.0 for firm rules, -0.6 for others). A maker's rule is
#: new to the reader.
RULE_ADDS = {"firm": 0.5, "look": 0.0}
MAKERS_RULE_ADDS = {"firm": 3.0, "look": 1.5}
#: From which score on a place is worth a look, and from which it is firm.
LOOK, FIRM = 0.40, 0.55


def read_risks(  # noqa: PLR0917 - the facts of an episode, in the order of every step
    entries: Sequence[Entry],
    cues: Sequence[Cue],
    steps: Sequence[Step],
    shelf: Sequence[ShelfItem],
    lexicon: Lexicon,
    extra_rules: Iterable[tuple[str, str]] = (),
) -> tuple[tuple[Flag, ...], list[Problem]]:
    """Give the flags of an episode, worst first, and what was wrong with the maker's own rules.

    `extra_rules` are rule texts of the workshop folder, as (file name, TOML text); docs/risk-rules.md says
    how they read. Flags of tier `look` are less sure than firm ones.
    """
    book, problems = rules_with(extra_rules)
    speech = speech_run(cues, [lexicon.repair(cue.text) for cue in cues])
    log = log_run(entries)
    said, noted = (find_mentions(run.words, run.sentence, book) for run in (speech, log))
    seen = read_run(speech, said, book, SEEN)
    places = [*seen, *read_run(log, noted, book, LOOK)]
    places = [place for place in places if place.score >= LOOK]
    places += speech_ledger(speech, said, seen, book)
    places += with_times(log_ledger(log, entries, shelf, noted, book), steps)
    return flags_of(places, steps, book), problems


def read_run(run: Run, mentions: Mentions, book: RuleBook, look: float = LOOK) -> list[Place]:
    """Give the places of a run that are firm or worth a look (from score `look` on)."""
    if not run.words:
        return []
    features = hashed(run.words, mentions)
    spans = list(windows(run))
    met = list(findings(mentions, bounds(run), book))
    scores = _with_rules(reading(features, spans, own_weights()), spans, met)
    places = []
    for column, topic in enumerate(TOPICS):
        own = [f for f in met if f.topic == topic]
        places += Reading(run, topic, spans, scores[:, column], own).places(look, FIRM)
    words = telling_words(features, run.words, places, own_weights())
    return [place.told_by(telling) for place, telling in zip(places, words, strict=True)]


def _adds(rule: Rule) -> float:
    return (MAKERS_RULE_ADDS if rule.makers else RULE_ADDS)[rule.tier]


def _with_rules(
    scores: NDArray[np.float32], spans: Sequence[Window], met: Sequence[Finding]
) -> NDArray[np.float32]:
    """Raise the score of every window that a rule's words touch."""
    sure = np.clip(scores, 1e-6, 1 - 1e-6)
    odds = np.log(sure / (1 - sure))
    first = np.fromiter((w.first for w in spans), np.int64, len(spans))
    end = np.fromiter((w.end for w in spans), np.int64, len(spans))
    gain = np.zeros_like(odds)
    for finding in met:
        touched = (first < finding.end) & (end > finding.first)
        column = TOPICS.index(finding.topic)
        gain[touched, column] = np.maximum(gain[touched, column], _adds(finding.rule))
    raised: NDArray[np.float32] = (1 / (1 + np.exp(-(odds + gain)))).astype(np.float32, copy=False)
    return raised
