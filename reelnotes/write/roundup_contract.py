"""The shape of `roundup.json`, key by key: the published schema is made from it.

Loaded only by the script that makes the schemas and by tests, never by a command.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field
from typing_extensions import TypedDict

from reelnotes.model import SignalWord
from reelnotes.write.contract import Seconds, SpanRecord


class PlaceRecord(TypedDict):
    """Another place that shows the same."""

    episode: str
    start_s: Seconds
    end_s: Seconds


class SaidRecord(TypedDict):
    """A paragraph to be said."""

    part: Literal["happened", "wrong", "shown by", "instead", "careful"]
    text: str


class RoundupItemRecord(TypedDict):
    """One correction: its clip in the source episode, what is said, and the running clock in seconds."""

    id: Annotated[str, Field(description="id of the record in the ledger")]
    signal: SignalWord
    topic: Annotated[str | None, Field(description="in words")]
    title: str
    episode: Annotated[str | None, Field(description="null: nothing shows it any more")]
    version: Annotated[int, Field(ge=1, description="the version of the episode that is out now")]
    clip: SpanRecord | None
    with_handles: SpanRecord | None
    link: Annotated[str | None, Field(description="published address of the moment")]
    also: list[PlaceRecord]
    said: list[SaidRecord]
    starts_s: Seconds
    clip_s: Seconds
    talk_s: Seconds


class RoundupRecord(TypedDict):
    """A roundup: its corrections in their running order."""

    schema: Literal["reelnotes/roundup-1"]
    day: Annotated[str, Field(description="ISO 8601 date")]
    length_s: Seconds
    words_per_minute: Annotated[int, Field(ge=60, le=240)]
    own_pace: Annotated[bool, Field(description="the pace was measured in the transcripts")]
    items: list[RoundupItemRecord]
