"""Facts made by `frozen`: what a standard frozen dataclass would do, at a quarter of its cost to define."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelnotes.records import frozen


@frozen
class Tin:
    """A tin on the shelf."""

    name: str
    left_ml: int = 0


@frozen
class Lid:
    """Another class with the same fields."""

    name: str
    left_ml: int = 0


@frozen
class Shelf:
    """One field alone."""

    tins: tuple[Tin, ...] = ()


@dataclass(frozen=True, slots=True)
class Plain:
    """The standard library's own, to compare with."""

    name: str
    left_ml: int = 0


TINS = st.tuples(st.text(max_size=3), st.integers(0, 3))


@given(TINS, TINS)
def test_records_are_equal_and_hashed_as_frozen_dataclasses_are(
    one: tuple[str, int], other: tuple[str, int]
) -> None:
    """Equality and hash follow the fields exactly as in the standard library's frozen dataclass."""
    assert (Tin(*one) == Tin(*other)) == (Plain(*one) == Plain(*other))
    assert hash(Tin(*one)) == hash(Plain(*one))


@given(TINS)
def test_a_record_is_shown_as_a_dataclass_is(values: tuple[str, int]) -> None:
    """The words for a record name its class and its fields as the standard library does."""
    assert repr(Tin(*values)) == repr(Plain(*values)).replace("Plain", "Tin")


def test_records_of_two_classes_are_never_equal() -> None:
    """A class is part of what a record says, whatever its fields hold."""
    assert Tin("wax", 1) != Lid("wax", 1)  # type: ignore[comparison-overlap]


def test_the_standard_tools_work_on_records() -> None:
    """`replace`, `asdict` and `fields` take a record as any dataclass."""
    tin = Tin("wax", 5)
    assert replace(tin, left_ml=3) == Tin("wax", 3)
    assert asdict(Shelf((tin,))) == {"tins": ({"name": "wax", "left_ml": 5},)}
    assert [field.name for field in fields(tin)] == ["name", "left_ml"]


def test_a_record_takes_no_field_it_does_not_know() -> None:
    """Slots: a misspelt field is an error, not a new attribute."""
    with pytest.raises(AttributeError):
        Tin("wax").lft_ml = 3  # type: ignore[attr-defined]


def test_a_method_of_ones_own_stays() -> None:
    """A class that says itself how it is shown keeps that."""

    @frozen
    class Price:
        pence: int

        def __repr__(self) -> str:
            return f"{self.pence}p"

    assert repr(Price(3)) == "3p"
