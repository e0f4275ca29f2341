"""What an episode is made of, one class a term (docs/glossary.md). Frozen: steps make new facts, never edit.

Plain dataclasses: they cost nothing to import; pydantic checks what comes from outside and makes the
published schemas from them.
"""

from __future__ import annotations

from dataclasses import field
from datetime import date, datetime, time
from decimal import Decimal
from fractions import Fraction
from hashlib import sha1
from typing import Literal

from reelnotes.problems import Problem
from reelnotes.records import frozen
from reelnotes.timing import Span

Evidence = Literal["words", "footage", "both", "pinned"]
ChapterOrigin = Literal["steps", "speech", "kept"]
OutlayKind = Literal["material", "piece", "help", "travel", "food", "tool", "earned"]
PromiseKind = Literal["link", "later", "ask"]
SignalWord = Literal["DANGER", "WARNING", "CAUTION", "NOTICE"]
Tier = Literal["firm", "look"]
Topic = Literal[
    "live-tool", "loose-work", "missing-guard", "old-paint", "dust", "fumes", "rag-fire", "ignition",
    "chemical-mix", "eyes-ears", "tip-over", "mains", "wood-movement", "finish-stack", "blind-fit",
]  # fmt: skip

#: What a flag can be about: a hazard, or a given product that is named and not disclosed.
FlagTopic = Topic | Literal["disclosure"]

#: Worst first (ANSI Z535.4): the order in which flags are worked through.
SIGNAL_ORDER: tuple[SignalWord, ...] = ("DANGER", "WARNING", "CAUTION", "NOTICE")

#: Worst first among equal signal words: what a viewer could die of, then what maims, then what harms.
HARM_ORDER: tuple[Topic, ...] = (
    "mains", "chemical-mix", "tip-over", "rag-fire", "ignition", "fumes", "old-paint", "missing-guard",
    "live-tool", "loose-work", "eyes-ears", "dust", "finish-stack", "wood-movement", "blind-fit",
)  # fmt: skip


#: How a caution ends where somebody can be hurt, and where no published source stands behind it.
DEFERS = "Local codes, the label and licensed practice come first."
COMMON_PRACTICE = "This is common practice; no published source is cited."


# --- what is read ----------------------------------------------------------------------------------


@frozen
class Entry:
    """One entry of the shop log. `day` and `at` are None where the log does not say."""

    index: int
    text: str
    line: int
    day: date | None = None
    at: time | None = None

    @property
    def logged_at(self) -> datetime | None:
        """Wall-clock time of the note, if day and time are both known."""
        return datetime.combine(self.day, self.at) if self.day and self.at else None


@frozen
class Cue:
    """A piece of speech with its place in programme time; `text` is one line, markup taken out."""

    start_ms: int
    end_ms: int
    text: str
    line: int


@frozen
class ShelfItem:
    """A product the workshop stocks: `price` buys one pack of `pack` `unit`s."""

    name: str
    pack: Decimal | None = None
    unit: str = ""
    price: Decimal | None = None
    kind: str = ""
    notes: str = ""
    given: str = ""
    cautions: str = ""
    line: int = 0


@frozen
class Clip:
    """A camera file with the camera clock's time of its first frame."""

    name: str
    start: datetime
    duration_ms: int


@frozen
class CutEvent:
    """One event of the cut list: what stands at `record` in the programme.

    `clip` is None for black and for what no clip names; `source` is time within the clip, from its first
    frame; `speed` is programme speed (1 is as filmed, 0 a held frame, negative backwards).
    """

    number: str
    clip: str | None
    record: Span
    source: Span | None
    track: Literal["video", "audio", "both"] = "video"
    speed: Fraction = Fraction(1)


# --- what is drafted -------------------------------------------------------------------------------


@frozen
class StepSpan:
    """A span where a step is told or shown, with the probability that it is the right place."""

    start_ms: int
    end_ms: int
    confidence: float
    evidence: Evidence


@frozen
class Step:
    """An entry with the spans where it is told or shown, best first; none means off camera.

    `told` is the probability that it is told in the video at all.
    """

    id: str
    entry: int
    text: str
    told: float
    spans: tuple[StepSpan, ...] = ()
    logged_at: str | None = None


@frozen
class ClockOffset:
    """The camera's clock minus the log's, whole seconds, as an interval with its best value."""

    low_s: int
    best_s: int
    high_s: int


@frozen
class Chapter:
    """A start and a title."""

    start_ms: int
    title: str
    origin: ChapterOrigin = "steps"


@frozen
class Material:
    """What an episode used of a product, coats added up, with the cost of that part."""

    name: str
    amount: Decimal | None = None
    unit: str | None = None
    cost: Decimal | None = None
    currency: str = ""
    kind: str = ""
    said_at_ms: int | None = None
    entries: tuple[int, ...] = ()
    given: bool = False


