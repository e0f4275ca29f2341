"""Which corrections a roundup goes through, in what order, and how long each takes."""

from __future__ import annotations

from datetime import date
from itertools import pairwise, permutations
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.corrections.refusals import NotInRoundup, UnknownRecord
from reelnotes.corrections.roundup import (
    BREATH_MS,
    Choice,
    Footage,
    Said,
    chosen_records,
    clip_of,
    misplaced,
    pace_of,
    running_order,
    told,
    with_clock,
)
from reelnotes.model import Correction, Place, Reach, SignalWord, Topic
from reelnotes.timing import Span

LEDGER = Path("corrections")
RANK: dict[SignalWord, int] = {"DANGER": 0, "WARNING": 1, "CAUTION": 2, "NOTICE": 3}


def correction(  # noqa: PLR0917 - what a test may want to say of one
    name: str,
    signal: SignalWord = "NOTICE",
    topic: Topic | None = None,
    episodes: int = 1,
    seen_ms: int = 5000,
    recorded: date | None = None,
    reach: tuple[Reach, ...] = (),
) -> Correction:
    """Make a correction that so many episodes show."""
    places = tuple(Place(f"episode-{n}", 1, Span(1000, 1000 + seen_ms)) for n in range(episodes))
    return Correction(
        name, f"shown {name}", "wrong", "instead", signal, topic, places, reach=reach, recorded=recorded
    )


# --- the order -----------------------------------------------------------------------------------------


def test_safety_comes_first() -> None:
    """What can kill stands before what can hurt, and that before what can ruin a piece."""
    records = [
        correction("a", "NOTICE", episodes=9),
        correction("b", "CAUTION"),
        correction("c", "DANGER"),
        correction("d", "WARNING"),
    ]
    assert [one.id for one in running_order(records)] == ["c", "d", "b", "a"]


def test_the_larger_lesson_comes_first_among_equals() -> None:
    """More episodes that show it, then the worse harm, then longer in the picture."""
    records = [
        correction("short", topic="blind-fit"),
        correction("long", topic="blind-fit", seen_ms=9000),
        correction("worse", topic="finish-stack"),
        correction("often", topic="blind-fit", episodes=3),
    ]
    assert [one.id for one in running_order(records)] == ["often", "worse", "long", "short"]


def test_a_notice_keeps_two_of_one_topic_apart() -> None:
    """Never two alike in a row, where another one can stand between."""
    records = [
        correction("a", "WARNING", "dust", episodes=3),
        correction("b", "WARNING", "dust"),
        correction("c", "NOTICE", "blind-fit"),
    ]
    assert [one.id for one in running_order(records)] == ["a", "c", "b"]


TOPICS: list[Topic | None] = ["dust", "mains", "fumes", None]
records_of = st.lists(
    st.builds(
        lambda signal, topic, episodes: (signal, topic, episodes),
        st.sampled_from(sorted(RANK)),
        st.sampled_from(TOPICS),
        st.integers(1, 3),
    ),
    max_size=6,
).map(lambda rows: [correction(f"r{n}", s, t, e) for n, (s, t, e) in enumerate(rows)])


def meetings(order: list[Correction]) -> int:
    """Count how often two of one topic stand in a row."""
    return sum(a.topic is not None and a.topic == b.topic for a, b in pairwise(order))


@given(records_of)
@settings(max_examples=150, deadline=None)
def test_alike_meet_only_where_no_order_could_help_it(records: list[Correction]) -> None:
    """Against all orders there are: none has fewer of one topic in a row, and nothing is lost or doubled."""
    order = running_order(records)
    assert sorted(one.id for one in order) == sorted(one.id for one in records)
    assert meetings(order) == min(meetings(list(other)) for other in permutations(records))


