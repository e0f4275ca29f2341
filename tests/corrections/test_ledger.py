"""Records of the ledger: read, written, added to."""

from __future__ import annotations

import string
import tomllib
from datetime import date
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.corrections.ledger import read_record
from reelnotes.corrections.recording import (
    disclosure_record,
    gone_members,
    is_id,
    made_id,
    reach_members,
    record_text,
    with_tables,
)
from reelnotes.model import SIGNAL_ORDER, Correction, Place, Reach, ReachPlace, RecordKind, Topic
from reelnotes.problems import Problem
from reelnotes.store import SourceText
from reelnotes.timing import Span

WORDS = """\
signal = "NOTICE"
shown = "the top glued into its frame all round"
wrong = "the frame will split"
instead = "screw it on through slots"
"""


def read(text: str) -> tuple[Correction | None, list[Problem]]:
    return read_record(SourceText("corrections/top.toml", text), "top")


def read_well(text: str) -> Correction:
    record, problems = read(text)
    assert problems == []
    assert record is not None
    return record


# --- print, parse, print -----------------------------------------------------------------------------

plain_text = st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=60).map(
    lambda text: " ".join(text.split())
)
words = plain_text.filter(bool)
days = st.dates(date(1900, 1, 1), date(2100, 1, 1))
slugs = st.text(string.ascii_lowercase + "-", min_size=1, max_size=12)


@st.composite
def places(draw: st.DrawFn) -> Place:
    start = draw(st.integers(0, 20_000_000))
    span = Span(start, start + draw(st.integers(1, 5_000_000)))
    gone = draw(st.lists(st.integers(2, 9), max_size=2, unique=True))
    return Place(draw(slugs), draw(st.integers(1, 9)), span, tuple(gone))


@st.composite
def records(draw: st.DrawFn) -> Correction:
    dated = st.builds(lambda day, what: f"{day} {what}", days, words)
    several = st.lists(places(), max_size=3, unique_by=lambda p: (p.episode, p.version, p.span))
    return Correction(
        id="top",
        shown=draw(words),
        wrong=draw(words),
        instead=draw(words),
        signal=draw(st.sampled_from(SIGNAL_ORDER)),
        topic=draw(st.none() | st.sampled_from(get_args(Topic))),
        places=tuple(draw(several)),
        evidence=tuple(draw(st.lists(words, max_size=2))),
        reach=tuple(
            draw(st.lists(st.builds(Reach, st.sampled_from(get_args(ReachPlace)), slugs, days), max_size=3))
        ),
        history=tuple(draw(st.lists(dated | words, max_size=3))),
        kind=draw(st.sampled_from(get_args(RecordKind))),
        sources=tuple(draw(st.lists(words, max_size=2))),
        flag=draw(plain_text),
        recorded=draw(st.none() | days),
    )


@settings(max_examples=60, deadline=None)
@given(records())
def test_a_record_printed_and_read_is_the_same_record(record: Correction) -> None:
    """Print, parse, print: the record is equal, and so is the text."""
    text = record_text(record)
    again = read_well(text)
    assert again == record
    assert record_text(again) == text


def test_a_record_written_by_hand_needs_four_lines() -> None:
    """What was shown, why it is wrong, what to do instead, and a signal word are enough."""
    record = read_well(WORDS)
    assert record.signal == "NOTICE"
    assert record.places == ()
    assert record.recorded is None


def test_white_space_in_hand_written_words_is_the_makers_own() -> None:
    """Words over several lines read as one line; the signal word may be lower case."""
    text = 'signal = "warning"\nshown = """\nthe guard\n  taken off"""\nwrong = "w"\ninstead = "i"\n'
    record = read_well(text)
    assert (record.shown, record.signal) == ("the guard taken off", "WARNING")


# --- what is wrong -----------------------------------------------------------------------------------


def test_a_broken_record_is_one_problem_with_its_line() -> None:
    """A record that is no TOML is reported where it breaks, and does not count."""
    record, problems = read(WORDS + "topic = wood movement\n")
    assert record is None
    assert [(p.code, p.severity, p.line) for p in problems] == [("ledger", "error", 5)]
    assert problems[0].excerpt == "topic = wood movement"


@pytest.mark.parametrize("name", ["shown", "wrong", "instead", "signal"])
def test_a_record_without_its_words_does_not_count(name: str) -> None:
    """The problem names the line that is missing."""
    text = "".join(line for line in WORDS.splitlines(keepends=True) if not line.startswith(name))
    record, problems = read(text)
    assert record is None
    assert len(problems) == 1
    assert name in problems[0].message


