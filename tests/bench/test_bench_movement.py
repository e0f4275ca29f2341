"""Movement across the grain against the Wood Handbook's equation, table and worked example."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from reelnotes.bench.moisture import Air, equilibrium_moisture
from reelnotes.bench.movement import (
    Movement,
    change_of_width,
    moisture_problems,
    slot_for,
    year_of,
)
from reelnotes.bench.movement_answer import NoClimate, answer_movement, plot_movement
from reelnotes.bench.units import BadMeasure
from reelnotes.bench.woods import (
    WOODS,
    Coefficient,
    Cut,
    UnknownWood,
    Wood,
    coefficient_for,
    coefficient_from_shrinkage,
    find_wood,
)

ASKED = {"wood": "white oak", "width": "450mm", "cut": "flat", "rh": "35 65", "temp": "20C"}
HUMIDITY = "40 42 45 50 55 60 65 66 60 55 48 42"


def answered(**more: str) -> dict[str, Any]:
    """Give the record of a question of movement."""
    return answer_movement({**ASKED, **more})[0].document


# --- equation 13-2 -----------------------------------------------------------------------------------


def test_the_handbooks_own_example() -> None:
    """White fir, flat-grained, 232 mm from 8 to 11 %: 1.705 mm more, 233.7 mm (Wood Handbook, ch. 13)."""
    change = change_of_width(232, coefficient_for(find_wood("white fir"), "flat").value, 8, 11)
    assert change == pytest.approx(1.7052, abs=0.0005)
    assert round(232 + change, 1) == 233.7
    assert change_of_width(232, 0.00245, 11, 8) == pytest.approx(-1.7052, abs=0.0005)


def test_the_handbooks_own_example_as_it_is_asked() -> None:
    """By readings of the wood, 8 and 11 %: 1.705 mm, from 232.0 to 233.7 mm; no air is cited."""
    finding, problems = answer_movement({"wood": "white fir", "width": "232mm", "moisture": "8 11"})
    assert finding.document["change_mm"] == 1.705
    assert problems == []
    assert {row.label: row.value for row in finding.rows}["from and to"] == (
        "about 232.0 mm (9 1/8 in) to 233.7 mm (9 3/16 in)"
    )
    assert all("4-5" not in source for source in finding.sources)


@pytest.mark.parametrize("moisture", ["8", "0 11", "8 31", "8 11 12", "a b"])
def test_readings_that_cannot_be_are_refused(moisture: str) -> None:
    """Two of them, above 0 and up to 30 %."""
    with pytest.raises(BadMeasure, match=r"--moisture .* write it as"):
        answer_movement({"wood": "white fir", "width": "232mm", "moisture": moisture})


def test_readings_outside_the_band_are_reported() -> None:
    """6 to 14 % holds for readings too; 30 % is the last that is taken."""
    asked = {"wood": "white fir", "width": "232mm"}
    assert answer_movement({**asked, "moisture": "6 14"})[1] == []
    assert [p.code for p in answer_movement({**asked, "moisture": "6 30"})[1]] == ["bench-range"]


@pytest.mark.parametrize(
    ("wood", "cut", "width", "percents", "change"),
    [
        ("white oak", "flat", 450, (8, 12), 6.57),
        ("white oak", "quarter", 450, (8, 12), 3.24),
        ("black walnut", "flat", 300, (12, 7), -4.11),
        ("eastern white pine", "flat", 610, (6, 11), 6.466),
    ],
)
def test_changes_of_width(
    wood: str, cut: Cut, width: float, percents: tuple[float, float], change: float
) -> None:
    """Values computed apart from this code with the table's coefficients, to 0.005 mm."""
    coefficient = coefficient_for(find_wood(wood), cut).value
    assert change_of_width(width, coefficient, *percents) == pytest.approx(change, abs=0.005)


def test_flat_sawn_white_oak_moves_twice_as_much_as_quarter_sawn() -> None:
    """The ratio of tangential to radial is 2.03 (table 13-5)."""
    oak = find_wood("white oak")
    assert oak.tangential.value / oak.radial.value == pytest.approx(2.03, abs=0.01)


def test_a_season_of_white_oak() -> None:
    """24 in of flat-sawn white oak at 70 °F from 35 to 65 % grows by 0.440 in (from equations 4-5, 13-2)."""
    record = answered(width="24in", rh="35 65", temp="70F")
    assert record["change_mm"] / 25.4 == pytest.approx(0.440, abs=0.002)


# --- table 13-5 and table 4-3 ------------------------------------------------------------------------

