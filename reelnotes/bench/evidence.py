"""Every computation of the bench by its name, so that what cites one can have it worked out again.

To add a computation: write `answer_…(measures) -> (Finding, problems)` in a module of its own, add one line
to `COMPUTATIONS`, give it a command in `cli/bench.py`, and describe it in `docs/bench.md`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from reelnotes.bench.drying_answer import answer_drying
from reelnotes.bench.finding import Finding, UnknownComputation, read_cite
from reelnotes.bench.finishes_answer import answer_coverage, answer_mix
from reelnotes.bench.movement_answer import answer_movement
from reelnotes.bench.pulls_answer import answer_pulls
from reelnotes.problems import Problem

Answer = Callable[[Mapping[str, str]], tuple[Finding, list[Problem]]]

COMPUTATIONS: dict[str, Answer] = {
    "movement": answer_movement,
    "pulls": answer_pulls,
    "coverage": answer_coverage,
    "mix": answer_mix,
    "drying": answer_drying,
}


def worked_out(cite: str) -> tuple[Finding, list[Problem]]:
    """Work out again what a line such as `bench:movement?wood=white+oak&width=420mm&rh=35+75` cites.

    Raises a `Refusal` where it names no computation or a measure in it cannot be read.
    """
    kind, measures = read_cite(cite)
    if kind not in COMPUTATIONS:
        raise UnknownComputation(cite, COMPUTATIONS)
    return COMPUTATIONS[kind](measures)
