"""What kind of line an entry is: work at the bench is mostly told in the video, a sandwich hardly ever."""

from __future__ import annotations

import re

from reelnotes.records import frozen
from reelnotes.words.lexicon import Lexicon

#: Heads that name what is not work: a line that begins with one is about the day, not the piece.
_OFF = frozenset(
    {"lunch", "phone", "account", "nap", "sleep", "mum", "dad", "sister", "brother", "quit", "lock up",
     "home", "bed", "dentist", "doctor", "vet", "school", "kid", "council", "bank", "walk", "friend",
     "neighbour", "tidi"}
)  # fmt: skip
#: Fields that are not work on the piece itself.
_ASIDE = frozenset(
    f"~{name}"
    for name in (
        "collecting", "delivering", "moving", "eating", "talking", "resting", "closing", "tidying", "weather",
        "paying", "adding up", "shopping", "filming", "finished shots", "surveying", "measuring",
        "clearing out",
    )
)  # fmt: skip

_SOMETIMES = (("photo", "photo"), ("shop", "shop"), ("deliv", "deliver"), ("sell", "deliver"))
#: What the log itself says was not done, or not filmed.
_UNFILMED = re.compile(
    r"\b(?:skipped|postponed|cancelled|put off|not done|did(?:n'?t| not) (?:do|bother|film)|"
    r"(?:camera|cam|phone|battery|gopro) (?:was )?(?:off|dead|flat|died|on charge|full)|"
    r"(?:not|un|forgot to|no) ?(?:filmed|film|footage|video|recorded|record)|off camera)\b",
    re.IGNORECASE,
)


@frozen
class Chances:
    """How often a line of each kind is told in the video, before any of it is heard."""

    off: float = 0.1
    unfilmed: float = 0.3
    photo: float = 0.5
    shop: float = 0.5
    deliver: float = 0.5
    work: float = 0.8
    plain: float = 0.7
    strange: float = 0.4


def chance_told(text: str, heads: tuple[str, ...], lexicon: Lexicon, chances: Chances | None = None) -> float:
    """Give the chance that an entry with these words and heads is told in the video at all."""
    kinds = chances or Chances()
    if _UNFILMED.search(text):
        return kinds.unfilmed
    words = [head for head in heads if head[0] != "#"]
    if not words:
        return kinds.plain
    work = sum(1 for head in set(words) if any(name not in _ASIDE for name in lexicon.fields_of(head)))
    off = len(_OFF.intersection(words))
    if off and (words[0] in _OFF or off >= work):
        return kinds.off
    for wanted, chance in _SOMETIMES:
        if wanted in words[:2]:
            return float(getattr(kinds, chance))
    if not work and lexicon.known.isdisjoint(words):
        return kinds.strange
    return kinds.work if work else kinds.plain
