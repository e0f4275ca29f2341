"""What the maker says will be found or told elsewhere: a link owed, something owed later, a question put."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from reelnotes.draft.speech import Passage, passages
from reelnotes.model import Cue, Entry, Promise, PromiseKind, Step
from reelnotes.problems import Problem
from reelnotes.words.lexicon import load_lexicon
from reelnotes.words.numbers import word_set
from reelnotes.words.tokens import stem, tokenise

_LINK = re.compile(
    r"\b(?:links?(?: (?:is|are|will be|to|for|in|below|down|underneath|under))+|linked|"
    r"(?:put|pop|stick|drop|leave|post|list)(?: \w+){0,6} (?:below|in the description|in the notes|"
    r"under(?:neath)? (?:this|the) video|down there)|"
    r"(?:is|are|it's|they're|all|everything|details|plans?|drawings?|list|measurements|sizes|cut list|"
    r"template)(?: \w+){0,5} "
    r"(?:below|in the description|in the notes|underneath the video|under the video|on the website|"
    r"on my site)|"
    r"in the description(?: box)?|description below|down below in the)\b"
)
_LATER = re.compile(
    r"\b(?:(?:we'?ll|i'?ll|i will|we will|going to|gonna|we'?re going to)(?: \w+){0,2} "
    r"(?:come back to|get back to|return to|come on to|come to|get to|get on to|cover|show you|explain|"
    r"deal with)"
    r"(?: (?:that|this|those|these|it|them|him|her)\b)?(?: \w+){0,5}?(?: later| in a (?:minute|moment|bit|"
    r"second|while)| at the end| shortly| soon| after|"
    r" another (?:time|video|day)| further on)|"
    r"(?:we'?ll|i'?ll|i will|we will)(?: \w+)? (?:come back to|get back to|return to|come on to|"
    r"come to) (?:that|this|those|these|it|them|him|her)?|"
    r"(?:we'?ll|i'?ll) (?:talk|tell you|say more)(?: \w+){0,3} (?:about (?:that|this|it) )?(?:later|"
    r"in a (?:minute|moment|bit|while))|"
    r"more (?:on|about) (?:that|this|those|it|her|him)(?: later| in a (?:minute|bit|moment))?|"
    r"hold (?:that|on to that|onto that) thought|bear (?:that|this|it) in mind|remember (?:that|"
    r"this) for later|keep (?:that|this|it) in mind|"
    r"which we'?ll come to|later in (?:the|this) video|you'?ll see why)\b"
)
_NOT_LATER = re.compile(r"\bi'?ll (?:come to|get to) (?:you|work|bed)\b")
_ASK = re.compile(
    r"\b(?:(?:tell|let|write (?:to )?|drop|leave|give)(?: me| us)?(?: (?:know|a (?:note|comment|"
    r"line)))?(?: \w+){0,7} (?:in|down in) the comments?|"
    r"(?:comments?|answers?|guesses|suggestions|ideas|votes?)(?: \w+){0,4} (?:below|down below|underneath|"
    r"in the comments?|on a postcard)|"
    r"let me know(?: (?:what|if|how|which|whether|why|who|where|in|below))?|"
    r"(?:in|down in) the comments? (?:please|below|tell|let|if)|"
    r"(?:if (?:you|anybody|anyone|somebody)(?:'s| has|'ve| have| knows?|"
    r" can)?(?: \w+){0,9} )?(?:get in touch|write in|drop me a line|tell me|send me|leave a comment)|"
    r"what (?:would|do) you (?:think|reckon|do|say|have done)|which (?:one )?(?:would|do) you (?:like|"
    r"prefer|reckon))\b"
)
_NOT_ASK = re.compile(
    r"\b(?:(?:someone|somebody|people|anybody|they|he|she|you lot|everyone|couple of you)(?:'s|"
    r"s)?(?: (?:going to|will|always|were|are|keep|before))* $|before (?:anybody|anyone|somebody) $|"
    r"(?:to|going to|will|'ll|didn'?t|never|don'?t|always|could|can|nobody|who) $)"
)
_OWED_ELSEWHERE = re.compile(r"\b(?:another (?:video|time|day)|next (?:video|week|time|month))\b")
_REACH_CHARS = 70
_LATER_AFTER_MS = 25_000


_PATTERNS: tuple[tuple[PromiseKind, re.Pattern[str]], ...] = (
    ("link", _LINK),
    ("ask", _ASK),
    ("later", _LATER),
)


@dataclass(frozen=True, slots=True)
class _Said:
    """A promise as found: the words, their place, and the words around it that tell what it is about."""

    kind: PromiseKind
    quote: str
    at_ms: int
    about: frozenset[str]
    elsewhere: bool


def draft_promises(
    cues: Sequence[Cue], steps: Sequence[Step], entries: Sequence[Entry]
) -> tuple[tuple[Promise, ...], list[Problem]]:
    """List what the maker says will be found or told elsewhere, in order of time.

    `link`: something owed in the description. `later`: something owed later in the video; `kept_at_ms` says
    where it came (words of it told again, or "I said hold that thought"), None where it did not. `ask`: a
    question put to viewers.
    """
    del steps, entries  # a promise is heard; the log adds nothing to it
    lexicon = load_lexicon()
    running = passages(cues, lexicon)
    said = [found for passage in running for found in _found(passage, cues)]
    promises = tuple(
        Promise(one.at_ms, one.quote, one.kind, _kept_at(one, running, cues) if one.kind == "later" else None)
        for one in sorted(said, key=lambda one: one.at_ms)
    )
    return promises, []


def _found(passage: Passage, cues: Sequence[Cue]) -> list[_Said]:
    folded = passage.text.casefold().replace("’", "'")
    if len(folded) != len(passage.text):  # a letter that folds to two would shift every place
        folded = passage.text.lower().replace("’", "'")
    found: list[_Said] = []
    taken: list[tuple[int, int]] = []
    for kind, pattern in _PATTERNS:
        for match in pattern.finditer(folded):
            before = folded[max(0, match.start() - 40) : match.start()]
            if kind == "ask" and _NOT_ASK.search(before):
                continue
            if kind == "later" and (
                _NOT_LATER.search(match[0]) or re.search(r"\b(?:said|told you)\W+$", before)
            ):
                continue
            if any(start < match.end() and match.start() < end for start, end in taken):
                continue
            taken.append((match.start(), match.end()))
            found.append(_said(kind, match, passage, cues))
    return found


def _said(kind: PromiseKind, match: re.Match[str], passage: Passage, cues: Sequence[Cue]) -> _Said:
    start, end = _sentence(passage.text, match.start(), match.end())
    quote = " ".join(passage.text[start:end].split())
    around = passage.text[max(0, match.start() - 2 * _REACH_CHARS) : match.start()] + quote
    elsewhere = bool(_OWED_ELSEWHERE.search(quote.casefold()))
    return _Said(kind, quote, cues[passage.cue_at(match.start())].start_ms, _telling(around), elsewhere)


def _sentence(text: str, start: int, end: int) -> tuple[int, int]:
    """Widen a place to its sentence, or to whole words near it where nothing is punctuated."""
    low = max(0, start - _REACH_CHARS)
    marks = [m.end() for m in re.finditer(r"[.!?]\s+", text[low:start])]
    begin = low + marks[-1] if marks else (text.find(" ", low, start) + 1 if low else 0) or start
    stop = re.search(r"[.!?](?:\s|$)", text[end : end + _REACH_CHARS])
    if stop:
        return begin, end + stop.start() + 1
    high = min(len(text), end + _REACH_CHARS // 2)
    return begin, high if high == len(text) else max(end, text.rfind(" ", end, high))


def _telling(text: str) -> frozenset[str]:
    return frozenset(
        stem(t.text)
        for t in tokenise(text)
        if len(t.text) > 3 and t.text.casefold() not in _COMMON  # noqa: PLR2004
    )


_COMMON = word_set(
    """
    that this these those with have what when then them they their there here come back later will
    just from into about which going some been were because your would could should well more only
    over after before again really very much like than thing things thought hold mind bear remember
    said tell know want wants make made look looks right left
    """
)


def _kept_at(said: _Said, running: Sequence[Passage], cues: Sequence[Cue]) -> int | None:
    """Find where a promise for later was kept: its own words taken up again, else its subject told again."""
    if said.elsewhere:
        return None
    held = re.search(r"hold (?:that|on to that|onto that) thought", said.quote.casefold())
    for passage in running:
        folded = passage.text.casefold()
        for match in re.finditer(
            r"\b(?:i said (?:hold|we'?d|i'?d|bear|remember)|as promised|like i said i would|i promised)\b",
            folded,
        ):
            at_ms = cues[passage.cue_at(match.start())].start_ms
            if at_ms > said.at_ms + _LATER_AFTER_MS and (held or "promise" in match[0] or "said" in match[0]):
                return at_ms
    best: tuple[int, int] | None = None
    window = 3
    for first in range(len(cues)):
        at_ms = cues[first].start_ms
        if at_ms < said.at_ms + _LATER_AFTER_MS:
            continue
        words = _telling(" ".join(cue.text for cue in cues[first : first + window]))
        shared = len(words & said.about)
        if shared >= 2 and (best is None or shared > best[0]):  # noqa: PLR2004 - one word in common is chance
            best = (shared, at_ms)
    return best[1] if best else None
