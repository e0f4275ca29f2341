"""What stands before publishing: each check made to fire, and one just inside its limit."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from reelnotes.model import (
    Chapter,
    Correction,
    Cue,
    Draft,
    Flag,
    FlagTopic,
    Material,
    Promise,
    PromiseKind,
    SignalWord,
    Spending,
    Tier,
)
from reelnotes.problems import Problem
from reelnotes.review.check import Since, Standing, StandingKind, check_draft
from reelnotes.settings import CaptionSettings, HostLimits
from reelnotes.timing import Span

CHAPTERS = (Chapter(0, "In"), Chapter(60_000, "Glue"), Chapter(120_000, "Out"))
CLEAR = Draft(
    "oak", "The oak stool", 180_000,
    cues=(Cue(0, 3000, "one two three four five", 1), Cue(3000, 6000, "and six", 2)),
    chapters=CHAPTERS,
)  # fmt: skip


def check(draft: Draft = CLEAR, since: Since | None = None) -> tuple[Standing, ...]:
    return check_draft(draft, HostLimits(), CaptionSettings(), since or Since())


def kinds(draft: Draft = CLEAR, since: Since | None = None) -> list[StandingKind]:
    return [one.kind for one in check(draft, since)]


def flag(
    name: str, signal: SignalWord = "WARNING", topic: FlagTopic = "dust", tier: Tier = "firm", at: int = 5000
) -> Flag:
    return Flag(name, topic, signal, at, at + 1000, None, "quote", "why", "caution", tier=tier)


def test_nothing_stands_where_all_is_seen_to() -> None:
    """The draft on which every other test makes one thing stand."""
    assert check() == ()


# --- flags -------------------------------------------------------------------------------------------


def test_open_flags_stand_worst_first() -> None:
    """Firm ones before what is worth a look, each with its words, place and id."""
    flags = (flag("look", "DANGER", tier="look"), flag("mild", "NOTICE"), flag("bad", "DANGER", "mains"))
    found = check(replace(CLEAR, flags=flags))
    assert [(one.kind, one.id, one.signal) for one in found] == [
        ("flag", "bad", "DANGER"), ("flag", "mild", "NOTICE"), ("flag", "look", "DANGER"),
    ]  # fmt: skip
    assert found[0].at_ms == 5000
    assert found[2].message.endswith("worth a look")


def test_a_flag_that_the_ledger_took_up_does_not_stand() -> None:
    """By its id."""
    assert kinds(replace(CLEAR, flags=(flag("one"), flag("two"))), Since(decided={"one"})) == ["flag"]


def test_a_flag_put_aside_does_not_stand() -> None:
    """Dismissed flags are apart from those that stand in a draft."""
    assert kinds(replace(CLEAR, dismissed=((flag("one"), "scrapped on camera"),))) == []


@pytest.mark.parametrize(
    ("tier", "decided", "stands"),
    [("firm", False, True), ("look", False, True), ("firm", True, True), ("look", True, False)],
)
def test_a_given_product_stands_until_it_is_disclosed(tier: Tier, decided: bool, stands: bool) -> None:
    """An insert alone does not settle what must be said as well (16 CFR 255.5; Disclosures 101, 2019)."""
    draft = replace(CLEAR, flags=(flag("gift", "NOTICE", "disclosure", tier),))
    since = Since(decided={"gift"} if decided else ())
    assert kinds(draft, since) == ["disclosure"] * stands


def test_what_is_owed_stands() -> None:
    """Every record that has not reached the picture, with its place."""
    record = Correction("top", "the top glued in", "w", "i", "NOTICE")
    (one,) = check(CLEAR, Since(owed=[(record, (Span(9000, 10_000),))]))
    assert (one.kind, one.id, one.at_ms, one.signal) == ("owed", "top", 9000, "NOTICE")
    assert "the top glued in" in one.message


# --- chapters ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("chapters", "said"),
    [
        (CHAPTERS, ""),
        (CHAPTERS[:2], "there are 2"),
        ((), "there are 0"),
        ((Chapter(1, "In"), *CHAPTERS[1:]), "must start at 0:00"),
        ((Chapter(0, "In"), Chapter(10_000, "Glue"), CHAPTERS[2]), ""),
        ((Chapter(0, "In"), Chapter(9_999, "Glue"), CHAPTERS[2]), "'In' lasts 9.999 s"),
        ((*CHAPTERS[:2], Chapter(170_000, "Out")), ""),
        ((*CHAPTERS[:2], Chapter(170_001, "Out")), "'Out' lasts 9.999 s"),
        ((*CHAPTERS[:2], Chapter(120_000, "x" * 60)), ""),
        ((*CHAPTERS[:2], Chapter(120_000, "x" * 61)), "has 61 characters"),
    ],
)
def test_chapters_are_held_against_the_hosts_limits(chapters: tuple[Chapter, ...], said: str) -> None:
    """Number, start, length, length of title: each just inside and just outside."""
    found = check(replace(CLEAR, chapters=chapters))
    assert [one.kind for one in found] == ["chapters"] * bool(said)
    assert all(said in one.message for one in found)


def test_an_episode_without_a_programme_has_no_chapters_to_check() -> None:
    """A log alone is no video."""
    assert kinds(replace(CLEAR, duration_ms=0, chapters=(), cues=())) == []


# --- captions ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("length_ms", "fast"), [(2700, False), (2699, True)])
def test_captions_may_be_as_fast_as_200_words_a_minute(length_ms: int, fast: bool) -> None:
    """9 words in 2.7 s are 0.3 s a word (BBC Subtitle Guidelines, 4.1), the least that counts."""
    cue = Cue(0, length_ms, "one two three four five six seven eight nine", 1)
    found = check(replace(CLEAR, cues=(cue,)))
    assert [one.kind for one in found] == ["captions"] * fast
    assert all("faster than 200 words a minute" in one.message for one in found)


@pytest.mark.parametrize(("start_ms", "over"), [(3000, False), (2999, True)])
def test_captions_that_stand_at_once_are_found(start_ms: int, over: bool) -> None:
    """One may begin when the other ends, not before."""
    found = check(replace(CLEAR, cues=(CLEAR.cues[0], Cue(start_ms, 6000, "and six", 2))))
    assert [one.kind for one in found] == ["captions"] * over


def test_many_fast_captions_are_one_thing_with_its_worst_places() -> None:
    """The worst first, the rest counted."""
    cues = tuple(Cue(n * 1000, n * 1000 + 900 - n, "four words in it", n) for n in range(1, 6))
    (one,) = check(replace(CLEAR, cues=cues))
    assert one.message.startswith("5 go by")
    assert "at 0:05, 0:04, 0:03 and 2 more" in one.message


def test_a_transcript_that_is_no_caption_file_has_no_captions_to_check() -> None:
    """Its times are the makers' paragraphs."""
    fast = replace(CLEAR, cues=(Cue(0, 1, "one two three", 1),))
    assert kinds(fast, Since(captioned=False)) == []


