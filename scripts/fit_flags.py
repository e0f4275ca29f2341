"""Choose from which score on a place becomes a flag, and say how flags fare on makers that were left out.

Only one figure is chosen on labelled episodes: the threshold `LOOK` of reelnotes/risk/reading.py. A place's
score does not depend on it, so each episode is read once and its flags are drawn at every threshold.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from reelnotes.align.matcher import align
from reelnotes.model import Flag, Step
from reelnotes.pipeline.reading import read_episode
from reelnotes.risk.flags import flags_of
from reelnotes.risk.places import Place
from reelnotes.risk.reading import LOOK, read_places
from reelnotes.risk.rules import own_rules
from reelnotes.words.lexicon import load_lexicon

#: The thresholds that are tried.
THRESHOLDS = tuple(number / 100 for number in range(10, 61))
#: What a threshold must keep to on the episodes that it is chosen on; among those that do, recall decides.
LEAST_PRECISION, MOST_SAFE = 0.70, 0.12
MS = 1000


@dataclass
class Labelled:
    """An episode with its labels, and the counts of its flags at each threshold."""

    name: str
    maker: str
    truth: dict[str, Any]
    steps: tuple[Step, ...]
    places: list[Place]
    at: dict[float, dict[str, int]] = field(default_factory=dict)

    def counts(self, look: float, score: Any) -> dict[str, int]:  # noqa: ANN401 - a module by path
        """Count the flags at a threshold as the cases folder's scorer does."""
        if look not in self.at:
            kept = [place for place in self.places if place.score >= look]
            rows = [row_of(flag) for flag in flags_of(kept, self.steps, own_rules())]
            truth = self.truth
            self.at[look], _ = score.score_flags(
                truth["risks"], truth["safe"], truth.get("doubtful", []), rows
            )
        return self.at[look]


def row_of(flag: Flag) -> dict[str, Any]:
    """Give of a flag what the scorer looks at."""
    start, end = (None if ms is None else ms / MS for ms in (flag.start_ms, flag.end_ms))
    return {
        "topic": flag.topic, "entry": flag.entry, "quote": flag.quote, "start_s": start, "end_s": end
    }  # fmt: skip


def labelled_flags(episode: Path, maker: str) -> Labelled:
    """Read an episode and its labels."""
    facts, _ = read_episode(episode)
    lexicon = load_lexicon(facts.workshop.words)
    alignment, _ = align(
        facts.entries, facts.cues, lexicon, facts.shelf, facts.clips, facts.cuts, facts.pins,
        camera_offset_s=facts.settings.camera_offset_s,
    )  # fmt: skip
    places = read_places(
        facts.entries, facts.cues, alignment.steps, facts.shelf, lexicon, own_rules(), min(THRESHOLDS)
    )
    truth = json.loads((episode / "truth.json").read_text("utf-8"))
    return Labelled(episode.name, maker, truth, alignment.steps, places)


def total(episodes: Iterable[Labelled], look: float, score: Any) -> dict[str, int]:  # noqa: ANN401
    """Add up the counts of several episodes."""
    added: dict[str, int] = {}
    for episode in episodes:
        score.add(added, episode.counts(look, score))
    return added


def shares(counts: dict[str, int]) -> tuple[float, float, float]:
    """Give precision, recall and the share of safe places that are flagged."""
    precision = 1 - counts["false"] / counts["flags"] if counts["flags"] else 1.0
    return precision, counts["found"] / counts["risks"], counts["safe_flagged"] / max(1, counts["safe"])


def chosen(episodes: Sequence[Labelled], score: Any) -> float:  # noqa: ANN401 - a module by path
    """Choose the threshold: the most recall that keeps to the limits, else the most precision."""

    def worth(look: float) -> tuple[bool, float]:
        precision, recall, safe = shares(total(episodes, look, score))
        keeps = precision >= LEAST_PRECISION and safe < MOST_SAFE
        return keeps, recall if keeps else precision

    return max(THRESHOLDS, key=worth)


def line(name: str, counts: dict[str, int], look: str) -> str:
    """Give a line of the table."""
    precision, recall, safe = shares(counts)
    return (
        f"  {name:34} precision {precision:.3f}  recall {recall:.3f}  safe flagged {safe:.3f}"
        f"  ({counts['found']} of {counts['risks']} risks, {counts['flags']} flags)  from {look}"
    )


def left_out(asked: Sequence[Labelled], known: Sequence[Labelled], score: Any) -> list[str]:  # noqa: ANN401
    """Give the table of `asked`, each maker's threshold chosen on all other makers of `known`."""
    added: dict[str, int] = {}
    lines = []
    for maker in dict.fromkeys(episode.maker for episode in asked):
        others = [episode for episode in known if episode.maker != maker]
        look = chosen(others, score)
        own = total([episode for episode in asked if episode.maker == maker], look, score)
        score.add(added, own)
        lines.append(line(maker, own, f"{look:.2f}"))
    return [*lines, line("ALL", added, "each its own")]


def flag_tables(cases: dict[str, list[Path]], more: Sequence[Path], score: Any) -> list[str]:  # noqa: ANN401
    """Give all tables: `cases` are the episodes by maker, `more` episodes of one further maker each."""
    tuning = [labelled_flags(path, maker) for maker, paths in cases.items() for path in paths]
    further = [labelled_flags(path, path.name) for path in more]
    known = [*tuning, *further]
    lines = [f"\nFlags of the cases folder, at the threshold in use ({LOOK}):"]
    lines.append(line("ALL", total(tuning, LOOK, score), f"{LOOK:.2f}"))
    lines.append("The same, the threshold chosen on the other makers:")
    lines += left_out(tuning, known, score)
    if further:
        look = chosen(tuning, score)
        lines.append("Further makers, the threshold chosen on the cases folder:")
        lines += [line(e.name, e.counts(look, score), f"{look:.2f}") for e in further]
        lines.append(line("ALL", total(further, look, score), f"{look:.2f}"))
        lines.append("Further makers, the threshold chosen on all other makers:")
        lines += left_out(further, known, score)
        lines.append("Further makers, at the threshold in use:")
        lines.append(line("ALL", total(further, LOOK, score), f"{LOOK:.2f}"))
    lines.append(f"Chosen on all: {chosen(known, score):.2f}")
    return lines
