"""Train the reader for risk out of the written passages, and say how well it reads voices it has not seen.

    python scripts/train_reader.py            train on everything and write reelnotes/risk/reader.weights
    python scripts/train_reader.py --score    only the held-out score, per topic, with the learning curve

Needs the `train` extra (scikit-learn). The result depends on the passages alone, to the bit: liblinear's
primal solver has no chance in it, and the passages are read in the order of their own words.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from reelnotes.risk.features import GROUP_SCALE, TABLE_BITS, TABLE_ROWS, hashed
from reelnotes.risk.mentions import find_mentions
from reelnotes.risk.reader import BALLAST, HEADS, WEIGHTS_FILE, Weights, combined
from reelnotes.risk.rules import TOPICS, own_rules
from reelnotes.risk.speech import text_run

ROOM = Path(__file__).resolve().parent.parent / "reelnotes" / "risk"
#: How freely the heads may fit: topics, risk at all, a topic's own risk (liblinear's C).
FREEDOM_TOPIC, FREEDOM_RISK = 100.0, 40.0
#: Features seen in fewer passages are left out.
SEEN_IN = 2
FOLDS = 5
#: The numbers in the file of weights begin at a multiple of so many bytes.
ALIGNED = 16


@dataclass(frozen=True, slots=True)
class Passage:
    """A written passage: what it is about, whether the risk is told, and in whose voice."""

    topic: str
    label: str
    voice: str
    text: str

    @property
    def risky(self) -> bool:
        """Tell whether a risk is told in it."""
        return self.label == "risk"


def read_passages(folder: Path = ROOM / "passages") -> list[Passage]:
    """Read all passages, each once, in the order of their words."""
    rows = {}
    for path in sorted(folder.glob("*.jsonl")):
        for line in path.read_text(encoding="utf-8").splitlines():
            if line.strip():
                raw = json.loads(line)
                rows[raw["text"]] = Passage(raw["topic"], raw["label"], raw["voice"], raw["text"])
    return [rows[text] for text in sorted(rows)]


def passages_by_topic(passages: Sequence[Passage]) -> dict[str, Counter[str]]:
    """Count the passages of each topic by their label."""
    counted: dict[str, Counter[str]] = {}
    for passage in passages:
        counted.setdefault(passage.topic, Counter())[passage.label] += 1
    return dict(sorted(counted.items()))


def fingerprint(passages: Sequence[Passage]) -> str:
    """Give the SHA-256 of the passages."""
    lines = (f"{p.topic}\t{p.label}\t{p.voice}\t{p.text}\n" for p in passages)
    return sha256("".join(lines).encode()).hexdigest()


def feature_counts(texts: Sequence[str]) -> Any:  # noqa: ANN401 - a scipy matrix
    """Give the matrix of features, one row a text."""
    from scipy.sparse import csr_matrix

    book = own_rules()
    rows, columns, times = [], [], []
    for number, text in enumerate(texts):
        run = text_run(text)
        features = hashed(run.words, find_mentions(run.words, run.sentence, book))
        columns.append(features.bucket)
        times.append(features.times)
        rows.append(np.full(len(features.bucket), number, np.int32))
    at = (np.concatenate(rows), np.concatenate(columns))
    return csr_matrix((np.concatenate(times).astype(np.float32), at), shape=(len(texts), TABLE_ROWS))


def rarity_of(counts: Any) -> NDArray[np.float32]:  # noqa: ANN401 - a scipy matrix
    """Give the weight of each feature: the rarer the heavier (inverse document frequency), groups more."""
    seen = np.asarray((counts > 0).sum(axis=0)).ravel()
    weight = np.log((1 + counts.shape[0]) / (1 + seen)) + 1
    weight[1 << TABLE_BITS :] *= GROUP_SCALE
    weight[seen < SEEN_IN] = 0
    kept: NDArray[np.float32] = weight.astype(np.float16).astype(np.float32)
    return kept


def scaled(counts: Any, rarity: NDArray[np.float32]) -> Any:  # noqa: ANN401 - a scipy matrix
    """Weigh the features and bring every row to the length that the reader will give it."""
    from scipy.sparse import diags

    norm = np.sqrt(counts @ (rarity * rarity) + BALLAST)
    return (diags(1 / norm) @ counts @ diags(rarity)).tocsr()


def train(passages: Sequence[Passage], counts: Any) -> Weights:  # noqa: ANN401 - a scipy matrix
    """Fit every head and round the weights to whole steps."""
    from sklearn.linear_model import LogisticRegression

    rarity = rarity_of(counts)
    rows = scaled(counts, rarity)
    risky = np.array([p.risky for p in passages])
    topics = np.array([p.topic for p in passages])
    targets = [(topics == topic, FREEDOM_TOPIC) for topic in TOPICS]
    targets.append((risky, FREEDOM_RISK))
    targets += [((topics == topic) & risky, FREEDOM_TOPIC) for topic in TOPICS]
    table = np.zeros((TABLE_ROWS, HEADS), np.int8)
    step, offset = np.zeros(HEADS, np.float32), np.zeros(HEADS, np.float32)
    for head, (target, freedom) in enumerate(targets):
        model = LogisticRegression(C=freedom, solver="liblinear", max_iter=500, random_state=0)
        model.fit(rows, target)
        weights = model.coef_[0]
        step[head] = max(np.abs(weights).max(), 1e-6) / 127
        table[:, head] = np.rint(weights / step[head]).astype(np.int8)
        offset[head] = model.intercept_[0]
    return Weights(table, step, offset, rarity.astype(np.float16), {})


def read_rows(counts: Any, weights: Weights) -> NDArray[np.float32]:  # noqa: ANN401 - a scipy matrix
    """Give the score of each topic for each row, as the reader would."""
    rows = scaled(counts, weights.rarity.astype(np.float32))
    logits = rows @ (weights.table.astype(np.float32) * weights.step) + weights.offset
    return combined(np.asarray(logits, np.float32))


def folds_of(passages: Sequence[Passage], folds: int = FOLDS) -> NDArray[np.int64]:
    """Give each passage the fold of its voice, so that no voice is on both sides."""
    voices = sorted({p.voice for p in passages}, key=lambda v: crc32(v.encode()))
    fold = {voice: number % folds for number, voice in enumerate(voices)}
    return np.array([fold[p.voice] for p in passages])


def held_out(passages: Sequence[Passage], counts: Any, share: float = 1.0) -> NDArray[np.float32]:  # noqa: ANN401
    """Read every passage with a reader that has not seen its voice, trained on a share of the others."""
    fold = folds_of(passages)
    chance = np.array([crc32(p.text.encode()) / 2**32 for p in passages])
    scores = np.zeros((len(passages), len(TOPICS)), np.float32)
    for number in range(FOLDS):
        learnt = np.flatnonzero((fold != number) & (chance < share))
        weights = train([passages[int(i)] for i in learnt], counts[learnt])
        asked = np.flatnonzero(fold == number)
        scores[asked] = read_rows(counts[asked], weights)
    return scores


def best_balance(passages: Sequence[Passage], scores: NDArray[np.float32]) -> dict[str, float]:
    """Give precision, recall and F at the threshold that balances them best, and the average precision."""
    truth = np.array([[p.risky and p.topic == topic for topic in TOPICS] for p in passages])
    order = np.argsort(-scores.ravel(), kind="stable")
    hits = np.cumsum(truth.ravel()[order])
    precision, recall = hits / np.arange(1, len(hits) + 1), hits / max(1, truth.sum())
    balance = 2 * precision * recall / np.maximum(precision + recall, 1e-9)
    best = int(balance.argmax())
    average = float((precision * truth.ravel()[order]).sum() / max(1, truth.sum()))
    return {
        "average_precision": round(average, 3),
        "f": round(float(balance[best]), 3),
        "precision": round(float(precision[best]), 3),
        "recall": round(float(recall[best]), 3),
        "threshold": round(float(scores.ravel()[order][best]), 3),
    }


def held_out_score() -> dict[str, float]:
    """Give what `make score` prints: how well voices are read that the reader has not seen."""
    passages = read_passages()
    return best_balance(passages, held_out(passages, feature_counts([p.text for p in passages])))


def packed(weights: Weights) -> bytes:
    """Give the file of weights, as `unpacked` reads it; its bytes depend on the weights alone."""
    parts = {
        "step": weights.step.astype("<f4"),
        "offset": weights.offset.astype("<f4"),
        "rarity": weights.rarity.astype("<f2"),
        "table": weights.table,
    }
    names = [(name, part.dtype.str, part.shape) for name, part in parts.items()]
    head = json.dumps({"about": weights.about, "parts": names}, sort_keys=True)
    head = head.ljust(-(len(head) + 1) % ALIGNED + len(head))
    return b"".join([head.encode(), b"\n", *(part.tobytes() for part in parts.values())])


def main(arguments: list[str]) -> int:
    """Train, or only score."""
    passages = read_passages()
    counts = feature_counts([p.text for p in passages])
    voices = len({p.voice for p in passages})
    print(f"{len(passages)} passages, {voices} voices, {counts.nnz / len(passages):.0f} features each")
    if "--score" in arguments:
        for topic, counted in passages_by_topic(passages).items():
            print(
                f"  {topic:14} {counted['risk']:4d} risk {counted['safe']:4d} safe {counted['none']:5d} none"
            )
        for share in (0.25, 0.5, 1.0):
            print(f"share {share:.2f}: {best_balance(passages, held_out(passages, counts, share))}")
        return 0
    weights = train(passages, counts)
    weights.about.update(passages=len(passages), voices=voices, sha256=fingerprint(passages))
    data = packed(weights)
    (ROOM / WEIGHTS_FILE).write_bytes(data)
    print(f"{WEIGHTS_FILE}: {len(data) / 1e6:.2f} MB")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
