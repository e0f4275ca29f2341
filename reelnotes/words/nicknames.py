"""A workshop's own names for what stands on its shelf."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace

from reelnotes.model import ShelfItem


def nicknamed(shelf: Sequence[ShelfItem], groups: Iterable[Sequence[str]]) -> tuple[ShelfItem, ...]:
    """Give the shelf with the workshop's other names for its products in their notes, as `aka ...`.

    `groups` are words that mean the same here (`[words] same` in workshop.toml). A group speaks of a product
    if one of its words stands in the product's name as it is; where that is so of several products, it speaks
    of none.
    """
    known = list(shelf)
    for group in groups:
        meant = {
            number
            for number, item in enumerate(shelf)
            if any(_stands_in(word, item.name) for word in group if word.strip())
        }
        if len(meant) != 1:
            continue
        (number,) = meant
        item = known[number]
        others = [word.strip() for word in group if word.strip() and not _stands_in(word, item.name)]
        if others:
            notes = f"{item.notes}; " if item.notes else ""
            known[number] = replace(item, notes=f"{notes}aka {', '.join(others)}")
    return tuple(known)


def _stands_in(word: str, name: str) -> bool:
    return re.search(rf"\b{re.escape(word.strip().casefold())}\b", name.casefold()) is not None
