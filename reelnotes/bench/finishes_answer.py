"""The questions of coverage and mixing as the maker asks them, and their answers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from math import ceil

from reelnotes.bench.chemistry import refuse_poison
from reelnotes.bench.finding import COMMON_PRACTICE, FROM_MEMORY, Finding, Measures, Row
from reelnotes.bench.finishes import (
    USUAL_COVERAGE,
    Part,
    coverage_of_film,
    mixed,
    packs_needed,
    rounded,
    shellac_g,
    shellac_solvent_ml,
    shown,
    total_from,
    volume_ml,
)
from reelnotes.bench.units import (
    M2_PER_L_IN_FT2_PER_GALLON,
    M2_PER_SQUARE_FOOT,
    MASSES_G,
    MM_PER_INCH,
    BadMeasure,
    fluid_ounces,
    parse_area,
    parse_coverage,
    parse_length,
    parse_mass,
    parse_number,
    parse_volume,
)
from reelnotes.problems import Problem

COVERAGE_MEASURES = ("area", "faces", "coats", "coverage", "film", "product", "waste", "pack", "left")
MIX_MEASURES = ("parts", "total", "have", "shellac", "solvent", "flakes", "per_litre")
_MOST_COATS = 100
_NO_WASTE = "none counted; 10 to 20 % is usual"
_COVERAGE_CAUTIONS = (
    "The label's own figure always wins; bare, open or end grain drinks more.",
    "Rags wet with drying oil can take fire by themselves: hang them out singly outdoors, never in a heap.",
)
_MIX_CAUTIONS = (
    "Read the makers' data sheets first; mix small, label the jar, and mind gloves, eyes and air.",
    "Chlorine bleach never meets ammonia or an acid, vinegar included.",
)


def _volume_text(ml: Fraction) -> str:
    return f"{shown(ml)} ml ({fluid_ounces(ml):.1f} US fl oz)"


# --- coverage --------------------------------------------------------------------------------------


def answer_coverage(given: Mapping[str, str]) -> tuple[Finding, list[Problem]]:
    """Answer how much finish an area takes.

    Measures: area (`2.3m2`, `760x1520mm`), faces (how many such areas; 1), coats (1), coverage (`10m2/l`,
    `400ft2/gal`, from the label) or film (wet, `100um`) or product (one of `USUAL_COVERAGE`), waste (per
    cent; 0), pack (size of a tin) and left (what is in the open one). Raises a `Refusal`.
    """
    measures = Measures("coverage", given, COVERAGE_MEASURES)
    measures.needed("area", "2.3m2")
    area = _above(measures, "area", parse_area) * _above(measures, "faces", parse_number, "1")
    coats, waste = _coats(measures), _waste(measures)
    low, high, mark = _coverage(measures)
    most, least = (volume_ml(area, coats, c, waste) for c in (low, high))
    amount = f"{ceil(most)} ml" if low == high else f"{ceil(least)} to {ceil(most)} ml"
    finish = _volume_text(most) if low == high else f"{_volume_text(least)} to {_volume_text(most)}"
    rows = [
        Row("area", f"{shown(area, 3)} m² ({_square_feet(area)} ft²), {coats} coat{'s' * (coats != 1)}"),
        Row("coverage", _coverage_text(low, high), mark),
        Row("waste", f"{shown(waste * 100)} % on top" if waste else _NO_WASTE, COMMON_PRACTICE),
        Row("finish", finish, mark),
        *_pack_rows(measures, most),
    ]
    finding = Finding(
        kind="coverage",
        sentence=f"{shown(area, 2)} m² in {coats} coat{'s' * (coats != 1)}: about {amount}.",
        rows=tuple(rows),
        record={
            "area_m2": float(rounded(area, 6)),
            "coats": coats,
            "coverage_m2_per_l": [float(rounded(c, 4)) for c in (low, high)],
            "finish_ml": [float(rounded(v, 3)) for v in (least, most)],
            "from_memory": ["coverage_m2_per_l"] if mark else [],
        },
        cautions=_COVERAGE_CAUTIONS,
        cite=measures.cite,
    )
    return finding, _coverage_problems(measures, low)


def _coats(measures: Measures) -> int:
    coats = _above(measures, "coats", parse_number, "1")
    if coats.denominator != 1 or coats > _MOST_COATS:
        raise measures.bad("coats", f"whole coats, 1 to {_MOST_COATS}")
    return int(coats)


def _waste(measures: Measures) -> Fraction:
    """Read the waste, in per cent, as a share of what is needed."""
    waste = measures.read("waste", lambda words: parse_number(words.removesuffix("%").strip()), "0") / 100
    if waste > 1:
        raise measures.bad("waste", "per cent on top, 0 to 100")
    return waste


def _coverage(measures: Measures) -> tuple[Fraction, Fraction, str]:
    """Give lowest and highest coverage, and what stands behind them."""
    if "coverage" in measures:
        coverage = _above(measures, "coverage", parse_coverage)
        return coverage, coverage, ""
    if "film" in measures:
        coverage = Fraction(coverage_of_film(float(_above(measures, "film", _microns))))
        coverage = coverage.limit_denominator(10**9)
        return coverage, coverage, ""
    if "product" not in measures:
        raise BadMeasure("", "--coverage 10m2/l from the label, else --film or --product", "coverage")
    low, high = _usual(measures)
    return Fraction(str(low)), Fraction(str(high)), f"{COMMON_PRACTICE}, {FROM_MEMORY}"


def _microns(words: str) -> Fraction:
    """Read a wet film, `100um` or `4mil` (thousandths of an inch), as micrometres."""
    plain = words.casefold().replace("µm", "um").replace("μm", "um").strip()
    if plain.endswith("um"):
        return parse_number(plain.removesuffix("um").strip())
    if plain.endswith("mil"):
        return parse_number(plain.removesuffix("mil").strip()) * MM_PER_INCH
    try:
        return parse_length(plain) * 1000
    except BadMeasure:
        raise BadMeasure(words, "100um or 4mil") from None


def _above(measures: Measures, name: str, reader: Callable[[str], Fraction], usual: str = "") -> Fraction:
    """Read a measure that must be more than nothing. Raises `BadMeasure`."""
    value = measures.read(name, reader, usual)
    if value <= 0:
        raise measures.bad(name, "more than nothing")
    return value


def _usual(measures: Measures) -> tuple[float, float]:
    product = measures.words("product").casefold()
    if product not in USUAL_COVERAGE:
        raise measures.bad("product", f"one of {', '.join(USUAL_COVERAGE)}")
    return USUAL_COVERAGE[product]


def _coverage_text(low: Fraction, high: Fraction) -> str:
    feet = [shown(c / M2_PER_L_IN_FT2_PER_GALLON, 0) for c in (low, high)]
    if low == high:
        return f"{shown(low)} m² per litre ({feet[0]} ft² per US gallon)"
    return f"{shown(low)} to {shown(high)} m² per litre ({feet[0]} to {feet[1]} ft² per US gallon)"


def _square_feet(area_m2: Fraction) -> str:
    return shown(area_m2 / M2_PER_SQUARE_FOOT)


def _pack_rows(measures: Measures, ml: Fraction) -> list[Row]:
    left = measures.read("left", parse_volume) if "left" in measures else Fraction(0)
    missing = max(Fraction(0), ml - left)
    rows = [Row("in the open tin", f"{shown(left)} ml, {shown(missing)} ml short")] if left else []
    if left and not missing:
        rows = [Row("in the open tin", f"{shown(left)} ml: enough, {shown(left - ml)} ml stay")]
    if "pack" not in measures:
        return rows
    pack = _above(measures, "pack", parse_volume)
    packs, over = packs_needed(missing, pack)
    return [*rows, Row("to buy", f"{packs} of {shown(pack)} ml, {shown(over)} ml left over")]


def _coverage_problems(measures: Measures, coverage: Fraction) -> list[Problem]:
    if "product" not in measures or "coverage" not in measures:
        return []
    low, high = _usual(measures)
    if low <= coverage <= high:
        return []
    words = (
        f"{shown(coverage)} m² per litre is unusual for {measures.words('product')} "
        f"({low:g} to {high:g}, from memory): look at the label again"
    )
    return [Problem("bench-range", words, severity="note")]


# --- mixing ----------------------------------------------------------------------------------------


def answer_mix(given: Mapping[str, str]) -> tuple[Finding, list[Problem]]:
    """Answer how much of each to take, so that it can be mixed again.

    By parts: parts (`oil=2, turpentine=1`), and total (`300ml` or `200g`) or have (`oil=120ml`: use it up).
    Shellac: shellac (the cut in pounds), and solvent (`500ml`) or flakes (`120g`). A solution: per_litre
    (`60g`) and total. Raises a `Refusal` for what cannot be read and for what must never be mixed.
    """
    measures = Measures("mix", given, MIX_MEASURES)
    if "shellac" in measures:
        return _shellac(measures), []
    if "per_litre" in measures:
        return _solution(measures), []
    parts = _parts(measures)
    refuse_poison(parts)
    total, unit = _total(measures, parts)
    try:
        rows = mixed(parts, total)
    except ValueError:
        raise measures.bad("parts", "oil=2, turpentine=1, each above nothing") from None
    recipe = " : ".join(f"{_plain(part.parts)} {part.name}" for part in rows)
    finding = Finding(
        kind="mix",
        sentence=f"{recipe}; for {shown(total)} {unit}: "
        + ", ".join(f"{shown(part.amount)} {unit} {part.name}" for part in rows),
        rows=tuple(Row(part.name, _part_text(part, total, unit)) for part in rows),
        record={
            "total": float(rounded(total, 3)),
            "unit": unit,
            "parts": {part.name: _plain(part.parts) for part in rows},
            "amounts": {part.name: float(rounded(part.amount, 3)) for part in rows},
        },
        cautions=_MIX_CAUTIONS,
        cite=measures.cite,
    )
    return finding, []


def _plain(value: Fraction) -> str:
    return str(value) if value.denominator == 1 else f"{float(value):g}"


def _part_text(part: Part, total: Fraction, unit: str) -> str:
    share = part.amount / total * 100
    word = "part" if part.parts == 1 else "parts"
    return f"{shown(part.amount)} {unit}, {_plain(part.parts)} {word}, {shown(share)} %"


def _parts(measures: Measures) -> dict[str, Fraction]:
    measures.needed("parts", '"oil=2, turpentine=1"')
    parts: dict[str, Fraction] = {}
    for text in measures.several("parts"):
        name, equals, share = text.partition("=")
        if not equals or not name.strip() or name.strip() in parts:
            raise BadMeasure(text, "name=parts, each name once, such as oil=2", "parts")
        try:
            parts[name.strip()] = parse_number(share)
        except BadMeasure:
            raise BadMeasure(text, "name=parts, such as oil=2 or oil=1 1/2", "parts") from None
    return parts


def _amount(words: str) -> tuple[Fraction, str]:
    """Read a volume or a mass above nothing: `300ml` or `200g`."""
    for reader, unit in ((parse_volume, "ml"), (parse_mass, "g")):
        try:
            amount = reader(words)
        except BadMeasure:
            continue
        if amount > 0:
            return amount, unit
    raise BadMeasure(words, "an amount above nothing, 300ml or 200g")


def _total(measures: Measures, parts: dict[str, Fraction]) -> tuple[Fraction, str]:
    if "have" not in measures:
        measures.needed("total", "300ml (or --have oil=120ml, to use it up)")
        return measures.read("total", _amount)
    name, equals, words = measures.words("have").partition("=")
    if not equals or name.strip() not in parts or parts[name.strip()] <= 0:
        raise measures.bad("have", f"one of {', '.join(parts)}, such as {next(iter(parts))}=120ml")
    amount, unit = measures.read("have", lambda _: _amount(words))
    return total_from(parts, name.strip(), amount), unit


def _shellac(measures: Measures) -> Finding:
    cut = _above(
        measures, "shellac", lambda words: parse_number(words.casefold().removesuffix("lb").strip(" -"))
    )
    if "flakes" in measures:
        flakes = _above(measures, "flakes", parse_mass)
        solvent = shellac_solvent_ml(cut, flakes)
    else:
        measures.needed("solvent", "500ml (or --flakes 120g)")
        solvent = _above(measures, "solvent", parse_volume)
        flakes = shellac_g(cut, solvent)
    return Finding(
        kind="mix",
        sentence=f"{_plain(cut)}-lb cut: {shown(flakes)} g of shellac in {shown(solvent)} ml of alcohol.",
        rows=(
            Row("cut", f"{_plain(cut)} lb of flake to a US gallon of alcohol", FROM_MEMORY),
            Row("flakes", f"{shown(flakes)} g ({float(flakes / MASSES_G['oz']):.1f} oz)"),
            Row("alcohol", _volume_text(solvent)),
        ),
        record={
            "cut_lb": float(cut),
            "flakes_g": float(rounded(flakes, 3)),
            "solvent_ml": float(rounded(solvent, 3)),
            "from_memory": ["definition of the cut"],
        },
        cautions=("Alcohol burns: no flame or spark near it, and open windows.", *_MIX_CAUTIONS[:1]),
        cite=measures.cite,
    )


def _solution(measures: Measures) -> Finding:
    grams = _above(measures, "per_litre", parse_mass)
    measures.needed("total", "500ml")
    total = _above(measures, "total", parse_volume)
    amount = grams * total / 1000
    return Finding(
        kind="mix",
        sentence=f"{shown(amount)} g, made up to {shown(total)} ml ({shown(grams)} g per litre).",
        rows=(
            Row("to dissolve", f"{shown(amount)} g"),
            Row("made up to", _volume_text(total)),
            Row("strength", f"{shown(grams)} g per litre"),
        ),
        record={
            "grams": float(rounded(amount, 3)),
            "total_ml": float(rounded(total, 3)),
            "grams_per_litre": float(rounded(grams, 3)),
        },
        cautions=("Crystals and acids go into the water, never water onto them.", *_MIX_CAUTIONS),
        cite=measures.cite,
    )
