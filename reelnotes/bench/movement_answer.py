"""The question of movement as the maker asks it, and its answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, cast, get_args

from reelnotes.bench.finding import COMMON_PRACTICE, ESTIMATE, FROM_MEMORY, Finding, Measures, Row
from reelnotes.bench.moisture import SOURCE as MOISTURE_SOURCE
from reelnotes.bench.moisture import Air, air_problems
from reelnotes.bench.movement import (
    Month,
    Movement,
    Reading,
    Slot,
    State,
    moisture_of,
    moisture_problems,
    slot_for,
    year_of,
)
from reelnotes.bench.screws import Fit, parse_screw
from reelnotes.bench.units import (
    BadMeasure,
    at_least_text,
    both_text,
    fahrenheit,
    inch_text,
    parse_length,
    parse_number,
    parse_temperature,
)
from reelnotes.bench.woods import (
    ORIGIN_WORDS,
    Coefficient,
    Cut,
    coefficient_for,
    coefficient_from_shrinkage,
    find_wood,
)
from reelnotes.problems import Problem, Refusal

MOVEMENT_MEASURES = (
    "wood", "width", "cut", "rh", "temp", "moisture", "made_rh", "coefficient", "shrinkage",
    "screw", "fit", "distance", "climate", "months_rh", "months_temp",
)  # fmt: skip
#: Beyond these a number is a slip of the pen (ours).
_WIDEST_MM = 20_000
_MOST_COEFFICIENT = 0.02
_WETTEST = 30
_TEMPERATURES_C = (-40, 140)
_MONTHS = ("months_rh", "months_temp")
_USUAL_TEMPERATURE = "20C"
_CAUTIONS = (
    "The air decides, not the calendar: measure humidity where the piece will stand.",
    "Finished, thick or sheltered wood follows slowly and moves less than this.",
)


class NoClimate(Refusal):
    """The workshop's climate is asked for, and there is none."""

    def __init__(self) -> None:
        super().__init__(
            "the workshop's climate is asked for, but its workshop.toml has no [climate] with twelve numbers "
            "of humidity; write them there, or name the workshop with --workshop DIR."
        )


def answer_movement(given: Mapping[str, str]) -> tuple[Finding, list[Problem]]:
    """Answer how much a width moves between two airs, or over twelve months.

    Measures: wood, width, cut (flat, quarter, rift), rh (two humidities in %), temp (one temperature or one
    for each), moisture (two readings of the wood in %, instead of rh), made_rh (humidity where the width was
    measured; else the dry one), coefficient or shrinkage (own figures instead of the table's), screw and
    distance (the screw farthest from the fixed line; else half the width), months_rh and months_temp (twelve
    of each; with climate=workshop they are those of the workshop, and what cites the answer asks for the
    climate and not for today's figures). Raises a `Refusal` for what cannot be read.
    """
    measures = _measures(given)
    name, cut, movement, months = _worked(measures)
    slot, screw = _slot(measures, movement)
    problems = _problems(movement, months)
    finding = Finding(
        kind="movement",
        sentence=_sentence(movement, name, cut),
        rows=(*_rows(movement, name, cut), *_slot_rows(slot, screw)),
        record=_record(movement, name, cut, slot, months),
        sources=_sources(movement),
        cautions=_CAUTIONS,
        cite=measures.cite,
        table=_table(months),
    )
    return finding, problems


def plot_movement(given: Mapping[str, str]) -> str:
    """Draw the twelve months of the same question as SVG. Raises a `Refusal`, also without months."""
    measures = _measures(given)
    name, cut, movement, months = _worked(measures)
    if not months:
        raise BadMeasure("", "--workshop DIR, whose workshop.toml has twelve months to draw", "workshop")
    from reelnotes.bench.year_plot import year_svg

    return year_svg(
        f"{name}, {cut}-sawn, {movement.width_mm:g} mm wide ({inch_text(movement.width_mm)})", months
    )


