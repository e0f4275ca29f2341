from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.align.matcher import Alignment, align
from reelnotes.model import Clip, Cue, CutEvent, Entry, ShelfItem, Step, step_ids
from reelnotes.settings import WordSettings
from reelnotes.timing import Span
from reelnotes.words.lexicon import load_lexicon

LEXICON = load_lexicon()
MONDAY = date(2026, 8, 3)

TALK = [
    "so the gulls were at it again",
    "and the postman said it would rain",
    "I never did find out who it was",
]


def log(text: str) -> tuple[Entry, ...]:
    """Read `9:00 words` lines; a line `+1` begins the next day."""
    entries: list[Entry] = []
    day = MONDAY
    for number, line in enumerate(text.strip().splitlines(), 1):
        first, _, words = line.strip().partition(" ")
        if first == "+1":
            day += timedelta(days=1)
            continue
        hour, minute = first.split(":")
        entries.append(Entry(len(entries), words, number, day, time(int(hour), int(minute))))
    return tuple(entries)


def speech(text: str) -> tuple[Cue, ...]:
    """One cue of five seconds for each line."""
    lines = [line.strip() for line in text.strip().splitlines()]
    return tuple(Cue(5000 * k, 5000 * k + 5000, line, k + 1) for k, line in enumerate(lines))


def aligned(notes: str, said: str, pins: Mapping[int, tuple[Span, ...]] | None = None) -> tuple[Step, ...]:
    return align(log(notes), speech(said), LEXICON, pins=pins)[0].steps


