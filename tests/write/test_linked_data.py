"""JSON-LD keeps the rules of schema.org and is safe inside HTML."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from lxml import html

from reelnotes.model import Chapter, Draft
from reelnotes.write.chapters import placed_chapters
from reelnotes.write.linked_data import linked_data

#: ISO 8601 durations as they may stand here: whole hours, minutes and seconds behind the T.
DURATION = re.compile(r"PT(?=\d)(\d+H)?(\d+M)?(\d+(\.\d+)?S)?")


def graph(draft: Draft) -> tuple[dict[str, Any], dict[str, Any]]:
    """Give the video and the how-to."""
    document = json.loads(linked_data(draft))
    assert document["@context"] == "https://schema.org"
    video, how = document["@graph"]
    assert (video["@type"], how["@type"]) == ("VideoObject", "HowTo")
    return video, how


def nodes(value: Any) -> Iterator[dict[str, Any]]:  # noqa: ANN401
    """Walk every object of a document."""
    if isinstance(value, dict):
        yield value
        value = list(value.values())
    if isinstance(value, list):
        for item in value:
            yield from nodes(item)


def test_chapters_are_clips_of_the_video(draft: Draft) -> None:
    """A clip has a name and rising offsets in seconds from the beginning (schema.org, Clip)."""
    clips = graph(draft)[0]["hasPart"]
    want = [(c.title, c.start_ms / 1000, c.end_ms / 1000) for c in placed_chapters(draft)[0]]
    assert [(c["name"], c["startOffset"], c["endOffset"]) for c in clips] == want


def test_every_clip_ends_after_it_starts(draft: Draft) -> None:
    """An endOffset is greater than its startOffset, in chapters and steps alike."""
    clips = [node for node in nodes(json.loads(linked_data(draft))) if node.get("@type") == "Clip"]
    assert len(clips) == 6
    assert all(clip["endOffset"] > clip["startOffset"] for clip in clips)


@pytest.mark.parametrize(("ms", "text"), [(5_400_000, "PT1H30M"), (95_000, "PT1M35S"), (600_000, "PT10M")])
def test_durations_are_iso_8601(draft: Draft, ms: int, text: str) -> None:
    """Ten minutes are PT10M; P10M would be ten months (ISO 8601)."""
    duration = graph(replace(draft, duration_ms=ms))[0]["duration"]
    assert duration == text
    assert DURATION.fullmatch(duration)


def test_supplies_are_used_up_and_tools_are_not(draft: Draft) -> None:
    """What the shelf calls a tool is a HowToTool, everything else a HowToSupply (schema.org)."""
    how = graph(draft)[1]
    assert [(item["@type"], item["name"]) for item in how["tool"]] == [("HowToTool", "Bone folder")]
    assert {item["@type"] for item in how["supply"]} == {"HowToSupply"}
    assert how["supply"][0]["requiredQuantity"] == "150 ml"


def test_money_is_exact_and_has_a_currency(draft: Draft) -> None:
    """A code makes a MonetaryAmount with two decimals; a symbol is no ISO 4217 code and stays text."""
    document = json.loads(linked_data(draft), parse_float=Decimal)
    cost = document["@graph"][1]["estimatedCost"]
    assert cost == {"@type": "MonetaryAmount", "currency": "GBP", "value": Decimal("11.80")}
    assert graph(replace(draft, currency="£"))[1]["estimatedCost"] == "£11.80"


def test_only_steps_that_are_seen_are_told(draft: Draft) -> None:
    """Steps off camera are left out, and the rest are counted from 1."""
    steps = graph(draft)[1]["step"]
    assert [step["position"] for step in steps] == [1, 2, 3]
    assert "kettle" not in linked_data(draft)


def test_a_risky_step_carries_its_caution(draft: Draft) -> None:
    """An open firm flag on a step goes along as a tip, so that the method never travels without it."""
    texts = [[part["@type"] for part in step["itemListElement"]] for step in graph(draft)[1]["step"]]
    assert texts == [["HowToDirection"], ["HowToDirection", "HowToTip"], ["HowToDirection", "HowToTip"]]


def test_no_title_can_leave_a_script_element(draft: Draft) -> None:
    """Inside a page the whole text stays in its element and reads back the same."""
    nasty = "</script><script>alert(1)</script><!-- & \u2028 -->"
    text = linked_data(replace(draft, title=nasty, chapters=(Chapter(0, nasty),)))
    page = html.fromstring(f'<p><script type="application/ld+json">{text}</script></p>')
    scripts = page.findall(".//script")
    assert len(scripts) == 1
    assert json.loads(scripts[0].text)["@graph"][0]["hasPart"][0]["name"] == nasty.replace("\u2028 ", "")