# --- the rest ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("given", "stands"), [(False, True), (True, False)])
def test_a_missing_price_stands_unless_the_product_was_given(given: bool, stands: bool) -> None:
    """What was given cost nothing."""
    spending = Spending((Material("Seat rush", Decimal(1), "kg", given=given),))
    problem = Problem("price-missing", "Seat rush was used, but the shelf gives no price")
    assert kinds(replace(CLEAR, spending=spending, problems=(problem,))) == ["price"] * stands


@pytest.mark.parametrize(
    ("kind", "kept_at", "promised", "stands"),
    [
        ("link", None, (), True),
        ("later", None, (), True),
        ("ask", None, (), False),
        ("later", 90_000, (), False),
        ("link", None, ("3:42",), False),
        ("link", None, ("3:45",), True),
        ("link", None, ("soon",), True),
    ],
)
def test_what_was_promised_is_owed_until_it_is_kept(
    kind: PromiseKind, kept_at: int | None, promised: tuple[str, ...], stands: bool
) -> None:
    """A link or something for later; a question to viewers owes nothing. episode.toml tells what was kept."""
    draft = replace(CLEAR, promises=(Promise(222_950, "the drawings are linked below", kind, kept_at),))
    found = check(draft, Since(kept_promises=promised))
    assert [one.kind for one in found] == ["promise"] * stands
    assert all('promises_kept = ["3:42"]' in one.message for one in found)


def test_a_description_that_was_cut_stands() -> None:
    """The host would cut it too."""
    problem = Problem("description-long", "the host allows 5000 characters")
    assert kinds(replace(CLEAR, problems=(problem, Problem("log-order", "x")))) == ["description"]


def test_changed_files_and_a_missing_draft_stand() -> None:
    """With what to do about it."""
    found = check(CLEAR, Since(changed=["shop-log.txt was changed"], drafted=False))
    assert [one.kind for one in found] == ["changed", "changed"]
    assert all("reelnotes draft" in one.message for one in found)


def test_a_damaged_record_stands() -> None:
    """It may be a correction that is owed."""
    assert kinds(CLEAR, Since(damaged=["corrections/top.toml: is not TOML"])) == ["ledger"]


def test_what_stands_is_told_kind_by_kind() -> None:
    """Flags, what is owed, disclosures, chapters, captions, prices, promises, files, records."""
    draft = replace(
        CLEAR,
        flags=(flag("gift", "NOTICE", "disclosure"), flag("bad")),
        chapters=CHAPTERS[:2],
        cues=(Cue(0, 1, "one two", 1),),
        promises=(Promise(1, "later", "later"),),
        problems=(Problem("description-long", "x"), Problem("price-missing", "glue was used")),
    )
    record = Correction("top", "s", "w", "i", "NOTICE")
    since = Since(owed=[(record, ())], changed=["x"], damaged=["y"])
    assert kinds(draft, since) == [
        "flag", "owed", "disclosure", "chapters", "captions", "price", "promise", "description", "changed",
        "ledger",
    ]  # fmt: skip
