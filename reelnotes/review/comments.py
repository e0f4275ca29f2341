"""Viewers' comments sorted by what they may be worth: danger first, then what contradicts the video.

A sign is a few words; a comment may be placed wrongly, and says by which of its words it was placed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from hashlib import sha256
from math import log
from typing import Literal

from reelnotes.model import Comment, Step
from reelnotes.records import frozen
from reelnotes.timing import MS_PER_HOUR, MS_PER_MINUTE, MS_PER_SECOND
from reelnotes.words.lexicon import Lexicon

Worth = Literal["safety", "contradiction", "question", "other"]
#: The order of worth.
ORDER: tuple[Worth, ...] = ("safety", "contradiction", "question", "other")
#: Shared words count if they weigh so much together; one that stands in a single step weighs most.
_ENOUGH = 2.0
_BEFORE_MS = 3000


def _signs(lines: str) -> re.Pattern[str]:
    """Make one pattern of many, one a line, each of whole words."""
    ways = "|".join(line.strip() for line in lines.strip().splitlines())
    return re.compile(rf"\b(?:{ways})\b", re.IGNORECASE)


_SAFETY = _signs(
    r"""
    danger(?:ous|s)?
    hazard(?:ous)?
    unsafe
    safety
    (?:be )?careful
    beware
    toxic
    poison\w*
    fumes?
    carcinogen\w*
    respirator
    dust ?mask
    wear (?:a |your |some )?(?:mask|gloves?|goggles|glasses|ear\w*|respirator|ppe)
    no (?:mask|gloves?|goggles|glasses|ear (?:defenders|protection)|guard|ppe)
    where(?:'?s| is) (?:the|your) (?:guard|mask|goggles)
    ppe
    goggles
    (?:eye|ear|hearing) (?:protection|defenders)
    unplug\w*
    electrocut\w*
    shock
    live wires?
    earthed?
    grounded
    fires?
    burst into flames
    combust\w*
    flammable
    ignite\w*
    explo\w+
    kick ?back
    lose (?:a|your) (?:finger|eye|hand)
    fingers? off
    hospital
    stitches
    injur\w+
    hurt (?:yourself|somebody|someone)
    kill(?:s|ed)? (?:you|somebody|someone)
    lead(?: paint| test|ed)
    asbestos
    tip(?:s|ped)? over
    fall(?:s|en)? on
    anti-?tip
    anchor(?:ed)? (?:it )?to the wall
    mix(?:ing|ed)? .{0,25}(?:bleach|ammonia|acid|peroxide)
    blade guard
    riving knife
    """
)
_CONTRADICTION = _signs(
    r"""
    that(?:'?s| is) not
    that isn'?t
    it(?:'?s| is) not
    isn'?t (?:shellac|oak|pine|brass)
    not (?:true|correct|right|actually|how)
    actually
    wrong
    incorrect
    mistaken?
    you (?:said|meant|mean)
    you should(?:n'?t| not| have| never)
    should(?:n'?t| not| never) (?:be|have|use|do)
    should be
    you(?:'re| are) (?:not )?supposed to
    (?:never|don'?t ever) (?:use|put|glue|sand|do|leave|mix|paint|oil|wax)
    won'?t (?:work|hold|last|stick)
    will (?:crack|split|fail|peel|warp|cup|yellow|rust|come off|never)
    contrary
    contradict\w*
    disagree
    ruin(?:s|ed)?
    other way (?:round|around)
    against the grain
    upside down
    """
)
_QUESTION = re.compile(
    r"\?|^(?:how|what|which|where|why|when|who|can|could|does|do|did|is|are|would|will|any)\b", re.IGNORECASE
)
#: `9:12`, `1:02:03`, but neither `1:1` nor the parts of a mix.
_CLOCK = re.compile(r"(?<![\d:.])(?:(\d{1,2}):)?(\d{1,3}):([0-5]\d)(?![\d:]|\s*(?:mix|ratio|parts?)\b)")
_SPOKEN = re.compile(
    r"\b(\d{1,3})\s*(?:m|min|mins|minutes?)\s*(?:and\s*)?(\d{1,2})\s*(?:s|secs?|seconds?)?\b"
    r"(?!\s*(?:of|to dry))|"
    r"\b(?:at|around|about|near) (?:the )?(\d{1,3})[- ]?minute(?: mark)?\b",
    re.IGNORECASE,
)


@frozen
class Remark:
    """A comment placed: what it may be worth and by which words, the times it names, the steps it speaks of.

    `beyond_ms` are times behind the end of the programme. `decided` says what was done with it, if anything.
    """

    comment: Comment
    worth: Worth
    sign: str
    at_ms: tuple[int, ...] = ()
    steps: tuple[int, ...] = ()
    beyond_ms: tuple[int, ...] = ()
    decided: str = ""

    @property
    def digest(self) -> str:
        """What is kept of it once it is decided: a hash of its words, and nothing else."""
        return digest_of(self.comment.text)


def digest_of(text: str) -> str:
    """Give the hash of a comment's words, whatever their case and signs; without words, of its signs."""
    plain = " ".join(re.findall(r"\w+", text.casefold())) or "".join(text.split())
    return sha256(plain.encode("utf-8", "replace")).hexdigest()[:24]


def times_in(text: str) -> list[int]:
    """Give the times of the programme that a text names, in milliseconds, in the order of naming."""
    found = []
    for match in _CLOCK.finditer(text):
        hours, minutes, seconds = (int(part or 0) for part in match.groups())
        if match[1] is None or minutes < 60:  # noqa: PLR2004 - minutes of an hour
            found.append(
                (match.start(), hours * MS_PER_HOUR + minutes * MS_PER_MINUTE + seconds * MS_PER_SECOND)
            )
    for match in _SPOKEN.finditer(text):
        minutes, seconds = int(match[1] or match[3]), int(match[2] or 0)
        if seconds < 60:  # noqa: PLR2004 - seconds of a minute
            found.append((match.start(), minutes * MS_PER_MINUTE + seconds * MS_PER_SECOND))
    return list(dict.fromkeys(ms for _, ms in sorted(found)))


def sorted_remarks(
    comments: Sequence[Comment],
    steps: Sequence[Step],
    lexicon: Lexicon,
    duration_ms: int,
    decided: Mapping[str, str],
) -> tuple[Remark, ...]:
    """Place every comment and put them in the order of their worth; among equals those with a place lead.

    `decided` says by their digest what was done with comments before.
    """
    matcher = _Matcher.of(steps, lexicon)
    remarks = [_placed(comment, matcher, duration_ms, decided) for comment in comments]
    return tuple(
        sorted(remarks, key=lambda r: (ORDER.index(r.worth), not (r.at_ms or r.steps), r.comment.number))
    )


def worth_of(text: str) -> tuple[Worth, str]:
    """Tell what a comment may be worth, and the words that say so."""
    for worth, signs in (("safety", _SAFETY), ("contradiction", _CONTRADICTION), ("question", _QUESTION)):
        if match := signs.search(text):
            return worth, match[0]  # type: ignore[return-value]  # one of the three
    return "other", ""


def _placed(comment: Comment, matcher: _Matcher, duration_ms: int, decided: Mapping[str, str]) -> Remark:
    worth, sign = worth_of(comment.text)
    times = times_in(comment.text)
    at_ms = tuple(ms for ms in times if not duration_ms or ms <= duration_ms)
    steps = matcher.at(at_ms) or matcher.by_words(comment.text)
    beyond = tuple(ms for ms in times if ms not in at_ms)
    return Remark(comment, worth, sign, at_ms, steps, beyond, decided.get(digest_of(comment.text), ""))


@frozen
class _Matcher:
    """The steps of an episode, ready to be found by time or by words."""

    steps: tuple[Step, ...]
    heads: tuple[frozenset[str], ...]
    weights: Mapping[str, float]
    lexicon: Lexicon

    @classmethod
    def of(cls, steps: Sequence[Step], lexicon: Lexicon) -> _Matcher:
        heads = tuple(frozenset(lexicon.stems(step.text)) & lexicon.known for step in steps)
        counts: dict[str, int] = {}
        for found in heads:
            for head in found:
                counts[head] = counts.get(head, 0) + 1
        weights = {head: 0.4 + log((1 + len(steps)) / count) / 2 for head, count in counts.items()}
        return cls(tuple(steps), heads, weights, lexicon)

    def at(self, times_ms: Sequence[int]) -> tuple[int, ...]:
        """Give the entries told at any of these times; viewers name the time a little late or early."""
        found: list[int] = []
        for ms in times_ms:
            found += self._told(ms, 0) or self._told(ms, _BEFORE_MS)
        return tuple(dict.fromkeys(found))

    def _told(self, ms: int, margin_ms: int) -> list[int]:
        return [
            step.entry
            for step in self.steps
            if any(span.start_ms - margin_ms <= ms < span.end_ms + margin_ms for span in step.spans)
        ]

    def by_words(self, text: str) -> tuple[int, ...]:
        """Give the entry that shares the most telling words of the trade; none where too few are shared."""
        said = set(self.lexicon.stems(text))
        scores = [sum(self.weights[head] for head in heads & said) for heads in self.heads]
        best = max(scores, default=0.0)
        return (self.steps[scores.index(best)].entry,) if best >= _ENOUGH else ()