def _measures(given: Mapping[str, str]) -> Measures:
    measures = Measures("movement", given, MOVEMENT_MEASURES, _MONTHS if given.get("climate") else ())
    if "climate" in measures and measures.words("climate") != "workshop":
        raise measures.bad("climate", "climate=workshop")
    if "climate" in measures and "months_rh" not in measures:
        raise NoClimate
    return measures


def _worked(measures: Measures) -> tuple[str, Cut, Movement, tuple[Month, ...]]:
    measures.needed("width", "420mm")
    width_mm = float(measures.read("width", parse_length))
    if not 0 < width_mm <= _WIDEST_MM:
        raise measures.bad("width", f"a width above nothing, and up to {_WIDEST_MM / 1000:g} m")
    cut = _cut(measures)
    name, coefficient = _coefficient(measures, cut)
    year = _year(measures)
    movement = _movement(measures, width_mm, coefficient, year)
    return name, cut, movement, year_of(width_mm, coefficient.value, movement.made, year) if year else ()


# --- what is asked ---------------------------------------------------------------------------------


def _cut(measures: Measures) -> Cut:
    word = measures.words("cut", "flat").casefold().removesuffix("-sawn").removesuffix(" sawn")
    if word not in get_args(Cut):
        raise measures.bad("cut", "flat, quarter or rift")
    return cast("Cut", word)


def _coefficient(measures: Measures, cut: Cut) -> tuple[str, Coefficient]:
    name = measures.words("wood", "wood of your own figures")
    if "coefficient" in measures:
        value = float(measures.read("coefficient", parse_number))
        if not 0 < value <= _MOST_COEFFICIENT:
            raise measures.bad("coefficient", "the change per 1 % moisture content, such as 0.00365")
        return name, Coefficient(value, "given")
    if "shrinkage" in measures:
        percent = float(measures.read("shrinkage", lambda words: parse_number(words.removesuffix("%"))))
        try:
            return name, Coefficient(coefficient_from_shrinkage(percent), "derived")
        except ValueError:
            raise measures.bad("shrinkage", "a shrinkage in %, such as 8.2") from None
    wood = find_wood(measures.needed("wood", '"white oak"'))
    return wood.name, coefficient_for(wood, cut)


def _year(measures: Measures) -> tuple[Air, ...]:
    humidity, temperature = measures.numbers("months_rh"), measures.numbers("months_temp")
    if not humidity:
        return ()
    temperature = temperature or [_temperatures(measures)[0]] * 12
    if len(humidity) != 12 or len(temperature) != 12:  # noqa: PLR2004 - months
        raise measures.bad("months_rh", "twelve humidities and as many temperatures")
    return tuple(_air("months_rh", h, t) for h, t in zip(humidity, temperature, strict=True))


def _temperatures(measures: Measures) -> tuple[float, float]:
    """Give the temperatures of both seasons in °C, from one or two."""
    read = measures.read("temp", lambda words: [*map(parse_temperature, words.split())], _USUAL_TEMPERATURE)
    if len(read) > 2:  # noqa: PLR2004 - the dry and the damp season
        raise measures.bad("temp", '20C, or "18C 23C" for the two seasons')
    return float(read[0]), float(read[-1])


def _air(name: str, humidity: float, temperature_c: float) -> Air:
    low_c, high_c = _TEMPERATURES_C
    if not low_c <= temperature_c <= high_c:
        raise BadMeasure(f"{temperature_c:g}C", f"a temperature from {low_c} to {high_c} °C", "temp")
    try:
        return Air(humidity, temperature_c)
    except ValueError:
        raise BadMeasure(f"{humidity:g}", "a relative humidity from 0 to 100 %", name) from None


def _movement(measures: Measures, width_mm: float, coefficient: Coefficient, year: Sequence[Air]) -> Movement:
    states = _states(measures, year)
    dry, damp = min(states, key=moisture_of), max(states, key=moisture_of)
    movement = Movement(width_mm, coefficient, dry, damp, dry)
    if "made_rh" not in measures:
        return movement
    made = measures.numbers("made_rh")
    if len(made) != 1:
        raise measures.bad("made_rh", "one humidity, such as 50")
    between_c = sum(_temperatures(measures)) / 2
    if isinstance(dry, Air) and isinstance(damp, Air):
        between_c = (dry.temperature_c + damp.temperature_c) / 2
    return replace(movement, made=_air("made_rh", made[0], between_c))


