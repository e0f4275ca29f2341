"""The question of pulls as the maker asks it, and its answer."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any, cast, get_args

from reelnotes.bench.drawing import Drawing
from reelnotes.bench.finding import COMMON_PRACTICE, FROM_MEMORY, Finding, Measures, Row
from reelnotes.bench.pulls import (
    SPACINGS_FROM_MEMORY,
    SPACINGS_MM,
    Front,
    Hole,
    Meeting,
    Placed,
    Pull,
    Rule,
    meetings,
    place_pull,
    pull_middles,
    spacing_problems,
)
from reelnotes.bench.screws import CLEARANCE_MM, Fit, Screw, parse_screw
from reelnotes.bench.template import PAPERS_MM, pull_template
from reelnotes.bench.units import BadMeasure, both_text, mm_text, parse_length, parse_number
from reelnotes.problems import Problem
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
_STATE_WORDS = {
    "reuse": "can be used as it is",
    "clash": "breaks into the new one: plug it first",
    "thin": "leaves too little wood: plug it first",
    "clear": "stays clear",
}


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
    first = placed[0][0]
    sentence = (
        f"Drill {mm_text(job.bit_mm)} holes {mm_text(first.holes[0].y_mm)} below the top edge, at "
        f"{' and '.join(mm_text(h.x_mm) for p in placed[0] for h in p.holes)} from the left."
    )
    finding = Finding(
        kind="pulls",
        sentence=sentence,
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
    placed, _ = _placed(job)
    return pull_template(job.fronts[front - 1], job.pull, placed[front - 1][0], job.old, paper)


# --- what is asked ---------------------------------------------------------------------------------


def _job(measures: Measures) -> PullJob:
    fronts = tuple(Front(*_sides(text, 2)) for text in measures.several("front"))
    if not fronts:
        raise BadMeasure("", "--front 700x150mm")
    spacing = measures.needed("spacing", "96mm")
    wide, high = _sides(measures.words("pull"), 2) if "pull" in measures else (0.0, 0.0)
    below = measures.words("holes_below_top")
    below_mm = float(parse_length(below)) if below else high / 2
    if below_mm > high:
        raise BadMeasure(below, "a place on the pull: give its outline too, --pull 130x40mm")
    spacing_mm = 0.0 if spacing in {"0", "knob"} else float(parse_length(spacing))
    rule, value = _rule(measures.words("place", "centre"))
    count, inset = int(parse_number(measures.words("count", "1"))), measures.words("inset")
    if count not in {1, 2}:
        raise BadMeasure(measures.words("count"), "1 or 2 pulls a front")
    screw, bit = _screw_and_bit(measures)
    return PullJob(
        fronts=fronts,
        pull=Pull(spacing_mm, wide, high, below_mm),
        rule=rule,
        value=value,
        count=count,
        inset_mm=float(parse_length(inset)) if inset else None,
        screw=screw,
        bit_mm=bit,
        old=tuple(Hole(*_sides(text, 3)) for text in measures.several("old")),
    )


def _sides(text: str, count: int) -> tuple[float, ...]:
    """Read `700x150mm`: the unit of the last side holds for those without one."""
    sides = [side.strip() for side in text.casefold().replace("×", "x").split("x")]
    if len(sides) != count or not all(sides):
        raise BadMeasure(text, "700x150mm" if count == 2 else "302x70x5mm: left, top, diameter")  # noqa: PLR2004
    unit = sides[-1].lstrip("0123456789./ -")
    return tuple(float(parse_length(side if not side[-1].isdigit() else side + unit)) for side in sides)


def _rule(words: str) -> tuple[Rule, float]:
    name, _, value = words.casefold().partition(" ")
    if name == "centre" and not value:
        return "centre", 0.0
    if name == "margin" and value:
        return "margin", float(parse_length(value))
    if name == "share" and value:
        share = float(parse_number(value.removesuffix("%"))) / (100 if value.endswith("%") else 1)
        return "share", share
    raise BadMeasure(words, 'centre, "margin 40mm" or "share 0.4"')


def _screw_and_bit(measures: Measures) -> tuple[Screw, float]:
    screw = parse_screw(measures.words("screw", "M4"))
    fit = measures.words("fit", "medium")
    if fit not in get_args(Fit):
        raise BadMeasure(fit, "fine, medium or coarse")
    if screw.clearance_mm is None:
        raise BadMeasure(measures.words("screw"), f"a machine screw: {', '.join(CLEARANCE_MM)}")
    return screw, screw.clearance_mm[cast("Fit", fit)]


def _placed(job: PullJob) -> tuple[list[list[Placed]], list[Problem]]:
    rows, problems = [], []
    for front in job.fronts:
        try:
            middles = pull_middles(front, job.count, job.inset_mm)
        except ValueError:
            raise BadMeasure(str(job.inset_mm), "an inset less than half the front's width") from None
        row = []
        for x in middles:
            placed, more = place_pull(front, job.pull, x, job.bit_mm, rule=job.rule, value=job.value)
            row.append(placed)
            problems += more
        rows.append(row)
    return rows, list(dict.fromkeys(problems))


# --- what is answered ------------------------------------------------------------------------------


def _rows(job: PullJob, placed: list[list[Placed]]) -> list[Row]:
    first = placed[0][0]
    play = job.bit_mm - job.screw.diameter_mm
    name = _trade_name(job.pull)
    mark = FROM_MEMORY if name in SPACINGS_FROM_MEMORY else (COMMON_PRACTICE if name else "")
    rows = [
        Row("bit", f"{job.bit_mm:g} mm for {job.screw.name}, {play:.1f} mm of play"),
        Row("holes below top edge", both_text(first.holes[0].y_mm)),
        Row("from the left edge", ", ".join(both_text(h.x_mm) for p in placed[0] for h in p.holes)),
        Row(
            "outline of the pull", f"{mm_text(first.top_mm)} to {mm_text(first.bottom_mm)} below the top edge"
        ),
    ]
    if job.pull.spacing_mm:
        size = f"a size of the trade, {name}" if name else "not a size of the trade that we know"
        rows.insert(0, Row("hole to hole", f"{job.pull.spacing_mm:.2f} mm, {size}", mark))
    if job.count == 2 and job.inset_mm is None:  # noqa: PLR2004 - a pair
        rows.append(Row("pulls", "a quarter of the width in from either side", COMMON_PRACTICE))
    return rows


def _trade_name(pull: Pull) -> str:
    """Name the size of the trade that the spacing is, or nothing."""
    return next((n for n, mm in SPACINGS_MM.items() if abs(float(mm) - pull.spacing_mm) < _SAME_MM), "")


def _meeting_rows(met: list[Meeting]) -> list[Row]:
    """Give one row an old hole: its worst meeting with a new one."""
    rank = {"reuse": 0, "clash": 1, "thin": 2, "clear": 3}
    rows = []
    for old in dict.fromkeys(meeting.old for meeting in met):
        worst = min((m for m in met if m.old == old), key=lambda m: rank[m.state])
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
