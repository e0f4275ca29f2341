"""Viewers' comments on the command line."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def comments(
    episode: Annotated[Path, typer.Argument(metavar="EPISODE", help="the episode's folder")],
    file: Annotated[Path, typer.Argument(metavar="FILE", help="the comments, CSV or JSON")],
    *,
    correct: Annotated[
        int | None,
        typer.Option("--correct", metavar="N", help="make comment N a correction, with --wrong …"),
    ] = None,
    lesson: Annotated[
        int | None, typer.Option("--lesson", metavar="N", help="make comment N a lesson for the next piece")
    ] = None,
    put_away: Annotated[
        list[int] | None, typer.Option("--put-away", metavar="N", help="put comment N away for good")
    ] = None,
    span: Annotated[
        list[str] | None,
        typer.Option("--span", metavar="SPAN", help="where it is seen; else its step"),
    ] = None,
    shown: Annotated[
        str, typer.Option("--shown", metavar="WORDS", help="what was shown; else the words of the step")
    ] = "",
    wrong: Annotated[str, typer.Option("--wrong", metavar="WORDS", help="why it is wrong")] = "",
    instead: Annotated[str, typer.Option("--instead", metavar="WORDS", help="what to do instead")] = "",
    signal: Annotated[
        str, typer.Option("--signal", metavar="WORD", help="danger, warning, caution or notice")
    ] = "",
    topic: Annotated[str, typer.Option("--topic", metavar="TOPIC", help="such as wood-movement")] = "",
    record: Annotated[str, typer.Option("--id", metavar="ID", help="a name for the record")] = "",
    everything: Annotated[
        bool, typer.Option("--all", help="list those too that were decided before")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")] = False,
) -> None:
    """Sort viewers' comments, worst first; make one a correction or a lesson, or put it away."""
    from reelnotes.cli.comment_printing import print_comments, print_put_away
    from reelnotes.cli.correction_printing import print_recorded
    from reelnotes.pipeline.comments import correct_from, decide, learn_from, one_at_a_time, sort_comments
    from reelnotes.pipeline.records import Asked
    from reelnotes.timing import parse_span

    asked = Asked(
        spans=tuple(parse_span(text) for text in span or ()), shown=shown, wrong=wrong, instead=instead,
        signal=signal, topic=topic, record=record,
    )  # fmt: skip
    one_at_a_time(correct, lesson, put_away or (), asked)
    found = sort_comments(episode, file)
    if correct is not None:
        recorded = correct_from(episode, found, correct, asked)
        raise typer.Exit(print_recorded(recorded, episode, as_json=as_json))
    if lesson is not None:
        raise typer.Exit(print_recorded(learn_from(episode, found, lesson, asked), episode, as_json=as_json))
    if put_away:
        remarks = [found.numbered(number) for number in put_away]
        print_put_away(remarks, decide(found, remarks, "put away"), as_json=as_json)
        return
    raise typer.Exit(print_comments(found, file, everything=everything, as_json=as_json))
