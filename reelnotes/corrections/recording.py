"""Writing into the ledger: a new record whole, and to one that is there only more at the end."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Collection, Iterable, Mapping
from datetime import date
from typing import Any

from reelnotes.model import Correction, Place, Reach, stable_id
from reelnotes.timing import typed_span

_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}")
_ID_WORDS, _ID_CHARS = 5, 40
#: A list longer than this is written with an item a line.
_LINE_CHARS = 100
_SMALL = frozenset({
    "a", "an", "and", "at", "by", "for", "from", "in", "into", "is", "it", "its", "of", "on", "or", "so",
    "that", "the", "to", "was", "were", "with",
})  # fmt: skip
_DATED = re.compile(r"(\d{4}-\d{2}-\d{2}) (.+)", re.DOTALL)
_HEAD = "# Kept by reelnotes, which only adds at the end. Change what you like; comments stay.\n"


def is_id(text: str) -> bool:
    """Tell whether a text can be an id, which is also the name of a file on every system."""
    return bool(_ID.fullmatch(text))


def made_id(shown: str, taken: Collection[str]) -> str:
    """Make an id from the words for what was shown: its first telling words, told apart by a number."""
    plain = unicodedata.normalize("NFKD", shown).encode("ascii", "ignore").decode().casefold()
    words = [word for word in re.findall(r"[a-z0-9]+", plain) if word not in _SMALL][:_ID_WORDS]
    while len("-".join(words)) > _ID_CHARS and len(words) > 1:
        words.pop()
    stem = "-".join(words)[:_ID_CHARS] or stable_id(shown)
    known = {name.casefold() for name in taken}
    number = 1
    while (name := stem if number == 1 else f"{stem}-{number}") in known:
        number += 1
    return name


def disclosure_record(product: str, given: str) -> Correction:
    """Make the record of a disclosure; `given` are the shelf's words for who gave it, if they say so."""
    telling = len(given.split()) > 1
    words = (
        f"{product}: {given.strip()}, not paid for" if telling else f"{product} was given to me, not paid for"
    )
    return Correction(
        id=made_id(f"given {product}", ()),
        shown=product,
        wrong="it was given to the workshop, and viewers must be told in the video itself",
        instead=words,
        signal="NOTICE",
        kind="disclosure",
    )


def record_text(correction: Correction) -> str:
    """Write a record as the text of its file; read again, it is the same record."""
    members: dict[str, object] = {
        "kind": "" if correction.kind == "correction" else correction.kind,
        "recorded": correction.recorded,
        "signal": correction.signal,
        "topic": correction.topic,
        "shown": correction.shown,
        "wrong": correction.wrong,
        "instead": correction.instead,
        "evidence": correction.evidence,
        "sources": correction.sources,
        "flag": correction.flag,
    }
    parts = [_HEAD + _lines(members)]
    parts += [_block("place", place_members(place)) for place in correction.places]
    parts += [_block("reach", reach_members(reach)) for reach in correction.reach]
    parts += [
        _block("gone", gone_members(place, out_of)) for place in correction.places for out_of in place.gone_in
    ]
    parts += [_block("history", history_members(line)) for line in correction.history]
    return "\n".join(parts)


def place_members(place: Place) -> dict[str, object]:
    """Give a `[[place]]` as names and values."""
    return {"episode": place.episode, "version": place.version, "span": typed_span(place.span)}


def reach_members(reach: Reach) -> dict[str, object]:
    """Give a `[[reach]]` as names and values."""
    return {"where": reach.where, "episode": reach.episode, "on": reach.on}


def gone_members(place: Place, out_of: int) -> dict[str, object]:
    """Give a `[[gone]]` as names and values: the place is not in version `out_of` any more."""
    return {**place_members(place), "out_of": out_of}


def history_members(line: str) -> dict[str, object]:
    """Give a `[[history]]` as names and values; a date at the start of the line stands apart."""
    dated = _DATED.fullmatch(line)
    try:
        return {"on": date.fromisoformat(dated[1]), "what": dated[2]} if dated else {"what": line}
    except ValueError:
        return {"what": line}


def _block(kind: str, members: Mapping[str, object]) -> str:
    return f"[[{kind}]]\n{_lines(members)}"


def _lines(members: Mapping[str, object]) -> str:
    import tomlkit

    def written(value: object) -> str:
        item = tomlkit.item(list(value) if isinstance(value, tuple) else value)
        if isinstance(item, tomlkit.items.Array) and len(item.as_string()) > _LINE_CHARS:
            item.multiline(multiline=True)
        return item.as_string()

    return "".join(
        f"{name} = {written(value)}\n" for name, value in members.items() if value not in ("", None, ())
    )


def with_tables(text: str, tables: Iterable[tuple[str, Mapping[str, object]]]) -> str:
    """Give a record's text with tables added, each as its kind and its members.

    They are added at the end, so that the text as it was is the beginning of what comes out. Only where the
    maker wrote all tables of a kind in one line (`reach = [{...}]`) do they go on there. Raises `ValueError`
    where the text is not TOML, or leaves no room for more of a kind.
    """
    for kind, members in tables:
        wanted = _appended(tomllib.loads(text), kind, members)
        gap = "" if not text else "\n" if text.endswith("\n") else "\n\n"
        added = f"{text}{gap}{_block(kind, members)}"
        text = added if _reads_as(added, wanted) else _within(text, kind, members)
    return text


def _appended(table: dict[str, Any], kind: str, members: Mapping[str, object]) -> dict[str, Any]:
    have = table.get(kind, [])
    return {**table, kind: [*(have if isinstance(have, list) else [have]), dict(members)]}


def _reads_as(text: str, wanted: dict[str, Any]) -> bool:
    try:
        return tomllib.loads(text) == wanted
    except tomllib.TOMLDecodeError:
        return False


def _within(text: str, kind: str, members: Mapping[str, object]) -> str:
    import tomlkit

    if not isinstance(tomllib.loads(text)[kind], list):
        raise ValueError(f"write [[{kind}]] with two brackets on each side, so that more can follow")  # noqa: TRY004
    document: Any = tomlkit.parse(text)
    inline = tomlkit.inline_table()
    inline.update(members)
    document[kind].append(inline)
    return tomlkit.dumps(document)
