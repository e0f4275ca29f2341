"""Facts told apart: coats against the clock, and joins over entries and speech."""

from __future__ import annotations

from datetime import date, time

import pytest

from reelnotes.model import Cue, Entry, Flag, ShelfItem, Step, StepSpan
from reelnotes.risk.coats import coats_of, hurried
from reelnotes.risk.reading import read_risks
from reelnotes.words.lexicon import load_lexicon


def log(*lines: str, day: int = 4) -> tuple[Entry, ...]:
    """`9:00 words` lines of one day; a line `+1` goes on to the next day."""
    entries: list[Entry] = []
    for line in lines:
        if line == "+1":
            day += 1
            continue
        clock, _, text = line.partition(" ")
        hours, minutes = clock.split(":")
        at = time(int(hours), int(minutes))
        entries.append(Entry(len(entries), text, len(entries) + 1, date(2026, 3, day), at))
    return tuple(entries)


def flags(
    entries: tuple[Entry, ...] = (),
    cues: tuple[Cue, ...] = (),
    shelf: tuple[ShelfItem, ...] = (),
    steps: tuple[Step, ...] = (),
) -> list[Flag]:
    found, problems = read_risks(entries, cues, steps, shelf, load_lexicon())
    assert problems == []
    return [flag for flag in found if flag.tier == "firm"]


def speech(*lines: str, each_ms: int = 6000) -> tuple[Cue, ...]:
    return tuple(Cue(i * each_ms, (i + 1) * each_ms, text, i + 1) for i, text in enumerate(lines))


BLUE = ShelfItem("Harbour blue furniture paint", kind="paint", notes="recoat 4 h", line=3)


@pytest.mark.parametrize(("second", "early"), [("12:30", True), ("12:50", False), ("13:00", False)])
def test_second_coat_by_the_clock(second: str, early: bool) -> None:
    """A coat after three and a half of four hours is early; within a quarter of an hour of them it is not."""
    entries = log("9:00 harbour blue coat 1, 200 ml", f"{second} harbour blue coat 2, 150 ml")
    assert bool(hurried(coats_of(entries, [BLUE]))) == early


def test_hours_in_the_entry_itself() -> None:
    """What the tin says, noted in the entry, counts without any shelf."""
    entries = log("10:00 primer ct 1", "11:00 primer ct 2. tin says 2 hrs")
    (case,) = hurried(coats_of(entries, []))
    assert (case.apart_h, case.wanted_h, case.own, case.said) == (1, 2, True, None)


def test_early_coat_is_a_flag_with_its_hours() -> None:
    """The flag says how long it was and how long it should have been, and names both entries."""
    entries = log("9:00 harbour blue coat 1, 200 ml", "10:30 harbour blue coat 2, 150 ml")
    (flag,) = [f for f in flags(entries, shelf=(BLUE,)) if f.topic == "finish-stack"]
    assert (flag.entry, flag.signal, flag.source) == (1, "NOTICE", None)
    assert "1 h 30 min" in flag.why
    assert "4 h" in flag.why
    assert "09:00, log entry 1" in flag.evidence[0]
    assert "(line 3 of the shelf: “recoat 4 h”)" in flag.why
    assert "common practice" in flag.caution


def test_coats_of_two_days_are_far_apart() -> None:
    """The day counts, not the time of day alone."""
    entries = log("16:00 harbour blue coat 1", "+1", "9:00 harbour blue coat 2")
    assert hurried(coats_of(entries, [BLUE])) == []


def test_log_without_a_clock_gives_no_hours() -> None:
    """Without times nothing is said about drying."""
    entries = (Entry(0, "harbour blue coat 1", 1), Entry(1, "harbour blue coat 2", 2))
    assert hurried(coats_of(entries, [BLUE])) == []


def test_other_product_over_an_oil_that_is_not_dry() -> None:
    """Varnish sixteen hours after an oil that wants three days before any other product."""
    oil = ShelfItem("Deck oil", kind="oil", notes="next coat 24 h; 72 h before any other product")
    varnish = ShelfItem("Clear varnish", kind="other")
    entries = log("16:00 deck oil, all slats", "+1", "8:00 clear varnish on the arms")
    (case,) = hurried(coats_of(entries, [oil, varnish]))
    assert (case.apart_h, case.wanted_h, case.own) == (16, 72, False)
    late = log("16:00 deck oil, all slats", "+1", "+1", "+1", "16:00 clear varnish on the arms")
    assert hurried(coats_of(late, [oil, varnish])) == []


