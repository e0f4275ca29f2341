"""Corrections on the command line: recording one, making its inserts, what is owed, what is to be learnt."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path
from typing import Annotated

import typer

EpisodeArgument = Annotated[Path, typer.Argument(metavar="EPISODE", help="the episode's folder")]
WorkshopArgument = Annotated[Path, typer.Argument(metavar="WORKSHOP", help="the workshop's folder")]
JsonOption = Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")]


def correct(
    episode: EpisodeArgument,
    *,
    span: Annotated[
        list[str] | None,
        typer.Option(
            "--span", metavar="SPAN", help="where it is seen, such as 9:12-9:41; several may be given"
        ),
    ] = None,
    shown: Annotated[str, typer.Option("--shown", metavar="WORDS", help="what was shown")] = "",
    wrong: Annotated[
        str, typer.Option("--wrong", metavar="WORDS", help="why it is wrong: what happens")
    ] = "",
    instead: Annotated[str, typer.Option("--instead", metavar="WORDS", help="what to do instead")] = "",
    signal: Annotated[
        str,
        typer.Option(
            "--signal",
            metavar="WORD",
            help="danger, warning or caution where somebody can be hurt; notice where a piece can be ruined",
        ),
    ] = "",
    topic: Annotated[
        str, typer.Option("--topic", metavar="TOPIC", help="such as wood-movement; else found in the words")
    ] = "",
    record: Annotated[
        str, typer.Option("--id", metavar="ID", help="a name for the record; else made from the words")
    ] = "",
    evidence: Annotated[
        list[str] | None,
        typer.Option(
            "--evidence", metavar="WORDS", help="what shows it, such as the line a bench command cites"
        ),
    ] = None,
    source: Annotated[
        list[str] | None, typer.Option("--source", metavar="WORDS", help="where it can be read")
    ] = None,
    again: Annotated[
        str,
        typer.Option("--again", metavar="ID", help="the same mistake in a further place: add it to a record"),
    ] = "",
    caution: Annotated[
        str,
        typer.Option(
            "--caution", metavar="FLAG", help="make a flag of the draft, by its id, a caution in the picture"
        ),
    ] = "",
    disclose: Annotated[
        str,
        typer.Option(
            "--disclose", metavar="PRODUCT", help="disclose a product that was given to the workshop"
        ),
    ] = "",
    as_json: JsonOption = False,
) -> None:
    """Record a correction: what was shown, why it is wrong, what to do instead, and where it stands."""
    from reelnotes.cli.correction_printing import print_recorded
    from reelnotes.pipeline.corrections import record_correction
    from reelnotes.pipeline.records import Asked
    from reelnotes.timing import parse_span

    asked = Asked(
        spans=tuple(parse_span(text) for text in span or ()),
        shown=shown,
        wrong=wrong,
        instead=instead,
        signal=signal,
        topic=topic,
        record=record,
        evidence=tuple(evidence or ()),
        sources=tuple(source or ()),
        again=again,
        caution=caution,
        disclose=disclose,
    )
    raise typer.Exit(print_recorded(record_correction(episode, asked), episode, as_json=as_json))


def insert(
    episode: EpisodeArgument,
    *,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="where to write; else the folder out/inserts inside"),
    ] = None,
    burn: Annotated[
        Path | None, typer.Option("--burn", metavar="IN.mp4", help="the video to burn the inserts into")
    ] = None,
    to: Annotated[
        Path | None, typer.Option("--to", metavar="OUT.mp4", help="the corrected video to write, with --burn")
    ] = None,
    with_chapters: Annotated[
        bool, typer.Option("--with-chapters", help="write the chapters in, if the video has none of its own")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Make the inserts of an episode: panels for the picture, caption tracks, and the texts to publish."""
    from reelnotes.cli.correction_printing import print_inserts
    from reelnotes.cli.progress import progress_bar, tell
    from reelnotes.pipeline.inserts import make_inserts

    with progress_bar("burning in") if burn else nullcontext() as report:
        made = make_inserts(
            episode, out, source=burn, target=to, with_chapters=with_chapters, report=report, tell=tell
        )
    raise typer.Exit(print_inserts(made, as_json=as_json))


def owed(
    workshop: WorkshopArgument,
    *,
    done: Annotated[
        str, typer.Option("--done", metavar="ID", help="mark a record as published in the place of --where")
    ] = "",
    where: Annotated[
        str,
        typer.Option(
            "--where",
            metavar="PLACE",
            help="in-picture, caption-track, description, pinned-note or roundup, with --done",
        ),
    ] = "",
    episode: Annotated[
        list[str] | None,
        typer.Option("--episode", metavar="NAME", help="for this episode alone, with --done; else for all"),
    ] = None,
    on: Annotated[str, typer.Option("--on", metavar="DAY", help="such as 2026-03-28; else today")] = "",
    as_json: JsonOption = False,
) -> None:
    """List, worst first, what has not reached viewers in the picture, and what to publish where."""
    from reelnotes.cli.correction_printing import print_marked, print_owed
    from reelnotes.pipeline.corrections import mark_published, owed_in

    if done or where or on or episode:
        marked = mark_published(workshop, done, where, episodes=tuple(episode or ()), on=on)
        raise typer.Exit(print_marked(marked, as_json=as_json))
    raise typer.Exit(print_owed(owed_in(workshop), as_json=as_json))


def lessons(
    workshop: WorkshopArgument,
    steps: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="STEP...", help="the steps that are planned, each in quotes; none: all lessons"
        ),
    ] = None,
    *,
    episode: Annotated[
        str,
        typer.Option(
            "--episode", metavar="NAME", help="the steps of this episode's log, as far as it has grown"
        ),
    ] = "",
    as_json: JsonOption = False,
) -> None:
    """Show what earlier corrections ask to be checked before and during the next piece."""
    from reelnotes.cli.correction_printing import print_lessons
    from reelnotes.pipeline.corrections import lessons_in

    raise typer.Exit(print_lessons(*lessons_in(workshop, steps or [], episode), as_json=as_json))
