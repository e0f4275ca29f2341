"""Lessons: what earlier corrections ask to be checked, matched to steps in anybody's words.

A step and the words for an earlier mistake are read through the lexicon, so that shorthand, mishearings and
other names for a thing count as the same. Words of the trade weigh twice as much as others. The constants are
ours, set on the examples in the tests.
"""

from __future__ import annotations

from collections.abc import Sequence

from reelnotes.corrections.reach import worst_first
from reelnotes.model import Correction, Flag, Step, stable_id
from reelnotes.records import frozen
from reelnotes.timing import Span, format_time
from reelnotes.words.lexicon import Lexicon
from reelnotes.words.numbers import word_set

_TRADE_WEIGHT, _PLAIN_WEIGHT = 2.0, 1.0
#: Words that both sides must share, and the share of the shorter side that they must make up.
_LEAST_SHARED = 2
_LESSON_SHARE, _REPEAT_SHARE, _SURE_SHARE = 0.34, 0.62, 0.8
#: One word alone makes a lesson if it is of the trade and so much of the shorter side.
_ONE_WORD_SHARE = 0.5
_SURE_SHARED = 3
#: A step that holds so much of what to do instead is done right.
_HEEDED_SHARE = 0.4
_TOLD = 0.5
_PLAIN_WORDS = word_set(
    """
    a about abt after again all also am an and are as at back be been before bit but by can could did do
    does done down each end first for from get go goes gone going good got had has have he her here hers
    him his how i if in into is it its just last later like littl lot made make me mine more much my
    next nice no not now of off on one onli or other our out over put round same see she side so some
    still that the their them then there these they thi this those thing time to today too took two up
    us use veri was way we well went were what when where which while who will with without would
    yesterday yet you your
    """
)
#: Parts that every piece has: they tell little about what is done to it.
_ANY_PIECE = word_set(
    """
    back bench board bottom coat door drawer edg edge end face foot frame front hand hole inside joint leg
    outside panel part piec piece rail shop sid side surfac tabl table timber top wood work
    """
)


@frozen
class Lesson:
    """An earlier correction and the steps that come near it, each with how much of it they share (0 to 1)."""

    record: Correction
    steps: tuple[tuple[str, float], ...] = ()


@frozen
class _Telling:
    """The telling words of a text, each with its weight."""

    weights: dict[str, float]

    @property
    def total(self) -> float:
        return sum(self.weights.values())

    def shared(self, other: _Telling) -> list[str]:
        return [word for word in self.weights if word in other.weights]

    def share(self, other: _Telling, *, least: int = _LEAST_SHARED) -> float:
        """Give the shared part of the shorter of the two, 0 to 1; 0 where hardly a word is shared."""
        shared = self.shared(other)
        if len(shared) < least or not any(self.weights[word] > _PLAIN_WEIGHT for word in shared):
            return 0.0
        return sum(self.weights[word] for word in shared) / min(self.total, other.total)


def lessons_for(records: Sequence[Correction], steps: Sequence[str], lexicon: Lexicon) -> list[Lesson]:
    """Give what earlier corrections and cautions ask to be checked, for steps planned or logged.

    Without steps all are given, worst first; else those that a step comes near, worst first among equals.
    """
    lessons = [record for record in worst_first(records) if record.kind != "disclosure"]
    if not steps:
        return [Lesson(record) for record in lessons]
    read = [(step, _telling(step, lexicon)) for step in steps if step.strip()]
    found = []
    for record in lessons:
        whole = _telling(f"{record.shown}. {record.wrong}. {record.instead}", lexicon)
        shown = _telling(record.shown, lexicon)
        near = []
        for step, telling in read:
            share = max(shown.share(telling), whole.share(telling))
            alone = shown.share(telling, least=1)
            if share >= _LESSON_SHARE or alone >= _ONE_WORD_SHARE:
                share = max(share, alone)
                near.append((step, round(share, 2)))
        if near:
            found.append(Lesson(record, tuple(sorted(near, key=lambda pair: -pair[1]))))
    return found


