"""Every computation of the bench by its name, so that what cites one can have it worked out again.

To add a computation: write `answer_…(measures) -> (Finding, problems)` in a module of its own, name it below
and in `COMPUTATIONS`, give it a command in `cli/bench.py`, and describe it in `docs/bench.md`. Each loads
when it is asked for: a draft that cites one loads that one.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from reelnotes.bench.finding import CITE_PREFIX, Finding, UnknownComputation, read_cite
from reelnotes.problems import Problem

Measured = Mapping[str, str]
Answered = tuple[Finding, list[Problem]]
Answer = Callable[[Measured], Answered]

#: Between what a line of evidence cites and the answer that it gave when it was recorded.
GAVE = " gave: "
_NUMBER = re.compile(r"\d+(?:[.,/]\d+)*")


def _movement(given: Measured) -> Answered:
    from reelnotes.bench.movement_answer import answer_movement

    return answer_movement(given)


def _pulls(given: Measured) -> Answered:
    from reelnotes.bench.pulls_answer import answer_pulls

    return answer_pulls(given)


def _coverage(given: Measured) -> Answered:
    from reelnotes.bench.finishes_answer import answer_coverage

    return answer_coverage(given)


def _mix(given: Measured) -> Answered:
    from reelnotes.bench.finishes_answer import answer_mix

    return answer_mix(given)


def _drying(given: Measured) -> Answered:
    from reelnotes.bench.drying_answer import answer_drying

    return answer_drying(given)


COMPUTATIONS: dict[str, Answer] = {
    "movement": _movement,
    "pulls": _pulls,
    "coverage": _coverage,
    "mix": _mix,
    "drying": _drying,
}


def worked_out(evidence: str, lent: Measured | None = None) -> Answered:
    """Work out again what a line such as `bench:movement?wood=white+oak&width=420mm&rh=35+75` cites.

    `lent` are measures that the line asks for without holding them: a workshop's twelve months
    (`climate=workshop`), the coats of an episode (`episode=oak-stool`). Raises a `Refusal` where the line
    names no computation or a measure in it cannot be read.
    """
    cite, _ = cite_and_answer(evidence)
    kind, measures = read_cite(cite)
    if kind not in COMPUTATIONS:
        raise UnknownComputation(cite, COMPUTATIONS)
    return COMPUTATIONS[kind]({**measures, **(lent or {})})


def is_cited(evidence: str) -> bool:
    """Tell whether a line of evidence cites a computation."""
    return evidence.startswith(CITE_PREFIX)


def cite_and_answer(evidence: str) -> tuple[str, str]:
    """Take a line apart: what it cites, and the answer that was recorded with it (empty where none was)."""
    cite, _, answer = evidence.partition(GAVE)
    return cite.strip(), answer.strip()


def recorded(finding: Finding) -> str:
    """Give the line under which a finding is kept as evidence, with its answer of today."""
    return f"{finding.cite}{GAVE}{told(finding)}"


def told(finding: Finding) -> str:
    """Give the answer in a sentence fit for viewers: figures from memory and estimates are called so."""
    marks = " ".join(row.mark for row in finding.rows)
    said = [
        words
        for mark, words in (("estimate", "an estimate"), ("from memory", "in part with figures from memory"))
        if mark in marks
    ]
    return f"{'; '.join([finding.sentence.rstrip('.'), *said])}."


def same_answer(was: str, now: str) -> bool:
    """Tell whether two answers are the same in their figures; other words for them do not count."""
    return was == now or _NUMBER.findall(was) == _NUMBER.findall(now)
