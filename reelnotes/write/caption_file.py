"""A caption file with its own markup: taken apart along the cues that were read from it, and put together.

What the cues carry is words and times. The line breaks, tags, names and settings are the file's, and so are
the notes and styles between its cues; they are kept, so that a file that goes through here loses nothing.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Literal

from reelnotes.model import Cue
from reelnotes.records import frozen
from reelnotes.store import SourceText
from reelnotes.timing import format_exact
from reelnotes.write.plain import one_line, referenced

Form = Literal["srt", "vtt"]

_TIMING = re.compile(r"\s*[\d:.,]+\s*-->\s*[\d:.,]+(.*)")
_REMARK = re.compile(r"WEBVTT(?:\s|$)|(?:NOTE|STYLE|REGION)(?:\s|$)")
_STAMP = re.compile(r"<\d[\d:.]*>")
_MAGIC = "WEBVTT"


@frozen
class Caption:
    """What stands on the screen at once: lines as the file has them, markup and all.

    `name` is WebVTT's identifier, `settings` what stands behind the times.
    """

    start_ms: int
    end_ms: int
    lines: tuple[str, ...]
    name: str = ""
    settings: str = ""


@frozen
class CaptionFile:
    """A caption file: captions, and between them what is none (header, notes, styles) as it stands.

    `plain` gives the words of a line without markup.
    """

    form: Form
    parts: tuple[Caption | str, ...]
    plain: Callable[[str], str]

    @property
    def captions(self) -> tuple[Caption, ...]:
        """The captions alone."""
        return tuple(part for part in self.parts if isinstance(part, Caption))

    def spoken_in(self, form: Form | None) -> tuple[Caption, ...]:
        """Give the captions for a file of another form: lines kept, markup taken out; None: plain text."""
        if form == self.form:
            return self.captions
        quote = referenced if form == "vtt" else str
        return tuple(
            Caption(
                c.start_ms,
                c.end_ms,
                tuple(quote(words) for line in c.lines if (words := one_line(self.plain(line)))),
            )
            for c in self.captions
        )


def caption_file(
    source: SourceText | None, cues: Sequence[Cue], form: str, plain: Callable[[str], str]
) -> CaptionFile:
    """Take a caption file apart along its cues.

    `form` is that of the source; a file that keeps to no form, and one of any other, gives captions of the
    cues alone, as WebVTT but for SubRip. `plain` gives the words of a line without markup, as cues have them.
    """
    own: Form = "srt" if form == "srt" else "vtt"
    parts = _parts(source, cues, own, plain) if source is not None and form == own else None
    return CaptionFile(own, parts or tuple(_from_cue(cue, own) for cue in cues), plain)


def _from_cue(cue: Cue, form: Form) -> Caption:
    text = one_line(cue.text)
    return Caption(cue.start_ms, cue.end_ms, (referenced(text) if form == "vtt" else text,))


def _parts(
    source: SourceText, cues: Sequence[Cue], form: Form, plain: Callable[[str], str]
) -> tuple[Caption | str, ...] | None:
    """Give the parts of a file; None where a cue's lines cannot be told from others."""
    lines = source.lines
    by_line = {cue.line: cue for cue in cues}
    parts: list[Caption | str] = []
    placed = 0
    for first, behind in _blocks(lines):
        numbers = [n for n in range(first, behind) if n + 1 in by_line]
        if not numbers:
            block = "\n".join(lines[first:behind])
            if form == "vtt" and _REMARK.match(block) and "-->" not in block:
                parts.append(block)
            elif any("-->" not in line and not line.strip().isdigit() for line in lines[first:behind]):
                return None  # words that the reader took to a cue above
            continue
        at = numbers[0]
        match = _TIMING.fullmatch(lines[at])
        if len(numbers) > 1 or at - first > 1 or not match:
            return None
        cue = by_line[at + 1]
        said = tuple(lines[at + 1 : behind])
        if plain(" ".join(said)) != cue.text:
            said = _from_cue(cue, form).lines
        name = lines[first].strip() if at > first and form == "vtt" else ""
        parts.append(Caption(cue.start_ms, cue.end_ms, said, name, match[1].strip()))
        placed += 1
    return tuple(parts) if placed == len(cues) else None


