"""Beginning a workshop or an episode: a folder with files that explain themselves."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from reelnotes.problems import AlreadyThere
from reelnotes.store import write_file

WORKSHOP_TOML = """\
# What holds for every episode. A line that begins with # does nothing.
name = ""
currency = ""               # shown beside costs, such as "GBP" or "$"

[host]                      # what the host of the videos allows
chapters_min = 3
chapter_min_s = 10
title_max_chars = 60
description_max_chars = 5000
pinned_note_max_chars = 1000

[captions]                  # how fast the words of an insert go by, and how many stand there at once
words_per_minute = 160
line_chars = 37             # in an upright picture about 25, and 3 lines
lines = 2

[panels]                    # how an insert looks in the picture
picture = "1920x1080"       # as it is shown; an upright one is 1080x1920
side = "left"               # left, middle or right, at the top
ground = "dark"             # dark or light
# font = "letters.ttf"      # a font file beside this one, for letters that the usual one has not

[sound]                     # what reelnotes check EPISODE --video holds a finished film against
target_lufs = -14           # loudness of the whole; for broadcasting often -23
tolerance_lu = 2
true_peak_dbtp = -1

[words]                     # the words of this workshop, added to those of the trade
# same = [["the beast", "thickness planer"], ["goo", "hide glue"]]
# misheard = { "she lack" = "shellac" }
"""

SHELF_CSV = "name,pack,unit,price,kind,notes,given,cautions\n"

EPISODE_TOML = """\
# All of this may be left out. A line that begins with # does nothing.
# title = "A stool for the kitchen"
# date = 2026-03-14          # published
# piece = "oak stool"
# budget = 40
# length = "15:20"           # where the programme goes on after the last word
# promises_kept = ["3:42"]   # what was promised there has been seen to
# picture = "1080x1920"      # where it is not what workshop.toml says
# frame_rate = "25"          # of the cut list; 30000/1001 is written "30000/1001"
"""


def start_workshop(folder: Path) -> list[Path]:
    """Make a workshop folder. Raises `AlreadyThere` rather than touch a file that exists."""
    files = {folder / "workshop.toml": WORKSHOP_TOML, folder / "shelf.csv": SHELF_CSV}
    paths = _make(files)
    for name in ("episodes", "corrections"):
        (folder / name).mkdir(exist_ok=True)
    return paths


def start_episode(folder: Path, today: date | None = None) -> list[Path]:
    """Make an episode's folder with a log that begins today. Raises `AlreadyThere`."""
    day = (today or date.today()).isoformat()  # noqa: DTZ011 - the wall clock of the workshop is meant
    return _make({folder / "shop-log.txt": f"{day}\n", folder / "episode.toml": EPISODE_TOML})


def _make(files: dict[Path, str]) -> list[Path]:
    for path in files:
        if path.exists():
            raise AlreadyThere(path)
    for path, text in files.items():
        write_file(path, text)
    return list(files)
