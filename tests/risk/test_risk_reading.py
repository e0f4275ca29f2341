"""Reading an episode: across cues, in log and speech together, sorted, explained, always the same."""

from __future__ import annotations

import csv
import json
import re
from datetime import date, time
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from reelnotes.model import DEFERS, SIGNAL_ORDER, Cue, Entry, Flag, ShelfItem, Step, StepSpan
from reelnotes.risk.flags import ONLY_A_LOOK
from reelnotes.risk.reading import read_risks
from reelnotes.risk.speech import WINDOW_WORDS, bounds, log_run, speech_run, windows
from reelnotes.words.lexicon import load_lexicon

CASES = Path(__file__).resolve().parents[3] / "shared" / "cases"
DAY = date(2026, 3, 4)


def cues_of(*lines: str, each_ms: int = 5000, from_ms: int = 0) -> tuple[Cue, ...]:
    return tuple(
        Cue(from_ms + i * each_ms, from_ms + (i + 1) * each_ms, text, i + 1) for i, text in enumerate(lines)
    )


def entries_of(*lines: str) -> tuple[Entry, ...]:
    return tuple(Entry(i, text, i + 1, DAY, time(9 + i)) for i, text in enumerate(lines))


def read(
    cues: tuple[Cue, ...] = (), entries: tuple[Entry, ...] = (), steps: tuple[Step, ...] = ()
) -> tuple[Flag, ...]:
    flags, problems = read_risks(entries, cues, steps, (), load_lexicon())
    assert problems == []
    return flags


RAGS = ("so that's the danish oil on and wiped", "and the oily rags got balled up", "and stuffed in the bin")


def test_lapse_told_over_three_cues_is_one_flag() -> None:
    """A clause may run over cue borders, without any punctuation."""
    found = [f for f in read(cues_of(*RAGS)) if f.topic == "rag-fire"]
    assert len(found) == 1
    assert found[0].tier == "firm"
    assert (found[0].end_ms or 0) > 10_000


def test_quote_stands_in_the_transcript() -> None:
    """The quoted words are found in the cues as they stand, joined by single spaces."""
    cues = cues_of("Anyway. The oily rags got stuffed in", "the bin, all of them! And then tea.")
    (flag,) = [f for f in read(cues) if f.topic == "rag-fire"]
    assert flag.quote in " ".join(cue.text for cue in cues)
    assert "oily rags" in flag.quote


def test_log_and_speech_of_one_step_are_one_flag() -> None:
    """The same lapse in the entry and in the speech of its step is one flag with both places."""
    entries = entries_of("oiled lid", "oily rags in bin")
    step = Step("a", 1, entries[1].text, 0.9, (StepSpan(0, 15_000, 0.9, "words"),))
    (flag,) = [f for f in read(cues_of(*RAGS), entries, (step,)) if f.topic == "rag-fire"]
    assert flag.entry == 1
    assert flag.start_ms is not None
    apart = [f for f in read(cues_of(*RAGS), entries) if f.topic == "rag-fire"]
    assert sorted((f.entry is None, f.start_ms is None) for f in apart) == [(False, True), (True, False)]


def test_lapses_minutes_apart_are_two_flags() -> None:
    """The same kind of lapse minutes later is a flag of its own; seconds later it is one with places."""
    far = (*cues_of(*RAGS), *cues_of(*RAGS, from_ms=300_000))
    assert len([f for f in read(far) if f.topic == "rag-fire"]) == 2
    near = (*cues_of(*RAGS), *cues_of(*RAGS, from_ms=27_000))
    (flag,) = [f for f in read(near) if f.topic == "rag-fire"]
    assert len(flag.places) == 1
    assert flag.end_ms == 42_000


def test_flags_are_sorted_by_what_a_viewer_could_suffer() -> None:
    """Worse signal words first; damage to the piece comes after harm to people."""
    flags = read(
        cues_of(
            "I drilled the holes off the packet and never measured the handle",
            "then lunch and a sit down in the sun for a bit",
            "later on the lamp: I joined the wires with the power still on, got a shock off it",
            "and then I tidied up and went home and fed the hens",
            *RAGS,
            each_ms=25_000,
        )
    )
    order = [SIGNAL_ORDER.index(f.signal) for f in flags]
    assert order == sorted(order)
    assert flags[0].topic == "mains"
    assert flags[0].signal == "DANGER"
    assert flags[-1].signal == "NOTICE"


def test_each_flag_explains_itself() -> None:
    """Every flag has a reason, a caution that defers to local codes, and words with their place."""
    for flag in read(cues_of(*RAGS), entries_of("sanded rosewood, no mask")):
        assert flag.caution.endswith(DEFERS)
        assert flag.why.startswith(ONLY_A_LOOK) == (flag.tier == "look")
        assert (flag.source is None) == ("common practice" in flag.caution)
        assert re.match(r"(\d+:\d\d|log entry \d+): “", flag.evidence[0])


def test_rule_says_what_would_have_taken_it_back() -> None:
    """Where a rule raised the flag, the evidence ends with what would have taken it back."""
    (flag,) = [f for f in read(cues_of(*RAGS)) if f.topic == "rag-fire"]
    assert flag.evidence[-1].startswith("would have taken it back: ")


