"""The archive on the command line: finding a practice or a product in every episode there is."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

WorkshopArgument = Annotated[Path, typer.Argument(metavar="WORKSHOP", help="the workshop's folder")]
JsonOption = Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")]


def trace(
    workshop: WorkshopArgument,
    words: Annotated[
        str, typer.Argument(metavar="WORDS", help="a practice in any words: other names for it are found too")
    ] = "",
    *,
    product: Annotated[
        str, typer.Option("--product", metavar="NAME", help="a product, under any name that it goes by")
    ] = "",
    topic: Annotated[
        str, typer.Option("--topic", metavar="TOPIC", help="flags of a topic, such as rag-fire")
    ] = "",
    kind: Annotated[
        str, typer.Option("--kind", metavar="WORK", help="entries of a kind of work, such as sanding")
    ] = "",
    since: Annotated[
        str, typer.Option("--since", metavar="DAY", help="published on that day or later, such as 2026-01-01")
    ] = "",
    until: Annotated[
        str, typer.Option("--until", metavar="DAY", help="published on that day or earlier")
    ] = "",
    correct: Annotated[
        str,
        typer.Option("--correct", metavar="ID", help="show which places a correction would be given as well"),
    ] = "",
    yes: Annotated[
        bool, typer.Option("--yes", help="with --correct: give the correction these places")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Find a practice or a product in every episode; with --correct, retract it everywhere at once."""
    from reelnotes.cli.archive_printing import print_added, print_traced
    from reelnotes.cli.progress import progress_bar
    from reelnotes.corrections.refusals import GoesWith
    from reelnotes.pipeline.trace import add_places, trace_in, wanted_of

    if yes and not correct:
        raise GoesWith("--yes", "--correct ID")
    wanted = wanted_of(words=words, product=product, topic=topic, kind=kind, since=since, until=until)
    with progress_bar("reading the episodes") as progress:
        answer = trace_in(workshop, wanted, progress)
    added = add_places(answer, correct, do_it=yes) if correct else None
    exit_code = print_traced(answer, wanted, added, as_json=as_json)
    if added and not as_json:
        print_added(added, done=yes)
    raise typer.Exit(exit_code)
