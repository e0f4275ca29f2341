"""The year of a board as a picture: one SVG that reads aloud, scales and prints, its table beside it."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from reelnotes.bench.movement import Month
from reelnotes.bench.units import inch_text

_LEFT, _TOP, _WIDE, _HIGH = 64, 84, 470, 262
_WIDTH, _HEIGHT = 1080, 424
_TABLE_X = 574
#: The left end of the first column, the right ends of the others.
_TABLE_COLUMNS = (0, 124, 192, 280, 376, 480)
_INK, _QUIET, _LINE, _RULE = "#1d2226", "#55606a", "#8a3b12", "#c9d0d6"
_STEPS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
_MOST_LINES = 6
_FOOT = "The most that a year can do: finished or thick wood follows slowly and moves less."


def year_svg(title: str, months: Sequence[Month]) -> str:
    """Draw how much wider the board is in each month than at its narrowest, in mm.

    `title` says which board. The text of the picture is real text; the description tells the story in words.
    """
    narrowest = min(month.width_mm for month in months)
    extra = [month.width_mm - narrowest for month in months]
    step = next((s for s in _STEPS if max(extra) <= _MOST_LINES * s), _STEPS[-1])
    top = step * max(1, -(-max(extra) // step))
    size = f'width="{_WIDTH}" height="{_HEIGHT}" viewBox="0 0 {_WIDTH} {_HEIGHT}"'
    style = 'font-family="system-ui, sans-serif" font-size="13"'
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img" aria-labelledby="t d" {style}>',
        f'<title id="t">{escape(title)}</title>',
        f'<desc id="d">{escape(_story(months, extra))}</desc>',
        f'<rect width="{_WIDTH}" height="{_HEIGHT}" fill="#ffffff"/>',
        f'<text x="24" y="34" font-size="17" font-weight="600" fill="{_INK}">{escape(title)}</text>',
        f'<text x="24" y="56" fill="{_QUIET}">Millimetres above its narrowest, month by month</text>',
        *_rules(step, top),
        *_curve(months, extra, top),
        *_table(months, extra),
        f'<text x="24" y="408" font-size="12" fill="{_QUIET}">{_FOOT}</text>',
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _story(months: Sequence[Month], extra: Sequence[float]) -> str:
    high = max(range(len(months)), key=extra.__getitem__)
    low = min(range(len(months)), key=extra.__getitem__)
    return (
        f"The board is narrowest in {months[low].name} ({months[low].width_mm:.1f} mm) and widest in "
        f"{months[high].name} ({months[high].width_mm:.1f} mm), a difference of {extra[high]:.1f} mm, "
        f"{inch_text(extra[high])}."
    )


def _x(number: int) -> float:
    return _LEFT + _WIDE * (number + 0.5) / 12


def _y(value: float, top: float) -> float:
    return _TOP + _HIGH * (1 - value / top)


def _rules(step: float, top: float) -> list[str]:
    lines = []
    for number in range(round(top / step) + 1):
        y = _y(number * step, top)
        lines.append(f'<path d="M{_LEFT} {y:.1f}h{_WIDE}" stroke="{_RULE}" stroke-width="1"/>')
        label = f"{number * step:.1f}".removesuffix(".0")
        lines.append(
            f'<text x="{_LEFT - 10}" y="{y + 4:.1f}" text-anchor="end" fill="{_QUIET}">{label}</text>'
        )
    return lines


def _curve(months: Sequence[Month], extra: Sequence[float], top: float) -> list[str]:
    points = [(_x(number), _y(value, top)) for number, value in enumerate(extra)]
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    lines = [f'<polyline points="{path}" fill="none" stroke="{_LINE}" stroke-width="2.5"/>']
    foot = _TOP + _HIGH + 22
    for number, (month, (x, y)) in enumerate(zip(months, points, strict=True)):
        lines.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{_LINE}"/>')
        lines.append(_figure(extra, number, x, y))
        lines.append(f'<text x="{x:.1f}" y="{foot}" text-anchor="middle" fill="{_QUIET}">{month.name}</text>')
    return lines


def _figure(extra: Sequence[float], number: int, x: float, y: float) -> str:
    """Write a month's figure where its line does not run: above a turn, left of a rise, right of a fall."""
    here = extra[number]
    before = extra[number - 1] if number else here
    after = extra[number + 1] if number + 1 < len(extra) else here
    right, up, anchor = 0, 10, "middle"
    if before < here < after:
        right, anchor = 2, "end"
    elif before > here >= after:
        right, up, anchor = 7, 4, "start"
    place = f'x="{x + right:.1f}" y="{y - up:.1f}" text-anchor="{anchor}"'
    halo = 'stroke="#ffffff" stroke-width="4" stroke-linejoin="round" paint-order="stroke"'
    return f'<text {place} fill="{_INK}" {halo}>{here:.1f}</text>'


def _table(months: Sequence[Month], extra: Sequence[float]) -> list[str]:
    head = ("Month", "Humidity", "Air", "Moisture", "Width", "In inches")
    lines = _table_row(0, head, _QUIET, "600")
    for number, (month, value) in enumerate(zip(months, extra, strict=True), start=1):
        cells = (
            month.name,
            f"{month.air.humidity:g} %",
            f"{month.air.temperature_c:g} °C",
            f"{month.moisture:.1f} %",
            f"{month.width_mm:.1f} mm",
            inch_text(value),
        )
        weight = "600" if value in {min(extra), max(extra)} else "400"
        lines += _table_row(number, cells, _INK, weight)
    return lines


def _table_row(number: int, cells: Sequence[str], fill: str, weight: str) -> list[str]:
    y = 92 + number * 23
    return [
        f'<text x="{_TABLE_X + shift}" y="{y}" text-anchor="{"end" if column else "start"}" '
        f'fill="{fill}" font-weight="{weight}">{cell}</text>'
        for column, (cell, shift) in enumerate(zip(cells, _TABLE_COLUMNS, strict=True))
    ]