def test_bleach_after_acid_and_no_rinse() -> None:
    """Bleach after oxalic acid is a flag, with both entries as evidence; a rinse between takes it back."""
    entries = log("9:00 oxalic on ring, brushed on", "9:30 bleach on the black spot, neat")
    (flag,) = [f for f in flags(entries) if f.topic == "chemical-mix"]
    assert flag.entry == 1
    assert any("oxalic (log entry 1)" in line for line in flag.evidence)
    rinsed = log(
        "9:00 oxalic on ring, brushed on", "9:15 rinsed off, dried", "9:30 bleach on the black spot, neat"
    )
    assert [f for f in flags(rinsed) if f.topic == "chemical-mix" and f.why.startswith("Chlorine")] == []


def test_bleach_the_week_after_acid() -> None:
    """The hours of a join count: a day later nothing is joined."""
    entries = log("9:00 oxalic on ring, brushed on", "+1", "9:30 bleach on the black spot, neat")
    assert not any(f.why.startswith("Chlorine") for f in flags(entries))


def test_shellac_over_the_part_that_was_waxed() -> None:
    """Shellac over the waxed part is a flag; over another part it is not."""
    entries = log("9:00 beeswax on lid to see colour", "14:00 first rubber shellac on lid")
    assert any("do not stick to wax" in f.why for f in flags(entries))
    other = log("9:00 beeswax on lid to see colour", "14:00 first rubber shellac on doors")
    assert not any("do not stick to wax" in f.why for f in flags(other))


def test_all_over_takes_in_every_part() -> None:
    """A coat all over also goes over the part that was waxed."""
    entries = log("9:00 beeswax on shelves", "+1", "14:00 first coat paint all over")
    assert any("do not stick to wax" in f.why for f in flags(entries))


def test_layer_that_tested_positive_is_sanded_later() -> None:
    """Sanding the colour that the test showed to hold lead is a flag however far apart it is told."""
    entries = log("9:00 lead swab on the brown = red", "+1", "14:00 last of brown sanded out, 120")
    found = [f for f in flags(entries) if f.topic == "old-paint" and f.entry == 1]
    assert [f.why for f in found] == [
        "The layer that was sanded or heated here is the one that the test showed to hold lead."
    ]
    clear = log("9:00 lead swab on the brown, all clear", "+1", "14:00 last of brown sanded out, 120")
    assert not any(f.why.startswith("The layer") for f in flags(clear))


def test_solid_top_told_earlier_and_glued_all_round() -> None:
    """That the top is solid is told in one entry, that it was glued all round in another."""
    entries = log("9:00 top: three boards solid elm", "14:00 top on, glued all round, clamps")
    assert any("solid wood" in f.why for f in flags(entries))
    sheet = log("9:00 top: solid core, birch ply", "14:00 top on, glued all round, clamps")
    assert not any("solid wood" in f.why for f in flags(sheet))


def test_bracket_bought_and_not_fitted() -> None:
    """A wall bracket bought on one day and still in the bag on another."""
    entries = log("9:00 two wall brackets 4.20", "+1", "16:00 stood in bedroom, brackets still in the bag")
    assert any("bought and never fitted" in f.why for f in flags(entries))


def test_acid_then_bleach_in_speech() -> None:
    """Speech is joined too, over cues that stand between."""
    cues = speech(
        "so that's the oxalic acid brushed on all over the slats",
        "and I stood there for a bit and talked to the neighbour",
        "the black spots didn't shift so I went straight in with the bleach on top",
    )
    (flag,) = [f for f in flags(cues=cues) if f.topic == "chemical-mix"]
    assert flag.start_ms is not None
    assert flag.end_ms == 18000


def test_joined_place_of_the_log_has_the_time_of_its_step() -> None:
    """Where the step is told, the flag of its log entry stands at that time."""
    entries = log("9:00 harbour blue coat 1, 200 ml", "10:30 harbour blue coat 2, 150 ml")
    step = Step("s", 1, entries[1].text, 0.9, (StepSpan(30_000, 40_000, 0.9, "words"),))
    (flag,) = [f for f in flags(entries, shelf=(BLUE,), steps=(step,)) if f.topic == "finish-stack"]
    assert (flag.entry, flag.start_ms, flag.end_ms) == (1, 30_000, 40_000)
