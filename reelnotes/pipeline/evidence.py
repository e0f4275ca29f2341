"""What a record cites of the bench, worked out afresh wherever the record is read.

Nothing of the bench is loaded, and no settings are read, where nothing cites it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from reelnotes.model import Correction
from reelnotes.pipeline.reading import workshop_settings
from reelnotes.problems import Problem, Refusal
from reelnotes.settings import WorkshopSettings
from reelnotes.store import SourceText

CITES = "bench:"


def work_out(
    evidence_line: str, settings: WorkshopSettings | None = None, workshop: Path | None = None
) -> tuple[str, list[Problem]]:
    """Work out a line of evidence afresh: the answer in words fit for viewers, and what is wrong with it.

    A line that cites no computation is given back as it is. One that cannot be worked out gives an empty text
    and a problem; one whose answer is not the recorded one gives the answer of today and a problem that tells
    both. The problems name no file yet. `settings` lend the climate to a line that asks for the workshop's,
    `workshop` its episodes to one that asks for the coats of one; its settings are read if they are missing.
    """
    if not evidence_line.startswith(CITES):
        return evidence_line, []
    from reelnotes.bench.evidence import cite_and_answer, same_answer, told, worked_out

    try:
        finding, _ = worked_out(evidence_line, lent_measures(evidence_line, settings, workshop))
    except Refusal as refusal:
        message = f"the evidence cannot be worked out: {str(refusal).rstrip('.')}"
        return "", [Problem("evidence", message, excerpt=evidence_line)]
    now = told(finding)
    cite, was = cite_and_answer(evidence_line)
    if not was or same_answer(was, now):
        return now, []
    message = f"the evidence gives another answer than when it was recorded; it was: {was} Now it is: {now}"
    message += " See what was published, and write the new answer into the record"
    return now, [Problem("evidence-changed", message, excerpt=cite)]


def with_evidence(
    record: Correction,
    settings: WorkshopSettings | None,
    workshop: Path,
    source: SourceText | None = None,
) -> tuple[Correction, list[Problem]]:
    """Give a record with the answers of all it cites, and what is wrong with them in the file it is from."""
    answers: list[str] = []
    problems: list[Problem] = []
    for evidence in record.evidence:
        if evidence.startswith(CITES):
            answer, found = work_out(evidence, settings, workshop)
            answers += [answer] if answer else []
            problems += [_placed(problem, evidence, source) for problem in found]
    return replace(record, worked_out=tuple(answers)), problems


def _placed(problem: Problem, evidence: str, source: SourceText | None) -> Problem:
    """Name the file and the line in which a line of evidence stands."""
    if source is None:
        return problem
    for wanted in (evidence.split(" ", 1)[0], "evidence"):
        for number, line in enumerate(source.lines, start=1):
            if wanted in line:
                return replace(problem, file=source.name, line=number, excerpt="")
    return replace(problem, file=source.name)


# --- what the workshop lends ---------------------------------------------------------------------------


def lent_measures(
    evidence_line: str, settings: WorkshopSettings | None, workshop: Path | None
) -> Mapping[str, str]:
    """Give what a line asks for without holding it: the workshop's climate, the coats of an episode."""
    from reelnotes.bench.evidence import cite_and_answer
    from reelnotes.bench.finding import read_cite

    _, measures = read_cite(cite_and_answer(evidence_line)[0])
    if "climate" in measures:
        known = settings or (workshop_settings(workshop) if workshop else None)
        return climate_measures(known) if known else {}
    if "episode" in measures and workshop:
        from reelnotes.pipeline.finishes import lent_drying

        return lent_drying(workshop, measures["episode"], measures.get("product", ""))
    return {}


def climate_measures(settings: WorkshopSettings) -> Mapping[str, str]:
    """Give a workshop's twelve months as measures of the bench; empty where it has no climate."""

    def words(values: Sequence[float]) -> str:
        return " ".join(f"{value:g}" for value in values)

    climate = settings.climate
    if not climate.humidity:
        return {}
    return {"months_rh": words(climate.humidity), "months_temp": words(climate.temperature_c)}
