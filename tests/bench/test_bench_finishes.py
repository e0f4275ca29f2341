"""Coverage, mixes, drying times, and the evidence that cites them."""

from __future__ import annotations

from datetime import datetime, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelnotes.bench.chemistry import NeverMix, refuse_poison
from reelnotes.bench.drying import Coat, readiness
from reelnotes.bench.drying_answer import answer_drying
from reelnotes.bench.finishes import (
    USUAL_COVERAGE,
    coverage_of_film,
    mixed,
    packs_needed,
    shellac_g,
    shellac_solvent_ml,
    shown,
    total_from,
    volume_ml,
)
from reelnotes.bench.finishes_answer import answer_coverage, answer_mix
from reelnotes.bench.units import BadMeasure, parse_area, parse_coverage, parse_volume
from reelnotes.words.waiting import Wait, Waits

# --- coverage ----------------------------------------------------------------------------------------


def test_a_worked_table_top() -> None:
    """30 by 60 in, both sides, three coats at 400 ft² a gallon: 0.1875 gal, 709.8 ml, 24 fl oz (computed)."""
    ml = volume_ml(2 * parse_area("30x60in"), 3, parse_coverage("400ft2/gal"), Fraction(0))
    assert ml == parse_volume("1gal") * Fraction("0.1875")
    finding, problems = answer_coverage(
        {"area": "30x60in", "faces": "2", "coats": "3", "coverage": "400ft2/gal"}
    )
    assert problems == []
    assert "709.8 ml (24.0 US fl oz)" in [row.value for row in finding.rows]


def test_film_and_coverage_are_one_geometry() -> None:
    """100 µm wet cover 10 m² a litre; 4 mil wet cover 401.04 ft² a gallon (231 in³, computed)."""
    assert coverage_of_film(100) == 10
    square_feet = coverage_of_film(4 * 25.4) / float(parse_coverage("1ft2/gal"))
    assert square_feet == pytest.approx(401.04, abs=0.01)
    record = answer_coverage({"area": "1m2", "film": "100um"})[0].document
    assert record["finish_ml"] == [100.0, 100.0]
    by_mil = answer_coverage({"area": "1m2", "film": "4mil"})[0].document
    assert by_mil["finish_ml"] == [101.6, 101.6]


@given(st.fractions("0.1", 50), st.integers(1, 9), st.fractions(1, 15), st.fractions(0, 1))
def test_waste_comes_on_top(area: Fraction, coats: int, coverage: Fraction, waste: Fraction) -> None:
    """A tenth of waste is a tenth more, exactly."""
    bare = volume_ml(area, coats, coverage, Fraction(0))
    assert volume_ml(area, coats, coverage, waste) == bare * (1 + waste)


@given(st.fractions(0, 5000), st.fractions("0.5", 5000))
def test_packs_hold_what_is_needed_and_no_pack_too_many(ml: Fraction, pack: Fraction) -> None:
    """What is left over is less than a pack."""
    packs, over = packs_needed(ml, pack)
    assert packs * pack == ml + over
    assert 0 <= over < pack


@pytest.mark.parametrize(("left", "words"), [("300ml", "short"), ("709ml", "short"), ("710ml", "enough")])
def test_what_is_in_the_open_tin_counts(left: str, words: str) -> None:
    """709.8 ml are wanted: 709 are short of it and 710 are enough."""
    asked = {"area": "30x60in", "faces": "2", "coats": "3", "coverage": "400ft2/gal", "left": left}
    rows = {row.label: row.value for row in answer_coverage(asked)[0].rows}
    assert words in rows["in the open tin"]


def test_usual_coverages_are_marked_as_remembered() -> None:
    """A range of the trade is common practice from memory, also in JSON; a label's figure is not."""
    usual, _ = answer_coverage({"area": "1m2", "product": "penetrating oil"})
    assert usual.document["from_memory"] == ["coverage_m2_per_l"]
    assert "from memory" in usual.document["marked"]["coverage"]
    assert usual.document["finish_ml"] == [
        pytest.approx(1000 / 9.8, abs=0.1),
        pytest.approx(1000 / 3.7, abs=0.1),
    ]
    assert answer_coverage({"area": "1m2", "coverage": "10m2/l"})[0].document["from_memory"] == []


@pytest.mark.parametrize(
    ("coverage", "count"), [("8.6m2/l", 0), ("8.5m2/l", 1), ("12.3m2/l", 0), ("12.4m2/l", 1)]
)
def test_an_unusual_label_is_noticed(coverage: str, count: int) -> None:
    """Clear finish usually covers 8.6 to 12.3 m² a litre (from memory); outside, the label is asked about."""
    _, problems = answer_coverage({"area": "1m2", "product": "clear finish", "coverage": coverage})
    assert [p.code for p in problems] == ["bench-range"] * count


