"""A workshop's own names for its products."""

from __future__ import annotations

from pathlib import Path

from reelnotes.model import ShelfItem
from reelnotes.pipeline.episode import draft_episode
from reelnotes.words.nicknames import nicknamed

SHELF = (ShelfItem("Garnet polish", notes="shake"), ShelfItem("Hide glue"), ShelfItem("Fish glue"))


def test_a_group_names_the_product_it_speaks_of() -> None:
    """The other words of a group become names of the one product that has the first in its name."""
    polish, *others = nicknamed(SHELF, [["garnet polish", "the brown", "witches' brew"]])
    assert polish.notes == "shake; aka the brown, witches' brew"
    assert others == list(SHELF[1:])


def test_a_group_that_speaks_of_two_speaks_of_none() -> None:
    """Where two products have the word, nobody knows which is meant."""
    assert nicknamed(SHELF, [["glue", "gloop"], ["", "x"], ["varnish", "shine"]]) == SHELF


def test_a_draft_counts_what_goes_by_its_nickname(tmp_path: Path) -> None:
    """What workshop.toml calls a product is that product in log and list."""
    folder = tmp_path / "episodes" / "stool"
    folder.mkdir(parents=True)
    (tmp_path / "workshop.toml").write_text('[words]\nsame = [["garnet polish", "gloop"]]\n')
    (tmp_path / "shelf.csv").write_text("name,pack,unit,price,kind\nGarnet polish,500,ml,20,finish\n")
    (folder / "shop-log.txt").write_text("2026-03-04\n09:40 gloop 50 ml on the seat\n")
    draft, _ = draft_episode(folder)
    assert [(m.name, str(m.amount), m.unit) for m in draft.spending.materials] == [
        ("Garnet polish", "50", "ml")
    ]
