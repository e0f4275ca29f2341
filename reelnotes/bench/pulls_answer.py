"""The question of pulls as the maker asks it, and its answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any, cast, get_args

from reelnotes.bench.drawing import Drawing
from reelnotes.bench.finding import COMMON_PRACTICE, FROM_MEMORY, Finding, Measures, Row
from reelnotes.bench.pulls import (
    NICKNAMES,
    SPACINGS_FROM_MEMORY,
    SPACINGS_MM,
    Front,
    Hole,
    Meeting,
    Placed,
    Pull,
    Rule,
    holes_inside,
    meetings,
    place_pull,
    pull_middles,
    spacing_problems,
)
from reelnotes.bench.screws import CLEARANCE_MM, Fit, Screw, parse_screw
from reelnotes.bench.template import PAPERS_MM, pull_template
from reelnotes.bench.units import BadMeasure, both_text, mm_text, parse_length, parse_number
from reelnotes.problems import Problem, Refusal
from reelnotes.records import frozen

PULL_MEASURES = (
    "front", "spacing", "pull", "holes_below_top", "place", "count", "inset", "screw", "fit", "old",
)  # fmt: skip
_SOURCES = ("ISO 273:1979, clearance holes (machine screws)",)
_CAUTIONS = (
    "Measure the pull itself from hole to hole, and try the template on scrap before the front.",
    "Back the front with scrap where the bit comes out; wear eye protection.",
)
_SAME_MM = 0.005
_DRAWN_WORDS = {"reuse": "old: use it", "clash": "old: plug it", "thin": "old: plug it", "clear": "old"}
_SIDES = {"front": "700x150mm", "pull": "130x40mm", "old": "302x70x5mm: left, top, diameter"}
_STATE_WORDS = {
    "reuse": "can be used as it is",
    "clash": "breaks into the new one: plug it first",
    "thin": "leaves too little wood: plug it first",
    "clear": "stays clear",
}


class NoRoom(Refusal):
    """Holes that come to lie off their front."""

    def __init__(self, number: int, front: Front, placed: Placed) -> None:
        places = " and ".join(f"{hole.x_mm:.1f}" for hole in placed.holes)
        super().__init__(
            f"the holes do not lie on front {number}, {front.width_mm:g} by {front.height_mm:g} mm: "
            f"they come to {places} mm from its left edge and {placed.holes[0].y_mm:.1f} mm from its top; "
            "choose another --place, --spacing or --inset."
        )


@frozen
class PullJob:
    """All that was asked: fronts from top to bottom, the pull, the rule of its place, the holes there are."""

    fronts: tuple[Front, ...]
    pull: Pull
    rule: Rule
    value: float
    count: int
    inset_mm: float | None
    screw: Screw
    bit_mm: float
    old: tuple[Hole, ...]


def answer_pulls(given: Mapping[str, str]) -> tuple[Finding, list[Problem]]:
    """Answer where pulls come to sit, which bit to take, and what becomes of the old holes.

    Measures: front (`700x150mm`, several for a row of drawers from the top), spacing (hole to hole; 0 is
    a knob), pull (outline, `130x40mm`), holes_below_top (on the pull; else half its height), place (`centre`,
    `margin 40mm`, `share 0.4`), count (1 or 2) and inset, screw (`M4`), fit (fine, medium, coarse), old
    (`302x70x5mm`: from the left, from the top, diameter). Raises a `Refusal` for what cannot be read.
    """
    measures = Measures("pulls", given, PULL_MEASURES)
    job = _job(measures)
    placed, problems = _placed(job)
    met = [meeting for p in placed[0] for meeting in meetings(p, job.pull, job.old, job.screw.diameter_mm)]
    problems += [*spacing_problems(Fraction(job.pull.spacing_mm).limit_denominator(10_000)), *_clashes(met)]
    finding = Finding(
        kind="pulls",
        sentence=_sentence(job, placed),
        rows=(*_rows(job, placed), *_meeting_rows(met)),
        record=_record(job, placed, met),
        sources=_SOURCES if job.screw.clearance_mm else (),
        cautions=_CAUTIONS,
        cite=measures.cite,
        table=_table(job, placed),
    )
    return finding, problems


def template_for(given: Mapping[str, str], paper: str = "a4", front: int = 1) -> Drawing:
    """Draw the template for a front (from 1) of the same question. Raises a `Refusal`."""
    job = _job(Measures("pulls", given, PULL_MEASURES))
    if paper not in PAPERS_MM:
        raise BadMeasure(paper, " or ".join(PAPERS_MM))
    if not 1 <= front <= len(job.fronts):
        raise BadMeasure(str(front), f"the number of a front, 1 to {len(job.fronts)}")
    placed = _placed(job)[0][front - 1]
    met = [meeting for pull in placed for meeting in meetings(pull, job.pull, job.old, job.screw.diameter_mm)]
    old = {hole: _DRAWN_WORDS[_worst(met, hole).state] for hole in job.old}
    return pull_template(job.fronts[front - 1], job.pull, placed[0], old, paper)


# --- what is asked ---------------------------------------------------------------------------------


def _job(measures: Measures) -> PullJob:
    measures.needed("front", "700x150mm")
    fronts = tuple(Front(*_sides("front", text)) for text in measures.several("front"))
    rule, value = measures.read("place", _rule, "centre")
    count = measures.read("count", parse_number, "1")
    if count not in {1, 2}:
        raise measures.bad("count", "1 or 2 pulls a front")
    screw, bit = _screw_and_bit(measures)
    old = tuple(Hole(*_sides("old", text)) for text in measures.several("old"))
    for hole in old:
        if not any(hole.x_mm <= front.width_mm and hole.y_mm <= front.height_mm for front in fronts):
            raise measures.bad("old", "a hole on a front: from its left edge, from its top, diameter")
    return PullJob(
        fronts=fronts,
        pull=_pull(measures),
        rule=rule,
        value=value,
        count=int(count),
        inset_mm=float(measures.read("inset", parse_length)) if "inset" in measures else None,
        screw=screw,
        bit_mm=bit,
        old=old,
    )


def _pull(measures: Measures) -> Pull:
    spacing_mm = 0.0
    if measures.needed("spacing", "96mm, or knob").casefold() not in {"0", "knob"}:
        spacing_mm = float(measures.read("spacing", parse_length))
    wide, high = _sides("pull", measures.words("pull")) if "pull" in measures else (0.0, 0.0)
    if wide and wide < spacing_mm:
        raise measures.bad("pull", "an outline at least as wide as its holes are apart, 130x40mm")
    below_mm = high / 2
    if "holes_below_top" in measures:
        below_mm = float(measures.read("holes_below_top", parse_length))
    if below_mm > high:
        raise measures.bad("holes_below_top", "a place on the pull: give its outline too, --pull 130x40mm")
    return Pull(spacing_mm, wide, high, below_mm)


def _sides(name: str, text: str) -> tuple[float, ...]:
    """Read `700x150mm`: the unit of the last side holds for those without one; none may be nothing."""
    wanted = _SIDES[name]
    sides = [side.strip() for side in text.casefold().replace("×", "x").split("x")]
    if len(sides) != wanted.count("x") + 1 or not all(sides):
        raise BadMeasure(text, wanted, name)
    unit = sides[-1].lstrip("0123456789./ -")
    try:
        read = [parse_length(side if not side[-1].isdigit() else side + unit) for side in sides]
    except BadMeasure:
        raise BadMeasure(text, wanted, name) from None
    if min(read) <= 0:
        raise BadMeasure(text, f"{wanted}, each above nothing", name)
    return tuple(map(float, read))


def _rule(words: str) -> tuple[Rule, float]:
    name, _, value = words.casefold().partition(" ")
    if name in {"centre", "center"} and not value:
        return "centre", 0.0
    if name == "margin" and value:
        return "margin", float(parse_length(value))
    if name == "share" and value and "-" not in value:
        share = float(parse_number(value.removesuffix("%"))) / (100 if value.endswith("%") else 1)
        if 0 < share < 1:
            return "share", share
        raise BadMeasure(words, "a share between 0, the top edge, and 1, the bottom edge")
    raise BadMeasure(words, 'centre, "margin 40mm" or "share 0.4"')


def _screw_and_bit(measures: Measures) -> tuple[Screw, float]:
    screw = measures.read("screw", parse_screw, "M4")
    fit = measures.words("fit", "medium")
    if fit not in get_args(Fit):
        raise measures.bad("fit", "fine, medium or coarse")
    if screw.clearance_mm is None:
        raise measures.bad("screw", f"a machine screw: {', '.join(CLEARANCE_MM)}")
    return screw, screw.clearance_mm[cast("Fit", fit)]


def _placed(job: PullJob) -> tuple[list[list[Placed]], list[Problem]]:
    rows, problems = [], []
    for number, front in enumerate(job.fronts, start=1):
        try:
            middles = pull_middles(front, job.count, job.inset_mm)
        except ValueError:
            wanted = f"an inset up to half the width of front {number}, {front.width_mm:g} mm"
            raise BadMeasure(f"{job.inset_mm:g}mm", wanted, "inset") from None
        row = []
        for x in middles:
            placed, more = place_pull(front, job.pull, x, job.bit_mm, rule=job.rule, value=job.value)
            if not holes_inside(front, placed):
                raise NoRoom(number, front, placed)
            row.append(placed)
            problems += more
        rows.append(row)
    return rows, list(dict.fromkeys(problems))


# --- what is answered ------------------------------------------------------------------------------


def _sentence(job: PullJob, placed: list[list[Placed]]) -> str:
    places = [both_text(hole.x_mm) for pull in placed[0] for hole in pull.holes]
    listed = " and ".join([", ".join(places[:-1]), places[-1]] if places[1:] else places)
    which = "Front 1: drill" if len(job.fronts) > 1 else "Drill"
    return (
        f"{which} {job.bit_mm:g} mm at {both_text(placed[0][0].holes[0].y_mm)} below the top edge, "
        f"{listed} from the left."
    )


def _rows(job: PullJob, placed: list[list[Placed]]) -> list[Row]:
    first = placed[0][0]
    play = job.bit_mm - job.screw.diameter_mm
    name = _trade_name(job.pull)
    mark = FROM_MEMORY if name in SPACINGS_FROM_MEMORY else (COMMON_PRACTICE if name else "")
    rows = [
        Row("bit", f"{job.bit_mm:g} mm for {job.screw.name}, {play:.1f} mm of play"),
        Row("holes below top edge", both_text(first.holes[0].y_mm)),
        Row("from the left edge", ", ".join(both_text(h.x_mm) for p in placed[0] for h in p.holes)),
        Row("middle of the pull", f"{both_text(first.y_mm)} below the top edge"),
        Row("outline of the pull", _outline_text(job.pull, first)),
    ]
    if job.pull.spacing_mm:
        metric = f"{job.pull.spacing_mm:g} mm"
        size = f"{metric} ({name})" if name and name != metric else metric
        known = "a size of the trade" if name else "not a size of the trade that we know"
        rows.insert(0, Row("hole to hole", f"{size}, {known}", mark))
    if name in NICKNAMES:
        rows.insert(1, Row("often called", _nicknames(name), COMMON_PRACTICE))
    if job.count == 2 and job.inset_mm is None:  # noqa: PLR2004 - a pair
        rows.append(Row("pulls", "a quarter of the width in from either side", COMMON_PRACTICE))
    return rows


def _outline_text(pull: Pull, placed: Placed) -> str:
    if not pull.high_mm:
        return "not given: the holes are taken for its middle"
    return f"{mm_text(placed.top_mm)} to {mm_text(placed.bottom_mm)} below the top edge"


def _nicknames(name: str) -> str:
    """Say what a metric spacing is often called, and that it is not that long."""
    words = []
    for nickname, mm in NICKNAMES[name]:
        off = mm - SPACINGS_MM[name]
        words.append(f"{nickname}, which is {float(abs(off)):.2f} mm {'more' if off > 0 else 'less'}")
    return f"{'; '.join(words)}: not the same holes"


def _trade_name(pull: Pull) -> str:
    """Name the size of the trade that the spacing is, or nothing."""
    return next((n for n, mm in SPACINGS_MM.items() if abs(float(mm) - pull.spacing_mm) < _SAME_MM), "")


def _worst(met: Sequence[Meeting], old: Hole) -> Meeting:
    """Give the meeting of an old hole that decides what becomes of it."""
    return min((m for m in met if m.old == old), key=lambda m: list(_STATE_WORDS).index(m.state))


def _meeting_rows(met: list[Meeting]) -> list[Row]:
    """Give one row an old hole: its worst meeting with a new one."""
    rows = []
    for old in dict.fromkeys(meeting.old for meeting in met):
        worst = _worst(met, old)
        seen = "covered by the pull" if worst.hidden else "stays in sight"
        label = f"old hole {old.x_mm:g}, {old.y_mm:g}"
        wood = f", {mm_text(worst.wood_mm)} of wood between" if worst.wood_mm >= 0 else ""
        mark = COMMON_PRACTICE if worst.state == "thin" else ""
        rows.append(Row(label, f"{_STATE_WORDS[worst.state]}{wood}; {seen}", mark))
    return rows


def _clashes(met: list[Meeting]) -> list[Problem]:
    return [
        Problem(
            "bench-clash",
            f"the old hole at {m.old.x_mm:g}, {m.old.y_mm:g} mm {_STATE_WORDS[m.state]}",
        )
        for m in met
        if m.state in {"clash", "thin"}
    ]


def _record(job: PullJob, placed: list[list[Placed]], met: list[Meeting]) -> dict[str, Any]:
    return {
        "spacing_mm": round(job.pull.spacing_mm, 3),
        "screw": job.screw.name,
        "bit_mm": job.bit_mm,
        "play_mm": round(job.bit_mm - job.screw.diameter_mm, 3),
        "from_memory": ["spacing_mm"] if _trade_name(job.pull) in SPACINGS_FROM_MEMORY else [],
        "fronts": [
            {
                "width_mm": front.width_mm,
                "height_mm": front.height_mm,
                "pulls": [
                    {
                        "middle_mm": [round(p.x_mm, 3), round(p.y_mm, 3)],
                        "top_mm": round(p.top_mm, 3),
                        "bottom_mm": round(p.bottom_mm, 3),
                        "holes_mm": [[round(h.x_mm, 3), round(h.y_mm, 3)] for h in p.holes],
                    }
                    for p in row
                ],
            }
            for front, row in zip(job.fronts, placed, strict=True)
        ],
        "old_holes": [
            {
                "old_mm": [m.old.x_mm, m.old.y_mm],
                "new_mm": [round(m.new.x_mm, 3), round(m.new.y_mm, 3)],
                "wood_mm": round(m.wood_mm, 3),
                "state": m.state,
                "hidden": m.hidden,
            }
            for m in met
        ],
    }


def _table(job: PullJob, placed: list[list[Placed]]) -> tuple[tuple[str, ...], ...]:
    if len(job.fronts) == 1:
        return ()
    head = ("front", "size", "holes below top", "holes above bottom", "middle of the pull")
    rows = [
        (
            str(number),
            f"{front.width_mm:g} × {front.height_mm:g} mm",
            mm_text(row[0].holes[0].y_mm),
            mm_text(front.height_mm - row[0].holes[0].y_mm),
            mm_text(row[0].y_mm),
        )
        for number, (front, row) in enumerate(zip(job.fronts, placed, strict=True), start=1)
    ]
    return (head, *rows)
