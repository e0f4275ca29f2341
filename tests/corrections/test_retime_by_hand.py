"""A worked example: retiming by the map is retiming by hand.

Ten minutes of programme. 2:00 to 2:30 is taken out, and the frame at 5:00 is held for 4 s. By hand: up to
2:00 nothing moves; 2:30 to 5:00 comes 30 s earlier; from 5:00 on everything comes 26 s earlier; 9:34 in all.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from reelnotes.corrections.retime import Gone, cut_and_hold
from reelnotes.corrections.retiming import retimed, retimed_all
from reelnotes.model import (
    Card,
    Chapter,
    Cue,
    CutEvent,
    Flag,
    HeldFrame,
    Insert,
    Kept,
    KeptChapter,
    Material,
    Pin,
    Place,
    Promise,
    SpokenOnly,
    Step,
    StepSpan,
)
from reelnotes.timing import Span, parse_span, parse_time

MAP = cut_and_hold(parse_time("10:00"), [parse_span("2:00-2:30")], [HeldFrame(parse_time("5:00"), 4_000)])


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ("0:00", "0:00"),
        ("1:59.999", "1:59.999"),
        ("2:30", "2:00"),
        ("4:59.999", "4:29.999"),
        ("5:00", "4:34"),
        ("9:00", "8:34"),
        ("10:00", "9:34"),
    ],
)
def test_points_by_hand(was: str, now: str) -> None:
    """Times come where the hand calculation puts them."""
    assert MAP.point(parse_time(was)) == parse_time(now)


def test_what_went_by_hand() -> None:
    """All of 2:00 to 2:30 is gone at 2:00."""
    assert MAP.point(parse_time("2:00")) == MAP.point(parse_time("2:29.999")) == Gone(120_000)
    assert (MAP.length_before, MAP.length_after) == (600_000, 574_000)


def span(text: str) -> Span:
    """Read a span as it is typed."""
    return parse_span(text)


def cue(times: str, text: str = "said") -> Cue:
    """Make a cue from a typed span."""
    return Cue(span(times).start_ms, span(times).end_ms, text, 1)


def test_cues_by_hand() -> None:
    """A cue beside the cut moves, one inside goes, ones that straddle it are shortened, a hold is bridged."""
    cues = (
        cue("1:50-1:55"),
        cue("1:58-2:02", "aaaa bbbb cccc dddd"),
        cue("2:10-2:14"),
        cue("2:28-2:32", "aaaa bbbb cccc dddd"),
        cue("4:58-5:02"),
        cue("5:00-5:03"),
    )
    assert retimed_all(cues, MAP) == (
        cue("1:50-1:55"),
        cue("1:58-2:00", "aaaa bbbb …"),
        cue("2:00-2:02", "… cccc dddd"),
        cue("4:28-4:36"),
        cue("4:34-4:37"),
    )


def test_a_cue_with_a_cut_inside_by_hand() -> None:
    """What went out of the middle leaves both ends, with an ellipsis between.

    Letters and spaces: 4+4+6+5+5 in 50 s; the middles of the words lie at 4, 12, 23, 34 and 45 s, and 10 to
    40 s went.
    """
    assert retimed(cue("1:50-2:40", "one two three four five"), MAP) == (cue("1:50-2:10", "one … five"),)


def test_a_sliver_of_a_cue_goes() -> None:
    """Where no word's middle is left, no caption flashes up."""
    assert retimed(cue("1:59.900-2:04", "only these words"), MAP) == ()


def test_steps_by_hand() -> None:
    """A step keeps the spans that are left; one whose spans were all cut is not told any more."""
    step = Step("a", 0, "text", 0.9, tuple(StepSpan(*at, 0.8, "words") for at in [(118_000, 160_000)]))
    assert retimed(step, MAP)[0].spans == (StepSpan(118_000, 130_000, 0.8, "words"),)
    cut = Step("b", 1, "text", 0.9, (StepSpan(125_000, 140_000, 0.8, "words"),))
    assert (retimed(cut, MAP)[0].spans, retimed(cut, MAP)[0].told) == ((), 0.0)
    absent = Step("c", 2, "text", 0.3)
    assert retimed(absent, MAP) == (absent,)


def test_materials_and_promises_by_hand() -> None:
    """A material stays without the time at which it was named; what was only spoken goes with the words."""
    oil = Material("Oil", Decimal(50), "ml", said_at_ms=parse_time("2:15"))
    assert retimed(oil, MAP)[0] == Material("Oil", Decimal(50), "ml", said_at_ms=None)
    wax = Material("Wax", said_at_ms=parse_time("9:00"))
    assert retimed(wax, MAP)[0].said_at_ms == parse_time("8:34")
    assert retimed(SpokenOnly("Glue", parse_time("2:15")), MAP) == ()
    assert retimed(Promise(parse_time("2:15"), "later", "later"), MAP) == ()
    kept = Promise(parse_time("1:00"), "later", "later", parse_time("2:15"))
    assert retimed(kept, MAP) == (Promise(60_000, "later", "later", None),)


