"""The transcript of another version, in the form of the one it comes from."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import Any

from reelnotes.model import Cue
from reelnotes.store import SourceText
from reelnotes.timing import MS_PER_SECOND, seconds, typed_time
from reelnotes.write.caption_file import caption_file, file_text, retimed_file
from reelnotes.write.imsc import Shown, imsc_text

Left = Callable[[Cue], Sequence[Cue]]


def moved_transcript(
    source: SourceText, form: str, cues: Sequence[Cue], left_of: Left, plain: Callable[[str], str]
) -> str:
    """Write a transcript with its cues moved: `left_of` tells what is left of a cue.

    SubRip and WebVTT keep markup, notes and settings, JSON what stands beside the words; IMSC and timed text
    are written anew from the cues. `plain` gives the words of a line without markup, as the cues have them.
    """
    if form in {"srt", "vtt"}:
        return file_text(retimed_file(caption_file(source, cues, form, plain), cues, left_of))
    left = [one for cue in cues for one in left_of(cue)]
    if form == "ttml":
        return imsc_text(Shown(cue.start_ms, cue.end_ms, (cue.text,)) for cue in left)
    if form == "json":
        return _json(source, cues, left_of, plain)
    return timed_text(left, gap="\n\n" if "\n\n" in source.text.strip() else "\n")


def timed_text(cues: Sequence[Cue], gap: str = "\n") -> str:
    """Write `[0:11] words`, one cue a paragraph; with its end, `[0:11 - 0:14]`, where the next begins later.

    `gap` stands between paragraphs.
    """
    followings = [*(cue.start_ms for cue in cues[1:]), *[None] * bool(cues)]
    rows = [
        f"[{typed_time(cue.start_ms)}{'' if cue.end_ms == following else f' - {typed_time(cue.end_ms)}'}] "
        f"{cue.text}"
        for cue, following in zip(cues, followings, strict=True)
    ]
    return gap.join(rows) + "\n" * bool(rows)


# --- JSON --------------------------------------------------------------------------------------------


def _json(source: SourceText, cues: Sequence[Cue], left_of: Left, plain: Callable[[str], str]) -> str:
    """Move the items that cues were read from; where they cannot be told, write the cues anew."""
    try:
        document = json.loads(source.text, parse_float=Decimal)
    except (ValueError, RecursionError):
        document = None
    items = document.get("segments") if isinstance(document, dict) else document
    moved = _moved_items(items, cues, left_of, plain) if isinstance(items, list) else None
    if moved is None:
        moved = [_item({}, one) for cue in cues for one in left_of(cue)]
        document = []
    # A text of the whole would hold what went, under any name; only the list is known to be right.
    whole = {**_without_words(document), "segments": moved} if isinstance(document, dict) else moved
    indent = 2 if "\n" in source.text.strip() else None
    return json.dumps(whole, ensure_ascii=False, indent=indent, default=float) + "\n"


def _without_words(document: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in document.items() if name != "text"}


def _moved_items(
    items: list[Any], cues: Sequence[Cue], left_of: Left, plain: Callable[[str], str]
) -> list[dict[str, Any]] | None:
    """Give the items of what is left; None where a cue has no item, or an item no cue."""
    waiting: dict[tuple[int, str], list[Cue]] = {}
    for cue in cues:
        waiting.setdefault((cue.start_ms, cue.text), []).append(cue)
    moved = []
    for item in items:
        words = plain(item["text"]) if isinstance(item, dict) and isinstance(item.get("text"), str) else ""
        if not words:
            continue
        start = item.get("start")
        known = isinstance(start, int | Decimal) and waiting.get((round(start * MS_PER_SECOND), words))
        if not known:
            return None
        moved += [_item(item, left) for left in left_of(known.pop(0))]
    return None if any(waiting.values()) else moved


def _item(item: dict[str, Any], cue: Cue) -> dict[str, Any]:
    """Give an item with new times; times of single words inside it, which would be the old ones, go."""
    kept = {name: value for name, value in item.items() if not _holds_times(value)}
    return {**kept, "start": seconds(cue.start_ms), "end": seconds(cue.end_ms), "text": cue.text}


def _holds_times(value: object) -> bool:
    return isinstance(value, list) and any(isinstance(one, dict) and "start" in one for one in value)
