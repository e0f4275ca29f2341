"""Pulls: places by plain geometry, holes of ISO 273, and a template measured on the rendered page."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import numpy as np
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from reelnotes.bench.drawing import Drawing, Words, drawing_pdf, drawing_svg
from reelnotes.bench.pulls import (
    LEAST_WOOD_MM,
    Front,
    Hole,
    Pull,
    meetings,
    place_pull,
    pull_middles,
    spacing_problems,
)
from reelnotes.bench.pulls_answer import NoRoom, answer_pulls, template_for
from reelnotes.bench.units import BadMeasure

ASKED = {"front": "700x150mm", "spacing": "96mm", "pull": "130x40mm", "holes_below_top": "12mm"}
FRONT, PULL = Front(700, 150), Pull(96, 130, 40, 12)


def answered(**more: str) -> dict[str, Any]:
    """Give the record of a question of pulls."""
    return answer_pulls({**ASKED, **more})[0].document


def codes(**more: str) -> list[str]:
    """Give the problems of a question of pulls."""
    return [problem.code for problem in answer_pulls({**ASKED, **more})[1]]


# --- places ------------------------------------------------------------------------------------------


def test_the_middle_of_the_pull_is_centred_and_its_holes_follow() -> None:
    """Holes 12 mm below the top of a pull 40 mm high sit 8 mm above the middle of the front."""
    pull = answered()["fronts"][0]["pulls"][0]
    assert pull["middle_mm"] == [350, 75]
    assert pull["holes_mm"] == [[302, 67], [398, 67]]


def test_a_margin_counts_from_the_top_of_the_pull() -> None:
    """45 mm to the pull's top edge puts holes 12 mm further down at 57 mm."""
    pull = answered(place="margin 45mm")["fronts"][0]["pulls"][0]
    assert (pull["top_mm"], pull["holes_mm"][0][1]) == (45, 57)


def test_a_share_counts_to_the_middle_of_the_pull() -> None:
    """At 0.4 of 150 mm the middle lies at 60 mm; 40 % is the same."""
    assert answered(place="share 0.4")["fronts"][0]["pulls"][0]["middle_mm"][1] == 60
    assert answered(place="share 40%")["fronts"] == answered(place="share 0.4")["fronts"]


def test_a_row_of_drawers_follows_its_rule() -> None:
    """By margin the holes keep their distance from the top; by centre they keep to the middle."""
    fronts = "700x150mm,700x180mm,700x220mm"
    by_margin = [
        f["pulls"][0]["holes_mm"][0][1] for f in answered(front=fronts, place="margin 45mm")["fronts"]
    ]
    by_centre = [f["pulls"][0]["middle_mm"][1] for f in answered(front=fronts)["fronts"]]
    assert by_margin == [57, 57, 57]
    assert by_centre == [75, 90, 110]


def test_two_pulls_stand_as_mirror_images() -> None:
    """A quarter in from either side, or where they are asked for."""
    assert pull_middles(FRONT, 2) == (175, 525)
    assert pull_middles(FRONT, 2, 120) == (120, 580)
    with pytest.raises(ValueError, match="two inside"):
        pull_middles(FRONT, 2, 351)
    with pytest.raises(ValueError, match="two inside"):
        pull_middles(FRONT, 3)


def test_a_knob_has_one_hole() -> None:
    """Without a spacing there is one hole, in the middle."""
    assert answered(spacing="0", pull="", holes_below_top="")["fronts"][0]["pulls"][0]["holes_mm"] == [
        [350, 75]
    ]


@pytest.mark.parametrize(("place", "count"), [("margin 110mm", 0), ("margin 110.1mm", 1), ("share 0.1", 1)])
def test_a_pull_that_overhangs_its_front_is_reported(place: str, count: int) -> None:
    """A pull of 40 mm fits below a margin of 110 mm on 150 mm, and not below a wider one."""
    assert codes(place=place).count("bench-place") == count


@given(st.floats(200, 900), st.floats(80, 400), st.floats(0, 160), st.floats(0, 1))
def test_holes_keep_their_spacing(width: float, height: float, spacing: float, share: float) -> None:
    """Wherever a pull goes, its holes stay level and as far apart as they are on the pull."""
    placed, _ = place_pull(Front(width, height), Pull(spacing), width / 2, 4.5, rule="share", value=share)
    xs = [hole.x_mm for hole in placed.holes]
    assert max(xs) - min(xs) == pytest.approx(spacing)
    assert len({hole.y_mm for hole in placed.holes}) == 1


# --- bits --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fit", "bit", "play"), [("fine", 4.3, 0.3), ("medium", 4.5, 0.5), ("coarse", 4.8, 0.8)]
)
def test_the_bit_is_the_clearance_hole(fit: str, bit: float, play: float) -> None:
    """M4 in fine, medium and coarse holes (ISO 273), with the play that each gives."""
    record = answered(fit=fit)
    assert (record["bit_mm"], record["play_mm"]) == (bit, play)


