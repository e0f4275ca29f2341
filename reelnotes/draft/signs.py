"""Signs in speech and notes, written one a line: what the other modules of this room look for."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cached_property

_GAP = r"(?: [\w'-]+){0,6}"


class Signs:
    """A pattern that finds any of the signs of a block, one a line; made ready when it is first asked for.

    A sign is plain words; `(a|b)` is a choice, `x?` may be missing, ` ...` stands for up to six words, and an
    apostrophe may be missing, as captions leave them out. The text must be as `plain` makes it. `at_end` ties
    the sign to the end of the text.
    """

    def __init__(self, block: str, *, at_end: bool = False) -> None:
        self.block, self.at_end = block, at_end

    @cached_property
    def pattern(self) -> re.Pattern[str]:
        """The signs as one regular expression."""
        lines = (line.strip() for line in self.block.splitlines())
        signs = "|".join(
            line.replace("(", "(?:").replace("'", "'?").replace(" ...", _GAP) for line in lines if line
        )
        return re.compile(rf"\b(?:{signs})" + ("$" if self.at_end else r"\b"))

    def search(self, text: str) -> re.Match[str] | None:
        """Give the first place of a sign in a text."""
        return self.pattern.search(text)

    def finditer(self, text: str) -> Iterator[re.Match[str]]:
        """Go through the places of signs in a text."""
        return self.pattern.finditer(text)


def plain(text: str) -> str:
    """Put a text in lower case with straight apostrophes, every character in its place."""
    lowered = text.lower()
    if len(lowered) != len(text):  # a letter that becomes two would move the rest
        lowered = "".join(c if len(c.lower()) > 1 else c.lower() for c in text)
    return lowered.replace("’", "'").replace("\n", " ")