def repeated(
    records: Sequence[Correction], episode: str, steps: Sequence[Step], lexicon: Lexicon
) -> tuple[Flag, ...]:
    """Flag the steps of an episode that repeat an earlier correction, and name it.

    A step that holds what was to be done instead is none; nor is the episode that the correction is about.
    Only records with a topic can be flagged: see `repeated_without_topic`.
    """
    return tuple(
        _flag(record, step, share, sure=sure)
        for record, step, share, sure in _repeats(records, episode, steps, lexicon)
        if record.topic
    )


def repeated_without_topic(
    records: Sequence[Correction], episode: str, steps: Sequence[Step], lexicon: Lexicon
) -> list[tuple[Correction, Step]]:
    """Give the repeats of corrections that have no topic, which no flag can carry."""
    untold = [record for record in records if not record.topic]
    return [(record, step) for record, step, _, _ in _repeats(untold, episode, steps, lexicon)]


def _repeats(
    records: Sequence[Correction], episode: str, steps: Sequence[Step], lexicon: Lexicon
) -> list[tuple[Correction, Step, float, bool]]:
    found = []
    read = [(step, _telling(step.text, lexicon)) for step in steps]
    for record in worst_first(records):
        if record.kind != "correction" or any(place.episode == episode for place in record.places):
            continue
        shown, instead = _telling(record.shown, lexicon), _telling(record.instead, lexicon)
        for step, telling in read:
            share = shown.share(telling)
            if share >= _REPEAT_SHARE and not _heeded(telling, shown, instead):
                covers = sum(shown.weights[word] for word in shown.shared(telling)) / shown.total
                sure = covers >= _SURE_SHARE and len(shown.shared(telling)) >= _SURE_SHARED
                found.append((record, step, share, sure))
    return found


def _heeded(step: _Telling, shown: _Telling, instead: _Telling) -> bool:
    """Tell whether a step holds what was to be done instead, beyond the words of the mistake itself."""
    only = {word: weight for word, weight in instead.weights.items() if word not in shown.weights}
    held = sum(weight for word, weight in only.items() if word in step.weights)
    return bool(only) and held / sum(only.values()) >= _HEEDED_SHARE


def _telling(text: str, lexicon: Lexicon) -> _Telling:
    weights: dict[str, float] = {}
    for token in lexicon.heads(text):
        of_trade = token.stem in lexicon.known or bool(lexicon.fields_of(token.stem))
        for part in token.stem.split():
            word = part.removesuffix("e")  # `glue` and `glued` have stems of their own
            if part in _PLAIN_WORDS or not word.isalpha():
                continue
            weight = _TRADE_WEIGHT if of_trade and part not in _ANY_PIECE else _PLAIN_WEIGHT
            weights[word] = max(weight, weights.get(word, 0.0))
    return _Telling(weights)


def _flag(record: Correction, step: Step, share: float, *, sure: bool) -> Flag:
    best = step.spans[0] if step.told > _TOLD and step.spans else None
    where = ", ".join(f"{place.episode} {format_time(place.span.start_ms)}" for place in record.places)
    told = f"the correction {record.id}" + (f" ({where})" if where else "")
    assert record.topic is not None  # noqa: S101 - the caller takes those alone that have one
    return Flag(
        id=stable_id("repeats", record.id, step.text),
        topic=record.topic,
        signal=record.signal,
        start_ms=best.start_ms if best else None,
        end_ms=best.end_ms if best else None,
        entry=step.entry,
        quote=step.text,
        why=f"This comes near {told}: {record.shown}; {record.wrong}.",
        caution=record.instead,
        source=record.sources[0] if record.sources else None,
        evidence=(f"{share:.0%} of the words are those of {told}", *record.worked_out),
        tier="firm" if sure else "look",
        places=tuple(Span(s.start_ms, s.end_ms) for s in step.spans[1:]) if best else (),
    )
