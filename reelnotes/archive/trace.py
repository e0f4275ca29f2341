"""Finding a practice or a product in everything that was ever written, said, used or flagged."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from datetime import date
from itertools import groupby
from typing import Any

from reelnotes.archive.facts import LineSource
from reelnotes.archive.index import Archive, kind_token, token
from reelnotes.records import frozen
from reelnotes.timing import Span, format_time, moment
from reelnotes.words.lexicon import Lexicon

#: Cues that are found and stand nearer to each other than this are one answer.
SAME_MS = 6000
_NO_MEANING = frozenset(
    "a an the of to in on at and or with for from by is was were be it its this that these those my".split()  # noqa: SIM905 - words
)


@frozen
class Wanted:
    """What is looked for; what is empty does not count, and all that is given must hold.

    `words` in any form, `product` a name of the shelf or any other, `topic` of a flag, `kind` a field of work
    such as `sanding`; `since` and `until` are days on which an episode was published, both of them included.
    """

    words: str = ""
    product: str = ""
    topic: str = ""
    kind: str = ""
    since: date | None = None
    until: date | None = None


@frozen
class Found:
    """A place that answers: in the programme, or in the log alone (`start_ms` None).

    `sure` is False where the product meant may be another. `record` is the correction whose words these are,
    `topic` the flag's.
    """

    episode: str
    title: str
    published: date | None
    address: str
    version: int
    source: LineSource | None
    text: str
    start_ms: int | None = None
    end_ms: int | None = None
    entry: int | None = None
    logged_at: str | None = None
    sure: bool = True
    record: str = ""
    topic: str = ""

    @property
    def span(self) -> Span | None:
        """Where it stands in the programme."""
        if self.start_ms is None or self.end_ms is None:
            return None
        return Span(self.start_ms, self.end_ms)

    @property
    def link(self) -> str:
        """Give the published address of the moment; empty without an address or a time."""
        return moment(self.address, self.start_ms) if self.start_ms is not None else ""

    @property
    def at(self) -> str:
        """Time in the programme as it is shown; empty where there is none."""
        return "" if self.start_ms is None else format_time(self.start_ms)


@frozen
class Asked:
    """One of the things that must stand in a line: the head of a word or phrase, or else all parts of it.

    The parts count because a phrase may be broken between two cues.
    """

    head: str
    parts: tuple[str, ...] = ()

    def stands_in(self, heads: Collection[str]) -> bool:
        """Tell whether it is among the heads of a text."""
        return self.head in heads or bool(self.parts and set(self.parts) <= set(heads))


@frozen
class Traced:
    """The answers, newest episode first and in order of time within it.

    `asked` is what was looked for, in words that `lexicon` knows. `products` are the names on the shelf or in
    lists of materials that the product was taken for.
    """

    found: tuple[Found, ...]
    lexicon: Lexicon
    asked: tuple[Asked, ...] = ()
    products: tuple[str, ...] = ()

    def marks(self, found: Found) -> tuple[tuple[int, int], ...]:
        """Give the stretches of an answer's text that were asked for, under whatever name they stand there.

        Worked out when they are shown: a common practice has thousands of answers, of which few are.
        """
        tokens = self.lexicon.heads(found.text, parts=True)
        heads = {one.stem for one in tokens}
        told = {name for one in self.asked for name in ((one.head,) if one.head in heads else one.parts)}
        return tuple((one.start, one.end) for one in tokens if one.stem in told)

    def forms(self, most: int) -> tuple[str, ...]:
        """Give the forms in which the words stand in the first `most` answers, the most frequent first."""
        some = self.found[:most]
        texts = (one.text[start:end].casefold() for one in some for start, end in self.marks(one))
        return tuple(form for form, _ in Counter(texts).most_common())


def asked_of(words: str, lexicon: Lexicon) -> tuple[Asked, ...]:
    """Give what words ask for: little words do not count, unless all are little."""
    rest = lexicon.stems(words, parts=True)
    asked = []
    heads = lexicon.stems(words)
    for number, head in enumerate(heads):
        rest = rest[1:]
        end = rest.index(heads[number + 1]) if number + 1 < len(heads) else len(rest)
        asked.append(Asked(head, tuple(rest[:end])))
        rest = rest[end:]
    telling = [one for one in asked if one.head not in _NO_MEANING]
    return tuple(dict.fromkeys(telling or asked))


def trace(archive: Archive, wanted: Wanted) -> Traced:
    """Look for all that is wanted at once."""
    lexicon = archive.lexicon
    words, product = asked_of(wanted.words, lexicon), asked_of(wanted.product, lexicon)
    products = product_names(archive, wanted.product) if wanted.product else []
    if wanted.topic:
        rows = _flag_rows(archive, wanted, products)
    elif wanted.product and not wanted.words and not wanted.kind:
        rows = _product_rows(archive, wanted, products)
    else:
        rows = _line_rows(archive, wanted, products)
    found = [_found(row) for row in rows]
    if wanted.topic and words:
        found = [one for one in found if _holds(one.text, words, lexicon)]
    return Traced(tuple(_joined(found)), lexicon, words or product, tuple(products))


def _holds(text: str, asked: Iterable[Asked], lexicon: Lexicon) -> bool:
    heads = set(lexicon.stems(text, parts=True))
    return all(one.stands_in(heads) for one in asked)


def product_names(archive: Archive, product: str) -> list[str]:
    """Give the names in the archive that a product's name may stand for: each has all of its words."""
    asked = asked_of(product, archive.lexicon)
    known = archive.connection.execute(
        "SELECT product FROM mention UNION SELECT name FROM material ORDER BY 1"
    )
    return [
        name
        for (name,) in known
        if name.casefold() == product.casefold() or (asked and _holds(name, asked, archive.lexicon))
    ]


