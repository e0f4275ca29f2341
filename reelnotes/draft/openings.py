"""How a talk opens a new subject: common practice of speech, no source."""

from __future__ import annotations

import re

_NOTHING = re.compile(r"\s*[\[(♪][^\])♪]*[\])♪]?\s*")
_FILLER = re.compile(r"^(?:(?:um|uh|er|erm|okay|ok|well|yeah|oh|ah)[\s,.]+)+", re.IGNORECASE)

_STRONG = re.compile(
    r"^(?:(?:so|and|now|right|ok|okay|then|but|well|anyway)[\s,.]+){0,3}(?:"
    r"intermission|confession|meanwhile|back to|first (?:job|thing|of all|up)|first,|last (?:job|thing|bit|"
    r"of all|one)|finally|lastly|"
    r"next (?:up|job|day|morning|thing|step|was|is|it)|next[,.]|to sum up|(?:to )?recap|once more|"
    r"(?:on )?(?:the )?(?:mon|tues|wednes|thurs|fri|satur|sun)day|(?:the )?(?:following|next) (?:day|"
    r"week(?:end)?|morning)|day (?:one|two|three|four|five|\d)|"
    r"i'?ll tell you|i get asked|people (?:keep )?ask|quick|short intermission|"
    r"so there (?:you are|it is|we are|you have it)|that'?s (?:it|me|the)|thanks? (?:you )?for watching|"
    r"the (?:damage|bill|cost)"
    r")\b",
    re.IGNORECASE,
)
_OPEN = re.compile(
    r"^(?:so|right|now|okay|ok|alright|anyway|then|next|here|before|while|once|with)\b", re.IGNORECASE
)
_CARRY_ON = re.compile(
    r"^(?:and|but|or|because|cos|cause|which|that|it|its|it's|they|them|he|she|of|to|with it|'cause|where|"
    r"who|though|than|in|on|for)\b",
    re.IGNORECASE,
)
_SO_IS = re.compile(
    r"^(?:so|right|now|ok|okay)[\s,.]+(?:(?:so|right|now|then|um|er|uh)[\s,.]+)*(?:that's|it's|you|if|"
    r"because|it|they)\b",
    re.IGNORECASE,
)


def says_nothing(text: str) -> bool:
    """Tell a cue such as `[Music]` that holds no speech."""
    return _NOTHING.fullmatch(text) is not None


def opening_weight(text: str) -> float:
    """Weigh the first words of a cue for (above 0) or against a new subject, in nats."""
    plain = _FILLER.sub("", text.strip())
    if _STRONG.match(plain):
        return 1.8
    if _SO_IS.match(plain):
        return 0.2
    if _OPEN.match(plain):
        return 1.0
    if _CARRY_ON.match(plain):
        return -1.5
    return -0.3