def lines_of(steps: tuple[Step, ...]) -> list[int | None]:
    """Give the line of speech at which each entry's first span starts, counted from 0."""
    return [step.spans[0].start_ms // 5000 if step.spans else None for step in steps]


def test_plain_steps_stand_where_they_are_told() -> None:
    """Three jobs told one after the other are found at their first lines, surely."""
    steps = aligned(
        """9:00 stripped lid, gel, 2 coats
        11:00 new hinges on
        14:00 oiled all over""",
        """hello from the shed
        so the lid gets the stripper brushed on thick
        and you wait until the varnish bubbles
        right the hinges next
        a new pair and six screws
        then oil wiped on with a rag
        and wiped off again before it gets sticky
        see you next week""",
    )
    assert lines_of(steps) == [1, 3, 5]
    assert min(step.told for step in steps) > 0.9
    assert {span.evidence for step in steps for span in step.spans} == {"words"}


def test_dirty_hands_and_misheard_speech_meet() -> None:
    """Short forms in the log and caption errors in the speech do not hide a step."""
    steps = aligned(
        """9:00 glu'd LH leg w/ 2 new dwls
        10:00 sndd drwr frnts
        11:00 vnr patch""",
        """two fresh doles and a bit of white glue in the left leg
        clamped up tight
        then the fronts of the drawers got rubbed down
        mask on for that
        and last a patch of vin ear with the grain running across""",
    )
    assert lines_of(steps) == [0, 2, 4]


def test_the_trade_says_it_otherwise() -> None:
    """Not one word in common, but the same work: paraphrase goes through fields and synonyms."""
    steps = aligned(
        """9:00 paint off, heat gun
        11:00 dry fit all
        13:00 glue up""",
        """I like to begin with a cup of tea
        it wrinkles up and the scraper takes it away in ribbons
        burnt your fingers yet
        then you offer it up and see if the shoulders close
        then it all gets squeezed together with the cramps
        wipe off what comes out""",
    )
    assert lines_of(steps) == [1, 3, 4]


# --- twins -------------------------------------------------------------------------------------------


def test_twin_coats_are_told_apart_by_their_order() -> None:
    """Two coats in the same words: the first telling is the first coat."""
    steps = aligned(
        """9:00 varnish ct 1
        14:00 dnib 320
        15:00 varnish ct 2""",
        """on goes the varnish thin as you can
        leave it be
        then a rub with the fine paper
        to take the nibs off
        and another go of the varnish
        that's the shine I wanted""",
    )
    assert lines_of(steps) == [0, 2, 4]


def test_twin_coats_are_told_apart_by_their_amounts() -> None:
    """Told the wrong way round, amounts in spelled-out numbers decide."""
    steps = aligned(
        """9:00 primer 250 ml
        12:00 lunch
        14:00 primer 180 ml""",
        """I'll start with where it ended up
        the undercoat after lunch took a hundred and eighty mil
        nice and even
        now in the morning it was a different story
        the undercoat drank two hundred and fifty mil
        like a horse at a trough""",
    )
    assert [lines_of(steps)[k] for k in (0, 2)] == [4, 1]


def test_numbered_parts_are_told_apart() -> None:
    """Stool 1 and stool 2, told as "the first one" and "number two"."""
    steps = aligned(
        """9:00 stool 1 legs reglued
        10:00 stool 2 legs reglued""",
        """I'll do number two to begin with because it's the worse
        it took the whole morning and two tubes
        and then stool number one every leg out and glue
        same again glue and a strap""",
    )
    assert lines_of(steps) == [2, 0]


# --- names, late notes, lines that are not work --------------------------------------------------------


def test_a_nickname_is_learnt_within_the_episode() -> None:
    """The piece that the log calls lamp goes by Doris in speech; a step told only of Doris is found."""
    notes = """9:00 lamp: flex off
        9:30 chest: lid off
        10:00 lamp: polished column, meths
        10:30 chest: bottom boards nailed
        11:00 lamp: new plug fitted
        11:30 chest: waxed
        12:30 lamp: delivered"""
    said = """so Doris had this crumbling old flex
        and Doris wasn't even earthed
        the chest meanwhile had its lid off
        two screws and a prayer
        Doris got a going over with meths
        the polish on Doris came up lovely
        the bottom boards of the chest went back with cut nails
        tap tap tap
        Doris has a proper plug now
        three amp fuse for Doris
        wax on the chest and a brush
        smells like church
        and Doris is home
        that's where Doris lives"""
    steps = aligned(notes, said)
    assert lines_of(steps) == [0, 2, 4, 6, 8, 10, 12]


def test_a_late_note_is_placed_by_its_own_time() -> None:
    """A note written next day is told among the work of the day it names."""
    steps = aligned(
        """9:00 stripped top, gel
        15:00 scraped it all off
        +1
        9:00 sanded top 120
        9:30 forgot to write: yest abt 12 took castors off
        11:00 oiled top""",
        """gel on the top nice and thick
        cling film over it
        while that was working I had the castors off
        and put them somewhere safe
        scraped the sludge into a tin
        next morning the sander one twenty
        then oil a thin one""",
    )
    assert lines_of(steps) == [0, 4, 5, 2, 6]


@pytest.mark.parametrize(
    "line", ["dinner", "phone, bloke abt a glue delivery", "accounts", "lunch, wax jackets sale"]
)
def test_what_is_not_work_is_left_off_camera(line: str) -> None:
    """A meal, a call, paperwork: not placed, although a word of it may fit somewhere."""
    steps = aligned(
        f"""9:00 glued rail, 2 cramps
        12:30 {line}
        14:00 waxed top""",
        """glue in the joint and two cramps on the rail
        that can sit
        I had a bit of talk about gulls here
        now wax on the top
        and buff it up""",
    )
    assert lines_of(steps) == [0, None, 3]
    assert steps[1].told < 0.5


def test_a_line_of_measures_alone_is_found_by_them() -> None:
    """A line that is only numbers is placed by the numbers as they are spoken."""
    steps = aligned(
        """9:00 washed it down
        10:00 1520 x 310
        11:00 sanded 80""",
        """a good wash and a rinse
        brown as tea
        it's one thousand five hundred and twenty by three hundred and ten
        which is big for a van
        then eighty grit and a mask""",
    )
    assert lines_of(steps) == [0, 2, 4]


def test_the_arrival_is_known_by_its_price() -> None:
    """How it came and what it cost is told without a word of the log but the sum."""
    steps = aligned(
        """8:30 picked up desk, auction, 45
        9:30 drawers out
        10:00 old finish off""",
        """morning all
        I paid forty five for it and carried it home in the rain
        a fella with a dog helped me
        every drawer out and numbered
        and then the finish came off with a scraper""",
    )
    assert lines_of(steps) == [1, 3, 4]


def test_the_result_may_be_shown_first() -> None:
    """Photographs logged last and shown at the very beginning."""
    steps = aligned(
        """9:00 stripped it
        11:00 sanded 180
        14:00 oil coat
        16:00 photos by the window""",
        """there it is in the window looking pleased with itself
        that's the photo for the front page
        now back to the start and the gel stripper goes on thick
        scrape the old finish off and wash it
        sanded to one eighty
        then the oil and that's the colour""",
    )
    assert lines_of(steps) == [2, 4, 5, 0]


def test_a_step_told_twice_has_two_spans() -> None:
    """The same drilling shown at its place and again as a confession."""
    steps = aligned(
        """9:00 drilled leg for 10 mm dowels
        10:00 glued leg, hide glue
        14:00 waxed it""",
        """so I drilled the leg for the ten mil dowels
        straight down with the drill and a bit of tape for depth
        then hide glue and a strap round the leg
        wipe it and leave it overnight
        wax in the afternoon and a good buff
        with a soft brush
        but I owe you a confession
        look again at me drilling that leg for the dowels
        ten mil and nothing holding the drill straight but luck
        never again""",
    )
    assert lines_of(steps) == [0, 2, 4]
    assert any(30_000 <= span.start_ms <= 45_000 for span in steps[0].spans[1:])


def test_two_jobs_may_be_intercut() -> None:
    """Log by the clock, video by the piece: each job's steps are found in its own story."""
    steps = aligned(
        """9:00 clock: door veneer glued
        9:30 stool: webbing on
        10:00 clock: hood glass puttied
        10:30 stool: stuffed w horsehair
        11:00 clock: finial turned
        11:30 stool: velvet on""",
        """first the clock and its door the veneer had lifted
        glue under the veneer with a needle and press it
        then putty for the glass in the hood of the clock
        you roll the putty and thumb it round the glass
        and a finial for the top of the clock on the lathe
        I turned the finial to match the others
        now the stool with new webbing
        over and under and the webbing pulled tight
        horsehair teased out by hand
        that's the stuffing and it smells of horse
        and the velvet goes over the top
        velvet with tacks all round""",
    )
    assert lines_of(steps) == [0, 6, 2, 8, 4, 10]


def test_the_shelf_knows_a_product_by_its_other_name() -> None:
    """The log names the brand, speech the kind of product: the shelf joins them."""
    shelf = (ShelfItem("Otterhead satin varnish", kind="varnish"), ShelfItem("Pike linseed oil", kind="oil"))
    notes = log("9:00 1 ct otterhead\n10:00 pike on the back")
    said = speech(
        "linseed wiped on round the back\nleave it be\nthen satin varnish on the rest\nin long strokes"
    )
    steps = align(notes, said, LEXICON, shelf)[0].steps
    assert lines_of(steps) == [2, 0]


def test_a_workshop_adds_its_own_words() -> None:
    """What "the beast" is, only workshop.toml can say."""
    own = load_lexicon(WordSettings(same=(("the beast", "thicknesser"),)))
    notes = log("9:00 oiled feet\n10:00 boards thicknessed\n11:00 rested")
    said = speech(
        "linseed on the feet\nthat can soak\nthen the beast gets fed\nnoisy old thing\nand a sit down"
    )
    with_words = align(notes, said, own)[0].steps[1]
    assert with_words.spans
    assert with_words.spans[0].start_ms == 10_000
    assert with_words.told > align(notes, said, LEXICON)[0].steps[1].told


# --- decisions by hand ---------------------------------------------------------------------------------

NOTES = """9:00 sanded top
        10:00 sanded base
        11:00 oiled all"""
SAID = """sanding first a good hour of it
        mask on hoover going
        more sanding with the finer paper
        round and round
        then oil and a rag"""


def test_pins_are_kept_exactly() -> None:
    """A pinned span keeps its times, with confidence one, and the step is told for certain."""
    kept = (Span(1234, 5678), Span(12_000, 13_000))
    step = aligned(NOTES, SAID, {1: kept})[1]
    assert step.told == 1.0
    assert [(span.start_ms, span.end_ms) for span in step.spans] == [(1234, 5678), (12_000, 13_000)]
    assert {(span.confidence, span.evidence) for span in step.spans} == {(1.0, "pinned")}


def test_neighbours_make_room_for_a_pin() -> None:
    """Where the second of two twins is pinned to the first place, the other is no longer there."""
    free = aligned(NOTES, SAID)
    pinned = aligned(NOTES, SAID, {1: (Span(0, 10_000),)})
    assert lines_of(free)[0] == 0
    assert lines_of(pinned)[0] != 0


def test_a_pin_without_spans_means_off_camera() -> None:
    """Pinned off camera: no span, told zero, whatever the words say."""
    step = aligned(NOTES, SAID, {2: ()})[2]
    assert (step.spans, step.told) == ((), 0.0)


def test_pins_of_entries_that_are_gone_do_no_harm() -> None:
    """A pin for an entry beyond the log is passed over."""
    assert lines_of(aligned(NOTES, SAID, {99: (Span(0, 1000),)})) == lines_of(aligned(NOTES, SAID))


# --- thin or empty input -------------------------------------------------------------------------------


def test_another_videos_transcript_is_reported() -> None:
    """Hardly any entry is told: the maker is asked whether it is another video's transcript."""
    notes = "9:00 bream pattern cut\n10:00 hull faired\n11:00 keel laid\n12:00 mast stepped\n13:00 rigging up"
    _, problems = align(log(notes), speech("\n".join(TALK * 4)), LEXICON)
    assert [problem.code for problem in problems] == ["match-thin"]


def test_the_right_transcript_is_not_reported() -> None:
    """Most entries told: no problem."""
    notes = "9:00 lid stripped\n10:00 lid sanded\n11:00 lid oiled\n12:00 lunch"
    said = "stripper on the lid\nscrape it\nsand the lid\nmask on\noil on the lid\nwipe it"
    assert align(log(notes), speech(said), LEXICON)[1] == []


@pytest.mark.parametrize(("notes", "said"), [("9:00 oiled", "[Music]"), ("9:00 oiled", "")])
def test_no_speech_places_nothing(notes: str, said: str) -> None:
    """A transcript without words leaves every entry off camera, pins apart."""
    alignment, problems = align(log(notes), speech(said), LEXICON)
    assert [step.spans for step in alignment.steps] == [()]
    assert problems == []
    pinned = align(log(notes), speech(said), LEXICON, pins={0: (Span(0, 900),)})[0].steps[0]
    assert (pinned.told, len(pinned.spans)) == (1.0, 1)


def test_no_log_gives_no_steps() -> None:
    """Without entries there is nothing to place."""
    assert align((), speech("hello"), LEXICON) == (Alignment(()), [])


def test_a_log_without_times_is_still_placed() -> None:
    """Entries without day or hour are matched by words and order alone."""
    entries = tuple(Entry(e.index, e.text, e.line) for e in log(NOTES))
    steps = align(entries, speech(SAID), LEXICON)[0].steps
    assert lines_of(steps)[2] == 4
    assert steps[0].logged_at is None


def test_steps_carry_the_ids_and_times_of_the_log() -> None:
    """One step for each entry in order, with its stable id and the time it was noted."""
    entries = log(NOTES)
    steps = align(entries, speech(SAID), LEXICON)[0].steps
    assert [step.id for step in steps] == list(step_ids(entries))
    assert steps[0].logged_at == "2026-08-03T09:00:00"
    assert [step.entry for step in steps] == [0, 1, 2]


WORDS = st.sampled_from(
    ["glue", "leg", "2", "coat", "…", "lunch", "yest", "forgot to write", "tuesday", "6mm", "é"]
)
PHRASES = st.lists(WORDS, max_size=8).map(" ".join)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(PHRASES, st.integers(0, 3), st.one_of(st.none(), st.times())), max_size=7),
    st.lists(st.tuples(st.integers(0, 9000), st.integers(0, 20_000), PHRASES), max_size=9),
    st.dictionaries(st.integers(0, 8), st.lists(st.integers(0, 60_000), max_size=2), max_size=2),
)
def test_whatever_is_given_steps_stay_sound(
    notes: list[tuple[str, int, time | None]], said: list[tuple[int, int, str]], pinned: dict[int, list[int]]
) -> None:
    """One step an entry; chances between 0 and 1; spans inside the programme; placed means above one half."""
    entries = tuple(
        Entry(i, text, i + 1, MONDAY + timedelta(days=day) if day else None, at)
        for i, (text, day, at) in enumerate(notes)
    )
    at = 0
    cues: list[Cue] = []
    for gap, length, text in said:
        cues.append(Cue(at + gap, at + gap + length, text, len(cues) + 1))
        at += gap + length
    pins = {entry: tuple(Span(start, start + 500) for start in starts) for entry, starts in pinned.items()}
    steps = align(entries, tuple(cues), LEXICON, pins=pins)[0].steps
    assert [step.entry for step in steps] == list(range(len(entries)))
    for step in steps:
        assert 0 <= step.told <= 1
        assert bool(step.spans) == (step.told > 0.5)
        for span in step.spans:
            assert 0 <= span.confidence <= 1
            assert step.entry in pins or 0 <= span.start_ms <= span.end_ms <= at


