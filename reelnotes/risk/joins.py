"""Facts told apart and joined: an acid in one entry, bleach in the next, and no rinse between them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reelnotes.model import Entry, Topic
from reelnotes.records import frozen
from reelnotes.risk.mentions import Mention, Mentions
from reelnotes.risk.rules import SHARED_EVERYWHERE, Join, RuleBook
from reelnotes.risk.speech import Run

#: Groups of one place stand at most so many words apart in speech.
PLACE_WORDS = 16
#: How far apart two entries may be where the log has no clock.
ENTRIES_APART = 6


@frozen
class Joined:
    """A join that is met: the words of the later place, and all mentions that it rests on."""

    topic: Topic
    join: Join
    first: int
    end: int
    mentions: tuple[Mention, ...]


@frozen
class _Stretch:
    """Words `first` up to and without `end` in which mentions are looked for."""

    first: int
    end: int

    def mention(self, mentions: Mentions, group: str) -> Mention | None:
        return next(self.all_of(mentions, group), None)

    def all_of(self, mentions: Mentions, group: str) -> Iterator[Mention]:
        for found in mentions.by_group.get(group, ()):
            if self.first <= found.first and found.end <= self.end:
                yield found

    def has_any(self, mentions: Mentions, groups: Sequence[str]) -> bool:
        return any(self.mention(mentions, group) for group in groups)

    def words(self, mentions: Mentions, group: str, run: Run) -> set[str]:
        return {run.words[m.first] for m in self.all_of(mentions, group)}


def joined_in_log(run: Run, entries: Sequence[Entry], mentions: Mentions, book: RuleBook) -> Iterator[Joined]:
    """Give every join that two entries of the log meet, or one entry alone."""
    stretches = _entry_stretches(run)
    for topic, known in book.topics.items():
        for join in known.joins:
            for later, stretch in enumerate(stretches):
                then = _all(mentions, join.then, stretch)
                if then is None:
                    continue
                found = _earlier(join, later, stretches, entries, mentions, run)
                if found is not None:
                    yield Joined(topic, join, stretch.first, stretch.end, (*found, *then))


def _entry_stretches(run: Run) -> list[_Stretch]:
    """Give the words of each entry; an entry without words has an empty stretch."""
    held: list[list[int]] = [[] for _ in run.texts]
    for word, piece in enumerate(run.piece):
        held[piece].append(word)
    return [_Stretch(words[0], words[-1] + 1) if words else _Stretch(0, 0) for words in held]


def _all(mentions: Mentions, groups: Sequence[str], stretch: _Stretch) -> tuple[Mention, ...] | None:
    found = [stretch.mention(mentions, group) for group in groups]
    sound = tuple(m for m in found if m is not None)
    return sound if len(sound) == len(found) else None


def _earlier(  # noqa: PLR0917 - what a join is looked for in
    join: Join,
    later: int,
    stretches: Sequence[_Stretch],
    entries: Sequence[Entry],
    mentions: Mentions,
    run: Run,
) -> tuple[Mention, ...] | None:
    there = stretches[later]
    if there.has_any(mentions, join.unless):
        return None
    for number in range(later - 1, -1, -1):
        here = stretches[number]
        if not _soon_after(entries[number], entries[later], join.within_h):
            return None
        found = _all(mentions, join.first, here)
        if found is not None and not here.has_any(mentions, join.unless):
            between = _Stretch(here.first, there.end)
            if between.has_any(mentions, join.between):
                return None
            if _same(join, here, there, mentions, run):
                return found
    return None


def _soon_after(first: Entry, then: Entry, within_h: float) -> bool:
    if first.logged_at and then.logged_at:
        return abs((then.logged_at - first.logged_at).total_seconds()) <= within_h * 3600
    return then.index - first.index <= ENTRIES_APART


def _same(join: Join, here: _Stretch, there: _Stretch, mentions: Mentions, run: Run) -> bool:
    if join.same is None:
        return True
    if here.mention(mentions, SHARED_EVERYWHERE) or there.mention(mentions, SHARED_EVERYWHERE):
        return True
    one, other = here.words(mentions, join.same, run), there.words(mentions, join.same, run)
    return not one or not other or bool(_singular(one) & _singular(other))


def _singular(words: set[str]) -> set[str]:
    return {word.removesuffix("es") if word.endswith("ches") else word.removesuffix("s") for word in words}


def joined_in_speech(run: Run, mentions: Mentions, book: RuleBook) -> Iterator[Joined]:
    """Give every join that two places of the speech meet."""
    for topic, known in book.topics.items():
        for join in known.joins:
            if join.within_s <= 0:
                continue
            firsts = list(_spoken(join.first, mentions))
            for there, then in _spoken(join.then, mentions):
                found = next((f for f in reversed(firsts) if _meets(join, f[0], there, mentions, run)), None)
                if found is not None:
                    yield Joined(topic, join, there.first, there.end, (*found[1], *then))


def _spoken(groups: Sequence[str], mentions: Mentions) -> Iterator[tuple[_Stretch, tuple[Mention, ...]]]:
    """Give each place where all the groups stand close together."""
    for anchor in mentions.by_group.get(groups[0], ()):
        others = [mentions.near(group, anchor.first, anchor.end, PLACE_WORDS) for group in groups[1:]]
        found = tuple(m for m in (anchor, *others) if m is not None)
        if len(found) == len(groups):
            yield _Stretch(min(m.first for m in found), max(m.end for m in found)), found


def _meets(join: Join, here: _Stretch, there: _Stretch, mentions: Mentions, run: Run) -> bool:
    if here.end > there.first or run.at_ms[there.first] - run.at_ms[here.first] > join.within_s * 1000:
        return False
    near = [_Stretch(s.first - PLACE_WORDS, s.end + PLACE_WORDS) for s in (here, there)]
    if any(stretch.has_any(mentions, join.unless) for stretch in near):
        return False
    if _Stretch(here.first, there.end).has_any(mentions, join.between):
        return False
    return _same(join, here, there, mentions, run)
