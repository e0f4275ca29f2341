"""The roundup: a rundown to read from, the script, and the texts to publish with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from reelnotes.model import Chapter, Correction, Draft, SignalWord
from reelnotes.records import frozen
from reelnotes.timing import Span, format_time, seconds
from reelnotes.write.chapters import chapters_text
from reelnotes.write.json_text import json_text
from reelnotes.write.pages import TEMPLATES, page_template, raw
from reelnotes.write.plain import one_line, shortened, span_text
from reelnotes.write.wording import DEFERENCE, TOPIC_WORDS

PART_WORDS = {
    "happened": "What happened",
    "wrong": "Why it was wrong",
    "shown by": "What the arithmetic shows",
    "instead": "What to do instead",
    "careful": "Say this too",
}
_TITLE_CHARS = 60
_MOST_EPISODES, _MOST_TIMES = 5, 3  # named of the other places: a sheet of paper is one correction


@frozen
class RundownItem:
    """One correction as it stands in the rundown; times of the running clock in milliseconds.

    `clip` is the span shown of `episode`, `handles` with what lies around it; None where nothing shows it any
    more. `also` are other places that show it.
    """

    id: str
    signal: SignalWord
    topic: str
    title: str
    episode: str
    episode_title: str
    version: int
    clip: Span | None
    handles: Span | None
    link: str
    also: tuple[tuple[str, Span], ...]
    said: tuple[tuple[str, str], ...]
    starts_ms: int
    clip_ms: int
    talk_ms: int


@frozen
class Rundown:
    """The whole roundup: its day, the pace it is read at, and its corrections in their order."""

    workshop: str
    day: date
    words_per_minute: int
    own_pace: bool
    items: tuple[RundownItem, ...]

    @property
    def length_ms(self) -> int:
        """How long it takes: every clip and everything that is said."""
        return sum(item.clip_ms + item.talk_ms for item in self.items)


def title_of(record: Correction) -> str:
    """Give a correction's title: what was shown, as short as a chapter's."""
    return shortened(one_line(record.shown).rstrip("."), _TITLE_CHARS)


def rundown_html(rundown: Rundown) -> str:
    """Write the page to read from, at the bench and on paper."""
    return page_template("rundown.html").render(
        style=raw(TEMPLATES / "rundown.css"),
        rundown=rundown,
        part_words=PART_WORDS,
        deference=DEFERENCE,
        span_text=span_text,
        also_text=also_text,
        number=len(rundown.items),
    )


def also_text(also: Sequence[tuple[str, Span]]) -> str:
    """Say where else it is seen, by episode; where there are many, the first of them and how many more."""
    by_episode: dict[str, list[Span]] = {}
    for slug, span in also:
        by_episode.setdefault(slug, []).append(span)
    parts = []
    for slug, spans in list(by_episode.items())[:_MOST_EPISODES]:
        more = f" and {len(spans) - _MOST_TIMES} more" if len(spans) > _MOST_TIMES else ""
        parts.append(f"{slug} at {', '.join(map(span_text, spans[:_MOST_TIMES]))}{more}")
    if len(by_episode) > _MOST_EPISODES:
        parts.append(f"and {len(by_episode) - _MOST_EPISODES} episodes more")
    return "; ".join(parts)


def script_text(rundown: Rundown) -> str:
    """Write what is said, to be read out or put on a screen: times, clips in brackets, paragraphs."""
    parts = [f"{rundown.workshop or 'Corrections'}: corrections, {rundown.day}", _length_line(rundown)]
    for number, item in enumerate(rundown.items, start=1):
        parts.append(f"{format_time(item.starts_ms)}  {number}. {item.title}")
        if item.clip:
            shown = f"{item.episode_title}, {span_text(item.clip)}"
            parts.append(f"[clip: {shown}, {seconds(item.clip_ms):.0f} s]")
        else:
            parts.append("[no clip: nothing shows it any more]")
        parts += [text for _, text in item.said]
    return "\n\n".join(parts) + "\n"


def _length_line(rundown: Rundown) -> str:
    pace = "measured in the transcripts" if rundown.own_pace else "the usual one"
    length = format_time(rundown.length_ms)
    return f"{length} in all, read at {rundown.words_per_minute} words a minute ({pace})."


def roundup_draft(rundown: Rundown) -> Draft:
    """Give the roundup as a draft of its own, for its chapters."""
    chapters = tuple(Chapter(item.starts_ms, item.title) for item in rundown.items)
    return Draft(
        episode=f"corrections-{rundown.day}",
        title=f"Corrections, {rundown.day}",
        duration_ms=rundown.length_ms,
        chapters=chapters,
    )


def roundup_description(rundown: Rundown, sources: Mapping[str, tuple[str, str]], max_chars: int) -> str:
    """Write the description: the chapters, the episodes that are corrected, and to whom we defer.

    `sources` are the episodes that show what is corrected, each with its title and its address.
    """
    lines = [f"{title}: {address}" if address else title for title, address in sources.values()]
    parts = [
        "What was wrong, and what to do instead.",
        f"Chapters\n{chapters_text(roundup_draft(rundown)).rstrip()}",
        "\n".join(["Corrected here", *lines]),
        DEFERENCE,
    ]
    text = "\n\n".join(parts) + "\n"
    return text if len(text) <= max_chars else f"{shortened(text, max_chars - 1)}\n"


def rundown_json(rundown: Rundown) -> str:
    """Write the roundup as JSON text (docs/schemas/roundup-1.json)."""
    return json_text(rundown_record(rundown))


def rundown_record(rundown: Rundown) -> dict[str, Any]:
    """Give the roundup as a record: times in seconds."""
    return {
        "schema": "reelnotes/roundup-1",
        "day": rundown.day.isoformat(),
        "length_s": seconds(rundown.length_ms),
        "words_per_minute": rundown.words_per_minute,
        "own_pace": rundown.own_pace,
        "items": [_item(item) for item in rundown.items],
    }


def _item(item: RundownItem) -> dict[str, Any]:
    return {
        "id": item.id,
        "signal": item.signal,
        "topic": item.topic or None,
        "title": item.title,
        "episode": item.episode or None,
        "version": item.version,
        "clip": _span(item.clip),
        "with_handles": _span(item.handles),
        "link": item.link or None,
        "also": [{"episode": slug, **(_span(span) or {})} for slug, span in item.also],
        "said": [{"part": part, "text": text} for part, text in item.said],
        "starts_s": seconds(item.starts_ms),
        "clip_s": seconds(item.clip_ms),
        "talk_s": seconds(item.talk_ms),
    }


def _span(span: Span | None) -> dict[str, float] | None:
    return None if span is None else {"start_s": seconds(span.start_ms), "end_s": seconds(span.end_ms)}


def topic_text(record: Correction) -> str:
    """Name a record's topic in front of people; empty where it has none."""
    return TOPIC_WORDS[record.topic] if record.topic else ""
