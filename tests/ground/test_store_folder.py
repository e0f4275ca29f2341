"""A folder that is written whole or not at all."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from reelnotes.problems import AlreadyThere, FolderUnwritable
from reelnotes.store import write_new_folder

FILES: dict[str, str | bytes] = {"version.toml": "a", "out/draft.json": b"{}", "out/sheet.html": "ä"}


def test_a_folder_appears_with_all_its_files(tmp_path: Path) -> None:
    """Names may lie in folders inside; nothing else is left beside it."""
    paths = write_new_folder(tmp_path / "versions" / "2", FILES)
    assert [path.relative_to(tmp_path).as_posix() for path in paths] == [
        f"versions/2/{name}" for name in FILES
    ]
    assert (tmp_path / "versions" / "2" / "out" / "sheet.html").read_text(encoding="utf-8") == "ä"
    assert [path.name for path in (tmp_path / "versions").iterdir()] == ["2"]
    if os.name == "posix":
        mode = stat.S_IMODE((tmp_path / "versions" / "2").stat().st_mode)
        assert mode == stat.S_IMODE((tmp_path / "versions").stat().st_mode)


def test_a_folder_that_is_there_is_left(tmp_path: Path) -> None:
    """Nothing is put into it, and nothing stays behind."""
    (tmp_path / "2").mkdir()
    (tmp_path / "2" / "mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(AlreadyThere, match="is already there and was left as it is"):
        write_new_folder(tmp_path / "2", FILES)
    assert [path.name for path in (tmp_path / "2").iterdir()] == ["mine.txt"]
    assert [path.name for path in tmp_path.iterdir()] == ["2"]


@pytest.mark.parametrize("call", range(6))
def test_an_end_between_any_two_steps_leaves_all_or_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: int
) -> None:
    """Whichever file cannot be written, and if the last rename fails, there is no folder."""
    count = iter(range(100))

    def failing(name: str) -> None:
        usual = getattr(Path, name)

        def step(self: Path, *rest: object, **named: object) -> object:
            if next(count) == call:
                raise OSError(5, "Input/output error")
            return usual(self, *rest, **named)

        monkeypatch.setattr(Path, name, step)

    for name in ("write_bytes", "rename", "chmod"):
        failing(name)
    if call < len(FILES) + 2:
        with pytest.raises(FolderUnwritable, match="input/output error"):
            write_new_folder(tmp_path / "2", FILES)
        assert list(tmp_path.iterdir()) == []
    else:
        assert len(write_new_folder(tmp_path / "2", FILES)) == len(FILES)