def test_usual_coverages_hang_together() -> None:
    """Every remembered range in m² a litre is its range in ft² a gallon (350–500, 150–400, …), to 0.05."""
    feet = {"clear finish": (350, 500), "penetrating oil": (150, 400), "wiping stain": (150, 275),
            "shellac": (300, 500), "paint": (300, 400), "stripper": (25, 100),
            "glue": (160, 250)}  # fmt: skip
    for name, pair in feet.items():
        want = [float(parse_coverage(f"{value}ft2/gal")) for value in pair]
        assert USUAL_COVERAGE[name] == pytest.approx(want, abs=0.051)


@pytest.mark.parametrize(
    "asked",
    [
        {"area": "1m2"}, {"area": "0m2", "coverage": "10m2/l"},
        {"area": "1m2", "coats": "1.5", "coverage": "10m2/l"},
        {"area": "1m2", "coverage": "0m2/l"}, {"area": "1m2", "product": "syrup"}, {"coverage": "10m2/l"},
        {"area": "1m2", "coverage": "10m2/l", "pack": "0ml"},
        {"area": "1m2", "film": "0um"}, {"area": "1m2", "film": "100"},
        {"area": "1m2", "coverage": "10m2/l", "faces": "0"},
        {"area": "1m2", "coverage": "10m2/l", "waste": "101"},
        {"area": "1m2", "coverage": "10m2/l", "waste": "-5"},
        {"area": "1m2", "coverage": "10m2/l", "coats": "101"},
        {"area": "1m2", "coverage": "10m2/l", "left": "1kg"},
    ],
)  # fmt: skip
def test_a_coverage_that_cannot_be_worked_out_is_refused(asked: dict[str, str]) -> None:
    """Half a coat, no area, no coverage and an empty tin are refused with the way to write them."""
    with pytest.raises(BadMeasure, match="write it as"):
        answer_coverage(asked)


# --- mixing ------------------------------------------------------------------------------------------

shares = st.dictionaries(
    st.sampled_from(["oil", "turpentine", "varnish", "wax"]), st.fractions("0.1", 9), min_size=1
)


@given(shares, st.fractions("0.1", 5000))
def test_amounts_add_up_to_the_total(parts: dict[str, Fraction], total: Fraction) -> None:
    """Nothing is lost in rounding: the amounts are exact, and in the proportion of the parts."""
    rows = mixed(parts, total)
    assert sum(row.amount for row in rows) == total
    assert all(row.amount * sum(parts.values()) == total * row.parts for row in rows)


@given(shares, st.fractions("0.1", 5000))
def test_using_one_ingredient_up_is_the_inverse(parts: dict[str, Fraction], total: Fraction) -> None:
    """The total that comes of an amount gives back that amount."""
    first = mixed(parts, total)[0]
    assert total_from(parts, first.name, first.amount) == total


def test_a_mix_is_written_so_that_it_can_be_mixed_again() -> None:
    """The proportion and the amounts stand in one sentence."""
    finding, _ = answer_mix({"parts": "oil=2, turpentine=1", "have": "oil=120ml"})
    assert finding.sentence == "2 oil : 1 turpentine; for 180 ml: 120 ml oil, 60 ml turpentine"


def test_shellac_cuts() -> None:
    """A 2-lb cut is 239.653 g a litre of solvent and 119.83 g in 500 ml; a 1-lb cut half (computed)."""
    assert float(shellac_g(Fraction(2), Fraction(1000))) == pytest.approx(239.653, abs=0.001)
    assert float(shellac_g(Fraction(1), Fraction(1000))) == pytest.approx(119.826, abs=0.001)
    assert float(shellac_g(Fraction(2), Fraction(500))) == pytest.approx(119.83, abs=0.05)
    assert answer_mix({"shellac": "2lb", "solvent": "500ml"})[0].document["from_memory"] == [
        "definition of the cut"
    ]


@given(st.fractions("0.25", 5), st.fractions(1, 5000))
def test_flakes_and_alcohol_are_inverses(cut: Fraction, ml: Fraction) -> None:
    """What flakes want of alcohol is what that alcohol wants of flakes."""
    assert shellac_solvent_ml(cut, shellac_g(cut, ml)) == ml


def test_a_solution_by_weight() -> None:
    """60 g a litre is 30 g in half a litre."""
    assert answer_mix({"per_litre": "60g", "total": "500ml"})[0].document["grams"] == 30


@pytest.mark.parametrize(
    "asked",
    [
        {"parts": "oil=2", "total": "0ml"}, {"parts": "oil=2"}, {"parts": "oil=0, wax=1", "total": "1l"},
        {"parts": "oil=2, oil=1", "total": "1l"}, {"parts": "oil:2", "total": "1l"},
        {"parts": "oil=much", "total": "1l"}, {"parts": "oil=2", "have": "wax=1l"},
        {"parts": "oil=2", "have": "oil"}, {"parts": "oil=2", "have": "oil=0ml"},
        {"shellac": "0", "solvent": "1l"}, {"shellac": "2"}, {"shellac": "2", "flakes": "0g"},
        {"per_litre": "60g"}, {"per_litre": "0g", "total": "1l"}, {"per_litre": "60g", "total": "0ml"}, {},
    ],
)  # fmt: skip
def test_a_mix_that_cannot_be_is_refused(asked: dict[str, str]) -> None:
    """Nothing of something, an unknown ingredient, a missing amount: one sentence that names the measure."""
    with pytest.raises(BadMeasure, match=r"--.* write it as"):
        answer_mix(asked)