@frozen
class SpokenOnly:
    """A product that was spoken of and not used."""

    name: str
    said_at_ms: int


@frozen
class Purchase:
    """A price noted in the log, with the words it stands beside and what kind of outlay it is."""

    name: str
    price: Decimal
    entry: int
    kind: OutlayKind = "material"

    @property
    def counts(self) -> bool:
        """Tell whether it counts against the budget: food, tools and what was earned do not."""
        return self.kind not in {"food", "tool", "earned"}


@frozen
class Spending:
    """The list of materials, with what it adds up to and what was only spoken of.

    `total` is the cost of the parts used, None where no cost is known. `unlisted` are names in log or speech
    that look like products and are not on the shelf. `bought` are the prices noted in the log.
    """

    materials: tuple[Material, ...] = ()
    spoken_only: tuple[SpokenOnly, ...] = ()
    total: Decimal | None = None
    budget: Decimal | None = None
    unlisted: tuple[str, ...] = ()
    bought: tuple[Purchase, ...] = ()

    @property
    def spent(self) -> Decimal:
        """What the log says was paid for this piece, as far as it counts against the budget."""
        return sum((purchase.price for purchase in self.bought if purchase.counts), Decimal(0))

    @property
    def against_budget(self) -> Decimal | None:
        """What is held against the budget: what was paid where the log says so, else the parts used.

        The two are not added up: what was bought for the piece often stands on the shelf as well.
        """
        return self.spent if any(purchase.counts for purchase in self.bought) else self.total

    @property
    def over_budget(self) -> bool:
        """Tell whether it cost more than the budget allows."""
        against = self.against_budget
        return against is not None and self.budget is not None and against > self.budget


@frozen
class Promise:
    """What the maker said would be found or told elsewhere."""

    said_at_ms: int
    quote: str
    kind: PromiseKind
    kept_at_ms: int | None = None


@frozen
class Flag:
    """A place that a careful reader would want looked at before publishing.

    `start_ms`/`end_ms` are None for a place that is only in the log, `entry` for one only in speech.
    `source` is None where the caution is common practice. `evidence` are the words that raised it and where
    they stand. `places` are further spans of the same kind of lapse, the first one left out.
    """

    id: str
    topic: FlagTopic
    signal: SignalWord
    start_ms: int | None
    end_ms: int | None
    entry: int | None
    quote: str
    why: str
    caution: str
    source: str | None = None
    evidence: tuple[str, ...] = ()
    tier: Tier = "firm"
    places: tuple[Span, ...] = ()


# --- what is decided by hand -----------------------------------------------------------------------


@frozen
class Pin:
    """A step placed by hand; no spans means: off camera."""

    step: str
    spans: tuple[Span, ...] = ()


@frozen
class KeptChapter:
    """A chapter set by hand: added or renamed at `start_ms`, or taken out (`gone`)."""

    start_ms: int
    title: str = ""
    gone: bool = False


@frozen
class Dismissal:
    """A flag put aside by hand, with the reason; it comes back only when its words change."""

    flag: str
    reason: str


@frozen
class Kept:
    """All decisions made by hand for one episode."""

    pins: tuple[Pin, ...] = ()
    chapters: tuple[KeptChapter, ...] = ()
    dismissed: tuple[Dismissal, ...] = ()


# --- corrections -----------------------------------------------------------------------------------

RecordKind = Literal["correction", "caution", "disclosure"]
ReachPlace = Literal["in-picture", "caption-track", "description", "pinned-note", "roundup"]
CardPart = Literal["wrong", "happens", "instead", "given"]


@frozen
class Place:
    """Where a mistake stands: `span` is in the time of that `version` of the episode (1: as first published).

    `gone_in` are the later versions from which it was taken out.
    """

    episode: str
    version: int
    span: Span
    gone_in: tuple[int, ...] = ()


@frozen
class Reach:
    """Where a correction has been published, for which episode, and on which day."""

    where: ReachPlace
    episode: str
    on: date


@frozen
class Correction:
    """A record of the ledger: what was shown, why it is wrong, what to do instead, and where it stands.

    `kind` tells a later retraction (`correction`) from a caution given before publishing (made from the flag
    with the id `flag`) and from the disclosure of a given product, whose `signal` counts for nothing.
    `evidence` are bench computations and the like, `sources` what is cited. `history` has a line for each
    thing done, its date first. `recorded` is None where a hand-written record does not say. `worked_out` are
    the answers of the bench computations that are cited, as they come out today; no file holds them.
    """

    id: str
    shown: str
    wrong: str
    instead: str
    signal: SignalWord
    topic: Topic | None = None
    places: tuple[Place, ...] = ()
    evidence: tuple[str, ...] = ()
    reach: tuple[Reach, ...] = ()
    history: tuple[str, ...] = ()
    kind: RecordKind = "correction"
    sources: tuple[str, ...] = ()
    flag: str = ""
    recorded: date | None = None
    worked_out: tuple[str, ...] = ()


