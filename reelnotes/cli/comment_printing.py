"""What `comments` says: the comments by their worth, each with its number, its place and its words."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from reelnotes.cli.printing import print_json, print_problems
from reelnotes.timing import format_time, seconds
from reelnotes.write.plain import shortened

if TYPE_CHECKING:
    from reelnotes.pipeline.comments import Sorted
    from reelnotes.review.comments import Remark

_WIDTH = 100
_STEP_CHARS = 60
_LONGEST = 600  # letters of a comment; --json gives all of it
WORTH_WORDS = {
    "safety": "About safety",
    "contradiction": "Says that something is wrong",
    "question": "Asks",
    "other": "The rest",
}


def print_comments(found: Sorted, file: Path, *, everything: bool, as_json: bool) -> int:
    """List the comments; give the exit code: 1 where problems were found, else 0."""
    exit_code = int(any(problem.severity != "note" for problem in found.problems))
    shown = [remark for remark in found.remarks if everything or not remark.decided]
    if as_json:
        print_json(_document(found, shown))
        return exit_code
    decided = len(found.remarks) - len([r for r in found.remarks if not r.decided])
    hidden = f", {decided} decided before" if decided else ""
    count = "1 comment" if len(found.remarks) == 1 else f"{len(found.remarks)} comments"
    typer.echo(f"{count} in {file.name}{hidden}")
    for worth, words in WORTH_WORDS.items():
        group = [remark for remark in shown if remark.worth == worth]
        if group:
            typer.echo(f"\n{words} ({len(group)})")
            for remark in group:
                _print_remark(remark, found)
    print_problems(found.problems)
    if shown:
        typer.echo("\nNext: --correct N, --lesson N or --put-away N")
    return exit_code


def _print_remark(remark: Remark, found: Sorted) -> None:
    steps = {step.entry: step for step in found.draft.steps}
    number = remark.comment.number
    times = " ".join(format_time(ms) for ms in remark.at_ms)
    head = f"{number:>5}  {times:<9} "
    lines = textwrap.wrap(shortened(remark.comment.text, _LONGEST), _WIDTH - len(head)) or [""]
    typer.echo(head + f"\n{'':<{len(head)}}".join(lines))
    told = [f"step {entry + 1}: {shortened(steps[entry].text, _STEP_CHARS)}" for entry in remark.steps]
    told += [f"{format_time(ms)} is behind the end of the video" for ms in remark.beyond_ms]
    told += [f"by “{remark.sign}”"] if remark.sign and remark.worth != "question" else []
    told += [f"decided: {remark.decided}"] if remark.decided else []
    if told:
        typer.echo(f"{'':<{len(head)}}[{'; '.join(told)}]")


def print_put_away(remarks: Sequence[Remark], path: Path, *, as_json: bool) -> None:
    """Say which comments were put away."""
    numbers = list(dict.fromkeys(remark.comment.number for remark in remarks))
    if as_json:
        print_json({"put_away": numbers, "kept_in": str(path)})
        return
    typer.echo(f"put away: {', '.join(map(str, numbers))}; {path} keeps a hash of the words and nothing else")


def _document(found: Sorted, shown: Sequence[Remark]) -> dict[str, object]:
    return {
        "schema": "reelnotes/comments-1",
        "episode": found.draft.episode,
        "comments": [
            {
                "number": remark.comment.number,
                "written": remark.comment.written.isoformat() if remark.comment.written else None,
                "text": remark.comment.text,
                "worth": remark.worth,
                "sign": remark.sign or None,
                "at_s": [seconds(ms) for ms in remark.at_ms],
                "beyond_s": [seconds(ms) for ms in remark.beyond_ms],
                "entries": list(remark.steps),
                "decided": remark.decided or None,
            }
            for remark in shown
        ],
        "problems": [
            {"code": p.code, "severity": p.severity, "file": p.file, "line": p.line, "message": p.message}
            for p in found.problems
        ],
    }
