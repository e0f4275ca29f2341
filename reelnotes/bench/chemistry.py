"""What must never meet in one pot, by the names under which it stands on the shelf.

Public-health and poison-centre advice, as repeated by fire departments: chlorine bleach with ammonia gives
chloramine gases, with any acid (vinegar included) chlorine. That oxalic acid and other acids count is our
reading of the same. US poison help line: 1-800-222-1222.
"""

from __future__ import annotations

from collections.abc import Iterable

from reelnotes.problems import Refusal

_BLEACH = ("bleach", "hypochlorite", "chlorine")
_NOT_CHLORINE = ("oxygen bleach", "peroxide", "two-part bleach", "wood bleach")
_AMMONIA = ("ammonia", "ammonium")
_ACIDS = ("acid", "vinegar", "oxalic", "citric", "descaler", "rust remover")


class NeverMix(Refusal):
    """A mix that gives off a poison gas."""

    def __init__(self, first: str, second: str, gas: str) -> None:
        self.first, self.second, self.gas = first, second, gas
        super().__init__(
            f"never mix {first} with {second}: together they give off {gas}. Not one after the other on the "
            "same wood either, without rinsing and drying between. Exposed? Go into fresh air and call your "
            "poison centre."
        )


def refuse_poison(names: Iterable[str]) -> None:
    """Refuse a mix in which chlorine bleach meets ammonia or an acid. Raises `NeverMix`."""
    named = [name.casefold() for name in names]
    bleach = next((n for n in named if _has(n, _BLEACH) and not _has(n, _NOT_CHLORINE)), None)
    if bleach is None:
        return
    ammonia = next((n for n in named if _has(n, _AMMONIA)), None)
    acid = next((n for n in named if _has(n, _ACIDS)), None)
    if ammonia:
        raise NeverMix(bleach, ammonia, "chloramine gases")
    if acid:
        raise NeverMix(bleach, acid, "chlorine gas")


def _has(name: str, words: Iterable[str]) -> bool:
    return any(word in name for word in words)
