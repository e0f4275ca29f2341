"""The example on the page about decisions is read as the page says."""

from __future__ import annotations

import re
from pathlib import Path

from reelnotes.review.kept import read_kept
from reelnotes.store import SourceText

PAGE = Path(__file__).resolve().parents[2] / "docs" / "kept.md"


def test_the_example_holds_every_kind_of_decision() -> None:
    """It is read without a problem."""
    match = re.search(
        r"^```toml kept\.toml\n(.*?)^```$", PAGE.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL
    )
    assert match
    kept, problems = read_kept(SourceText("kept.toml", match[1]))
    assert problems == []
    assert (len(kept.pins), len(kept.chapters), len(kept.dismissed)) == (2, 2, 1)
    assert kept.pins[1].spans == ()
    assert kept.chapters[1].gone