#: Wood Handbook, table 4-3 (read on the page or, for sugar maple, in a transcription): shrinkage from green
#: to ovendry in %, radial and tangential; and the wood of table 13-5 that follows from it.
SHRINKAGE = {
    "red alder": (4.4, 7.3), "white ash": (4.9, 7.8), "American basswood": (6.6, 9.3),
    "American beech": (5.5, 11.9), "yellow birch": (7.3, 9.5), "butternut": (3.4, 6.4),
    "black cherry": (3.7, 7.1), "American chestnut": (3.4, 6.7), "American elm": (4.2, 9.5),
    "sweetgum": (5.3, 10.2), "black walnut": (5.5, 7.8), "yellow-poplar": (4.6, 8.2),
    "coast Douglas-fir": (4.8, 7.6), "interior north Douglas-fir": (3.8, 6.9), "sugar maple": (4.8, 9.9),
}  # fmt: skip
#: The same, from memory: they only show that the remembered rows hang together.
SHRINKAGE_FROM_MEMORY = {"eastern white pine": (2.1, 6.1), "ponderosa pine": (3.9, 6.2)}


@pytest.mark.parametrize(("name", "percents"), [*SHRINKAGE.items(), *SHRINKAGE_FROM_MEMORY.items()])
def test_coefficients_follow_from_shrinkage(name: str, percents: tuple[float, float]) -> None:
    """C = S / (3000 − 20 S) gives back the rows of table 13-5 from table 4-3, to the last printed digit."""
    wood = find_wood(name)
    for percent, coefficient in zip(percents, (wood.radial, wood.tangential), strict=True):
        assert coefficient_from_shrinkage(percent) == pytest.approx(coefficient.value, abs=0.0000051)


def test_western_red_cedar_starts_at_22_percent() -> None:
    """Its coefficients fit a start of shrinkage at 22 % (the footnote is from memory), and not at 30 %."""
    cedar = find_wood("western red cedar")
    assert coefficient_from_shrinkage(2.4, 22) == pytest.approx(cedar.radial.value, abs=0.00001)
    assert coefficient_from_shrinkage(5.0, 22) == pytest.approx(cedar.tangential.value, abs=0.00001)
    assert coefficient_from_shrinkage(5.0) != pytest.approx(cedar.tangential.value, abs=0.0001)


def test_a_known_miss_of_the_table() -> None:
    """Sycamore's 8.4 % gives 0.00297 where table 13-5 prints 0.00296: the table counts."""
    assert coefficient_from_shrinkage(8.4) == pytest.approx(0.00297, abs=0.000005)
    assert find_wood("American sycamore").tangential.value == 0.00296


@pytest.mark.parametrize(("name", "radial", "tangential"), [("mahogany", 3.0, 4.1), ("teak", 2.5, 5.8)])
def test_mahogany_and_teak_do_not_follow(name: str, radial: float, tangential: float) -> None:
    """Tables 4-4 and 13-5 disagree on them (teak's shrinkage from memory): neither gives the other."""
    wood = find_wood(name)
    pairs = [(radial, wood.radial.value), (tangential, wood.tangential.value)]
    assert all(abs(coefficient_from_shrinkage(s) - c) > 0.00002 for s, c in pairs)


@given(st.floats(1, 15), st.floats(6, 14), st.floats(50, 2000))
def test_the_green_form_agrees_at_ten_percent(shrinkage: float, end: float, width: float) -> None:
    """ΔD = D (M₂ − M₁) / (3000/S − 30 + M₁), from straight-line shrinkage, is the same from 10 %."""
    green = width * (end - 10) / (30 * 100 / shrinkage - 30 + 10)
    assert change_of_width(width, coefficient_from_shrinkage(shrinkage), 10, end) == pytest.approx(green)


@pytest.mark.parametrize("percent", [0, 30.1])
def test_there_is_no_such_shrinkage(percent: float) -> None:
    """No wood shrinks by nothing, or by more than it holds."""
    with pytest.raises(ValueError, match="no shrinkage"):
        coefficient_from_shrinkage(percent)


