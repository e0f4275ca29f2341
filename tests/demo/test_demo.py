"""The demo workshop is the largest golden test: what its episodes' drafts say changes only on purpose."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path

import pytest

from reelnotes.corrections.roundup import Choice
from reelnotes.pipeline.comments import sort_comments
from reelnotes.pipeline.episode import draft_episode, write_draft
from reelnotes.pipeline.roundup import make_roundup

ROOT = Path(__file__).resolve().parents[2]
GOLDEN = Path(__file__).parent / "golden"
EPISODES = sorted(p.name for p in (ROOT / "demo_project" / "episodes").iterdir() if p.is_dir())
#: Probabilities differ in the last digit from machine to machine; the sheet has tests of its own.
_SCRUBBED = {"told", "confidence"}

GoldenCheck = Callable[[Path, Mapping[str, str]], None]


def drafted(slug: str, scratch: Path) -> dict[str, str]:
    """Draft a copy of a demo episode and give the text of each output."""
    shop = scratch / "demo_project"
    shutil.copytree(ROOT / "demo_project", shop, ignore=shutil.ignore_patterns("out", "footage"))
    draft, facts = draft_episode(shop / "episodes" / slug)
    _, paths = write_draft(draft, facts)
    return {p.name: p.read_text(encoding="utf-8") for p in paths if p.name != "sheet.html"}


def scrubbed(document: object) -> object:
    """Leave out what differs from machine to machine."""
    if isinstance(document, dict):
        return {k: scrubbed(v) for k, v in document.items() if k not in _SCRUBBED}
    return [scrubbed(item) for item in document] if isinstance(document, list) else document


@pytest.mark.parametrize("slug", EPISODES)
def test_drafts_of_the_demo_change_only_on_purpose(slug: str, tmp_path: Path, golden: GoldenCheck) -> None:
    """Every output of a demo episode is what the golden folder holds."""
    texts = drafted(slug, tmp_path)
    draft = scrubbed(json.loads(texts.pop("draft.json")))
    texts.pop("steps.csv", None)
    texts["draft.json"] = json.dumps(draft, ensure_ascii=False, indent=1) + "\n"
    golden(GOLDEN / slug, texts)


@pytest.mark.parametrize("slug", EPISODES)
def test_the_demo_reads_without_errors(slug: str, tmp_path: Path) -> None:
    """The demo's own files raise no error, and what is wrong with them on purpose is a warning at most."""
    problems = json.loads(drafted(slug, tmp_path)["draft.json"])["problems"]
    assert [p for p in problems if p["severity"] == "error"] == []


def test_the_demo_makes_a_roundup(tmp_path: Path) -> None:
    """Its three corrections come worst first, with clips, and the board has the figure of its width."""
    shop = tmp_path / "demo_project"
    shutil.copytree(ROOT / "demo_project", shop, ignore=shutil.ignore_patterns("out", "footage"))
    made = make_roundup(shop, Choice(), day=date(2026, 7, 1))
    assert made.rundown is not None
    assert [item.id for item in made.rundown.items] == ["guard-up", "across-the-knee", "back-board"]
    assert all(item.clip for item in made.rundown.items)
    assert "4.4 mm" in dict(made.rundown.items[2].said)["shown by"]


def test_the_demo_s_comments_point_at_its_mistakes(tmp_path: Path) -> None:
    """What viewers say about danger comes first, at the steps they mean."""
    shop = tmp_path / "demo_project"
    shutil.copytree(ROOT / "demo_project", shop, ignore=shutil.ignore_patterns("out", "footage"))
    found = sort_comments(shop / "episodes" / "clock-case", shop / "comments.csv")
    assert [remark.worth for remark in found.remarks[:3]] == ["safety", "safety", "contradiction"]
    assert "bandsaw" in found.draft.steps[found.remarks[0].steps[0]].text