@pytest.mark.parametrize(
    ("added", "line", "said"),
    [
        ('[[place]]\nepisode = "oak"\nspan = "9:41-9:12"\n', 5, "the end after the start"),
        ('[[place]]\nspan = "9:12-9:41"\n', 5, 'episode = "..."'),
        ('[[place]]\nepisode = "oak"\nversion = 0\nspan = "9:12-9:41"\n', 5, "counted from 1"),
        ('[[place]]\nepisode = "oak"\nspan = "9:12-9:41"\n[[place]]\nepisode = "o"\n', 8, "is not a time"),
        ('[[reach]]\nwhere = "radio"\nepisode = "oak"\non = 2026-03-28\n', 5, "in-picture"),
        ('[[reach]]\nwhere = "roundup"\nepisode = "oak"\non = "soon"\n', 5, "2026-03-28"),
        ('[[gone]]\nepisode = "oak"\nspan = "9:12-9:41"\nout_of = 2\n', 5, "no [[place]]"),
        ('place = "oak 9:12"\n', 5, "[[place]]"),
        ("evidence = 12\n", 5, "in quotes"),
        ('topic = "wood"\n', 5, "topic is one of"),
        ('sorce = "a book"\n', 5, "means nothing"),
        ('[[place]]\nepisode = "oak"\nspan = "9:12-9:41"\nversoin = 2\n', 5, "versoin means nothing"),
    ],
)  # fmt: skip
def test_a_damaged_part_is_reported_and_the_rest_counts(added: str, line: int, said: str) -> None:
    """One problem with the line; the record stands with its words."""
    record, problems = read(WORDS + added)
    assert record is not None
    assert record.shown
    assert [problem.line for problem in problems] == [line]
    assert said in problems[0].message


def test_a_place_that_is_gone_says_out_of_which_version() -> None:
    """A [[gone]] belongs to the place with the same episode, version and span."""
    place = Place("oak", 1, Span(552_000, 581_500))
    text = with_tables(record_text(record_with(place)), [("gone", gone_members(place, 2))])
    assert read_well(text).places == (Place("oak", 1, Span(552_000, 581_500), (2,)),)


def record_with(*places: Place) -> Correction:
    return Correction("top", "s", "w", "i", "NOTICE", places=places)


# --- adding ------------------------------------------------------------------------------------------

REACH = Reach("in-picture", "oak", date(2026, 3, 28))


def test_what_is_added_leaves_every_hand_edit_and_comment() -> None:
    """The text as it was is the beginning of the text as it is."""
    text = f"# mine\n{WORDS}  # odd spacing   \nextra_note = 'keep me'\n\n# the end"
    added = with_tables(text, [("reach", reach_members(REACH)), ("history", {"what": "published"})])
    assert added.startswith(text)
    record, _ = read(added)
    assert record is not None
    assert record.reach == (REACH,)
    assert record.history == ("published",)


@settings(max_examples=40, deadline=None)
@given(records(), st.lists(st.text(string.ascii_letters + " #'\"=[]", max_size=20), max_size=4))
def test_adding_to_any_record_keeps_it_whole(record: Correction, comments: list[str]) -> None:
    """With comments anywhere at the end, the added reach is read after those that were there."""
    text = record_text(record) + "".join(f"# {comment}\n" for comment in comments)
    added = with_tables(text, [("reach", reach_members(REACH))])
    assert added.startswith(text)
    assert read_well(added).reach == (*record.reach, REACH)


def test_tables_written_in_one_line_go_on_there() -> None:
    """`reach = [{...}]` by hand gets its next element inside the brackets, and comments stay."""
    text = f'{WORDS}reach = [{{ where = "roundup", episode = "oak", on = 2026-01-01 }}]  # by hand\n'
    added = with_tables(text, [("reach", reach_members(REACH))])
    assert [reach.where for reach in read_well(added).reach] == ["roundup", "in-picture"]
    assert added.startswith(WORDS)
    assert "# by hand" in added


def test_a_single_table_cannot_be_added_to() -> None:
    """`[place]` with one bracket is refused with the way out, not mended behind the maker's back."""
    text = f'{WORDS}[place]\nepisode = "oak"\nspan = "1:00-1:05"\n'
    with pytest.raises(ValueError, match="two brackets"):
        with_tables(text, [("place", {"episode": "oak", "span": "2:00-2:05"})])


def test_broken_text_cannot_be_added_to() -> None:
    """A record that is no TOML raises, so that nothing is written to it."""
    with pytest.raises(tomllib.TOMLDecodeError):
        with_tables("shown = ", [("reach", reach_members(REACH))])


# --- ids ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shown", "made"),
    [
        ("the top glued into its frame all round", "top-glued-frame-all-round"),
        ("Déjà vu: 2 coats of shellac over wax, again and again", "deja-vu-2-coats-shellac"),
        ("the", "b1a68f4e"),
        ("木工", "b0cbab2f"),
    ],
)
def test_an_id_is_made_from_the_words(shown: str, made: str) -> None:
    """The first telling words, in letters that every file system has; else a hash of them."""
    name = made_id(shown, ())
    assert is_id(name)
    assert name == made or (len(made) == 8 and len(name) == 8)


def test_a_made_id_is_told_apart_from_those_there() -> None:
    """A number follows, whatever the case of the names that are taken."""
    assert made_id("glued top", ["Glued-top", "glued-top-2"]) == "glued-top-3"


@pytest.mark.parametrize(
    ("text", "fits"),
    [("glued-top", True), ("a" * 64, True), ("a" * 65, False), ("", False), ("../x", False), ("-x", False)],
)
def test_an_id_can_be_a_file_name_everywhere(text: str, fits: bool) -> None:
    """Letters, digits, hyphens; 64 at most."""
    assert is_id(text) is fits


def test_a_disclosure_says_who_gave_the_product() -> None:
    """The shelf's words if they say so, else plain ones."""
    assert disclosure_record("Seat rush", "given by the grower").instead == (
        "Seat rush: given by the grower, not paid for"
    )
    assert disclosure_record("Seat rush", "yes").instead == "Seat rush was given to me, not paid for"
