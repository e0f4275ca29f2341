"""Inserts as JSON and as a text: held against the published schema and timecode of another library."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import jsonschema
import pytest
from opentimelineio.opentime import RationalTime, to_timecode

from reelnotes.model import Card, Insert
from reelnotes.timing import Span, frames_to_ms
from reelnotes.write.insert_texts import inserts_json, inserts_text

SCHEMA = Path(__file__).resolve().parents[2] / "docs" / "schemas" / "inserts-1.json"
DROP = Fraction(30000, 1001)


def insert(rate: Fraction, *, first: int = 17_982, hold_ms: int = 0, returns: bool = False) -> Insert:
    """Give an insert of two cards on frames `first`, +120 and +240."""
    edges = [frames_to_ms(first + step, rate) for step in (0, 120, 240)]
    cards = (
        Card(
            ("Wrong here: the top glued", "into its frame all round."), "WARNING", edges[0], edges[1], "top"
        ),
        Card(("Instead: screw it on.",), "WARNING", edges[1], edges[2], "top", "instead"),
    )
    span = Span(edges[0], edges[2])
    return Insert("top", "correction", "WARNING", span, cards, returns=returns, hold_ms=hold_ms)


GIFT = Insert(
    "given-glue", "disclosure", None, Span(0, 2000),
    (Card(("The glue was given to me.",), None, 0, 3000, "given-glue", "given"),),
)  # fmt: skip


@pytest.mark.parametrize("rate", [DROP, Fraction(25), None])
def test_inserts_are_valid_by_the_published_schema(rate: Fraction | None) -> None:
    """With a rate, without one, with a disclosure, and with none at all."""
    schema = json.loads(SCHEMA.read_text("utf-8"))
    for inserts in ([insert(rate or Fraction(1000)), GIFT], []):
        document = json.loads(inserts_json("oak", 2, inserts, rate, drop=rate == DROP))
        jsonschema.Draft202012Validator(schema).validate(document)


@pytest.mark.parametrize("first", [0, 1798, 1800, 3598, 17_982, 107_892])
def test_drop_frame_labels_are_those_of_opentimelineio(first: int) -> None:
    """OpenTimelineIO, which cites SMPTE ST 12-1:2014, gives the same labels for every edge."""
    document = json.loads(inserts_json("oak", 1, [insert(DROP, first=first)], DROP, drop=True))
    for card in document["inserts"][0]["cards"]:
        for edge in ("start", "end"):
            expected = to_timecode(RationalTime(card[f"{edge}_frame"], 30000 / 1001), 30000 / 1001, True)
            assert card[f"{edge}_timecode"] == expected
    assert document["inserts"][0]["cards"][0]["start_frame"] == first


def test_a_notice_has_no_alert_symbol_and_a_disclosure_no_signal_word() -> None:
    """As the cards say; a WARNING has both."""
    document = json.loads(inserts_json("oak", 1, [insert(DROP), GIFT], DROP, drop=True))
    assert [(i["signal"], i["alert_symbol"]) for i in document["inserts"]] == [
        ("WARNING", True),
        (None, False),
    ]


def test_the_text_shows_every_card_with_its_times() -> None:
    """Labels of the programme, lines beneath each other, and what needs a held frame."""
    text = inserts_text("The oak stool", [insert(DROP, hold_ms=3000), GIFT], DROP, drop=True)
    assert "00:10:00;00 – 00:10:04;00  Wrong here: the top glued\n" in text
    assert "                             into its frame all round.\n" in text
    assert "needs a frame held for 3 s to be read" in text
    assert "DISCLOSURE" in text
    assert "at 30000/1001 frames a second" in text


def test_a_return_says_so_and_an_unknown_rate_gives_milliseconds() -> None:
    """Without a rate there are no labels."""
    text = inserts_text("Oak", [insert(Fraction(1000), first=1000, returns=True)], None, drop=False)
    assert ", returning\n" in text
    assert "00:00:01.000 – 00:00:01.120" in text


def test_an_episode_without_inserts_says_so() -> None:
    """No empty file."""
    assert "None: nothing in the ledger" in inserts_text("Oak", [], DROP, drop=True)
