"""Drafts of the labelled episodes against their labels, where they are at hand.

Prints the table of the cases folder's own `score.py` over what `reelnotes draft` writes, then the matcher's
figures with whatever is fitted fitted on the other makers' episodes only, and how far its chances can be
believed; then flags, the threshold chosen on the other makers (`fit_flags.py`). The folder is the argument,
else the environment's REELNOTES_CASES, else ../shared/cases beside the checkout. A second argument names a
folder of further labelled episodes, each of one more maker.
"""

from __future__ import annotations

import importlib.util
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType
from typing import Any

from fit_flags import flag_tables
from fit_matcher import changed, fitted, labelled, tuning_of

from reelnotes.align.matcher import align
from reelnotes.align.telling import Tuning
from reelnotes.model import Step
from reelnotes.pipeline.reading import read_episode
from reelnotes.words.lexicon import load_lexicon

ROOT = Path(__file__).resolve().parents[1]
#: Episodes whose maker made no other of the folder; all the rest are one maker's.
LONE = frozenset({"garden-bench", "wardrobe-mirror"})
TOLD_EDGES = (0.0, 0.1, 0.3, 0.7, 0.9, 1.01)
SURE_EDGES = (0.0, 0.5, 0.8, 0.95, 1.01)
MS = 1000


def main() -> int:
    """Score every episode of the cases folder."""
    cases = Path(
        sys.argv[1]
        if len(sys.argv) > 1
        else os.environ.get("REELNOTES_CASES") or ROOT.parent / "shared" / "cases"
    )
    episodes = sorted(path.parent for path in cases.glob("*/truth.json"))
    if not episodes or not (cases / "score.py").is_file():
        print(f"No labelled episodes in {cases}; nothing was scored.")
        return 0
    with tempfile.TemporaryDirectory() as scratch:
        drafted = [draft(episode, Path(scratch) / episode.name) for episode in episodes]
        pairs = [str(path) for pair in zip(episodes, drafted, strict=True) for path in pair]
        subprocess.run([sys.executable, str(cases / "score.py"), *pairs], check=True)
    print("\nSteps, with all that is fitted fitted on the other makers' episodes:")
    leave_one_maker_out(episodes, scorer(cases))
    further = sorted(path.parent for path in Path(sys.argv[2]).glob("*/truth.json")) if sys.argv[2:] else []
    makers = {group[0].name: group for group in groups(episodes)}
    print("\n".join(flag_tables(makers, further, scorer(cases))))
    return 0


def draft(episode: Path, out: Path) -> Path:
    """Run the real command; exit 1 (problems found) is a draft too."""
    command = [sys.executable, "-m", "reelnotes", "draft", str(episode), "--out", str(out)]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    if run.returncode not in {0, 1}:
        sys.exit(f"{episode.name}: the draft failed.\n{run.stderr}")
    return out / "draft.json"


def scorer(cases: Path) -> ModuleType:
    """Load the folder's own scorer."""
    spec = importlib.util.spec_from_file_location("cases_score", cases / "score.py")
    if spec is None or spec.loader is None:
        sys.exit(f"{cases / 'score.py'} cannot be loaded.")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@dataclass
class Belief:
    """Chances and whether they came true, for one table of calibration."""

    title: str
    edges: tuple[float, ...]
    pairs: list[tuple[float, bool]] = field(default_factory=list)

    def lines(self) -> Iterator[str]:
        """Give a line for each band of chances that occurs."""
        yield self.title
        for low, high in zip(self.edges, self.edges[1:], strict=False):
            band = [pair for pair in self.pairs if low <= pair[0] < high]
            if band:
                mean, true = (sum(values) / len(band) for values in zip(*band, strict=True))
                yield f"  {low:4.2f} to {min(high, 1):4.2f} {len(band):5d}  said {mean:.2f}  true {true:.2f}"


def leave_one_maker_out(episodes: list[Path], score: Any) -> None:  # noqa: ANN401 - a module by path
    """Fit on all other makers, draft the one left out, and print figures and calibration."""
    told, sure = (
        Belief("told, against being told", TOLD_EDGES),
        Belief("confidence, against being right", SURE_EDGES),
    )
    totals: dict[str, int] = {}
    known = {episode: labelled(episode) for episode in episodes}
    for group in groups(episodes):
        values = fitted([known[episode] for episode in episodes if episode not in group])
        print(f"  without {', '.join(episode.name for episode in group)}: {changed(values)}")
        for episode in group:
            truth = json.loads((episode / "truth.json").read_text("utf-8"))["steps"]
            steps = steps_with(tuning_of(values), episode)
            rows = [
                {"entry": s.entry, "spans": [{"start_s": x.start_ms / MS} for x in s.spans]} for s in steps
            ]
            counts, _ = score.score_steps(truth, rows)
            score.add(totals, counts)
            print(f"    {episode.name:22} {figures(counts)}")
            for step, label in zip(steps, truth, strict=True):
                told.pairs.append((step.told, bool(label["spans"])))
                for span in step.spans:
                    at = span.start_ms / MS
                    right = any(low - 10 <= at <= high + 10 for low, high in label["spans"])
                    sure.pairs.append((span.confidence, right))
    print(f"    {'ALL':22} {figures(totals)}\n")
    print("\n".join([*told.lines(), *sure.lines()]))


def groups(episodes: list[Path]) -> list[list[Path]]:
    """Put the episodes of one maker together."""
    together = [episode for episode in episodes if episode.name not in LONE]
    return [
        group
        for group in (together, *([e] for e in episodes if e.name in LONE))
        if group and len(group) < len(episodes)
    ]


def steps_with(tuning: Tuning, episode: Path) -> tuple[Step, ...]:
    """Align an episode with another tuning."""
    facts, _ = read_episode(episode)
    lexicon = load_lexicon(facts.workshop.words)
    alignment, _ = align(
        facts.entries, facts.cues, lexicon, facts.shelf, facts.clips, facts.cuts, facts.pins, tuning=tuning
    )
    return alignment.steps


def figures(counts: dict[str, int]) -> str:
    """Write accuracy, located and off camera."""
    right = counts["located_n"] + counts["left_out_n"]
    parts = (
        ("accuracy", right, counts["entries"]),
        ("located", counts["located_n"], counts["told"]),
        ("off_camera", counts["left_out_n"], counts["absent"]),
    )
    return "  ".join(f"{name} {part / whole if whole else 1:.3f}" for name, part, whole in parts)


if __name__ == "__main__":
    raise SystemExit(main())
