"""Cards: words broken where a reader would pause, and how long they stand."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.corrections.cards import CardText, broken, card_ms, cards_of, count_words, reading_ms
from reelnotes.model import Correction, RecordKind
from reelnotes.settings import CaptionSettings

USUAL = CaptionSettings()


def record(shown: str, wrong: str, instead: str, kind: RecordKind = "correction") -> Correction:
    return Correction("top", shown, wrong, instead, "NOTICE", kind=kind)


TOP = record(
    "the top glued into its frame all round",
    "solid wood swells across the grain, so the frame will split",
    "screw it on through slots, with a gap of 4 mm on each side",
)


def test_cards_say_what_is_wrong_what_happens_what_to_do_instead() -> None:
    """In that order (hazard, consequence, avoidance: common practice, no source), each part on its cards."""
    cards, problems = cards_of(TOP, USUAL)
    assert problems == []
    assert [card.part for card in cards] == ["wrong", "happens", "instead"]
    assert [card.lines for card in cards] == [
        ("Wrong here: the top glued", "into its frame all round."),
        ("Solid wood swells across the grain,", "so the frame will split."),
        ("Instead: screw it on through slots,", "with a gap of 4 mm on each side."),
    ]


def test_a_caution_does_not_say_that_something_is_wrong() -> None:
    """What was not retracted is told with care."""
    cards, _ = cards_of(replace(TOP, kind="caution"), USUAL)
    assert cards[0].text.startswith("Careful here: ")


def test_a_disclosure_is_its_own_words_alone() -> None:
    """No label, no signal word's parts."""
    cards, _ = cards_of(
        record("Glue", "given", "the glue was given to me, not paid for", "disclosure"), USUAL
    )
    assert [card.part for card in cards] == ["given"]
    assert cards[0].text == "The glue was given to me, not paid for."


def test_a_label_that_the_maker_wrote_is_not_doubled() -> None:
    """`instead: ...` typed by hand stays as it is."""
    cards, _ = cards_of(record("x", "y", "Instead: wait a day"), USUAL)
    assert cards[-1].text == "Instead: wait a day."


# --- how long they stand -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "rate", "ms"),
    [(12, 160, 4500), (12, 180, 4000), (20, 160, 7500), (20, 180, 6667), (12, 200, 3600), (20, 200, 6000)],
)
def test_reading_time_follows_the_rate(words: int, rate: int, ms: int) -> None:
    """BBC Subtitle Guidelines, 4 and 4.1: 160 to 180 words a minute, 0.3 s a word at the very least."""
    assert reading_ms(words, CaptionSettings(words_per_minute=rate)) == ms


def test_no_rate_goes_below_the_least_time_a_word() -> None:
    """With 0.4 s a word as the least, 200 words a minute (0.3 s) does not count."""
    assert reading_ms(10, CaptionSettings(words_per_minute=200, word_min_s=Decimal("0.4"))) == 4000


@pytest.mark.parametrize(("text", "words"), [("4 mm – 5 mm", 4), ("it's 1/2\"", 2), ("", 0), ("— … !", 0)])
def test_words_are_what_holds_a_letter_or_a_digit(text: str, words: int) -> None:
    """Dashes and dots alone are no words."""
    assert count_words(text) == words


def test_a_card_stands_a_second_longer_than_its_words() -> None:
    """9 words at 160 a minute are 3.375 s, and 1 s for the label (BBC Subtitle Guidelines, 4.3)."""
    assert card_ms(CardText(("one two three four five", "six seven eight nine"), "wrong"), USUAL) == 4375


def test_the_shortest_card_stands_one_and_a_half_seconds() -> None:
    """One word needs 1.375 s and gets 1.5; two need 1.75 and get that."""
    assert card_ms(CardText(("Stop.",), "wrong"), USUAL) == 1500
    assert card_ms(CardText(("Stop now.",), "wrong"), USUAL) == 1750


# --- breaking ----------------------------------------------------------------------------------------

TORN = {"a", "an", "the", "of", "with", "and", "or", "into", "not", "will", "is", "its", "to", "on", "it"}


@pytest.mark.parametrize("width", [25, 37, 42])
@pytest.mark.parametrize(
    "text",
    [
        "Solid wood swells across the grain, so the frame will split by next summer.",
        "Hands were at the blade, bit or works of a power tool that could have started.",
        "Spread the rags flat in one layer outdoors, or put them under water in a can with a tight lid.",
        "Use a filter numbered 100 or P3, and keep the paint wet while it comes off the moulding.",
    ],
)
def test_lines_break_where_a_reader_would_pause(text: str, width: int) -> None:
    """No line ends on an article, preposition, conjunction, pronoun or part of a verb (BBC, 3.4)."""
    cards = broken(text.split(), CaptionSettings(line_chars=width, lines=2 if width > 30 else 3))
    ends = [line.split()[-1].casefold() for card in cards for line in card]
    assert [word for word in ends if word in TORN] == []


@pytest.mark.parametrize(("chars", "lines"), [(37, 2), (25, 3)])
def test_a_sentence_over_two_cards_is_parted_near_its_middle(chars: int, lines: int) -> None:
    """A first card of three words before a full one reads like a stumble."""
    text = "Wrong here: A split in a wide pine board glued shut and the board screwed back."
    settings = replace(CaptionSettings(), line_chars=chars, lines=lines)
    first, second = (len(" ".join(card)) for card in broken(text.split(), settings))
    assert min(first, second) > len(text) / 3


def test_a_number_stays_with_its_unit() -> None:
    """`4 mm` is never parted, whatever the width."""
    sentence = "leave a gap of 4 mm on each of the two sides"
    for width in range(16, 40):
        cards = broken(sentence.split(), CaptionSettings(line_chars=width))
        assert not any(line.endswith(" 4") or line == "4" for card in cards for line in card)


words_lists = st.lists(st.text("abcdefghij,.", min_size=1, max_size=16), min_size=1, max_size=40)


@settings(max_examples=60, deadline=None)
@given(words_lists, st.integers(16, 42), st.integers(1, 3), st.integers(80, 200))
def test_cards_keep_every_word_and_every_limit(words: list[str], width: int, lines: int, rate: int) -> None:
    """Words come out in order; lines are no longer, cards no taller and no longer in time than allowed."""
    limits = CaptionSettings(line_chars=width, lines=lines, words_per_minute=rate)
    cards = broken(words, limits)
    assert " ".join(line for card in cards for line in card) == " ".join(words)
    assert all(len(line) <= width for card in cards for line in card)
    assert all(len(card) <= lines for card in cards)
    assert all(card_ms(CardText(card, "wrong"), limits) <= 7000 for card in cards)


@pytest.mark.parametrize(("length", "cut"), [(37, False), (38, True)])
def test_a_word_longer_than_a_line_is_cut_and_reported(length: int, cut: bool) -> None:
    """37 letters fit a line of 37; 38 do not."""
    cards, problems = cards_of(record("x" * (length - 1) + ".", "y", "z"), USUAL)
    assert [problem.code for problem in problems] == ["insert-long"] * cut
    assert all(len(line) <= 37 for card in cards for line in card.lines)
