"""The finishes of an episode, by its log and its shelf: when each coat went on, and what the shelf says."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from reelnotes.bench.drying_answer import Finish
from reelnotes.model import ShelfItem
from reelnotes.pipeline.reading import EpisodeFacts, read_episode
from reelnotes.project import episodes_of
from reelnotes.risk.coats import coats_of

if TYPE_CHECKING:
    from collections.abc import Mapping


def finishes_of(facts: EpisodeFacts) -> list[Finish]:
    """Give the finishes of which the log tells a coat, in its order; hours that an entry tells hold."""
    found: dict[str, Finish] = {}
    for coat in coats_of(facts.entries, facts.shelf):
        name = coat.item.name if coat.item else coat.kind
        item = coat.item or ShelfItem("")
        before = found.get(name) or Finish(name, item.notes, item.line)
        notes = (
            before.notes if coat.says_h is None else f"{before.notes}; next coat {coat.says_h:g} h by the log"
        )
        at = coat.entry.logged_at
        found[name] = Finish(name, notes.lstrip("; "), before.line, (*before.at, *([at] if at else [])))
    return list(found.values())


def lent_drying(workshop: Path, episode: str, product: str) -> Mapping[str, str]:
    """Give the shelf's notes and the coats of a finish in an episode of a workshop; empty without them."""
    folder = episodes_of(workshop).get(episode)
    if folder is None:
        return {}
    facts, _ = read_episode(folder)
    finishes = [one for one in finishes_of(facts) if one.product.casefold() == product.strip().casefold()]
    return {name: finishes[0].measures("")[name] for name in ("notes", "at")} if finishes else {}