# --- footage -------------------------------------------------------------------------------------------


def filmed(
    offset_s: int,
) -> tuple[tuple[Entry, ...], tuple[Cue, ...], tuple[Clip, ...], tuple[CutEvent, ...]]:
    """Six jobs, four shots a job; one job is told in words that say nothing, one was not cut in."""
    jobs = (
        "lid stripped w gel",
        "hinges off",
        "lid sanded 120",
        "box painted green",
        "drawer waxed",
        "lock oiled",
    )
    begun = [60, 95, 170, 190, 275, 330, 350]  # minutes after eight
    entries = log("\n".join(f"{8 + m // 60}:{m % 60:02d} {job}" for m, job in zip(begun, jobs, strict=False)))
    words = {
        0: ["gel on the lid", "thick as you like", "and scrape the stripper off", "into a tin"],
        1: ["hinges came off", "two screws each", "bent hinges both", "into a jar"],
        2: ["look at that", "lovely", "just lovely", "what about that"],
        3: ["paint now", "green paint on the box", "second go of the green", "no drips"],
        5: ["and the lock", "a drop of oil in the lock", "turns like new", "listen to the key"],
    }
    cues: list[Cue] = []
    cuts: list[CutEvent] = []
    clip = Clip("A.MP4", datetime.combine(MONDAY, time(8)) + timedelta(seconds=offset_s), 10 * 3_600_000)
    for job, lines in words.items():
        for shot, line in enumerate(lines):
            at = len(cues) * 5000
            into = round((begun[job] + (0.05 + 0.3 * shot) * (begun[job + 1] - begun[job])) * 60_000)
            cues.append(Cue(at, at + 5000, line, len(cues) + 1))
            cuts.append(
                CutEvent(str(len(cuts)), "A.MP4", Span(at, at + 5000), Span(into, into + 5000), "video")
            )
    return entries, tuple(cues), (clip,), tuple(cuts)


