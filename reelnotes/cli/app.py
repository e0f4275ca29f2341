"""The commands, in the order in which a maker meets them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from reelnotes.cli.archive import trace
from reelnotes.cli.bench import bench
from reelnotes.cli.check import check
from reelnotes.cli.comments import comments
from reelnotes.cli.corrections import correct, insert, lessons, owed
from reelnotes.cli.recut import recut
from reelnotes.cli.roundup import roundup
from reelnotes.cli.year import year

start = typer.Typer(
    help="Begin a workshop or an episode: a folder with the files to fill.", no_args_is_help=True
)
EpisodeArgument = Annotated[Path, typer.Argument(metavar="EPISODE", help="the episode's folder")]
JsonOption = Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")]


@start.command("workshop")
def start_workshop(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="the folder to make")],
    as_json: JsonOption = False,
) -> None:
    """Make a workshop: settings, a shelf, and a place for episodes."""
    from reelnotes.cli.printing import print_paths
    from reelnotes.pipeline.starting import start_workshop as begin

    print_paths(begin(folder), as_json=as_json)


@start.command("episode")
def start_episode(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="the folder to make, such as shop/episodes/oak-stool")
    ],
    as_json: JsonOption = False,
) -> None:
    """Make an episode's folder with a shop log to fill."""
    from reelnotes.cli.printing import print_paths
    from reelnotes.pipeline.starting import start_episode as begin

    print_paths(begin(folder), as_json=as_json)


def note(
    episode: EpisodeArgument,
    words: Annotated[str, typer.Argument(metavar="WORDS", help="what was done, in any words")],
    at: Annotated[
        str,
        typer.Option("--at", metavar="TIME", help='when, such as "2026-03-04 09:40" or "09:40"; else now'),
    ] = "",
    as_json: JsonOption = False,
) -> None:
    """Log an entry now: one line at the end of the episode's shop log."""
    from reelnotes.cli.printing import print_noted
    from reelnotes.pipeline.noting import note_entry

    print_noted(note_entry(episode, words, at), as_json=as_json)


def draft(
    episode: EpisodeArgument,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="where to write; else the folder out inside")
    ] = None,
    transcript: Annotated[
        Path | None,
        typer.Option("--transcript", metavar="FILE", help="which transcript, where several lie there"),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Draft steps, chapters, materials with cost, and flags; write them in every form."""
    from reelnotes.cli.printing import print_draft
    from reelnotes.pipeline.episode import draft_episode, write_draft

    drafted, facts = draft_episode(episode, transcript)
    drafted, paths = write_draft(drafted, facts, out)
    raise typer.Exit(print_draft(drafted, paths, as_json=as_json))


#: Every command by its name, in the order of the help; a group has commands of its own.
COMMANDS: dict[str, typer.Typer | Callable[..., None]] = {
    "start": start,
    "bench": bench,
    "note": note,
    "draft": draft,
    "check": check,
    "correct": correct,
    "insert": insert,
    "owed": owed,
    "recut": recut,
    "lessons": lessons,
    "trace": trace,
    "comments": comments,
    "year": year,
    "roundup": roundup,
}


def command_line(asked: str = "") -> typer.Typer:
    """Give the command line: all of it, or the one command that is asked for by its name.

    typer works out every parameter of every command before it runs one, which is half a millisecond each.
    """
    app = typer.Typer(
        help="From a shop log and a transcript: chapters, materials with their cost, and flags for risky "
        "steps. `reelnotes --version` prints the version.",
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        add_completion=False,
        no_args_is_help=True,
    )
    app.callback()(_no_options)
    for name in [asked] if asked in COMMANDS else COMMANDS:
        command = COMMANDS[name]
        if isinstance(command, typer.Typer):
            app.add_typer(command, name=name)
        else:
            app.command(name)(command)
    return app


def _no_options() -> None:
    """Nothing stands before a command's name; without this, one command would be taken for the whole."""


app = command_line()
