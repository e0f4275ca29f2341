"""Versions: planned from what is typed, kept in plain TOML, and mapped onto each other."""

from __future__ import annotations

import json
import re
import tomllib
from datetime import date
from fractions import Fraction
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.corrections.refusals import SpanOutside
from reelnotes.corrections.retime import Kind, Stretch, TimeMap, compose
from reelnotes.corrections.versions import (
    AllRemoved,
    HoldEmpty,
    HoldOutside,
    HoldUnclear,
    NothingToRecut,
    VersionUnreadable,
    held_frames,
    map_between,
    map_of,
    pieces_of,
    places_in,
    plan_version,
    read_version,
    version_text,
)
from reelnotes.model import HeldFrame, Place, TakenSpan, Version
from reelnotes.problems import BadTime
from reelnotes.store import SourceText
from reelnotes.timing import Span, parse_span

MINUTE = 60_000
TEN = 10 * MINUTE
SCHEMA = Path(__file__).resolve().parents[2] / "docs" / "schemas" / "version-1.json"
modest = settings(max_examples=80, deadline=None)

KINDS: tuple[Kind, ...] = ("taken", "cut", "held")
maps = st.lists(st.builds(Stretch, st.sampled_from(KINDS), st.integers(1, 500_000)), max_size=7).map(
    lambda many: TimeMap((*many, Stretch("taken", 1000)))
)


def version(number: int, of: int, to: TimeMap) -> Version:
    """Make a version of a map."""
    return Version(number, of, to.length_before, pieces_of(to), date(2026, 3, 28))


# --- planning ------------------------------------------------------------------------------------------


def test_a_plan_lies_on_frames() -> None:
    """At 25 frames a second cuts lie on 40 ms, a held frame lasts whole frames; without a rate, as typed."""
    removed, held = [Span(10_011, 20_029)], [HeldFrame(30_030, 1_030)]
    assert plan_version(TEN, removed, held, Fraction(25)).stretches == (
        Stretch("taken", 10_000), Stretch("cut", 10_040), Stretch("taken", 10_000), Stretch("held", 1_040),
        Stretch("taken", TEN - 30_040),
    )  # fmt: skip
    assert plan_version(TEN, removed, held, None).stretches[1] == Stretch("cut", 10_018)


@pytest.mark.parametrize(
    ("removed", "held", "refusal", "words"),
    [
        ("9:50-10:01", [], SpanOutside, "9:50-10:01 lies outside the programme, which ends at 10:00"),
        ("11:00-12:00", [], SpanOutside, "lies outside the programme"),
        ("0:00-10:00", [], AllRemoved, "take out all of the programme"),
        ("0:00-5:00 5:00-10:00", [], AllRemoved, "nothing was done"),
        ("", [HeldFrame(TEN + 1, 1000)], HoldOutside, "--hold 10:00.001 lies outside"),
        ("", [], NothingToRecut, "say what to take out with --remove"),
        ("1:00-1:00.001", [], NothingToRecut, "say what to take out"),
    ],
)
def test_what_cannot_be_is_refused(
    removed: str, held: list[HeldFrame], refusal: type[Exception], words: str
) -> None:
    """Each in one sentence; the last case is shorter than half a frame."""
    with pytest.raises(refusal, match=words):
        plan_version(TEN, [parse_span(text) for text in removed.split()], held, Fraction(25))


@pytest.mark.parametrize(
    ("removed", "held"),
    [
        ("9:50-10:00", []),
        ("0:00-9:59.960", []),
        ("", [HeldFrame(TEN, 1000)]),
        ("1:00-1:00.040", []),
    ],
)
def test_what_is_just_inside_is_planned(removed: str, held: list[HeldFrame]) -> None:
    """Up to the end, all but a frame, a frame held at the very end, a single frame."""
    to = plan_version(TEN, [parse_span(text) for text in removed.split()], held, Fraction(25))
    assert to.length_of("taken")


def test_an_end_before_the_start_is_no_span() -> None:
    """The command line reads spans so that this is told before anything is done."""
    with pytest.raises(BadTime, match="the end after the start"):
        parse_span("9:41-9:12")


@pytest.mark.parametrize(
    ("times", "lengths", "refusal", "words"),
    [
        (["9:12"], [], HoldUnclear, "--hold was given 1 times and --for 0 times"),
        ([], ["4"], HoldUnclear, "--for 1 times"),
        (["9:12"], ["0"], HoldEmpty, "--hold 9:12 --for 0 holds nothing"),
        (["9:12"], ["four"], BadTime, "'four' is not a time"),
    ],
)
def test_holds_that_are_unclear(
    times: list[str], lengths: list[str], refusal: type[Exception], words: str
) -> None:
    """A hold without a length, a length without a hold, no length, no time."""
    with pytest.raises(refusal, match=words):
        held_frames(times, lengths)


def test_holds_are_read_in_pairs() -> None:
    """The first length belongs to the first time."""
    assert held_frames(["9:12", "0:30.5"], ["4", "0:01.5"]) == [
        HeldFrame(552_000, 4_000),
        HeldFrame(30_500, 1_500),
    ]


# --- the file ------------------------------------------------------------------------------------------


@modest
@given(maps, st.integers(1, 3), st.none() | st.dates(date(2000, 1, 1)))
def test_a_version_reads_back(to: TimeMap, of: int, made: date | None) -> None:
    """Written and read, a version is the same, its map too, and the file keeps to the published schema."""
    one = Version(4, of, to.length_before, pieces_of(to), made)
    text = version_text(one)
    assert read_version(SourceText("version.toml", text), 4) == (one, [])
    assert map_of(one) == to
    table = tomllib.loads(text)
    if made:
        table["made"] = table["made"].isoformat()
    jsonschema.validate(table, json.loads(SCHEMA.read_text(encoding="utf-8")))


