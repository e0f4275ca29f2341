"""A TOML file cut into its tables, each with its line: one that is broken must not cost the others."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from reelnotes.records import frozen

_HEADER = re.compile(r"[ \t]*\[\[?[ \t]*[\"']?([A-Za-z_][\w-]*)")
_PLACE = re.compile(r"\(at line ([0-9]+), column [0-9]+\)")
#: A header-like line inside a long text in quotes is no header; so many may follow each other.
_LONGEST = 5


@frozen
class Block:
    """The lines from one header to the next; `kind` is the header's name, '' above the first header.

    `table` is what the lines say, None where they are not TOML; then `reason` says why, at `wrong_line`.
    """

    kind: str
    line: int
    text: str
    table: dict[str, Any] | None = None
    reason: str = ""
    wrong_line: int = 0

    @property
    def parted(self) -> tuple[str, str]:
        """The text itself, and the comments at its end, which speak of what comes next."""
        lines = re.split(r"(?<=\n)", self.text)
        end = len(lines)
        while end and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
            end -= 1
        return "".join(lines[:end]), "".join(lines[end:])


def cut(text: str) -> list[Block]:
    """Cut a text into blocks; joined again in order, they are the text."""
    lines = re.split(r"(?<=\n)", text)
    starts = [0, *(number for number, line in enumerate(lines) if number and _HEADER.match(line)), len(lines)]
    blocks: list[Block] = []
    at = 0
    while at < len(starts) - 1:
        tries = range(at + 1, min(at + 1 + _LONGEST, len(starts)))
        made = [_block(lines, starts[at], starts[end]) for end in tries[:1]]
        if made[0].table is None:
            made += [_block(lines, starts[at], starts[end]) for end in tries[1:]]
        whole = next((n for n, block in enumerate(made) if block.table is not None), 0)
        blocks.append(made[whole])
        at += whole + 1
    return blocks


def _block(lines: list[str], start: int, end: int) -> Block:
    text = "".join(lines[start:end])
    header = _HEADER.match(lines[start]) if start < end else None
    kind = header[1] if header else ""
    try:
        return Block(kind, start + 1, text, tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        place = _PLACE.search(str(error))
        inside = int(place[1]) if place else 1
        reason = _PLACE.sub("", str(error)).replace("(at end of document)", "").strip()
        return Block(kind, start + 1, text, None, reason, start + inside)
