"""The archive's tables, and putting episodes into them: one SQLite database, made again from plain files.

Words are indexed as heads of the lexicon (`words.lexicon.Lexicon.stems`), so that a practice is found under
any name that it goes by. A cue is indexed with the beginning of the next one beside it: captions break
sentences where they like.
"""

from __future__ import annotations

import re
import sqlite3
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date
from decimal import Decimal
from typing import Any

from reelnotes.archive.facts import ArchivedEpisode, EpisodeSummary, Line, RaisedFlag, UsedMaterial
from reelnotes.model import ShelfItem
from reelnotes.records import frozen
from reelnotes.words.lexicon import Lexicon
from reelnotes.words.products import ShelfNames, shelf_names
from reelnotes.words.tokens import stem

#: So many words of the cue after it are indexed beside a cue.
ONWARD_WORDS = 8
#: The layout of the tables: another one makes the index anew.
LAYOUT = 2

TABLES = """
CREATE TABLE meta (name TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE episode (
    id INTEGER PRIMARY KEY, slug TEXT NOT NULL UNIQUE, title TEXT NOT NULL, published TEXT,
    version INTEGER NOT NULL, address TEXT NOT NULL, duration_ms INTEGER NOT NULL, currency TEXT NOT NULL,
    total TEXT, budget TEXT, spent TEXT
);
CREATE TABLE seen (
    slug TEXT PRIMARY KEY, glance TEXT NOT NULL, made_of TEXT NOT NULL, shared TEXT NOT NULL,
    refused TEXT NOT NULL
);
CREATE TABLE line (
    id INTEGER PRIMARY KEY, episode INTEGER, source TEXT NOT NULL, text TEXT NOT NULL, start_ms INTEGER,
    end_ms INTEGER, entry INTEGER, logged_at TEXT, record TEXT
);
CREATE INDEX line_of ON line (episode);
CREATE VIRTUAL TABLE words USING fts5 (
    heads, onward, kinds, tokenize = "unicode61 remove_diacritics 0 tokenchars '_'"
);
CREATE TABLE mention (product TEXT NOT NULL, line INTEGER NOT NULL, among INTEGER NOT NULL);
CREATE INDEX mention_of ON mention (product);
CREATE INDEX mention_in ON mention (line);
CREATE TABLE material (
    episode INTEGER NOT NULL, name TEXT NOT NULL, kind TEXT NOT NULL, amount TEXT, unit TEXT, cost TEXT,
    said_at_ms INTEGER, given INTEGER NOT NULL
);
CREATE INDEX material_of ON material (episode);
CREATE TABLE flag (
    episode INTEGER NOT NULL, id TEXT NOT NULL, topic TEXT NOT NULL, signal TEXT NOT NULL, tier TEXT NOT NULL,
    start_ms INTEGER, end_ms INTEGER, entry INTEGER, quote TEXT NOT NULL
);
CREATE INDEX flag_of ON flag (episode);
CREATE INDEX flag_on ON flag (topic);
"""
#: A kind of work counts for an entry if it has this share at least of the words that the best one has.
_KIND_SHARE = 0.4

_NO_TOKEN = re.compile(r"[\W_]+")


def token(head: str) -> str:
    """Give a head of the lexicon as one token of the index: letters and digits, joined by `_`."""
    return _NO_TOKEN.sub("_", head.casefold()).strip("_")


def kind_token(name: str) -> str:
    """Give a field of work as a token; the lexicon names them with a `~` in front."""
    return token(name.removeprefix("~"))


@frozen
class Stock:
    """The products of a shelf, ready to be found in lines."""

    names: ShelfNames
    labels: tuple[str, ...]


def stock_of(shelf: Sequence[ShelfItem]) -> Stock:
    """Make the products of a shelf ready."""
    return Stock(shelf_names(shelf), tuple(item.name for item in shelf))


@frozen
class Seen:
    """An episode's folder as it was last looked at.

    `glance` changes when any file's size or time does, `made_of` when what it is made of does. `shared` is
    the state of shelf and settings where the record depends on them, else empty. `refused` says why there is
    none.
    """

    glance: str
    made_of: str
    shared: str = ""
    refused: str = ""