def _states(measures: Measures, year: Sequence[Air]) -> Sequence[State]:
    """Give the states between which a width moves: readings, the air of two seasons, or that of a year."""
    if "moisture" in measures:
        readings = measures.numbers("moisture")
        if "rh" in measures or len(readings) != 2 or not all(0 < one <= _WETTEST for one in readings):  # noqa: PLR2004
            raise measures.bad("moisture", f"two readings of the wood, 0 to {_WETTEST} %, instead of --rh")
        return [Reading(one) for one in readings]
    if "rh" in measures or not year:
        pair = measures.numbers("rh")
        if len(pair) != 2:  # noqa: PLR2004 - the dry and the damp season
            raise measures.bad("rh", "--rh 35 75, the driest and the dampest")
        return [_air("rh", *both) for both in zip(pair, _temperatures(measures), strict=True)]
    return year


def _slot(measures: Measures, movement: Movement) -> tuple[Slot | None, str]:
    if "screw" not in measures:
        return None, ""
    screw = measures.read("screw", parse_screw)
    fit = measures.words("fit", "medium")
    if fit not in get_args(Fit):
        raise measures.bad("fit", "fine, medium or coarse")
    distance_mm = movement.width_mm / 2
    if "distance" in measures:
        distance_mm = float(measures.read("distance", parse_length))
    if not 0 < distance_mm <= movement.width_mm:
        raise measures.bad("distance", "a distance from the fixed line, inside the width")
    wide_mm = screw.clearance_mm[cast("Fit", fit)] if screw.clearance_mm else screw.diameter_mm
    return slot_for(movement, distance_mm, wide_mm), screw.name


# --- what is answered ------------------------------------------------------------------------------


def _sentence(movement: Movement, name: str, cut: Cut) -> str:
    return (
        f"{name}, {cut}-sawn, {movement.width_mm:g} mm wide: moves about {both_text(movement.change_mm)} "
        f"between {_between(movement)}."
    )


def _between(movement: Movement) -> str:
    low, _, high = movement.moistures
    contents = f"{low:.1f} to {high:.1f} % moisture content"
    if isinstance(movement.dry, Air) and isinstance(movement.damp, Air):
        return f"{movement.dry.humidity:g} % and {movement.damp.humidity:g} % humidity ({contents})"
    return f"{low:.1f} and {high:.1f} % moisture content"


def _rows(movement: Movement, name: str, cut: Cut) -> list[Row]:
    coefficient = movement.coefficient
    mark = FROM_MEMORY if coefficient.origin == "memory" else ""
    if cut == "rift" and coefficient.origin not in {"given", "derived"}:
        mark = f"{ESTIMATE}, the mean of flat and quarter" + (f", {mark}" if mark else "")
    outside = ESTIMATE if moisture_problems(*movement.moistures) else ""
    dry, made, damp = movement.moistures
    rows = [
        Row("wood", f"{name}, {cut}-sawn"),
        Row("width as measured", both_text(movement.width_mm)),
        Row("coefficient", f"{coefficient.value:.5f} per 1 % moisture content", mark),
        Row("dry season", _state_text(movement.dry, dry)),
        Row("damp season", _state_text(movement.damp, damp)),
    ]
    if movement.made not in {movement.dry, movement.damp}:
        rows.append(Row("measured at", _state_text(movement.made, made)))
        rows.append(Row("shrinks by", both_text(-movement.shrinks_mm), outside))
        rows.append(Row("swells by", both_text(movement.swells_mm), outside))
    narrowest, widest = (movement.width_mm + mm for mm in (movement.shrinks_mm, movement.swells_mm))
    return [
        *rows,
        Row("moves in all", f"about {both_text(movement.change_mm)}", outside),
        Row("from and to", f"about {both_text(narrowest)} to {both_text(widest)}", outside),
    ]


