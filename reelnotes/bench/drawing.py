"""A drawing in millimetres, at its own size: what a template is made of before it is SVG or PDF."""

from __future__ import annotations

from html import escape

from reelnotes.records import frozen

_POINTS_PER_MM = 72 / 25.4
#: Control points at this share of the radius make four curves a circle, true to 0.03 % of the radius.
_CIRCLE = 0.5523


@frozen
class Line:
    """A straight line; places from the page's top left corner."""

    x1: float
    y1: float
    x2: float
    y2: float
    width: float = 0.25
    dashed: bool = False


@frozen
class Circle:
    """A circle by its middle and radius."""

    x: float
    y: float
    radius: float
    width: float = 0.25
    dashed: bool = False


@frozen
class Words:
    """A line of text that starts at x on the base line y; `size` in mm."""

    x: float
    y: float
    text: str
    size: float = 3.5
    bold: bool = False


Shape = Line | Circle | Words


@frozen
class Drawing:
    """A page of shapes with a title and, for those who do not see it, a description."""

    width_mm: float
    height_mm: float
    title: str
    description: str
    shapes: tuple[Shape, ...]


def drawing_svg(drawing: Drawing) -> str:
    """Write a drawing as SVG whose units are millimetres, so that it prints at its own size."""
    w, h = _number(drawing.width_mm), _number(drawing.height_mm)
    size = f'width="{w}mm" height="{h}mm" viewBox="0 0 {w} {h}"'
    style = 'font-family="Helvetica, Arial, sans-serif" fill="none" stroke="#000"'
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img" aria-labelledby="t d" {style}>',
        f'<title id="t">{escape(drawing.title)}</title>',
        f'<desc id="d">{escape(drawing.description)}</desc>',
        f'<rect width="{w}" height="{h}" fill="#fff" stroke="none"/>',
        *map(_svg_shape, drawing.shapes),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _svg_shape(shape: Shape) -> str:
    if isinstance(shape, Words):
        weight = ' font-weight="bold"' if shape.bold else ""
        place = f'x="{_number(shape.x)}" y="{_number(shape.y)}" font-size="{_number(shape.size)}"'
        return f'<text {place}{weight} fill="#000" stroke="none">{escape(shape.text)}</text>'
    pen = f'stroke-width="{_number(shape.width)}"' + (' stroke-dasharray="2 1.5"' if shape.dashed else "")
    if isinstance(shape, Circle):
        return f'<circle cx="{_number(shape.x)}" cy="{_number(shape.y)}" r="{_number(shape.radius)}" {pen}/>'
    path = f"M{_number(shape.x1)} {_number(shape.y1)}L{_number(shape.x2)} {_number(shape.y2)}"
    return f'<path d="{path}" {pen}/>'


def drawing_pdf(drawing: Drawing) -> bytes:
    """Write a drawing as a one-page PDF (ISO 32000-1) at its own size.

    The page asks the print dialog not to scale (PrintScaling None); whether it obeyed, the scale bars show.
    Text is in Helvetica, which every reader has; a letter that its encoding lacks becomes a question mark.
    """
    content = "\n".join(["0 G 0 g", *(_pdf_shape(shape, drawing.height_mm) for shape in drawing.shapes)])
    stream = content.encode("cp1252", errors="replace")
    box = f"0 0 {_points(drawing.width_mm)} {_points(drawing.height_mm)}"
    font = "<< /Type /Font /Subtype /Type1 /BaseFont /{} /Encoding /WinAnsiEncoding >>"
    title = drawing.title.encode("utf-16-be").hex().upper()
    objects = [
        b"<< /Type /Catalog /Pages 2 0 R /ViewerPreferences << /PrintScaling /None >> >>",
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        f"<< /Type /Page /Parent 2 0 R /MediaBox [{box}] /Contents 4 0 R "
        "/Resources << /Font << /F1 5 0 R /F2 6 0 R >> >> >>".encode(),
        f"<< /Length {len(stream)} >>\nstream\n".encode() + stream + b"\nendstream",
        font.format("Helvetica").encode(),
        font.format("Helvetica-Bold").encode(),
        f"<< /Title <FEFF{title}> >>".encode(),
    ]
    return _pdf_file(objects)


def _pdf_file(objects: list[bytes]) -> bytes:
    """Put objects 1, 2, … into a file: the catalogue first, the document's information last."""
    file = bytearray(b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n")
    places = []
    for number, body in enumerate(objects, start=1):
        places.append(len(file))
        file += f"{number} 0 obj\n".encode() + body + b"\nendobj\n"
    table = len(file)
    rows = "".join(f"{place:010d} 00000 n \n" for place in places)
    count = len(objects) + 1
    file += f"xref\n0 {count}\n0000000000 65535 f \n{rows}".encode()
    trailer = f"<< /Size {count} /Root 1 0 R /Info {count - 1} 0 R >>"
    file += f"trailer\n{trailer}\nstartxref\n{table}\n%%EOF\n".encode()
    return bytes(file)


def _pdf_shape(shape: Shape, height_mm: float) -> str:
    if isinstance(shape, Words):
        quoted = shape.text.replace("\\", r"\\").replace("(", r"\(").replace(")", r"\)")
        font = "F2" if shape.bold else "F1"
        place = f"{_points(shape.x)} {_points(height_mm - shape.y)}"
        return f"BT /{font} {_points(shape.size)} Tf {place} Td ({quoted}) Tj ET"
    dash = f"[{_points(2)} {_points(1.5)}] 0 d" if shape.dashed else "[] 0 d"
    pen = f"{_points(shape.width)} w {dash}"
    if isinstance(shape, Circle):
        return f"{pen} {_pdf_circle(shape.x, height_mm - shape.y, shape.radius)} S"
    start, end = (shape.x1, height_mm - shape.y1), (shape.x2, height_mm - shape.y2)
    return f"{pen} {_pair(*start)} m {_pair(*end)} l S"


def _pdf_circle(x: float, y: float, r: float) -> str:
    k = r * _CIRCLE
    arcs = [
        ((x + r, y + k), (x + k, y + r), (x, y + r)),
        ((x - k, y + r), (x - r, y + k), (x - r, y)),
        ((x - r, y - k), (x - k, y - r), (x, y - r)),
        ((x + k, y - r), (x + r, y - k), (x + r, y)),
    ]
    curves = " ".join(" ".join(_pair(*point) for point in arc) + " c" for arc in arcs)
    return f"{_pair(x + r, y)} m {curves}"


def _pair(x: float, y: float) -> str:
    return f"{_points(x)} {_points(y)}"


def _points(mm: float) -> str:
    return _number(mm * _POINTS_PER_MM)


def _number(value: float) -> str:
    return f"{round(value, 3) + 0.0:.3f}".rstrip("0").rstrip(".")
