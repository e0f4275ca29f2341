"""The roundup: which corrections it goes through, in what order, with which clip, and what is said to each.

The order: safety first (by signal word), then the largest lesson, and never two of one topic in a row where
that can be helped; the maker's own order goes before all of it. How large a lesson is: how many episodes show
it, then the harm it does, then how long it is seen.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import date
from pathlib import Path

from reelnotes.corrections.reach import harm_rank
from reelnotes.corrections.refusals import NotInRoundup, UnknownRecord
from reelnotes.model import Correction, Place, SignalWord, Topic
from reelnotes.problems import Problem
from reelnotes.records import frozen
from reelnotes.timing import MS_PER_MINUTE, Span, format_time

#: A breath after each paragraph that is said; ours.
BREATH_MS = 700
#: What can be said of each part, in the order of saying.
PARTS = ("happened", "wrong", "shown by", "instead", "careful")


@frozen
class Choice:
    """Which corrections are wanted; what is empty does not count. Days are those of recording, both included.

    `again` takes those too that were in a roundup before; `only` names records and takes them whatever else
    is asked.
    """

    since: date | None = None
    until: date | None = None
    topics: tuple[Topic, ...] = ()
    signals: tuple[SignalWord, ...] = ()
    only: tuple[str, ...] = ()
    leave_out: tuple[str, ...] = ()
    again: bool = False


@frozen
class Footage:
    """What is known of an episode that a clip is taken from: its title, its length, the day it came out."""

    title: str
    duration_ms: int
    published: date | None = None


@frozen
class RoundupClip:
    """The piece of a source episode that is shown: `span` in the version out now, with handles around it."""

    episode: str
    version: int
    span: Span
    handles: Span


@frozen
class Said:
    """A paragraph to be said, and which part of the telling it is."""

    part: str
    text: str


@frozen
class Item:
    """One correction in the roundup. `clip` is None where it is seen nowhere any more.

    `also` are the other places that show it, in the versions out now; `starts_ms` is the running clock as it
    begins, `clip_ms` and `talk_ms` how long it is shown and told.
    """

    record: Correction
    clip: RoundupClip | None
    also: tuple[tuple[str, Span], ...]
    said: tuple[Said, ...]
    starts_ms: int
    clip_ms: int
    talk_ms: int

    @property
    def ends_ms(self) -> int:
        """The running clock as it ends."""
        return self.starts_ms + self.clip_ms + self.talk_ms


def chosen_records(records: Sequence[Correction], choice: Choice, folder: Path) -> list[Correction]:
    """Give the retractions that are wanted, in the order of the ledger.

    Cautions and disclosures are no mistakes and stay out, and so do lessons, which speak of no place. Raises
    `UnknownRecord` for a name that is none, `NotInRoundup` for the name of one of those.
    """
    retractions = [one for one in records if one.kind == "correction" and one.places]
    known = {one.id.casefold(): one for one in records}
    for name in (*choice.only, *choice.leave_out):
        if name.casefold() not in known:
            raise UnknownRecord(name, [one.id for one in retractions], folder)
    told = {one.id.casefold() for one in retractions}
    for name in choice.only:
        if name.casefold() not in told:
            kind = known[name.casefold()].kind
            raise NotInRoundup(name, "speaks of no place" if kind == "correction" else f"is a {kind}")
    left_out = {name.casefold() for name in choice.leave_out}
    only = {name.casefold() for name in choice.only}
    return [
        one
        for one in retractions
        if one.id.casefold() not in left_out and (one.id.casefold() in only if only else _wanted(one, choice))
    ]


def _wanted(record: Correction, choice: Choice) -> bool:
    if not choice.again and any(reach.where == "roundup" for reach in record.reach):
        return False
    if choice.since and (record.recorded is None or record.recorded < choice.since):
        return False
    if choice.until and (record.recorded is None or record.recorded > choice.until):
        return False
    if choice.topics and record.topic not in choice.topics:
        return False
    return not choice.signals or record.signal in choice.signals


# --- the running order ---------------------------------------------------------------------------------


def lesson_rank(record: Correction) -> tuple[int, int, int, int, str]:
    """Give the rank of a correction in the roundup, the least comes first."""
    signal, harm, _ = harm_rank(record)
    episodes = len({place.episode for place in record.places})
    seen_ms = sum(place.span.length_ms for place in record.places)
    return signal, -episodes, harm, -seen_ms, record.id


def running_order(records: Sequence[Correction], by_hand: Sequence[str] = ()) -> list[Correction]:
    """Put corrections in order: those named by hand first and as named, the others by rank.

    Two of one topic never stand in a row where another order of those ranked can help it; those without a
    topic are like no other. Names that are not among the records do not count.
    """
    by_id = {record.id.casefold(): record for record in records}
    named = [by_id[name.casefold()] for name in dict.fromkeys(by_hand) if name.casefold() in by_id]
    ordered = list(dict.fromkeys(named))
    rest = sorted((one for one in records if one not in ordered), key=lesson_rank)
    while rest:
        last = ordered[-1].topic if ordered else None
        ordered.append(rest.pop(_next(rest, last)))
    return ordered


def _next(rest: Sequence[Correction], last: Topic | None) -> int:
    """Give the first by rank that may come next: unlike the last, and leaving what can be kept apart."""
    unlike = [n for n, one in enumerate(rest) if one.topic is None or one.topic != last]
    for number in unlike:
        left = [one.topic for n, one in enumerate(rest) if n != number]
        if _can_be_kept_apart(left, rest[number].topic):
            return number
    if unlike:  # some must meet in any order: the most frequent topic goes while it can
        counts = Counter(one.topic for one in rest)
        return max(unlike, key=lambda n: (counts[rest[n].topic] if rest[n].topic else 0, -n))
    return 0


def _can_be_kept_apart(topics: Sequence[Topic | None], last: Topic | None) -> bool:
    """Tell whether topics can follow `last` so that no two alike stand in a row."""
    counts = Counter(topic for topic in topics if topic)
    return all(count <= (len(topics) + (0 if topic == last else 1)) // 2 for topic, count in counts.items())


# --- what is shown and said ----------------------------------------------------------------------------


def clip_of(
    record: Correction,
    mapped: Callable[[Place], Sequence[Span]],
    footage: Mapping[str, Footage],
    versions: Mapping[str, int],
    handles_ms: int,
) -> tuple[RoundupClip | None, tuple[tuple[str, Span], ...]]:
    """Give the first place of a record that is still in its picture as a clip, and the others.

    `mapped` gives where a place stands in the version out now. Handles end where the programme does. What
    begins behind the end of the programme is no place in it.
    """
    seen = [
        (place.episode, span)
        for place in record.places
        if place.episode in footage
        for span in mapped(place)
        if span.length_ms and not _is_behind(span, footage[place.episode])
    ]
    if not seen:
        return None, ()
    slug, span = seen[0]
    end_ms = max(footage[slug].duration_ms, span.end_ms)
    handles = Span(max(0, span.start_ms - handles_ms), min(end_ms, span.end_ms + handles_ms))
    return RoundupClip(slug, versions.get(slug, 1), span, handles), tuple(seen[1:])


def _is_behind(span: Span, footage: Footage) -> bool:
    return 0 < footage.duration_ms <= span.start_ms


def misplaced(
    record: Correction,
    mapped: Callable[[Place], Sequence[Span]],
    footage: Mapping[str, Footage],
    versions: Mapping[str, int],
) -> list[Problem]:
    """Tell of places that no version of the episode can have, as a slip in a record written by hand."""
    told: list[str] = []
    for place in record.places:
        if place.episode not in footage:
            continue
        end_ms, newest = footage[place.episode].duration_ms, versions.get(place.episode, 1)
        where = f"{record.id}: {place.episode}, {format_time(place.span.start_ms)}"
        if place.version > newest:
            told.append(f"{where}: there is no version {place.version}; it was taken as one of {newest}")
        elif any(_is_behind(span, footage[place.episode]) for span in mapped(place)):
            told.append(
                f"{where} is behind the end of the programme ({format_time(end_ms)}) and was left out; "
                'if it is longer, set length = "15:20" in episode.toml'
            )
    return [Problem("roundup-clip", message) for message in told]


def cut_since(
    record: Correction, mapped: Callable[[Place], Sequence[Span]], footage: Mapping[str, Footage]
) -> list[Problem]:
    """Tell what of a correction was cut out of its episodes since, in part or whole."""
    told: list[str] = []
    shown = False
    for place in record.places:
        spans = mapped(place) if place.episode in footage else ()
        left = sum(span.length_ms for span in spans)
        there = [span for span in spans if not _is_behind(span, footage[place.episode])]
        shown = shown or any(span.length_ms for span in there)
        times = f"{format_time(place.span.start_ms)}–{format_time(place.span.end_ms)}"
        where = f"{record.id}: {place.episode}, {times} of version {place.version},"
        if place.episode in footage and not left:
            told.append(f"{where} was cut out since; it is left out of the roundup")
        elif 0 < left < place.span.length_ms:
            told.append(f"{where} was cut shorter since; what is left of it is shown")
    if not shown:
        told.append(f"{record.id}: nothing shows it any more, so there is no clip of it")
    return [Problem("roundup-clip", message, severity="note") for message in told]


def told(said: Sequence[Said], words_per_minute: int) -> int:
    """Give how long paragraphs take to say at a pace, in milliseconds, with a breath after each."""
    words = sum(len(one.text.split()) for one in said)
    return words * MS_PER_MINUTE // words_per_minute + BREATH_MS * len(said)


def pace_of(cues: Collection[tuple[int, int, str]], usual: int) -> int:
    """Give the maker's own pace in words a minute, from what was said (start, end in ms, words).

    With less than two minutes of speech it is the usual one. What is outside 60 to 240 words a minute is no
    pace of speech (captions that stand longer than they are spoken, or not as long) and is held to that.
    """
    spoken_ms = sum(end - start for start, end, _ in cues)
    words = sum(len(text.split()) for _, _, text in cues)
    if spoken_ms < _ENOUGH_MS or not words:
        return usual
    return min(max(round(words * MS_PER_MINUTE / spoken_ms), _SLOWEST), _FASTEST)


_ENOUGH_MS = 2 * MS_PER_MINUTE
_SLOWEST, _FASTEST = 60, 240


def with_clock(
    planned: Sequence[tuple[Correction, RoundupClip | None, tuple[tuple[str, Span], ...], tuple[Said, ...]]],
    words_per_minute: int,
) -> tuple[Item, ...]:
    """Lay the corrections out one after the other: each is shown, then told."""
    items: list[Item] = []
    clock = 0
    for record, clip, also, said in planned:
        shown_ms = clip.span.length_ms if clip else 0
        item = Item(record, clip, also, said, clock, shown_ms, told(said, words_per_minute))
        clock = item.ends_ms
        items.append(item)
    return tuple(items)
