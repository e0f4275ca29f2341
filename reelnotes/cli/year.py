"""Looking back on the command line."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def year(
    workshop: Annotated[Path, typer.Argument(metavar="WORKSHOP", help="the workshop's folder")],
    of: Annotated[
        int | None, typer.Argument(metavar="YEAR", help="such as 2026; else the last one with an episode")
    ] = None,
    *,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="where to write; else years/YEAR.html"),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")] = False,
) -> None:
    """Look back at a year on one page: episodes, spending, materials, flags, corrections and what is owed."""
    from reelnotes.cli.printing import print_problems
    from reelnotes.cli.progress import progress_bar
    from reelnotes.pipeline.year import look_back
    from reelnotes.write.year_page import hours_text, median_days, reached_days, year_json

    with progress_bar("reading the episodes") as progress:
        made = look_back(workshop, of, out, progress=progress)
    facts = made.facts
    exit_code = int(any(problem.severity != "note" for problem in made.problems))
    if as_json:
        typer.echo(year_json(facts, made.problems), nl=False)
        raise typer.Exit(exit_code)
    count = "1 episode" if len(facts.episodes) == 1 else f"{len(facts.episodes)} episodes"
    typer.echo(f"{facts.year}: {count}, {hours_text(facts.length_ms)} of programme")
    flags = "1 flag" if len(facts.flags) == 1 else f"{len(facts.flags)} flags"
    recorded = "1 correction" if len(facts.corrections) == 1 else f"{len(facts.corrections)} corrections"
    sums = (flags, recorded, f"{len(facts.owed)} owed")
    typer.echo(f"      {', '.join(sums)}")
    days = median_days(facts.corrections)
    if days is not None:
        reached = sum(1 for one in facts.corrections if reached_days(one))
        within = "the same day" if days == 0 else "a day" if days == 1 else f"{days} days"
        typer.echo(f"      {reached} of them reached viewers, half of those within {within}")
    print_problems(made.problems)
    typer.echo(f"\nThe page: {made.path}")
    raise typer.Exit(exit_code)
