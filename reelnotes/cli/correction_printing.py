"""What the commands for corrections say: calm lines for people, one JSON document for programs."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from reelnotes.cli.printing import print_json, print_problems
from reelnotes.model import Correction
from reelnotes.problems import Problem
from reelnotes.timing import format_time
from reelnotes.write.correction_json import correction_record, reach_records, span_record
from reelnotes.write.plain import span_text
from reelnotes.write.publishing import PLACE_WORDS, told_in_full
from reelnotes.write.wording import TOPIC_WORDS

if TYPE_CHECKING:
    from reelnotes.corrections.lessons import Lesson
    from reelnotes.corrections.reach import Owed
    from reelnotes.pipeline.corrections import Marked, Owing, Recorded
    from reelnotes.pipeline.inserts import Made

_WIDTH = 100


def _exit_code(problems: Sequence[Problem]) -> int:
    return int(any(problem.severity != "note" for problem in problems))


def _problem_records(problems: Sequence[Problem]) -> list[dict[str, object]]:
    return [
        {
            "code": problem.code,
            "severity": problem.severity,
            "file": problem.file,
            "line": problem.line,
            "message": problem.message,
        }
        for problem in problems
    ]


def _wrapped(label: str, text: str, indent: int = 3) -> None:
    """Print a label and a text beside it, wrapped to the width of a page."""
    head = f"{'':<{indent}}{label:<10} "
    lines = textwrap.wrap(text, _WIDTH - len(head)) or [""]
    typer.echo(head + f"\n{'':<{len(head)}}".join(lines))


def _heading(record: Correction) -> str:
    topic = f"{TOPIC_WORDS[record.topic]}, " if record.topic else ""
    word = "DISCLOSURE" if record.kind == "disclosure" else record.signal
    return f"{word:<8} {topic}{record.id}"


# --- correct -----------------------------------------------------------------------------------------


def print_recorded(recorded: Recorded, episode: Path, *, as_json: bool) -> int:
    """Say what was recorded where, and what comes next; give the exit code."""
    record = recorded.record
    if as_json:
        print_json(
            {
                "file": str(recorded.path),
                "record": correction_record(record),
                "problems": _problem_records(recorded.problems),
            }
        )
        return _exit_code(recorded.problems)
    typer.echo(f"recorded  {recorded.path}")
    typer.echo(f"          {_heading(record)}")
    if recorded.found_topic:
        typer.echo("          the topic was read out of the words; change it in the file if it is another")
    for place in record.places:
        version = f", version {place.version}" if place.version > 1 else ""
        typer.echo(f"          {place.episode}{version}, {span_text(place.span)}")
    for answer in record.worked_out:
        _wrapped("worked out", answer, 10)
    print_problems(recorded.problems)
    if record.places:
        typer.echo(f"\nIts cards and the texts to publish: reelnotes insert {episode}")
    else:
        typer.echo("\nIt is asked before the next piece: reelnotes lessons")
    return _exit_code(recorded.problems)


# --- insert ------------------------------------------------------------------------------------------


def print_inserts(made: Made, *, as_json: bool) -> int:
    """Say which inserts stand where, and which files were written; give the exit code."""
    from reelnotes.write.insert_texts import inserts_record

    planned, done = made.planned, made.done
    facts = planned.facts
    if as_json:
        document = inserts_record(
            facts.folder.slug,
            facts.folder.version,
            planned.inserts,
            planned.rate,
            drop=planned.drop,
            answers=planned.answers,
        )
        document["problems"] = _problem_records(planned.problems)
        document["files"] = [str(path) for path in made.paths]
        if done:
            document["burned"] = {
                "pictures": done.pictures,
                "coded_anew": done.coded,
                "reason": done.reason,
                "left_out": list(done.left_out),
            }
        print_json(document)
        return _exit_code(planned.problems)
    if not planned.inserts:
        typer.echo("No inserts: nothing in the ledger speaks of this episode as it stands now.")
    for one in planned.inserts:
        word = one.signal or "DISCLOSURE"
        again = ", returning" if one.returns else ""
        cards = f"{len(one.cards)} card{'s' * (len(one.cards) != 1)}"
        stands = f"{format_time(one.start_ms)} for {(one.end_ms - one.start_ms) / 1000:.1f} s"
        typer.echo(f"{stands:<20} {word:<10} {cards}{again}  {one.of}")
        if not one.returns:
            for card in one.cards:
                typer.echo(f"{'':<31} | " + f"\n{'':<31} | ".join(card.lines))
            for answer in planned.answers.get(one.of, ()):
                _wrapped("worked out", answer, 20)
    print_problems(planned.problems)
    _print_files(made)
    return _exit_code(planned.problems)


def _print_files(made: Made) -> None:
    """List what was written, the panels of one folder in one line."""
    drawn = [path for path in made.paths if path.suffix == ".png"]
    typer.echo("")
    for path in made.paths:
        if path not in drawn:
            typer.echo(f"wrote  {path}")
    if drawn:
        typer.echo(f"wrote  {drawn[0].parent}: {len(drawn)} panel{'s' * (len(drawn) != 1)}")
    if made.done:
        typer.echo(f"       {made.done.coded} of {made.done.pictures} pictures were coded anew")
        for lost in made.done.left_out:
            typer.echo(f"       not kept: {lost}")


# --- owed --------------------------------------------------------------------------------------------


def print_owed(owing: Owing, *, as_json: bool) -> int:
    """List what is owed, and what to publish where; give the exit code."""
    if as_json:
        print_json(
            {
                "owed": [_owed_record(one) for one in owing.owed],
                "problems": _problem_records(owing.problems),
            }
        )
        return _exit_code(owing.problems)
    if not owing.owed:
        typer.echo("Nothing is owed: all that was recorded is in the picture, or its place was taken out.")
    for number, one in enumerate(owing.owed, start=1):
        record = one.record
        typer.echo(f"{number}. {_heading(record)}")
        spans = ", ".join(span_text(span) for span in one.spans)
        since = f", recorded {record.recorded}" if record.recorded else ""
        _wrapped("in", f"{one.episode}, {spans}{since}")
        _wrapped("missing in", ", ".join(PLACE_WORDS[where] for where in one.missing))
        if one.reached:
            _wrapped("reached", ", ".join(f"{PLACE_WORDS[where]} {day}" for where, day in one.reached))
        _wrapped("to publish", told_in_full(record, one.spans))
        typer.echo("")
    print_problems(owing.problems)
    if owing.owed:
        first = owing.owed[0]
        folder = owing.folders.get(first.episode, Path("EPISODE"))
        typer.echo(f"Its cards and the texts to publish: reelnotes insert {folder}")
        done = f"reelnotes owed {owing.workshop} --done {first.record.id} --where in-picture"
        typer.echo(f"Once it is out: {done}")
    return _exit_code(owing.problems)


def _owed_record(one: Owed) -> dict[str, object]:
    return {
        "record": correction_record(one.record),
        "episode": one.episode,
        "spans": [span_record(span) for span in one.spans],
        "missing": list(one.missing),
        "reached": [{"where": where, "on": day.isoformat()} for where, day in one.reached],
        "text": told_in_full(one.record, one.spans),
    }


def print_marked(marked: Marked, *, as_json: bool) -> int:
    """Say what was marked as published."""
    if as_json:
        print_json(
            {
                "file": str(marked.path),
                "id": marked.record.id,
                "marked": reach_records(marked.new),
                "already": reach_records(marked.already),
            }
        )
        return 0
    for one in marked.new:
        typer.echo(f"{marked.record.id}: published in {PLACE_WORDS[one.where]}, {one.episode}, on {one.on}")
    for one in marked.already:
        where = PLACE_WORDS[one.where]
        typer.echo(f"{marked.record.id}: was published in {where}, {one.episode}, on {one.on} already")
    return 0


# --- lessons -----------------------------------------------------------------------------------------


def print_lessons(
    lessons: Sequence[Lesson], steps: Sequence[str], problems: Sequence[Problem], *, as_json: bool
) -> int:
    """Show what is to be checked, with the steps it was matched to; give the exit code."""
    if as_json:
        print_json(
            {
                "steps": list(steps),
                "lessons": [
                    {
                        "record": correction_record(lesson.record),
                        "steps": [{"text": text, "shared": share} for text, share in lesson.steps],
                    }
                    for lesson in lessons
                ],
                "problems": _problem_records(problems),
            }
        )
        return _exit_code(problems)
    if not lessons:
        typer.echo("Nothing to check: no earlier correction comes near." if steps else "No corrections yet.")
    for lesson in lessons:
        record = lesson.record
        typer.echo(_heading(record))
        for text, _ in lesson.steps:
            _wrapped("step", text)
        _wrapped("check", record.instead)
        _wrapped("because", record.wrong)
        for answer in record.worked_out:
            _wrapped("worked out", answer)
        places = ", ".join(f"{p.episode} {format_time(p.span.start_ms)}" for p in record.places)
        _wrapped("last time", record.shown + (f" ({places})" if places else ""))
        typer.echo("")
    print_problems(tuple(problems))
    return _exit_code(problems)
