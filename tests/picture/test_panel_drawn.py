"""Panels as they are drawn, looked at pixel by pixel."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
import pytest

from reelnotes.model import Card, Insert, RecordKind, SignalWord
from reelnotes.picture.contrast import BOARDS, FIELDS, Colour, contrast
from reelnotes.picture.face import TEXT_FONT, Face
from reelnotes.picture.panel import Press
from reelnotes.picture.safe_area import Area, captions_at, text_safe
from reelnotes.picture.typeset import FIELD, SIDE, TOP, SetCard, SetInsert, field_width
from reelnotes.settings import PanelSettings
from reelnotes.timing import Span, frames_to_ms, ms_to_frames

Image = pytest.importorskip("PIL.Image", reason="the library that draws panels is not installed")

Grid = npt.NDArray[np.uint8]
SIZES = [(1920, 1080), (1080, 1920), (1440, 1080), (1080, 1080), (1280, 720), (720, 576), (640, 360)]
SIGNALS: list[SignalWord] = ["DANGER", "WARNING", "CAUTION", "NOTICE"]
GUARD = (
    ("Wrong here: cutting the moulding", "with the guard off."),
    ("The blade can catch the work", "and pull your hand in."),
    ("Instead: stop the saw, unplug it,", "put the guard back."),
)


def an_insert(*cards: tuple[str, ...], signal: SignalWord | None = "WARNING", each_ms: int = 4000) -> Insert:
    """Make an insert that starts at 10 s, its cards one after the other."""
    kind: RecordKind = "correction" if signal else "disclosure"
    made = tuple(
        Card(lines, signal, 10_000 + number * each_ms, 10_000 + (number + 1) * each_ms, "guard-off")
        for number, lines in enumerate(cards or GUARD)
    )
    return Insert("guard-off", kind, signal, Span(10_000, 20_000), made)


@cache
def press(size: tuple[int, int], ground: Literal["dark", "light"] = "dark") -> Press:
    return Press(size, PanelSettings(ground=ground))


def drawn(size: tuple[int, int], insert: Insert | None = None, number: int = 0) -> tuple[SetInsert, Grid]:
    """Give an insert set in type, and one card as its PNG is read by Pillow."""
    done, problems = press(size).typeset(insert or an_insert(), Fraction(25))
    assert problems == []
    return done, read_png(press(size).png(done, done.cards[number]))


def read_png(raw: bytes) -> Grid:
    image = Image.open(io.BytesIO(raw))
    assert image.mode == "RGBA"
    return np.array(image)


def over(panel: Grid, ground: Grid) -> Grid:
    """Lay a panel with straight opacity over a picture, as an editing program does."""
    alpha = panel[..., 3:] / 255
    return np.rint(panel[..., :3] * alpha + ground * (1 - alpha)).astype(np.uint8)


def grounds(size: tuple[int, int]) -> Iterator[Grid]:
    """Give a light, a dark and a busy picture."""
    wide, high = size
    yield np.full((high, wide, 3), 250, np.uint8)
    yield np.full((high, wide, 3), 6, np.uint8)
    yield np.random.default_rng(5).integers(0, 256, (high, wide, 3), np.uint8)


def pieces(ink: npt.NDArray[np.bool_]) -> list[list[tuple[int, int]]]:
    """Part ink into what hangs together, corners counted: a letter, or a part of one."""
    left = {(int(y), int(x)) for y, x in zip(*np.nonzero(ink), strict=True)}
    found = []
    while left:
        edge, piece = [left.pop()], []
        while edge:
            y, x = edge.pop()
            piece.append((y, x))
            for near in ((y + dy, x + dx) for dy in (-1, 0, 1) for dx in (-1, 0, 1)):
                if near in left:
                    left.remove(near)
                    edge.append(near)
        found.append(piece)
    return found


def commonest(part: Grid) -> Colour:
    """Give the colour of most pixels: the ground on which something is written."""
    ((red, green, blue), _), *_ = Counter(map(tuple, part.reshape(-1, 3).tolist())).most_common(1)
    return red, green, blue


def weakest(part: Grid) -> tuple[float, int]:
    """Give the contrast of the letter that stands out least from its ground, and how many there are.

    A letter stands out as much as its most contrasting pixel does; specks of less than four pixels, which
    smoothing leaves between two letters, are no letters.
    """
    ground = commonest(part)
    ink = (part.astype(int) - np.array(ground)) != 0
    letters = [piece for piece in pieces(ink.any(2)) if len(piece) >= 4]
    reached = []
    for piece in letters:
        colours = {tuple(part[y, x].tolist()) for y, x in piece}
        reached.append(max(contrast((int(r), int(g), int(b)), ground) for r, g, b in colours))
    return min(reached), len(reached)


def words_part(done: SetInsert, picture: Grid) -> Grid:
    """Cut out the rows of the words, inside the inlaid line."""
    box, side = done.box, round(0.4 * done.size)
    has_head = done.insert.signal is not None or done.lozenges
    top = box.top + round((TOP + (FIELD + 0.2 if has_head else -0.1)) * done.size)
    return picture[top : box.bottom - side, box.left + side : box.right - side]


def field_part(done: SetInsert, picture: Grid) -> Grid:
    """Cut out the inside of the field of the signal word."""
    size, box = done.size, done.box
    left, top = box.left + (SIDE + 0.22) * size, box.top + (TOP + 0.04) * size
    right = box.left + SIDE * size + field_width(done.insert, size, press(done.shown)._faces[1]) - 0.22 * size
    return picture[round(top) : round(top + (FIELD - 0.08) * size), round(left) : round(right)]


# --- contrast ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("ground", ["dark", "light"])
def test_every_letter_stands_out_on_any_picture(
    size: tuple[int, int], ground: Literal["dark", "light"]
) -> None:
    """Each letter drawn has a contrast of 7:1 to what is drawn around it (W3C, WCAG 2.2, 1.4.6)."""
    done, problems = press(size, ground).typeset(an_insert(), Fraction(25))
    assert problems == []
    panel = read_png(press(size, ground).png(done, done.cards[1]))
    on_light, *on_others = (words_part(done, over(panel, picture)) for picture in grounds(size))
    assert all((on_light == part).all() for part in on_others)
    assert commonest(on_light) == BOARDS[ground].paint.ground
    least, count = weakest(on_light)
    assert least >= 7
    assert count >= 35


@pytest.mark.parametrize("signal", SIGNALS)
@pytest.mark.parametrize("size", SIZES, ids=str)
def test_the_signal_word_stands_out_from_its_field(size: tuple[int, int], signal: SignalWord) -> None:
    """Signal word and alert symbol have a contrast of 7:1 to the field they stand in."""
    done, panel = drawn(size, an_insert(signal=signal))
    part = field_part(done, over(panel, next(grounds(size))))
    assert commonest(part) == FIELDS[signal].ground
    assert weakest(part)[0] >= 7


def test_the_look_at_contrast_would_notice() -> None:
    """A letter of 6.9:1 is seen to fall short among others that do not."""
    part = np.full((20, 40, 3), 255, np.uint8)
    part[5:15, 5:10] = 0x59
    assert weakest(part)[0] == pytest.approx(7.0047, abs=1e-4)
    part[5:15, 20:25] = 0x5A
    assert weakest(part)[0] == pytest.approx(6.8969, abs=1e-4)
    assert weakest(part)[1] == 2


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_the_box_is_solid(size: tuple[int, int]) -> None:
    """Inside its chamfered edge the box lets nothing of the picture through."""
    done, panel = drawn(size)
    box, corner = done.box, round(0.5 * done.size)
    assert (panel[box.top + 1 : box.bottom - 1, box.left + corner : box.right - corner, 3] == 255).all()
    assert (panel[box.top + corner : box.bottom - corner, box.left + 1 : box.right - 1, 3] == 255).all()


def test_letters_too_faint_are_reported_and_just_solid_ones_are_not() -> None:
    """In a picture so small that strokes fade into the ground, that is said; in a larger one it is not."""
    tiny, problems = press((100, 101)).typeset(an_insert(), None)
    assert {problem.code for problem in problems} == {"panel-faint"}
    assert (
        weakest(
            words_part(
                tiny, over(read_png(press((100, 101)).png(tiny, tiny.cards[1])), next(grounds((100, 101))))
            )
        )[0]
        < 7
    )
    assert press((160, 160)).typeset(an_insert(), None)[1] == []


# --- symbol ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("signal", "count"), [("DANGER", 7), ("WARNING", 8), ("CAUTION", 8), ("NOTICE", 6)])
def test_the_alert_symbol_is_never_with_notice(signal: SignalWord, count: int) -> None:
    """ANSI Z535.4: the symbol stands with DANGER, WARNING and CAUTION; NOTICE has its six letters alone."""
    done, panel = drawn((1920, 1080), an_insert(signal=signal))
    part = field_part(done, over(panel, next(grounds((1920, 1080)))))
    letters = np.array(FIELDS[signal].letters)
    solid = (np.abs(part.astype(int) - letters) < 60).all(2)
    found = sorted((piece for piece in pieces(solid) if len(piece) > 20), key=lambda p: min(x for _, x in p))
    assert len(found) == count
    rows = [y for y, _ in found[0]]
    widths = [sum(1 for y, _ in found[0] if y == row) for row in (min(rows) + 2, max(rows) - 2)]
    assert (widths[1] > 5 * widths[0]) == (signal != "NOTICE"), "a triangle stands on its broad side"


def test_a_disclosure_has_no_signal_word() -> None:
    """What discloses a gift is no hazard: the words stand alone."""
    done, panel = drawn((1920, 1080), an_insert(("The paint was given to us.",), signal=None))
    colours = set(map(tuple, panel[panel[..., 3] == 255][:, :3].tolist()))
    assert not colours & {paint.ground for paint in FIELDS.values()}
    assert not done.lozenges


# --- place and size ------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("side", ["left", "middle", "right"])
def test_nothing_is_drawn_outside_the_safe_area_or_over_captions(
    size: tuple[int, int], side: Literal["left", "middle", "right"]
) -> None:
    """Every pixel with any ink lies 5 % in from the edges and above the place of spoken captions."""
    one = Press(size, PanelSettings(side=side))
    done, _ = one.typeset(an_insert(), Fraction(25))
    for card in done.cards:
        alpha = read_png(one.png(done, card))[..., 3]
        assert alpha.shape == size[::-1]
        rows, columns = np.flatnonzero(alpha.any(1)), np.flatnonzero(alpha.any(0))
        area = Area(int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1)
        safe = text_safe(*size)
        assert safe.left <= area.left
        assert safe.top <= area.top
        assert area.right <= safe.right
        assert not area.meets(captions_at(*size))
    across = {"left": done.box.left == safe.left, "right": done.box.right == safe.right}
    assert across.get(side, abs((done.box.left + done.box.right) - size[0]) <= 1)


def test_longer_words_fill_at_most_two_fifths_of_the_height() -> None:
    """However much stands on a card, a box leaves three fifths of the picture free, upright a little less."""
    for size in SIZES:
        done, _ = press(size).typeset(an_insert(("so many words that need room " * 8,)), None)
        assert done.box.height <= size[1] * (0.4 if size[0] >= size[1] else 0.45)


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("words", ["lg", "lg " * 120])
def test_text_is_at_least_a_22nd_of_the_height(size: tuple[int, int], words: str) -> None:
    """From above an l to below a g, as drawn, on a card of few and one of many words."""
    done, problems = press(size).typeset(an_insert((words.strip(),)), Fraction(25))
    assert problems == []
    rows = np.flatnonzero((press(size).words(done, SetCard(("lg",), 0, 1000, 1, 1))[..., 3] > 0).any(1))
    assert (rows[-1] - rows[0] + 1) * 22 >= size[1]


@pytest.mark.parametrize("size", [size for size in SIZES if size[0] >= size[1]], ids=str)
def test_where_there_is_room_a_capital_alone_is_a_22nd(size: tuple[int, int]) -> None:
    """In wide and square pictures capital letters and signal word are 1/22 of the height by themselves."""
    done, _ = press(size).typeset(an_insert(("HE SAID",)), Fraction(25))
    card = press(size).words(done, done.cards[0])[..., 3] > 40
    rows = np.flatnonzero(card.any(1))
    assert (rows[-1] - rows[0] + 1) * 22 >= size[1]
    panel = read_png(press(size).png(done, done.cards[0]))
    part = field_part(done, over(panel, next(grounds(size))))
    word = part[:, part.shape[1] // 2 :]
    solid = (np.abs(word.astype(int) - np.array(FIELDS["WARNING"].letters)) < 110).all(2)
    rows = np.flatnonzero(solid.any(1))
    assert (rows[-1] - rows[0] + 2) * 22 >= size[1]


def test_one_insert_has_one_size_and_one_box() -> None:
    """Cards of one insert differ in their words alone, so that nothing jumps."""
    done, first = drawn((1920, 1080))
    _, second = drawn((1920, 1080), number=1)
    box = done.box
    outside = np.ones(first.shape[:2], bool)
    outside[box.top : box.bottom, box.left : box.right] = False
    assert (first[outside] == second[outside]).all()
    assert field_part(done, first[..., :3]).tolist() == field_part(done, second[..., :3]).tolist()
    assert words_part(done, first[..., :3]).tolist() != words_part(done, second[..., :3]).tolist()


def test_the_present_card_has_the_filled_lozenge() -> None:
    """Of the marks at the right, as many as there are cards, the one of the present card alone is filled."""
    for number in range(3):
        done, panel = drawn((1920, 1080), number=number)
        box, size = done.box, done.size
        top = box.top + round(TOP * size)
        row = panel[
            top : top + round(FIELD * size), box.right - round(2.6 * size) : box.right - round(0.5 * size), :3
        ]
        ink = (np.abs(row.astype(int) - np.array(BOARDS["dark"].paint.letters)) < 60).all(2)
        found = sorted((p for p in pieces(ink) if len(p) > 20), key=lambda p: min(x for _, x in p))
        assert len(found) == 3
        assert max(range(3), key=lambda n: len(found[n])) == number


# --- opacity -----------------------------------------------------------------------------------------


def test_the_png_has_straight_opacity() -> None:
    """At the smooth edge colours are those of the board, not darkened by their opacity."""
    _, panel = drawn((1920, 1080))
    edge = panel[(panel[..., 3] > 40) & (panel[..., 3] < 250)].astype(int)
    assert len(edge) > 20
    assert (np.abs(edge[:, :3] - np.array(BOARDS["dark"].paint.ground)) <= 3).all()


def test_what_is_burned_in_looks_like_the_png() -> None:
    """Board and words laid over a picture one after the other give what the PNG gives."""
    done, panel = drawn((1280, 720), number=2)
    ground = list(grounds((1280, 720)))[2]
    seen = ground.astype(float)
    for layer in press((1280, 720)).burned(done):
        if layer.start_ms <= done.cards[2].start_ms + 2000 < layer.end_ms:
            picture = layer.drawn().astype(float)
            part = seen[layer.top : layer.top + picture.shape[0], layer.left : layer.left + picture.shape[1]]
            part[:] = part * (1 - picture[..., 3:] / 255) + picture[..., :3]
    assert np.abs(seen - over(panel, ground)).max() <= 2


def test_nothing_flashes() -> None:
    """Board and words rise and fall over 0.3 s at least, never by more in one picture than that allows."""
    done, _ = drawn((1280, 720))
    frame_ms = Fraction(40)
    for fade, least in ((None, 300), (PanelSettings().fade_s, 400)):
        assert fade is None or round(fade * 1000) == least
    for layer in press((1280, 720)).burned(done):
        assert layer.fade_ms >= 300
        times = range(layer.start_ms - 40, layer.end_ms + 41, 40)
        strengths = [
            layer.strength(Fraction(t), frame_ms) if layer.start_ms <= t < layer.end_ms else 0.0
            for t in times
        ]
        assert max(strengths) == 1
        assert max(abs(b - a) for a, b in pairwise(strengths)) <= 40 / 300 + 1e-9


def test_the_board_stays_while_words_change() -> None:
    """One layer stands for the whole insert, and each card's words for their own time, without a gap."""
    done, _ = drawn((1280, 720))
    board, *words = press((1280, 720)).burned(done)
    assert (board.start_ms, board.end_ms) == (10_000, 22_000)
    assert [(w.start_ms, w.end_ms) for w in words] == [(10_000, 14_000), (14_000, 18_000), (18_000, 22_000)]


