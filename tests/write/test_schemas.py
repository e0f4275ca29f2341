"""The published schemas say what the readers take."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import jsonschema
import pytest

from reelnotes.review import kept
from reelnotes.settings import EpisodeSettings, WorkshopSettings, read_settings
from reelnotes.store import SourceText

SCHEMAS = Path(__file__).resolve().parents[2] / "docs" / "schemas"
GOOD_KEPT = """
[[pin]]
step = "3f9a01bc"
spans = ["9:12-9:41", "1:02:03.5-1:02:04"]
[[pin]]
step = "3f9a01bd"
off_camera = true
[[chapter]]
at = "4:10"
title = "Gluing the top"
[[chapter]]
at = 250.5
gone = true
[[dismiss]]
flag = "77c0d2e4"
reason = "offcut, scrapped on camera"
"""


def valid(name: str, toml: str) -> bool:
    """Tell whether TOML is valid by a published schema."""
    schema = json.loads((SCHEMAS / name).read_text("utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    return bool(jsonschema.Draft202012Validator(schema).is_valid(tomllib.loads(toml)))


@pytest.mark.parametrize("path", sorted(SCHEMAS.glob("*.json")), ids=lambda path: path.name)
def test_every_schema_is_one(path: Path) -> None:
    """Each file is a JSON Schema of draft 2020-12 that bears its own name."""
    schema = json.loads(path.read_text("utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["$id"] == path.name


@pytest.mark.parametrize(
    ("toml", "good"),
    [
        (GOOD_KEPT, True),
        ("", True),
        ('[[pin]]\nspans = ["9:12-9:41"]', False),
        ('[[pin]]\nstep = "a"\nspans = ["soon"]', False),
        ('[[chapter]]\ntitle = "a"', False),
        ('[[dismiss]]\nflag = "a"\nresaon = "misspelt"', False),
        ('[[dismiss]]\nflag = "a"', False),
        ('[[hide]]\nflag = "a"', False),
    ],
)
def test_kept_toml_is_valid_where_it_is_read_without_complaint(toml: str, good: bool) -> None:
    """What the schema takes is read without a problem, and what it refuses is not."""
    assert valid("kept-1.json", toml) is good
    problems = kept.read_kept(SourceText("kept.toml", toml))[1]
    assert (not problems) is good


def test_kept_tables_have_the_members_that_are_read() -> None:
    """Schema and reader know the same names."""
    schema = json.loads((SCHEMAS / "kept-1.json").read_text("utf-8"))
    tables = {"pin": "PinTable", "chapter": "ChapterTable", "dismiss": "DismissTable"}
    known = {kind: tuple(schema["$defs"][table]["properties"]) for kind, table in tables.items()}
    assert known == kept._MEMBERS


@pytest.mark.parametrize(
    ("toml", "good"),
    [
        ('name = "x"\n[host]\nchapters_min = 3\n[climate]\nhumidity = [40, 50]', True),
        ('nmae = "x"', False),
        ('[host]\nchapters_min = "three"', False),
    ],
)
def test_workshop_toml_is_valid_where_it_is_read_without_complaint(toml: str, good: bool) -> None:
    """A misspelt name and a value of the wrong kind are refused by schema and reader alike."""
    assert valid("workshop-1.json", toml) is good
    assert (not read_settings(WorkshopSettings, toml, "workshop.toml")[1]) is good


@pytest.mark.parametrize(
    ("toml", "good"), [('title = "x"\nbudget = 60.50\nframe_rate = "25"', True), ("titel = 3", False)]
)
def test_episode_toml_is_valid_where_it_is_read_without_complaint(toml: str, good: bool) -> None:
    """The same for an episode."""
    assert valid("episode-1.json", toml) is good
    assert (not read_settings(EpisodeSettings, toml, "episode.toml")[1]) is good
