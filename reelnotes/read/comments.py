"""Viewers' comments, from a CSV table or JSON: when and what. Who wrote them is never read.

Columns and keys beside time and text are left aside, and so are mentions of people (`@name`) inside a text;
problems name a line and never show it, because a line holds names.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from typing import Any

from reelnotes.model import Comment
from reelnotes.problems import Problem
from reelnotes.read.table import Columns, read_table
from reelnotes.store import SourceText


def _written_out(*words: str) -> tuple[str, ...]:
    """Give the ways in which programs write a name of two words: `posted at`, `posted_at`, `postedAt`."""
    return tuple(mark.join(words) for mark in (" ", "_", "-", ""))


#: Other words that exports have for our two columns.
_TEXT = ("comment", "message", "body", "words", "content", *_written_out("comment", "text"))
_TIME = (
    "date", "at", "posted", "published", "created", "written", "timestamp", *_written_out("date", "time"),
    *(name for word in ("posted", "published", "created", "written") for name in _written_out(word, "at")),
)  # fmt: skip
COLUMNS = Columns(
    known=("time", "text"),
    needed=("text",),
    optional=("time",),
    line_code="comment-line",
    column_code="comment-column",
    also={"text": _TEXT, "time": _TIME},
)
#: What a screen could take for a command, or what turns the direction of what follows: no part of any words.
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
_MENTION = re.compile(r"(?<![\w.])@[\w.\-]+:?\s?")
#: Keys of an item under which the answers to it may lie.
_REPLIES = re.compile(r"repl(?:y|ies)|answers?|comments|thread|children", re.IGNORECASE)
_WANTED = '[{"time": "2026-03-04T09:40:00Z", "text": "..."}], or such a list under "comments"'
#: A row as read: its line or number, its time, and its words, None where an item has none.
_Read = tuple[int, str, str | None]


def read_comments(source: SourceText) -> tuple[tuple[Comment, ...], list[Problem]]:
    """Read comments in the order of the file. One without words is reported and left out."""
    if source.text.lstrip()[:1] in ("[", "{"):
        rows, problems = _json_rows(source)
    else:
        rows, problems = _table_rows(source)
    comments: list[Comment] = []
    undated: list[int] = []
    for number, (line, time, text) in enumerate(rows, start=1):
        if text is None:
            message = f"item {number} has no text"
            problems.append(Problem("comment-line", message, source.name))
            continue
        plain = " ".join(_MENTION.sub("", _CONTROL.sub(" ", text)).split())
        if not plain:
            problems.append(Problem("comment-line", "the comment has no words", source.name, line))
            continue
        at = _moment(time)
        undated += [number] if time and at is None else []
        comments.append(Comment(number, plain, line, at))
    if undated:
        whose = f"comment {undated[0]}" if len(undated) == 1 else f"{len(undated)} comments"
        message = f"the time of {whose} is none that can be read; write it as 2026-03-04T09:40:00Z"
        problems.append(Problem("comment-line", message, source.name, severity="note"))
    return tuple(comments), problems


def _table_rows(source: SourceText) -> tuple[list[_Read], list[Problem]]:
    table, problems = read_table(source, COLUMNS)
    rows: list[_Read] = [(row.line, row["time"], row["text"]) for row in table]
    # What was left aside are names and the like: no column of them is asked for, and no line is shown.
    told = [replace(p, excerpt="") for p in problems if p.severity != "note"]
    return rows, told


def _json_rows(source: SourceText) -> tuple[list[_Read], list[Problem]]:
    try:
        document: Any = json.loads(source.text)
    except (ValueError, RecursionError) as error:
        line = getattr(error, "lineno", None)
        message = f"is not JSON; write {_WANTED}"
        return [], [Problem("comment-line", message, source.name, line, severity="error")]
    if isinstance(document, dict):
        lists = [value for value in document.values() if isinstance(value, list)]
        told = [value for value in lists if any(map(_item, value))]
        document = (told if len(told) == 1 else lists if len(lists) == 1 else [document.get("comments")])[0]
    if not isinstance(document, list):
        return [], [Problem("comment-line", f"holds no list; write {_WANTED}", source.name, severity="error")]
    rows: list[_Read] = []
    waiting = [*reversed(document)]
    while waiting:  # an item, then the answers to it, then the next
        item = waiting.pop()
        time, text = _item(item) or ("", None)
        rows.append((len(rows) + 1, time, text))
        waiting += reversed([*_replies(item)])
    return rows, []


def _replies(item: Any) -> Iterator[Any]:  # noqa: ANN401 - a value of a JSON document
    """Give the answers to a comment that lie inside it; what has no words there is none."""
    if isinstance(item, dict):
        for key, value in item.items():
            if _REPLIES.fullmatch(str(key)):
                inside = value if isinstance(value, list) else [value]
                for one in inside:
                    if _item(one):
                        yield one
                    else:
                        yield from _replies(one)


def _item(item: Any) -> tuple[str, str] | None:  # noqa: ANN401 - a value of a JSON document
    if not isinstance(item, dict):
        return None
    folded = {str(key).casefold(): value for key, value in item.items()}
    text = next((folded[key] for key in ("text", *_TEXT) if isinstance(folded.get(key), str)), None)
    time = next(_times(folded), "")
    return None if text is None else (time, text)


def _times(folded: dict[str, Any]) -> Iterator[str]:
    return (str(folded[key]) for key in ("time", *_TIME) if isinstance(folded.get(key), str | int | float))


def _moment(text: str) -> datetime | None:
    """Read a time as ISO 8601 or RFC 3339 write it, or as seconds since 1970; None for any other."""
    plain = text.strip()
    try:
        if re.fullmatch(r"[0-9]{9,11}(?:\.[0-9]+)?", plain):
            return datetime.fromtimestamp(float(plain)).astimezone()
        return datetime.fromisoformat(plain) if plain else None
    except (ValueError, OverflowError, OSError):
        return None
