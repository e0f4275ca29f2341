"""docs/corrections.md says what the code does."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

from reelnotes.corrections.ledger import REACH_PLACES, read_record
from reelnotes.review.check import KIND_WORDS
from reelnotes.settings import CaptionSettings
from reelnotes.store import SourceText

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "corrections.md").read_text("utf-8")


def test_the_example_record_can_be_read() -> None:
    """Every line of it counts."""
    match = re.search(r"```toml corrections/(\S+)\.toml\n(.*?)```", PAGE, re.DOTALL)
    assert match
    record, problems = read_record(SourceText("example", match[2]), match[1])
    assert problems == []
    assert record
    assert record.places[0].gone_in == (2,)
    assert (len(record.reach), len(record.history), len(record.sources)) == (1, 1, 1)


def test_every_setting_of_captions_is_told_with_its_usual_value() -> None:
    """No setting is missing from the table, and none stands there that is not."""
    told: dict[str, str] = {}
    for names, values in re.findall(r"^\| (`[a-z_`, ]+`) \| ([\d., ]+) \|", PAGE, re.MULTILINE):
        told |= dict(zip(re.findall(r"`(\w+)`", names), values.split(", "), strict=True))
    usual = CaptionSettings()
    assert told == {field.name: str(getattr(usual, field.name)) for field in fields(usual)}


def test_every_place_of_publishing_and_every_kind_of_check_is_told() -> None:
    """By the words that the commands use."""
    assert all(f"`{place}`" in PAGE for place in REACH_PLACES)
    assert all(f"| {words} |" in PAGE for words in KIND_WORDS.values())
