"""Disclosure of what was given: the cases of the FTC's guides (16 CFR 255; Disclosures 101, 2019)."""

from __future__ import annotations

import pytest

from reelnotes.draft.disclosures import Disclosure, find_disclosures
from reelnotes.model import Cue, ShelfItem
from reelnotes.timing import Span
from reelnotes.words.lexicon import load_lexicon

SHELF = (
    ShelfItem("Otter hide glue", kind="glue", given="sent by the maker"),
    ShelfItem("Fenland hemp oil", kind="oil"),
    ShelfItem("Bluebell wax", kind="wax", given="paid partnership"),
)


def owed(*lines: str, shelf: tuple[ShelfItem, ...] = SHELF) -> tuple[Disclosure, ...]:
    cues = tuple(Cue(10_000 * i, 10_000 * i + 9_900, line, i + 1) for i, line in enumerate(lines))
    return find_disclosures(cues, shelf, load_lexicon())


def test_named_and_praised() -> None:
    """A given glue that is named and praised owes a disclosure at its first mention, in sound and picture."""
    (one,) = owed("hello", "this hide glue is lovely, I love it", "and clamps")
    assert (one.product, one.given, one.praised) == ("Otter hide glue", "sent by the maker", True)
    assert one.span == Span(10_000, 19_900)
    assert one.missing == ("sound", "picture")
    assert one.source.startswith("16 CFR 255.5")


def test_said_in_time() -> None:
    """Said with or before the first mention, only the picture is still owed."""
    (one,) = owed("I was sent this hide glue to try", "it goes on warm")
    assert (one.said_at_ms, one.missing) == (0, ("picture",))


@pytest.mark.parametrize("gap", [1, 12])
def test_said_late(gap: int) -> None:
    """Said only at the end, it is easily missed and still owed; said at the next cue it is in time."""
    lines = [
        "hide glue in the joint",
        *["and so on"] * (gap - 1),
        "the hide glue was sent to us for free, they gave us it",
    ]
    (one,) = owed(*lines)
    assert one.missing == (("picture",) if gap == 1 else ("sound", "picture"))


def test_bought() -> None:
    """A product bought at full price owes nothing."""
    assert owed("hemp oil is the best oil there is") == ()


def test_never_named() -> None:
    """A given product that is never named owes nothing."""
    assert owed("just talk") == ()
    assert owed() == ()
    assert owed("hide glue", shelf=()) == ()


def test_each_product_once() -> None:
    """Each given product is listed once, with all its mentions, in order of the first."""
    both = owed("bluebell wax", "hide glue", "the hide glue again", "bluebell wax on top")
    assert [(d.product, d.mentions_ms) for d in both] == [
        ("Bluebell wax", (0, 30_000)),
        ("Otter hide glue", (10_000, 20_000)),
    ]


@pytest.mark.parametrize(
    "line",
    [
        "the company supplied the hide glue for this video",
        "this hide glue was a gift from the maker",
        "they let me have this hide glue for nothing",
        "full disclosure, the hide glue was provided by the makers",
        "I didn't buy this hide glue",
        "I get a discount on this hide glue",
        "the maker posted me a jar of this hide glue",
        "this is an advert, and this is hide glue",
    ],
)
def test_ways_to_say_so(line: str) -> None:
    """However it is said that a thing was given or paid for, it is said."""
    (one,) = owed(line)
    assert one.said_at_ms == 0


@pytest.mark.parametrize(
    "line",
    [
        "hide glue was given ten minutes to soak",
        "the hide glue gave me trouble",
        "working with hide glue is slow",
        "my mate paid me for the chair, hide glue held",
        "an ad in the paper is where I found this chest, hide glue next",
        "the joint was given a squeeze of hide glue",
        "nobody paid me, it is just good hide glue",
        "this is not sponsored, I like hide glue",
    ],
)
def test_what_discloses_nothing(line: str) -> None:
    """Giving glue ten minutes is no disclosure, and neither is saying that nobody paid."""
    (one,) = owed(line)
    assert one.said_at_ms is None