#: Table 13-5 as printed (2010): read on the page.
READ = {
    "red alder": (0.00151, 0.00256), "white ash": (0.00169, 0.00274), "American basswood": (0.00230, 0.00330),
    "American beech": (0.00190, 0.00431), "yellow birch": (0.00256, 0.00338), "butternut": (0.00116, 0.00223),
    "black cherry": (0.00126, 0.00248), "American chestnut": (0.00116, 0.00234),
    "American elm": (0.00144, 0.00338), "sugar maple": (0.00165, 0.00353), "red maple": (0.00137, 0.00289),
    "red oak": (0.00158, 0.00369), "white oak": (0.00180, 0.00365), "sweetgum": (0.00183, 0.00365),
    "American sycamore": (0.00172, 0.00296), "black walnut": (0.00190, 0.00274),
}  # fmt: skip
#: The same, read in transcriptions.
TRANSCRIBED = {
    "yellow-poplar": (0.00158, 0.00289), "eastern white pine": (0.00071, 0.00212),
    "mahogany": (0.00172, 0.00238),
}  # fmt: skip
#: Remembered rows, and single values: these must never be shown as a citation.
REMEMBERED = {
    ("white fir", "quarter"), ("ponderosa pine", "flat"), ("ponderosa pine", "quarter"),
    ("coast Douglas-fir", "flat"), ("coast Douglas-fir", "quarter"), ("interior north Douglas-fir", "flat"),
    ("interior north Douglas-fir", "quarter"), ("western red cedar", "flat"),
    ("western red cedar", "quarter"),
    ("teak", "quarter"),
}  # fmt: skip


@pytest.mark.parametrize(("name", "values"), [*READ.items(), *TRANSCRIBED.items()])
def test_the_table_is_copied_exactly(name: str, values: tuple[float, float]) -> None:
    """Radial and tangential coefficients are those of table 13-5, digit by digit."""
    wood = find_wood(name)
    assert (wood.radial.value, wood.tangential.value) == values
    assert {wood.radial.origin, wood.tangential.origin} == {"read" if name in READ else "transcribed"}


@pytest.mark.parametrize("cut", ["flat", "quarter"])
@pytest.mark.parametrize("wood", WOODS, ids=lambda wood: wood.name)
def test_what_is_remembered_is_never_cited(wood: Wood, cut: str) -> None:
    """A value from memory is marked so in the rows and in JSON, and no other is."""
    finding, _ = answer_movement({**ASKED, "wood": wood.name, "cut": cut})
    remembered = (wood.name, cut) in REMEMBERED
    assert finding.record["from_memory"] == (["coefficient"] if remembered else [])
    assert finding.document["marked"].get("coefficient") == ("from memory" if remembered else None)
    assert any("table 13-5" in source for source in finding.sources) is not remembered


# --- names -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("asked", "name"),
    [
        ("Eastern White Pine", "eastern white pine"),
        ("pine, eastern white", "eastern white pine"),
        ("walnut", "black walnut"),
        ("hard maple", "sugar maple"),
        ("douglas fir coast", "coast Douglas-fir"),
        ("tulipwood", "yellow-poplar"),
    ],
)
def test_woods_are_found_by_their_words(asked: str, name: str) -> None:
    """Case and order do not matter, one word will do where one wood bears it, and trade names count."""
    assert find_wood(asked).name == name


@pytest.mark.parametrize("name", ["oak", "pine", "maple", "", "plasterboard"])
def test_a_name_that_names_no_single_wood_is_refused(name: str) -> None:
    """Two oaks are named, not chosen between."""
    with pytest.raises(UnknownWood, match="no single wood"):
        find_wood(name)


@pytest.mark.parametrize(
    ("asked", "near"),
    [("oak", "red oak or white oak?"), ("oka", "red oak or white oak?"), ("wite oak", "mean white oak?"),
     ("European oak", "table of American woods"), ("zebrano", "give its own figures")],
)  # fmt: skip
def test_the_refusal_names_what_is_near(asked: str, near: str) -> None:
    """The way out stands in the sentence, slips of the pen forgiven; woods of elsewhere are told apart."""
    with pytest.raises(UnknownWood) as refused:
        find_wood(asked)
    assert near in str(refused.value)


# --- the answer --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("percents", "count"), [((6.0, 14.0), 0), ((5.9, 10.0), 1), ((8.0, 14.1), 1)])
def test_outside_6_to_14_percent_is_reported(percents: tuple[float, float], count: int) -> None:
    """The coefficients hold from 6 to 14 %, both ends included (Wood Handbook, ch. 13)."""
    assert len(moisture_problems(*percents)) == count


def test_an_estimate_is_marked_so() -> None:
    """35 to 65 % at 20 °C lies inside the band and is plain; 75 % does not and is an estimate."""
    assert answered()["marked"] == {}
    assert answered(rh="35 75")["marked"] == {"moves in all": "estimate", "from and to": "estimate"}
    assert answered(rh="35 75")["inside_6_to_14_percent"] is False


def test_the_order_of_the_seasons_does_not_matter() -> None:
    """Humidities may be given either way round."""
    assert answered(rh="65 35")["change_mm"] == answered(rh="35 65")["change_mm"] > 0


