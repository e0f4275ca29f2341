"""A small draft made by hand, with something of everything that a draft can hold."""

from __future__ import annotations

from datetime import date, time
from decimal import Decimal

import pytest

from reelnotes.model import (
    Chapter,
    ClockOffset,
    Cue,
    Draft,
    Entry,
    Flag,
    Material,
    Promise,
    Spending,
    SpokenOnly,
    Step,
    StepSpan,
)
from reelnotes.problems import Problem
from reelnotes.timing import Span

DAY = date(2026, 5, 11)
ENTRIES = (
    Entry(0, "stool on the bench, seat loose", 2, DAY, time(9, 5)),
    Entry(1, "- old glue off w/ hot water | scraper", 3, DAY, time(9, 40)),
    Entry(2, "kettle, post", 4, DAY, time(10, 30)),
    Entry(3, "=> oil on, rag on the pile", 6, DAY, time(14, 20)),
)
STEPS = (
    Step(
        "aaaa0001", 0, ENTRIES[0].text, 0.97, (StepSpan(4_000, 31_500, 0.912, "both"),), "2026-05-11T09:05:00"
    ),
    Step(
        "aaaa0002",
        1,
        ENTRIES[1].text,
        0.8125,
        (StepSpan(35_040, 71_000, 0.75, "words"), StepSpan(98_000, 101_250, 0.4, "words")),
        "2026-05-11T09:40:00",
    ),
    Step("aaaa0003", 2, ENTRIES[2].text, 0.0213, (), "2026-05-11T10:30:00"),
    Step(
        "aaaa0004", 3, ENTRIES[3].text, 1.0, (StepSpan(80_000, 97_999, 1.0, "pinned"),), "2026-05-11T14:20:00"
    ),
)
RAGS = Flag(
    id="f1a90001",
    topic="rag-fire",
    signal="WARNING",
    start_ms=90_000,
    end_ms=94_500,
    entry=3,
    quote="and the rag just goes on the pile in the corner",
    why="A heap of rags wet with drying oil can heat up and take fire by itself.",
    caution="Hang oily rags out singly outdoors, or keep them in water in a closed metal can.",
    source="NFPA tip sheet on oily rags (2017)",
    evidence=("entry 4: rag on the pile", "1:30: on the pile in the corner"),
    places=(Span(99_000, 100_500),),
)
STRIP = Flag(
    id="f1a90002",
    topic="dust",
    signal="CAUTION",
    start_ms=36_000,
    end_ms=37_000,
    entry=None,
    quote="blow it off * and <carry> on",
    why="Dust is blown into the air that is breathed.",
    caution="Take dust off with a vacuum cleaner or a damp cloth.",
    tier="look",
)
LOGGED = Flag(
    id="f1a90003",
    topic="eyes-ears",
    signal="CAUTION",
    start_ms=None,
    end_ms=None,
    entry=1,
    quote="old glue off",
    why="Chips fly when old glue is levered off.",
    caution="Wear eye protection.",
)
PUT_ASIDE = Flag(
    id="f1a90004",
    topic="mains",
    signal="DANGER",
    start_ms=12_000,
    end_ms=13_000,
    entry=None,
    quote="that lamp is only a prop",
    why="Work on a lamp that is plugged in.",
    caution="Pull the plug first.",
)


@pytest.fixture
def draft() -> Draft:
    """Give the draft of a stool: three tellings, one of them risky, and one thing that is owed."""
    return Draft(
        episode="loose-stool",
        title="A loose stool & its <seat>",
        duration_ms=110_000,
        currency="GBP",
        published=date(2026, 5, 22),
        entries=ENTRIES,
        cues=(Cue(4_000, 9_000, "This is the stool.", 1), Cue(90_000, 94_500, RAGS.quote, 5)),
        clock_offset=ClockOffset(190, 232, 260),
        steps=STEPS,
        chapters=(
            Chapter(0, "The stool"),
            Chapter(35_040, "Old glue --> off; = #1 \\ done"),
            Chapter(80_000, "Öl & a rag", "kept"),
        ),
        spending=Spending(
            materials=(
                Material(
                    "Reed | linseed oil", Decimal(150), "ml", Decimal("4.8"), "GBP", "oil", 81_000, (3,)
                ),
                Material("=Best cloth", None, None, None, "", "", None, (1, 3), given=True),
                Material("Bone folder", Decimal(1), "pcs", Decimal("7.00"), "GBP", "tool", 40_000, (1,)),
            ),
            spoken_only=(SpokenOnly("Hide glue", 60_250),),
            total=Decimal("11.80"),
            budget=Decimal(20),
            unlisted=("moon paste",),
        ),
        promises=(
            Promise(62_000, "I'll put the drawing in the description", "link"),
            Promise(64_000, "more about that next week", "later", 100_000),
        ),
        flags=(LOGGED, STRIP, RAGS),
        dismissed=((PUT_ASIDE, "It is a prop without a cable."),),
        problems=(Problem("log-order", "an entry goes back in time", "shop-log.txt", 6, "14:20 oil on"),),
    )
