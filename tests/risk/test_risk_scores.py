"""Scores beyond the single window: what stands around it, and what log and speech say of one step."""

from __future__ import annotations

import json
from datetime import date, time
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import Cue, Entry, Step, StepSpan
from reelnotes.risk.mentions import find_mentions
from reelnotes.risk.plain import plain_words
from reelnotes.risk.rules import TOPICS, own_rules
from reelnotes.risk.scores import AROUND, Scored, read_together, scored, steadied
from reelnotes.risk.speech import Run, Window, log_run, speech_run, text_run, windows

CASES = Path(__file__).resolve().parents[3] / "shared" / "cases"
PASSAGES = Path(__file__).resolve().parents[2] / "reelnotes" / "risk" / "passages"
#: So many words in a row are no chance.
SHARED_WORDS = 8


def read(run: Run) -> Scored:
    return scored(run, find_mentions(run.words, run.sentence, own_rules()), own_rules())


def plainly(scores: np.ndarray, spans: list[Window]) -> np.ndarray:
    """Do slowly, window by window, what `steadied` says it does."""
    rows = []
    for own, span in zip(scores, spans, strict=True):
        held = [
            np.log(other)
            for other, around in zip(scores, spans, strict=True)
            if around.first <= span.first and around.end >= span.end
        ]
        rows.append(np.exp((1 - AROUND) * np.log(own) + AROUND * np.mean(held, axis=0)))
    return np.array(rows)


@settings(max_examples=20, deadline=None)
@given(
    lengths=st.lists(st.integers(1, 20), min_size=1, max_size=12),
    pauses=st.sets(st.integers(1, 12)),
    seed=st.integers(0, 99),
)
def test_a_window_is_drawn_towards_those_that_hold_it(
    lengths: list[int], pauses: set[int], seed: int
) -> None:
    """Each score is its own and the geometric mean of the windows around it, whatever the clauses are."""
    cues, at_ms = [], 0
    for number, length in enumerate(lengths):
        at_ms += 9000 if number in pauses else 0
        cues.append(Cue(at_ms, at_ms + 2000, "word " * length + "stop.", number + 1))
        at_ms += 2000
    spans = list(windows(speech_run(cues)))
    scores = np.random.default_rng(seed).uniform(0.01, 0.99, (len(spans), 3)).astype(np.float32)
    assert steadied(scores, spans) == pytest.approx(plainly(scores, spans), rel=1e-4)


def test_what_takes_a_risk_back_in_the_next_clause_lowers_it() -> None:
    """The clause that tells the risk is surer alone than with the precaution told after it."""
    risk = "I changed the cutter with the router still plugged in at the wall"
    alone, eased = read(text_run(f"{risk}.")), read(text_run(f"{risk}, no, I tell a lie, the plug was out."))
    column = TOPICS.index("live-tool")
    assert alone.scores[:, column].max() > eased.scores[0, column]


def test_a_precaution_told_nearby_eases_a_place_and_a_denied_one_does_not() -> None:
    """The same words are less sure after `mask on` in the sentence before, not after `no mask`."""
    column = TOPICS.index("dust")
    worst = [
        read(text_run(f"{before}. Then I sanded the rosewood and it went everywhere.")).scores[-1, column]
        for before in ("I put the mask on", "I put the kettle on")
    ]
    assert worst[0] < worst[1]
    run = text_run("No mask. Then I sanded the rosewood and it went everywhere.")
    mentions = find_mentions(run.words, run.sentence, own_rules())
    assert "shared/mask" not in mentions.by_group


def told(start_ms: int, end_ms: int, chance: float = 1.0) -> Step:
    return Step("a", 0, "oiled lid, rags in bin", chance, (StepSpan(start_ms, end_ms, 1, "words"),))


def two_runs() -> tuple[Scored, Scored]:
    cues = [
        Cue(0, 5000, "so that is the oil on and wiped and the cloths went in the basket", 1),
        Cue(60_000, 65_000, "and then we had our tea in the garden and looked at the hens", 2),
    ]
    entries = [Entry(0, "oiled lid, rags in bin", 1, date(2026, 3, 4), time(9))]
    return read(speech_run(cues)), read(log_run(entries))


def test_speech_and_log_bear_each_other_out() -> None:
    """What both tell of one step is surer than either alone, never above certainty."""
    spoken, noted = two_runs()
    said, written = read_together(spoken, noted, [told(0, 5000)])
    column = TOPICS.index("rag-fire")
    assert said.scores[:, column].max() > spoken.scores[:, column].max()
    assert written.scores[:, column].max() > noted.scores[:, column].max()
    assert max(said.scores.max(), written.scores.max()) <= 1


def test_speech_of_another_step_bears_nothing_out() -> None:
    """Speech outside the step's span keeps its score, and so does a step that is not told at all."""
    spoken, noted = two_runs()
    outside = [number for number, span in enumerate(spoken.spans) if spoken.run.at_ms[span.first] > 5000]
    said, _ = read_together(spoken, noted, [told(0, 5000)])
    assert (said.scores[outside] == spoken.scores[outside]).all()
    for steps in ([], [told(0, 5000, 0.0)], [told(900_000, 901_000)]):
        said, written = read_together(spoken, noted, steps)
        assert said.scores == pytest.approx(spoken.scores, abs=1e-6)
        assert written.scores == pytest.approx(noted.scores, abs=1e-6)


def runs_of(text: str) -> set[tuple[str, ...]]:
    words = plain_words(text)
    return {tuple(words[i : i + SHARED_WORDS]) for i in range(len(words) - SHARED_WORDS + 1)}


@pytest.mark.skipif(not CASES.is_dir(), reason="the labelled episodes are not at hand")
def test_no_passage_is_taken_from_a_labelled_episode() -> None:
    """What the reader learns from shares no eight words in a row with what it is measured with."""
    asked: set[tuple[str, ...]] = set()
    for truth in CASES.glob("*/truth.json"):
        for path in truth.parent.iterdir():
            if path.suffix in {".txt", ".srt", ".vtt"}:
                lines = path.read_text(encoding="utf-8-sig").splitlines()
                asked |= runs_of(" ".join(line for line in lines if "-->" not in line and not line.isdigit()))
    assert asked
    for path in PASSAGES.glob("*.jsonl"):
        for row in path.read_text(encoding="utf-8").splitlines():
            assert not runs_of(json.loads(row)["text"]) & asked, row
