"""What can be wrong with what the maker gave us, as values, and what we refuse, as exceptions.

A `Problem` is something found on the way: work goes on, nothing is lost, the maker is told.
A `Refusal` ends a command with exit code 2 and one sentence; the class builds that sentence.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from reelnotes.records import frozen

Severity = Literal["error", "warning", "note"]

#: Every code that a Problem can carry, with its meaning: docs/problems.md is checked against this.
PROBLEM_CODES: dict[str, str] = {
    "amount-unclear": "an amount could not be read, so no cost was worked out",
    "archive": "the archive on disk could not be used as it was",
    "archive-episode": "a folder among the episodes is not in the archive",
    "bench-clash": "a new hole and an old one break into each other, or leave too little wood between",
    "bench-early": "a coat went on before the one under it was ready",
    "bench-place": "a place on the drawer front lies outside it or cannot be met",
    "bench-range": "a figure lies outside the range for which its source holds",
    "bench-spacing": "an inch name and a metric hole spacing are easily taken for each other",
    "chapter-limit": "the chapters do not meet the host's limits set in workshop.toml",
    "chapter-place": "a chapter has no room where it stands; it was left out of the chapter files",
    "clip-line": "a line of the clip list could not be read",
    "clock-unclear": "the camera clock's offset could not be told, so footage was not used to place steps",
    "comment-column": "the table of comments lacks a column",
    "comment-line": "a comment could not be read",
    "correction-repeated": "a step comes near a mistake that was corrected before",
    "cue-cut": "a cut goes through a cue; the words that went with it were worked out from the times",
    "cue-empty": "a cue holds no words",
    "cue-form": "the file breaks the rules of its form, but could be read",
    "cue-line": "a line of the transcript belongs to no cue",
    "cue-order": "a cue starts before the one above it; the cues were put in order of time",
    "cue-overlap": "a cue starts before the one above it has ended",
    "cue-repeat": "captions roll: lines repeated from the cue above were taken once",
    "cue-time": "the times of a cue cannot be true (minute 75, an end before the start)",
    "cut-clip": "events of the cut list name no clip of the clip list",
    "cut-line": "a line of the cut list could not be read",
    "cut-place": "the times of an event lie outside the clip it names",
    "cut-start": "the programme in the cut list does not begin on a full hour",
    "description-blank": "the description has blanks to fill in: what was promised to stand there",
    "description-long": "the description was cut to what the host allows",
    "disclosure": "a product was given to the workshop: viewers must be told in the video itself",
    "encoding": "the file is not UTF-8; it was read as Latin-1",
    "evidence": "a record cites a bench computation that cannot be worked out",
    "evidence-changed": "a bench computation gives another answer than when a record cited it",
    "insert-hold": "an insert cannot be read in the time there is; a held frame gives it room",
    "insert-long": "a word of an insert is longer than a line",
    "insert-place": "an insert found no place, because a worse one stands there",
    "kept-stale": "a decision kept by hand points at something that is no longer there",
    "kept-value": "an entry of kept.toml could not be read",
    "ledger": "a record of the ledger, or a part of it, could not be read",
    "log-column": "the shop log as a table lacks a column",
    "log-date": "a line looks like a date but is none of the calendar",
    "log-empty": "the shop log holds no entries",
    "log-line": "a line of the shop log comes before the first timed entry",
    "log-order": "an entry's time is earlier than the one above it",
    "log-time": "an entry's time is no time of day",
    "log-untimed": "the log, or a day of it, holds no times; each line was taken as an entry",
    "match-thin": "hardly any entry of the log is told in this transcript: another video's transcript?",
    "panel-faint": "the letters of a panel do not stand out enough from their ground",
    "panel-letter": "the font of the panels lacks a letter that an insert is written with",
    "panel-library": "no panels were drawn, because the library that draws them is not installed",
    "pause": "the joints of a cut could not be moved into pauses of the speech",
    "price-missing": "a material was used whose price is not on the shelf",
    "rate-assumed": "the frame rate of the cut list was worked out, not given",
    "rate-missing": "the programme's frame rate is not known, so inserts stand on whole milliseconds",
    "rate-mixed": "clips of several frame rates stand in one timeline",
    "roundup-clip": "what a correction shows was cut out or cut shorter since it was recorded",
    "roundup-order": "a line of a roundup's order names no record",
    "rule": "a rule of reading for risk could not be read",
    "setting": "a setting could not be read; the usual value was taken",
    "shelf-column": "the shelf lacks a column",
    "shelf-line": "a line of the shelf could not be read",
    "shelf-twice": "a product stands on the shelf twice",
    "shelf-value": "a value on the shelf is not a number",
    "timeline-library": "no OpenTimelineIO timeline was written, because the library for it is not installed",
    "transcript-choice": "several transcripts lie in the folder; one was taken",
    "transcript-empty": "the transcript holds no words",
    "version": "a version.toml, or a part of it, could not be read",
    "video-chapters": "the chapters of the draft were not written into the video",
}


@frozen
class Problem:
    """One thing found wrong, with the place and a way out.

    `code` is a key of `PROBLEM_CODES`; `line` counts from 1; `excerpt` is the line itself.
    """

    code: str
    message: str
    file: str = ""
    line: int | None = None
    excerpt: str = ""
    severity: Severity = "warning"

    def __post_init__(self) -> None:
        """Refuse a code that the list does not know, so that the docs cannot fall behind."""
        if self.code not in PROBLEM_CODES:
            raise ValueError(f"unknown problem code {self.code!r}")

    def __str__(self) -> str:
        """`file:line: message`, the excerpt on a line of its own beneath."""
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        head = f"{place}: {self.message}" if place else self.message
        return f"{head}\n    {self.excerpt.strip()}" if self.excerpt.strip() else head


class Refusal(Exception):  # noqa: N818 - a refusal is not an error of ours
    """Base of everything we decline to do; `str()` is one clear sentence for the maker."""


class FileUnreadable(Refusal):
    """A file that cannot be read at all."""

    def __init__(self, path: Path, reason: str) -> None:
        self.path, self.reason = path, reason
        super().__init__(f"{path}: cannot be read ({reason}).")


class FolderUnwritable(Refusal):
    """A folder into which nothing can be written."""

    def __init__(self, path: Path, reason: str) -> None:
        self.path, self.reason = path, reason
        super().__init__(
            f"{path}: cannot be written to ({reason}); make it writable, or name another place: "
            "--out for a folder, --to for a video."
        )


class FolderBusy(Refusal):
    """A folder in which another writer is at work."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        super().__init__(
            f"{folder}: another reelnotes is writing there; nothing was done, try again in a moment."
        )


