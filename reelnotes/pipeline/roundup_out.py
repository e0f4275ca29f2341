"""A roundup that is out: its marks in the ledger, and where it can be seen in the notes to pin."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from pathlib import Path

from reelnotes.corrections.refusals import BadAddress, NoRoundup, RecordDamaged, UnknownRecord
from reelnotes.pipeline.corrections import mark_published
from reelnotes.pipeline.reading import read_workshop
from reelnotes.pipeline.roundup import RECORD, ROUNDUPS, day_or_none
from reelnotes.problems import Problem
from reelnotes.project import find_workshop
from reelnotes.records import frozen
from reelnotes.store import read_bytes, write_folder

_ADDRESS = re.compile(r"https?://[^\s/]+\S*")


@frozen
class RoundupMarked:
    """A roundup that is out: the records that were marked now, and those that were before."""

    folder: Path
    new: tuple[str, ...]
    already: tuple[str, ...]
    problems: tuple[Problem, ...] = ()


def mark_roundup(folder: Path, *, out: Path | None = None, on: str = "", address: str = "") -> RoundupMarked:
    """Mark a roundup as published: every record in it, for every episode that it speaks of.

    Without `out` it is the newest one. `address` is where it can be seen: the ledger keeps it, and the notes
    to pin point there. A record that is gone or damaged since is told, and the others are marked. Raises
    `NoRoundup`, `BadAddress`, `BadDay`.
    """
    if address and not _ADDRESS.fullmatch(address):
        raise BadAddress(address)
    workshop = find_workshop(folder)
    made, ids = _roundup_in(workshop, out)
    day_or_none(on)
    new: list[str] = []
    already: list[str] = []
    episodes: dict[str, None] = {}
    problems: list[Problem] = []
    for name in ids:
        try:
            marked = mark_published(workshop, name, "roundup", on=on, address=address)
        except (UnknownRecord, RecordDamaged) as refusal:
            problems.append(Problem("ledger", f"{name} was not marked: {refusal}"))
            continue
        (new if marked.new else already).append(name)
        episodes |= dict.fromkeys(place.episode for place in marked.record.places)
    if address:
        most = read_workshop(workshop)[0].host.pinned_note_max_chars
        notes, told = _notes_with(made, list(episodes), address, most)
        write_folder(made, notes)
        problems += told
    return RoundupMarked(made, tuple(new), tuple(already), tuple(problems))


def _roundup_in(workshop: Path, out: Path | None) -> tuple[Path, list[str]]:
    """Give the folder of a roundup, the newest without `out`, and its records' ids. Raises `NoRoundup`."""
    made = out or max(
        (path.parent for path in (workshop / ROUNDUPS).glob(f"*/{RECORD}")),
        default=None,
        key=lambda p: p.name,
    )
    if made is None or not (made / RECORD).is_file():
        raise NoRoundup(made or workshop / ROUNDUPS)
    try:
        return made, [str(item["id"]) for item in json.loads(read_bytes(made / RECORD))["items"]]
    except (ValueError, KeyError, TypeError, RecursionError):
        raise NoRoundup(made) from None


def _notes_with(
    made: Path, episodes: Sequence[str], address: str, most: int
) -> tuple[dict[str, str | bytes], list[Problem]]:
    """Give the notes to pin with a line on where the roundup can be seen; the rest of them stays.

    One that would get longer than the host takes (`most` letters) stays as it is, and is told.
    """
    notes: dict[str, str | bytes] = {}
    problems: list[Problem] = []
    for slug in episodes:
        name = f"episodes/{slug}/pinned-note.txt"
        if not (made / name).is_file():
            continue
        text = read_bytes(made / name).decode(errors="surrogateescape")
        if address in text:
            continue
        more = f"{text.rstrip()}\n\nTold again, with what to do instead: {address}\n"
        if len(more) > most:
            message = f"has no room for the address of the roundup: the host allows {most} characters"
            problems.append(Problem("description-long", message, name))
            continue
        notes[name] = more.encode(errors="surrogateescape")
    return notes, problems
