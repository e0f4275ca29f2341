"""What `trace` says: the episodes, newest first, each place with its time, its words and what it is."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

import typer

from reelnotes.cli.printing import print_json, print_problems
from reelnotes.timing import format_time, seconds, typed_span
from reelnotes.write.plain import shortened
from reelnotes.write.wording import TOPIC_WORDS

if TYPE_CHECKING:
    from reelnotes.archive.trace import Found, Wanted
    from reelnotes.pipeline.trace import Added, Answer

_WIDTH = 100
_MOST = 40
_MOST_FORMS = 400  # so many places are read for the names under which something was found
_ASKED = 120  # letters of what was asked for
_BEFORE, _LONGEST = 60, 240  # letters shown before the first word that was asked for, and of a whole text


def print_traced(answer: Answer, wanted: Wanted, added: Added | None, *, as_json: bool) -> int:
    """Print what was found; give the exit code: 1 where problems were found, else 0."""
    exit_code = int(any(problem.severity != "note" for problem in answer.problems))
    if as_json:
        print_json(_record(answer, added))
        return exit_code
    found = answer.traced.found
    for line in _summary(answer, wanted):
        typer.echo(line)
    for _, group in groupby(enumerate(found[:_MOST]), key=lambda pair: pair[1].episode):
        _print_episode(answer, list(group))
    if len(found) > _MOST:
        typer.echo(
            f"\n... and {len(found) - _MOST} more; --since and --until narrow it, --json gives all of them"
        )
    print_problems(answer.problems)
    return exit_code


def print_added(added: Added, *, done: bool) -> None:
    """Say which places a correction was given, or would be."""
    already = f"; {added.known} of those found it speaks of already" if added.known else ""
    if not added.new:
        typer.echo(f"\n{added.record.id}: no place to add{already}")
        return
    places = "1 place" if len(added.new) == 1 else f"{len(added.new)} places"
    episodes = len({place.episode for place in added.new})
    where = "1 episode" if episodes == 1 else f"{episodes} episodes"
    if done:
        typer.echo(f"\n{added.path}: {places} in {where} added{already}")
        typer.echo("`reelnotes owed` lists what has not reached the viewers of each")
        return
    typer.echo(f"\n{added.record.id} would be given {places} in {where}{already}:")
    for place in added.new:
        doubt = "   may be another product" if place in added.unsure else ""
        typer.echo(f"   {place.episode:<28} {typed_span(place.span)}{doubt}")
    typer.echo("Add --yes to do it. What does not belong stays out if you ask more narrowly;")
    typer.echo(f"a [[place]] can also be taken out of {added.path.name} afterwards.")


def _summary(answer: Answer, wanted: Wanted) -> Iterator[str]:
    """Say what was looked for and how much was found."""
    named = {"": wanted.words, "product ": wanted.product, "topic ": wanted.topic, "work ": wanted.kind}
    asked = ", ".join(f"{label}{shortened(value, _ASKED)!r}" for label, value in named.items() if value)
    number = len({one.episode for one in answer.traced.found if one.episode})
    of = f"{answer.episodes} episode" + ("s" if answer.episodes != 1 else "")
    if not answer.traced.found:
        yield f"{asked}: found nowhere in {of}"
        return
    places = "1 place" if len(answer.traced.found) == 1 else f"{len(answer.traced.found)} places"
    yield f"{asked}: {places} in {number} of {of}"
    if wanted.product and answer.traced.products:
        yield f"taken for: {', '.join(answer.traced.products)}"
    forms = answer.traced.forms(_MOST_FORMS)
    if len(forms) > 1:
        newest = f" (in the newest {_MOST_FORMS} places)" if len(answer.traced.found) > _MOST_FORMS else ""
        yield f"found as{newest}: {', '.join(forms[:12])}"


def _print_episode(answer: Answer, group: list[tuple[int, Found]]) -> None:
    first = group[0][1]
    if not first.episode:
        typer.echo("\nin the ledger of corrections")
    else:
        day = f"  {first.published}" if first.published else ""
        version = f", version {first.version}" if first.version > 1 else ""
        typer.echo(f"\n{first.title}{day}   {first.episode}{version}")
    for number, one in group:
        head = f"   {_place(one):<13} "
        lines = textwrap.wrap(_shown(one, answer.traced.marks(one)), _WIDTH - len(head)) or [""]
        typer.echo(head + f"\n{'':<{len(head)}}".join(lines))
        for more in _beneath(one, answer.corrected.get(number, ())):
            typer.echo(f"{'':<{len(head)}}{more}")


def _place(one: Found) -> str:
    if one.record:
        return one.record[:13]
    if one.start_ms is None or one.end_ms is None:
        return "log only"
    start = format_time(one.start_ms)
    return f"{start}-{format_time(one.end_ms)}" if one.source == "log" else start


def _shown(one: Found, marks: Sequence[tuple[int, int]]) -> str:
    """Give the words with what was asked for in brackets, cut around the first of it where they are long."""
    text, at = "", 0
    for start, end in marks:
        if start < at:
            continue
        text += f"{one.text[at:start]}[{one.text[start:end]}]"
        at = end
    text += one.text[at:]
    if len(text) > _LONGEST:
        begin = max(0, text.find("[") - _BEFORE)
        cut = text[begin : begin + _LONGEST]
        text = ("... " if begin else "") + cut + (" ..." if begin + _LONGEST < len(text) else "")
    return f"{text}" if one.source != "log" else f"log: {text}"


def _beneath(one: Found, corrected: tuple[str, ...]) -> Iterator[str]:
    if one.topic:
        yield f"flag: {TOPIC_WORDS.get(one.topic, one.topic)}"  # type: ignore[call-overload]  # from the index
    if not one.sure:
        yield "may be another product of this kind"
    if corrected:
        yield f"corrected already: {', '.join(corrected)}"
    if one.link:
        yield one.link


def _record(answer: Answer, added: Added | None) -> dict[str, object]:
    return {
        "schema": "reelnotes/trace-1",
        "workshop": str(answer.workshop),
        "episodes": answer.episodes,
        "products": list(answer.traced.products),
        "found": [
            {
                "episode": one.episode or None,
                "title": one.title,
                "published": one.published.isoformat() if one.published else None,
                "version": one.version,
                "source": one.source,
                "text": one.text,
                "marks": [list(mark) for mark in answer.traced.marks(one)],
                "start_s": None if one.start_ms is None else seconds(one.start_ms),
                "end_s": None if one.end_ms is None else seconds(one.end_ms),
                "entry": one.entry,
                "logged_at": one.logged_at,
                "sure": one.sure,
                "topic": one.topic or None,
                "record": one.record or None,
                "corrected_by": list(answer.corrected.get(number, ())),
                "link": one.link or None,
            }
            for number, one in enumerate(answer.traced.found)
        ],
        "added": None
        if added is None
        else {
            "record": added.record.id,
            "places": [
                {
                    "episode": place.episode,
                    "version": place.version,
                    "span": typed_span(place.span),
                    "sure": place not in added.unsure,
                }
                for place in added.new
            ],
        },
        "problems": [
            {"code": p.code, "severity": p.severity, "file": p.file, "message": p.message}
            for p in answer.problems
        ],
    }
