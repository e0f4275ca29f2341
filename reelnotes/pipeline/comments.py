"""Viewers' comments: read, sorted against the draft, and turned into corrections, lessons, or nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import get_args

from reelnotes.corrections.recording import record_text
from reelnotes.corrections.refusals import GoesWith, RecordDamaged, TooMuchSaid, WordsMissing
from reelnotes.model import SIGNAL_ORDER, Correction, Draft, Topic
from reelnotes.pipeline.corrections import Recorded, free_id, record_correction
from reelnotes.pipeline.episode import draft_episode
from reelnotes.pipeline.ledger import add_tables, read_ledger
from reelnotes.pipeline.reading import EpisodeFacts
from reelnotes.pipeline.records import Asked, chosen, tidied, topic_of
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
    """A number that no comment of the file has, or one without words; `last` is the last one with words."""

    def __init__(self, number: int, last: int) -> None:
        self.number, self.last = number, last
        numbers = f"their numbers go from 1 to {last}" if last else "the file has none"
        super().__init__(f"there is no comment {number} with words in it; {numbers}.")


class DecidedBefore(Refusal):
    """A comment of which something was made before, or that was put away."""

    def __init__(self, number: int, done: str) -> None:
        self.number, self.done = number, done
        super().__init__(
            f"comment {number} was decided before ({done}); to decide it anew, delete its entry in {DECIDED}."
        )


class NoPlace(Refusal):
    """A comment that names no place, so that a correction would speak of nothing."""

    def __init__(self, number: int) -> None:
        self.number = number
        super().__init__(f"comment {number} names no time and no step that is told; add --span 9:12-9:41.")


@frozen
class Sorted:
    """The comments of a file, sorted, with the draft they were held against and its episode's folder."""

    folder: Path
    facts: EpisodeFacts
    draft: Draft
    remarks: tuple[Remark, ...]
    problems: tuple[Problem, ...] = ()

    def numbered(self, number: int) -> Remark:
        """Give a comment by its number in the file. Raises `NoSuchComment`."""
        for remark in self.remarks:
            if remark.comment.number == number:
                return remark
        raise NoSuchComment(number, max((remark.comment.number for remark in self.remarks), default=0))

    def undecided(self, number: int) -> Remark:
        """Give a comment of which something can be made. Raises `NoSuchComment`, `DecidedBefore`."""
        remark = self.numbered(number)
        if remark.decided:
            raise DecidedBefore(number, remark.decided)
        self.can_be_decided()
        return remark

    def can_be_decided(self) -> None:
        """Hold that what is decided now can be kept. Raises `RecordDamaged`."""
        if any(problem.file == DECIDED and problem.severity == "error" for problem in self.problems):
            raise RecordDamaged(self.folder / DECIDED, "cannot be read")


def sort_comments(episode: Path, file: Path) -> Sorted:
    """Read the comments of a file and sort them for an episode. Raises a `Refusal`."""
    source, problems = read_text(file)
    comments, more = read_comments(source)
    draft, facts = draft_episode(episode)
    decided, found = _decided(facts.folder.path)
    lexicon = load_lexicon(facts.workshop.words)
    remarks = sorted_remarks(comments, draft.steps, lexicon, draft.duration_ms, decided)
    return Sorted(facts.folder.path, facts, draft, remarks, (*problems, *more, *found))


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
        return {}, [*problems, Problem("comment-line", message, DECIDED, severity="error")]


def decide(found: Sorted, remarks: Sequence[Remark], done: str, today: date | None = None) -> Path:
    """Keep what was done with comments: a hash of the words, the day, and what; twice is once.

    Raises `RecordDamaged` where what was kept before cannot be read.
    """
    on = today or date.today()  # noqa: DTZ011 - the calendar of the workshop is meant
    path = found.folder / DECIDED
    found.can_be_decided()
    with alone_in(found.folder):
        known, _ = _decided(found.folder)
        new = [name for name in dict.fromkeys(remark.digest for remark in remarks) if name not in known]
        if new and not path.is_file():
            write_file(path, _HEAD)
        add_tables(path, [("comment", {"hash": name, "done": done, "on": on}) for name in new])
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
    remark = found.undecided(number)
    span = place_of(remark, found.draft)
    spans = asked.spans or ((span,) if span else ())
    if not spans:
        raise NoPlace(number)
    asked = replace(asked, spans=spans, shown=asked.shown or shown_of(remark, found.draft))
    recorded = record_correction(episode, asked, today)
    decide(found, [remark], f"correction {recorded.record.id}", today)
    return recorded


def learn_from(
    episode: Path, found: Sorted, number: int, asked: Asked, today: date | None = None
) -> Recorded:
    """Turn a comment into a lesson: a record that speaks of no place, so nothing is owed for it.

    It is asked at the next piece (`reelnotes lessons`). Raises a `Refusal`.
    """
    if asked.spans:
        raise TooMuchSaid("--lesson", ["--span"], "a lesson speaks of no place; --correct does")
    remark = found.undecided(number)
    asked = tidied(replace(asked, shown=asked.shown or shown_of(remark, found.draft)))
    for option, given in (("--shown", asked.shown), ("--wrong", asked.wrong), ("--instead", asked.instead)):
        if not given:
            raise WordsMissing(option, "what the lesson says")
    day = today or date.today()  # noqa: DTZ011 - the calendar of the workshop is meant
    workshop = find_workshop(episode)
    wanted = Correction(
        id="",
        shown=asked.shown,
        wrong=asked.wrong,
        instead=asked.instead,
        signal=chosen("--signal", asked.signal or "notice", SIGNAL_ORDER),
        topic=chosen("--topic", asked.topic, get_args(Topic)) if asked.topic else None,
        history=(f"{day} learnt from a comment",),
        recorded=day,
    )
    topic = wanted.topic or topic_of(wanted, found.facts)
    with alone_in(workshop / LEDGER):
        ledger = read_ledger(workshop)
        record = replace(wanted, id=free_id(asked, wanted, ledger), topic=topic)
        write_file(ledger.path(record.id), record_text(record))
    decide(found, [remark], f"lesson {record.id}", today)
    return Recorded(ledger.path(record.id), record, found_topic=topic is not wanted.topic)


def one_at_a_time(correct: int | None, lesson: int | None, put_away: Sequence[int], words: Asked) -> None:
    """Hold that one thing is asked, and words only where a record is made of them.

    Raises `TooMuchSaid`, `GoesWith`.
    """
    asked = [("--correct", correct is not None), ("--lesson", lesson is not None), ("--put-away", put_away)]
    said = [option for option, value in asked if value]
    if len(said) > 1:
        raise TooMuchSaid(said[0], said[1:], "one thing at a time")
    given = {
        "--span": words.spans, "--shown": words.shown, "--wrong": words.wrong, "--instead": words.instead,
        "--signal": words.signal, "--topic": words.topic, "--id": words.record,
    }  # fmt: skip
    if correct is None and lesson is None:
        for option in [name for name, value in given.items() if value][:1]:
            raise GoesWith(option, "--correct N or --lesson N")
