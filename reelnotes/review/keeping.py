"""Writing a decision into the text of `kept.toml`, so that every other line stays as it is."""

from __future__ import annotations

import tomllib
from typing import Any

from reelnotes.model import Dismissal, KeptChapter, Pin
from reelnotes.review.blocks import Block, cut
from reelnotes.review.kept import read_kept
from reelnotes.store import SourceText
from reelnotes.timing import MS_PER_SECOND, Span, format_time

Decision = Pin | KeptChapter | Dismissal

#: Members that say what a decision speaks of; as the maker wrote them, so they stay.
_SUBJECTS = frozenset({"step", "at", "flag"})


def keep(text: str, decision: Decision) -> str:
    """Give the file's text with a decision in it.

    An earlier decision on the same thing (the same step, flag, or chapter time) is changed in its place, with
    its comments; else the decision is added at the end. A file that is not TOML as a whole gets it all the
    same, because the reader takes the decisions one by one.
    """
    blocks = cut(text)
    places = [n for n, block in enumerate(blocks) if _subjects(block) == [_subject(decision)]]
    if not places:
        return _added(text, decision)
    return "".join(
        _changed(block, decision) if n == places[-1] else block.text for n, block in enumerate(blocks)
    )


def let_go(text: str, decision: Decision) -> str:
    """Give the file's text without any decision on that step, flag or chapter time."""
    return "".join(
        block.parted[1] if _subjects(block) == [_subject(decision)] else block.text for block in cut(text)
    )


def kept_time(ms: int) -> str:
    """Write a time as `kept.toml` has it: `9:12`, with milliseconds only where there are any."""
    part = ms % MS_PER_SECOND
    return f"{format_time(ms)}.{part:03d}" if part else format_time(ms)


def _members(decision: Decision) -> tuple[str, dict[str, Any]]:
    """Give a decision's kind and its members as TOML has them."""
    if isinstance(decision, Pin):
        where: dict[str, Any] = {"spans": [_span(span) for span in decision.spans]}
        return "pin", {"step": decision.step} | (where if decision.spans else {"off_camera": True})
    if isinstance(decision, Dismissal):
        return "dismiss", {"flag": decision.flag, "reason": decision.reason}
    what: dict[str, Any] = {"gone": True} if decision.gone else {"title": decision.title}
    return "chapter", {"at": kept_time(decision.start_ms)} | what


def _span(span: Span) -> str:
    return f"{kept_time(span.start_ms)}-{kept_time(span.end_ms)}"


def _subject(decision: Decision) -> tuple[str, str | int]:
    """Tell what a decision speaks of: two on one subject cannot both hold."""
    if isinstance(decision, Pin):
        return "pin", decision.step
    if isinstance(decision, Dismissal):
        return "dismiss", decision.flag
    return "chapter", decision.start_ms


def _subjects(block: Block) -> list[tuple[str, str | int]]:
    kept, _ = read_kept(SourceText("", block.text))
    decisions: list[Decision] = [*kept.pins, *kept.chapters, *kept.dismissed]
    return [_subject(decision) for decision in decisions]


def _changed(block: Block, decision: Decision) -> str:
    import tomlkit

    kind, members = _members(decision)
    body, behind = block.parted
    document: Any = tomlkit.parse(body)
    value = document[kind]
    table = value[0] if isinstance(value, list) else value
    for name in [name for name in table if name not in members]:
        del table[name]
    for name, member in members.items():
        if name not in table or (name not in _SUBJECTS and table[name] != member):
            table[name] = member
    return tomlkit.dumps(document) + behind


def _added(text: str, decision: Decision) -> str:
    import tomlkit

    kind, members = _members(decision)
    fragment = tomlkit.document()
    tables = tomlkit.aot()
    tables.append(tomlkit.item(members))
    fragment.append(kind, tables)
    gap = "" if not text else "\n" if text.endswith("\n") else "\n\n"
    added = text + gap + tomlkit.dumps(fragment)
    if not _is_toml(text) or _is_toml(added):
        return added
    # The decisions of this kind stand in one line, `pin = [{...}]`: there they go on.
    document: Any = tomlkit.parse(text)
    inline = tomlkit.inline_table()
    inline.update(members)
    document[kind].append(inline)
    return tomlkit.dumps(document)


def _is_toml(text: str) -> bool:
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return False
    return True
