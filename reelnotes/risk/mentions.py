"""Where the words of the rules stand in a text, and whether they are said or denied."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from reelnotes.records import frozen
from reelnotes.risk.rules import GAP_WORDS, RuleBook
from reelnotes.words.tokens import stem

#: How far before a word something can stand that denies it.
_REACH = 5
_DENIES = frozenset(
    """
    no not never without neither nor nothing nobody none hardly forgot forgotten skip skipped instead cannot
    dont didnt doesnt wasnt isnt arent werent havent hadnt hasnt wont wouldnt cant couldnt shouldnt aint
    neednt mustnt minus sans bother bothered
    """.split()  # noqa: SIM905 - a list of words reads better as words
)
_OUGHT = frozenset(("should", "ought", "could", "meant", "supposed", "shouldve", "couldve"))
_HAVE = frozenset(("have", "of", "to", "ve", "a"))
_TURNS = frozenset({"but", "then", "and", "so", "because", "until", "though"})


@frozen
class Mention:
    """Words of a group: from word `first` up to and without `end`."""

    group: str
    first: int
    end: int
    denied: bool


@dataclass(slots=True)
class Mentions:
    """All mentions in a run of words, by group; a denied one under `no GROUP`."""

    by_group: dict[str, list[Mention]] = field(default_factory=lambda: defaultdict(list))

    def near(self, group: str, first: int, end: int, within: int) -> Mention | None:
        """Give the mention of the group nearest to words first..end, at most `within` words away.

        A mention that lies inside those words does not count: `plugged in` cannot be its own plug.
        """
        found = self.by_group.get(group)
        if not found:
            return None
        at = bisect_left(found, first, key=lambda m: m.first)
        best, distance = None, within + 1
        for mention in found[max(0, at - 2) : at + 3]:
            apart = max(first - mention.end, mention.first - end)
            if 0 <= apart < distance:
                best, distance = mention, apart
        return best


def find_mentions(words: Sequence[str], breaks: Sequence[bool], book: RuleBook) -> Mentions:
    """Find every mention. `breaks[i]` says that a sentence ends before word i: nothing reaches across it."""
    known: dict[str, str] = {}
    stems = [known.get(w) or known.setdefault(w, stem(w)) for w in words]
    mentions = Mentions()
    seen: set[tuple[str, int]] = set()
    for at, (first, second) in enumerate(pairwise([*stems, ""])):
        for group, slots in book.patterns.get(first, ()):
            if slots and slots[0] and second not in slots[0]:
                continue  # four patterns in five end here
            end = _follow(stems, breaks, at + 1, slots) if slots else at + 1
            if end and (group, at) not in seen:
                seen.add((group, at))
                denied = _denied(words, breaks, at)
                key = f"no {group}" if denied else group
                mentions.by_group[key].append(Mention(group, at, end, denied))
    return mentions


def _follow(stems: Sequence[str], breaks: Sequence[bool], at: int, slots: Sequence[tuple[str, ...]]) -> int:
    """Give the end of a pattern whose rest must stand from word `at` on in the same sentence, or 0."""
    gap = 0
    for slot in slots:
        if not slot:
            gap = GAP_WORDS
            continue
        for k in range(at, min(at + gap + 1, len(stems))):
            if breaks[k]:
                return 0
            if stems[k] in slot:
                at = k + 1
                break
        else:
            return 0
        gap = 0
    return at


def _denied(words: Sequence[str], breaks: Sequence[bool], at: int) -> bool:
    """Tell whether the word is denied ('never put a mask on') or only wished for ('ought to have pulled')."""
    for k in range(at - 1, max(-1, at - 1 - _REACH), -1):
        if breaks[k + 1]:
            return False
        if words[k] in _DENIES:
            return True
        if words[k] in _OUGHT and k + 1 < at and words[k + 1] in _HAVE:
            return True
        if words[k] in _TURNS:
            return False
    return False
