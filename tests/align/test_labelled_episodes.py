"""Labelled episodes that are not part of the project, where they lie beside the checkout or are named."""

from __future__ import annotations

import json
import os
from functools import cache
from pathlib import Path

import pytest

from reelnotes.align.matcher import Alignment, align
from reelnotes.pipeline.reading import read_episode
from reelnotes.words.lexicon import load_lexicon

HERE = os.environ.get("REELNOTES_CASES") or Path(__file__).resolve().parents[3] / "shared" / "cases"
EPISODES = sorted(path.parent for path in Path(HERE).glob("*/truth.json"))
pytestmark = pytest.mark.skipif(not EPISODES, reason="no labelled episodes at hand")


@cache
def drafted(folder: Path) -> tuple[Alignment, list[dict[str, list[list[float]]]]]:
    facts, _ = read_episode(folder)
    alignment, _ = align(facts.entries, facts.cues, load_lexicon(), facts.shelf, facts.clips, facts.cuts)
    return alignment, json.loads((folder / "truth.json").read_text("utf-8"))["steps"]


def test_steps_are_right_nine_times_in_ten() -> None:
    """Over all labelled episodes together: placed within 10 s of a true span, or rightly left off camera."""
    right = entries = 0
    for folder in EPISODES:
        alignment, truth = drafted(folder)
        for step, label in zip(alignment.steps, truth, strict=True):
            start = step.spans[0].start_ms / 1000 if step.spans else None
            entries += 1
            if start is None or not label["spans"]:
                right += (start is None) == (not label["spans"])
            else:
                right += any(low - 10 <= start <= high + 10 for low, high in label["spans"])
    assert right / entries >= 0.9


def test_confidence_means_something() -> None:
    """Of spans with a confidence of 0.8 or more at least nine in ten are right."""
    sure = [
        any(low - 10 <= span.start_ms / 1000 <= high + 10 for low, high in label["spans"])
        for folder in EPISODES
        for step, label in zip(drafted(folder)[0].steps, drafted(folder)[1], strict=True)
        for span in step.spans
        if span.confidence >= 0.8
    ]
    assert len(sure) > 50
    assert sum(sure) / len(sure) >= 0.9


def test_a_stated_offset_holds_the_truth() -> None:
    """Where the labels know the camera's offset, the interval holds it and is at most a minute wide."""
    known = {
        folder: offset
        for folder in EPISODES
        if list(folder.glob("cuts.*"))
        and (offset := json.loads((folder / "truth.json").read_text("utf-8")).get("clock_offset_s"))
        is not None
    }
    for folder, offset in known.items():
        clock = drafted(folder)[0].clock_offset
        assert clock is not None, folder.name
        assert clock.low_s <= offset <= clock.high_s
        assert clock.high_s - clock.low_s <= 60
