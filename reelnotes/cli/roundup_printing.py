"""What `roundup` says: the running order with its clock, and where the files lie."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from reelnotes.cli.printing import print_json, print_problems
from reelnotes.timing import format_time
from reelnotes.write.plain import span_text

if TYPE_CHECKING:
    from reelnotes.pipeline.roundup import RoundupMade
    from reelnotes.pipeline.roundup_out import RoundupMarked
    from reelnotes.problems import Problem


def print_roundup(made: RoundupMade, *, as_json: bool) -> int:
    """Print a roundup; give the exit code: 1 where problems were found, else 0."""
    from reelnotes.write.rundown import rundown_record

    exit_code = int(any(problem.severity != "note" for problem in made.problems))
    rundown = made.rundown
    if as_json:
        problems = [_problem(problem) for problem in made.problems]
        record = rundown_record(rundown) if rundown else {"schema": "reelnotes/roundup-1", "items": []}
        print_json({**record, "files": [str(path) for path in made.paths], "problems": problems})
        return exit_code
    if rundown is None:
        typer.echo(
            "no correction is chosen, so no roundup was made; --again takes those that were in one before"
        )
        print_problems(made.problems)
        return exit_code
    count = "1 correction" if len(rundown.items) == 1 else f"{len(rundown.items)} corrections"
    typer.echo(
        f"{count}, {format_time(rundown.length_ms)} in all at {rundown.words_per_minute} words a minute"
    )
    for number, item in enumerate(rundown.items, start=1):
        clip = f"{item.episode}, {span_text(item.clip)}" if item.clip else "no clip"
        typer.echo(f"\n{number:>2}. {format_time(item.starts_ms):>6}  {item.signal:<8} {item.title}")
        typer.echo(f"{'':<12}{'':<9}{item.id}: {clip}, then {format_time(item.talk_ms)} of talk")
    print_problems(made.problems)
    page = next(path for path in made.paths if path.name == "rundown.html")
    typer.echo(f"\nThe rundown to read from: {page}")
    typer.echo("Once it is out: reelnotes roundup WORKSHOP --done --on DAY --address URL")
    return exit_code


def print_marked_roundup(marked: RoundupMarked, *, as_json: bool) -> int:
    """Say which corrections were marked as published in a roundup; 1 where some could not be, else 0."""
    exit_code = int(bool(marked.problems))
    if as_json:
        print_json(
            {
                "roundup": str(marked.folder),
                "marked": list(marked.new),
                "marked_before": list(marked.already),
                "problems": [_problem(problem) for problem in marked.problems],
            }
        )
        return exit_code
    for name in marked.new:
        typer.echo(f"marked  {name}: in a roundup")
    for name in marked.already:
        typer.echo(f"        {name} was marked before")
    typer.echo(f"{marked.folder}: {len(marked.new)} marked, {len(marked.already)} were before")
    print_problems(marked.problems)
    return exit_code


def _problem(p: Problem) -> dict[str, object]:
    return {"code": p.code, "severity": p.severity, "file": p.file, "line": p.line, "message": p.message}
