from __future__ import annotations

import pytest

from reelnotes.align.lines import Chances, chance_told
from reelnotes.align.score import features_of
from reelnotes.words.lexicon import load_lexicon

LEXICON = load_lexicon()
KINDS = Chances()


def chance(text: str) -> float:
    return chance_told(text, features_of(text, LEXICON).words, LEXICON)


@pytest.mark.parametrize(
    "text",
    ["lunch, cheese roll", "dinner", "phone, mum", "rang sister", "accounts, gave up", "locked up",
     "lunch w bob. glue on trousers", "home, bed"],
)  # fmt: skip
def test_the_day_is_hardly_ever_told(text: str) -> None:
    """A meal, a call, paperwork, going home: not the piece."""
    assert chance(text) == KINDS.off


@pytest.mark.parametrize(
    "text",
    ["sndd top 120", "glued rail, phone rang twice", "wax on lid", "new hinges fitted", "stripped door"],
)
def test_work_is_mostly_told(text: str) -> None:
    """Work at the bench, even where something else happens beside it."""
    assert chance(text) == KINDS.work


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("photos, front window", KINDS.photo),
        ("shop. primer 12.50", KINDS.shop),
        ("delivered, 2 flights", KINDS.deliver),
        ("sold to the barber", KINDS.deliver),
        ("gave it all I had", KINDS.plain),
        ("", KINDS.plain),
        ("120", KINDS.plain),
        ("macrame, tombola", KINDS.strange),
    ],
)
def test_some_kinds_are_told_or_not(text: str, kind: float) -> None:
    """Photographs, errands and delivery are told by some; a line that says nothing leaves it open."""
    assert chance(text) == kind


@pytest.mark.parametrize(
    "text", ["glued lid, camera off", "sanded top, not filmed", "acid wash skipped", "oiled, camera dead"]
)
def test_what_was_not_filmed_or_not_done_is_seldom_told(text: str) -> None:
    """The log itself says that there is nothing to see."""
    assert chance(text) == KINDS.unfilmed
    assert KINDS.off < KINDS.unfilmed < KINDS.work


def test_a_camera_in_other_company_says_nothing() -> None:
    """A camera that is on, or a coat left off, is work as any other."""
    assert chance("camera on, glued lid") == KINDS.work
