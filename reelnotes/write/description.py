"""The text that stands under the published video."""

from __future__ import annotations

from dataclasses import dataclass, field

from reelnotes.model import Draft
from reelnotes.problems import Problem
from reelnotes.timing import format_time
from reelnotes.write.chapters import chapters_text
from reelnotes.write.flags import worst_first
from reelnotes.write.plain import amount_text, one_line, shortened
from reelnotes.write.wording import bare_caution

DESCRIPTION = "description.txt"
#: Stands at the end of every description: viewers copy what they see.
CLOSING = (
    "Cautions here are the usual ones: follow your local codes and the makers' data sheets, "
    "and leave to licensed trades what is theirs."
)
_MOST_CAUTIONS = 5
_QUOTE_CHARS = 80


@dataclass(slots=True)
class _Part:
    """A part of the description; `name` says in a problem what was left out of it."""

    name: str
    heading: str
    lines: list[str] = field(default_factory=list)
    left_out: int = 0

    def text(self) -> str:
        """Give heading and lines, with a line for what was left out; empty where no line is left."""
        more = [f"… and {self.left_out} more"] if self.left_out else []
        return "\n".join([self.heading, *self.lines, *more]) if self.lines else ""


def description(draft: Draft, max_chars: int) -> tuple[str, list[Problem]]:
    """Write the description: disclosure, chapters, materials, links owed, cautions; `max_chars` at most.

    Costs stay out: they are the maker's own business. A promised link that is still owed stands as a blank
    to fill in. What is given is named at the top, because readers rarely open the rest (common practice),
    and reported, because a disclosure belongs in the video itself. Where the host allows too little room,
    materials give way first, then cautions, links and, last, chapters; what was left out is reported.
    """
    chapters = _Part("chapters", "Chapters", chapters_text(draft).splitlines())
    materials = _Part("materials", "Used in this episode", _materials(draft))
    links = _Part("links", "Links", _links(draft))
    cautions = _Part("cautions", "Before you copy this", _cautions(draft))
    head = "\n\n".join(filter(None, [one_line(draft.title), _disclosure(draft)]))
    parts = [chapters, materials, links, cautions]
    text = _joined(head, parts)
    for part in (materials, cautions, links, chapters):
        while len(text) > max_chars and part.lines:
            part.lines.pop()
            part.left_out += 1
            text = _joined(head, parts)
    cut = [f"{part.left_out} of its {part.name}" for part in parts if part.left_out]
    if len(text) == max_chars + 1:
        text = text.removesuffix("\n")  # the end of the last line is no loss
    if len(text) > max_chars:
        text, cut = text[:max_chars], [*cut, "the end of the text"]
    return text, _problems(draft, links, cut, max_chars)


def _joined(head: str, parts: list[_Part]) -> str:
    return "\n\n".join(filter(None, [head, *(part.text() for part in parts), CLOSING])) + "\n"


def _disclosure(draft: Draft) -> str:
    given = [one_line(material.name) for material in draft.spending.materials if material.given]
    return f"Given to the workshop, not paid for: {', '.join(given)}." if given else ""


def _materials(draft: Draft) -> list[str]:
    lines = []
    for material in draft.spending.materials:
        amount = amount_text(material.amount, one_line(material.unit or ""))
        lines.append(f"- {one_line(material.name)}" + (f", {amount}" if amount else ""))
    return lines


def _links(draft: Draft) -> list[str]:
    owed = [p for p in draft.promises if p.kind == "link" and p.kept_at_ms is None]
    return [f"[fill in] {format_time(p.said_at_ms)} “{shortened(p.quote, _QUOTE_CHARS)}”" for p in owed]


def _cautions(draft: Draft) -> list[str]:
    """Give the cautions of firm flags, worst first, each once: viewers copy what they see."""
    firm = [one_line(bare_caution(flag.caution)) for flag in worst_first(draft.flags) if flag.tier == "firm"]
    return [f"- {caution}" for caution in list(dict.fromkeys(filter(None, firm)))[:_MOST_CAUTIONS]]


def _problems(draft: Draft, links: _Part, cut: list[str], max_chars: int) -> list[Problem]:
    problems = []
    if given := [one_line(m.name) for m in draft.spending.materials if m.given]:
        message = f"{', '.join(given)}: given to the workshop; say so in the video too, seen and heard"
        problems.append(Problem("disclosure", message, DESCRIPTION, severity="note"))
    if links.lines:
        message = f"blanks to fill in: {len(links.lines)}, for links that were promised in the video"
        problems.append(Problem("description-blank", message, DESCRIPTION, severity="note"))
    if cut:
        message = f"the host allows {max_chars} characters, so it lacks {', '.join(cut)}; shorten it by hand"
        problems.append(Problem("description-long", message, DESCRIPTION))
    return problems
