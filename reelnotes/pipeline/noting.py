"""Logging an entry from the bench: one line at the end of the shop log, nothing else touched."""

from __future__ import annotations

from datetime import datetime, time
from pathlib import Path

from reelnotes.problems import BadTime, FileChanged, NotAnEpisode
from reelnotes.project import LOG_NAMES, find_log
from reelnotes.read.shop_log import read_shop_log
from reelnotes.store import SourceText, read_text, write_file

_FORMS = ("%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S")
_TRIES = 5


def note_entry(episode: Path, words: str, at: str = "", now: datetime | None = None) -> tuple[Path, str]:
    """Add an entry to the log of an episode and give the log's path and the line.

    `at` is `2026-03-04 09:40`, or `09:40` today; empty means now. A day that the log has not come to yet gets
    a line of its own first. Line breaks in the words become spaces. Raises `BadTime`, `NotAnEpisode`.
    """
    plain = " ".join(words.split())
    if not plain:
        raise NotAnEpisode(episode, "nothing to note; say what was done.")
    moment = _moment(at, now or datetime.now())  # noqa: DTZ005 - the wall clock of the workshop is meant
    if not episode.is_dir():
        raise NotAnEpisode(episode, "there is no such folder; `reelnotes start episode` makes one.")
    path = find_log(episode) or episode / LOG_NAMES[0]
    for attempt in range(_TRIES):
        try:
            return path, _append(path, moment, plain)
        except FileChanged:
            if attempt == _TRIES - 1:
                raise
    raise AssertionError  # pragma: no cover - the loop returns or raises


def _moment(at: str, now: datetime) -> datetime:
    if not at.strip():
        return now
    for form in _FORMS:
        try:
            return datetime.strptime(at.strip(), form)  # noqa: DTZ007 - wall clock
        except ValueError:
            continue
    try:
        hours, _, minutes = at.strip().partition(":")
        return datetime.combine(now.date(), time(int(hours), int(minutes)))
    except ValueError:
        raise BadTime(at, '"2026-03-04 09:40" or "09:40"') from None


def _append(path: Path, moment: datetime, words: str) -> str:
    if not path.exists():
        line = f"{moment:%H:%M} {words}"
        write_file(path, f"{moment:%Y-%m-%d}\n{line}\n")
        return line
    source, _ = read_text(path)
    lines = (
        _csv_lines(moment, words) if path.suffix.casefold() == ".csv" else _text_lines(source, moment, words)
    )
    raw = path.read_bytes()
    end = "" if not raw or raw.endswith((b"\n", b"\r")) else source.newline
    added = end + "".join(line + source.newline for line in lines)
    write_file(path, raw + added.encode(), expect_sha256=source.sha256)
    return lines[-1]


def _text_lines(source: SourceText, moment: datetime, words: str) -> list[str]:
    entries, _ = read_shop_log(source)
    line = f"{moment:%H:%M} {words}"
    header = f"{moment:%Y-%m-%d}"
    last_day = entries[-1].day if entries else None
    last_line = next((text for text in reversed(source.lines) if text.strip()), "")
    if last_day == moment.date() or last_line.strip().startswith(header):
        return [line]
    return ["", header, line] if source.text.strip() else [header, line]


def _csv_lines(moment: datetime, words: str) -> list[str]:
    quoted = '"' + words.replace('"', '""') + '"'
    return [f"{moment:%Y-%m-%dT%H:%M},{quoted}"]
