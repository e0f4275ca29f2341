"""Every file that a draft is written to.

To add a format:

1. write a function `Draft -> str` in a module of its own in this folder, pure, its docstring naming the
   standard it follows;
2. add one line to `OUTPUTS`: the name of the file and the function;
3. add an independent reading of it to `READERS` in `tests/write/test_outputs.py`, and run
   `pytest tests/write --golden-update` to lay down its golden file;
4. describe it in `docs/outputs.md`, under a heading that is the file's name.

Then `reelnotes draft` writes it, and the tests hold that it can be read back and is described.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from reelnotes.model import Draft
from reelnotes.problems import Problem
from reelnotes.settings import HostLimits
from reelnotes.write.chapters import (
    chapters_ffmetadata,
    chapters_matroska,
    chapters_podcast,
    chapters_text,
    chapters_vtt,
    placed_chapters,
)
from reelnotes.write.description import DESCRIPTION, description
from reelnotes.write.draft_json import draft_json
from reelnotes.write.flags import flags_markdown
from reelnotes.write.linked_data import linked_data
from reelnotes.write.materials import materials_csv, materials_markdown
from reelnotes.write.steps import off_camera_markdown, steps_csv

Writer = Callable[[Draft], str]


def _sheet(draft: Draft) -> str:
    """Load the sheet's template engine only when a sheet is written."""
    from reelnotes.write.sheet import sheet_html

    return sheet_html(draft).rstrip() + "\n"


#: File name -> writer. The description is apart, because it needs to know what the host allows.
OUTPUTS: dict[str, Writer] = {
    "draft.json": draft_json,
    "chapters.txt": chapters_text,
    "chapters.vtt": chapters_vtt,
    "chapters.ffmetadata": chapters_ffmetadata,
    "chapters.xml": chapters_matroska,
    "chapters.json": chapters_podcast,
    "materials.csv": materials_csv,
    "materials.md": materials_markdown,
    "flags.md": flags_markdown,
    "steps.csv": steps_csv,
    "off-camera.md": off_camera_markdown,
    "linked-data.jsonld": linked_data,
    "sheet.html": _sheet,
}


def write_outputs(draft: Draft, limits: HostLimits) -> tuple[dict[str, str], list[Problem]]:
    """Write a draft in every form; give the texts by file name, and what was found on the way.

    What was found stands in the texts too (`draft.json`, the sheet). Called again with a draft that holds
    these problems already, it gives the same texts.
    """
    described, problems = description(draft, limits.description_max_chars)
    problems = [*placed_chapters(draft)[1], *problems]
    new = tuple(problem for problem in problems if problem not in draft.problems)
    whole = replace(draft, problems=(*draft.problems, *new))
    return {DESCRIPTION: described, **{name: write(whole) for name, write in OUTPUTS.items()}}, problems