# --- old holes ---------------------------------------------------------------------------------------


def state(x: float, y: float, diameter: float = 5.0) -> str:
    """Say how an old hole meets the left new one, at 302, 67 mm, drilled 4.5 mm for M4."""
    placed, _ = place_pull(FRONT, PULL, 350, 4.5, rule="centre")
    return meetings(placed, PULL, [Hole(x, y, diameter)], 4.0)[0].state


def test_an_old_hole_is_reused_where_the_screw_finds_its_place_in_it() -> None:
    """M4 in an old 5 mm hole has 0.5 mm to move: half a millimetre off is reused, more is a clash."""
    assert state(302.5, 67) == "reuse"
    assert state(302.51, 67) == "clash"


def test_holes_that_break_into_each_other_clash() -> None:
    """Edges touch at 4.75 mm between the middles; nearer is a clash, and from there on thin wood."""
    assert state(302 + 4.74, 67) == "clash"
    assert state(302 + 4.75, 67) == "thin"


def test_thin_wood_is_reported_and_enough_is_not() -> None:
    """Less than 3 mm between the edges is thin (common practice, no source)."""
    enough = 302 + 4.75 + LEAST_WOOD_MM
    assert state(enough - 0.01, 67) == "thin"
    assert state(enough, 67) == "clear"
    assert codes(old="306x67x5mm").count("bench-clash") == 1
    assert "bench-clash" not in codes(old="302x67x5mm,350x120x5mm")


def test_an_old_hole_is_hidden_only_when_it_is_covered_whole() -> None:
    """The outline covers 285 to 415 mm and 55 to 95 mm; a hole of 5 mm needs 2.5 mm more."""
    placed, _ = place_pull(FRONT, PULL, 350, 4.5, rule="centre")
    old = [Hole(350, 92.5, 5), Hole(350, 92.6, 5), Hole(287.5, 75, 5), Hole(287.4, 75, 5)]
    hidden = [meeting.hidden for meeting in meetings(placed, PULL, old, 4.0)][: len(old)]
    assert hidden == [True, False, True, False]


def test_old_holes_of_a_metric_pull_serve_an_inch_one_with_enough_play() -> None:
    """96 mm holes of 5 mm take a 3 3/4 in pull: each is 0.375 mm out, within M4's 0.5 mm."""
    record = answered(spacing="3 3/4in", old="302x67x5mm,398x67x5mm")
    assert [m["state"] for m in record["old_holes"]].count("reuse") == 2


# --- inch names and metric spacings --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("asked", "twin", "apart"),
    [("95.25", "96 mm", "0.75"), ("127", "128 mm", "1.00"), ("128.5875", "128 mm", "0.59"),
     ("160.3375", "160 mm", "0.34"), ("158.75", "160 mm", "1.25"), ("76", "3 in", "0.20"),
     ("89", "3 1/2 in", "0.10")],
)  # fmt: skip
def test_nicknames_are_told_from_sizes(asked: str, twin: str, apart: str) -> None:
    """3 3/4 in is not 96 mm, 5 in is not 128 mm, 6 1/4 in is not 160 mm, 76 mm is not 3 in (computed)."""
    message = spacing_problems(Fraction(asked))[0].message
    assert "not the same hole spacing" in message
    assert twin in message
    assert f"{apart} mm apart" in message


@pytest.mark.parametrize(
    ("spacing", "words"),
    [
        ("96mm", "3 3/4 in, which is 0.75 mm less: not the same holes"),
        ("128mm", "5 in, which is 1.00 mm less; 5 1/16 in, which is 0.59 mm more: not the same holes"),
        ("160mm", "6 5/16 in, which is 0.34 mm more; 6 1/4 in, which is 1.25 mm less: not the same holes"),
    ],
)
def test_a_metric_spacing_tells_its_nicknames(spacing: str, words: str) -> None:
    """What it is often called (common practice), and by how much that is another length (computed)."""
    finding, _ = answer_pulls({**ASKED, "spacing": spacing, "pull": "200x40mm"})
    assert {row.label: row.value for row in finding.rows}["often called"] == words
    assert finding.document["marked"]["often called"] == "common practice, no source"


@pytest.mark.parametrize("mm", ["96", "128", "76.2", "101.6", "110"])
def test_a_size_without_a_twin_is_left_alone(mm: str) -> None:
    """96 mm itself, 128, 3 in, 4 in, and a size that is near none."""
    assert spacing_problems(Fraction(mm)) == []


