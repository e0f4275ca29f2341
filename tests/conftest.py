"""What tests of several rooms share: the command line, and golden files beside the tests of a room."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from reelnotes.cli import main

Run = Callable[..., tuple[int, str, str]]
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


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run the command line in this process; give exit code, output and errors."""

    def call(*words: str | Path) -> tuple[int, str, str]:
        before, sys.argv = sys.argv, ["reelnotes", *map(str, words)]
        try:
            main()
            code = 0
        except SystemExit as stop:
            code = int(stop.code or 0)
        finally:
            sys.argv = before
        out, err = capsys.readouterr()
        return code, out, err

    return call
