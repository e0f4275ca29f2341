"""How much a board or panel moves across the grain, what its fastenings must allow, and how a year goes."""

from __future__ import annotations

from collections.abc import Sequence

from reelnotes.bench.moisture import Air, equilibrium_moisture
from reelnotes.bench.woods import Coefficient
from reelnotes.problems import Problem
from reelnotes.records import frozen

#: The band of moisture content, in %, for which the coefficients hold (Wood Handbook, ch. 13).
VALID_MOISTURE = (6.0, 14.0)
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def change_of_width(width_mm: float, coefficient: float, from_percent: float, to_percent: float) -> float:
    """Work out the change of a width in mm; negative is shrinking.

    ΔD = D · C · (M₂ − M₁): Wood Handbook (FPL-GTR-190), equation 13-2. D is the width at M₁; moisture
    contents in %. Holds from 6 to 14 %; see `moisture_problems`.
    """
    return width_mm * coefficient * (to_percent - from_percent)


def moisture_problems(*percents: float) -> list[Problem]:
    """Say where a moisture content lies outside the band for which the coefficients hold."""
    low, high = VALID_MOISTURE
    outside = sorted({f"{percent:.1f} %" for percent in percents if not low <= percent <= high})
    if not outside:
        return []
    named = ", ".join(outside)
    words = f"outside {low:g}–{high:g} % moisture content ({named}): the change is a rough figure there"
    return [Problem("bench-range", words, severity="note")]


@frozen
class Reading:
    """What a moisture meter says of the wood itself, in % of the dry mass; above 0, up to 30."""

    moisture: float


State = Air | Reading


def moisture_of(state: State) -> float:
    """Give the moisture content in %: as read, or what the wood comes to rest at in that air."""
    return state.moisture if isinstance(state, Reading) else equilibrium_moisture(state)


@frozen
class Movement:
    """A width between a dry and a damp season; `made` is the air in which the width was measured.

    Each may be a reading of the wood instead of the air.

    `shrinks_mm` and `swells_mm` are signed and counted from the measured width: as a rule the one is 0 or
    below and the other 0 or above, unless the width was measured outside both seasons.
    """

    width_mm: float
    coefficient: Coefficient
    dry: State
    damp: State
    made: State

    @property
    def moistures(self) -> tuple[float, float, float]:
        """Moisture contents in %: dry season, as measured, damp season."""
        return (
            moisture_of(self.dry),
            moisture_of(self.made),
            moisture_of(self.damp),
        )

    @property
    def shrinks_mm(self) -> float:
        """Change from the measured width to the dry season."""
        dry, made, _ = self.moistures
        return change_of_width(self.width_mm, self.coefficient.value, made, dry)

    @property
    def swells_mm(self) -> float:
        """Change from the measured width to the damp season."""
        _, made, damp = self.moistures
        return change_of_width(self.width_mm, self.coefficient.value, made, damp)

    @property
    def change_mm(self) -> float:
        """From the narrowest to the widest."""
        return self.swells_mm - self.shrinks_mm


@frozen
class Slot:
    """A slotted hole for the screw farthest from where the panel is held fast.

    `inward_mm` and `outward_mm` are how far the screw must be able to slide from where it is set, towards
    and away from the fixed line; `length_mm` and `wide_mm` are the slot's.
    """

    distance_mm: float
    inward_mm: float
    outward_mm: float
    length_mm: float
    wide_mm: float


def slot_for(movement: Movement, distance_mm: float, wide_mm: float, spare_mm: float = 1.0) -> Slot:
    """Work out the slot for a screw `distance_mm` from the fixed line, in a hole `wide_mm` wide.

    Only the wood between the fixed line and the screw counts. The slot is as long as the hole is wide, plus
    the way the screw travels, plus `spare_mm` (common practice, no source), half of it at either end.
    """
    share = distance_mm / movement.width_mm
    inward, outward = max(0.0, -movement.shrinks_mm * share), max(0.0, movement.swells_mm * share)
    return Slot(distance_mm, inward, outward, wide_mm + inward + outward + spare_mm, wide_mm)


@frozen
class Month:
    """A month's air, the moisture content wood comes to in it, and the width."""

    name: str
    air: Air
    moisture: float
    width_mm: float


def year_of(width_mm: float, coefficient: float, made: State, year: Sequence[Air]) -> tuple[Month, ...]:
    """Follow a width, measured in the air `made`, over twelve months.

    Each month is taken as long enough for the wood to come to rest. Thick or finished wood follows more
    slowly and moves less, so this is the most that a year can do. Raises `ValueError` unless there are 12.
    """
    if len(year) != len(MONTHS):
        raise ValueError(f"twelve months are wanted, not {len(year)}")
    at = moisture_of(made)
    months = []
    for name, air in zip(MONTHS, year, strict=True):
        moisture = equilibrium_moisture(air)
        width = width_mm + change_of_width(width_mm, coefficient, at, moisture)
        months.append(Month(name, air, moisture, width))
    return tuple(months)
