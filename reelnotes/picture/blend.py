"""A panel laid over pictures: turned, scaled and cut for the coded picture once, blended plane by plane."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from typing import Any

import numpy as np
import numpy.typing as npt

from reelnotes.picture.refusals import PanelUnfit
from reelnotes.records import frozen

#: A panel must not flash: it comes and goes over at least this long.
LEAST_FADE_MS = 300

Pixels = npt.NDArray[np.uint8]
Shares = npt.NDArray[np.float32]

#: Weights of red and blue in luma, by the number that H.264 gives a matrix (Rec. ITU-T H.264, table E-5).
_WEIGHTS = {
    1: (0.2126, 0.0722),
    4: (0.30, 0.11),
    5: (0.299, 0.114),
    6: (0.299, 0.114),
    7: (0.212, 0.087),
    9: (0.2627, 0.0593),
}
_UNKNOWN = frozenset({2, 3})
_SMALL_HEIGHT = 720

#: Pixel formats into which a panel can be blended: columns and rows of luma for one of chroma, and bits.
FORMATS: dict[str, tuple[int, int, int]] = {
    "yuv420p": (2, 2, 8),
    "yuvj420p": (2, 2, 8),
    "yuv422p": (2, 1, 8),
    "yuvj422p": (2, 1, 8),
    "yuv444p": (1, 1, 8),
    "yuvj444p": (1, 1, 8),
    "yuv420p10le": (2, 2, 10),
    "yuv422p10le": (2, 1, 10),
    "yuv444p10le": (1, 1, 10),
}

#: Share of the code range at which a panel's white stands, by transfer: HLG 0.75, PQ 0.58, where full range
#: would dazzle (Rec. ITU-R BT.2408; from memory).
_WHITE = {18: 0.75, 16: 0.58}


@frozen
class Panel:
    """A picture to be laid over the video, and when.

    `picture` holds red, green, blue and opacity in bytes, colours multiplied by opacity already, in a grid of
    rows by columns by 4, or is what draws such a grid once it is needed; its upper left corner stands at
    `left`, `top` of the picture as it is shown, whose size is `shown` (columns, rows). `start_ms` and
    `end_ms` are programme time; the end is not part of it. It fades in and out over `fade_ms`, at least 300.
    """

    picture: Pixels | Callable[[], Pixels]
    start_ms: int
    end_ms: int
    shown: tuple[int, int]
    left: int = 0
    top: int = 0
    fade_ms: int = LEAST_FADE_MS

    def __post_init__(self) -> None:
        """Hold form and times."""
        if not callable(self.picture):
            _check_grid(self.picture)
        if not 0 <= self.start_ms < self.end_ms:
            raise ValueError(f"no time for a panel: {self.start_ms} to {self.end_ms} ms")
        if self.fade_ms < LEAST_FADE_MS:
            raise ValueError(f"a panel fades over at least {LEAST_FADE_MS} ms, not {self.fade_ms}")

    def drawn(self) -> Pixels:
        """Give its picture, drawn now if it was not before."""
        if not callable(self.picture):
            return self.picture
        picture = self.picture()
        _check_grid(picture)
        return picture

    def strength(self, at_ms: Fraction, frame_ms: Fraction) -> float:
        """How much of the panel is there, 0 to 1, on a picture shown at `at_ms` for `frame_ms`.

        The last picture without it and the first with all of it are `fade_ms` apart, so every picture of the
        window bears some of it.
        """
        rising = (at_ms + frame_ms - self.start_ms) / self.fade_ms
        falling = (self.end_ms - at_ms) / self.fade_ms
        return float(max(Fraction(1, 255), min(Fraction(1), rising, falling)))


def _check_grid(picture: Pixels) -> None:
    if picture.ndim != 3 or picture.shape[2] != 4 or picture.dtype != np.uint8:  # noqa: PLR2004 - the form itself
        raise ValueError("a panel is rows by columns by red, green, blue and opacity, in bytes")


@frozen
class Turn:
    """How the coded picture is turned for showing: mirrored left to right, then by quarters clockwise."""

    quarters: int = 0
    mirrored: bool = False

    @property
    def swaps(self) -> bool:
        """Whether columns and rows change places."""
        return self.quarters % 2 == 1

    def undone(self, picture: Pixels) -> Pixels:
        """Turn a picture as shown into one as coded."""
        coded = np.rot90(picture, self.quarters)
        return coded[:, ::-1] if self.mirrored else coded


def turn_of(a: int, b: int, c: int, d: int) -> Turn | None:
    """Read the turn from the matrix of a track (x' = ax + cy, y' = bx + dy); None: no quarter turn."""
    signs = tuple((value > 0) - (value < 0) for value in (a, b, c, d))
    plain = {(1, 0, 0, 1): 0, (0, 1, -1, 0): 1, (-1, 0, 0, -1): 2, (0, -1, 1, 0): 3}
    if signs in plain:
        return Turn(plain[signs])
    unmirrored = (-signs[0], -signs[1], signs[2], signs[3])
    return Turn(plain[unmirrored], mirrored=True) if unmirrored in plain else None


@frozen
class Look:
    """What of a video decides how a colour is written into it.

    `width`, `height` as coded; `shown_*` as seen, after turning and stretching of pixels; `matrix` and
    `transfer` by the numbers of H.264.
    """

    width: int
    height: int
    shown_width: int
    shown_height: int
    turn: Turn
    pixels: str
    matrix: int
    transfer: int
    full_range: bool


@frozen
class _Plane:
    """One plane's part of a panel: where it lies, what is added and what share of the picture goes away.

    Most of a panel hides the picture wholly: there its values are `solid`, `hidden` says where, and only the
    rows and columns of `edges` have to be mixed while all of the panel is there.
    """

    number: int
    left: int
    top: int
    added: Shares
    cover: Shares
    solid: npt.NDArray[Any]
    hidden: npt.NDArray[np.bool_]
    edges: tuple[npt.NDArray[np.int64], ...]

    def lay(self, box: npt.NDArray[Any], strength: float, most: int) -> None:
        """Blend into the values of the picture in its box."""
        if strength < 1 or len(self.edges[0]) > self.cover.size // 4:
            box[:] = _mixed(box, self.cover, self.added, strength, most)
            return
        np.copyto(box, self.solid, where=self.hidden)
        box[self.edges] = _mixed(box[self.edges], self.cover[self.edges], self.added[self.edges], 1.0, most)


def _mixed(
    old: npt.NDArray[Any], cover: Shares, added: Shares, strength: float, most: int
) -> npt.NDArray[Any]:
    """Give what stands after a panel was laid over values, rounded into their kind."""
    mixed = old.astype(np.float32) * (1 - np.float32(strength) * cover) + np.float32(strength) * added
    new: npt.NDArray[Any] = np.clip(np.rint(mixed), 0, most).astype(old.dtype)
    return new


class Overlay:
    """A panel made ready for one video."""

    def __init__(self, panel: Panel, look: Look) -> None:
        """Turn, stretch, cut to what is not empty, and write in the video's colours. Raises `PanelUnfit`."""
        _check_size(panel, look)
        self.panel = panel
        self._deep = FORMATS[look.pixels][2] > 8  # noqa: PLR2004 - more than a byte
        self._most = (1 << FORMATS[look.pixels][2]) - 1
        picture, left, top = _as_coded(panel, look)
        self._planes = _planes(picture, left, top, look)

    def blend(self, frame: Any, strength: float) -> None:  # noqa: ANN401 - the library loads late
        """Lay the panel over a frame that may be written to; nothing outside its box is touched."""
        for part in self._planes:
            plane = frame.planes[part.number]
            pixels: npt.NDArray[Any] = np.frombuffer(plane, np.uint16 if self._deep else np.uint8)
            grid = pixels.reshape(-1, plane.line_size // pixels.itemsize)
            rows, columns = part.cover.shape
            box = grid[part.top : part.top + rows, part.left : part.left + columns]
            part.lay(box, strength, self._most)


class Overlays:
    """The panels of a film, each made ready when its time comes and let go when it has passed."""

    def __init__(self, panels: Sequence[Panel], look: Look) -> None:
        """Hold that all were drawn for this video. Raises `PanelUnfit`."""
        for panel in panels:
            _check_size(panel, look)
        self.panels, self._look = panels, look
        self._ready: dict[int, Overlay] = {}

    def lay(self, frame: Any, strengths: Mapping[int, float]) -> None:  # noqa: ANN401 - the library loads late
        """Lay panels over a frame, by their number, each with its strength, in the order of the numbers."""
        self._ready = {
            number: self._ready.get(number) or Overlay(self.panels[number], self._look)
            for number in sorted(strengths)
        }
        if strengths:
            frame.make_writable()
        for number, overlay in self._ready.items():
            overlay.blend(frame, strengths[number])


def _check_size(panel: Panel, look: Look) -> None:
    if panel.shown != (look.shown_width, look.shown_height):
        raise PanelUnfit(panel.shown, (look.shown_width, look.shown_height))


def _as_coded(panel: Panel, look: Look) -> tuple[Shares, int, int]:
    """Give the panel's part that is not empty as the coded picture wants it: even corners, floats 0 to 1."""
    whole = np.zeros((look.shown_height, look.shown_width, 4), np.uint8)
    top, left = max(panel.top, 0), max(panel.left, 0)
    cut = panel.drawn()[top - panel.top :, left - panel.left :][
        : look.shown_height - top, : look.shown_width - left
    ]
    whole[top : top + cut.shape[0], left : left + cut.shape[1]] = cut
    coded = look.turn.undone(whole)
    if coded.shape[:2] != (look.height, look.width):
        coded = _stretched(coded, look.height, look.width)
    there = np.ascontiguousarray(coded[..., 3]).view(bool)  # laid in one line first: many times faster
    rows, columns = np.flatnonzero(there.any(1)), np.flatnonzero(there.any(0))
    if not len(rows):
        return np.zeros((0, 0, 4), np.float32), 0, 0
    top, left = int(rows[0]) & ~1, int(columns[0]) & ~1
    bottom, right = min(int(rows[-1] + 2) & ~1, look.height), min(int(columns[-1] + 2) & ~1, look.width)
    return (coded[top:bottom, left:right] / np.float32(255)).astype(np.float32), left, top


def _stretched(picture: Pixels, height: int, width: int) -> Pixels:
    """Scale by straight lines between neighbours: right for opacity, and for colours multiplied by it."""
    for axis, size in ((0, height), (1, width)):
        if picture.shape[axis] != size:
            at = np.clip(
                (np.arange(size) + 0.5) * picture.shape[axis] / size - 0.5, 0, picture.shape[axis] - 1
            )
            low = np.floor(at).astype(int)
            high = np.minimum(low + 1, picture.shape[axis] - 1)
            share = (at - low).astype(np.float32).reshape((-1, 1, 1) if axis == 0 else (1, -1, 1))
            mixed = np.take(picture, low, axis) * (1 - share) + np.take(picture, high, axis) * share
            picture = np.rint(mixed).astype(np.uint8)
    return picture


def _planes(picture: Shares, left: int, top: int, look: Look) -> list[_Plane]:
    step_x, step_y, bits = FORMATS[look.pixels]
    matrix = look.matrix
    if matrix in _UNKNOWN or matrix not in _WEIGHTS:  # common practice: small pictures 601, larger ones 709
        matrix = 1 if min(look.width, look.height) >= _SMALL_HEIGHT else 6
    red, blue = _WEIGHTS[matrix]
    white = _WHITE.get(look.transfer, 1.0)
    luma = picture[..., 0] * red + picture[..., 1] * (1 - red - blue) + picture[..., 2] * blue
    cover = picture[..., 3]
    chroma = [(picture[..., 2] - luma) / (2 * (1 - blue)), (picture[..., 0] - luma) / (2 * (1 - red))]
    unit = float(1 << (bits - 8))
    top_code = 255 * unit + unit - 1
    black, luma_range, chroma_range = (
        (0.0, top_code, top_code) if look.full_range else (16 * unit, 219 * unit, 224 * unit)
    )
    found = [_plane(0, (left, top), luma * white * luma_range + cover * black, cover, bits)]
    thin = _thinned(cover, step_x, step_y)
    for number, values in enumerate(chroma, start=1):
        added = _thinned(values, step_x, step_y) * white * chroma_range + thin * (128 * unit)
        found.append(_plane(number, (left // step_x, top // step_y), added, thin, bits))
    return found


def _plane(
    number: int, corner: tuple[int, int], added: npt.NDArray[Any], cover: npt.NDArray[Any], bits: int
) -> _Plane:
    kind = np.uint16 if bits > 8 else np.uint8  # noqa: PLR2004 - more than a byte
    return _Plane(
        number=number,
        left=corner[0],
        top=corner[1],
        added=_single(added),
        cover=_single(cover),
        solid=np.clip(np.rint(added), 0, (1 << bits) - 1).astype(kind),
        hidden=cover == 1,
        edges=np.nonzero((cover > 0) & (cover < 1)),
    )


def _single(values: npt.NDArray[Any]) -> Shares:
    return values.astype(np.float32)


def _thinned(values: npt.NDArray[Any], step_x: int, step_y: int) -> Shares:
    """Take the mean over the luma samples that share one chroma sample; a last odd one is repeated."""
    rows, columns = values.shape
    padded = (
        np.pad(values, ((0, -rows % step_y), (0, -columns % step_x)), mode="edge") if values.size else values
    )
    shape = (padded.shape[0] // step_y, step_y, padded.shape[1] // step_x, step_x)
    return _single(padded.reshape(shape).mean(axis=(1, 3)))