def flag(start: str | None, end: str | None, places: tuple[Span, ...] = (), **more: object) -> Flag:
    """Make a flag at typed times."""
    at, to = start and parse_time(start), end and parse_time(end)
    evidence = more.get("evidence", ())
    assert isinstance(evidence, tuple)
    return Flag(
        "f",
        "dust",
        "WARNING",
        at or None,
        to or None,
        3,
        "quote",
        "why",
        "caution",
        None,
        evidence,
        "firm",
        places,
    )


def test_flags_by_hand() -> None:
    """A flag stays as long as a place does; its evidence tells the new times."""
    assert retimed(flag("2:05", "2:25"), MAP) == ()
    assert retimed(flag(None, None), MAP) == (flag(None, None),)
    moved = retimed(flag("2:05", "2:25", (span("3:00-3:05"), span("6:00-6:10"))), MAP)
    assert moved == (flag("2:30", "2:35", (span("5:34-5:44"),)),)
    told = flag("3:00", "3:10", evidence=("log entry 4: “dry”", "3:04: “dust”", "2:10: “sanded”"))
    assert retimed(told, MAP)[0].evidence == ("log entry 4: “dry”", "2:34: “dust”")


def test_decisions_by_hand() -> None:
    """Pins and chapters set by hand move; a pin that was cut says off camera; one joint, one chapter."""
    kept = Kept(
        pins=(Pin("a", (span("2:40-3:00"), span("2:01-2:09"))), Pin("b", (span("2:01-2:09"),)), Pin("c")),
        chapters=(
            KeptChapter(parse_time("9:00"), "Last"),
            KeptChapter(parse_time("2:05"), "First in the cut"),
            KeptChapter(parse_time("2:20"), "Second in the cut"),
            KeptChapter(parse_time("2:25"), gone=True),
            KeptChapter(parse_time("1:00"), gone=True),
        ),
    )
    assert retimed(kept, MAP)[0] == Kept(
        pins=(Pin("a", (span("2:10-2:30"),)), Pin("b"), Pin("c")),
        chapters=(
            KeptChapter(60_000, gone=True),
            KeptChapter(120_000, "Second in the cut"),
            KeptChapter(parse_time("8:34"), "Last"),
        ),
    )


def test_a_chapter_opens_with_the_frame_held_at_its_start() -> None:
    """The held frame is the first one of what follows, so the chapter opens with it."""
    assert retimed(Chapter(parse_time("5:00"), "On"), MAP) == (Chapter(parse_time("4:30"), "On"),)


def test_corrections_by_hand() -> None:
    """A place that is left moves, one that was cut is nowhere."""
    assert retimed(Place("stool", 1, span("1:50-2:10")), MAP) == (Place("stool", 1, span("1:50-2:00")),)
    assert retimed(Place("stool", 1, span("2:00-2:30")), MAP) == ()


def test_inserts_by_hand() -> None:
    """An insert moves card by card, and goes with the place that it speaks of."""
    cards = (
        Card(("Wrong",), "NOTICE", parse_time("1:56"), parse_time("2:01"), "x"),
        Card(("Right",), "NOTICE", parse_time("2:01"), parse_time("2:06"), "x", "instead"),
    )
    insert = Insert("x", "correction", "NOTICE", span("1:57-2:20"), cards)
    (left,) = retimed(insert, MAP)
    assert (left.span, [(c.start_ms, c.end_ms) for c in left.cards]) == (
        span("1:57-2:00"),
        [(116_000, 120_000)],
    )
    assert retimed(Insert("x", "correction", "NOTICE", span("2:02-2:20"), cards), MAP) == ()


@pytest.mark.parametrize(
    ("speed", "source", "sources"),
    [
        # record 1:50 to 2:40; left are its first 10 s and its last 10 s
        (Fraction(1), Span(5_000, 55_000), [Span(5_000, 15_000), Span(45_000, 55_000)]),
        (Fraction(2), Span(0, 100_000), [Span(0, 20_000), Span(80_000, 100_000)]),
        (Fraction(1, 2), Span(0, 25_000), [Span(0, 5_000), Span(20_000, 25_000)]),
        (Fraction(-1), Span(5_000, 55_000), [Span(45_000, 55_000), Span(5_000, 15_000)]),
        (Fraction(0), Span(7_000, 7_000), [Span(7_000, 7_000)] * 2),
    ],
)
def test_events_by_hand(speed: Fraction, source: Span, sources: list[Span]) -> None:
    """An event is split at the cut; each part shows its part of the clip, at any speed."""
    event = CutEvent("001", "A.MP4", span("1:50-2:40"), source, "video", speed)
    parts = retimed(event, MAP)
    assert [part.record for part in parts] == [span("1:50-2:00"), span("2:00-2:10")]
    assert [part.source for part in parts] == sources
