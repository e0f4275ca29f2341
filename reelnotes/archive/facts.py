"""What the archive holds of an episode, as it goes in and as it is asked for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any, Literal

from reelnotes.model import Cue, Entry, FlagTopic, SignalWord, Tier
from reelnotes.records import frozen
from reelnotes.timing import MS_PER_SECOND

LineSource = Literal["log", "speech", "correction"]


@frozen
class Line:
    """An entry of the log, a cue, or the words of a correction; times are None where it is not in the video.

    `entry` is the log entry's index, `logged_at` its wall-clock time as ISO 8601.
    """

    source: LineSource
    text: str
    start_ms: int | None = None
    end_ms: int | None = None
    entry: int | None = None
    logged_at: str | None = None


@frozen
class UsedMaterial:
    """What an episode used of a product, and what that part cost."""

    name: str
    kind: str
    amount: Decimal | None
    unit: str | None
    cost: Decimal | None
    said_at_ms: int | None
    given: bool


@frozen
class RaisedFlag:
    """A flag of the draft; those put aside by hand are not held."""

    id: str
    topic: FlagTopic
    signal: SignalWord
    tier: Tier
    start_ms: int | None
    end_ms: int | None
    entry: int | None
    quote: str


@frozen
class EpisodeSummary:
    """The facts of an episode that a year is told by. `total` is the cost of the parts used.

    `published` is the date of episode.toml; `version` the one that is out now; `spent` what the log says was
    paid, as far as it counts against the budget.
    """

    slug: str
    title: str
    published: date | None = None
    version: int = 1
    address: str = ""
    duration_ms: int = 0
    currency: str = ""
    total: Decimal | None = None
    budget: Decimal | None = None
    spent: Decimal | None = None


@frozen
class ArchivedEpisode:
    """An episode as it goes into the archive."""

    summary: EpisodeSummary
    lines: tuple[Line, ...] = ()
    materials: tuple[UsedMaterial, ...] = ()
    flags: tuple[RaisedFlag, ...] = ()


def episode_of(
    record: Mapping[str, Any], entries: Sequence[Entry], cues: Sequence[Cue], *, version: int, address: str
) -> ArchivedEpisode:
    """Take from a draft's record (see docs/schemas/draft-1.json) what the archive holds of it."""
    day = record.get("published")
    summary = EpisodeSummary(
        slug=record["episode"],
        title=record["title"],
        published=date.fromisoformat(day) if day else None,
        version=version,
        address=address,
        duration_ms=_ms(record["duration_s"]) or 0,
        currency=record["currency"],
        total=_decimal(record["total_cost"]),
        budget=_decimal(record["budget"]),
        spent=_decimal(record.get("spent")),
    )
    told = {step["entry"]: step for step in record["steps"]}
    lines = [_noted(entry, told.get(entry.index)) for entry in entries]
    lines += [Line("speech", cue.text, cue.start_ms, cue.end_ms) for cue in cues]
    return ArchivedEpisode(
        summary,
        tuple(lines),
        tuple(_material(material) for material in record["materials"]),
        tuple(_flag(flag) for flag in record["flags"]),
    )


def _noted(entry: Entry, step: Mapping[str, Any] | None) -> Line:
    span = step["spans"][0] if step and step["spans"] else {"start_s": None, "end_s": None}
    at = entry.logged_at.isoformat() if entry.logged_at else None
    return Line("log", entry.text, _ms(span["start_s"]), _ms(span["end_s"]), entry.index, at)


def _material(record: Mapping[str, Any]) -> UsedMaterial:
    return UsedMaterial(
        record["name"],
        record["kind"],
        _decimal(record["amount"]),
        record["unit"],
        _decimal(record["cost"]),
        _ms(record["said_at_s"]),
        bool(record["given"]),
    )


def _flag(record: Mapping[str, Any]) -> RaisedFlag:
    return RaisedFlag(
        record["id"],
        record["topic"],
        record["signal"],
        record["tier"],
        _ms(record["start_s"]),
        _ms(record["end_s"]),
        record["entry"],
        record["quote"],
    )


def _ms(value: Any) -> int | None:  # noqa: ANN401 - a number of a JSON document
    return None if value is None else round(Decimal(str(value)) * MS_PER_SECOND)


def _decimal(value: Any) -> Decimal | None:  # noqa: ANN401 - a number of a JSON document
    return None if value is None else Decimal(str(value))
