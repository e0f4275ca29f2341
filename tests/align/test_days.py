from __future__ import annotations

from datetime import date, time, timedelta

import numpy as np
from numpy.typing import NDArray

from reelnotes.align.beats import Beat
from reelnotes.align.days import day_gains
from reelnotes.align.deeds import Deed

MONDAY = date(2026, 6, 1)
DEEDS = (
    Deed(0, MONDAY, time(9)), Deed(1, MONDAY, time(15)), Deed(2, MONDAY + timedelta(1), time(9)),
    Deed(3, MONDAY + timedelta(1), time(10)), Deed(4, MONDAY + timedelta(5), time(16)),
)  # fmt: skip


def gains(*texts: str, apart_s: int = 5) -> NDArray[np.float64]:
    beats = tuple(
        Beat(k * apart_s * 1000, k * apart_s * 1000 + 4000, text, k) for k, text in enumerate(texts)
    )
    return day_gains(DEEDS, beats, 1.0)


def test_a_named_day_speaks_for_its_entries() -> None:
    """A named Tuesday speaks for what was done on Tuesday and against the rest."""
    gain = gains("so tuesday we start again")[:, 0]
    assert (gain[2:4] > 0).all()
    assert (gain[[0, 1, 4]] < 0).all()


def test_a_named_day_is_remembered_and_fades() -> None:
    """The beats behind still count for that day, less and less, until nothing is left."""
    gain = gains("right, Saturday", "and then", "and then", apart_s=40)
    assert gain[4, 0] > gain[4, 1] > gain[4, 2] > 0
    assert gains("right, Saturday", *["and then"] * 3, apart_s=40)[4, 3] == 0


def test_the_next_morning_speaks_for_first_entries_of_a_day() -> None:
    """The next day fits the first entries of any day but the first."""
    gain = gains("next day the clamps come off")[:, 0]
    assert (gain[2:] > 0).all()
    assert (gain[:2] < 0).all()


def test_parts_of_the_day_count_a_little() -> None:
    """An afternoon fits entries after noon."""
    gain = gains("that afternoon it was dry")[:, 0]
    assert gain[1] > 0 > gain[0]


def test_a_day_that_is_not_in_the_log_tells_nothing() -> None:
    """A Friday that the log does not know, or two days in one breath, change nothing."""
    assert not gains("it came on the Friday").any()
    assert not gains("from tuesday to saturday it rained").any()


def test_one_day_tells_nothing_apart() -> None:
    """A log of one day, or without days, gives no gain."""
    beats = (Beat(0, 4000, "so monday", 0),)
    assert not day_gains(DEEDS[:2], beats, 1.0).any()
    assert not day_gains((Deed(0, None, None), Deed(1, None, None)), beats, 1.0).any()
