"""What is said where panels cannot be drawn."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from reelnotes.picture.face import TEXT_FONT, Face, runs_left
from reelnotes.picture.panel import Press
from reelnotes.picture.refusals import FontUnreadable, LibraryMissing
from reelnotes.settings import PanelSettings

pytest.importorskip("PIL.Image", reason="the library that draws panels is not installed")


@pytest.mark.parametrize("length", [0, 3, 11, 60, 4000])
def test_a_font_cut_short_is_refused(tmp_path: Path, length: int) -> None:
    """One sentence that names the file."""
    path = tmp_path / "cut.ttf"
    path.write_bytes(TEXT_FONT.read_bytes()[:length])
    with pytest.raises(FontUnreadable, match=r"cut\.ttf"):
        Press((1280, 720), PanelSettings(), path)


def test_a_missing_font_and_a_folder_are_refused(tmp_path: Path) -> None:
    """The reason is in the sentence."""
    with pytest.raises(FontUnreadable, match="no such file"):
        Face(tmp_path / "none.ttf")
    with pytest.raises(FontUnreadable, match="is a folder"):
        Face(tmp_path)


def test_without_the_library_that_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """The sentence says what to install."""
    monkeypatch.setitem(sys.modules, "PIL", None)
    with pytest.raises(LibraryMissing, match="pip install"):
        Press((1280, 720), PanelSettings())


@pytest.mark.parametrize(
    ("text", "from_right"),
    [("glue", False), ("שלום", True), ("20 שלום", True), ("20 mm", False), ("…", False)],
)
def test_the_first_strong_letter_tells_the_direction(text: str, from_right: bool) -> None:
    """As in the Unicode bidirectional algorithm, rules P2 and P3."""
    assert runs_left(text) is from_right


def test_the_font_lies_beside_its_licence() -> None:
    """Both files and the text of the licence they are given under."""
    folder = TEXT_FONT.parent
    assert {path.suffix for path in folder.iterdir()} == {".ttf", ".txt"}
    licence = (folder / "LICENSE.txt").read_text(encoding="utf-8")
    assert "Apache License" in licence
    assert all(path.name in licence for path in folder.glob("*.ttf"))
