"""What the bench takes from the folder: the workshop's climate, an episode's coats and its shelf."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from reelnotes.bench.drying_answer import Finish, answer_drying, answer_episode
from reelnotes.bench.units import BadMeasure
from reelnotes.pipeline.episode import draft_episode
from reelnotes.pipeline.finishes import finishes_of
from reelnotes.pipeline.reading import EpisodeFacts, read_episode
from reelnotes.problems import Problem
from reelnotes.risk.coats import Hurried, coats_of, hurried

if TYPE_CHECKING:
    from collections.abc import Mapping

    from reelnotes.bench.finding import Finding


def drying_in(episode: Path, given: Mapping[str, str]) -> tuple[Finding, list[Problem]]:
    """Answer what may go on when in an episode: its coats by the log's clock, its times from the shelf.

    With a `product` that finish alone is asked for, and `notes` and `at` may stand in for shelf and log.
    Without, every finish is told, and what the draft flags as too soon is reported. Raises a `Refusal`.
    """
    facts, _ = read_episode(episode)
    finishes = finishes_of(facts)
    asked = {name: words for name, words in given.items() if words}
    if not asked.get("product"):
        finding = answer_episode(finishes, facts.folder.slug)
        return finding, [_problem(case, facts) for case in hurried(coats_of(facts.entries, facts.shelf))]
    wanted, slug = asked["product"].casefold(), facts.folder.slug
    if asked.keys() & {"notes", "at"}:
        slug = ""  # other times than the episode's own: it cannot give them again
    one = next((f for f in finishes if f.product.casefold() == wanted), None)
    if one is None:
        one, slug = _used(facts, wanted), ""
    if one is None:
        names = ", ".join(finish.product for finish in finishes) or "none that the log tells of"
        raise BadMeasure(asked["product"], f"--product with one of {names}")
    return answer_drying({**one.measures(slug), **asked, "product": one.product})


def _used(facts: EpisodeFacts, wanted: str) -> Finish | None:
    """Give a product that the log uses without speaking of coats; its uses count as coats."""
    drafted, _ = draft_episode(facts.folder.named)
    material = next(
        (m for m in drafted.spending.materials if m.name.casefold() == wanted and m.entries), None
    )
    item = next((item for item in facts.shelf if item.name.casefold() == wanted), None)
    if material is None or item is None:
        return None
    times = [drafted.entries[entry].logged_at for entry in material.entries]
    return Finish(item.name, item.notes, item.line, tuple(time for time in times if time))


def _problem(case: Hurried, facts: EpisodeFacts) -> Problem:
    """Report a coat that came too soon, at its line of the log, with the line of the shelf."""
    item = case.before.item
    asked = "before its next coat" if case.own else "before any other product"
    told = f" (line {item.line} of the shelf: {case.said})" if case.said and item else " (told in the log)"
    message = f"went on {case.apart_h:.1f} h after the coat before it; {case.wanted_h:g} h are asked for"
    entry = case.after.entry
    file = facts.folder.shown(facts.folder.log) if facts.folder.log else ""
    return Problem("bench-early", f"{message} {asked}{told}", file, entry.line, entry.text)
