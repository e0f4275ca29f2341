"""Finding the workshop around a folder and its episodes; typed times; limits of the captions' settings."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelnotes.problems import NotAnEpisode
from reelnotes.project import episodes_of, find_workshop
from reelnotes.settings import CaptionSettings, WorkshopSettings, read_settings
from reelnotes.timing import Span, parse_span, parse_time, typed_span, typed_time


def episode(top: Path, name: str = "oak") -> Path:
    """Make an episode's folder in a workshop."""
    folder = top / "episodes" / name
    folder.mkdir(parents=True)
    return folder


def test_the_workshop_is_where_its_settings_lie(tmp_path: Path) -> None:
    """From the top, from an episode, and from below it."""
    oak = episode(tmp_path)
    (tmp_path / "workshop.toml").write_text("")
    (oak / "out").mkdir()
    for folder in (tmp_path, oak, oak / "out"):
        assert find_workshop(folder).resolve() == tmp_path.resolve()


def test_without_settings_it_is_the_folder_above_the_episodes(tmp_path: Path) -> None:
    """And a loose folder is its own workshop."""
    assert find_workshop(episode(tmp_path)).resolve() == tmp_path.resolve()
    loose = tmp_path / "loose"
    loose.mkdir()
    assert find_workshop(loose) == loose
    assert episodes_of(loose) == {"loose": loose}


def test_episodes_are_folders_that_are_not_hidden(tmp_path: Path) -> None:
    """In order of their names."""
    for name in ("oak", "elm", ".trash"):
        episode(tmp_path, name)
    (tmp_path / "episodes" / "notes.txt").write_text("")
    assert list(episodes_of(tmp_path)) == ["elm", "oak"]


@pytest.mark.parametrize("made", [True, False])
def test_a_file_and_a_missing_folder_are_refused(tmp_path: Path, made: bool) -> None:
    """One sentence each."""
    at = tmp_path / "x"
    if made:
        at.write_text("")
    with pytest.raises(NotAnEpisode, match="is a file" if made else "no such folder"):
        find_workshop(at)


@given(st.integers(0, 10**9))
def test_a_typed_time_reads_as_the_same_time(ms: int) -> None:
    """To the millisecond, whatever its length."""
    assert parse_time(typed_time(ms)) == ms


@given(st.integers(0, 10**8), st.integers(1, 10**8))
def test_a_typed_span_reads_as_the_same_span(start: int, length: int) -> None:
    """To the millisecond."""
    span = Span(start, start + length)
    assert parse_span(typed_span(span)) == span


@pytest.mark.parametrize(
    ("name", "inside", "outside"),
    [
        ("words_per_minute", ["60", "200"], ["59", "201"]),
        ("word_min_s", ["0.3", "1"], ["0.29", "1.1"]),
        ("label_s", ["0", "2"], ["-1", "2.1"]),
        ("line_chars", ["16", "80"], ["15", "81"]),
        ("lines", ["1", "5"], ["0", "6"]),
        ("card_min_s", ["0.5", "5"], ["0.4", "5.1"]),
        ("card_max_s", ["5", "20"], ["4.9", "21"]),
        ("lead_s", ["0", "1"], ["1.1"]),
        ("return_after_s", ["10", "120"], ["9.9", "121"]),
    ],
)
def test_captions_are_set_within_what_can_be_read(name: str, inside: list[str], outside: list[str]) -> None:
    """A value outside its limits is reported and left at its usual value."""
    for value in inside:
        assert read_settings(WorkshopSettings, f"[captions]\n{name} = {value}\n", "w")[1] == []
    for value in outside:
        taken, problems = read_settings(WorkshopSettings, f"[captions]\n{name} = {value}\n", "w")
        assert taken.captions == CaptionSettings()
        assert [problem.code for problem in problems] == ["setting"]
        assert "is not between" in problems[0].message


def test_every_setting_of_captions_has_limits() -> None:
    """None can be set to what makes no sense."""
    assert set(CaptionSettings.LIMITS) == {field.name for field in fields(CaptionSettings)}
