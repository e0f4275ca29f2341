from __future__ import annotations

from reelnotes.align.beats import Beat
from reelnotes.align.breaks import readiness


def ready(first_end_ms: int, second: str) -> float:
    beats = (Beat(0, first_end_ms, "it went in", 0), Beat(5000, 8000, second, 1))
    return float(readiness(beats, pause=3.0, onward=2.0)[1])


def test_a_pause_makes_ready_to_move_on() -> None:
    """A second of silence counts, just under one does not."""
    assert ready(4000, "it was tight") == 3 * ready(4001, "it was tight")


def test_moving_on_shows_in_the_opening() -> None:
    """Openings such as "right, next" or "Tuesday" show it; the word inside a sentence does not."""
    plain = ready(5000, "it was tight")
    for opening in (
        "then the lid",
        "Right, next the lid",
        "and so the lid",
        "Tuesday, the lid",
        "oh and then it",
    ):
        assert ready(5000, opening) == 2 * plain, opening
    assert ready(5000, "the lid is next") == plain
    assert ready(5000, "thence it went") == plain
