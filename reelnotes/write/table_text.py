"""CSV and Markdown cells: whatever stands in them is shown as it is and runs nowhere."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

#: A cell that begins so is taken for a formula by spreadsheets, also behind apostrophes of ours.
_FORMULA_SIGNS = frozenset("=+-@\t\r")
_LINE_SIGNS = frozenset("-+=")
_NUMBER_MARKS = frozenset(".)")
_MARKDOWN_SIGNS = frozenset("\\`*_[]<>&|~$#!")


def csv_text(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Write CSV (RFC 4180: lines end in CR LF, cells quoted where needed), every cell guarded."""
    lines = io.StringIO()
    writer = csv.writer(lines)
    writer.writerow(header)
    writer.writerows([guarded(cell) for cell in row] for row in rows)
    return lines.getvalue()


def guarded(cell: str) -> str:
    """Put an apostrophe before a cell that a spreadsheet would run as a formula; `unguarded` takes it off.

    Notes from the bench begin with `-`, `+` or `=` often enough, and would show as an error.
    """
    return f"'{cell}" if cell.lstrip("'")[:1] in _FORMULA_SIGNS else cell


def unguarded(cell: str) -> str:
    """Take off the apostrophe that `guarded` put before a cell."""
    return cell[1:] if cell.startswith("'") and cell.lstrip("'")[:1] in _FORMULA_SIGNS else cell


def markdown_table(header: Sequence[str], rows: Iterable[Sequence[str]], right: Sequence[int] = ()) -> str:
    """Write a Markdown table; `right` names the columns of figures, from 0."""
    rules = ["---:" if column in right else "---" for column in range(len(header))]
    lines = [header, rules, *([markdown(cell) for cell in row] for row in rows)]
    return "".join(f"| {' | '.join(line)} |\n" for line in lines)


def markdown(text: str) -> str:
    """Write a one-line text so that Markdown shows it letter for letter (CommonMark, backslash escapes)."""
    return "".join(f"\\{letter}" if letter in _MARKDOWN_SIGNS else letter for letter in text)


def markdown_line(text: str) -> str:
    """Write a text as `markdown` does where it opens a line, item or quotation.

    There `-`, `+`, `=`, `2.` and `2)` would open a list or a rule, and are escaped too.
    """
    shown = markdown(text)
    if shown[:1] in _LINE_SIGNS:
        return f"\\{shown}"
    rest = shown.lstrip("0123456789")
    number = shown[: len(shown) - len(rest)]
    return f"{number}\\{rest}" if number and rest[:1] in _NUMBER_MARKS else shown