class DiskFull(Refusal):
    """A disk without room for what is to be written; `needed` and `free` in bytes, if known."""

    def __init__(self, path: Path, needed: int | None = None, free: int | None = None) -> None:
        self.path, self.needed, self.free = path, needed, free
        told = (
            f" ({needed >> 20} MB are needed, {free >> 20} MB are free)"
            if needed and free is not None
            else ""
        )
        super().__init__(
            f"{path}: the disk is full{told}; nothing was written. Make room or choose another disk."
        )


class FileChanged(Refusal):
    """A file that somebody else changed between our reading and our writing."""

    def __init__(self, path: Path) -> None:
        self.path = path
        super().__init__(f"{path}: was changed meanwhile and was left as it is; run the command again.")


class NotAnEpisode(Refusal):
    """A folder (or file) that holds no episode."""

    def __init__(self, path: Path, missing: str) -> None:
        self.path, self.missing = path, missing
        super().__init__(f"{path}: {missing}")


class BadTime(Refusal):
    """A time on the command line or in a hand-kept file that cannot be read."""

    def __init__(
        self, text: str, wanted: str = "9:12, 9:12.500, 1:02:03 or 552.5", what: str = "a time"
    ) -> None:
        self.text = text
        super().__init__(f"{text!r} is not {what}; write it as {wanted}.")


class AlreadyThere(Refusal):
    """Something that would have to be overwritten."""

    def __init__(self, path: Path) -> None:
        self.path = path
        super().__init__(f"{path}: is already there and was left as it is; choose another name.")
