"""Nothing that carries a time is forgotten: the models are walked, and every time in them must move."""

from __future__ import annotations

import inspect
import types
from collections.abc import Iterator
from dataclasses import dataclass, fields, is_dataclass
from datetime import date, datetime, time
from decimal import Decimal
from fractions import Fraction
from itertools import count
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes import model
from reelnotes.corrections.retime import TimeMap, cut_and_hold
from reelnotes.corrections.retiming import NO_PROGRAMME_TIME, RETIMERS, retimed
from reelnotes.model import HeldFrame
from reelnotes.problems import Problem
from reelnotes.timing import Span

MODELS = [
    thing
    for thing in vars(model).values()
    if inspect.isclass(thing) and is_dataclass(thing) and thing.__module__ == model.__name__
]
SHIFT_MS = 10_000


def is_time(name: str) -> bool:
    """Tell whether a field holds a time by its name: units are in names."""
    return name.endswith(("_ms", "_s"))


def classes_in(hint: object) -> Iterator[type]:
    """Give every class that a type is made of."""
    if isinstance(hint, type):
        yield hint
    for arg in get_args(hint):
        yield from classes_in(arg)


def carries_time(kind: type) -> bool:
    """Tell whether a class, or anything inside it, holds a programme time."""
    return kind is Span or (is_dataclass(kind) and any(True for _ in time_fields(kind)))


def time_fields(kind: type) -> Iterator[str]:
    """Give the fields of a class that hold a programme time, or something that does."""
    hints = get_type_hints(kind)
    for field in fields(kind):
        if (kind.__name__, field.name) in NO_PROGRAMME_TIME:
            continue
        if is_time(field.name) or any(carries_time(one) for one in classes_in(hints[field.name])):
            yield field.name


def forgotten(kinds: list[type]) -> list[str]:
    """Name the fields that hold a time and are of a class that no retimer takes."""
    return [f"{kind.__name__}.{name}" for kind in kinds if kind not in RETIMERS for name in time_fields(kind)]


#: Stays as it is, whatever the version: the ledger keeps places in the time of their own version.
LEDGER_RECORD = {"Correction.places"}


def test_every_time_of_the_models_is_reached() -> None:
    """A class with a time has its retimer, or the reason why its time is none of the programme's."""
    assert set(forgotten(MODELS)) == LEDGER_RECORD
    assert len(MODELS) > 20


def test_a_new_kind_of_record_would_be_noticed() -> None:
    """A record with a time that nobody declared is named."""

    @dataclass(frozen=True)
    class Applause:
        heard_at_ms: int

    @dataclass(frozen=True)
    class Ovation:
        stood: tuple[Span, ...]

    assert forgotten([Applause, Ovation]) == ["Applause.heard_at_ms", "Ovation.stood"]


def test_no_reason_outlives_its_field() -> None:
    """Every exemption speaks of a field that is there."""
    known = {(kind.__name__, field.name) for kind in MODELS for field in fields(kind)}
    assert set(NO_PROGRAMME_TIME) <= known


# --- each retimer moves each time ------------------------------------------------------------------


def made(hint: Any, name: str, clock: count[int]) -> Any:  # noqa: ANN401, PLR0911
    """Make a value of a type, every time in it later than the one before."""
    origin = get_origin(hint)
    if origin in {Union, types.UnionType}:
        return made(next(arg for arg in get_args(hint) if arg is not type(None)), name, clock)
    if origin is tuple:
        args = get_args(hint)
        if args[-1] is ...:
            return (made(args[0], name, clock), made(args[0], name, clock))
        return tuple(made(arg, name, clock) for arg in args)
    if origin is Literal:
        return get_args(hint)[0]
    if hint is Span:
        return Span(next(clock), next(clock))
    if hint is Problem:
        return Problem("cue-time", "a word")
    if isinstance(hint, type) and is_dataclass(hint):
        hints = get_type_hints(hint)
        return hint(**{f.name: made(hints[f.name], f.name, clock) for f in fields(hint)})
    if hint is int:
        return next(clock) if is_time(name) else 1
    plain: dict[Any, Any] = {
        str: "a word", bool: False, float: 0.5, Decimal: Decimal(1), Fraction: Fraction(1),
        date: date(2026, 3, 4), datetime: datetime(2026, 3, 4, 9, 0), time: time(9, 0),
    }  # fmt: skip
    return plain[hint]


def times_in(value: object) -> Iterator[int]:
    """Give every programme time of a value, in order of its fields."""
    if isinstance(value, Span):
        yield from (value.start_ms, value.end_ms)
    elif isinstance(value, tuple):
        for one in value:
            yield from times_in(one)
    elif is_dataclass(value):
        for name in time_fields(type(value)):
            inside = getattr(value, name)
            if isinstance(inside, int):
                yield inside
            else:
                yield from times_in(inside)


@pytest.mark.parametrize("kind", RETIMERS, ids=lambda kind: kind.__name__)
def test_each_time_moves(kind: type) -> None:
    """With ten seconds cut from the beginning, every time of every record comes ten seconds earlier."""
    record = made(kind, "", count(20_000, 500))
    before = list(times_in(record))
    assert before, "a record without a time shows nothing"
    (after,) = retimed(record, cut_and_hold(600_000, [Span(0, SHIFT_MS)], []))
    assert list(times_in(after)) == [at - SHIFT_MS for at in before]


@pytest.mark.parametrize("kind", RETIMERS, ids=lambda kind: kind.__name__)
def test_the_same_version_changes_nothing(kind: type) -> None:
    """A map that takes all leaves every record equal."""
    record = made(kind, "", count(20_000, 500))
    assert retimed(record, cut_and_hold(600_000, [], [])) == (record,)


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(list(RETIMERS)),
    st.lists(st.tuples(st.integers(0, 40_000), st.integers(1, 20_000)), max_size=4),
    st.lists(st.tuples(st.integers(0, 40_000), st.integers(1, 5_000)), max_size=3),
)
def test_no_time_lies_outside_the_new_version(
    kind: type, cuts: list[tuple[int, int]], holds: list[tuple[int, int]]
) -> None:
    """Whatever is cut and held, what is left of any record lies inside the new version."""
    to = cut_and_hold(
        60_000, [Span(a, min(60_000, a + n)) for a, n in cuts], [HeldFrame(a, n) for a, n in holds]
    )
    record = made(kind, "", count(10_000, 700))
    for left in retimed(record, to):
        assert all(
            0 <= at <= max(to.length_after, to.nearest(max(times_in(record)))) for at in times_in(left)
        )


def test_what_was_cut_leaves_no_time() -> None:
    """With all of it cut, records of one place go, and lists keep their other facts without the times."""
    nothing = TimeMap(cut_and_hold(600_000, [Span(0, 599_000)], []).stretches)
    going = {"Card", "Cue", "CutEvent", "Flag", "Insert", "Place", "Promise", "SpokenOnly", "StepSpan"}
    for kind in RETIMERS:
        left = retimed(made(kind, "", count(20_000, 500)), nothing)
        assert (left == ()) == (kind.__name__ in going), kind