@pytest.mark.parametrize("offset_s", [0, 250, -3600])
def test_footage_places_what_words_do_not(offset_s: int) -> None:
    """With clips and a cut list the silent job stands at its footage, and the offset is stated."""
    entries, cues, clips, cuts = filmed(offset_s)
    alignment, problems = align(entries, cues, LEXICON, clips=clips, cuts=cuts)
    assert alignment.clock_offset is not None
    assert alignment.clock_offset.low_s <= offset_s <= alignment.clock_offset.high_s
    assert lines_of(alignment.steps) == [0, 4, 8, 12, None, 16]
    assert alignment.steps[2].spans[0].evidence == "footage"
    assert alignment.steps[0].spans[0].evidence == "both"
    assert problems == []


def test_footage_tells_nothing_without_a_clock() -> None:
    """Where the words fix no offset, none is stated, and the maker is told why."""
    entries, cues, clips, cuts = filmed(250)
    mute = tuple(Cue(cue.start_ms, cue.end_ms, TALK[k % 3], cue.line) for k, cue in enumerate(cues))
    alignment, problems = align(entries, mute, LEXICON, clips=clips, cuts=cuts)
    assert alignment.clock_offset is None
    assert "clock-unclear" in [problem.code for problem in problems]


def test_silent_footage_can_be_told_too() -> None:
    """A job shown over music alone is placed by its footage."""
    entries, cues, clips, cuts = filmed(250)
    silent = tuple(cue for cue in cues if not 40_000 <= cue.start_ms < 60_000)
    steps = align(entries, silent, LEXICON, clips=clips, cuts=cuts)[0].steps
    assert lines_of(steps)[2] == 8
    assert steps[2].spans[0].evidence == "footage"
