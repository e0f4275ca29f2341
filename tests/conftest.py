"""Golden files: a folder of expected texts beside the tests of a room."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

GoldenCheck = Callable[[Path, Mapping[str, str]], None]


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add `--golden-update`: lay the golden files down anew and remove those that nothing writes."""
    parser.addoption("--golden-update", action="store_true", help="write golden files anew, drop orphans")


@pytest.fixture
def golden(request: pytest.FixtureRequest) -> GoldenCheck:
    """Compare texts by file name with a whole golden folder; a missing and an extra file fail as well."""
    update = bool(request.config.getoption("--golden-update"))

    def check(folder: Path, texts: Mapping[str, str]) -> None:
        if update:
            _lay_down(folder, texts)
        kept = {path.name: path.read_bytes().decode() for path in folder.glob("*")}
        assert sorted(kept) == sorted(texts), "pytest --golden-update lays the golden files down anew"
        for name, text in texts.items():
            assert text == kept[name], f"{folder.name}/{name} has changed"

    return check


def _lay_down(folder: Path, texts: Mapping[str, str]) -> None:
    folder.mkdir(exist_ok=True)
    for path in folder.glob("*"):
        if path.name not in texts:
            path.unlink()
    for name, text in texts.items():
        (folder / name).write_bytes(text.encode())
