"""The page about the picture says what the settings and the code do."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

import pytest

from reelnotes.pipeline.starting import WORKSHOP_TOML
from reelnotes.settings import PanelSettings, SoundSettings, WorkshopSettings, read_settings

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "picture.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "name",
    [f.name for f in (*fields(SoundSettings), *fields(PanelSettings)) if f.name not in {"ground", "fade_s"}],
)
def test_every_setting_is_on_the_page(name: str) -> None:
    """Under the name that workshop.toml has for it."""
    assert f"`{name}" in PAGE


def test_the_limits_on_the_page_are_the_usual_ones() -> None:
    """Each row of the table names the value that counts where nothing is set."""
    usual = SoundSettings()
    rows = {
        name: row
        for row in re.findall(r"^\|.*\|$", PAGE, re.MULTILINE)
        for name in re.findall(r"`(\w+)`", row)
    }
    numbers = {
        "target_lufs": f"−{-usual.target_lufs} LUFS",
        "tolerance_lu": f"{usual.tolerance_lu} LU",
        "true_peak_dbtp": f"−{-usual.true_peak_dbtp} dBTP",
        "silence_s": f"for {usual.silence_s} s",
        "speech_below_lu": f"{usual.speech_below_lu} LU below",
        "between_over_lu": f"{usual.between_over_lu} LU above",
        "under_below_lu": f"{usual.under_below_lu} LU below",
    }
    for name, words in numbers.items():
        assert words in rows[name], name


def test_a_new_workshop_has_these_settings_and_no_problem() -> None:
    """What `start workshop` writes is read without a word, and sets what is usual anyway."""
    settings, problems = read_settings(WorkshopSettings, WORKSHOP_TOML, "workshop.toml")
    assert problems == []
    assert settings.panels == PanelSettings()
    assert settings.sound == SoundSettings()
