"""What the maker says will be found or told elsewhere: a link owed, something owed later, a question put."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

from reelnotes.draft.signs import Signs, plain
from reelnotes.draft.speech import Passage, passages
from reelnotes.model import Cue, Entry, Promise, PromiseKind, Step
from reelnotes.problems import Problem
from reelnotes.words.numbers import word_set
from reelnotes.words.tokens import stem, words_in

_LINK = Signs(
    """
    links? (is|are|will be|to|for|in|below|down|under|underneath)
    linked
    (put|pop|stick|drop|leave|post|list) ... (below|in the description|in the notes|under (this|the) video|down there)
    (is|are|it's|they're|all|details|plans?|drawings?|measurements|sizes|list|template) ... (below|in the (description|notes)|(under|underneath) the video|on (the|my) (website|site))
    in the description
    description below
    (see|check|look in|read) (the|my) (description|notes)
    """  # noqa: E501 - one sign a line
)
_LATER = Signs(
    """
    (we'll|i'll|i will|we will|going to|gonna)( [a-z]+)? (come back|get back|return) to( (that|this|those|these|it|them|him|her))?
    (we'll|i'll|i will|we will)( [a-z]+)? (come (on )?to|get (on )?to) (that|this|those|these|it|them)
    (we'll|i'll|i will|we will|going to|gonna) (cover|show|explain|deal with|do|tell|talk|say|look at|get to|go into|fix|sort|see) ... (later|in a (minute|moment|bit|second|while)|at the end|shortly|another (time|video|day)|further (on|down))
    more (on|about) (that|this|those|it|the [a-z]+) (later|in a (minute|bit|moment))
    hold (on ?to )?that thought
    (bear|keep) (that|this|it) in mind
    remember (that|this) for later
    which we'll come to
    later in (the|this) video
    you'll see why
    """  # noqa: E501 - one sign a line
)
_ASK = Signs(
    """
    (tell|let|drop|leave|give|write)( me| us| to me)? ... in the comments?
    (comments?|answers?|guesses|ideas|votes?) ... (below|underneath|in the comments?|on a postcard)
    let me know
    tell me (below|underneath|down there)
    love to (hear|know) (how|what|from|if|whether)
    (has|does|did) any(one|body) (of you )?(know|seen|have|recogni[sz]e|ever|got)
    any(one|body) know (who|what|how|where|why)
    (drop|leave|write|put)( me)? (a|your) (comment|guess|answer)
    in the comments? (please|below|tell|let|if)
    (if (you|anybody|anyone|somebody) ... )?(get in touch|drop me a line|send me|leave a comment)
    if (you|anybody|anyone|somebody) ... (write in|tell me)
    what (would|do) you (think|reckon|say|have done)
    which (one )?(would|do) you (like|prefer|reckon)
    """
)
#: Before a question: somebody else put it, or nobody was asked.
_NOT_ASKED = Signs(
    """
    (someone|somebody|people|anybody|they|he|she|you lot|everyone|couple of you)('s)?( (going to|will|always|were|are|keep|before))*
    (before|to|going to|will|'ll|didn't|never|don't|always|could|can|nobody|who)
    """,  # noqa: E501 - one sign a line
    at_end=True,
)
_LINK_HINTS = ("link", "below", "description", "the notes", "under", "down there", "site")
_ASK_HINTS = (
    "comment", "let me know", "touch", "below", "underneath", "postcard", "line", "send me", "tell me",
    "write in", "do you", "would you", "love to", "one know", "body know", "s any", "did any",
)  # fmt: skip
_LATER_HINTS = (
    "back to", "return to", "come to", "come on to", "get to", "get on to", "later", "thought", "in mind",
    "in a ", "the end", "shortly", "another", "further", "see why",
)  # fmt: skip
#: The kinds with their signs, and words of which one at least must be there: most passages have none.
_KINDS: tuple[tuple[PromiseKind, Signs, tuple[str, ...]], ...] = (
    ("link", _LINK, _LINK_HINTS),
    ("ask", _ASK, _ASK_HINTS),
    ("later", _LATER, _LATER_HINTS),
)
_ELSEWHERE = Signs("another (video|time|day)\nnext (video|week|time|month)")
_TAKEN_UP = Signs(
    "i said (hold|we'd|i'd|i would|we would|bear|keep|remember)\nas promised\ni promised\nlike i said i would"
)
_AROUND_CHARS, _ABOUT_CHARS = 70, 70
_LATER_AFTER_MS = 25_000
_WINDOW = 3
#: What must be told again, a word counting 1 / its cues: to be asked in vain is better than not to be asked.
_ENOUGH = 0.7
_RARE = 4  # cues that may hold a rare word
_SHORT = 3
_COMMON = word_set(
    """
    this that these those with have what when then them they their there here come back later will just from
    into about which going some been were because your would could should well more only over after before
    again really very much like than thing things thought hold mind bear remember said tell know want wants
    make made look looks right left
    """
)


class _Said(NamedTuple):
    """A promise as found: the words, their place, and the telling words around it."""

    kind: PromiseKind
    quote: str
    at_ms: int
    about: frozenset[str]


def draft_promises(
    cues: Sequence[Cue], steps: Sequence[Step], entries: Sequence[Entry]
) -> tuple[tuple[Promise, ...], list[Problem]]:
    """List what the maker says will be found or told elsewhere, in order of time.

    `link`: something owed in the description. `later`: something owed later in the video; `kept_at_ms` says
    where it came ("I said hold that thought", or its rare words told again), None where it did not. `ask`:
    a question put to viewers.
    """
    del steps, entries  # a promise is heard; the log adds nothing to it
    running = passages(cues, None)
    said = sorted((one for passage in running for one in _found(passage, cues)), key=lambda one: one.at_ms)
    kept = _Keeping(cues, running) if any(one.kind == "later" for one in said) else None
    promises = tuple(
        Promise(one.at_ms, one.quote, one.kind, kept.at(one) if kept and one.kind == "later" else None)
        for one in said
    )
    return promises, []


def _found(passage: Passage, cues: Sequence[Cue]) -> list[_Said]:
    text = plain(passage.text)
    found: list[_Said] = []
    taken: list[tuple[int, int]] = []
    for kind, signs, hints in _KINDS:
        for match in signs.finditer(text) if any(hint in text for hint in hints) else ():
            before = text[max(0, match.start() - 40) : match.start()].rstrip()
            told = kind == "ask" and _NOT_ASKED.search(before)
            again = kind == "later" and before.endswith(("said", "told you"))
            if told or again or any(a < match.end() and match.start() < b for a, b in taken):
                continue
            taken.append(match.span())
            start, end = _sentence(passage.text, *match.span())
            quote = " ".join(passage.text[start:end].split())
            about = _telling(passage.text[max(0, match.start() - _ABOUT_CHARS) : match.end()])
            found.append(_Said(kind, quote, cues[passage.cue_at(match.start())].start_ms, about))
    return found


def _sentence(text: str, start: int, end: int) -> tuple[int, int]:
    """Widen a place to its sentence, or to whole words near it where nothing is punctuated."""
    low = max(0, start - _AROUND_CHARS)
    marks = [m.end() for m in re.finditer(r"[.!?]\s+", text[low:start])]
    word = text.find(" ", low, start) + 1 if low else 0
    begin = low + marks[-1] if marks else word or (0 if not low else start)
    stop = re.search(r"[.!?](?:\s|$)", text[end : end + _AROUND_CHARS])
    if stop:
        return begin, end + stop.start() + 1
    high = min(len(text), end + _AROUND_CHARS // 2)
    return begin, high if high == len(text) else max(end, text.rfind(" ", end, high))


def _telling(text: str) -> frozenset[str]:
    return frozenset(stem(word) for word in words_in(text) if len(word) > _SHORT and word not in _COMMON)


class _Keeping:
    """Where promises for later are kept in this talk."""

    def __init__(self, cues: Sequence[Cue], running: Sequence[Passage]) -> None:
        self.cues = cues
        self.words = [_telling(cue.text) for cue in cues]
        self.spread = Counter(word for words in self.words for word in words)
        self.taken_up = [
            cues[passage.cue_at(match.start())].start_ms
            for passage in running
            for match in _TAKEN_UP.finditer(plain(passage.text))
        ]

    def at(self, said: _Said) -> int | None:
        """Give the time at which a promise was kept: its words taken up, else its rare words told again."""
        if _ELSEWHERE.search(plain(said.quote)):
            return None
        earliest = said.at_ms + _LATER_AFTER_MS
        taken_up = next((at_ms for at_ms in self.taken_up if at_ms > earliest), None)
        if taken_up is not None:
            return taken_up
        most = max(_RARE, len(self.cues) // 60)
        rare = {word: 1 / self.spread[word] for word in said.about if 1 < self.spread[word] <= most}
        best, best_at = _ENOUGH, None
        for first, cue in enumerate(self.cues):
            if cue.start_ms >= earliest:
                shared = rare.keys() & frozenset().union(*self.words[first : first + _WINDOW])
                score = sum(rare[word] for word in shared)
                if score > best:
                    best, best_at = score, cue.start_ms
        return best_at
