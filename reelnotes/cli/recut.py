"""A new version on the command line: what is taken out, what is held, and what becomes of the rest."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from reelnotes.corrections.changes import Change
    from reelnotes.picture.pauses import Shift
    from reelnotes.pipeline.recut import Recut

_SHOWN = 20
_WORDS = 60


def recut(
    episode: Annotated[
        Path,
        typer.Argument(metavar="EPISODE", help="its folder: the newest version; or EPISODE/versions/N"),
    ],
    *,
    remove: Annotated[
        list[str] | None,
        typer.Option("--remove", metavar="SPAN", help="take this out: 9:12-9:41; several may be given"),
    ] = None,
    hold: Annotated[
        list[str] | None,
        typer.Option("--hold", metavar="TIME", help="hold the frame at 9:12; several may be given"),
    ] = None,
    lasting: Annotated[
        list[str] | None, typer.Option("--for", metavar="SECONDS", help="how long, once for each --hold")
    ] = None,
    video: Annotated[
        Path | None,
        typer.Option("--video", metavar="IN.mp4", help="the video of that version, to be cut too"),
    ] = None,
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="OUT.mp4", help="the video of the new version, with --video"),
    ] = None,
    to_pause: Annotated[
        bool,
        typer.Option(
            "--to-pause",
            help="with --video: move each joint into the nearest pause in speech, within a second",
        ),
    ] = False,
    with_chapters: Annotated[
        bool, typer.Option("--with-chapters", help="write the chapters in, if the video has none of its own")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")] = False,
) -> None:
    """Make a new version: take spans out or hold a frame, and move everything that carries a time."""
    from reelnotes.cli.progress import progress_bar, tell
    from reelnotes.corrections.versions import held_frames
    from reelnotes.pipeline.recut import recut_episode
    from reelnotes.timing import parse_span

    removed = [parse_span(text) for text in remove or ()]
    held = held_frames(hold or (), lasting or ())
    with progress_bar("cutting") if video else nullcontext() as report:
        done = recut_episode(
            episode,
            removed,
            held,
            video=video,
            target=to,
            to_pause=to_pause,
            with_chapters=with_chapters,
            report=report,
            tell=tell,
        )
    raise typer.Exit(print_recut(done, to, as_json=as_json))


# --- printing ----------------------------------------------------------------------------------------


def print_recut(done: Recut, video: Path | None, *, as_json: bool) -> int:
    """Say what moved and what went; give the exit code: 1 where problems were found, else 0."""
    exit_code = int(any(problem.severity != "note" for problem in done.problems))
    if as_json:
        from reelnotes.cli.printing import print_json

        print_json(_document(done, video))
        return exit_code
    for label, value in _summary(done):
        typer.echo(f"{label:<10} {value}")
    _print_changes(done)
    _print_gone(done)
    _print_problems(done)
    typer.echo("")
    for path in (done.folder, *([video] if video else [])):
        typer.echo(f"wrote  {path}")
    return exit_code


def _summary(done: Recut) -> list[tuple[str, str]]:
    from reelnotes.model import HeldFrame
    from reelnotes.pipeline.recut import removed_of
    from reelnotes.timing import format_time, typed_span, typed_time

    to = done.planned.to
    cut = [f"{typed_span(span)} ({span.length_ms / 1000:g} s)" for span in removed_of(to)]
    held = [
        f"{typed_time(piece.at_ms)} for {piece.length_ms / 1000:g} s"
        for piece in done.version.pieces
        if isinstance(piece, HeldFrame)
    ]
    moved = [
        f"{one.count} {one.kind if one.count > 1 else one.kind.removesuffix('s')}"
        for one in done.planned.moved
        if one.count
    ]
    rows = [
        ("version", f"{done.version.number}, made from version {done.version.of}"),
        ("cut", ", ".join(cut)),
        ("held", ", ".join(held)),
        ("pauses", ", ".join(map(_shift_words, done.planned.shifts))),
        ("length", f"{format_time(to.length_before)}, now {format_time(to.length_after)}"),
        ("moved", ", ".join(moved) or "nothing"),
    ]
    return [(label, value) for label, value in rows if value]


def _shift_words(shift: Shift) -> str:
    from reelnotes.timing import typed_time

    asked = typed_time(shift.at_ms)
    return f"{asked} moved to {typed_time(shift.to_ms)}" if shift.to_ms is not None else f"none near {asked}"


def _print_changes(done: Recut) -> None:
    from reelnotes.timing import format_time
    from reelnotes.write.plain import shortened

    changes = done.planned.changes
    if not changes:
        return
    typer.echo("\nWhat did more than move, with its old time:")
    for change in _most_telling(changes):
        at = format_time(change.was.start_ms) if change.was else ""
        typer.echo(f"  {at:>7}  {change.kind:<8} {change.fate}: {shortened(change.words, _WORDS)}")
    if len(changes) > _SHOWN:
        rest = Counter((c.kind, c.fate) for c in changes) - Counter(
            (c.kind, c.fate) for c in _most_telling(changes)
        )
        words = ", ".join(f"{number} × {kind} {fate}" for (kind, fate), number in rest.items())
        typer.echo(f"  and {words}; --json lists them all")


def _most_telling(changes: Sequence[Change]) -> list[Change]:
    """Show what the maker would miss before the captions that went with what was said."""
    ranked = sorted(
        changes, key=lambda change: (change.kind == "cue") + (change.kind == "cue" and change.fate == "went")
    )
    return ranked[:_SHOWN]


def _print_gone(done: Recut) -> None:
    from reelnotes.timing import typed_span

    if done.gone:
        typer.echo("\nNot in the picture any more; the ledger keeps them for the older versions:")
    for record, place in done.gone:
        typer.echo(f"  {record}  {typed_span(place.span)} of version {place.version}")


def _print_problems(done: Recut) -> None:
    from reelnotes.cli.printing import print_problems

    print_problems(tuple(problem for problem in done.problems if problem.code != "cue-cut"))


def _document(done: Recut, video: Path | None) -> dict[str, object]:
    """Give all of it as one JSON document; times in seconds."""
    from reelnotes.model import HeldFrame
    from reelnotes.pipeline.recut import removed_of
    from reelnotes.timing import seconds
    from reelnotes.write.correction_json import span_record

    to, version = done.planned.to, done.version
    return {
        "episode": done.planned.facts.folder.slug,
        "version": version.number,
        "of": version.of,
        "frame_rate": str(done.planned.rate) if done.planned.rate else None,
        "removed": [span_record(span) for span in removed_of(to)],
        "held": [
            {"at_s": seconds(piece.at_ms), "for_s": seconds(piece.length_ms)}
            for piece in version.pieces
            if isinstance(piece, HeldFrame)
        ],
        "moved_to_pauses": [
            {"asked_s": seconds(s.at_ms), "at_s": None if s.to_ms is None else seconds(s.to_ms)}
            for s in done.planned.shifts
        ],
        "length_before_s": seconds(to.length_before),
        "length_s": seconds(to.length_after),
        "moved": {one.kind: one.count for one in done.planned.moved},
        "changes": [
            {
                "kind": change.kind,
                "fate": change.fate,
                "was": span_record(change.was) if change.was else None,
                "words": change.words,
            }
            for change in done.planned.changes
        ],
        "gone": [
            {"id": record, "version": place.version, "span": span_record(place.span)}
            for record, place in done.gone
        ],
        "problems": [
            {"code": p.code, "severity": p.severity, "file": p.file, "line": p.line, "message": p.message}
            for p in done.problems
        ],
        "files": [str(path) for path in (*done.paths, *([video] if video else []))],
    }
