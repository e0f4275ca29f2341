"""The camera's offset as the settings give it."""

from __future__ import annotations

from pathlib import Path

import pytest

from reelnotes.pipeline.episode import draft_episode

DEMO = Path(__file__).resolve().parents[2] / "demo_project"


@pytest.mark.parametrize("offset_s", [30, 150])
def test_an_offset_in_the_settings_wins_over_the_log(tmp_path: Path, offset_s: int) -> None:
    """`camera_offset_s` of episode.toml moves the stated interval; the log alone says 90 s."""
    import shutil

    shop = tmp_path / "shop"
    shutil.copytree(DEMO, shop, ignore=shutil.ignore_patterns("out", "footage"))
    settings = shop / "episodes" / "clock-case" / "episode.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(f"camera_offset_s = {offset_s}\n{text}", encoding="utf-8")
    given = draft_episode(settings.parent)[0].clock_offset
    noted = draft_episode(DEMO / "episodes" / "clock-case")[0].clock_offset
    assert given
    assert noted
    assert given != noted
    assert given.low_s <= offset_s <= given.high_s
