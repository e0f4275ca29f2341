"""Panels drawn: a chamfered board with an inlaid line, the signal word in its own field, the words below.

The look is our own. Letters and shapes are drawn with Pillow; what comes out is pixels whose colours are
multiplied by their opacity, for burning in, or a PNG of the whole picture, for an editing program.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import partial
from io import BytesIO
from typing import TYPE_CHECKING

import numpy as np

from reelnotes.model import Insert
from reelnotes.picture.blend import LEAST_FADE_MS, Panel, Pixels
from reelnotes.picture.contrast import BOARDS, FIELDS, LEAST_CONTRAST, Colour, Paint, contrast
from reelnotes.picture.face import TEXT_FONT, WORD_FONT, Face, runs_left
from reelnotes.picture.typeset import (
    FIELD,
    FIELD_GAP,
    FIELD_SIDE,
    LOZENGE,
    PITCH,
    SIDE,
    SYMBOL,
    SYMBOL_GAP,
    TOP,
    SetCard,
    SetInsert,
    field_width,
    set_insert,
)
from reelnotes.problems import Problem
from reelnotes.settings import PanelSettings

if TYPE_CHECKING:
    from pathlib import Path

    from PIL.Image import Image

#: Shapes are drawn so many times larger and made smaller, which smooths their edges.
_FINER = 4
# In type sizes:
_CHAMFER, _LINE_IN, _LINE, _FIELD_CHAMFER = 0.42, 0.2, 0.045, 0.2
_FIRST_BASE = 0.93

Point = tuple[float, float]


class Press:
    """What sets and draws the panels for one size of picture.

    Pictures are as large as the box of their insert and hold red, green, blue and opacity, colours multiplied
    by opacity.
    """

    def __init__(self, shown: tuple[int, int], settings: PanelSettings, font: Path | None = None) -> None:
        """Open the fonts; `font` is the maker's own. Raises `FontUnreadable`, `LibraryMissing`."""
        self.shown, self.settings = shown, settings
        self._faces = (Face(font or TEXT_FONT), Face(WORD_FONT))
        self._board = BOARDS[settings.ground]

    def typeset(self, insert: Insert, rate: Fraction | None) -> tuple[SetInsert, list[Problem]]:
        """Set an insert in type, and report letters that would not stand out once drawn.

        `rate` is in frames a second, None where it is not known. Raises `PictureOdd`.
        """
        done, problems = set_insert(insert, self.shown, self.settings, self._faces, rate)
        reached = min(_reached(self.words(done, card), self._board.paint) for card in done.cards)
        if reached < LEAST_CONTRAST:
            message = f"{insert.of}: letters so thin or small that they do not stand out from their ground"
            message += f" (contrast {reached:.1f}:1, {LEAST_CONTRAST:.0f}:1 is wanted); name a bolder font"
            problems.append(Problem("panel-faint", f"{message}, or draw for a larger picture"))
        return done, problems

    def png(self, done: SetInsert, card: SetCard) -> bytes:
        """Draw one card's panel as a PNG as large as the picture, transparent around the box.

        Opacity is straight, as PNG wants it: colours are not multiplied by it.
        """
        from PIL import Image

        box = done.box
        panel = _over(self.words(done, card), self.board(done))
        colours = np.rint(panel[..., :3] * (255 / np.maximum(panel[..., 3:], 1).astype(np.float32)))
        straight = np.dstack([np.minimum(colours, 255).astype(np.uint8), panel[..., 3]])
        whole = np.zeros((self.shown[1], self.shown[0], 4), np.uint8)
        whole[box.top : box.bottom, box.left : box.right] = straight
        file = BytesIO()
        Image.fromarray(whole).save(file, "PNG")
        return file.getvalue()

    def burned(self, done: SetInsert) -> Iterator[Panel]:
        """Give what is burned in: the board as long as the insert stands, and on it the words of each card.

        So the board comes and goes once, and only words change in between. All is drawn when it is needed.
        """
        fade_ms = max(LEAST_FADE_MS, round(self.settings.fade_s * 1000))
        corner = (done.box.left, done.box.top)
        first, last = done.cards[0], done.cards[-1]
        yield Panel(partial(self.board, done), first.start_ms, last.end_ms, self.shown, *corner, fade_ms)
        for card in done.cards:
            drawn = partial(self.words, done, card)
            yield Panel(drawn, card.start_ms, card.end_ms, self.shown, *corner, fade_ms)

    # --- the board

    def board(self, done: SetInsert) -> Pixels:
        """Draw the board of an insert with its signal word."""
        size, (wide, high) = done.size, (done.box.width, done.box.height)
        board = self._board
        image = _blank(wide, high)
        _fill(image, _chamfered((0, 0, wide, high), _CHAMFER * size), board.paint.ground)
        thick = max(_LINE * size, 1.0)
        for inset, colour in ((_LINE_IN * size, board.line), (_LINE_IN * size + thick, board.paint.ground)):
            edge = (inset, inset, wide - inset, high - inset)
            # The line keeps its distance around the corner too.
            _fill(image, _chamfered(edge, _CHAMFER * size - inset * 0.586), colour)
        if done.insert.signal is not None:
            self._draw_field(image, done, FIELDS[done.insert.signal])
        return _multiplied(image)

    def _draw_field(self, image: Image, done: SetInsert, paint: Paint) -> None:
        from PIL import ImageDraw

        size, signal = done.size, done.insert.signal or ""
        left, top, high = SIDE * size, TOP * size, FIELD * size
        wide = field_width(done.insert, size, self._faces[1])
        _fill(image, _chamfered((left, top, left + wide, top + high), _FIELD_CHAMFER * size), paint.ground)
        at, middle = left + FIELD_SIDE * size, top + high / 2
        if done.insert.cards[0].alert_symbol:
            at += _draw_symbol(image, (at, middle), SYMBOL * size, paint) + SYMBOL_GAP * size
        capital = self._faces[1].capital * size
        place = (round(at), round(middle + capital / 2))
        ImageDraw.Draw(image).text(place, signal, paint.letters, self._faces[1].sized(size), "ls")

    # --- the words

    def words(self, done: SetInsert, card: SetCard) -> Pixels:
        """Draw the words of a card, and the lozenge that tells which card it is."""
        from PIL import ImageDraw

        size, face, paint = done.size, self._faces[0], self._board.paint
        image = _blank(done.box.width, done.box.height)
        draw = ImageDraw.Draw(image)
        has_head = done.insert.signal is not None or done.lozenges
        top = TOP + (FIELD + FIELD_GAP if has_head else 0.0)
        for number, line in enumerate(card.lines):
            base = round((top + number * PITCH + _FIRST_BASE) * size)
            from_right = runs_left(line)
            place = (done.box.width - round(SIDE * size) if from_right else round(SIDE * size), base)
            draw.text(place, line, paint.letters, face.sized(size), "rs" if from_right else "ls")
        if done.lozenges:
            for number in range(1, card.count + 1):
                self._draw_lozenge(image, done, number, card)
        return _multiplied(image, paint.letters)

    def _draw_lozenge(self, image: Image, done: SetInsert, number: int, card: SetCard) -> None:
        """Draw the mark of one card, filled if it is the present one."""
        size = done.size
        x = done.box.width - (SIDE + (card.count - number + 0.5) * LOZENGE) * size
        y = (TOP + FIELD / 2) * size
        half = 0.22 * size
        _fill(image, _lozenge(x, y, half), self._board.paint.letters)
        if number != card.number:
            _fill(image, _lozenge(x, y, half - max(0.085 * size, 1.2)), None)


