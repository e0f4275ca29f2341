"""The shapes of `draft.json` and `kept.toml`, key by key: the published schemas are made from them.

Loaded only by the script that makes the schemas, by the type checker and by tests, never by a command.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Literal, NotRequired

from pydantic import Field, WithJsonSchema
from typing_extensions import TypedDict

from reelnotes.model import ChapterOrigin, Evidence, FlagTopic, OutlayKind, PromiseKind, SignalWord, Tier
from reelnotes.problems import Severity

Seconds = Annotated[float, Field(ge=0, description="programme time in seconds, whole milliseconds")]
Probability = Annotated[float, Field(ge=0, le=1, description="probability, 0 to 1")]
EntryNumber = Annotated[int, Field(ge=0, description="index of the shop log's entry, from 0")]
Amount = Annotated[Decimal, WithJsonSchema({"type": "number", "minimum": 0})]
Money = Annotated[
    Decimal, WithJsonSchema({"type": "number", "description": "money, written with two decimals"})
]


class ClockOffsetRecord(TypedDict):
    """The camera's clock minus the log's, whole seconds: an interval and its best value."""

    low: int
    best: int
    high: int


class SpanRecord(TypedDict):
    """A span of programme time."""

    start_s: Seconds
    end_s: Seconds


class StepSpanRecord(SpanRecord):
    """A span where a step is told or shown."""

    confidence: Probability
    evidence: Evidence


class StepRecord(TypedDict):
    """One entry of the shop log with its spans, best first; no spans means off camera."""

    id: str
    entry: EntryNumber
    logged_at: Annotated[str | None, Field(description="wall-clock time of the note, as logged")]
    text: str
    told: Annotated[float, Field(ge=0, le=1, description="probability that it is told in the video at all")]
    spans: list[StepSpanRecord]


ChapterRecord = TypedDict("ChapterRecord", {"start_s": Seconds, "title": str, "from": ChapterOrigin})


class MaterialRecord(TypedDict):
    """What the episode used of a product, coats added up, with the cost of that part."""

    name: str
    amount: Amount | None
    unit: str | None
    cost: Money | None
    currency: str
    kind: str
    said_at_s: Seconds | None
    entries: list[EntryNumber]
    given: Annotated[bool, Field(description="given to the workshop: owes a disclosure")]


class SpokenOnlyRecord(TypedDict):
    """A product that was spoken of and not used."""

    name: str
    said_at_s: Seconds


class PromiseRecord(TypedDict):
    """What was said would be found or told elsewhere."""

    said_at_s: Seconds
    quote: str
    kind: PromiseKind
    kept_at_s: Seconds | None


class FlagRecord(TypedDict):
    """A place that a careful reader would want looked at before publishing."""

    id: str
    topic: FlagTopic
    signal: SignalWord
    tier: Annotated[Tier, Field(description="firm, or merely worth a look")]
    start_s: Seconds | None
    end_s: Seconds | None
    entry: EntryNumber | None
    quote: str
    why: str
    caution: str
    source: Annotated[str | None, Field(description="null: common practice, no published source")]
    evidence: list[str]
    places: Annotated[list[SpanRecord], Field(description="further places of the same kind of lapse")]


class DismissedRecord(FlagRecord):
    """A flag put aside by hand."""

    reason: str


class ProblemRecord(TypedDict):
    """Something found wrong with what was given, with its place."""

    code: str
    severity: Severity
    file: str
    line: Annotated[int | None, Field(description="line of the file, from 1")]
    message: str
    excerpt: str


class PurchaseRecord(TypedDict):
    """A price noted in the log; `counts` tells whether it is held against the budget."""

    name: str
    price: Money | None
    entry: Annotated[int, Field(ge=0)]
    kind: OutlayKind
    counts: bool


class DraftRecord(TypedDict):
    """All that is drafted for one episode."""

    schema: Literal["reelnotes/draft-1"]
    episode: Annotated[str, Field(description="name of the episode's folder")]
    title: str
    published: Annotated[str | None, Field(description="day of publishing, ISO 8601")]
    duration_s: Seconds
    clock_offset_s: ClockOffsetRecord | None
    steps: list[StepRecord]
    chapters: list[ChapterRecord]
    materials: list[MaterialRecord]
    spoken_only: list[SpokenOnlyRecord]
    unlisted: Annotated[
        list[str], Field(description="names that look like products and are not on the shelf")
    ]
    total_cost: Money | None
    budget: Money | None
    spent: Annotated[Money | None, Field(description="what the log says was paid, as far as it counts")]
    bought: list[PurchaseRecord]
    currency: str
    promises: list[PromiseRecord]
    flags: list[FlagRecord]
    dismissed: list[DismissedRecord]
    problems: list[ProblemRecord]
    inputs: Annotated[
        dict[str, str], Field(description="the files it was made from, each with the SHA-256 of its bytes")
    ]


# --- kept.toml ---------------------------------------------------------------------------------------

SpanWords = Annotated[str, Field(pattern=r"^\s*[\d:.]+\s*[-–]\s*[\d:.]+\s*$", examples=["9:12-9:41"])]
TimeWords = Annotated[str | float, Field(examples=["9:12", "1:02:03", 552.5])]


class PinTable(TypedDict):
    """A step placed by hand: where it is told or shown, best span first, or off camera."""

    step: Annotated[str, Field(description="id of the step, as draft.json gives it")]
    spans: NotRequired[list[SpanWords] | SpanWords]
    off_camera: NotRequired[bool]


class ChapterTable(TypedDict):
    """A chapter set by hand: renamed or added with a title, or taken out with `gone`."""

    at: TimeWords
    title: NotRequired[str]
    gone: NotRequired[bool]


class DismissTable(TypedDict):
    """A flag put aside, with the reason."""

    flag: Annotated[str, Field(description="id of the flag, as draft.json gives it")]
    reason: Annotated[str, Field(min_length=1)]


class KeptTables(TypedDict):
    """`kept.toml`: the decisions made by hand; they outlive every redraft."""

    pin: NotRequired[list[PinTable]]
    chapter: NotRequired[list[ChapterTable]]
    dismiss: NotRequired[list[DismissTable]]