@given(records_of, st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_the_makers_order_goes_before_everything(records: list[Correction], chance: object) -> None:
    """What is named stands first and as it was named, alike or not; names that are none do not count."""
    names = [one.id for one in records]
    chance.shuffle(names)  # type: ignore[attr-defined]
    named = names[: len(names) // 2 + 1]
    order = [one.id for one in running_order(records, ["no-such", *(name.upper() for name in named)])]
    assert order[: len(named)] == named
    assert sorted(order) == sorted(names)


@given(records_of, st.randoms(use_true_random=False))
@settings(max_examples=30, deadline=None)
def test_the_order_does_not_hang_on_the_ledgers(records: list[Correction], chance: object) -> None:
    """The same corrections come in the same order, however the ledger lists them."""
    shuffled = list(records)
    chance.shuffle(shuffled)  # type: ignore[attr-defined]
    assert running_order(shuffled) == running_order(records)


# --- the choice ----------------------------------------------------------------------------------------

SPRING, SUMMER = date(2026, 4, 1), date(2026, 7, 1)
OLD = correction("old", "NOTICE", "dust", recorded=SPRING)
NEW = correction("new", "WARNING", "mains", recorded=SUMMER)
DONE = correction("done", recorded=SPRING, reach=(Reach("roundup", "episode-0", SUMMER),))
CAUTION = Correction("care", "s", "w", "i", "WARNING", kind="caution")
ALL = (OLD, NEW, DONE, CAUTION)


@pytest.mark.parametrize(
    ("choice", "ids"),
    [
        (Choice(), ["old", "new"]),
        (Choice(again=True), ["old", "new", "done"]),
        (Choice(since=SUMMER), ["new"]),
        (Choice(until=date(2026, 6, 30)), ["old"]),
        (Choice(since=SPRING, until=SPRING), ["old"]),
        (Choice(topics=("dust",)), ["old"]),
        (Choice(signals=("WARNING", "DANGER")), ["new"]),
        (Choice(only=("DONE",)), ["done"]),
        (Choice(leave_out=("old",)), ["new"]),
        (Choice(only=("old", "new"), leave_out=("old",)), ["new"]),
    ],
)
def test_what_is_asked_for_is_chosen(choice: Choice, ids: list[str]) -> None:
    """Days, topics, signal words and names narrow the choice; what was in a roundup is taken when asked."""
    assert [one.id for one in chosen_records(ALL, choice, LEDGER)] == ids


@pytest.mark.parametrize(
    "choice", [Choice(only=("odl",)), Choice(leave_out=("odl",)), Choice(only=("old", "no-such"))]
)
def test_a_name_that_is_none_is_refused(choice: Choice) -> None:
    """A name that no record has is one sentence, with the one that may be meant."""
    with pytest.raises(UnknownRecord, match="no record"):
        chosen_records(ALL, choice, LEDGER)


def test_what_is_no_retraction_is_refused_by_name() -> None:
    """A caution asked for by name is refused as one, a lesson as what speaks of no place."""
    lesson = Correction("lesson", "s", "w", "i", "NOTICE")
    records = [*ALL, lesson]
    assert lesson not in chosen_records(records, Choice(again=True), LEDGER)
    with pytest.raises(NotInRoundup, match="care: is a caution"):
        chosen_records(records, Choice(only=("care",)), LEDGER)
    with pytest.raises(NotInRoundup, match="lesson: speaks of no place"):
        chosen_records(records, Choice(only=("lesson",)), LEDGER)
    assert chosen_records(records, Choice(leave_out=("care", "lesson")), LEDGER)


def test_records_whose_names_differ_in_case_are_two() -> None:
    """Neither of `rags` and `RAGS` hides the other."""
    records = [correction("rags"), correction("RAGS")]
    assert chosen_records(records, Choice(), LEDGER) == records


# --- clips, pace and clock -----------------------------------------------------------------------------

FOOTAGE = {"episode-0": Footage("The oak", 60_000), "episode-1": Footage("The elm", 60_000)}


def test_the_clip_is_the_first_place_still_seen() -> None:
    """A place that was taken out is passed over; the handles stay inside the programme."""
    record = correction("a", episodes=2)
    clip, also = clip_of(
        record,
        lambda p: () if p.episode == "episode-0" else (Span(500, 59_800),),
        FOOTAGE,
        {"episode-1": 3},
        1000,
    )
    assert clip is not None
    assert (clip.episode, clip.version, clip.span) == ("episode-1", 3, Span(500, 59_800))
    assert clip.handles == Span(0, 60_000)
    assert also == ()


def test_other_places_are_named() -> None:
    """Where it is seen elsewhere too, the other places come along."""
    clip, also = clip_of(correction("a", episodes=2), lambda p: (p.span,), FOOTAGE, {}, 0)
    assert clip is not None
    assert also == (("episode-1", Span(1000, 6000)),)


def test_what_is_seen_nowhere_has_no_clip() -> None:
    """A correction of what was taken out of every picture is told without one."""
    assert clip_of(correction("a"), lambda _: (), FOOTAGE, {}, 0) == (None, ())


def test_talk_takes_its_words_at_the_pace_and_a_breath_a_paragraph() -> None:
    """150 words at 150 words a minute are a minute, and each paragraph a breath."""
    said = [Said("happened", "word " * 100), Said("wrong", "word " * 50)]
    assert told(said, 150) == 60_000 + 2 * BREATH_MS


@pytest.mark.parametrize(
    ("minutes", "words", "pace"), [(10, 1500, 150), (1, 200, 160), (10, 50, 60), (10, 9000, 240), (0, 0, 160)]
)
def test_the_pace_is_the_makers_own_where_there_is_speech_enough(minutes: int, words: int, pace: int) -> None:
    """Two minutes of speech tell a pace, held to what can be spoken; else it is the usual one."""
    assert pace_of([(0, minutes * 60_000, "word " * words)], 160) == pace


@given(records_of)
@settings(max_examples=30, deadline=None)
def test_the_running_clock_is_the_sum(records: list[Correction]) -> None:
    """Each begins where the one before it ends, and the end is the sum of clips and talk."""
    laid = [
        (one, *clip_of(one, lambda p: (p.span,), FOOTAGE, {}, 0), (Said("wrong", "a b c"),))
        for one in records
    ]
    items = with_clock(laid, 150)
    for one, following in pairwise(items):
        assert following.starts_ms == one.ends_ms
    if items:
        assert items[0].starts_ms == 0
        assert items[-1].ends_ms == sum(item.clip_ms + item.talk_ms for item in items)


ONE_MINUTE = {"episode-0": Footage("t", 60_000)}


def at(version: int, start_ms: int) -> Correction:
    """Make a correction of two seconds of one episode."""
    place = Place("episode-0", version, Span(start_ms, start_ms + 2000))
    return Correction("a", "s", "w", "i", "NOTICE", None, (place,))


@pytest.mark.parametrize(("start_ms", "clips"), [(59_999, 1), (60_000, 0)])
def test_what_lies_behind_the_end_is_no_clip(start_ms: int, clips: int) -> None:
    """A place that begins where the programme has ended is left out and said, one just before is shown."""
    record = at(1, start_ms)
    clip, _ = clip_of(record, lambda place: [place.span], ONE_MINUTE, {}, 1000)
    assert (clip is not None) == bool(clips)
    told = misplaced(record, lambda place: [place.span], ONE_MINUTE, {})
    assert [("1:00) and was left out" in one.message) for one in told] == [True] * (1 - clips)


def test_an_episode_of_unknown_length_has_no_end() -> None:
    """Where nothing tells how long the programme is, every place is in it."""
    clip, _ = clip_of(at(1, 90_000), lambda place: [place.span], {"episode-0": Footage("t", 0)}, {}, 1000)
    assert clip is not None


@pytest.mark.parametrize(("version", "count"), [(2, 0), (3, 1)])
def test_a_version_that_is_none_is_told(version: int, count: int) -> None:
    """A record that names a version beyond the newest has a slip; the newest itself has none."""
    told = misplaced(at(version, 1000), lambda place: [place.span], ONE_MINUTE, {"episode-0": 2})
    assert len(told) == count
