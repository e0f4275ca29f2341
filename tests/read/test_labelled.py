"""The labelled episodes, where they are at hand: what the readers give is what their labels speak of."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from reelnotes.model import CutEvent
from reelnotes.read.captions import read_transcript
from reelnotes.read.clips import read_clips
from reelnotes.read.cut_list import read_cut_list
from reelnotes.read.shelf import read_shelf
from reelnotes.read.shop_log import read_shop_log
from reelnotes.store import read_text

CASES = Path(__file__).resolve().parents[3] / "shared" / "cases"
EPISODES = sorted(path.parent for path in CASES.glob("*/truth.json"))


@pytest.mark.skipif(not EPISODES, reason="the labelled episodes are not beside the checkout")
@pytest.mark.parametrize("episode", EPISODES, ids=lambda path: path.name)
def test_a_labelled_episode_is_read_whole(episode: Path) -> None:
    """No problem of any kind; as many entries as steps, word for word; cues up to the programme's end."""
    truth = json.loads((episode / "truth.json").read_text(encoding="utf-8"))
    log, problems = read_text(episode / "shop-log.txt")
    entries, more = read_shop_log(log)
    assert problems + more == []
    assert [entry.text for entry in entries] == [step["text"] for step in truth["steps"]]
    transcript, problems = read_text(next(episode.glob("transcript.*")))
    cues, more = read_transcript(transcript)
    assert problems + more == []
    assert truth["duration_s"] * 1000 - 15_000 < cues[-1].end_ms <= truth["duration_s"] * 1000
    shelf, problems = read_text(episode / "shelf.csv")
    items, more = read_shelf(shelf)
    assert problems + more == []
    assert len(items) == len(shelf.text.rstrip("\n").split("\n")) - 1


@pytest.mark.skipif(not EPISODES, reason="the labelled episodes are not beside the checkout")
def test_the_labelled_cut_list_is_read_whole() -> None:
    """Every event has its span within its clip; without a rate, 25 is worked out and nothing changes."""
    episode = CASES / "blanket-chest"
    truth = json.loads((episode / "truth.json").read_text(encoding="utf-8"))
    clips, problems = read_clips(read_text(episode / "clips.csv")[0])
    assert problems == []
    found: list[tuple[CutEvent, ...]] = []
    for rate, codes in ((None, ["rate-assumed", "cut-clip"]), (25, ["cut-clip"])):
        from fractions import Fraction

        source, _ = read_text(episode / "cuts.edl")
        events, problems = read_cut_list(source, None if rate is None else Fraction(rate), clips)
        assert [problem.code for problem in problems] == codes
        found.append(events)
    assert found[0] == found[1]
    assert len(found[0]) == len(truth["cuts"])
    lengths = {clip.name: clip.duration_ms for clip in clips}
    for event in found[0]:
        assert event.source is not None
        assert event.clip is not None
        assert event.source.end_ms <= lengths.get(event.clip, 10**9)
        assert event.record.length_ms == event.source.length_ms
