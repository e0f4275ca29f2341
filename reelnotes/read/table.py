"""Comma-separated tables with a header, as spreadsheets write them and as people type them."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from reelnotes.problems import Problem
from reelnotes.read.numbered import NumberedLines
from reelnotes.records import frozen
from reelnotes.store import SourceText

#: A quoted field may run over so many lines; a quote that is open longer was never meant to open one.
_LONGEST_FIELD_LINES = 20
SEPARATORS = (",", ";", "\t")


@frozen
class Row:
    """One row, its fields under the names of the columns; a column that is not there gives ''."""

    line: int
    fields: Mapping[str, str]

    def __getitem__(self, column: str) -> str:
        """Give a field, white space around it taken off."""
        return self.fields.get(column, "").strip()


@frozen
class Columns:
    """What a table of a kind holds.

    `known` columns mean something; without the `needed` ones no row can be read; the `optional` ones may be
    missing without a word. `also` are other words for known columns, in the order in which they are tried
    where a header has none of our own. The codes are those of its problems.
    """

    known: tuple[str, ...]
    needed: tuple[str, ...]
    optional: tuple[str, ...] = ()
    line_code: str = ""
    column_code: str = ""
    also: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def names_in(self, head: str, separator: str) -> list[str]:
        """Give the columns that a header names, in our words where it has others."""
        names = [name.strip(' "\t').casefold() for name in head.split(separator)]
        for ours, others in self.also.items():
            other = next((name for name in others if name in names), None)
            if other and ours not in names:
                names[names.index(other)] = ours
        return names


@dataclass(slots=True)
class Table:
    """The rows of a file, with the columns that its header names."""

    numbered: NumberedLines
    columns: list[str] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    separator: str = ","

    def __iter__(self) -> Iterator[Row]:
        """Go through the rows."""
        return iter(self.rows)

    def lacks(self, names: tuple[str, ...]) -> bool:
        """Tell whether any of these columns is missing."""
        return any(name not in self.columns for name in names)


def read_table(source: SourceText, form: Columns) -> tuple[Table, list[Problem]]:
    """Read a table whose header may name its columns in any order and case.

    Commas, semicolons or tabs part the fields. Rows with too few fields are filled up, surplus fields go to
    the last column; both are reported.
    """
    table = Table(NumberedLines.of(source))
    lines = table.numbered.lines
    head = next((number for number, line in enumerate(lines, 1) if line.strip()), None)
    if head is None:
        message = f"the file is empty; its first line should be {','.join(form.known)}"
        return table, [Problem(form.column_code, message, source.name)]
    table.separator = max(
        SEPARATORS, key=lambda mark: len(set(form.known).intersection(form.names_in(lines[head - 1], mark)))
    )
    table.columns = form.names_in(lines[head - 1], table.separator)
    problems = _column_problems(table, form, head)
    number = head + 1
    while number <= len(lines) and not table.lacks(form.needed):
        number += _row(table, number, form.line_code, problems) if lines[number - 1].strip() else 1
    return table, problems


def _column_problems(table: Table, form: Columns, head: int) -> list[Problem]:
    problem, code = table.numbered.problem, form.column_code
    problems = []
    missing = [name for name in form.known if name not in table.columns and name not in form.optional]
    if table.lacks(form.needed):
        wanted = ", ".join(name for name in form.needed if name not in table.columns)
        message = f"there is no column {wanted}, so nothing was read; the columns are {', '.join(form.known)}"
        problems.append(problem(code, head, message, "error"))
    elif missing:
        message = f"there is no column {', '.join(missing)}, so what would stand there is unknown"
        problems.append(problem(code, head, message))
    strange = [name for name in table.columns if name and name not in form.known]
    if strange and not table.lacks(form.needed):
        message = f"what stands under {', '.join(strange)} was left aside; known are {', '.join(form.known)}"
        problems.append(problem(code, head, message, "note"))
    twice = {name for name in table.columns if name and table.columns.count(name) > 1}
    if twice and not table.lacks(form.needed):
        message = f"the column {', '.join(sorted(twice))} is there twice; the first one holds"
        problems.append(problem(code, head, message))
    return problems


def _row(table: Table, number: int, code: str, problems: list[Problem]) -> int:
    """Read the row that starts at a line; give the count of lines it takes."""
    fields, taken, closed = _fields(table, number)
    if not any(value.strip() for value in fields):
        return taken
    if not closed:
        message = "a quotation mark opens a field and none closes it; the line was read as it stands"
        problems.append(table.numbered.problem(code, number, message))
    width = len(table.columns)
    if len(fields) > width:
        fields, message = _narrowed(table, fields)
        problems.append(table.numbered.problem(code, number, message))
    elif len(fields) < width:
        message = f"has {len(fields)} of {width} fields; the others were taken as empty"
        problems.append(table.numbered.problem(code, number, message, "note"))
    named: dict[str, str] = {}
    for name, value in zip(table.columns, fields, strict=False):
        named.setdefault(name, value)
    table.rows.append(Row(number, named))
    return taken


def _fields(table: Table, number: int) -> tuple[list[str], int, bool]:
    """Part a row into its fields; a quoted one may go on over lines, if the row then comes out right."""
    lines = table.numbered.lines
    line = lines[number - 1]
    if '"' not in line:
        return line.split(table.separator), 1, True
    for taken in range(1, _LONGEST_FIELD_LINES + 1):
        part = lines[number - 1 : number - 1 + taken]
        if len(part) < taken:
            break
        fields = _parsed("\n".join(part), table.separator, strict=True)
        if fields is not None and (taken == 1 or len(fields) == len(table.columns)):
            return fields, taken, True
    opened = _parsed(line + '"', table.separator, strict=True) is not None
    if opened:
        return [value.strip().strip('"') for value in line.split(table.separator)], 1, False
    return _parsed(line, table.separator, strict=False) or [line], 1, True


def _parsed(text: str, separator: str, *, strict: bool) -> list[str] | None:
    try:
        rows = list(csv.reader([text], delimiter=separator, skipinitialspace=True, strict=strict))
    except csv.Error:
        return None
    return rows[0] if len(rows) == 1 else None


def _narrowed(table: Table, fields: list[str]) -> tuple[list[str], str]:
    """Fit surplus fields in: a decimal comma in the price is mended, else the last column takes the rest."""
    width = len(table.columns)
    price = table.columns.index("price") if "price" in table.columns else None
    if price is not None and table.separator == "," and len(fields) == width + 1:
        whole, part = fields[price].strip().lstrip("£$€ "), fields[price + 1].strip()
        if whole.isdigit() and part.isdigit() and len(part) == 2:  # noqa: PLR2004 - pence
            mended = [*fields[:price], f"{whole}.{part}", *fields[price + 2 :]]
            return mended, f"the price was read as {whole}.{part}; write it so, or in quotation marks"
    joined = table.separator.join(fields[width - 1 :])
    last = table.columns[-1]
    message = (
        f"has {len(fields)} fields for {width} columns; the rest was taken into {last}. "
        f"Put words with a {table.separator} in them in quotation marks"
    )
    return [*fields[: width - 1], joined], message