def test_id_depends_on_the_words_alone() -> None:
    """The same words later in another cut have the same id; other words have another."""
    ids = {f.id for f in read(cues_of(*RAGS)) if f.topic == "rag-fire"}
    moved = {f.id for f in read(cues_of(*RAGS, from_ms=60_000)) if f.topic == "rag-fire"}
    other = {f.id for f in read(cues_of(*RAGS[:2], "and shoved in the bin")) if f.topic == "rag-fire"}
    assert ids == moved
    assert ids != other


def test_reading_is_the_same_twice() -> None:
    """Nothing depends on chance, on the order of sets, or on what was read before."""
    assert read(cues_of(*RAGS), entries_of("rags in bin")) == read(cues_of(*RAGS), entries_of("rags in bin"))


def test_nothing_read_gives_nothing() -> None:
    """No log and no speech: no flags, no problems, no error."""
    assert read() == ()
    assert read(cues_of("...", "")) == ()
    assert read(entries=entries_of("", "!!")) == ()


def test_plain_work_is_not_flagged() -> None:
    """Silence is no risk: work told with no word of danger or precaution gets no firm flag."""
    flags = read(
        cues_of(
            "this is a washstand and it came out of a cellar",
            "I edge jointed the two boards and left them till the morning",
            "the key is missing and I have a tin of two hundred keys",
            "so that's the colour it is now and I think it suits it",
        ),
        entries_of("coll washstand, 40 cash", "lunch", "photos x12", "delivered"),
    )
    assert [f for f in flags if f.tier == "firm"] == []


def test_windows_are_short_and_do_not_cross_a_long_pause() -> None:
    """A window of several clauses has at most so many words, and nothing is read across a silence."""
    run = speech_run((*cues_of(*RAGS), *cues_of("and then we had tea", from_ms=60_000)))
    pause = run.at_ms.index(60_000)
    for window in windows(run):
        assert not window.first < pause < window.end
    long = speech_run(cues_of(*["word " * 9 + "and"] * 20))
    assert max(w.end - w.first for w in windows(long)) <= WINDOW_WORDS


def test_entries_are_texts_of_their_own() -> None:
    """No window and no rule reaches from one entry into the next."""
    run = log_run(entries_of("oily rags", "in the bin"))
    assert bounds(run) == [(0, 2)] * 2 + [(2, 5)] * 3
    assert {(w.first, w.end) for w in windows(run)} == {(0, 2), (2, 5)}


def _episode(
    folder: Path,
) -> tuple[tuple[Entry, ...], tuple[Cue, ...], tuple[Step, ...], tuple[ShelfItem, ...], Any]:
    from reelnotes.read.captions import read_transcript
    from reelnotes.read.shop_log import read_shop_log
    from reelnotes.store import read_text

    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    entries = read_shop_log(read_text(folder / "shop-log.txt")[0])[0]
    cues = read_transcript(read_text(next(folder.glob("transcript.*")))[0])[0]
    with (folder / "shelf.csv").open(encoding="utf-8") as file:
        shelf = tuple(
            ShelfItem(
                row["name"], Decimal(row["pack"] or 1), row["unit"], None, row["kind"], row["notes"] or ""
            )
            for row in csv.DictReader(file)
        )
    steps = tuple(
        Step(str(s["entry"]), s["entry"], s["text"], float(bool(s["spans"])), tuple(
            StepSpan(round(a * 1000), round(b * 1000), 1, "words") for a, b in s["spans"]
        ))
        for s in truth["steps"]
    )  # fmt: skip
    return entries, cues, steps, shelf, truth


def _meets(flag: Flag, label: dict[str, Any]) -> bool:
    for place in (label, *label.get("joined_with", [])):
        if place.get("entry") is not None and place["entry"] == flag.entry:
            return True
        if place.get("start_s") is None or flag.start_ms is None or flag.end_ms is None:
            continue
        if (
            flag.start_ms <= place["end_s"] * 1000 + 15_000
            and flag.end_ms >= place["start_s"] * 1000 - 15_000
        ):
            return True
    return False


@pytest.mark.skipif(not CASES.is_dir(), reason="the labelled episodes are not at hand")
def test_labelled_episodes() -> None:
    """Of the labelled risks two in three are found, and few safe places are flagged."""
    risks = found = flags = right = safe = safe_flagged = 0
    for folder in sorted(p.parent for p in CASES.glob("*/truth.json")):
        entries, cues, steps, shelf, truth = _episode(folder)
        firm = [f for f in read_risks(entries, cues, steps, shelf, load_lexicon())[0] if f.tier == "firm"]

        def of(labels: list[dict[str, Any]], flag: Flag) -> bool:
            return any(label["topic"] == flag.topic and _meets(flag, label) for label in labels)

        false = [f for f in firm if not of([*truth["risks"], *truth.get("doubtful", [])], f)]
        risks += len(truth["risks"])
        found += sum(any(of([risk], f) for f in firm) for risk in truth["risks"])
        flags += len(firm)
        right += len(firm) - len(false)
        safe += len(truth["safe"])
        safe_flagged += sum(any(of([place], f) for f in false) for place in truth["safe"])
    assert found / risks >= 0.65
    assert right / flags >= 0.65
    assert safe_flagged / safe <= 0.12
