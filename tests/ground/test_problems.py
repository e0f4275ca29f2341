"""Problems and refusals: what the maker gets to see."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from reelnotes import problems
from reelnotes.problems import (
    PROBLEM_CODES,
    AlreadyThere,
    BadTime,
    FileChanged,
    FileUnreadable,
    FolderUnwritable,
    NotAnEpisode,
    Problem,
    Refusal,
)

PACKAGE = Path(problems.__file__).parent


def test_a_problem_as_printed() -> None:
    """`file:line: message`, the line beneath; without a line or a file, those parts are left out."""
    assert str(Problem("log-time", "no time", "log.txt", 3, "25:70 x ")) == "log.txt:3: no time\n    25:70 x"
    assert str(Problem("log-empty", "empty", "log.txt")) == "log.txt: empty"
    assert str(Problem("match-thin", "thin")) == "thin"


def test_an_unknown_code_is_refused() -> None:
    """The list of codes cannot fall behind."""
    with pytest.raises(ValueError, match="unknown problem code"):
        Problem("odd", "")


def test_codes_are_in_order_and_used() -> None:
    """Alphabetical, each with a meaning, and each raised somewhere in the package."""
    assert list(PROBLEM_CODES) == sorted(PROBLEM_CODES)
    assert all(PROBLEM_CODES.values())
    code = "\n".join(
        path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.py") if path.name != "problems.py"
    )
    assert [name for name in PROBLEM_CODES if f'"{name}"' not in code] == []


def test_refusals_name_the_place_and_the_way_out() -> None:
    """Each is one sentence that begins with what it is about, and keeps its fields."""
    refusals: list[Refusal] = [
        FileUnreadable(Path("a"), "it is a folder"),
        FolderUnwritable(Path("a"), "read-only file system"),
        FileChanged(Path("a")),
        NotAnEpisode(Path("a"), "there is no such folder."),
        BadTime("x"),
        AlreadyThere(Path("a")),
    ]
    for refusal in refusals:
        assert re.match(r"(a|'x')[: ]", str(refusal))
        assert str(refusal).endswith((".", "552.5."))
        assert "\n" not in str(refusal)