# --- pixels ------------------------------------------------------------------------------------------


def _blank(wide: int, high: int) -> Image:
    from PIL import Image

    return Image.new("RGBA", (wide, high), (0, 0, 0, 0))


def _fill(image: Image, points: Sequence[Point], colour: Colour | None) -> None:
    """Fill a polygon with smooth edges; None clears it."""
    from PIL import Image, ImageChops, ImageDraw

    mask = Image.new("L", (image.width * _FINER, image.height * _FINER), 0)
    ImageDraw.Draw(mask).polygon([(x * _FINER, y * _FINER) for x, y in points], fill=255)
    mask = mask.reduce(_FINER)
    if colour is None:
        image.putalpha(ImageChops.subtract(image.getchannel("A"), mask))
        return
    layer = Image.new("RGBA", image.size, (*colour, 0))
    layer.putalpha(mask)
    image.alpha_composite(layer)


def _chamfered(edge: tuple[float, float, float, float], by: float) -> list[Point]:
    left, top, right, bottom = edge
    return [
        (left + by, top), (right - by, top), (right, top + by), (right, bottom - by),
        (right - by, bottom), (left + by, bottom), (left, bottom - by), (left, top + by),
    ]  # fmt: skip


def _lozenge(x: float, y: float, half: float) -> list[Point]:
    return [(x, y - half * 1.25), (x + half, y), (x, y + half * 1.25), (x - half, y)]


def _draw_symbol(image: Image, place: Point, high: float, paint: Paint) -> float:
    """Draw the alert symbol, a triangle with an exclamation mark (ANSI Z535.4), and give its width."""
    left, middle = place
    wide = high * 1.16
    top, foot, x = middle - high / 2, middle + high / 2, left + wide / 2
    _fill(image, [(x, top), (left + wide, foot), (left, foot)], paint.letters)
    stroke = high * 0.075
    upper, lower = top + high * 0.34, top + high * 0.68
    mark = [(x - stroke, upper), (x + stroke, upper), (x + stroke * 0.62, lower), (x - stroke * 0.62, lower)]
    _fill(image, mark, paint.ground)
    dot = top + high * 0.81
    _fill(image, _chamfered((x - stroke, dot - stroke, x + stroke, dot + stroke), stroke * 0.6), paint.ground)
    return wide


def _multiplied(image: Image, colour: Colour | None = None) -> Pixels:
    """Multiply colours by opacity; `colour` where all of it is of one."""
    pixels: Pixels = np.array(image)
    share = pixels[..., 3:].astype(np.float32) / 255
    colours = np.array(colour, np.float32) if colour else pixels[..., :3].astype(np.float32)
    return np.dstack([np.rint(colours * share).astype(np.uint8), pixels[..., 3]])


def _over(upper: Pixels, lower: Pixels) -> Pixels:
    """Lay one picture over another, colours multiplied by opacity in both."""
    left = (255 - upper[..., 3:].astype(np.float32)) / 255
    return np.minimum(np.rint(upper + lower * left), 255).astype(np.uint8)


def _reached(words: Pixels, paint: Paint) -> float:
    """Give the contrast that the letters reach against their ground, by their most solid pixels.

    The most solid tenth of the pixels that bear ink is looked at, so one dot is not enough.
    """
    inked = words[words[..., 3] > 0]
    if not len(inked):
        return 21.0
    share = np.sort(inked[:, 3])[::-1][: max(1, len(inked) // 10)][-1] / 255
    ground = np.array(paint.ground, np.float64)
    red, green, blue = np.rint(ground + (np.array(paint.letters) - ground) * share).astype(int).tolist()
    return contrast((red, green, blue), paint.ground)