GOOD = 'of = 1\nof_length = "10:00"\n\n[[piece]]\ntaken = "0:00-5:00"\n'


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("of = [", "is not TOML"),
        (GOOD.replace("of = 1", "of = 2"), "of = 2 must name an earlier version"),
        (GOOD.replace("of = 1", 'of = "1"'), "must name an earlier version"),
        (GOOD.replace('"10:00"', '"ten"'), "of_length = 'ten' is no time"),
        (GOOD.replace('of_length = "10:00"\n', ""), "of_length = None is no time"),
        ('of_length = "10:00"\n', "holds no \\[\\[piece\\]\\]"),
        (GOOD.replace("0:00-5:00", "5:00-0:00"), "the end after the start"),
        (GOOD.replace("0:00-5:00", "0:00-10:00.001"), "ends behind of_length"),
        (GOOD + '[[piece]]\ntaken = "4:59-6:00"\n', "begins before the one above it has ended"),
        (GOOD + '[[piece]]\nheld = "6:00"\n', 'a \\[\\[piece\\]\\] is taken = "0:00-9:12"'),
        (GOOD.replace('taken = "0:00-5:00"', 'held = "5:00"\nfor = 4'), "it takes nothing"),
    ],
)
def test_a_damaged_version_is_told(text: str, words: str) -> None:
    """One that cannot be relied on is none, with one sentence that says why."""
    found, problems = read_version(SourceText("version.toml", text), 2)
    assert found is None
    assert [(p.code, p.severity) for p in problems] == [("version", "error")]
    assert re.search(words, problems[0].message)


def test_the_example_in_the_docs_is_read() -> None:
    """What docs/versions.md shows is a version without a problem."""
    page = SCHEMA.parents[1] / "versions.md"
    shown = re.search(r"```toml version.toml\n(.*?)```", page.read_text(encoding="utf-8"), re.DOTALL)
    assert shown
    found, problems = read_version(SourceText("version.toml", shown[1]), 2)
    assert problems == []
    assert found is not None
    assert map_of(found).length_after == found.of_length_ms - 29_000 + 4_000


def test_a_version_written_by_hand() -> None:
    """Numbers of seconds, a missing `of`, pieces that touch; an unknown name is told and does no harm."""
    text = 'of_length = 600\nnote = "x"\n[[piece]]\ntaken = "0:00-5:00"\n[[piece]]\nheld = "5:00"\nfor = 4\n'
    text += '[[piece]]\ntaken = "5:00-10:00"\n'
    found, problems = read_version(SourceText("version.toml", text), 2)
    assert found == Version(
        2, 1, TEN, (TakenSpan(Span(0, 300_000)), HeldFrame(300_000, 4_000), TakenSpan(Span(300_000, TEN)))
    )
    assert [(p.code, p.severity) for p in problems] == [("version", "warning")]


# --- between versions ----------------------------------------------------------------------------------

SECOND = plan_version(TEN, [parse_span("2:00-3:00")], [], None)
THIRD = plan_version(9 * MINUTE, [parse_span("4:00-5:00")], [], None)
SIBLING = plan_version(TEN, [parse_span("0:00-1:00")], [], None)
VERSIONS = {2: version(2, 1, SECOND), 3: version(3, 2, THIRD), 4: version(4, 1, SIBLING)}


def test_maps_between_versions() -> None:
    """Down the line, up it, and across through the version that both come from."""
    assert map_between(VERSIONS, 1, 3) == compose(SECOND, THIRD)
    assert map_between(VERSIONS, 2, 3) == THIRD
    assert map_between(VERSIONS, 3, 1) == compose(SECOND, THIRD).inverse()
    across = map_between(VERSIONS, 3, 4)
    assert [across.point(at * MINUTE) for at in (1, 2, 4, 7)] == [0, 2 * MINUTE, 5 * MINUTE, 8 * MINUTE]
    assert map_between(VERSIONS, 3, 3) == TimeMap(())


@modest
@given(maps, maps, st.integers(0, 10**6))
def test_any_line_of_versions_composes(first: TimeMap, second: TimeMap, at: int) -> None:
    """Whatever versions are made of each other, going down and up again is where one was, if it is there."""
    versions = {2: version(2, 1, first), 3: version(3, 2, second)}
    place = map_between(versions, 1, 3).point(at)
    if isinstance(place, int) and at < first.length_before:
        assert map_between(versions, 3, 1).point(place) == at


def test_where_places_stand_now() -> None:
    """A place moves, or is nowhere; one of a version that is not known stands where it stood."""
    where = places_in(VERSIONS, 3)
    assert where(Place("stool", 1, parse_span("3:30-3:40"))) == (parse_span("2:30-2:40"),)
    assert where(Place("stool", 1, parse_span("5:00-6:00"))) == ()
    assert where(Place("stool", 2, parse_span("5:00-5:10"))) == (parse_span("4:00-4:10"),)
    assert where(Place("stool", 9, parse_span("5:00-5:10"))) == (parse_span("5:00-5:10"),)


def test_a_missing_version_in_the_line_is_refused() -> None:
    """Without the version in between there is no way from one to the other."""
    with pytest.raises(VersionUnreadable, match="version 2 cannot be used"):
        map_between({3: VERSIONS[3]}, 1, 3)
