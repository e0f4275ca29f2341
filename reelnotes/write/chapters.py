"""The chapters in the open forms that players and hosts read.

One order and one set of ends stand behind all forms: see `placed_chapters`.
"""

from __future__ import annotations

from reelnotes.model import Draft, stable_id
from reelnotes.problems import Problem
from reelnotes.records import frozen
from reelnotes.timing import MS_PER_SECOND, format_exact, format_time, seconds
from reelnotes.write.json_text import json_text
from reelnotes.write.plain import one_line, referenced

_NS_PER_MS = 1_000_000
_FFMETADATA_SIGNS = frozenset("=;#\\\n")


@frozen
class PlacedChapter:
    """A chapter as files need it: with an end, one line of title, a number from 1 and an id above 0."""

    number: int
    uid: int
    start_ms: int
    end_ms: int
    title: str

    @property
    def name(self) -> str:
        """The name under which one file can point at a chapter of another."""
        return f"chapter-{self.number}"


def placed_chapters(draft: Draft) -> tuple[tuple[PlacedChapter, ...], list[Problem]]:
    """Put the chapters in order; each ends where the next begins, the last with the programme.

    A chapter that starts at or after the end, or where one already starts, has no length: it is left out
    and reported. A chapter without a title is called by its number.
    """
    problems: list[Problem] = []
    kept: dict[int, str] = {}
    for chapter in sorted(draft.chapters, key=lambda chapter: chapter.start_ms):
        title, start = one_line(chapter.title), chapter.start_ms
        if start >= draft.duration_ms or start in kept:
            where = "another starts there" if start in kept else "the video has ended by then"
            message = f"the chapter {title!r} at {format_time(start)} was left out: {where}"
            problems.append(Problem("chapter-place", message))
        else:
            kept[start] = title
    ends = [*kept, draft.duration_ms][1:]
    titles = [title or f"Chapter {number}" for number, title in enumerate(kept.values(), start=1)]
    rows = zip(_uids(draft.episode, titles), kept, ends, titles, strict=True)
    return tuple(PlacedChapter(number, *row) for number, row in enumerate(rows, start=1)), problems


def _uids(episode: str, titles: list[str]) -> list[int]:
    """Give ids that outlive a shifted start: from episode and title, none 0, none twice."""
    taken: dict[int, None] = {}
    for title in titles:
        uid = int(stable_id(episode, title), 16) or 1
        while uid in taken:
            uid += 1
        taken[uid] = None
    return list(taken)


def chapters_text(draft: Draft) -> str:
    """Write `0:00 Title`, one a line: the form that hosts of videos read in a description.

    Common practice, no standard: times are cut to whole seconds, hours stand only where they are needed.
    """
    return "".join(f"{format_time(c.start_ms)} {c.title}\n" for c in placed_chapters(draft)[0])


def chapters_vtt(draft: Draft) -> str:
    """Write a WebVTT chapter file (W3C WebVTT, "file using only nested cues" and "chapter title text").

    Cues follow each other without overlap; titles carry character references and no tags.
    """
    cues = [
        f"\n{c.name}\n{format_exact(c.start_ms)} --> {format_exact(c.end_ms)}\n{referenced(c.title)}\n"
        for c in placed_chapters(draft)[0]
    ]
    return "WEBVTT\n" + "".join(cues)


def chapters_ffmetadata(draft: Draft) -> str:
    """Write an FFmpeg metadata file, version 1 (FFmpeg Formats Documentation, "Metadata").

    `TIMEBASE` always stands first in a section: without it times would be read as nanoseconds.
    """
    parts = [f";FFMETADATA1\ntitle={_escaped(one_line(draft.title))}\n"]
    if draft.published:
        parts.append(f"date={draft.published.isoformat()}\n")
    parts += [
        f"\n[CHAPTER]\nTIMEBASE=1/{MS_PER_SECOND}\nSTART={c.start_ms}\nEND={c.end_ms}\ntitle={_escaped(c.title)}\n"
        for c in placed_chapters(draft)[0]
    ]
    return "".join(parts)


def chapters_matroska(draft: Draft) -> str:
    """Write Matroska chapters as XML (RFC 9559, section on chapters): times are whole nanoseconds.

    The language is `und`, undetermined: nobody has told us in which one the maker writes. An edition
    needs a chapter, so without any the document holds no edition.
    """
    atoms = [
        "    <ChapterAtom>\n"
        f"      <ChapterUID>{c.uid}</ChapterUID>\n"
        f"      <ChapterStringUID>{c.name}</ChapterStringUID>\n"
        f"      <ChapterTimeStart>{c.start_ms * _NS_PER_MS}</ChapterTimeStart>\n"
        f"      <ChapterTimeEnd>{c.end_ms * _NS_PER_MS}</ChapterTimeEnd>\n"
        "      <ChapterDisplay>\n"
        f"        <ChapString>{referenced(c.title)}</ChapString>\n"
        "        <ChapLanguage>und</ChapLanguage>\n"
        "        <ChapLanguageBCP47>und</ChapLanguageBCP47>\n"
        "      </ChapterDisplay>\n"
        "    </ChapterAtom>\n"
        for c in placed_chapters(draft)[0]
    ]
    edition = f"  <EditionEntry>\n{''.join(atoms)}  </EditionEntry>\n" if atoms else ""
    return f'<?xml version="1.0" encoding="UTF-8"?>\n<Chapters>\n{edition}</Chapters>\n'


def chapters_podcast(draft: Draft) -> str:
    """Write podcast chapters (podcast namespace, JSON chapters 1.2.0): seconds as numbers, rising."""
    rows = [
        {"startTime": seconds(c.start_ms), "endTime": seconds(c.end_ms), "title": c.title}
        for c in placed_chapters(draft)[0]
    ]
    return json_text({"version": "1.2.0", "chapters": rows})


def _escaped(text: str) -> str:
    """Put a backslash before what an FFmpeg metadata file reads as its own signs.

    Its reader takes any backslash at a line's end, an escaped one too, for a line that goes on; a space
    after it keeps the lines apart.
    """
    escaped = "".join(f"\\{letter}" if letter in _FFMETADATA_SIGNS else letter for letter in text)
    return f"{escaped} " if escaped.endswith("\\") else escaped
