"""Words into cards: what stands in the picture at once, broken where a reader would pause.

What is wrong, what happens, what to do instead: the order of hazard, consequence and avoidance that is usual
for hazard messages (common practice). Rate, line length, number of lines and breaks follow the BBC Subtitle
Guidelines: breaks at punctuation, none between article and noun, preposition and phrase, conjunction and
clause, pronoun and verb, or the parts of a verb.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import ROUND_CEILING, Decimal
from functools import cache

from reelnotes.model import CardPart, Correction
from reelnotes.problems import Problem
from reelnotes.records import frozen
from reelnotes.settings import CaptionSettings

WRONG_LABEL = "Wrong here:"
CAUTION_LABEL = "Careful here:"
INSTEAD_LABEL = "Instead:"

#: What a break costs after a word, from a pause to a word torn from what it belongs to.
_PAUSE, _COMMA, _JOINT, _PLAIN, _TORN = 0.0, 0.6, 1.5, 4.0, 14.0
_CARD_COST = 5.0
#: Of a card so short that it flashes by as a word or two.
_STUB_COST, _STUB_WORDS = 9.0, 2
#: Of a card that holds a part of a sentence and is all but empty: parts should be of like length.
_UNEVEN = 14.0
_RAGGED = 2.0

_ARTICLES = frozenset({
    "a", "an", "the", "this", "that", "these", "those", "my", "your", "his", "her", "its", "our", "their",
    "each", "every", "any", "no", "some", "both", "all", "one", "two", "three", "very", "more", "most", "too",
})  # fmt: skip
_PREPOSITIONS = frozenset({
    "about", "across", "after", "against", "along", "around", "as", "at", "before", "behind", "below",
    "beneath", "beside", "between", "by", "down", "during", "for", "from", "in", "inside", "into", "near",
    "of", "off", "on", "onto", "out", "over", "per", "through", "to", "towards", "under", "until", "up",
    "upon", "with", "within", "without",
})  # fmt: skip
_CONJUNCTIONS = frozenset({
    "and", "or", "but", "nor", "so", "yet", "because", "if", "when", "where", "while", "which", "who", "than",
    "that", "unless", "since", "though", "although", "whether", "then", "before", "after", "until", "as",
})  # fmt: skip
_PRONOUNS = frozenset({"i", "you", "he", "she", "it", "we", "they", "there", "who", "what"})
_AUXILIARIES = frozenset({
    "am", "is", "are", "was", "were", "be", "been", "being", "has", "have", "had", "do", "does", "did",
    "will", "would", "can", "could", "may", "might", "must", "shall", "should", "not", "never", "don't",
    "doesn't", "didn't", "won't", "can't", "cannot", "couldn't", "wouldn't", "isn't", "aren't", "it's",
    "they're", "you're", "let", "always",
})  # fmt: skip
_HOLDS_ON = _ARTICLES | _PREPOSITIONS | _CONJUNCTIONS | _PRONOUNS | _AUXILIARIES
_OPENS = _PREPOSITIONS | _CONJUNCTIONS
_ENDS = re.compile(r"[.!?…;][\"'”’)\]]*$")
_HALTS = re.compile(r"(?:[,:]|–|—|\))[\"'”’]*$")
_BARE = re.compile(r"^\W+|\W+$")

#: What lines cost, and the lines.
Laid = tuple[float, tuple[str, ...]]


@frozen
class CardText:
    """The lines of one card, not yet placed in time."""

    lines: tuple[str, ...]
    part: CardPart

    @property
    def text(self) -> str:
        """The lines in one."""
        return " ".join(self.lines)


def count_words(text: str) -> int:
    """Count the words of a text: what stands between white space and holds a letter or a digit."""
    return sum(any(letter.isalnum() for letter in word) for word in text.split())


def reading_ms(words: int, settings: CaptionSettings) -> int:
    """Give how long words must stand to be read in time, in milliseconds, rounded up.

    The rate of the workshop, never below the least time a word; 2 words in 1 s are 120 a minute (BBC
    Subtitle Guidelines, 4). Without the second that a label beside a picture takes.
    """
    exact = words * 1000 * max(Decimal(60) / settings.words_per_minute, settings.word_min_s)
    return int(exact.to_integral_value(ROUND_CEILING))


def card_ms(card: CardText, settings: CaptionSettings) -> int:
    """Give how long a card stands: its reading time and the second for its label, within the limits."""
    wanted = reading_ms(count_words(card.text), settings) + round(settings.label_s * 1000)
    return max(wanted, round(settings.card_min_s * 1000))


def cards_of(correction: Correction, settings: CaptionSettings) -> tuple[tuple[CardText, ...], list[Problem]]:
    """Turn the words of a record into cards. A word longer than a line is cut, and reported."""
    cards: list[CardText] = []
    problems: list[Problem] = []
    for part, text in _parts(correction):
        words, cut = _fitting(text.split(), settings.line_chars)
        problems += [
            Problem("insert-long", f"{correction.id}: {word!r} is longer than a line and was cut there")
            for word in cut
        ]
        cards += [CardText(lines, part) for lines in broken(words, settings)]
    return tuple(cards), problems


def _parts(correction: Correction) -> list[tuple[CardPart, str]]:
    if correction.kind == "disclosure":
        return [("given", _sentence(correction.instead))]
    label = WRONG_LABEL if correction.kind == "correction" else CAUTION_LABEL
    return [
        ("wrong", _labelled(label, correction.shown)),
        ("happens", _sentence(correction.wrong)),
        ("instead", _labelled(INSTEAD_LABEL, correction.instead)),
    ]


def _labelled(label: str, text: str) -> str:
    bare = text.casefold().startswith(label.casefold())
    return _closed(text) if bare else f"{label} {_closed(text)}"


def _sentence(text: str) -> str:
    return _closed(text[:1].upper() + text[1:])


def _closed(text: str) -> str:
    return text if re.search(r"[.!?…][\"'”’)\]]*$", text) else f"{text.rstrip(' ,;:')}."


def _fitting(words: Sequence[str], width: int) -> tuple[list[str], list[str]]:
    """Cut words that no line can hold into pieces; give the words as they fit, and those that were cut."""
    fitting: list[str] = []
    for word in words:
        fitting += [word[at : at + width] for at in range(0, len(word), width)]
    return fitting, [word for word in words if len(word) > width]


# --- breaking ----------------------------------------------------------------------------------------


def broken(words: Sequence[str], settings: CaptionSettings) -> list[tuple[str, ...]]:
    """Break words into cards of lines, as few and as natural as they can be, none over the limits.

    Every word must fit a line. Found by dynamic programming over the ends of cards.
    """
    if not words:
        return []
    costs = [_break_cost(word, after) for word, after in zip(words, [*words[1:], ""], strict=True)]
    costs[-1] = _PAUSE
    most = _most_words(settings)
    best: list[tuple[float, int, tuple[str, ...]]] = [(0.0, 0, ())]
    for end in range(1, len(words) + 1):
        options = []
        for start in range(max(0, end - most), end):
            laid = _laid(words[start:end], costs[start:end], settings)
            if laid is not None:
                whole = costs[end - 1] == _PAUSE and (not start or costs[start - 1] == _PAUSE)
                cost = _card_cost(words[start:end], len(words), settings, whole=whole)
                options.append((best[start][0] + cost + 2 * costs[end - 1] + laid[0], start, laid[1]))
        best.append(min(options))
    cards: list[tuple[str, ...]] = []
    end = len(words)
    while end:
        _, start, lines = best[end]
        cards.append(lines)
        end = start
    return cards[::-1]


def _card_cost(words: Sequence[str], of: int, settings: CaptionSettings, *, whole: bool) -> float:
    """Say what a card costs that holds these of so many words, `whole` sentences or parts of one."""
    cost = _CARD_COST + (_STUB_COST if len(words) <= _STUB_WORDS < of else 0)
    empty = 1 - len(" ".join(words)) / (settings.line_chars * settings.lines + settings.lines - 1)
    return cost if whole else cost + _UNEVEN * empty**2


def _most_words(settings: CaptionSettings) -> int:
    """Give how many words a card may hold so that it need not stand longer than the longest."""
    room_ms = round((settings.card_max_s - settings.label_s) * 1000)
    return next((n - 1 for n in range(2, 200) if reading_ms(n, settings) > room_ms), 199)


def _laid(words: Sequence[str], costs: Sequence[float], settings: CaptionSettings) -> Laid | None:
    """Lay words into the lines of one card at the least cost; None where they do not fit."""
    width = settings.line_chars
    if len(" ".join(words)) > width * settings.lines + settings.lines - 1:
        return None

    @cache
    def rest(start: int, lines: int) -> Laid | None:
        whole = " ".join(words[start:])
        options: list[Laid] = [(0.0, (whole,))] if len(whole) <= width else []
        if lines > 1:
            for end in range(start + 1, len(words)):
                line = " ".join(words[start:end])
                if len(line) > width:
                    break
                below = rest(end, lines - 1)
                if below is not None:
                    ragged = _RAGGED * abs(len(line) - len(below[1][0])) / width
                    options.append((1 + costs[end - 1] + ragged + below[0], (line, *below[1])))
        return min(options, default=None)

    return rest(0, settings.lines)


def _break_cost(word: str, after: str) -> float:
    """Say what a break between two words costs: least at a pause, most inside what belongs together."""
    if _ENDS.search(word):
        return _PAUSE
    if _HALTS.search(word):
        return _COMMA
    bare, following = _BARE.sub("", word.casefold()), _BARE.sub("", after.casefold())
    if bare in _HOLDS_ON or (bare[:1].isdigit() and not following[:1].isdigit()):
        return _TORN
    return _JOINT if following in _OPENS else _PLAIN
