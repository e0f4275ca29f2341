"""The shape of `version.toml`, key by key: the published schema is made from it.

Loaded only by the script that makes the schemas and by tests, never by a command.
"""

from __future__ import annotations

from datetime import date
from typing import Annotated, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from reelnotes.write.contract import SpanWords, TimeWords


class TakenTable(TypedDict):
    """A span that is taken over, in the time of the version it comes from."""

    taken: SpanWords


HeldTable = TypedDict(
    "HeldTable",
    {
        "held": Annotated[TimeWords, Field(description="where the programme stands still")],
        "for": Annotated[TimeWords, Field(description="how long the frame is held")],
    },
)


class VersionTable(TypedDict):
    """How a version was made: its pieces in their order; what none of them takes was cut."""

    of: NotRequired[Annotated[int, Field(ge=1, description="the earlier version it was made from; else 1")]]
    of_length: Annotated[TimeWords, Field(description="how long that version was")]
    made: NotRequired[date]
    piece: Annotated[list[TakenTable | HeldTable], Field(min_length=1)]
