"""What the commands say: calm lines for people, one JSON document for programs."""

from __future__ import annotations

import json
import sys
from collections import Counter
from pathlib import Path

import typer

from reelnotes.model import SIGNAL_ORDER, Draft
from reelnotes.problems import Problem

_SHOWN_PROBLEMS = 12


def print_json(document: object) -> None:
    """Print one JSON document on standard output."""
    typer.echo(json.dumps(document, ensure_ascii=False, indent=2))


def print_paths(paths: list[Path], *, as_json: bool) -> None:
    """Say which files were made."""
    if as_json:
        print_json({"made": [str(path) for path in paths]})
        return
    for path in paths:
        typer.echo(f"made  {path}")


def print_noted(noted: tuple[Path, str], *, as_json: bool) -> None:
    """Say which line was added to which log."""
    path, line = noted
    if as_json:
        print_json({"log": str(path), "line": line})
        return
    typer.echo(f"{path}: {line}")


def print_draft(draft: Draft, paths: list[Path], *, as_json: bool) -> int:
    """Sum up a draft; give the exit code: 1 where problems were found, else 0."""
    exit_code = int(any(p.severity != "note" for p in draft.problems))
    if as_json:
        from reelnotes.write.draft_json import draft_json

        typer.echo(draft_json(draft), nl=False)
        return exit_code
    for label, value in _summary(draft):
        typer.echo(f"{label:<10} {value}")
    print_problems(draft.problems)
    sheet = next((path for path in paths if path.suffix == ".html"), None)
    if sheet:
        typer.echo(f"\nThe sheet to look at: {sheet}")
    return exit_code


def _summary(draft: Draft) -> list[tuple[str, str]]:
    told = sum(bool(step.spans) for step in draft.steps)
    absent = len(draft.steps) - told
    words = Counter(flag.signal for flag in draft.flags)
    signals = ", ".join(f"{words[word]} {word}" for word in SIGNAL_ORDER if words[word])
    spending = draft.spending
    cost = "" if spending.total is None else f", cost {spending.total} {draft.currency}".rstrip()
    against = spending.against_budget or 0
    paid = "paid" if any(purchase.counts for purchase in spending.bought) else "of parts used"
    budget = [("budget", f"{against} {paid}, of {spending.budget} {draft.currency}".rstrip())]
    return [
        ("episode", draft.title),
        ("steps", f"{told} told in the video, {absent} in the log only"),
        ("chapters", str(len(draft.chapters))),
        ("materials", f"{len(spending.materials)}{cost}"),
        *(budget if spending.budget is not None else []),
        ("flags", f"{len(draft.flags)} to look at" + (f": {signals}" if signals else "")),
    ]


def print_problems(problems: tuple[Problem, ...]) -> None:
    """List problems on standard error, worst first; a long list is cut, and says so."""
    if not problems:
        return
    rank = {"error": 0, "warning": 1, "note": 2}
    ordered = sorted(problems, key=lambda p: rank[p.severity])
    print(f"\n{_counted(problems)} on what was read:", file=sys.stderr)
    for problem in ordered[:_SHOWN_PROBLEMS]:
        print(f"  {problem}", file=sys.stderr)
    if len(ordered) > _SHOWN_PROBLEMS:
        print(f"  and {len(ordered) - _SHOWN_PROBLEMS} more; --json gives all of them", file=sys.stderr)


def _counted(problems: tuple[Problem, ...]) -> str:
    """Count problems and mere notes apart: notes leave the exit code at 0."""
    notes = sum(problem.severity == "note" for problem in problems)
    counts = {"problem": len(problems) - notes, "note": notes}
    return " and ".join(f"{count} {name}{'s' * (count != 1)}" for name, count in counts.items() if count)
