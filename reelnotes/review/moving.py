"""The decisions of one version in the times of another: the text of `kept.toml`, comments and all."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from reelnotes.model import KeptChapter, Pin
from reelnotes.review.blocks import Block, cut
from reelnotes.review.kept import read_kept
from reelnotes.store import SourceText
from reelnotes.timing import typed_span, typed_time

Moved = Callable[[Pin | KeptChapter], Pin | KeptChapter | None]


def move_kept(text: str, moved: Moved) -> str:
    """Give the file's text with its pins and chapters at the times of another version.

    `moved` gives a decision as it is there, None where it is not. What a decision says beside its times, and
    every comment, stays; comments in front of a decision that goes stay too. What cannot be read stays as
    it stands, so that the maker still finds it.
    """
    return "".join(_moved_block(block, moved) for block in cut(text))


def _moved_block(block: Block, moved: Moved) -> str:
    if block.table is None or not {"pin", "chapter"} & block.table.keys():
        return block.text
    import tomlkit

    body, behind = block.parted
    document: Any = tomlkit.parse(body)
    for kind in ("pin", "chapter"):
        if kind not in document:
            continue
        value = document[kind]
        if not isinstance(value, list):
            value = [value]
        for n in reversed(range(len(value))):
            decision = _decision(kind, value[n])
            if decision is None:
                continue
            now = moved(decision)
            if now is not None:
                _change(value[n], decision, now)
            elif len(value) > 1:
                del value[n]
            else:
                del document[kind]
    return tomlkit.dumps(document) + behind


def _decision(kind: str, table: Any) -> Pin | KeptChapter | None:  # noqa: ANN401 - tomlkit's own type
    import tomlkit

    kept, _ = read_kept(SourceText("", tomlkit.dumps({kind: [table.unwrap()]})))
    decisions: list[Pin | KeptChapter] = [*kept.pins, *kept.chapters]
    return decisions[0] if decisions else None


def _change(table: Any, was: Pin | KeptChapter, now: Pin | KeptChapter) -> None:  # noqa: ANN401 - tomlkit's own
    if isinstance(was, Pin) and isinstance(now, Pin):
        if was.spans != now.spans and now.spans:
            table["spans"] = [typed_span(span) for span in now.spans]
        elif was.spans != now.spans:
            del table["spans"]
            table["off_camera"] = True
    elif isinstance(was, KeptChapter) and isinstance(now, KeptChapter) and was.start_ms != now.start_ms:
        table["at"] = typed_time(now.start_ms)