def test_rift_is_an_estimate_between_flat_and_quarter() -> None:
    """Rift-sawn takes the mean, and says that it is our estimate."""
    flat, quarter, rift = (answered(cut=cut) for cut in ("flat", "quarter", "rift"))
    assert rift["change_mm"] == pytest.approx((flat["change_mm"] + quarter["change_mm"]) / 2, abs=0.001)
    assert "estimate" in rift["marked"]["coefficient"]


def test_own_figures_take_the_place_of_the_table() -> None:
    """A coefficient or a shrinkage of one's own needs no wood of the table, and cites none."""
    own = answered(wood="medlar", coefficient="0.00365")
    assert own["change_mm"] == answered()["change_mm"]
    assert own["coefficient_source"] == "given by you"
    shrunk = answered(wood="medlar", shrinkage="8.2")
    assert shrunk["coefficient"] == pytest.approx(0.00289, abs=0.00001)
    assert all("table 13-5" not in source for source in shrunk["sources"])


def test_a_width_measured_in_between_shrinks_and_swells() -> None:
    """From where it was measured, the two ways add up to the whole."""
    record = answered(made_rh="50")
    assert record["shrinks_mm"] < 0 < record["swells_mm"]
    assert record["swells_mm"] - record["shrinks_mm"] == pytest.approx(record["change_mm"], abs=0.002)


