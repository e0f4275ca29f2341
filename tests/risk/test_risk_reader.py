"""The trained reader: its weights, its features, and that training gives the same bits twice."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.risk.features import TABLE_ROWS, Features, hashed
from reelnotes.risk.mentions import Mentions, find_mentions
from reelnotes.risk.plain import plain_words
from reelnotes.risk.reader import HEADS, WEIGHTS_FILE, combined, own_weights, reading, window_logits
from reelnotes.risk.rules import TOPICS, own_rules
from reelnotes.risk.speech import Window, text_run, windows

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))

import train_reader

MEGABYTE = 1_000_000


def features_of(text: str) -> tuple[list[str], Features]:
    run = text_run(text)
    return run.words, hashed(run.words, find_mentions(run.words, run.sentence, own_rules()))


def test_weights_are_of_these_passages() -> None:
    """The shipped weights say which passages they were trained on, and those are the ones that lie here."""
    passages = train_reader.read_passages()
    about = own_weights().about
    assert about["sha256"] == train_reader.fingerprint(passages), "run scripts/train_reader.py"
    assert about["passages"] == len(passages)


def test_weights_fit_the_reader() -> None:
    """The table has a row for every bucket and a column for every head, and the file stays small."""
    weights = own_weights()
    assert weights.table.shape == (TABLE_ROWS, HEADS)
    assert weights.rarity.shape == (TABLE_ROWS,)
    file = Path(train_reader.ROOM) / WEIGHTS_FILE
    assert file.stat().st_size < 5 * MEGABYTE


def test_a_file_of_weights_is_read_as_it_was_written() -> None:
    """Packing the shipped weights gives the shipped file, and every number begins where it may."""
    held = (Path(train_reader.ROOM) / WEIGHTS_FILE).read_bytes()
    assert train_reader.packed(own_weights()) == held
    assert (held.index(b"\n") + 1) % train_reader.ALIGNED == 0


def test_training_is_reproducible_to_the_bit() -> None:
    """The same passages give the same file, byte for byte."""
    pytest.importorskip("sklearn")
    passages = train_reader.read_passages()[::25]
    counts = train_reader.feature_counts([p.text for p in passages])
    first = train_reader.packed(train_reader.train(passages, counts))
    again = train_reader.packed(train_reader.train(passages, counts))
    assert first == again


def test_reading_is_what_training_saw() -> None:
    """The reader with numpy alone and the training script give a passage the same scores."""
    pytest.importorskip("scipy")
    texts = [p.text for p in train_reader.read_passages()[::400]]
    weights = own_weights()
    trained = train_reader.read_rows(train_reader.feature_counts(texts), weights)
    for text, row in zip(texts, trained, strict=True):
        words, features = features_of(text)
        assert reading(features, [Window(0, len(words))], weights)[0] == pytest.approx(row, abs=1e-4)


def test_held_out_voices_are_read() -> None:
    """A reader that has not seen a voice still tells most risks: the floor of the held-out score.

    On a fifth of the passages, so that the test stays quick; `train_reader.py --score` gives it on all.
    """
    pytest.importorskip("sklearn")
    passages = train_reader.read_passages()[::5]
    counts = train_reader.feature_counts([p.text for p in passages])
    score = train_reader.best_balance(passages, train_reader.held_out(passages, counts))
    assert score["f"] > 0.5


def test_folds_keep_voices_apart() -> None:
    """No voice is both learnt from and asked."""
    passages = train_reader.read_passages()
    fold = train_reader.folds_of(passages)
    of_voice: dict[str, set[int]] = {}
    for passage, number in zip(passages, fold, strict=True):
        of_voice.setdefault(passage.voice, set()).add(int(number))
    assert all(len(numbers) == 1 for numbers in of_voice.values())


WORDS = st.lists(
    st.sampled_from(
        [
            "the",
            "rags",
            "went",
            "in",
            "a",
            "bin",
            "with",
            "no",
            "mask",
            "on",
            "i",
            "never",
            "put",
            "it's",
            "96",
            "and",
            "vapour",
            "étau",
        ]
    ),
    min_size=1,
    max_size=40,
)


@settings(max_examples=30, deadline=None)
@given(words=WORDS, cut=st.tuples(st.integers(0, 40), st.integers(1, 41)))
def test_window_counts_what_lies_inside(words: list[str], cut: tuple[int, int]) -> None:
    """A window of a long run is read as if its words stood alone, whatever stands around them."""
    first, end = min(cut[0], len(words) - 1), min(cut[1], len(words))
    if first >= end:
        return
    plain = plain_words(" ".join(words))
    whole, part = hashed(plain, Mentions()), hashed(plain[first:end], Mentions())
    inside = window_logits(whole, [Window(first, end)], own_weights())
    alone = window_logits(part, [Window(0, end - first)], own_weights())
    assert inside[0] == pytest.approx(alone[0], abs=2e-3)


@settings(max_examples=20, deadline=None)
@given(words=WORDS)
def test_every_feature_lies_in_the_table_and_the_run(words: list[str]) -> None:
    """Buckets are rows of the table; no feature begins before the first word or ends after the last."""
    found, features = features_of(" ".join(words))
    assert features.bucket.min() >= 0
    assert features.bucket.max() < TABLE_ROWS
    assert features.word.max() < len(found)
    assert (features.word - features.span + 1).min() >= 0


def test_empty_text_has_no_features_and_no_windows() -> None:
    """Nothing said gives nothing to read."""
    words, features = features_of("  ...  ")
    assert words == []
    assert len(features.word) == 0
    assert list(windows(text_run(""))) == []


def test_scores_are_shares() -> None:
    """Scores lie between 0 and 1, one a topic, and grow with every head."""
    low, high = np.full((1, HEADS), -2, np.float32), np.full((1, HEADS), 2, np.float32)
    assert combined(low).shape == (1, len(TOPICS))
    assert 0 < combined(low)[0, 0] < combined(high)[0, 0] < 1


def test_letters_of_a_word_do_not_depend_on_its_neighbours() -> None:
    """A misspelt or unknown word is read by its letters, which stay inside the word."""
    alone = set(hashed(["respirator"], Mentions()).bucket.tolist())
    beside = hashed(["the", "respirator", "hung"], Mentions())
    own = set(beside.bucket[(beside.word == 1) & (beside.span == 1)].tolist())
    assert alone == own
