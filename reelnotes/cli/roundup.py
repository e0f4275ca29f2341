"""The roundup on the command line."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

WorkshopArgument = Annotated[Path, typer.Argument(metavar="WORKSHOP", help="the workshop's folder")]
JsonOption = Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")]


def roundup(
    workshop: WorkshopArgument,
    *,
    since: Annotated[
        str, typer.Option("--since", metavar="DAY", help="recorded on that day or later, such as 2026-01-01")
    ] = "",
    until: Annotated[
        str, typer.Option("--until", metavar="DAY", help="recorded on that day or earlier")
    ] = "",
    topic: Annotated[
        list[str] | None, typer.Option("--topic", metavar="TOPIC", help="such as wood-movement; several too")
    ] = None,
    signal: Annotated[
        list[str] | None, typer.Option("--signal", metavar="WORD", help="danger, warning, caution or notice")
    ] = None,
    only: Annotated[
        list[str] | None, typer.Option("--only", metavar="ID", help="this correction; several may be given")
    ] = None,
    leave_out: Annotated[
        list[str] | None, typer.Option("--leave-out", metavar="ID", help="not this correction")
    ] = None,
    again: Annotated[bool, typer.Option("--again", help="also those that were in a roundup before")] = False,
    order: Annotated[
        str, typer.Option("--order", metavar="ID,ID,...", help="your running order; the others come after")
    ] = "",
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="where to write; else roundups/DAY")
    ] = None,
    on: Annotated[
        str, typer.Option("--on", metavar="DAY", help="the roundup's day; with --done when it came out")
    ] = "",
    done: Annotated[
        bool, typer.Option("--done", help="the roundup is out: mark its corrections in the ledger")
    ] = False,
    address: Annotated[
        str, typer.Option("--address", metavar="URL", help="with --done: where the roundup can be seen")
    ] = "",
    as_json: JsonOption = False,
) -> None:
    """Make a video of corrections: running order, clips, script and texts; --done marks it as published."""
    from reelnotes.cli.roundup_printing import print_marked_roundup, print_roundup
    from reelnotes.corrections.refusals import GoesWith, TooMuchSaid
    from reelnotes.pipeline.roundup import choice_of, day_or_none, make_roundup

    if done:
        from reelnotes.pipeline.roundup_out import mark_roundup

        chosen = {
            "--since": since, "--until": until, "--topic": topic, "--signal": signal, "--only": only,
            "--leave-out": leave_out, "--again": again, "--order": order,
        }  # fmt: skip
        if given := [option for option, value in chosen.items() if value]:
            raise TooMuchSaid("--done", given, "it marks all that the roundup holds")
        marked = mark_roundup(workshop, out=out, on=on, address=address)
        raise typer.Exit(print_marked_roundup(marked, as_json=as_json))
    if address:
        raise GoesWith("--address", "--done")
    choice = choice_of(
        since=since, until=until, topics=topic or (), signals=signal or (), only=only or (),
        leave_out=leave_out or (), again=again,
    )  # fmt: skip
    names = [name.strip() for name in order.split(",") if name.strip()]
    made = make_roundup(workshop, choice, order=names, out=out, day=day_or_none(on))
    raise typer.Exit(print_roundup(made, as_json=as_json))