# --- asking the tables ---------------------------------------------------------------------------------

_EPISODE = "slug, title, published, address, version"
_LINE = (
    f"{_EPISODE}, line.source, line.text, line.start_ms, line.end_ms, line.entry, line.logged_at, line.record"
)
_ORDER = (
    "ORDER BY slug IS NULL, published IS NULL, published DESC, slug, "
    "line.start_ms IS NULL, line.start_ms, line.id"
)


def _line_rows(archive: Archive, wanted: Wanted, products: Sequence[str]) -> Iterator[dict[str, Any]]:
    """Give the lines that hold all that is asked; one that needs the next for it is taken with that one.

    Where the next line holds all of it, it answers for itself and the line before it does not.
    """
    asked = asked_of(wanted.words, archive.lexicon)
    match = _match(asked, wanted.kind)
    if not match:
        return iter(())
    conditions, values = ["words MATCH ?", "(alone OR NOT next_alone)"], [match]
    if wanted.product:
        naming, named = _naming(archive, wanted, products)
        conditions.append(f"line.id IN ({naming})")
        values += named
    _in_time(wanted, conditions, values)
    alone = "IN (SELECT rowid FROM words WHERE words MATCH ?)"
    query = (
        f"SELECT {_LINE}, 1 AS sure, '' AS topic, line.id {alone} AS alone, "  # noqa: S608
        f"coalesce(after.id {alone}, 0) AS next_alone, after.text AS onward, after.end_ms AS onward_ms "
        "FROM words JOIN line ON line.id = words.rowid LEFT JOIN line AS after ON after.id = line.id + 1 "
        "AND after.episode = line.episode AND line.source = 'speech' "
        f"LEFT JOIN episode ON episode.id = line.episode WHERE {' AND '.join(conditions)} {_ORDER}"
    )
    words = _match(asked, "")
    by_itself = f"heads : ({words})" if words else match
    return map(_with_next, _rows(archive, query, [by_itself, by_itself, *values]))


def _with_next(row: dict[str, Any]) -> dict[str, Any]:
    """Take the next cue with a line that does not hold all by itself."""
    alone, _, onward, onward_ms = (row.pop(name) for name in ("alone", "next_alone", "onward", "onward_ms"))
    return row if alone or not onward else row | {"text": f"{row['text']} {onward}", "end_ms": onward_ms}


def _product_rows(archive: Archive, wanted: Wanted, products: Sequence[str]) -> Iterator[dict[str, Any]]:
    """Give the lines that name a product; where it is off every shelf by now, those with its words too."""
    marks = ", ".join("?" * len(products))
    naming, values = _naming(archive, wanted, products)
    conditions = [f"line.id IN ({naming})"]
    _in_time(wanted, conditions, values)
    # Sure where all that may be meant there is asked for; a line that has the words alone speaks for itself.
    sure = f"SELECT count(*) >= min(among) FROM mention WHERE mention.line = line.id AND product IN ({marks})"  # noqa: S608
    query = (
        f"SELECT {_LINE}, coalesce(({sure}), 1) AS sure, '' AS topic FROM line "  # noqa: S608
        f"LEFT JOIN episode ON episode.id = line.episode WHERE {' AND '.join(conditions)} {_ORDER}"
    )
    return _rows(archive, query, [*products, *values])


def _naming(archive: Archive, wanted: Wanted, products: Sequence[str]) -> tuple[str, list[Any]]:
    """Give the query for the lines that name a product, by the shelf or in words alone, and its values."""
    query = f"SELECT line FROM mention WHERE product IN ({', '.join('?' * len(products))})"  # noqa: S608
    values: list[Any] = [*products]
    if asked := _match(asked_of(wanted.product, archive.lexicon), ""):
        query += " UNION SELECT rowid FROM words WHERE words MATCH ?"
        values.append(asked)
    return query, values


