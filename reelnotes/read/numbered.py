"""A file's lines under their numbers, so that every problem can show the line it speaks of."""

from __future__ import annotations

from collections.abc import Iterable

from reelnotes.problems import Problem, Severity
from reelnotes.records import frozen
from reelnotes.store import SourceText


@frozen
class NumberedLines:
    """The lines of a file; line 1 is `lines[0]`."""

    name: str
    lines: list[str]

    @classmethod
    def of(cls, source: SourceText) -> NumberedLines:
        """Give the lines of a source."""
        return cls(source.name, source.lines)

    def problem(self, code: str, line: int, message: str, severity: Severity = "warning") -> Problem:
        """Make a problem of a line."""
        return Problem(code, message, self.name, line, self.lines[line - 1], severity)

    def problem_of_all(
        self, code: str, found: list[int], message: str, severity: Severity = "warning"
    ) -> list[Problem]:
        """Make one problem for all lines of a kind: the first is shown, the others are counted."""
        if not found:
            return []
        others = len(found) - 1
        if others:
            message += f" (and {others:,} more like it)"
        return [self.problem(code, found[0], message, severity)]

    def problem_of_each(self, code: str, found: Iterable[int], message: str) -> list[Problem]:
        """Make a problem of every one of these lines that holds anything."""
        return [self.problem(code, line, message) for line in found if self.lines[line - 1].strip()]
