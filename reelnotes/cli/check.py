"""The check before publishing, on the command line."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from reelnotes.pipeline_check import Checked

_SHOWN_WORDS = 150


def check(
    episode: Annotated[Path, typer.Argument(metavar="EPISODE", help="the episode's folder")],
    *,
    as_json: Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")] = False,
) -> None:
    """List everything that would embarrass you on publishing day; exit code 1 if anything stands."""
    from reelnotes.pipeline_check import check_episode

    raise typer.Exit(print_checked(check_episode(episode), as_json=as_json))


def print_checked(checked: Checked, *, as_json: bool) -> int:
    """Say what stands, kind by kind; give the exit code."""
    from reelnotes.cli.printing import print_json
    from reelnotes.review.check import KIND_WORDS
    from reelnotes.timing import format_time, seconds
    from reelnotes.write.plain import shortened
    from reelnotes.write.wording import TOPIC_WORDS

    standing = checked.standing
    if as_json:
        print_json(
            {
                "episode": checked.draft.episode,
                "clear": not standing,
                "standing": [
                    {
                        "kind": one.kind,
                        "signal": one.signal,
                        "at_s": None if one.at_ms is None else seconds(one.at_ms),
                        "message": one.message,
                        "id": one.id or None,
                        "topic": one.topic,
                    }
                    for one in standing
                ],
            }
        )
        return int(bool(standing))
    if not standing:
        typer.echo(f"{checked.draft.title}: nothing stands in the way. That is no proof that all is well.")
        return 0
    things = f"{len(standing)} thing{'s' * (len(standing) != 1)}"
    typer.echo(f"{checked.draft.title}: {things} to see to before publishing")
    for kind, group in groupby(standing, key=lambda one: one.kind):
        typer.echo(f"\n{KIND_WORDS[kind]}")
        for one in group:
            at = "" if one.at_ms is None else format_time(one.at_ms)
            head = f"  {one.signal or '':<8}{at:>8}  "
            name = f"  [{one.id}]" if one.id and one.kind in ("flag", "disclosure") else ""
            topic = f"{TOPIC_WORDS[one.topic]}: " if one.topic and one.kind == "flag" else ""
            typer.echo(f"{head}{topic}{shortened(one.message, _SHOWN_WORDS)}{name}")
    if any(one.kind in ("flag", "disclosure") for one in standing):
        typer.echo(
            "\nA flag is settled by putting it aside in kept.toml with the reason, or by a caution in the"
        )
        typer.echo("picture: reelnotes correct EPISODE --caution ID")
    return 1
