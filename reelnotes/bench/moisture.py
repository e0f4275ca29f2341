"""Equilibrium moisture content: what wood comes to rest at in air of a given temperature and humidity."""

from __future__ import annotations

from reelnotes.problems import Problem
from reelnotes.records import frozen

#: What table 4-2 of the Wood Handbook covers; beyond it the equation is extrapolated.
TABLE_TEMPERATURE_C = (-1.1, 132.2)
TABLE_HUMIDITY = (5.0, 95.0)
SOURCE = "Wood Handbook FPL-GTR-282, equation 4-5 (Simpson 1973)"


@frozen
class Air:
    """Air at rest: relative humidity in per cent, 0 to 100, and temperature in degrees Celsius."""

    humidity: float
    temperature_c: float

    def __post_init__(self) -> None:
        """Hold 0 ≤ humidity ≤ 100."""
        if not 0 <= self.humidity <= 100:  # noqa: PLR2004
            raise ValueError(f"no relative humidity: {self.humidity} %")


def equilibrium_moisture(air: Air) -> float:
    """Work out the equilibrium moisture content, in % of the dry mass.

    Wood Handbook (FPL-GTR-282, 2021), equation 4-5 with its constants for °C. The handbook itself calls
    0.1 % a precision for trends only: the values lie midway between wood taking up and giving off moisture.
    """
    t, h = air.temperature_c, air.humidity / 100
    w = 349 + 1.29 * t + 0.0135 * t * t
    k = 0.805 + 0.000736 * t - 0.00000273 * t * t
    k1 = 6.27 - 0.00938 * t - 0.000303 * t * t
    k2 = 1.91 + 0.0407 * t - 0.000293 * t * t
    kh = k * h
    bound = (k1 * kh + 2 * k1 * k2 * kh * kh) / (1 + k1 * kh + k1 * k2 * kh * kh)
    return 1800 / w * (kh / (1 - kh) + bound)


def air_problems(air: Air) -> list[Problem]:
    """Say where the air lies outside what the handbook's table covers."""
    problems = []
    low_c, high_c = TABLE_TEMPERATURE_C
    low_h, high_h = TABLE_HUMIDITY
    if not low_c <= air.temperature_c <= high_c:
        words = f"{air.temperature_c:g} °C is outside the table ({low_c:g} to {high_c:g} °C): a rough figure"
        problems.append(Problem("bench-range", words))
    if not low_h <= air.humidity <= high_h:
        words = f"{air.humidity:g} % is outside the table ({low_h:g} to {high_h:g} %): a rough figure"
        problems.append(Problem("bench-range", words))
    return problems
