"""Signs in speech and notes, written one a line: what the other modules of this room look for."""

from __future__ import annotations

import re

_GAP = r"(?: [\w'-]+){0,6}"


def any_of(block: str, *, at_end: bool = False) -> re.Pattern[str]:
    """Make a pattern that finds any of the signs of a block, one a line.

    A sign is plain words; `(a|b)` is a choice, `x?` may be missing, ` ...` stands for up to six words, and an
    apostrophe may be missing, as captions leave them out. The text must be as `plain` makes it. `at_end` ties
    the sign to the end of the text.
    """
    lines = (line.strip() for line in block.splitlines())
    signs = "|".join(
        line.replace("(", "(?:").replace("'", "'?").replace(" ...", _GAP) for line in lines if line
    )
    return re.compile(rf"\b(?:{signs})" + ("$" if at_end else r"\b"))


def plain(text: str) -> str:
    """Put a text in lower case with straight apostrophes, every character in its place."""
    lowered = text.lower()
    if len(lowered) != len(text):  # a letter that becomes two would move the rest
        lowered = "".join(c if len(c.lower()) > 1 else c.lower() for c in text)
    return lowered.replace("’", "'").replace("\n", " ")
