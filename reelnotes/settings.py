"""The settings of a workshop and of an episode: what the TOML files may say, with usual values."""

from __future__ import annotations

import datetime as dt
import tomllib
from dataclasses import dataclass, field, fields, is_dataclass
from decimal import Decimal
from typing import Any, TypeVar, get_type_hints

from reelnotes.problems import Problem


@dataclass(frozen=True, slots=True)
class HostLimits:
    """What the host of the videos allows; the usual values are common practice among hosts, from memory."""

    chapters_min: int = 3
    chapter_min_s: int = 10
    title_max_chars: int = 60
    description_max_chars: int = 5000


@dataclass(frozen=True, slots=True)
class WordSettings:
    """A workshop's own words, added to the trade lexicon.

    `same` are lists of words that mean the same here; `misheard` maps what captions write to what was said.
    """

    same: tuple[tuple[str, ...], ...] = ()
    misheard: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class WorkshopSettings:
    """`workshop.toml`: what holds for every episode."""

    name: str = ""
    currency: str = ""
    host: HostLimits = field(default_factory=HostLimits)
    words: WordSettings = field(default_factory=WordSettings)


@dataclass(frozen=True, slots=True)
class EpisodeSettings:
    """`episode.toml`: what holds for one episode; `frame_rate` as `25` or `30000/1001`."""

    title: str = ""
    date: dt.date | None = None  # `date` alone would name this very field where types are read back
    piece: str = ""
    parts: dict[str, str] = field(default_factory=dict)
    budget: Decimal | None = None
    frame_rate: str = ""
    camera_offset_s: int | None = None


S = TypeVar("S", WorkshopSettings, EpisodeSettings)


def read_settings(kind: type[S], text: str, file: str) -> tuple[S, list[Problem]]:
    """Read settings of the given kind from TOML text.

    A value that does not fit is reported by its place and left at its usual value; the rest still counts.
    Unknown names are reported too, because a misspelt name would otherwise do nothing in silence.
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        return kind(), [Problem("setting", f"is not TOML ({error}); the usual values were taken", file)]
    return _fitted(kind, table, file, "")


def _fitted(kind: Any, table: dict[str, Any], file: str, path: str) -> tuple[Any, list[Problem]]:  # noqa: ANN401
    from pydantic import TypeAdapter, ValidationError

    problems: list[Problem] = []
    hints = get_type_hints(kind)
    known = {f.name for f in fields(kind)}
    taken: dict[str, Any] = {}
    for name, value in table.items():
        place = f"{path}{name}"
        if name not in known:
            problems.append(Problem("setting", f"{place}: there is no such setting", file))
        elif is_dataclass(hints[name]) and isinstance(value, dict):
            taken[name], more = _fitted(hints[name], value, file, f"{place}.")
            problems += more
        else:
            try:
                taken[name] = TypeAdapter(hints[name]).validate_python(value)
            except ValidationError as error:
                reason = error.errors()[0]["msg"]
                problems.append(Problem("setting", f"{place}: {reason}; the usual value was taken", file))
    return kind(**taken), problems
