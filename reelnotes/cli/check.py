"""The check before publishing, on the command line."""

from __future__ import annotations

from contextlib import nullcontext
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from reelnotes.picture.sound import Heard
    from reelnotes.pipeline.check import Checked

_SHOWN_WORDS = 150


def check(
    episode: Annotated[Path, typer.Argument(metavar="EPISODE", help="the episode's folder")],
    *,
    video: Annotated[
        Path | None,
        typer.Option("--video", metavar="FILE", help="the finished video, whose sound is measured"),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")] = False,
) -> None:
    """List everything that would embarrass you on publishing day; exit code 1 if anything stands."""
    from reelnotes.cli.progress import progress_bar
    from reelnotes.pipeline.check import check_episode

    with progress_bar("listening") if video else nullcontext() as report:
        checked = check_episode(episode, video, report)
    raise typer.Exit(print_checked(checked, as_json=as_json))


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
                **({"sound": _sound_record(checked.sound)} if checked.sound else {}),
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
    if checked.sound:
        typer.echo(_sound_line(checked.sound))
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


# --- the sound of the film -----------------------------------------------------------------------------


def _sound_line(heard: Heard) -> str:
    """Say in one line what was measured."""
    from reelnotes.timing import format_time

    if heard.integrated is None:
        return "sound      nothing to be heard"
    parts = [f"{heard.integrated:.1f} LUFS", f"range {heard.range:.1f} LU"]
    if heard.short_term is not None:
        parts.append(f"loudest 3 s {heard.short_term:.1f} LUFS at {format_time(heard.short_term_at_ms)}")
    if heard.true_peak is not None:
        parts.append(f"true peak {heard.true_peak:.1f} dBTP")
    mono = " (one channel, measured as it comes from two loudspeakers)" if len(heard.channels) == 1 else ""
    return f"sound      {', '.join(parts)}{mono}"


def _sound_record(heard: Heard) -> dict[str, object]:
    """Give what was measured as a JSON object: LUFS, LU and dBTP, times in seconds; null is silence."""
    from reelnotes.timing import seconds

    return {
        "integrated_lufs": heard.integrated,
        "range_lu": heard.range,
        "short_term_max_lufs": heard.short_term,
        "short_term_max_at_s": seconds(heard.short_term_at_ms),
        "momentary_max_lufs": heard.momentary,
        "momentary_max_at_s": seconds(heard.momentary_at_ms),
        "true_peak_dbtp": None if heard.true_peak is None else round(heard.true_peak, 2),
        "channels": len(heard.channels),
        "length_s": seconds(heard.length_ms),
    }