def test_remembered_sizes_are_marked() -> None:
    """64 mm is from memory, 96 mm is seen in the trade; metric sizes are multiples of 32 mm."""
    assert answered(spacing="64mm")["from_memory"] == ["spacing_mm"]
    assert answered(spacing="64mm")["marked"]["hole to hole"] == "from memory"
    assert answered(spacing="96mm")["from_memory"] == []
    assert 128 % 32 == 96 % 32 == 0


@pytest.mark.parametrize(
    ("measure", "words"),
    [
        ("front", "700mm"), ("front", ""), ("front", "700x150"), ("spacing", ""), ("place", "margin"),
        ("place", "low"), ("count", "3"), ("inset", "-5mm"), ("screw", "#8"), ("fit", "tight"),
        ("old", "302x70mm"),
        ("holes_below_top", "50mm"), ("front", "0x150mm"), ("pull", "95x40mm"), ("pull", "130x0mm"),
        ("place", "share 1"), ("place", "share -0.1"), ("old", "302x70x0mm"), ("old", "701x70x5mm"),
        ("count", "1.5"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_refused(measure: str, words: str) -> None:
    """Each wrong measure ends in one sentence that names it and says how to write it."""
    with pytest.raises(BadMeasure, match=f"--{measure.replace('_', '-')} .* write it as"):
        answer_pulls({**ASKED, measure: words})


@pytest.mark.parametrize(
    ("more", "places"),
    [
        ({"spacing": "695mm", "pull": "", "holes_below_top": ""}, None),
        ({"spacing": "696mm", "pull": "", "holes_below_top": ""}, "2.0 and 698.0 mm from its left edge"),
        ({"place": "margin 135.75mm"}, None),
        ({"place": "margin 136mm"}, "148.0 mm from its top"),
        ({"front": "700x150mm,700x20mm", "place": "margin 30mm"}, "front 2, 700 by 20 mm"),
    ],
)
def test_holes_off_the_front_are_refused(more: dict[str, str], places: str | None) -> None:
    """A hole of 4.5 mm needs 2.25 mm to every edge; a pull that only overhangs is reported instead."""
    if places is None:
        assert answered(**more)["fronts"]
        return
    with pytest.raises(NoRoom, match=places):
        answered(**more)


# --- the template ------------------------------------------------------------------------------------

PIXELS_PER_MM = 10


def rendered(pdf: bytes) -> np.ndarray[Any, Any]:
    """Let PDFium draw the page at ten pixels to the millimetre; True where there is ink."""
    page = pypdfium2.PdfDocument(pdf)[0]
    image = page.render(scale=PIXELS_PER_MM * 25.4 / 72, grayscale=True).to_numpy()
    return np.asarray(image).reshape(image.shape[:2]) < 160


def longest_run(row: np.ndarray[Any, Any]) -> int:
    """Give the length of the longest unbroken run of ink."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], row.astype(int), [0]))))
    return int(max(edges[1::2] - edges[::2], default=0))


@pytest.mark.parametrize(("paper", "size"), [("a4", (297, 210)), ("letter", (279.4, 215.9))])
def test_the_page_is_as_large_as_its_paper(paper: str, size: tuple[float, float]) -> None:
    """PDFium reads A4 (ISO 216) or letter from the file, to 0.01 mm, and SVG says the same."""
    drawing = template_for(ASKED, paper)
    document = pypdfium2.PdfDocument(drawing_pdf(drawing))
    assert tuple(points * 25.4 / 72 for points in document.get_page_size(0)) == pytest.approx(size, abs=0.01)
    root = etree.fromstring(drawing_svg(drawing))
    assert (root.get("width"), root.get("height")) == tuple(f"{side:g}mm" for side in size)
    assert root.get("viewBox") == f"0 0 {size[0]:g} {size[1]:g}"


def test_the_scale_bars_measure_what_they_say() -> None:
    """On the rendered page the bars along the bottom are 100.0 mm and 101.6 mm long, the side one 100.0."""
    ink = rendered(drawing_pdf(template_for(ASKED)))
    bottom = ink[round((210 - 14) * PIXELS_PER_MM)]
    left, right = bottom[: 130 * PIXELS_PER_MM], bottom[135 * PIXELS_PER_MM :]
    assert longest_run(left) / PIXELS_PER_MM == pytest.approx(100.0, abs=0.4)
    assert longest_run(right) / PIXELS_PER_MM == pytest.approx(101.6, abs=0.4)
    side = ink[:, round((297 - 18) * PIXELS_PER_MM)]
    assert longest_run(side) / PIXELS_PER_MM == pytest.approx(100.0, abs=0.4)


def test_the_holes_are_where_they_were_worked_out() -> None:
    """On the rendered page the middles of the crosses lie 96.0 mm apart and 67.0 mm below the edge line."""
    ink = rendered(drawing_pdf(template_for(ASKED)))
    edge = int(np.argmax(ink[200:300].sum(axis=1))) + 200
    level = edge + 67 * PIXELS_PER_MM
    row = np.asarray(ink[level - 3 : level + 4].any(axis=0))
    crosses = []
    for x in (302 - 350, 398 - 350):
        near = round((297 / 2 + x) * PIXELS_PER_MM)
        column = ink[level - 60 : level + 60, near - 30 : near + 30].sum(axis=0)
        crosses.append(near - 30 + int(np.argmax(column)))
    assert (crosses[1] - crosses[0]) / PIXELS_PER_MM == pytest.approx(96.0, abs=0.2)
    assert row[crosses].all()


def test_the_template_says_what_becomes_of_old_holes() -> None:
    """One that the screw can use, one that breaks into a new hole, one that is out of the way."""
    drawing = template_for({**ASKED, "old": "302x67x5mm,401x67x5mm,350x90x5mm"})
    words = [shape.text for shape in drawing.shapes if isinstance(shape, Words)]
    assert [text for text in words if text.startswith("old")] == ["old: use it", "old: plug it", "old"]
    assert "seen from outside" in " ".join(words)


def test_a_pull_wider_than_the_paper_gets_half_a_template() -> None:
    """320 mm do not fit on A4: the right half is drawn, and the words say to turn it over."""
    wide = template_for({"front": "900x200mm", "spacing": "320mm"})
    words = " ".join(shape.text for shape in wide.shapes if isinstance(shape, Words))
    assert "turn it over on the middle line" in words
    whole = template_for(ASKED)
    assert "turn it over" not in " ".join(s.text for s in whole.shapes if isinstance(s, Words))


@pytest.mark.parametrize(
    ("front", "place", "words"),
    [
        ("700x150mm", "centre", "Lay this to the top edge of the front"),
        ("700x600mm", "share 0.9", "Lay this to the bottom edge of the front"),
        ("700x600mm", "centre", "Lay this to the line drawn"),
    ],
)
def test_the_template_is_laid_to_what_is_in_reach(front: str, place: str, words: str) -> None:
    """The top edge, else the bottom edge, else a line at a stated distance."""
    drawing = template_for({**ASKED, "front": front, "place": place})
    assert any(shape.text.startswith(words) for shape in drawing.shapes if isinstance(shape, Words))


@pytest.mark.parametrize("front", ["700x150mm", "700x600mm", "700x900mm", "340x2000mm"])
@pytest.mark.parametrize("place", ["margin 20mm", "centre", "share 0.8"])
def test_everything_stays_on_the_paper(front: str, place: str) -> None:
    """No line, hole or word starts outside the page, whatever is asked."""
    drawing = template_for({**ASKED, "front": front, "place": place})
    for shape in drawing.shapes:
        places = [
            (getattr(shape, x), getattr(shape, y))
            for x, y in (("x", "y"), ("x1", "y1"), ("x2", "y2"))
            if hasattr(shape, x)
        ]
        assert all(0 <= x <= drawing.width_mm and 0 <= y <= drawing.height_mm for x, y in places)


def test_the_pdf_asks_not_to_be_scaled_and_holds_its_words() -> None:
    """PrintScaling is None (ISO 32000-1), and the text can be searched and read aloud."""
    pdf = drawing_pdf(template_for(ASKED))
    assert b"/PrintScaling /None" in pdf
    text = pypdfium2.PdfDocument(pdf)[0].get_textpage().get_text_bounded()
    assert "Print at 100 %" in text
    assert "96 mm apart" in text


@given(st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=30))
def test_no_words_can_break_a_drawing(words: str) -> None:
    """Brackets, backslashes, markup and letters that Helvetica lacks leave the page whole."""
    drawing = Drawing(100, 50, words, words, (Words(5, 20, words),))
    document = pypdfium2.PdfDocument(drawing_pdf(drawing))
    assert len(document) == 1
    assert document.get_metadata_value("Title") == words.replace("\x00", "")
    texts = [
        node.text or ""
        for node in etree.fromstring(drawing_svg(drawing)).iter()
        if node.tag.endswith("}text")
    ]
    assert texts == [words]


def test_a_circle_is_round() -> None:
    """The rendered hole of 4.5 mm is as wide as it is high, to a tenth of a millimetre."""
    ink = rendered(drawing_pdf(template_for({"front": "200x100mm", "spacing": "0", "screw": "M12"})))
    middle = (round(297 / 2 * PIXELS_PER_MM), 740)
    y, x = np.nonzero(ink[middle[1] - 68 : middle[1] + 68, middle[0] - 68 : middle[0] + 68])
    reach = np.hypot(y - 68, x - 68) / PIXELS_PER_MM
    ring = reach[(reach > 6.0) & (reach < 7.2)]
    assert math.isclose(float(np.median(ring)), 13.5 / 2, abs_tol=0.15)
