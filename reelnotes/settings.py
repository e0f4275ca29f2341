"""The settings of a workshop and of an episode: what the TOML files may say, with usual values."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import field, fields, is_dataclass
from decimal import Decimal
from typing import Any, ClassVar, Literal, TypeVar, get_type_hints

from reelnotes.problems import BadTime, Problem
from reelnotes.records import frozen
from reelnotes.timing import parse_rate, parse_time

_SIZE = re.compile(r"([0-9]{1,5}) ?[x×] ?([0-9]{1,5})")


def parse_size(text: str) -> tuple[int, int]:
    """Read a size of picture such as `1920x1080`: columns, rows. Raises `BadTime`."""
    match = _SIZE.fullmatch(text.strip())
    if not match:
        raise BadTime(text, "1920x1080", "a size of picture")
    return int(match[1]), int(match[2])


@frozen
class HostLimits:
    """What the host of the videos allows; the usual values are common practice among hosts, from memory."""

    chapters_min: int = 3
    chapter_min_s: int = 10
    title_max_chars: int = 60
    description_max_chars: int = 5000
    pinned_note_max_chars: int = 1000

    LIMITS: ClassVar[Mapping[str, tuple[str, str]]] = {
        "chapters_min": ("0", "100"),
        "chapter_min_s": ("0", "600"),
        "title_max_chars": ("10", "1000"),
        "description_max_chars": ("100", "100000"),
        "pinned_note_max_chars": ("50", "100000"),
    }


#: Letters in a line and lines at once in an upright picture (see `CaptionSettings`).
UPRIGHT_CHARS, UPRIGHT_LINES = 25, 3


@frozen
class CaptionSettings:
    """How fast words on the screen may go by, how many stand there at once, and when they come.

    Usual values: the BBC Subtitle Guidelines for the rate (160 to 180 words a minute; about 0.3 s a word at
    the very least), the second more for a label beside a picture, 37 characters a line and 2 lines (3 lines
    of about 25 characters in an upright picture). The shortest and longest card, the lead and the return are
    ours.
    """

    words_per_minute: int = 160
    word_min_s: Decimal = Decimal("0.3")
    label_s: Decimal = Decimal(1)
    line_chars: int = 37
    lines: int = 2
    card_min_s: Decimal = Decimal("1.5")
    card_max_s: Decimal = Decimal(7)
    lead_s: Decimal = Decimal(1)
    return_after_s: Decimal = Decimal(20)

    LIMITS: ClassVar[Mapping[str, tuple[str, str]]] = {
        "words_per_minute": ("60", "200"),
        "word_min_s": ("0.3", "1"),
        "label_s": ("0", "2"),
        "line_chars": ("16", "80"),
        "lines": ("1", "5"),
        "card_min_s": ("0.5", "5"),
        "card_max_s": ("5", "20"),
        "lead_s": ("0", "1"),
        "return_after_s": ("10", "120"),
    }


@frozen
class PanelSettings:
    """How an insert looks in the picture, and for what size of picture it is drawn; all of it is ours.

    `picture` as `1920x1080`, as the picture is shown (a video to burn into tells its own). `side` is where
    the box stands, always at the top, away from spoken captions. `font` is a font file beside workshop.toml,
    for letters that the one that comes along has not. `handles_s` is how much longer than its window a panel
    is in the timeline, at either end.
    """

    picture: str = "1920x1080"
    side: Literal["left", "middle", "right"] = "left"
    ground: Literal["dark", "light"] = "dark"
    font: str = ""
    fade_s: Decimal = Decimal("0.4")
    handles_s: Decimal = Decimal(1)

    LIMITS: ClassVar[Mapping[str, tuple[str, str]]] = {"fade_s": ("0.3", "1"), "handles_s": ("0", "10")}
    FORMS: ClassVar[Mapping[str, Callable[[str], object]]] = {"picture": parse_size}


@frozen
class SoundSettings:
    """What the sound of a finished video is held against. Levels are of ITU-R BS.1770.

    Usual values: −14 LUFS is common practice among hosts on the net, no source; a true peak of −1 dBTP is
    what EBU R 128 allows (from memory), which asks for −23 LUFS in broadcasting. The rest is ours: by how
    much speech may be quieter than the episode's own (`speech_below_lu`), sound between speech louder than
    it (`between_over_lu`), how far under speech what plays with it must lie (`under_below_lu`), and how long
    there may be no sound at all.
    """

    target_lufs: Decimal = Decimal(-14)
    tolerance_lu: Decimal = Decimal(2)
    true_peak_dbtp: Decimal = Decimal(-1)
    speech_below_lu: Decimal = Decimal(6)
    between_over_lu: Decimal = Decimal(2)
    under_below_lu: Decimal = Decimal(6)
    silence_s: Decimal = Decimal(3)

    LIMITS: ClassVar[Mapping[str, tuple[str, str]]] = {
        "target_lufs": ("-40", "-5"),
        "tolerance_lu": ("0.1", "10"),
        "true_peak_dbtp": ("-20", "0"),
        "speech_below_lu": ("1", "30"),
        "between_over_lu": ("-20", "30"),
        "under_below_lu": ("0", "30"),
        "silence_s": ("0.5", "60"),
    }


@frozen
class WordSettings:
    """A workshop's own words, added to the trade lexicon.

    `same` are lists of words that mean the same here; `misheard` maps what captions write to what was said.
    """

    same: tuple[tuple[str, ...], ...] = ()
    misheard: dict[str, str] = field(default_factory=dict)


@frozen
class ClimateSettings:
    """The air where the pieces stand, January to December: relative humidity in %, temperature in °C."""

    humidity: tuple[float, ...] = ()
    temperature_c: tuple[float, ...] = ()


@frozen
class WorkshopSettings:
    """`workshop.toml`: what holds for every episode."""

    name: str = ""
    currency: str = ""
    host: HostLimits = field(default_factory=HostLimits)
    captions: CaptionSettings = field(default_factory=CaptionSettings)
    panels: PanelSettings = field(default_factory=PanelSettings)
    sound: SoundSettings = field(default_factory=SoundSettings)
    words: WordSettings = field(default_factory=WordSettings)
    climate: ClimateSettings = field(default_factory=ClimateSettings)


@frozen
class EpisodeSettings:
    """`episode.toml`: what holds for one episode.

    `frame_rate` as `25` or `30000/1001`; `length` as `15:20`, where the programme outlasts the last word;
    `picture` as `1080x1920`, where it is not what workshop.toml says; `promises_kept` are the times at which
    something was promised that has been seen to since; `address` is where it is published, with `{s}` where
    the host wants the seconds of a moment.
    """

    title: str = ""
    date: dt.date | None = None  # `date` alone would name this very field where types are read back
    piece: str = ""
    parts: dict[str, str] = field(default_factory=dict)
    budget: Decimal | None = None
    frame_rate: str = ""
    length: str = ""
    picture: str = ""
    promises_kept: tuple[str, ...] = ()
    address: str = ""
    camera_offset_s: int | None = None

    LIMITS: ClassVar[Mapping[str, tuple[str, str]]] = {"budget": ("0", "1000000000")}
    FORMS: ClassVar[Mapping[str, Callable[[str], object]]] = {
        "frame_rate": parse_rate,
        "length": parse_time,
        "picture": parse_size,
    }


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
            # `frame_rate = 25` needs no quotation marks.
            is_number = isinstance(value, int | float) and not isinstance(value, bool)
            try:
                read = TypeAdapter(hints[name]).validate_python(
                    str(value) if hints[name] is str and is_number else value
                )
            except ValidationError as error:
                reason = error.errors()[0]["msg"]
            else:
                reason = _outside(read, getattr(kind, "LIMITS", {}).get(name))
                reason = reason or _misshapen(read, getattr(kind, "FORMS", {}).get(name))
            if reason:
                problems.append(Problem("setting", f"{place}: {reason}; the usual value was taken", file))
            else:
                taken[name] = read
    return kind(**taken), problems


def _misshapen(value: Any, form: Callable[[str], object] | None) -> str:  # noqa: ANN401 - text where it has a form
    """Say that a text has not the form it needs; empty where it has, or needs none."""
    try:
        if form and value:
            form(value)
    except BadTime as error:
        return str(error).rstrip(".")
    return ""


def _outside(value: Any, limits: tuple[str, str] | None) -> str:  # noqa: ANN401 - a number of either kind
    """Say that a value lies outside its limits; empty where it does not, or where there are none."""
    if limits is None or Decimal(limits[0]) <= value <= Decimal(limits[1]):
        return ""
    return f"{value} is not between {limits[0]} and {limits[1]}"
