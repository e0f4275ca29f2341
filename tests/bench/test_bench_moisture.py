"""Equilibrium moisture content against the Wood Handbook's table 4-2 and a second form of the equation."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelnotes.bench.moisture import Air, air_problems, equilibrium_moisture

#: Wood Handbook, table 4-2, read in transcriptions (FPL-GTR-190 and -282): °F, humidity in %, moisture in %.
#: The table is printed to 0.1 % and is not always the rounded equation, hence the tolerance of 0.06.
TABLE_4_2 = [
    (30, 30, 6.3), (30, 75, 14.9), (30, 95, 24.3), (50, 50, 9.5), (70, 5, 1.3), (70, 20, 4.5), (70, 30, 6.2),
    (70, 40, 7.7), (70, 50, 9.2), (70, 60, 11.0), (70, 65, 12.0), (70, 70, 13.1), (70, 75, 14.4),
    (70, 80, 16.0), (70, 85, 17.9), (70, 90, 20.5), (70, 95, 23.9), (80, 65, 11.7), (100, 50, 8.7),
    (100, 80, 15.1), (100, 90, 19.5), (140, 50, 7.7), (180, 65, 8.6),
]  # fmt: skip


def by_fahrenheit(humidity: float, fahrenheit: float) -> float:
    """Work out the moisture content by the handbook's separate set of constants for °F (equation 4-5)."""
    t, h = fahrenheit, humidity / 100
    w = 330 + 0.452 * t + 0.00415 * t**2
    k = 0.791 + 0.000463 * t - 0.000000844 * t**2
    k1 = 6.34 + 0.000775 * t - 0.0000935 * t**2
    k2 = 1.09 + 0.0284 * t - 0.0000904 * t**2
    top = k1 * k * h + 2 * k1 * k2 * k**2 * h**2
    return 1800 / w * (k * h / (1 - k * h) + top / (1 + k1 * k * h + k1 * k2 * k**2 * h**2))


def celsius(fahrenheit: float) -> float:
    """Turn °F into °C."""
    return (fahrenheit - 32) / 1.8


@pytest.mark.parametrize(("fahrenheit", "humidity", "published"), TABLE_4_2)
def test_the_equation_meets_the_table(fahrenheit: float, humidity: float, published: float) -> None:
    """Every value of table 4-2 that we hold is met to 0.06 % (Wood Handbook, ch. 4)."""
    assert equilibrium_moisture(Air(humidity, celsius(fahrenheit))) == pytest.approx(published, abs=0.06)


@pytest.mark.parametrize(
    ("temperature_c", "humidity", "moisture"),
    [(20, 65, 11.996), (20, 50, 9.271), (20, 40, 7.722), (5, 85, 18.470), (25, 45, 8.359)],
)
def test_the_equation_is_worked_out_exactly(temperature_c: float, humidity: float, moisture: float) -> None:
    """Values computed apart from this code from equation 4-5 in °C, to 0.001 %."""
    assert equilibrium_moisture(Air(humidity, temperature_c)) == pytest.approx(moisture, abs=0.001)


@pytest.mark.parametrize(("fahrenheit", "humidity"), [row[:2] for row in TABLE_4_2])
def test_both_sets_of_constants_agree(fahrenheit: float, humidity: float) -> None:
    """The handbook's °F and °C constants are rounded apart, and differ by 0.013 % at most over the table."""
    ours = equilibrium_moisture(Air(humidity, celsius(fahrenheit)))
    assert ours == pytest.approx(by_fahrenheit(humidity, fahrenheit), abs=0.014)


def test_the_fahrenheit_form_is_the_handbooks() -> None:
    """At 70 °F and 35 % the °F form gives 6.945 % (computed apart from this code)."""
    assert by_fahrenheit(35, 70) == pytest.approx(6.945, abs=0.001)


@given(st.floats(5, 94), st.floats(-1, 130))
def test_damper_air_makes_damper_wood(humidity: float, temperature_c: float) -> None:
    """Moisture content rises with humidity everywhere in the table's range."""
    drier, damper = Air(humidity, temperature_c), Air(humidity + 1, temperature_c)
    assert equilibrium_moisture(drier) < equilibrium_moisture(damper)


@pytest.mark.parametrize("humidity", [-0.1, 100.1])
def test_there_is_no_such_humidity(humidity: float) -> None:
    """Below 0 and above 100 % there is no relative humidity."""
    with pytest.raises(ValueError, match="no relative humidity"):
        Air(humidity, 20)


@pytest.mark.parametrize(("air", "count"), [
    (Air(5, 20), 0), (Air(4.9, 20), 1), (Air(95, 20), 0), (Air(95.1, 20), 1),
    (Air(50, -1.1), 0), (Air(50, -1.2), 1), (Air(50, 132.2), 0), (Air(50, 132.3), 1), (Air(2, 150), 2),
])  # fmt: skip
def test_air_outside_the_table_is_reported(air: Air, count: int) -> None:
    """Table 4-2 covers −1.1 to 132.2 °C and 5 to 95 %; just inside is silent, just outside is not."""
    assert [p.code for p in air_problems(air)] == ["bench-range"] * count
