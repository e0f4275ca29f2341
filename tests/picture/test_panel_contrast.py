"""Contrast by the W3C's formula, and where a panel may stand in a picture."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.picture.contrast import BOARDS, FIELDS, LEAST_CONTRAST, Colour, contrast, luminance
from reelnotes.picture.refusals import PictureOdd
from reelnotes.picture.safe_area import Area, captions_at, check_shape, line_width, text_safe

BYTE = st.integers(0, 255)


def colour(text: str) -> Colour:
    """Read a colour written as on the web."""
    red, green, blue = bytes.fromhex(text.lstrip("#"))
    return red, green, blue


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        ("#000000", "#FFFFFF", 21.0),
        ("#FFFFFF", "#FFFFFF", 1.0),
        ("#777777", "#FFFFFF", 4.4781),
        ("#767676", "#FFFFFF", 4.5422),
        ("#595959", "#FFFFFF", 7.0047),
        ("#5A5A5A", "#FFFFFF", 6.8969),
        ("#FFFF00", "#000000", 19.5560),
        ("#FF0000", "#FFFFFF", 3.9985),
        ("#0000FF", "#FFFFFF", 8.5925),
        ("#FFA500", "#000000", 10.6341),
    ],
)
def test_contrast_of_known_pairs(one: str, other: str, ratio: float) -> None:
    """W3C, WCAG 2.2, 'contrast ratio': values computed from its formula by hand, to four digits."""
    assert contrast(colour(one), colour(other)) == pytest.approx(ratio, abs=1e-4)
    assert contrast(colour(other), colour(one)) == contrast(colour(one), colour(other))


@pytest.mark.parametrize(
    ("text", "light"), [("#FF0000", 0.2126), ("#00FF00", 0.7152), ("#0000FF", 0.0722), ("#808080", 0.215861)]
)
def test_luminance_of_known_colours(text: str, light: float) -> None:
    """W3C, WCAG 2.2, 'relative luminance'."""
    assert float(luminance(np.array(colour(text), np.uint8))) == pytest.approx(light, abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(st.tuples(BYTE, BYTE, BYTE), st.tuples(BYTE, BYTE, BYTE))
def test_contrast_lies_between_1_and_21(one: Colour, other: Colour) -> None:
    """No pair of colours leaves the range that the formula has."""
    assert 1 <= contrast(one, other) <= 21 + 1e-9


@pytest.mark.parametrize("paint", [*FIELDS.values(), *(board.paint for board in BOARDS.values())], ids=str)
def test_every_pair_of_ours_reaches_seven(paint: object) -> None:
    """The settings at least promise what the drawn pixels are held to elsewhere."""
    assert contrast(paint.ground, paint.letters) >= LEAST_CONTRAST  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("size", "box"),
    [
        ((1920, 1080), (96, 54, 1728, 972)),
        ((3840, 2160), (192, 108, 3456, 1944)),
        ((1280, 720), (64, 36, 1152, 648)),
        ((1080, 1920), (54, 96, 972, 1728)),
    ],
)
def test_the_safe_area_of_usual_pictures(size: tuple[int, int], box: tuple[int, int, int, int]) -> None:
    """EBU R 95 and SMPTE ST 2046-1: 5 % in from every edge, which leaves 90 % of width and height."""
    safe = text_safe(*size)
    assert (safe.left, safe.top, safe.width, safe.height) == box


@pytest.mark.parametrize(
    ("size", "width"), [((1920, 1080), 1305), ((1080, 1920), 972), ((1440, 1080), 1296), ((2560, 1080), 1305)]
)
def test_the_width_of_a_line(size: tuple[int, int], width: int) -> None:
    """BBC Subtitle Guidelines, 3.1: 68 % of a 16:9 picture (1305.6 of 1920), 90 % of 4:3, 1:1 and 9:16."""
    assert line_width(*size) == width


def test_captions_take_two_lines_or_three() -> None:
    """BBC Subtitle Guidelines, 3.3: a line is sized as 8 % of the height, three of them as 24 %."""
    wide, upright = captions_at(1920, 1080), captions_at(1080, 1920)
    assert (wide.top, wide.bottom) == (1080 - 54 - 173, 1080)
    assert (upright.top, upright.bottom) == (1920 - 96 - 461, 1920)


def test_areas_meet_only_where_they_share_a_pixel() -> None:
    """Right and bottom are not part of an area."""
    assert not Area(0, 0, 10, 10).meets(Area(10, 0, 20, 10))
    assert not Area(0, 0, 10, 10).meets(Area(0, 10, 10, 20))
    assert Area(0, 0, 10, 10).meets(Area(9, 9, 20, 20))


@pytest.mark.parametrize("size", [(90, 90), (16384, 4096), (360, 90), (540, 1260)])
def test_shapes_just_inside_are_taken(size: tuple[int, int]) -> None:
    """90 pixels each way and 9:21 to 4:1 are still panels' pictures."""
    check_shape(*size)


@pytest.mark.parametrize("size", [(89, 90), (90, 89), (16385, 5000), (361, 90), (539, 1260), (0, 0)])
def test_shapes_beyond_are_refused(size: tuple[int, int]) -> None:
    """One pixel further is refused in one sentence that names the size."""
    with pytest.raises(PictureOdd, match=rf"{size[0]}×{size[1]}"):
        check_shape(*size)


@settings(max_examples=40, deadline=None)
@given(st.integers(90, 4000), st.fractions(Fraction(9, 21), Fraction(4)))
def test_safe_area_and_captions_part_any_picture(height: int, shape: Fraction) -> None:
    """Whatever the size: the safe area leaves 5 %, the captions' place reaches down to the edge."""
    width = round(height * shape)
    safe, captions = text_safe(width, height), captions_at(width, height)
    assert safe.left >= Fraction(width, 20)
    assert width - safe.right >= Fraction(width, 20)
    assert safe.top >= Fraction(height, 20)
    assert height - safe.bottom >= Fraction(height, 20)
    assert captions.bottom == height
    assert safe.top < captions.top < safe.bottom
