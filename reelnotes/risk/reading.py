"""Reading an episode for risk: the trained reader proposes, the rules join, take back and explain.

Speech is read across cue borders, every log entry as a text of its own, and what both say of one step becomes
one flag. Firm flags and those only worth a look differ in how sure the reading is.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from reelnotes.model import Cue, Entry, Flag, ShelfItem, Step
from reelnotes.problems import Problem
from reelnotes.risk.flags import flags_of
from reelnotes.risk.ledger import SEEN, log_ledger, speech_ledger, with_times
from reelnotes.risk.mentions import find_mentions
from reelnotes.risk.places import Place, Reading
from reelnotes.risk.reader import own_weights, telling_words
from reelnotes.risk.rules import TOPICS, RuleBook, rules_with
from reelnotes.risk.scores import Scored, read_together, scored
from reelnotes.risk.speech import log_run, speech_run
from reelnotes.words.lexicon import Lexicon

#: From which score on a place is worth a look, and from which it is firm (docs/risk-rules.md says how they
#: were chosen).
LOOK, FIRM = 0.26, 0.50


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
    return flags_of(read_places(entries, cues, steps, shelf, lexicon, book), steps, book), problems


def read_places(  # noqa: PLR0917 - the facts of an episode, in the order of every step
    entries: Sequence[Entry],
    cues: Sequence[Cue],
    steps: Sequence[Step],
    shelf: Sequence[ShelfItem],
    lexicon: Lexicon,
    book: RuleBook,
    look: float = LOOK,
) -> list[Place]:
    """Give the places of speech and log at which something risky is told, from score `look` on."""
    speech = speech_run(cues, [lexicon.repair(cue.text) for cue in cues])
    log = log_run(entries)
    said, noted = (find_mentions(run.words, run.sentence, book) for run in (speech, log))
    spoken, written = read_together(scored(speech, said, book), scored(log, noted, book), steps)
    seen = _places(spoken, min(look, SEEN))
    places = [
        *_told(spoken, [place for place in seen if place.score >= look]),
        *_told(written, _places(written, look)),
    ]
    places += speech_ledger(speech, said, seen, book)
    places += with_times(log_ledger(log, entries, shelf, noted, book), steps)
    return places


def _places(read: Scored, look: float) -> list[Place]:
    places: list[Place] = []
    for column, topic in enumerate(TOPICS):
        own = [f for f in read.met if f.topic == topic]
        places += Reading(read.run, topic, read.spans, read.scores[:, column], own).places(look, FIRM)
    return places


def _told(read: Scored, places: Sequence[Place]) -> list[Place]:
    words = telling_words(read.features, read.run.words, places, own_weights())
    return [place.told_by(telling) for place, telling in zip(places, words, strict=True)]
