"""Pages and their drawings as SVG, and pages of a PDF as PNG."""

from __future__ import annotations

import io
import math
from xml.sax.saxutils import escape, quoteattr

from core.errors import InvalidRequestError
from core.geometry import Ring, arc_of
from core.reports.pdfium import opened
from core.reports.picture import Line, Mark, Page, Shape, Stroke


def page_svg(page: Page) -> str:
    """A page as SVG, its size stated in millimetres, one user unit = 1 mm, arcs true.

    Texts stay text in DejaVu Sans (or the viewer's sans-serif).
    """
    width, height = _number(page.width_mm), _number(page.height_mm)
    parts = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">',
        f"<title>{escape(page.title)}</title>",
        f'<rect width="{width}" height="{height}" fill="#FFFFFF"/>',
    ]
    parts += [_mark(mark, page.height_mm) for mark in page.marks]
    parts.append("</svg>\n")
    return "\n".join(part for part in parts if part)


def pdf_page_png(pdf: bytes, number: int, *, dots_per_inch: float = 150.0) -> bytes:
    """One page of a PDF (counted from 1) as PNG bytes. Raises InvalidRequestError if missing."""
    if not 10.0 <= dots_per_inch <= 1200.0:
        raise InvalidRequestError("Pictures are made with 10 to 1200 dots per inch")
    with opened(pdf) as document:
        if not 1 <= number <= len(document):
            raise InvalidRequestError(
                f"There is no page {number}", remedy=f"Pages run from 1 to {len(document)}."
            )
        bitmap = document[number - 1].render(scale=dots_per_inch / 72.0)
        picture = bitmap.to_pil().copy()
        bitmap.close()
    stream = io.BytesIO()
    picture.save(stream, "PNG", dpi=(dots_per_inch, dots_per_inch))
    return stream.getvalue()


def _mark(mark: Mark, height: float) -> str:
    if isinstance(mark, Shape):
        data = " ".join(_ring(ring, height) for ring in mark.rings)
        fill = mark.fill or "none"
        role = f" class={quoteattr(mark.role)}" if mark.role else ""
        return f'<path{role} d="{data}" fill="{fill}" fill-rule="evenodd"{_stroke(mark.stroke)}/>'
    if isinstance(mark, Line):
        points = " ".join(f"{_number(x)},{_number(height - y)}" for x, y in mark.points)
        return f'<polyline points="{points}" fill="none"{_stroke(mark.stroke)}/>'
    if not mark.text:
        return ""
    x, y = _number(mark.x_mm), _number(height - mark.y_mm)
    turn = f' transform="rotate({_number(-mark.turn_deg)} {x} {y})"' if mark.turn_deg else ""
    anchor = f' text-anchor="{mark.anchor}"' if mark.anchor != "start" else ""
    weight = ' font-weight="bold"' if mark.bold else ""
    size = _number(mark.size_pt * 25.4 / 72.0)
    return (
        f'<text x="{x}" y="{y}" font-family="DejaVu Sans, sans-serif" font-size="{size}"'
        f'{weight}{anchor}{turn} fill="{mark.colour}">{escape(mark.text)}</text>'
    )


def _stroke(stroke: Stroke | None) -> str:
    if stroke is None:
        return ""
    dash = f' stroke-dasharray="{" ".join(map(_number, stroke.dash_mm))}"' if stroke.dash_mm else ""
    return f' stroke="{stroke.colour}" stroke-width="{_number(stroke.width_mm)}"{dash}'


def _ring(ring: Ring, height: float) -> str:
    x, y, _ = ring.vertices[0]
    parts = [f"M {_number(x)} {_number(height - y)}"]
    for start, end, bulge in ring.edges():
        ex, ey = _number(end[0]), _number(height - end[1])
        if not bulge:
            parts.append(f"L {ex} {ey}")
            continue
        _, radius, _, sweep = arc_of(start, end, bulge)
        large = int(abs(sweep) > math.pi)
        # y is turned over, so a counter-clockwise arc has sweep flag 0.
        r = _number(radius)
        parts.append(f"A {r} {r} 0 {large} {int(bulge < 0)} {ex} {ey}")
    return " ".join([*parts, "Z"])


def _number(value: float) -> str:
    text = f"{value:.5f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