@pytest.mark.parametrize(
    ("measure", "words"),
    [
        ("width", "450"), ("width", "0mm"), ("cut", "sideways"), ("rh", "35"), ("rh", "35 101"),
        ("rh", "a b"),
        ("temp", "20"), ("screw", "#99"), ("screw", "M7"), ("fit", "loose"), ("distance", "900mm"),
        ("shrinkage", "40"), ("months_rh", "50 60"), ("rh", "-5 65"), ("rh", "35 nan"),
        ("width", "-5mm"),
        ("width", "300,5mm"), ("width", "20001mm"), ("temp", "141C"), ("temp", "-41C"),
        ("temp", "18C 20C 22C"),
        ("made_rh", "50 60"), ("made_rh", ","), ("coefficient", "0"), ("coefficient", "0.021"),
        ("moisture", "8 11"), ("screw", "0mm"), ("screw", "31mm"), ("climate", "of the moon"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_refused(measure: str, words: str) -> None:
    """Each wrong measure ends in one sentence that names it and says how to write it."""
    with pytest.raises(BadMeasure, match=f"--{measure.replace('_', '-')} .* write it as"):
        answer_movement({**ASKED, "screw": "M4", measure: words})


@pytest.mark.parametrize(
    ("measure", "words"),
    [("rh", "0 100"), ("width", "20m"), ("temp", "-40C 140C"), ("coefficient", "0.02"), ("screw", "30mm")],
)
def test_what_is_just_inside_is_answered(measure: str, words: str) -> None:
    """The ends of every range are taken."""
    assert answer_movement({**ASKED, "screw": "M4", measure: words})[0].rows


# --- fastening ---------------------------------------------------------------------------------------


def oak(width_mm: float, dry: float, damp: float, made: float) -> Movement:
    """Give flat-sawn white oak between humidities at 20 °C."""
    return Movement(width_mm, Coefficient(0.00365, "read"), Air(dry, 20), Air(damp, 20), Air(made, 20))


def test_a_screw_at_half_the_width_travels_half_the_way() -> None:
    """Only the wood between the fixed line and the screw moves it (plain geometry)."""
    movement = oak(500, 35, 65, 50)
    slot = slot_for(movement, 250, 5.0, spare_mm=0)
    assert slot.inward_mm + slot.outward_mm == pytest.approx(movement.change_mm / 2)
    assert slot.length_mm == pytest.approx(5.0 + movement.change_mm / 2)
    assert slot_for(movement, 250, 5.0).length_mm == pytest.approx(slot.length_mm + 1.0)


def test_a_width_measured_in_the_damp_only_moves_inward() -> None:
    """Set in the dampest air, a screw never travels away from the fixed line."""
    slot = slot_for(oak(500, 35, 65, 80), 250, 5.0)
    assert slot.outward_mm == 0
    assert slot.inward_mm > 0


def test_a_machine_screw_takes_its_clearance_hole_and_a_wood_screw_its_body() -> None:
    """M5 in a medium hole is 5.5 mm (ISO 273); a wood screw has no hole of that standard."""
    assert answered(screw="M5")["slot"]["wide_mm"] == 5.5
    assert answered(screw="#8")["slot"]["wide_mm"] == pytest.approx(4.17, abs=0.01)
    assert answered(screw="M5", distance="100mm")["slot"]["distance_mm"] == 100


def test_a_slot_is_never_told_too_short() -> None:
    """In millimetres and in inches the way of the screw and the slot are rounded up."""
    finding, _ = answer_movement({**ASKED, "width": "600mm", "rh": "40 66", "screw": "M5"})
    rows = {row.label: row.value for row in finding.rows}
    record = finding.record["slot"]
    assert rows["must slide outward"].startswith("5.0 mm (7/32 in)")
    assert record["outward_mm"] == pytest.approx(300 * 0.00365 * (12.210 - 7.722), abs=0.002)
    assert rows["slot"].startswith("11.5 mm (15/32 in) long")
    assert 15 / 32 * 25.4 >= record["length_mm"] > 14 / 32 * 25.4


# --- the year ----------------------------------------------------------------------------------------


def test_a_year_follows_its_months() -> None:
    """Every month is worked out from its own air, counted from the air of the measured width."""
    airs = [Air(float(h), 20) for h in HUMIDITY.split()]
    months = year_of(600, 0.00365, airs[0], airs)
    assert months[0].width_mm == 600
    want = 600 + 600 * 0.00365 * (equilibrium_moisture(airs[7]) - equilibrium_moisture(airs[0]))
    assert months[7].width_mm == pytest.approx(want)
    with pytest.raises(ValueError, match="twelve months"):
        year_of(600, 0.00365, airs[0], airs[:11])


def test_the_seasons_are_taken_from_the_months() -> None:
    """Without humidities of its own, the question takes the driest and the dampest month."""
    given_months = {"wood": "white oak", "width": "450mm", "months_rh": HUMIDITY}
    record = answer_movement(given_months)[0].document
    assert (record["dry"]["humidity_percent"], record["damp"]["humidity_percent"]) == (40, 66)
    assert len(record["months"]) == 12
    spread = max(m["width_mm"] for m in record["months"]) - min(m["width_mm"] for m in record["months"])
    assert spread == pytest.approx(record["change_mm"], abs=0.002)


def test_the_picture_can_be_read_aloud() -> None:
    """The plot has a title and a description in words, and every month's figures stand in it as text."""
    root = etree.fromstring(plot_movement({**ASKED, "months_rh": HUMIDITY}))
    texts = ["".join(node.itertext()) for node in root.iter() if node.tag.endswith("}text")]
    kinds = [node.tag.rpartition("}")[2] for node in root]
    assert kinds[:2] == ["title", "desc"]
    assert root.get("role") == "img"
    assert "narrowest in Jan" in (root[1].text or "")
    assert "66 %" in texts
    assert "9/32 in" in texts
    assert "(17 23/32 in)" in (root[0].text or "")
    assert texts.count("Aug") == 2


def test_the_picture_keeps_its_curve_inside() -> None:
    """Points of the curve lie between the rules, the driest month on the lowest."""
    root = etree.fromstring(plot_movement({**ASKED, "months_rh": HUMIDITY}))
    line = next(node for node in root.iter() if node.tag.endswith("polyline"))
    points = [tuple(map(float, pair.split(","))) for pair in str(line.get("points")).split()]
    assert len(points) == 12
    assert max(y for _, y in points) == points[0][1]
    assert all(84 <= y <= 346 for _, y in points)


def test_the_workshops_climate_is_asked_for_by_name() -> None:
    """What cites the answer asks for the climate, so that another climate gives another answer."""
    question = {"wood": "white oak", "width": "450mm", "climate": "workshop"}
    finding, _ = answer_movement({**question, "months_rh": HUMIDITY})
    assert finding.cite == "bench:movement?wood=white+oak&width=450mm&climate=workshop"
    assert finding.document["change_mm"] == pytest.approx(450 * 0.00365 * (12.210 - 7.722), abs=0.005)
    with pytest.raises(NoClimate, match="no \\[climate\\]"):
        answer_movement(question)


def test_a_question_without_months_has_no_picture() -> None:
    """There is nothing to draw, and it says what is missing."""
    with pytest.raises(BadMeasure, match="twelve months"):
        plot_movement(ASKED)


def test_a_title_cannot_break_the_picture() -> None:
    """A wood's name of one's own is quoted."""
    text = plot_movement({**ASKED, "wood": "<b>&", "coefficient": "0.002", "months_rh": HUMIDITY})
    assert (etree.fromstring(text)[0].text or "").startswith("<b>&")
