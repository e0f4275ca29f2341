"""Settings: what fits is taken, what does not is said, and the rest still counts."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.settings import EpisodeSettings, HostLimits, WordSettings, WorkshopSettings, read_settings


def test_a_workshop() -> None:
    """Tables and lists come out as the settings' own types."""
    taken, problems = read_settings(
        WorkshopSettings,
        'name = "Mill"\ncurrency = "£"\n[host]\ntitle_max_chars = 50\n'
        '[words]\nsame = [["cramp", "clamp"]]\nmisheard = {dole = "dowel"}\n',
        "workshop.toml",
    )
    assert problems == []
    assert (taken.name, taken.currency) == ("Mill", "£")
    assert taken.host == HostLimits(title_max_chars=50)
    assert taken.words == WordSettings((("cramp", "clamp"),), {"dole": "dowel"})


def test_an_episode() -> None:
    """Dates as TOML has them or as text, money as written."""
    for day in ("2026-03-04", '"2026-03-04"'):
        taken, problems = read_settings(
            EpisodeSettings,
            f'title = "Lid"\ndate = {day}\nbudget = 12.10\nframe_rate = "30000/1001"\n',
            "episode.toml",
        )
        assert problems == []
        assert (taken.date, taken.budget, taken.frame_rate) == (
            date(2026, 3, 4),
            Decimal("12.10"),
            "30000/1001",
        )


@pytest.mark.parametrize(
    ("text", "rate"), [("25", "25"), ("29.97", "29.97"), ('"24000/1001"', "24000/1001"), ("240", "240")]
)
def test_frame_rates(text: str, rate: str) -> None:
    """With and without quotation marks, up to 240."""
    taken, problems = read_settings(EpisodeSettings, f"frame_rate = {text}\n", "episode.toml")
    assert (problems, taken.frame_rate) == ([], rate)


@pytest.mark.parametrize(
    "line",
    ['frame_rate = "fast"', "frame_rate = 0", 'frame_rate = "25/0"', "frame_rate = 241", "frame_rate = -25",
     'budget = "much"', "budget = -1", "budget = nan", 'length = "9:60"', "date = 5", "parts = {lid = 1}",
     "camera_offset_s = 1.5", "title = true"],
)  # fmt: skip
def test_values_that_do_not_fit(line: str) -> None:
    """Each is named, the usual value is taken, and what stands beside it counts."""
    taken, problems = read_settings(EpisodeSettings, f'{line}\npiece = "chest"\n', "episode.toml")
    assert taken == EpisodeSettings(piece="chest")
    assert [p.code for p in problems] == ["setting"]
    assert problems[0].message.startswith(line.partition(" ")[0])


@pytest.mark.parametrize(
    ("line", "fits"),
    [
        ("title_max_chars = 9", False),
        ("title_max_chars = 10", True),
        ("chapters_min = -1", False),
        ("chapters_min = 0", True),
    ],
)
def test_limits_of_a_host(line: str, fits: object) -> None:
    """A limit below what can be met is refused, the limit itself is taken."""
    _, problems = read_settings(WorkshopSettings, f"[host]\n{line}\n", "workshop.toml")
    assert (problems == []) is fits


@pytest.mark.parametrize(
    ("text", "place"),
    [("nmae = 'x'", "nmae"), ("[host]\nchapter_max = 3", "host.chapter_max"), ("host = 5", "host"),
     ("[words]\nsame = 'x'", "words.same"), ("[[host]]\nchapters_min = 3", "host")],
)  # fmt: skip
def test_places_are_named(text: str, place: str) -> None:
    """A misspelt or misplaced setting would do nothing in silence otherwise."""
    taken, problems = read_settings(WorkshopSettings, text, "workshop.toml")
    assert taken == WorkshopSettings()
    assert problems[0].message.startswith(place + ":")
    assert problems[0].file == "workshop.toml"


def test_what_is_no_toml() -> None:
    """One problem with the place, and the usual values."""
    taken, problems = read_settings(WorkshopSettings, "name = Mill\n", "workshop.toml")
    assert taken == WorkshopSettings()
    assert "line 1" in problems[0].message


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=40))
def test_any_text_gives_settings(text: str) -> None:
    """Nothing is raised, whatever the file holds."""
    taken, _ = read_settings(EpisodeSettings, text, "episode.toml")
    assert isinstance(taken, EpisodeSettings)
