"""CSV and Markdown cells are read back by independent readers."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from markdown_it.token import Token

from reelnotes.write.plain import one_line
from reelnotes.write.table_text import csv_text, guarded, markdown_line, markdown_table, unguarded

SIGNS = ["|", "\\", "\\|", "`", "*", "_", "~~", "-", "'", '"', ",", "1.", "2)", "#", "---"]
AWKWARD = [*SIGNS, "[x](y)", "![i]", "<b>", "&amp;", "=1+1", "🪑"]
LINES = (st.lists(st.sampled_from(AWKWARD) | st.text(max_size=5), max_size=6).map("".join)).map(one_line)
modest = settings(max_examples=60, deadline=None)


@modest
@given(st.lists(st.tuples(st.text(), st.text()), max_size=5))
def test_csv_reads_back_with_the_csv_module(rows: list[tuple[str, str]]) -> None:
    """Cells with commas, quotes and line breaks come back through Python's reader (RFC 4180)."""
    back = list(csv.reader(io.StringIO(csv_text(("a", "b"), rows), newline="")))
    assert back[0] == ["a", "b"]
    assert [tuple(map(unguarded, row)) for row in back[1:]] == rows


@given(st.text(st.sampled_from("'=+-@ab\t")))
def test_a_guard_can_be_taken_off(cell: str) -> None:
    """What was guarded is itself again, also where the maker wrote an apostrophe."""
    assert unguarded(guarded(cell)) == cell


@pytest.mark.parametrize("cell", ["=SUM(A1)", "+ 2 coats", "- lid", "@home", "\tx"])
def test_no_cell_begins_as_a_formula(cell: str) -> None:
    """A note that begins with a sign is text in a spreadsheet."""
    assert guarded(cell) == f"'{cell}"


@pytest.mark.parametrize("cell", ["", "2 coats", "a=b", "'tis", "1-2"])
def test_plain_cells_are_left_alone(cell: str) -> None:
    """A sign further in runs nothing."""
    assert guarded(cell) == cell


PARSER = MarkdownIt("commonmark").enable(["table", "strikethrough"])


@modest
@given(st.lists(st.tuples(LINES, LINES), min_size=1, max_size=4))
def test_markdown_tables_read_back(rows: list[tuple[str, str]]) -> None:
    """Every cell is shown letter for letter by an independent Markdown reader, pipes and all."""
    tokens = PARSER.parse(markdown_table(("one", "two"), rows))
    cells = [_shown(token.children or []) for token in tokens if token.type == "inline"]
    assert cells == ["one", "two", *(cell for row in rows for cell in row)]


@modest
@given(LINES.filter(bool))
def test_markdown_lines_read_back(line: str) -> None:
    """As a paragraph, a list item or a quotation, a line is shown letter for letter and nothing else."""
    for head, wanted in (("", "paragraph_open"), ("- ", "bullet_list_open"), ("> ", "blockquote_open")):
        tokens = PARSER.parse(head + markdown_line(line))
        assert tokens[0].type == wanted
        assert [_shown(token.children or []) for token in tokens if token.type == "inline"] == [line]


def _shown(children: list[Token]) -> str:
    assert {child.type for child in children} <= {"text", "text_special"}
    return "".join(child.content for child in children)
