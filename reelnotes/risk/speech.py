"""Speech and notes as runs of words with their places, cut into clauses, and windows over them.

Captions may have no punctuation at all, so a clause also ends at a pause, and a long stretch at a word that
joins clauses. A sentence may run over many cues; a cue may hold several.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from reelnotes.model import Cue, Entry
from reelnotes.records import frozen
from reelnotes.risk.plain import plain_words

#: A silence that ends a sentence, and one across which nothing is read together.
PAUSE_MS = 700
LONG_PAUSE_MS = 4000
#: A clause of fewer words takes in what follows; one of more words ends at the next joining word.
SHORT_CLAUSE = 5
LONG_CLAUSE = 11
#: A window holds so many clauses and words at most.
WINDOW_CLAUSES = 4
WINDOW_WORDS = 32

_PIECE = re.compile(r"\S+")
_ENDS_SENTENCE = re.compile(r"[.?!…]+[\"')\]]*$")
_ENDS_CLAUSE = re.compile(r"[,;:–—-]+[\"')\]]*$|^[-–—/>]+$")
_CLOSING = ".,!?;:…"
_JOINS = frozenset(
    "and so but because then or if when which while though although until".split()  # noqa: SIM905 - words
)


@dataclass(slots=True)
class Run:
    """A run of words: `sentence[i]` and `clause[i]` say that one begins at word i.

    Word i stands in `texts[piece[i]]` (a cue's or an entry's text) from `start[i]` to `end[i]`, or somewhere
    in it where the words were mended; in speech it is said at about `at_ms[i]`. `entries` are the indexes of
    the log entries, one a piece; None for speech.
    """

    words: list[str] = field(default_factory=list)
    sentence: list[bool] = field(default_factory=list)
    clause: list[bool] = field(default_factory=list)
    far: list[bool] = field(default_factory=list)
    at_ms: list[int] = field(default_factory=list)
    piece: list[int] = field(default_factory=list)
    start: list[int] = field(default_factory=list)
    end: list[int] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)
    mended: list[bool] = field(default_factory=list)
    ends_ms: list[int] = field(default_factory=list)
    entries: list[int] | None = None

    def quote(self, first: int, end: int) -> str:
        """Give the words as they stand in the text, from word `first` up to and without `end`.

        A piece that was mended for reading is given whole and as it stands.
        """
        head, tail = self.piece[first], self.piece[end - 1]
        parts = self.texts[head : tail + 1]
        if not self.mended[tail]:
            parts[-1] = parts[-1][: self._closed(end - 1)]
        if not self.mended[head]:
            parts[0] = parts[0][self.start[first] :]
        return " ".join(parts)

    def entry(self, word: int) -> int | None:
        """Index of the log entry in which a word stands; None in speech."""
        return None if self.entries is None else self.entries[self.piece[word]]

    def _closed(self, word: int) -> int:
        """End of a word with the punctuation that closes it."""
        text, at = self.texts[self.piece[word]], self.end[word]
        while at < len(text) and text[at] in _CLOSING:
            at += 1
        return at

    def ends_at_ms(self, word: int) -> int:
        """Time at which a word has been said: when the next one begins, or the end of its cue."""
        limit = self.ends_ms[self.piece[word]]
        return min(self.at_ms[word + 1], limit) if word + 1 < len(self.words) else limit


@frozen
class Window:
    """One to four clauses read together: words `first` up to and without `end` of a run."""

    first: int
    end: int


def speech_run(cues: Sequence[Cue], read_as: Sequence[str] | None = None) -> Run:
    """Join all cues to one run. `read_as` gives the words that each cue counts as, where they were mended."""
    run = Run()
    state = (True, True)
    before = None
    for number, cue in enumerate(cues):
        gap = LONG_PAUSE_MS if before is None else cue.start_ms - before
        if gap >= PAUSE_MS:
            state = (True, True)
        run.texts.append(cue.text)
        text = read_as[number] if read_as else cue.text
        run.mended.append(text != cue.text)
        state = _add(run, text, (cue.start_ms, cue.end_ms), state, far=gap >= LONG_PAUSE_MS)
        before = cue.end_ms
    _cut_long(run)
    return run


def log_run(entries: Sequence[Entry], read_as: Sequence[str] | None = None) -> Run:
    """Make one run of all log entries; it has no times, and nothing is read across two entries."""
    run = Run(entries=[entry.index for entry in entries])
    for number, entry in enumerate(entries):
        run.texts.append(entry.text)
        text = read_as[number] if read_as else entry.text
        run.mended.append(text != entry.text)
        _add(run, text, (0, 0), (True, True), far=True)
    _cut_long(run)
    return run


def text_run(text: str) -> Run:
    """Make the run of a written passage."""
    return log_run([Entry(0, text, 0)])


def _add(
    run: Run, text: str, times: tuple[int, int], state: tuple[bool, bool], *, far: bool
) -> tuple[bool, bool]:
    """Add a text to a run; `state` says whether a sentence and a clause begin with the next word."""
    start_ms, end_ms = times
    sentence, clause = state
    piece = len(run.texts) - 1
    run.ends_ms.append(end_ms)
    for match in _PIECE.finditer(text):
        words, length, ends_sentence, ends_clause = _piece(match[0])
        start = match.start()
        for word in words:
            run.words.append(word)
            run.sentence.append(sentence)
            run.clause.append(clause)
            run.far.append(far)
            run.at_ms.append(start_ms + (end_ms - start_ms) * start // len(text))
            run.piece.append(piece)
            run.start.append(start)
            run.end.append(start + length)
            sentence = clause = far = False
        sentence = sentence or ends_sentence
        clause = clause or sentence or ends_clause
    return sentence, clause


@lru_cache(maxsize=20_000)
def _piece(text: str) -> tuple[tuple[str, ...], int, bool, bool]:
    """Give a piece's words, its length without what closes it, and whether a sentence or a clause ends there.

    Half of the pieces of a speech are a few dozen little words.
    """
    return (
        tuple(plain_words(text)),
        len(text.rstrip(_CLOSING)),
        bool(_ENDS_SENTENCE.search(text)),
        bool(_ENDS_CLAUSE.search(text)),
    )


def _cut_long(run: Run) -> None:
    """Join short clauses to what follows, and cut long ones at a word that joins clauses."""
    length = 0
    for i, word in enumerate(run.words):
        hard = run.sentence[i]
        if hard or (run.clause[i] and length >= SHORT_CLAUSE) or (length >= LONG_CLAUSE and word in _JOINS):
            run.clause[i], length = True, 0
        else:
            run.clause[i] = False
        length += 1


def bounds(run: Run) -> list[tuple[int, int]]:
    """Give for each word the words that it may be read together with: the whole speech, or its entry."""
    if run.entries is None or not run.words:
        return [(0, len(run.words))] * len(run.words)
    starts = [i for i, far in enumerate(run.far) if far]
    held = []
    for first, end in zip(starts, [*starts[1:], len(run.words)], strict=True):
        held += [(first, end)] * (end - first)
    return held


def windows(run: Run) -> Iterator[Window]:
    """Give every run of one to four clauses that is short enough; none reaches across a long pause."""
    starts = [i for i, begins in enumerate(run.clause) if begins]
    edges = [*starts, len(run.words)]
    for k, first in enumerate(starts):
        for j in range(k + 1, min(k + WINDOW_CLAUSES, len(starts)) + 1):
            end = edges[j]
            if j > k + 1 and (end - first > WINDOW_WORDS or run.far[edges[j - 1]]):
                break
            yield Window(first, end)
