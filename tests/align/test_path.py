from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from math import exp, log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from reelnotes.align.path import Course, Habits, coarse, moves, posterior

Array = NDArray[np.float64]
State = tuple[str, int]
Walk = list[tuple[State, bool]]


def walks(gain: Array, course: Course) -> Iterator[tuple[float, Walk]]:
    """Every way to go through all beats, with its weight, straight from the definition of the model.

    A state is `("told", entry)` or `("idle", entry told last)`, entry -1 for before the first; the flag says
    that a telling starts there.
    """
    entries, beats = gain.shape

    def onward(state: State, j: int) -> Iterator[tuple[float, State, bool]]:
        kind, entry = state
        if kind == "told":
            leave = 1 - course.stay[j]
            yield course.stay[j], state, False
            yield leave * course.rest, ("idle", entry), False
            leave *= 1 - course.rest
        else:
            leave = 1 - course.stay_idle[j]
            yield course.stay_idle[j], state, False
        for k in range(entries):
            yield leave * course.move[entry + 1, k], ("told", k), True

    def walk(state: State, j: int) -> Iterator[tuple[float, Walk]]:
        if j == beats:
            yield 1.0, []
            return
        for chance, new, starts in onward(state, j):
            weight = chance * (exp(gain[new[1], j]) if new[0] == "told" else 1.0)
            for rest, path in walk(new, j + 1):
                yield weight * rest, [(new, starts), *path]

    yield from walk(("idle", -1), 0)


@st.composite
def instances(draw: st.DrawFn) -> tuple[Array, Course]:
    entries, beats = draw(st.integers(1, 3)), draw(st.integers(1, 4))
    chance = st.floats(0.05, 0.95)
    gain = np.array(draw(st.lists(st.lists(st.floats(-4, 6), min_size=beats, max_size=beats),
                                  min_size=entries, max_size=entries)))  # fmt: skip
    told = np.array(draw(st.lists(chance, min_size=entries, max_size=entries)))
    stays = [np.array(draw(st.lists(chance, min_size=beats, max_size=beats))) for _ in range(2)]
    kin = np.array(draw(st.lists(st.lists(st.floats(0, 2), min_size=entries, max_size=entries),
                                 min_size=entries, max_size=entries)))  # fmt: skip
    move = moves(told, Habits(jump=draw(chance)), kin)
    return gain, Course(stays[0], stays[1], move, draw(chance))


@settings(max_examples=60, deadline=None)
@given(instances())
def test_the_recursions_match_brute_force(instance: tuple[Array, Course]) -> None:
    """On small instances the posteriors and the likelihood are those of summing over every path there is."""
    gain, course = instance
    total = 0.0
    telling: dict[tuple[int, int], float] = defaultdict(float)
    starting: dict[tuple[int, int], float] = defaultdict(float)
    for weight, path in walks(gain, course):
        total += weight
        for j, ((kind, entry), starts) in enumerate(path):
            if kind == "told":
                telling[entry, j] += weight
                starting[entry, j] += weight * starts
    found = posterior(gain, course)
    assert found.likelihood == pytest.approx(log(total), abs=1e-8)
    for (entry, j), weight in telling.items():
        assert found.telling[entry, j] == pytest.approx(weight / total, abs=1e-9)
        assert found.starting[entry, j] == pytest.approx(starting[entry, j] / total, abs=1e-9)
    assert found.idle == pytest.approx(1 - found.telling.sum(axis=0), abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0.01, 0.99), min_size=1, max_size=40), st.floats(0, 0.9))
def test_moves_are_chances(told: list[float], jump: float) -> None:
    """From everywhere the chances of all moves add up to one."""
    spread = moves(np.array(told), Habits(jump=jump))
    assert (spread >= 0).all()
    assert spread.sum(axis=1) == pytest.approx(np.ones(len(told) + 1))


def test_moves_go_forward_past_what_is_seldom_told() -> None:
    """The next entry is likeliest; an unlikely one is passed over cheaply, a likely one dearly."""
    spread = moves(np.array([0.9, 0.9, 0.1, 0.9, 0.9]), Habits(jump=0.05))
    assert spread[1].argmax() == 1
    assert spread[2, 3] > 0.7
    assert spread[1, 3] < 0.15


def test_the_start_may_show_the_result_first() -> None:
    """A jump from the very start lands on the last entries more often than on middle ones."""
    spread = moves(np.full(12, 0.8), Habits())
    assert spread[0, 11] > 4 * spread[0, 6]
    assert spread[3, 11] < spread[0, 11]


def test_a_jump_prefers_kin() -> None:
    """From a story's entry a jump lands on the next entry that speaks of the same part."""
    kin = np.zeros((8, 8))
    kin[0, 5] = 1.0
    spread = moves(np.full(8, 0.8), Habits(), kin)
    assert spread[1, 5] > 3 * spread[1, 6]


def even_course(entries: int, beats: int) -> Course:
    return Course(np.full(beats, 0.7), np.full(beats, 0.7), moves(np.full(entries, 0.8), Habits()), 0.5)


def test_a_clear_story_is_followed() -> None:
    """Where each beat speaks for one entry, that entry is told there, and starts where its beats begin."""
    gain = np.full((3, 9), -2.0)
    for entry in range(3):
        gain[entry, 3 * entry : 3 * entry + 3] = 4.0
    found = posterior(gain, even_course(3, 9))
    assert found.telling.argmax(axis=0).tolist() == [0, 0, 0, 1, 1, 1, 2, 2, 2]
    assert [int(row.argmax()) for row in found.starting] == [0, 3, 6]


def test_a_silent_gap_goes_to_the_entry_between() -> None:
    """An entry without a word in common is placed where nothing else is told, by its neighbours alone."""
    gain = np.full((3, 9), -3.0)
    gain[0, :3] = gain[2, 6:] = 5.0
    gain[1] = -0.2
    found = posterior(gain, even_course(3, 9))
    assert set(found.telling[1].argsort()[-3:].tolist()) == {3, 4, 5}


def test_a_jump_is_worth_strong_evidence() -> None:
    """An entry told out of order is found there, and the story goes on where it was."""
    gain = np.full((4, 12), -3.0)
    for entry, first in ((0, 0), (3, 3), (1, 6), (2, 9)):
        gain[entry, first : first + 3] = 5.0
    found = posterior(gain, even_course(4, 12))
    assert [int(row.argmax()) // 3 for row in found.telling] == [0, 2, 3, 1]


def test_great_gains_do_not_overflow() -> None:
    """Gains of hundreds of nats, as pins bring, leave proper chances."""
    gain = np.array([[500.0, -500.0], [-500.0, 500.0]])
    found = posterior(gain, even_course(2, 2))
    assert found.telling == pytest.approx(np.eye(2))


def test_a_coarse_look_joins_beats_by_twos() -> None:
    """Gains add up, chances to stay multiply, an odd last beat stays alone."""
    course = Course(
        np.array([0.5, 0.4, 0.9]), np.array([0.5, 0.2, 0.3]), moves(np.array([0.5]), Habits()), 0.5
    )
    gain, joined = coarse(np.array([[1.0, 2.0, 4.0]]), course)
    assert gain.tolist() == [[3.0, 4.0]]
    assert joined.stay == pytest.approx([0.2, 0.9])
    assert joined.stay_idle == pytest.approx([0.1, 0.3])