# --- more words than a card holds ------------------------------------------------------------------------


def test_longer_words_become_smaller_then_another_card() -> None:
    """Words shrink to the smallest type; what finds no room then goes to a card that follows at once."""
    size = (1280, 720)
    few, _ = press(size).typeset(an_insert(("one line",)), Fraction(25))
    some, _ = press(size).typeset(an_insert((" ".join(["careful"] * 17),)), Fraction(25))
    many, _ = press(size).typeset(an_insert((" ".join(["careful"] * 40),), each_ms=12_000), Fraction(25))
    least = -(-720 // (22 * Face(TEXT_FONT).body))
    assert few.size > some.size >= least
    assert many.size == least
    assert (len(few.cards), len(some.cards)) == (1, 1)
    assert len(many.cards) > 1
    assert [card.start_ms for card in many.cards[1:]] == [card.end_ms for card in many.cards[:-1]]
    assert (many.cards[0].start_ms, many.cards[-1].end_ms) == (10_000, 22_000)
    assert sum(len(line.split()) for card in many.cards for line in card.lines) == 40
    for card in many.cards:
        words = sum(len(line.split()) for line in card.lines)
        assert card.end_ms - card.start_ms == pytest.approx(12_000 * words / 40, abs=41)
        assert frames_to_ms(ms_to_frames(card.end_ms, Fraction(25)), Fraction(25)) == card.end_ms


def test_lines_of_a_card_are_kept_where_they_fit() -> None:
    """The breaks that were chosen for reading stay, if need be in slightly smaller letters."""
    done, _ = press((1920, 1080)).typeset(an_insert(), Fraction(25))
    assert [card.lines for card in done.cards] == list(GUARD)


def test_a_word_longer_than_a_line_is_cut_and_reported() -> None:
    """It goes on after a hyphen; one that just fits is left alone."""
    done, problems = press((1080, 1920)).typeset(an_insert(("m" * 40,)), None)
    assert [problem.code for problem in problems] == ["insert-long"]
    assert "".join(line.rstrip("-") for line in done.cards[0].lines) == "m" * 40
    assert press((1080, 1920)).typeset(an_insert(("polyurethanes",)), None)[1] == []


# --- letters -----------------------------------------------------------------------------------------


def test_a_letter_that_the_font_lacks_is_reported() -> None:
    """Named with its number; letters of the font, accents and fractions among them, are not."""
    _, problems = press((1280, 720)).typeset(an_insert(("Wait 16 h 漢 then sand",)), None)
    assert [problem.code for problem in problems] == ["panel-letter"]
    assert "U+6F22" in problems[0].message
    assert press((1280, 720)).typeset(an_insert(("½ mm à 20 °C – Żółć, Жук, Ωμέγα",)), None)[1] == []


def test_a_letter_written_in_two_signs_is_taken_as_one() -> None:
    """An e and an accent that combines with it are the letter é."""
    one, _ = press((1280, 720)).typeset(an_insert(("cafe\u0301",)), None)
    other, _ = press((1280, 720)).typeset(an_insert(("café",)), None)
    assert one.cards == other.cards


@pytest.fixture
def cut_font(tmp_path: Path) -> Callable[[int], Path]:
    """Give a font file that ends too early."""

    def cut(length: int) -> Path:
        path = tmp_path / f"cut-{length}.ttf"
        path.write_bytes(TEXT_FONT.read_bytes()[:length])
        return path

    return cut


def test_letters_of_the_font_by_another_reader() -> None:
    """The table of letters says what the library draws: a lacking letter looks as any other lacking one."""
    face = Face(TEXT_FONT)
    font: Any = face.sized(64)
    lacking = bytes(font.getmask("\uffff"))
    for letter in [chr(code) for code in (*range(0x21, 0x250), 0x370, 0x3B1, 0x416, 0x5D0, 0x2192, 0x6F22)]:
        if letter.isspace() or not letter.isprintable():
            continue
        assert (bytes(font.getmask(letter)) == lacking) == bool(face.missing(letter)), hex(ord(letter))
