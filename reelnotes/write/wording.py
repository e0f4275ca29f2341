"""Words that several forms share, so that the same thing is called the same everywhere."""

from __future__ import annotations

from reelnotes.model import COMMON_PRACTICE, DEFERS, FlagTopic, PromiseKind

#: What a topic is called in front of people.
TOPIC_WORDS: dict[FlagTopic, str] = {
    "live-tool": "tool still live",
    "loose-work": "work not held",
    "missing-guard": "guard missing",
    "old-paint": "old paint, perhaps lead",
    "dust": "dust",
    "fumes": "fumes",
    "rag-fire": "oily rags",
    "ignition": "flame or spark near solvent",
    "chemical-mix": "chemicals that must not meet",
    "eyes-ears": "eyes and ears",
    "tip-over": "tipping over",
    "mains": "mains electricity",
    "wood-movement": "wood movement",
    "finish-stack": "one finish over another",
    "blind-fit": "cut or drilled before fitting",
    "disclosure": "given product, to be disclosed",
}

#: What a promise is called in front of people.
PROMISE_WORDS: dict[PromiseKind, str] = {
    "link": "a link is owed",
    "later": "to be told later",
    "ask": "a question to viewers",
}


def bare_caution(caution: str) -> str:
    """Give a caution without the sentences that end every one of them: where many stand, they stand once."""
    return " ".join(caution.replace(COMMON_PRACTICE, "").replace(DEFERS, "").split())


#: Stands at the foot of everything that carries cautions.
DEFERENCE = (
    "Cautions are reminders drafted from words, not advice on a particular job: local codes, product labels "
    "and licensed practice come first."
)