def _state_text(air: State, moisture: float) -> str:
    if isinstance(air, Reading):
        return f"{moisture:.1f} % in the wood, as you read it"
    degrees = f"{air.temperature_c:.0f} °C ({fahrenheit(air.temperature_c):.0f} °F)"
    return f"{air.humidity:g} % humidity, {degrees}: about {moisture:.1f} % in the wood"


def _slot_rows(slot: Slot | None, screw: str) -> list[Row]:
    if slot is None:
        return []
    return [
        Row("farthest screw", f"{screw}, {both_text(slot.distance_mm)} from the fixed line"),
        Row("must slide inward", at_least_text(slot.inward_mm)),
        Row("must slide outward", at_least_text(slot.outward_mm)),
        Row("slot", f"{at_least_text(slot.length_mm)} long, {slot.wide_mm:.1f} mm wide", COMMON_PRACTICE),
    ]


def _record(
    movement: Movement, name: str, cut: Cut, slot: Slot | None, months: Sequence[Month]
) -> dict[str, Any]:
    dry, made, damp = (round(percent, 3) for percent in movement.moistures)
    coefficient = movement.coefficient
    return {
        "wood": name,
        "cut": cut,
        "width_mm": round(movement.width_mm, 3),
        "coefficient": round(coefficient.value, 6),
        "coefficient_source": ORIGIN_WORDS[coefficient.origin],
        "from_memory": ["coefficient"] if coefficient.origin == "memory" else [],
        "dry": _state_record(movement.dry, dry),
        "damp": _state_record(movement.damp, damp),
        "measured_at": _state_record(movement.made, made),
        "shrinks_mm": round(movement.shrinks_mm, 3),
        "swells_mm": round(movement.swells_mm, 3),
        "change_mm": round(movement.change_mm, 3),
        "inside_6_to_14_percent": not moisture_problems(*movement.moistures),
        "slot": {
            "distance_mm": round(slot.distance_mm, 3),
            "inward_mm": round(slot.inward_mm, 3),
            "outward_mm": round(slot.outward_mm, 3),
            "length_mm": round(slot.length_mm, 3),
            "wide_mm": slot.wide_mm,
        }
        if slot
        else None,
        "months": [
            {
                "month": month.name,
                **_state_record(month.air, round(month.moisture, 3)),
                "width_mm": round(month.width_mm, 3),
            }
            for month in months
        ],
    }


def _state_record(air: State, moisture: float) -> dict[str, float]:
    if isinstance(air, Reading):
        return {"moisture_percent": moisture}
    return {
        "humidity_percent": air.humidity,
        "temperature_c": round(air.temperature_c, 3),
        "moisture_percent": moisture,
    }


def _table(months: Sequence[Month]) -> tuple[tuple[str, ...], ...]:
    if not months:
        return ()
    narrowest = min(month.width_mm for month in months)
    head = ("month", "humidity", "air", "moisture", "width", "above its narrowest", "in inches")
    rows = [
        (
            month.name,
            f"{month.air.humidity:g} %",
            f"{month.air.temperature_c:g} °C",
            f"{month.moisture:.1f} %",
            f"{month.width_mm:.1f} mm",
            f"{month.width_mm - narrowest:.1f} mm",
            inch_text(month.width_mm - narrowest),
        )
        for month in months
    ]
    return (head, *rows)


def _sources(movement: Movement) -> tuple[str, ...]:
    sources = ["Wood Handbook FPL-GTR-190, equation 13-2 (6 to 14 % moisture content)"]
    if any(isinstance(state, Air) for state in (movement.dry, movement.made, movement.damp)):
        sources.insert(0, MOISTURE_SOURCE)
    origin = movement.coefficient.origin
    return (*sources, ORIGIN_WORDS[origin]) if origin in {"read", "transcribed"} else tuple(sources)


def _problems(movement: Movement, months: Sequence[Month]) -> list[Problem]:
    states = dict.fromkeys([movement.dry, movement.damp, movement.made, *(month.air for month in months)])
    percents = [*movement.moistures, *(month.moisture for month in months)]
    outside = [p for state in states if isinstance(state, Air) for p in air_problems(state)]
    return [*outside, *moisture_problems(*percents)]
