"""Inserts in time: with their step, long enough, never two at once, on whole frames."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.corrections.cards import CardText, card_ms, cards_of
from reelnotes.corrections.insert import Wish, place_inserts, wishes_of
from reelnotes.model import HARM_ORDER, SIGNAL_ORDER, Correction, Insert, Place, SignalWord, Topic
from reelnotes.problems import Problem
from reelnotes.settings import CaptionSettings
from reelnotes.timing import Span, format_timecode, frames_to_ms, ms_to_frames, parse_timecode

USUAL = CaptionSettings()
RATE = Fraction(25)
DROP = Fraction(30000, 1001)
HOUR = 3_600_000


def record(name: str, signal: SignalWord = "NOTICE", topic: Topic | None = None) -> Correction:
    return Correction(
        name,
        "the top glued in all round",
        "it will split the frame",
        "screw it on through slots",
        signal,
        topic,
    )


#: The cards of `record` have 8, 5 and 6 words: 4, 2.875 and 3.25 s, that is 100, 72 and 82 frames at 25.
LENGTH_MS = 254 * 40


def placed(
    *wishes: tuple[Correction, int, int], duration_ms: int = HOUR, rate: Fraction | None = RATE
) -> tuple[tuple[Insert, ...], list[Problem]]:
    spans = [Wish(of, Span(start, end)) for of, start, end in wishes]
    return place_inserts(spans, USUAL, rate, duration_ms)


def starts(inserts: tuple[Insert, ...]) -> dict[str, int]:
    return {insert.of: insert.start_ms for insert in inserts if not insert.returns}


def test_cards_stand_one_after_the_other_from_the_start_of_the_place() -> None:
    """Each card as long as it takes to read, without a gap."""
    (insert,), problems = placed((record("top"), 552_000, 572_000))
    cards, _ = cards_of(record("top"), USUAL)
    assert problems == []
    assert insert.start_ms == 552_000
    assert all(a.end_ms == b.start_ms for a, b in pairwise(insert.cards))
    for card, text in zip(insert.cards, cards, strict=True):
        assert card_ms(text, USUAL) <= card.end_ms - card.start_ms < card_ms(text, USUAL) + 40
    assert insert.end_ms == 552_000 + LENGTH_MS


@pytest.mark.parametrize(
    ("length_ms", "lead_ms"),
    [(LENGTH_MS, 0), (LENGTH_MS - 40, 40), (LENGTH_MS - 1000, 1000), (LENGTH_MS - 5000, 1000), (40, 1000)],
)
def test_a_short_place_lets_its_insert_begin_up_to_a_second_before(length_ms: int, lead_ms: int) -> None:
    """As much before as it lacks, never more than 1 s; then it stays past the cut."""
    (insert,), _ = placed((record("top"), 552_000, 552_000 + length_ms))
    assert insert.start_ms == 552_000 - lead_ms
    assert insert.end_ms - insert.start_ms == LENGTH_MS


def test_nothing_begins_before_the_programme() -> None:
    """A place at the very start gets no lead."""
    (insert,), _ = placed((record("top"), 200, 1000))
    assert insert.start_ms == 0


# --- long places -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("length_ms", "showings"), [(20_000, 1), (20_040, 2), (40_000, 2), (50_000, 3)])
def test_it_returns_on_a_place_longer_than_20_s(length_ms: int, showings: int) -> None:
    """20 s to the millisecond is not long; 20.04 s is."""
    inserts, problems = placed((record("top"), 60_000, 60_000 + length_ms))
    assert problems == []
    assert [insert.returns for insert in inserts] == [False] + [True] * (showings - 1)


@settings(max_examples=40, deadline=None)
@given(st.integers(21_000, 400_000))
def test_on_a_long_place_no_20_s_pass_without_it(length_ms: int) -> None:
    """The gaps between showings, and the one at the end, are shorter than the time of return."""
    inserts, _ = placed((record("top"), 0, length_ms))
    edges = [*((i.start_ms, i.end_ms) for i in inserts), (length_ms, 0)]
    assert all(after[0] - before[1] < 20_000 for before, after in pairwise(edges))
    assert all(after[0] - before[1] >= 1500 for before, after in pairwise(edges[:-1]))


def test_where_all_of_it_does_not_fit_it_returns_with_what_to_do_instead() -> None:
    """A reminder that ends with the place."""
    inserts, _ = placed((record("top"), 0, 22_000))
    assert [card.part for card in inserts[1].cards] == ["instead"]
    assert inserts[1].end_ms == 22_000


# --- meeting -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("one", "other"), [("NOTICE", "CAUTION"), ("CAUTION", "WARNING"), ("WARNING", "DANGER")]
)
def test_the_worse_signal_word_has_the_place(one: SignalWord, other: SignalWord) -> None:
    """The milder one follows directly."""
    inserts, _ = placed(
        (record("milder", one, "mains"), 60_000, 66_000),
        (record("worse", other, "blind-fit"), 61_000, 66_000),
    )
    assert starts(inserts) == {"worse": 60_000, "milder": 60_000 + LENGTH_MS}


def test_among_equal_words_the_greater_harm_has_the_place() -> None:
    """A live wire before dust, whichever was recorded first."""
    inserts, _ = placed(
        (record("dust", "WARNING", "dust"), 60_000, 66_000),
        (record("mains", "WARNING", "mains"), 60_000, 66_000),
    )
    assert starts(inserts)["mains"] < starts(inserts)["dust"]


def test_the_one_that_gives_way_moves_inside_its_place_if_it_can() -> None:
    """A place of 40 s has room behind the worse one, and before it."""
    inserts, _ = placed((record("long"), 60_000, 100_000), (record("worse", "DANGER"), 62_000, 64_000))
    assert starts(inserts)["worse"] == 61_000
    assert starts(inserts)["long"] == 61_000 + LENGTH_MS
    inserts, _ = placed((record("long"), 60_000, 120_000), (record("worse", "DANGER"), 75_000, 78_000))
    assert starts(inserts)["long"] == 60_000


@pytest.mark.parametrize(("followers", "placeless"), [(2, 0), (3, 1)])
def test_what_cannot_follow_soon_is_reported(followers: int, placeless: int) -> None:
    """The third in a row begins 17.3 s after a place of 2 s, the fourth 27.5 s: 20 s are the limit."""
    names = "abcd"[: followers + 1]
    inserts, problems = placed(*((record(name), 60_000, 62_000) for name in names))
    missing = [problem for problem in problems if problem.code == "insert-place"]
    assert len(missing) == placeless
    assert len(inserts) == len(names) - placeless
    for problem in missing:
        assert "recut EPISODE --hold 1:00 --for 11" in problem.message


def test_a_return_gives_way_to_every_first_showing() -> None:
    """A milder first showing stands where the worse one would have returned."""
    inserts, _ = placed((record("worse", "DANGER"), 0, 60_000), (record("milder"), 20_000, 23_000))
    assert starts(inserts) == {"worse": 0, "milder": 19_000}
    assert all(a.end_ms <= b.start_ms for a, b in pairwise(inserts))


def test_a_return_without_room_is_noted() -> None:
    """Where others stand to the end of the place, the maker is told."""
    _, problems = placed(
        (record("long", "NOTICE"), 0, 22_000), *((record(name, "DANGER"), 12_000, 13_000) for name in "ab")
    )
    assert any(p.code == "insert-place" and p.severity == "note" for p in problems)


wished = st.lists(
    st.builds(
        lambda start, length, signal, topic: (start * 100, (start + length) * 100, signal, topic),
        st.integers(0, 3000),
        st.integers(1, 600),
        st.sampled_from(SIGNAL_ORDER),
        st.sampled_from(HARM_ORDER),
    ),
    max_size=8,
)
rates = st.sampled_from([RATE, DROP, Fraction(24000, 1001), Fraction(60), None])


@settings(max_examples=60, deadline=None)
@given(wished, rates)
def test_no_two_inserts_ever_stand_at_once(
    wanted: list[tuple[int, int, SignalWord, Topic]], rate: Fraction | None
) -> None:
    """Whatever is wished: no overlap, whole frames, readable cards, starts within their reach, none lost."""
    wishes = [
        Wish(record(f"r{n}", signal, topic), Span(start, end))
        for n, (start, end, signal, topic) in enumerate(wanted)
    ]
    inserts, problems = place_inserts(wishes, USUAL, rate, HOUR)
    assert all(a.end_ms <= b.start_ms for a, b in pairwise(inserts))
    for insert in inserts:
        assert insert.span.start_ms - 1000 <= insert.start_ms <= insert.span.end_ms + 20_000 + 40
        for card in insert.cards:
            need = card_ms(CardText(card.lines, card.part), USUAL)
            assert card.end_ms - card.start_ms >= need - 1  # a frame's edge lies between two milliseconds
            for ms in (card.start_ms, card.end_ms):
                assert rate is None or frames_to_ms(ms_to_frames(ms, rate), rate) == ms
    lost = {p.message.split(":")[0] for p in problems if p.code == "insert-place" and p.severity != "note"}
    assert {i.of for i in inserts if not i.returns} | lost == {wish.record.id for wish in wishes}


# --- frames, ends, kinds -----------------------------------------------------------------------------


def test_cards_start_on_frames_at_drop_frame_rates() -> None:
    """10:00;00 at 30000/1001 is frame 17982 (SMPTE ST 12-1): 599.9994 s."""
    (insert,), _ = placed((record("top"), frames_to_ms(17982, DROP), 620_000), rate=DROP)
    frame = ms_to_frames(insert.start_ms, DROP)
    assert frame == parse_timecode("00:10:00;00", DROP)
    assert format_timecode(frame, DROP, drop=True) == "00:10:00;00"


@pytest.mark.parametrize(("room_ms", "hold_ms"), [(LENGTH_MS - 1000, 0), (LENGTH_MS - 1040, 40)])
def test_a_programme_that_ends_too_soon_asks_for_a_held_frame(room_ms: int, hold_ms: int) -> None:
    """With the second before the place it fits; 40 ms less and a frame has to be held."""
    (insert,), problems = placed((record("top"), 60_000, 60_000 + room_ms), duration_ms=60_000 + room_ms)
    assert insert.hold_ms == hold_ms
    assert [problem.code for problem in problems] == ["insert-hold"] * bool(hold_ms)
    assert insert.end_ms - insert.start_ms == LENGTH_MS


@pytest.mark.parametrize(("length_ms", "told"), [(2160, False), (2120, True)])
def test_standing_long_past_its_place_is_noted(length_ms: int, told: bool) -> None:
    """7 s past is borne, more is told with the held frame that would serve better."""
    _, problems = placed((record("top"), 60_000, 60_000 + length_ms))
    assert [(p.code, p.severity) for p in problems] == [("insert-hold", "note")] * told


@pytest.mark.parametrize("signal", SIGNAL_ORDER)
def test_notice_never_carries_the_alert_symbol(signal: SignalWord) -> None:
    """ANSI Z535.4: NOTICE is about damage, not injury; the three injury words carry it."""
    (insert,), _ = placed((record("top", signal), 60_000, 75_000))
    assert {card.alert_symbol for card in insert.cards} == {signal != "NOTICE"}


def test_a_disclosure_has_no_signal_word_and_gives_way_to_all() -> None:
    """It is no hazard message, whatever its record says."""
    given_glue = replace(record("glue", "DANGER"), kind="disclosure")
    inserts, _ = placed((given_glue, 60_000, 72_000), (record("top", "NOTICE"), 60_000, 72_000))
    assert starts(inserts)["top"] == 60_000
    glue = next(insert for insert in inserts if insert.of == "glue")
    assert glue.signal is None
    assert not glue.cards[0].alert_symbol


def test_places_of_one_record_that_meet_are_one_wish() -> None:
    """Touching spans join, spans apart do not; places of other episodes do not count."""
    places = [(0, 5000), (5000, 9000), (4000, 6000), (9001, 10_000)]
    of = replace(
        record("top"),
        places=(
            *(Place("oak", 1, Span(start, end)) for start, end in places),
            Place("elm", 1, Span(20_000, 30_000)),
        ),
    )
    wishes = wishes_of([of], "oak", lambda place: (place.span,))
    assert [wish.span for wish in wishes] == [Span(0, 9000), Span(9001, 10_000)]


def test_a_place_that_is_gone_wishes_nothing() -> None:
    """What the map gives nothing for has no insert."""
    of = replace(record("top"), places=(Place("oak", 1, Span(0, 5000)),))
    assert wishes_of([of], "oak", lambda _: ()) == []
