"""The shape of `inserts.json`, key by key: the published schema is made from it.

Loaded only by the script that makes the schemas and by tests, never by a command.
"""

from __future__ import annotations

from typing import Annotated, Literal, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from reelnotes.model import CardPart, RecordKind, SignalWord
from reelnotes.write.contract import Seconds, SpanRecord

Frame = Annotated[
    int, Field(ge=0, description="frame of the programme, from 0; only where the rate is known")
]
Timecode = Annotated[str, Field(description="HH:MM:SS:FF, drop-frame with a semicolon before the frames")]


class CardRecord(TypedDict):
    """What stands in the picture at once; the end is not part of it."""

    part: CardPart
    lines: list[str]
    start_s: Seconds
    end_s: Seconds
    start_frame: NotRequired[Frame]
    end_frame: NotRequired[Frame]
    start_timecode: NotRequired[Timecode]
    end_timecode: NotRequired[Timecode]


class InsertRecord(TypedDict):
    """One showing of a correction, a caution or a disclosure: its cards, without a gap."""

    of: Annotated[str, Field(description="id of the record in the ledger")]
    kind: RecordKind
    signal: Annotated[SignalWord | None, Field(description="null: a disclosure, which is no hazard message")]
    alert_symbol: Annotated[bool, Field(description="never true with NOTICE")]
    span: Annotated[SpanRecord, Field(description="the place it speaks of")]
    returns: Annotated[bool, Field(description="a showing after the first, on a long place")]
    hold_s: Annotated[float, Field(ge=0, description="how long a frame must be held for it to be read")]
    cards: list[CardRecord]
    worked_out: Annotated[
        list[str],
        Field(description="what the record cites of the bench, worked out afresh; not on the cards"),
    ]


class InsertsRecord(TypedDict):
    """All inserts of one version of an episode, in order of time; no two stand at once."""

    schema: Literal["reelnotes/inserts-1"]
    episode: str
    version: Annotated[int, Field(ge=1, description="1 is as first published")]
    frame_rate: Annotated[str | None, Field(description="frames a second, as 25 or 30000/1001")]
    inserts: list[InsertRecord]
