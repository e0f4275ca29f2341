"""Coefficients of dimensional change across the grain, per 1 % of moisture content.

Wood Handbook (USDA Forest Products Laboratory, FPL-GTR-190, 2010), table 13-5: for 6 to 14 % moisture
content, based on the dimension at 10 %. How each value came to us is kept with it: read on the page, read in
a transcription of it, or remembered. What is remembered is never shown as a citation.
"""

from __future__ import annotations

from typing import Literal

from reelnotes.problems import Refusal
from reelnotes.records import frozen

Cut = Literal["flat", "quarter", "rift"]
Origin = Literal["read", "transcribed", "memory", "given", "derived"]

#: What stands behind a value, as it is told to people.
ORIGIN_WORDS: dict[Origin, str] = {
    "read": "Wood Handbook FPL-GTR-190, table 13-5",
    "transcribed": "Wood Handbook FPL-GTR-190, table 13-5, read in a transcription",
    "memory": "from memory, not checked",
    "given": "given by you",
    "derived": "worked out from the shrinkage given by you",
}


@frozen
class Coefficient:
    """Change per unit of width and per 1 % of moisture content, with its origin."""

    value: float
    origin: Origin


@frozen
class Wood:
    """A row of the table; `other_names` are trade names under which it is also asked for."""

    name: str
    radial: Coefficient
    tangential: Coefficient
    other_names: tuple[str, ...] = ()


#: Names of places whose woods the table does not hold, though it has some of the same name.
_ABROAD = frozenset(
    ("austrian", "baltic", "british", "english", "european", "french", "german", "japanese", "scots")
)
_ALIKE, _MOST_NEAR = 0.65, 4


class UnknownWood(Refusal):
    """A wood that the table does not hold, or a name that several woods bear."""

    def __init__(self, name: str, near: list[str]) -> None:
        self.name, self.near = name, near
        meant = f"did you mean {' or '.join(near)}? Else give" if near else "give"
        abroad = " It is a table of American woods." if _words(name) & _ABROAD else ""
        super().__init__(
            f"{name!r}: the table holds no single wood of that name; {meant} "
            f"its own figures with --coefficient or --shrinkage.{abroad}"
        )


def _wood(name: str, radial: float, tangential: float, origins: str = "rr", *other_names: str) -> Wood:
    origin: dict[str, Origin] = {"r": "read", "t": "transcribed", "m": "memory"}
    return Wood(
        name,
        Coefficient(radial, origin[origins[0]]),
        Coefficient(tangential, origin[origins[1]]),
        other_names,
    )


#: The rows of table 13-5 that we hold; red and white oak are commercial groups there, not single species.
#: Letters: r read on the page, t read in a transcription, m from memory;
#: first for radial, then for tangential.
WOODS: tuple[Wood, ...] = (
    _wood("red alder", 0.00151, 0.00256),
    _wood("white ash", 0.00169, 0.00274),
    _wood("American basswood", 0.00230, 0.00330),
    _wood("American beech", 0.00190, 0.00431),
    _wood("yellow birch", 0.00256, 0.00338, "rr", "sweet birch"),
    _wood("butternut", 0.00116, 0.00223),
    _wood("black cherry", 0.00126, 0.00248),
    _wood("American chestnut", 0.00116, 0.00234),
    _wood("American elm", 0.00144, 0.00338),
    _wood("sugar maple", 0.00165, 0.00353, "rr", "hard maple", "black maple"),
    _wood("red maple", 0.00137, 0.00289),
    _wood("red oak", 0.00158, 0.00369),
    _wood("white oak", 0.00180, 0.00365),
    _wood("sweetgum", 0.00183, 0.00365),
    _wood("American sycamore", 0.00172, 0.00296),
    _wood("black walnut", 0.00190, 0.00274),
    _wood("yellow-poplar", 0.00158, 0.00289, "tt", "tulipwood"),
    _wood("eastern white pine", 0.00071, 0.00212, "tt"),
    _wood("white fir", 0.00112, 0.00245, "mt"),
    _wood("mahogany", 0.00172, 0.00238, "tt"),
    _wood("ponderosa pine", 0.00133, 0.00216, "mm"),
    _wood("coast Douglas-fir", 0.00165, 0.00267, "mm"),
    _wood("interior north Douglas-fir", 0.00130, 0.00241, "mm"),
    _wood("western red cedar", 0.00111, 0.00234, "mm", "western redcedar"),
    _wood("teak", 0.00101, 0.00186, "mt"),
)


def find_wood(name: str) -> Wood:
    """Find a wood by its words in any order: `eastern white pine`, `white oak`. Raises `UnknownWood`.

    One word will do where only one wood bears it; where several do, they are named.
    """
    asked = _words(name)
    bearing = [w for w in WOODS if any(asked and asked <= _words(n) for n in (w.name, *w.other_names))]
    exact = [w for w in bearing if any(asked == _words(n) for n in (w.name, *w.other_names))]
    found = exact or bearing
    if len(found) != 1:
        raise UnknownWood(name, [w.name for w in found] or _near(asked))
    return found[0]


def _near(asked: frozenset[str]) -> list[str]:
    """Name the woods that share most words with those asked for, slips of the pen forgiven; three at most."""
    from difflib import get_close_matches

    known = {word for wood in WOODS for name in (wood.name, *wood.other_names) for word in _words(name)}
    alike = {near for word in asked for near in get_close_matches(word, known, 1, _ALIKE)}
    shared = {
        wood.name: max(len(alike & _words(name)) for name in (wood.name, *wood.other_names)) for wood in WOODS
    }
    most = max(shared.values())
    return [name for name, count in shared.items() if count == most][:_MOST_NEAR] if most else []


def _words(name: str) -> frozenset[str]:
    return frozenset(name.casefold().replace("-", " ").replace(",", " ").split())


def coefficient_for(wood: Wood, cut: Cut) -> Coefficient:
    """Give the coefficient for the width of a board: flat-sawn tangential, quarter-sawn radial.

    Rift-sawn lies between; the mean of the two is our estimate, no source.
    """
    if cut == "flat":
        return wood.tangential
    if cut == "quarter":
        return wood.radial
    origins = {wood.radial.origin, wood.tangential.origin}
    worst: Origin = next(o for o in ("memory", "transcribed", "read") if o in origins)
    return Coefficient((wood.radial.value + wood.tangential.value) / 2, worst)


def coefficient_from_shrinkage(percent: float, start_percent: float = 30.0) -> float:
    """Turn a shrinkage from green to ovendry, in %, into a coefficient based on the dimension at 10 %.

    C = S / (100 F − S (F − 10)), F the moisture content at which shrinkage starts: straight-line shrinkage,
    the way in which most rows of table 13-5 follow from table 4-3. It does not give back mahogany, teak,
    western redcedar or redwood: for those the table itself counts. Raises `ValueError` outside 0 to 30 %.
    """
    if not 0 < percent <= start_percent:
        raise ValueError(f"no shrinkage: {percent} %")
    return percent / (100 * start_percent - percent * (start_percent - 10))
