"""Viewers' comments: read, sorted against the draft, and turned into corrections, lessons, or nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from reelnotes.corrections.recording import is_id, made_id, record_text
from reelnotes.corrections.refusals import BadId, IdTaken, TooMuchSaid, WordsMissing
from reelnotes.model import SIGNAL_ORDER, Correction, Draft
from reelnotes.pipeline.corrections import Recorded, record_correction
from reelnotes.pipeline.episode import draft_episode
from reelnotes.pipeline.ledger import add_tables, read_ledger
from reelnotes.pipeline.records import Asked, chosen, tidied
from reelnotes.problems import Problem, Refusal
from reelnotes.project import LEDGER, find_workshop
from reelnotes.read.comments import read_comments
from reelnotes.records import frozen
from reelnotes.review.comments import Remark, sorted_remarks
from reelnotes.store import alone_in, read_text, write_file
from reelnotes.timing import Span
from reelnotes.words.lexicon import load_lexicon

DECIDED = "comments.toml"
_HEAD = (
    "# What was decided about viewers' comments: a hash of the words, nothing of the words or of who wrote.\n"
)
#: How much of the programme around a named time a correction speaks of, where no step is told there.
_AROUND_MS = 5000


class NoSuchComment(Refusal):
    """A number that no comment of the file has."""

    def __init__(self, number: int, count: int) -> None:
        self.number, self.count = number, count
        super().__init__(f"there is no comment {number}; the file has {count}, numbered from 1.")


class NoPlace(Refusal):
    """A comment that names no place, so that a correction would speak of nothing."""

    def __init__(self, number: int) -> None:
        self.number = number
        super().__init__(f"comment {number} names no time and no step that is told; add --span 9:12-9:41.")


@frozen
class Sorted:
    """The comments of a file, sorted, with the draft they were held against."""

    draft: Draft
    remarks: tuple[Remark, ...]
    problems: tuple[Problem, ...] = ()

    def numbered(self, number: int) -> Remark:
        """Give a comment by its number in the file. Raises `NoSuchComment`."""
        for remark in self.remarks:
            if remark.comment.number == number:
                return remark
        raise NoSuchComment(number, len(self.remarks))


def sort_comments(episode: Path, file: Path) -> Sorted:
    """Read the comments of a file and sort them for an episode. Raises a `Refusal`."""
    source, problems = read_text(file)
    comments, more = read_comments(source)
    draft, facts = draft_episode(episode)
    decided, found = _decided(facts.folder.path)
    lexicon = load_lexicon(facts.workshop.words)
    remarks = sorted_remarks(comments, draft.steps, lexicon, draft.duration_ms, decided)
    return Sorted(draft, remarks, (*problems, *more, *found))


def _decided(folder: Path) -> tuple[dict[str, str], list[Problem]]:
    path = folder / DECIDED
    if not path.is_file():
        return {}, []
    import tomllib

    source, problems = read_text(path)
    try:
        rows = tomllib.loads(source.text).get("comment", [])
        return {str(row["hash"]): str(row["done"]) for row in rows}, problems
    except (tomllib.TOMLDecodeError, KeyError, TypeError, AttributeError) as error:
        message = f"cannot be read ({error}); comments that were put away come back"
        return {}, [*problems, Problem("comment-line", message, DECIDED)]


def decide(episode: Path, remark: Remark, done: str, today: date | None = None) -> Path:
    """Keep what was done with a comment: a hash of its words, the day, and what; twice is once."""
    on = today or date.today()  # noqa: DTZ011 - the calendar of the workshop is meant
    path = episode / DECIDED
    if remark.decided:
        return path
    with alone_in(episode):
        if not path.is_file():
            write_file(path, _HEAD)
        add_tables(path, [("comment", {"hash": remark.digest, "done": done, "on": on})])
    return path


def place_of(remark: Remark, draft: Draft) -> Span | None:
    """Give where a comment's matter stands in the programme: its step's span, else around its time."""
    steps = {step.entry: step for step in draft.steps}
    for entry in remark.steps:
        spans = [Span(s.start_ms, s.end_ms) for s in steps[entry].spans]
        near = [span for span in spans if any(span.start_ms - _AROUND_MS <= ms for ms in remark.at_ms)]
        if near or spans:
            return (near or spans)[0]
    for ms in remark.at_ms:
        end = min(ms + _AROUND_MS, draft.duration_ms) if draft.duration_ms else ms + _AROUND_MS
        return Span(max(0, ms - _AROUND_MS), max(end, ms))
    return None


def shown_of(remark: Remark, draft: Draft) -> str:
    """Give what was shown, in the log's words, where the comment's step is known."""
    steps = {step.entry: step for step in draft.steps}
    return steps[remark.steps[0]].text if remark.steps else ""


def correct_from(
    episode: Path, found: Sorted, number: int, asked: Asked, today: date | None = None
) -> Recorded:
    """Turn a comment into a correction: place and what was shown come from its step, unless given."""
    remark = found.numbered(number)
    span = place_of(remark, found.draft)
    spans = asked.spans or ((span,) if span else ())
    if not spans:
        raise NoPlace(number)
    asked = replace(asked, spans=spans, shown=asked.shown or shown_of(remark, found.draft))
    recorded = record_correction(episode, asked, today)
    decide(episode, remark, f"correction {recorded.record.id}", today)
    return recorded


def learn_from(
    episode: Path, found: Sorted, number: int, asked: Asked, today: date | None = None
) -> Recorded:
    """Turn a comment into a lesson: a record that speaks of no place, so nothing is owed for it.

    It is asked at the next piece (`reelnotes lessons`). Raises a `Refusal`.
    """
    remark = found.numbered(number)
    asked = tidied(replace(asked, shown=asked.shown or shown_of(remark, found.draft)))
    for option, given in (("--shown", asked.shown), ("--wrong", asked.wrong), ("--instead", asked.instead)):
        if not given:
            raise WordsMissing(option, "what the lesson says")
    day = today or date.today()  # noqa: DTZ011 - the calendar of the workshop is meant
    workshop = find_workshop(episode)
    with alone_in(workshop / LEDGER):
        ledger = read_ledger(workshop)
        names = [one.id for one in ledger.records]
        if asked.record and not is_id(asked.record):
            raise BadId(asked.record)
        if asked.record and (workshop / LEDGER / f"{asked.record}.toml").exists():
            raise IdTaken(asked.record, ledger.path(asked.record))
        record = Correction(
            id=asked.record or made_id(asked.shown, names),
            shown=asked.shown,
            wrong=asked.wrong,
            instead=asked.instead,
            signal=chosen("--signal", asked.signal or "notice", SIGNAL_ORDER),
            history=(f"{day} learnt from a comment",),
            recorded=day,
        )
        write_file(ledger.path(record.id), record_text(record))
    decide(episode, remark, f"lesson {record.id}", today)
    return Recorded(ledger.path(record.id), record)


def one_at_a_time(correct: int, lesson: int, put_away: Sequence[int]) -> None:
    """Hold that one thing is asked. Raises `TooMuchSaid`, `NoSuchComment`."""
    asked = [("--correct", correct), ("--lesson", lesson), ("--put-away", put_away)]
    said = [option for option, value in asked if value]
    if len(said) > 1:
        raise TooMuchSaid(said[0], said[1:], "one thing at a time")