def _blocks(lines: Sequence[str]) -> Iterator[tuple[int, int]]:
    """Give the runs of lines without a blank one, each as first line and the one behind the last."""
    first = None
    for number, line in enumerate([*lines, ""]):
        if line.strip():
            first = number if first is None else first
        elif first is not None:
            yield first, number
            first = None


def retimed_file(
    file: CaptionFile, cues: Sequence[Cue], left_of: Callable[[Cue], Sequence[Cue]]
) -> CaptionFile:
    """Give the file for another version: `left_of` tells what is left of a cue there.

    Captions whose words a cut shortened lose their markup, and all lose the times inside their words, which
    would be those of the old version. `cues` are those that the file was made from.
    """
    by_time: dict[tuple[int, int], list[Cue]] = {}
    for cue in cues:
        by_time.setdefault((cue.start_ms, cue.end_ms), []).append(cue)
    parts: list[Caption | str] = []
    for part in file.parts:
        if isinstance(part, str):
            parts.append(part)
            continue
        cue = by_time[part.start_ms, part.end_ms].pop(0)
        for left in left_of(cue):
            whole = tuple(_STAMP.sub("", line) for line in part.lines)
            lines = whole if left.text == cue.text else _from_cue(left, file.form).lines
            parts.append(replace(part, start_ms=left.start_ms, end_ms=left.end_ms, lines=lines))
    return replace(file, parts=tuple(parts))


# --- putting together ------------------------------------------------------------------------------


def vtt_text(parts: Iterable[Caption | str]) -> str:
    """Write parts as WebVTT (W3C WebVTT): captions in order of their starts, ends behind starts.

    Names that stand twice, which the form does not allow, are left out the second time.
    """
    held = list(parts)
    head = next((part for part in held if isinstance(part, str) and part.startswith(_MAGIC)), _MAGIC)
    blocks, names = [head], set[str]()
    for part in _in_order(part for part in held if part is not head):
        if isinstance(part, str):
            blocks.append(part)
            continue
        name = part.name if part.name not in names and "-->" not in part.name else ""
        names.add(name)
        end = max(part.end_ms, part.start_ms + 1)
        times = f"{format_exact(part.start_ms)} --> {format_exact(end)} {part.settings}".rstrip()
        blocks.append("\n".join(line for line in (name, times, *part.lines) if line.strip()))
    return "\n\n".join(blocks) + "\n"


def srt_text(captions: Iterable[Caption]) -> str:
    """Write captions as SubRip: counted from 1, comma before the milliseconds (common practice, no standard).

    SubRip cannot quote its own arrow, so `-->` in the words becomes `→`.
    """
    blocks = []
    for number, c in enumerate(sorted(captions, key=lambda caption: caption.start_ms), start=1):
        end = max(c.end_ms, c.start_ms + 1)
        times = f"{format_exact(c.start_ms, ',')} --> {format_exact(end, ',')} {c.settings}".rstrip()
        said = [line.replace("-->", "→") for line in c.lines if line.strip()]
        blocks.append("\n".join((str(number), times, *said)) + "\n")
    return "\n".join(blocks)


def _in_order(parts: Iterable[Caption | str]) -> list[Caption | str]:
    """Put captions in order of their starts; what is no caption stays with the one behind it."""
    keyed: list[tuple[int, Caption | str]] = []
    waiting: list[str] = []
    for part in parts:
        if isinstance(part, str):
            waiting.append(part)
            continue
        keyed += [(part.start_ms, block) for block in waiting]
        keyed.append((part.start_ms, part))
        waiting.clear()
    ordered = [part for _, part in sorted(keyed, key=lambda pair: pair[0])]
    return [*ordered, *waiting]


def file_text(file: CaptionFile) -> str:
    """Write a caption file in its own form."""
    return vtt_text(file.parts) if file.form == "vtt" else srt_text(file.captions)
