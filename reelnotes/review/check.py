"""What would embarrass the maker on publishing day, from a draft and what has become of it since."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from typing import Literal

from reelnotes.model import Chapter, Correction, Cue, Draft, Flag, FlagTopic, Promise, SignalWord, worst_first
from reelnotes.problems import BadTime
from reelnotes.records import frozen
from reelnotes.settings import CaptionSettings, HostLimits
from reelnotes.timing import MS_PER_SECOND, Span, format_time, parse_time

StandingKind = Literal[
    "flag",
    "owed",
    "disclosure",
    "chapters",
    "captions",
    "sound",
    "price",
    "promise",
    "description",
    "changed",
    "ledger",
    "evidence",
]
#: The order in which they are worked through, and what each kind is called.
KIND_WORDS: dict[StandingKind, str] = {
    "flag": "flags without a decision",
    "owed": "not yet in the picture",
    "disclosure": "given and not disclosed",
    "chapters": "chapters",
    "captions": "captions",
    "sound": "sound of the film",
    "price": "prices missing",
    "promise": "promised and owed",
    "description": "description",
    "changed": "changed since the draft",
    "ledger": "records that cannot be read",
    "evidence": "figures that do not hold any more",
}
_SHOWN_PLACES = 3
_SAME_PROMISE_MS = 1_500


@frozen
class Standing:
    """One thing that stands in the way: its kind, what it is and the way out, and its place in the programme.

    `id` is that of the flag or the record, empty for the rest.
    """

    kind: StandingKind
    message: str
    at_ms: int | None = None
    signal: SignalWord | None = None
    id: str = ""
    topic: FlagTopic | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Since:
    """What has become of a draft: decisions, records, and files that are not as they were.

    `decided` are the ids of flags that the ledger has taken up; `owed` the records that have not reached
    viewers in the picture, with their places; `changed` the files that the written draft was not made from;
    `drafted` tells whether there is one; `kept_promises` the times of `promises_kept`; `captioned` whether
    the transcript is a caption file, whose times viewers see; `damaged` the records that cannot be read;
    `shaken` the evidence that cannot be worked out, or works out otherwise than recorded.
    """

    decided: Collection[str] = ()
    owed: Sequence[tuple[Correction, Sequence[Span]]] = ()
    changed: Sequence[str] = ()
    drafted: bool = True
    kept_promises: Sequence[str] = ()
    captioned: bool = True
    damaged: Sequence[str] = ()
    shaken: Sequence[str] = ()


def check_draft(
    draft: Draft, host: HostLimits, captions: CaptionSettings, since: Since, heard: Sequence[Standing] = ()
) -> tuple[Standing, ...]:
    """List everything that stands before publishing, kind by kind, worst first.

    `heard` is what is wrong with the sound of the finished film.
    """
    found = [
        *_flags(draft.flags, since.decided),
        *_owed(since.owed),
        *_chapters(draft.chapters, draft.duration_ms, host),
        *(_captions(draft.cues, captions) if since.captioned else ()),
        *heard,
        *_of_problems(draft),
        *_promises(draft.promises, since.kept_promises),
        *_changed(since),
        *(Standing("ledger", message) for message in since.damaged),
        *(Standing("evidence", message) for message in since.shaken),
    ]
    order = list(KIND_WORDS)
    return tuple(sorted(found, key=lambda standing: order.index(standing.kind)))


def _flags(flags: Sequence[Flag], decided: Collection[str]) -> Iterator[Standing]:
    """List the flags that were neither put aside nor made a caution; of disclosures only what is owed."""
    for flag in sorted(flags, key=worst_first):
        if flag.id in decided and (flag.topic != "disclosure" or flag.tier == "look"):
            continue
        if flag.topic == "disclosure":
            yield Standing("disclosure", f"{flag.why} {flag.caution}", flag.start_ms, None, flag.id)
            continue
        look = ", worth a look" if flag.tier == "look" else ""
        message = f"“{flag.quote}”{look}"
        yield Standing("flag", message, flag.start_ms, flag.signal, flag.id, flag.topic)


def _owed(owed: Sequence[tuple[Correction, Sequence[Span]]]) -> Iterator[Standing]:
    for record, spans in owed:
        signal = None if record.kind == "disclosure" else record.signal
        at_ms = spans[0].start_ms if spans else None
        message = f"the {record.kind} {record.id}: {record.shown}"
        yield Standing("owed", message, at_ms, signal, record.id, record.topic)


# --- chapters and captions ---------------------------------------------------------------------------


def _chapters(chapters: Sequence[Chapter], duration_ms: int, host: HostLimits) -> Iterator[Standing]:
    """Hold the chapters against what the host allows: how many, how long, how their titles and start are."""
    if not duration_ms:
        return
    if len(chapters) < host.chapters_min:
        message = f"there are {len(chapters)}, and the host shows none below {host.chapters_min}"
        yield Standing("chapters", f"{message}; add some by hand in kept.toml")
    if chapters and chapters[0].start_ms:
        yield Standing("chapters", "the first one must start at 0:00", chapters[0].start_ms)
    ends = [*(chapter.start_ms for chapter in chapters[1:]), duration_ms]
    for chapter, end_ms in zip(chapters, ends, strict=False):
        length_ms = end_ms - chapter.start_ms
        if length_ms < host.chapter_min_s * MS_PER_SECOND:
            message = f"{chapter.title!r} lasts {length_ms / MS_PER_SECOND:g} s; "
            yield Standing("chapters", f"{message}the host asks for {host.chapter_min_s} s", chapter.start_ms)
        if len(chapter.title) > host.title_max_chars:
            message = f"{chapter.title!r} has {len(chapter.title)} characters; "
            yield Standing("chapters", f"{message}the host shows {host.title_max_chars}", chapter.start_ms)


def _captions(cues: Sequence[Cue], settings: CaptionSettings) -> Iterator[Standing]:
    """Find captions that go by too fast to be read, and captions that stand there at once.

    Too fast is less than about 0.3 s a word (BBC Subtitle Guidelines, 4.1), which is 200 words a minute.
    """
    fast = [
        (Decimal(words * 60_000) / max(cue.end_ms - cue.start_ms, 1), cue, words)
        for cue in cues
        if (words := _count_words(cue.text)) * 1000 * settings.word_min_s > cue.end_ms - cue.start_ms
    ]
    if fast:
        fast.sort(key=lambda one: -one[0])
        _, worst, words = fast[0]
        length_s = (worst.end_ms - worst.start_ms) / MS_PER_SECOND
        most = Decimal(60) / settings.word_min_s
        message = (
            f"{_counted(len(fast), 'goes', 'go')} by faster than {most:.0f} words a minute, the worst with "
        )
        message += f"{words} words in {length_s:g} s; {_places([cue for _, cue, _ in fast])}"
        yield Standing("captions", message, worst.start_ms)
    ordered = sorted(cues, key=lambda cue: cue.start_ms)
    over = [after for cue, after in pairwise(ordered) if after.start_ms < cue.end_ms]
    if over:
        message = f"{_counted(len(over), 'starts', 'start')} before the one above has ended; {_places(over)}"
        yield Standing("captions", message, over[0].start_ms)


def _counted(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}"


def _places(cues: Sequence[Cue]) -> str:
    shown = ", ".join(format_time(cue.start_ms) for cue in cues[:_SHOWN_PLACES])
    return f"at {shown}" + (f" and {len(cues) - _SHOWN_PLACES} more" if len(cues) > _SHOWN_PLACES else "")


def _count_words(text: str) -> int:
    return sum(any(letter.isalnum() for letter in word) for word in text.split())


# --- the rest ----------------------------------------------------------------------------------------


def _of_problems(draft: Draft) -> Iterator[Standing]:
    given = tuple(material.name for material in draft.spending.materials if material.given)
    for problem in draft.problems:
        if problem.code == "price-missing" and not problem.message.startswith(given):
            yield Standing("price", problem.message)
        elif problem.code == "description-long":
            yield Standing("description", problem.message)


def _promises(promises: Sequence[Promise], kept: Sequence[str]) -> Iterator[Standing]:
    """List the links owed and what was to be told later; a question to viewers owes nothing."""
    times = [time for time in map(_time_or_none, kept) if time is not None]
    for promise in promises:
        if promise.kind == "ask" or promise.kept_at_ms is not None:
            continue
        if any(abs(promise.said_at_ms - time) <= _SAME_PROMISE_MS for time in times):
            continue
        owed = "a link" if promise.kind == "link" else "told later"
        at = format_time(promise.said_at_ms)
        message = f'{owed}: “{promise.quote}”; once it is there, set promises_kept = ["{at}"] in episode.toml'
        yield Standing("promise", message, promise.said_at_ms)


def _time_or_none(text: str) -> int | None:
    try:
        return parse_time(text)
    except BadTime:
        return None


def _changed(since: Since) -> Iterator[Standing]:
    if not since.drafted:
        yield Standing("changed", "nothing has been drafted yet; run reelnotes draft")
    for name in since.changed:
        yield Standing("changed", f"{name}; run reelnotes draft again")