class Archive:
    """An open archive: ask it by its methods, and by `archive.trace`."""

    def __init__(self, connection: sqlite3.Connection, lexicon: Lexicon) -> None:
        self.connection, self.lexicon = connection, lexicon

    def close(self) -> None:
        """Let go of the file."""
        self.connection.close()

    # --- what is asked ---------------------------------------------------------------------------------

    def episodes(self) -> list[EpisodeSummary]:
        """Give all episodes, the oldest first; those without a date come last."""
        rows = self._rows(
            "SELECT slug, title, published, version, address, duration_ms, currency, total, budget, spent "
            "FROM episode ORDER BY published IS NULL, published, slug"
        )
        return [
            EpisodeSummary(
                slug, title, _day(published), version, address, duration, currency, *map(_decimal, money)
            )
            for slug, title, published, version, address, duration, currency, *money in rows
        ]

    def materials(self) -> list[tuple[str, UsedMaterial]]:
        """Give what was used, each with its episode's slug."""
        rows = self._rows(
            "SELECT slug, name, kind, amount, unit, cost, said_at_ms, given "
            "FROM material JOIN episode ON episode.id = material.episode ORDER BY slug, material.rowid"
        )
        return [
            (slug, UsedMaterial(name, kind, _decimal(amount), unit, _decimal(cost), said, bool(given)))
            for slug, name, kind, amount, unit, cost, said, given in rows
        ]

    def flags(self) -> list[tuple[str, RaisedFlag]]:
        """Give the flags of all drafts, each with its episode's slug."""
        rows = self._rows(
            "SELECT slug, flag.id, topic, signal, tier, start_ms, end_ms, entry, quote "
            "FROM flag JOIN episode ON episode.id = flag.episode ORDER BY slug, flag.rowid"
        )
        return [(slug, RaisedFlag(*rest)) for slug, *rest in rows]

    def lines(self, slug: str) -> list[Line]:
        """Give the lines of an episode: its log, then its speech."""
        rows = self._rows(
            "SELECT source, text, start_ms, end_ms, line.entry, logged_at "
            "FROM line JOIN episode ON episode.id = line.episode WHERE slug = ? ORDER BY line.id",
            (slug,),
        )
        return [Line(*row) for row in rows]

    # --- keeping it up to date -------------------------------------------------------------------------

    def seen(self) -> dict[str, Seen]:
        """Give how each episode's folder was last seen, by slug."""
        return {slug: Seen(*rest) for slug, *rest in self._rows("SELECT * FROM seen")}

    def meta(self, name: str) -> str:
        """Give a value kept beside the episodes; empty where there is none."""
        row = self.connection.execute("SELECT value FROM meta WHERE name = ?", (name,)).fetchone()
        return row[0] if row else ""

    def set_meta(self, name: str, value: str) -> None:
        """Keep a value beside the episodes."""
        self.connection.execute("INSERT OR REPLACE INTO meta VALUES (?, ?)", (name, value))

    def clear(self) -> None:
        """Take everything out."""
        for table in ("meta", "episode", "seen", "line", "words", "mention", "material", "flag"):
            self.connection.execute(f"DELETE FROM {table}")  # noqa: S608 - our own names

    def note(self, slug: str, seen: Seen) -> None:
        """Note how an episode's folder was seen."""
        row = (slug, seen.glance, seen.made_of, seen.shared, seen.refused)
        self.connection.execute("INSERT OR REPLACE INTO seen VALUES (?, ?, ?, ?, ?)", row)

    def put(self, episode: ArchivedEpisode, stock: Stock) -> None:
        """Put an episode in, in the place of what was held of it."""
        self.take_out(episode.summary.slug)
        s = episode.summary
        number = self.connection.execute(
            "INSERT INTO episode (slug, title, published, version, address, duration_ms, currency, total, "
            "budget, spent) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                s.slug, s.title, s.published and s.published.isoformat(), s.version, s.address, s.duration_ms,
                s.currency, *map(_text, (s.total, s.budget, s.spent)),
            ),
        ).lastrowid  # fmt: skip
        self._put_lines(number, episode.lines, stock)
        self.connection.executemany(
            "INSERT INTO material VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            [
                (number, m.name, m.kind, _text(m.amount), m.unit, _text(m.cost), m.said_at_ms, m.given)
                for m in episode.materials
            ],
        )
        self.connection.executemany(
            "INSERT INTO flag VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [
                (number, f.id, f.topic, f.signal, f.tier, f.start_ms, f.end_ms, f.entry, f.quote)
                for f in episode.flags
            ],
        )

    def take_out(self, slug: str) -> None:
        """Take out all that is held of an episode."""
        row = self.connection.execute("SELECT id FROM episode WHERE slug = ?", (slug,)).fetchone()
        self.connection.execute("DELETE FROM seen WHERE slug = ?", (slug,))
        if row is None:
            return
        self._drop_lines("episode = ?", row)
        for table, column in (("material", "episode"), ("flag", "episode"), ("episode", "id")):
            self.connection.execute(f"DELETE FROM {table} WHERE {column} = ?", row)  # noqa: S608 - our own names

    def put_corrections(self, words: Mapping[str, str]) -> None:
        """Hold the words of the ledger's records, by id, in the place of those held before."""
        self._drop_lines("source = ?", ("correction",))
        for record, text in words.items():
            number = self._insert_line(None, Line("correction", text), record)
            self._index_words(number, self.lexicon.stems(text, parts=True))

    def name_products(self, stock: Stock) -> None:
        """Find the products of a shelf in every line: needed whenever the shelf is another one."""
        self.connection.execute("DELETE FROM mention")
        lines = self.connection.execute("SELECT id, source, text FROM line WHERE source != 'correction'")
        for many in iter(lambda: lines.fetchmany(5000), []):
            self._mention(stock, many)

    @contextmanager
    def changing(self) -> Iterator[None]:
        """Change the archive as a whole or not at all; who else would change it waits until this is done."""
        with self.connection:
            self.connection.execute("BEGIN IMMEDIATE")
            yield

    # --- inside ----------------------------------------------------------------------------------------

    def _rows(self, query: str, values: Sequence[object] = ()) -> list[tuple[Any, ...]]:
        return self.connection.execute(query, values).fetchall()

    def _drop_lines(self, which: str, values: Sequence[object]) -> None:
        lines = f"SELECT id FROM line WHERE {which}"  # noqa: S608 - our own conditions
        self.connection.execute(f"DELETE FROM words WHERE rowid IN ({lines})", values)  # noqa: S608
        self.connection.execute(f"DELETE FROM mention WHERE line IN ({lines})", values)  # noqa: S608
        self.connection.execute(f"DELETE FROM line WHERE {which}", values)  # noqa: S608

    def _insert_line(self, episode: int | None, line: Line, record: str = "") -> int:
        number = self.connection.execute(
            "INSERT INTO line (episode, source, text, start_ms, end_ms, entry, logged_at, record) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (
                episode, line.source, line.text, line.start_ms, line.end_ms, line.entry, line.logged_at,
                record,
            ),
        ).lastrowid  # fmt: skip
        return number or 0

    def _put_lines(self, episode: int | None, lines: Sequence[Line], stock: Stock) -> None:
        heads = [self.lexicon.stems(line.text, parts=True) for line in lines]
        numbered = []
        for at, (line, own) in enumerate(zip(lines, heads, strict=True)):
            number = self._insert_line(episode, line)
            numbered.append((number, line.source, line.text))
            onward = heads[at + 1][:ONWARD_WORDS] if line.source == "speech" and at + 1 < len(lines) else []
            kinds = kinds_of(own, self.lexicon) if line.source == "log" else []
            self._index_words(number, own, onward, kinds)
        self._mention(stock, numbered)

    def _index_words(
        self, number: int, heads: Sequence[str], onward: Sequence[str] = (), kinds: Sequence[str] = ()
    ) -> None:
        self.connection.execute(
            "INSERT INTO words (rowid, heads, onward, kinds) VALUES (?, ?, ?, ?)",
            (number, _joined(heads, token), _joined(onward, token), _joined(kinds, kind_token)),
        )

    def _mention(self, stock: Stock, lines: Iterable[tuple[int, str, str]]) -> None:
        """Hold which products lines name; a deed ("stripped") may be done with one that is on no shelf."""
        found: dict[tuple[str, int], int] = {}
        for number, source, text in lines:
            for mention in stock.names.find(text, log=source == "log"):
                for option in mention.options:
                    key, among = (stock.labels[option], number), len(mention.options) + mention.deed
                    found[key] = min(found.get(key, among), among)
        rows = [(product, number, among) for (product, number), among in found.items()]
        self.connection.executemany("INSERT INTO mention VALUES (?, ?, ?)", rows)


def kinds_of(heads: Sequence[str], lexicon: Lexicon) -> list[str]:
    """Name the kinds of work that an entry may tell of: those that the most of its words belong to.

    A word that belongs to several kinds counts for each of them in part, a kind's own name as a whole.
    """
    shares: dict[str, float] = defaultdict(float)
    for head in dict.fromkeys(heads):
        fields = dict.fromkeys(lexicon.fields_of(head))
        for name in fields:
            own = stem(name.removeprefix("~"))
            shares[name] += 1 if head.startswith(own) and len(head) <= len(own) + 1 else 1 / len(fields)
    most = max(shares.values(), default=0.0)
    return sorted(name for name, share in shares.items() if share >= _KIND_SHARE * most)


def _joined(heads: Iterable[str], as_token: Callable[[str], str]) -> str:
    return " ".join(as_token(head) for head in heads)


def _text(value: Decimal | None) -> str | None:
    return None if value is None else str(value)


def _decimal(value: str | None) -> Decimal | None:
    return None if value is None else Decimal(value)


def _day(value: str | None) -> date | None:
    return date.fromisoformat(value) if value else None
