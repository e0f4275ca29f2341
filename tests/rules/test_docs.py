"""The pages say what the code does."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path
from pydoc import locate
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]


def make_docs() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_docs", ROOT / "scripts" / "make_docs.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("name", ["commands.md", "problems.md"])
def test_pages_made_from_the_code_are_up_to_date(name: str) -> None:
    """`python scripts/make_docs.py` was run after the last change to commands or problem codes."""
    assert (ROOT / "docs" / name).read_text(encoding="utf-8") == make_docs().PAGES[name]()


def test_every_link_inside_the_docs_leads_somewhere() -> None:
    """Relative links and pictures in README, DEVELOPERS and docs point at files that are there."""
    pages = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
    for page in pages:
        text = page.read_text(encoding="utf-8")
        for target in re.findall(r"\]\((?!https?:|#)([^)#\s]+)", text):
            assert (page.parent / target).exists(), f"{page.name} links {target}"


def test_pages_named_in_the_readme_are_there() -> None:
    """`docs/...` named in running text exists."""
    for page in ("README.md", "DEVELOPERS.md"):
        for target in re.findall(r"`(docs/[\w./-]+)`", (ROOT / page).read_text(encoding="utf-8")):
            assert (ROOT / target).exists(), f"{page} names {target}"


def test_the_glossary_names_what_exists() -> None:
    """Every class or field in the glossary's last column is there: in `model`, or where its path says."""
    page = (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\|[^|]+\|[^|]+\|([^|]+)\|$", page, re.MULTILINE)
    names = [name for cell in rows for name in re.findall(r"`([\w.]+)`", cell)]
    assert names
    for name in names:
        assert locate(f"reelnotes.{name}") or locate(f"reelnotes.model.{name}"), name