def _flag_rows(archive: Archive, wanted: Wanted, products: Sequence[str]) -> Iterator[dict[str, Any]]:
    """Give the flags of a topic; a kind of work is that of the entry, a product is named there or then."""
    conditions, values = ["topic = ?"], [wanted.topic]
    if wanted.kind:
        conditions.append("line.id IN (SELECT rowid FROM words WHERE words MATCH ?)")
        values.append(_match((), wanted.kind))
    if wanted.product:
        naming, named = _naming(archive, wanted, products)
        conditions.append(
            "EXISTS (SELECT 1 FROM line AS other WHERE other.episode = flag.episode "  # noqa: S608 - our own
            f"AND other.id IN ({naming}) AND (other.id = line.id OR (other.source = 'speech' "
            "AND other.start_ms < flag.end_ms AND other.end_ms > flag.start_ms)))"
        )
        values += named
    _in_time(wanted, conditions, values)
    query = (
        f"SELECT {_EPISODE}, CASE WHEN flag.start_ms IS NULL THEN 'log' ELSE 'speech' END AS source, "  # noqa: S608
        "quote AS text, coalesce(flag.start_ms, line.start_ms) AS start_ms, "
        "coalesce(flag.end_ms, line.end_ms) AS end_ms, flag.entry, logged_at, '' AS record, 1 AS sure, topic "
        "FROM flag JOIN episode ON episode.id = flag.episode LEFT JOIN line ON line.episode = flag.episode "
        "AND line.source = 'log' AND line.entry = flag.entry "
        f"WHERE {' AND '.join(conditions)} ORDER BY published IS NULL, published DESC, slug, 7, flag.rowid"
    )
    return _rows(archive, query, values)


def _rows(archive: Archive, query: str, values: Sequence[object]) -> Iterator[dict[str, Any]]:
    cursor = archive.connection.execute(query, values)
    names = [column[0] for column in cursor.description]
    return (dict(zip(names, row, strict=True)) for row in cursor)


def _in_time(wanted: Wanted, conditions: list[str], values: list[Any]) -> None:
    for sign, day in ((">=", wanted.since), ("<=", wanted.until)):
        if day:
            conditions.append(f"published {sign} ?")
            values.append(day.isoformat())


def _match(asked: Iterable[Asked], kind: str) -> str:
    """Write what is asked of the index; every token is quoted, so that nothing in it is an operator.

    All that is asked must stand in a line or in the beginning of the next, some of it in the line itself.
    """
    conditions, own = [], []
    for one in asked:
        whole, parts = token(one.head), [part for name in one.parts if (part := token(name))]
        if whole:
            broken = " OR (" + " AND ".join(f'"{part}"' for part in parts) + ")" if parts else ""
            conditions.append(f'("{whole}"{broken})')
            own += [whole, *parts]
    if own:
        conditions.append("(" + " OR ".join(f'heads : "{one}"' for one in own) + ")")
    if kind:
        conditions.append(f'kinds : "{kind_token(kind)}"')
    return " AND ".join(conditions)


# --- from rows to answers ------------------------------------------------------------------------------


def _found(row: dict[str, Any]) -> Found:
    """Make an answer of a row."""
    slug, title, day = row.pop("slug") or "", row.pop("title") or "", row.pop("published")
    taken = {
        **row,
        "address": row["address"] or "",
        "version": row["version"] or 1,
        "record": row["record"] or "",
        "sure": bool(row["sure"]),
    }
    return Found(episode=slug, title=title, published=date.fromisoformat(day) if day else None, **taken)


def _joined(found: Sequence[Found]) -> Iterator[Found]:
    """Join the cues of one episode that follow each other to one answer."""
    for _, group in groupby(found, key=lambda one: (one.episode, one.source == "speech")):
        last: Found | None = None
        for one in group:
            if last and (joined := _one_place(last, one)):
                last = joined
                continue
            if last:
                yield last
            last = one
        if last:
            yield last


def _one_place(one: Found, other: Found) -> Found | None:
    """Join two answers of speech that follow each other; None where they are two."""
    if one.source != "speech" or one.end_ms is None or other.start_ms is None or other.end_ms is None:
        return None
    if one.topic or other.start_ms - one.end_ms > SAME_MS:
        return None
    if one.text.endswith(other.text) and other.end_ms <= one.end_ms:
        return one  # the second half of what stands across their border
    between = "" if other.start_ms - one.end_ms < SAME_MS // 4 else " … "
    return Found(
        one.episode, one.title, one.published, one.address, one.version, one.source,
        f"{one.text}{between or ' '}{other.text}".replace("  ", " "),
        one.start_ms, max(one.end_ms, other.end_ms), sure=one.sure or other.sure,
    )  # fmt: skip