@pytest.mark.parametrize(
    "names",
    [
        ("household bleach", "household ammonia"),
        ("Bleach", "white vinegar"),
        ("sodium hypochlorite", "oxalic acid crystals"),
    ],
)
def test_a_poison_is_never_mixed(names: tuple[str, str]) -> None:
    """Chlorine bleach with ammonia or with an acid is refused (poison-centre advice; oxalic: our reading)."""
    for order in (names, names[::-1]):
        with pytest.raises(NeverMix, match="never mix"):
            refuse_poison(order)
    with pytest.raises(NeverMix, match="poison centre"):
        answer_mix({"parts": f"{names[0]}=1, {names[1]}=1", "total": "1l"})


@pytest.mark.parametrize(
    "names",
    [
        ("bleach", "water"),
        ("ammonia", "vinegar"),
        ("oil", "turpentine"),
        ("hydrogen peroxide", "oxalic acid"),
    ],
)
def test_what_may_be_mixed_is_not_refused(names: tuple[str, str]) -> None:
    """Only chlorine bleach with ammonia or an acid is refused here."""
    refuse_poison(names)


@pytest.mark.parametrize(
    "asked",
    [
        {}, {"parts": "oil", "total": "1l"}, {"parts": "oil=0, wax=1", "total": "1l"},
        {"parts": "oil=1, oil=2", "total": "1l"},
        {"parts": "oil=1"}, {"parts": "oil=1", "total": "0ml"}, {"parts": "oil=1", "have": "wax=3ml"},
        {"shellac": "0", "solvent": "1l"}, {"shellac": "2"}, {"per_litre": "60g"},
    ],
)  # fmt: skip
def test_a_mix_that_cannot_be_worked_out_is_refused(asked: dict[str, str]) -> None:
    """No parts, a part of nothing, a name twice, no total: each says how to write it."""
    with pytest.raises(BadMeasure, match="write it as"):
        answer_mix(asked)


def test_shown_numbers_have_no_idle_zeros() -> None:
    """120.0 is 120, and thirds are rounded."""
    assert (shown(Fraction(120)), shown(Fraction(200, 3)), shown(Fraction(0))) == ("120", "66.7", "0")


# --- drying ------------------------------------------------------------------------------------------


def waits(own: float | None = None, other: float | None = None, cure: float | None = None) -> Waits:
    """Make waits of so many hours, in words that do not matter here."""
    return Waits(*(None if hours is None else Wait(hours, "so it says") for hours in (own, other, cure)))


FIRST = datetime(2026, 3, 4, 14, 20)


@pytest.mark.parametrize(("hours", "count"), [(24, 0), (23.75, 0), (23.74, 1)])
def test_a_coat_too_soon_is_reported(hours: float, count: int) -> None:
    """A coat may go on when the shelf's hours are over; a quarter of an hour early is on time."""
    coats = [Coat("oil", FIRST + timedelta(hours=hours)), Coat("oil", FIRST)]
    found, problems = readiness(coats, {"oil": waits(24, None, 504)})
    assert len(problems) == count
    assert found[0].recoat_from == FIRST + timedelta(hours=24)
    assert found[0].cured_from == FIRST + timedelta(weeks=3)


def test_another_product_waits_for_its_own_time() -> None:
    """Wax over oil waits for what the shelf says of other products, and for nothing where it says nothing."""
    coats = [Coat("oil", FIRST), Coat("wax", FIRST + timedelta(hours=30))]
    assert len(readiness(coats, {"oil": waits(24, 30.3)})[1]) == 1
    assert readiness(coats, {"oil": waits(24, 30)})[1] == []
    assert readiness(coats, {"oil": waits(48)})[1] == []


def test_the_answer_says_when() -> None:
    """Day and time stand in the sentence."""
    finding, _ = answer_drying({"notes": "next coat 24 h", "at": "2026-03-04 14:20", "product": "Oil"})
    assert finding.sentence == "Oil, coat 1: next coat from 2026-03-05 14:20."


@pytest.mark.parametrize(
    "asked",
    [
        {"notes": "dries", "at": "2026-03-04"},
        {"notes": "next coat 1 h", "at": "soon"},
        {"notes": "next coat 1 h"},
        {"notes": "next coat 1 h", "at": ","},
        {"notes": "next coat 200 months", "at": "2026-03-04"},
    ],
)
def test_drying_that_cannot_be_worked_out_is_refused(asked: dict[str, str]) -> None:
    """Notes without a time and a moment that is none are refused."""
    with pytest.raises(BadMeasure, match="write it as"):
        answer_drying(asked)
