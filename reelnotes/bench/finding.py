"""What a computation gives back: rows for people, one record for programs, and a line to cite it by."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import field
from typing import Any, TypeVar
from urllib.parse import parse_qsl, urlencode

from reelnotes.bench.units import BadMeasure
from reelnotes.problems import Refusal
from reelnotes.records import frozen

T = TypeVar("T")

#: Marks of a row: where its value is not a published one.
FROM_MEMORY = "from memory"
COMMON_PRACTICE = "common practice, no source"
ESTIMATE = "estimate"

CITE_PREFIX = "bench:"


@frozen
class Row:
    """One line of the answer; `mark` says where a value is less than a published one."""

    label: str
    value: str
    mark: str = ""


@frozen
class Finding:
    """The answer to a question of the bench.

    `sentence` says it in one line, fit to be quoted in a correction; `record` is the same for programs;
    `cite` is what a correction keeps as its evidence, so that the answer can be worked out again.
    """

    kind: str
    sentence: str
    rows: tuple[Row, ...]
    record: Mapping[str, Any]
    sources: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    cite: str = ""
    table: tuple[tuple[str, ...], ...] = field(default=())

    @property
    def document(self) -> dict[str, Any]:
        """The whole for `--json`."""
        marked = {row.label: row.mark for row in self.rows if row.mark}
        return {
            "kind": self.kind,
            "sentence": self.sentence,
            **self.record,
            "marked": marked,
            "sources": list(self.sources),
            "cautions": list(self.cautions),
            "cite": self.cite,
        }


class UnknownComputation(Refusal):
    """Evidence that names no computation of ours."""

    def __init__(self, text: str, known: Iterable[str]) -> None:
        self.text = text
        super().__init__(f"{text!r} names no bench computation; there are {', '.join(sorted(known))}.")


class UnknownMeasure(Refusal):
    """A computation was given a measure that it does not take."""

    def __init__(self, kind: str, name: str, known: Iterable[str]) -> None:
        self.kind, self.name = kind, name
        super().__init__(f"bench {kind} takes no {name!r}; it takes {', '.join(sorted(known))}.")


class Measures:
    """What was asked, by name: words as the maker wrote them. Empty ones do not count.

    `lent` are measures that come from elsewhere, such as a workshop's months, and are not cited.
    """

    def __init__(
        self, kind: str, given: Mapping[str, str], known: Iterable[str], lent: Collection[str] = ()
    ) -> None:
        self.kind, self.lent = kind, lent
        self.given = {name: str(words).strip() for name, words in given.items() if str(words).strip()}
        for name in self.given:
            if name not in known:
                raise UnknownMeasure(kind, name, known)

    def __contains__(self, name: str) -> bool:
        """Tell whether it was given."""
        return name in self.given

    def words(self, name: str, usual: str = "") -> str:
        """Give the words, or the usual ones."""
        return self.given.get(name, usual)

    def needed(self, name: str, example: str) -> str:
        """Give the words of a measure without which nothing can be worked out. Raises `BadMeasure`."""
        if name not in self.given:
            raise BadMeasure("", f"--{name.replace('_', '-')} {example}", name)
        return self.given[name]

    def read(self, name: str, reader: Callable[[str], T], usual: str = "") -> T:
        """Read the words of a measure, or the usual ones. Raises `BadMeasure` that names the measure."""
        try:
            return reader(self.words(name, usual))
        except BadMeasure as bad:
            raise BadMeasure(bad.text, bad.wanted, name) from None

    def bad(self, name: str, wanted: str) -> BadMeasure:
        """Give the refusal of a measure that can be read and cannot be."""
        return BadMeasure(self.words(name), wanted, name)

    def several(self, name: str) -> list[str]:
        """Give the parts of a list written with commas, semicolons or new lines."""
        return [part.strip() for part in self.words(name).replace(";", ",").split(",") if part.strip()]

    def numbers(self, name: str) -> list[float]:
        """Give numbers written with spaces or commas between them. Raises `BadMeasure`."""
        words = self.words(name).replace(",", " ").split()
        try:
            return [float(word) for word in words]
        except ValueError:
            raise self.bad(name, "numbers such as 35 75") from None

    @property
    def cite(self) -> str:
        """The line under which the same question can be asked again."""
        own = {name: words for name, words in self.given.items() if name not in self.lent}
        return f"{CITE_PREFIX}{self.kind}?{urlencode(own)}"


def read_cite(text: str) -> tuple[str, dict[str, str]]:
    """Take a line of evidence apart: which computation, with which measures."""
    kind, _, query = text.removeprefix(CITE_PREFIX).partition("?")
    return kind, dict(parse_qsl(query))
