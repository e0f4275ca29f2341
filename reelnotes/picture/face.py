"""The letters of a panel: which ones a font has, and how large they are."""

from __future__ import annotations

import struct
import sys
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING

from reelnotes.picture.refusals import FontUnreadable, LibraryMissing
from reelnotes.problems import FileUnreadable
from reelnotes.store import read_bytes

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

_FONTS = Path(__file__).parent / "fonts"
TEXT_FONT, WORD_FONT = _FONTS / "ClearSans-Medium.ttf", _FONTS / "ClearSans-Bold.ttf"

_UNSEEN = frozenset({"Cc", "Cf", "Zl", "Zp"})
_FROM_THE_RIGHT = frozenset({"R", "AL"})
_MEASURED_AT = 1000


def load_pillow() -> ModuleType:
    """Load the library that draws letters. Raises `LibraryMissing`."""
    try:
        from PIL import ImageFont
    except ImportError:
        raise LibraryMissing from None
    return ImageFont


@dataclass(slots=True)
class _Sizes:
    """The fonts opened so far, by their size."""

    opened: dict[int, FreeTypeFont] = field(default_factory=dict)


class Face:
    """One font file: TrueType or OpenType with a table of Unicode letters."""

    def __init__(self, path: Path) -> None:
        """Open the file. Raises `FontUnreadable`, `LibraryMissing`."""
        self.path = path
        self._library = load_pillow()
        self._sizes = _Sizes()
        try:
            self.letters = frozenset(_letters_of(read_bytes(path)))
            self.sized(_MEASURED_AT)
        except FileUnreadable as found:
            raise FontUnreadable(path, found.reason) from None
        except (OSError, struct.error, IndexError, ValueError):
            raise FontUnreadable(path, "it is no TrueType or OpenType font with Unicode letters") from None

    def sized(self, size: int) -> FreeTypeFont:
        """Give the font at a type size, in pixels."""
        if size not in self._sizes.opened:
            self._sizes.opened[size] = self._library.truetype(str(self.path), size)
        return self._sizes.opened[size]

    @cached_property
    def capital(self) -> float:
        """Height of a capital letter, as a share of the type size."""
        _, top, _, bottom = self.sized(_MEASURED_AT).getbbox("H", anchor="ls")
        return (bottom - top) / _MEASURED_AT

    @cached_property
    def body(self) -> float:
        """Height from above an l to below a g, as a share of the type size."""
        _, top, _, bottom = self.sized(_MEASURED_AT).getbbox("lg", anchor="ls")
        return (bottom - top) / _MEASURED_AT

    @cached_property
    def mean_width(self) -> float:
        """Width of a letter of English text, spaces counted, as a share of the type size."""
        words = "the quick brown fox jumps over the lazy dog, then waits"
        return self.sized(_MEASURED_AT).getlength(words) / len(words) / _MEASURED_AT

    def width(self, text: str, size: int) -> float:
        """Give the width of a line of text in pixels."""
        return self.sized(size).getlength(text)

    def missing(self, text: str) -> tuple[str, ...]:
        """List the letters that the font cannot show, each once, in order.

        The library that orders and joins letters puts some together from a letter and its accents; where it
        is not at hand, those are missing, and all that run from the right.
        """
        joins = self._joins()
        seen = dict.fromkeys(letter for letter in text if unicodedata.category(letter) not in _UNSEEN)
        return tuple(letter for letter in seen if not self._shows(letter, joins=joins))

    def _shows(self, letter: str, *, joins: bool) -> bool:
        if not joins:
            return ord(letter) in self.letters and not runs_left(letter)
        parts = unicodedata.normalize("NFD", letter)
        return ord(letter) in self.letters or all(ord(part) in self.letters for part in parts)

    @staticmethod
    def _joins() -> bool:
        from PIL import features

        return bool(features.check("raqm"))


def runs_left(text: str) -> bool:
    """Tell whether a text is written from the right, by its first letter that says so."""
    kinds = (unicodedata.bidirectional(letter) for letter in text)
    return next((kind in _FROM_THE_RIGHT for kind in kinds if kind in _FROM_THE_RIGHT | {"L"}), False)


def _letters_of(font: bytes) -> Iterator[int]:
    """Read which letters a font has, from its table `cmap` in the forms 4 and 12 (ISO/IEC 14496-22)."""
    (count,) = struct.unpack_from(">H", font, 4)
    heads = range(12, 12 + 16 * count, 16)
    tables = {font[at : at + 4]: struct.unpack_from(">II", font, at + 8) for at in heads}
    if b"cmap" not in tables:
        raise ValueError("no table of letters")
    start = tables[b"cmap"][0]
    (count,) = struct.unpack_from(">H", font, start + 2)
    found = [struct.unpack_from(">HHI", font, start + 4 + 8 * row) for row in range(count)]
    unicode = [place for system, kind, place in found if system == 0 or (system, kind) in {(3, 1), (3, 10)}]
    places = [start + place for place in unicode]
    forms = {struct.unpack_from(">H", font, place)[0]: place for place in places}
    if 12 in forms:  # noqa: PLR2004 - the number of the form
        yield from _of_form_12(font, forms[12])
    elif 4 in forms:  # noqa: PLR2004 - the number of the form
        yield from _of_form_4(font, forms[4])
    else:
        raise ValueError("no table of Unicode letters")


def _of_form_12(font: bytes, at: int) -> Iterator[int]:
    (count,) = struct.unpack_from(">I", font, at + 12)
    for row in range(count):
        first, last, glyph = struct.unpack_from(">III", font, at + 16 + 12 * row)
        if last > sys.maxunicode or first > last:
            raise ValueError("a range of letters beyond Unicode")
        yield from range(first if glyph else first + 1, last + 1)


def _of_form_4(font: bytes, at: int) -> Iterator[int]:
    """Walk the segments: a letter is there if its glyph is not number 0, the sign for a missing one."""
    (twice,) = struct.unpack_from(">H", font, at + 6)
    segments = twice // 2
    ends = at + 14
    starts, deltas, ranges = ends + twice + 2, ends + 2 * twice + 2, ends + 3 * twice + 2
    for number in range(segments):
        (last,) = struct.unpack_from(">H", font, ends + 2 * number)
        (first,) = struct.unpack_from(">H", font, starts + 2 * number)
        (delta,) = struct.unpack_from(">H", font, deltas + 2 * number)
        (offset,) = struct.unpack_from(">H", font, ranges + 2 * number)
        for letter in range(first, min(last, 0xFFFE) + 1):
            if not offset:
                glyph = (letter + delta) & 0xFFFF
            else:
                (glyph,) = struct.unpack_from(">H", font, ranges + 2 * number + offset + 2 * (letter - first))
            if glyph:
                yield letter