@frozen
class Card:
    """What stands in the picture at once: lines of text under a signal word, on whole frames.

    `of` is the id of the correction; `part` tells which of its words these are. A disclosure has no signal
    word. The end is not part of it.
    """

    lines: tuple[str, ...]
    signal: SignalWord | None
    start_ms: int
    end_ms: int
    of: str
    part: CardPart = "wrong"

    @property
    def alert_symbol(self) -> bool:
        """Tell whether the alert symbol belongs beside the signal word: never with NOTICE (ANSI Z535.4)."""
        return self.signal is not None and self.signal != "NOTICE"


@frozen
class Insert:
    """One showing of a correction, a caution or a disclosure: its cards, one after the other without a gap.

    `span` is the place it speaks of, in the time of the version it is made for. `returns` marks the showings
    after the first on a long span. `hold_ms` is how long a held frame at the end of the span is asked for,
    because the cards cannot be read in the time there is; 0 where none is.
    """

    of: str
    kind: RecordKind
    signal: SignalWord | None
    span: Span
    cards: tuple[Card, ...]
    returns: bool = False
    hold_ms: int = 0

    @property
    def start_ms(self) -> int:
        """Start of its first card."""
        return self.cards[0].start_ms

    @property
    def end_ms(self) -> int:
        """End of its last card; not part of it."""
        return self.cards[-1].end_ms


# --- what viewers say ------------------------------------------------------------------------------


@frozen
class Comment:
    """What a viewer wrote, and when; nothing of who it was. `number` counts from 1 as the file has them."""

    number: int
    text: str
    line: int
    written: datetime | None = None


# --- versions --------------------------------------------------------------------------------------


@frozen
class TakenSpan:
    """A span that a version takes over from the one it was made from, in that one's time."""

    span: Span


@frozen
class HeldFrame:
    """A frame held for `length_ms` at `at_ms`, the time at which the programme stands still meanwhile."""

    at_ms: int
    length_ms: int


@frozen
class Version:
    """A re-edit of a published episode: what it takes over from version `of`, and where a frame is held.

    Numbers count from 1, which is as first published. `pieces` stand in the order of the new version, their
    times are those of version `of`, which was `of_length_ms` long. `made` is the day, if known.
    """

    number: int
    of: int
    of_length_ms: int
    pieces: tuple[TakenSpan | HeldFrame, ...]
    made: date | None = None


# --- the whole -------------------------------------------------------------------------------------


@frozen
class Draft:
    """All that is drafted for one episode: the contract behind every output form.

    `inputs` are the names of the files it was made from, each with the SHA-256 of its bytes.
    """

    episode: str
    title: str
    duration_ms: int
    currency: str = ""
    published: date | None = None
    entries: tuple[Entry, ...] = ()
    cues: tuple[Cue, ...] = ()
    clock_offset: ClockOffset | None = None
    steps: tuple[Step, ...] = ()
    chapters: tuple[Chapter, ...] = ()
    spending: Spending = field(default_factory=Spending)
    promises: tuple[Promise, ...] = ()
    flags: tuple[Flag, ...] = ()
    dismissed: tuple[tuple[Flag, str], ...] = ()
    problems: tuple[Problem, ...] = ()
    inputs: tuple[tuple[str, str], ...] = ()


def worst_first(flag: Flag) -> tuple[int, int, int, int]:
    """Sort key of flags: firm ones first, then by signal word, by what a viewer could suffer, by time."""
    harm = HARM_ORDER.index(flag.topic) if flag.topic != "disclosure" else len(HARM_ORDER)
    at_ms = flag.start_ms if flag.start_ms is not None else 0
    return flag.tier == "look", SIGNAL_ORDER.index(flag.signal), harm, at_ms


def stable_id(*words: str) -> str:
    """Give an id that depends on the words alone, so that it outlives every redraft.

    Case and white space do not count. Eight hexadecimal digits: among 1,000 records the chance that any
    two share one is about 1 in 8,600.
    """
    plain = "\n".join(" ".join(word.casefold().split()) for word in words)
    return sha1(plain.encode(), usedforsecurity=False).hexdigest()[:8]


def step_ids(entries: tuple[Entry, ...]) -> tuple[str, ...]:
    """Give each entry the id of its step: from its time and words, twins told apart by their order."""
    seen: dict[str, int] = {}
    ids = []
    for entry in entries:
        plain = stable_id(
            entry.day.isoformat() if entry.day else "", entry.at.isoformat() if entry.at else "", entry.text
        )
        seen[plain] = seen.get(plain, 0) + 1
        ids.append(plain if seen[plain] == 1 else f"{plain}-{seen[plain]}")
    return tuple(ids)
