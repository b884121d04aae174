"""Pages to PDF bytes, with embedded subset fonts and no date but the one given."""

from __future__ import annotations

import io
import math
from collections.abc import Sequence

from reportlab.lib.colors import HexColor
from reportlab.pdfgen.canvas import Canvas

from core.geometry import Ring, arc_of
from core.reports.fonts import PT_MM, ensure_fonts, font_name
from core.reports.picture import Line, Mark, Page, Shape, Stroke

_MM_PT = 1.0 / PT_MM


def render_pdf(pages: Sequence[Page], *, title: str, subject: str = "") -> bytes:
    """One PDF of all pages; the same pages give the same bytes.

    Print dialogs are asked not to scale it, so that drawings stay true to scale.
    """
    ensure_fonts()
    stream = io.BytesIO()
    canvas = Canvas(stream, invariant=1, pageCompression=1)
    canvas.setTitle(title)
    canvas.setSubject(subject)
    canvas.setCreator("Seamwright")
    canvas.setAuthor("")
    canvas.setViewerPreference("PrintScaling", "None")
    for number, page in enumerate(pages):
        canvas.setPageSize((page.width_mm * _MM_PT, page.height_mm * _MM_PT))
        if page.title:
            canvas.bookmarkPage(f"p{number}")
            canvas.addOutlineEntry(page.title, f"p{number}", 0)
        for mark in page.marks:
            _draw(canvas, mark)
        canvas.showPage()
    canvas.save()
    return stream.getvalue()


def _set_stroke(canvas: Canvas, stroke: Stroke) -> None:
    canvas.setStrokeColor(HexColor(stroke.colour))
    canvas.setLineWidth(stroke.width_mm * _MM_PT)
    canvas.setDash([d * _MM_PT for d in stroke.dash_mm] if stroke.dash_mm else [])


def _draw(canvas: Canvas, mark: Mark) -> None:
    if isinstance(mark, Shape):
        path = canvas.beginPath()
        for ring in mark.rings:
            _add_ring(path, ring)
        if mark.stroke is not None:
            _set_stroke(canvas, mark.stroke)
        if mark.fill is not None:
            canvas.setFillColor(HexColor(mark.fill))
        canvas.drawPath(
            path, stroke=int(mark.stroke is not None), fill=int(mark.fill is not None), fillMode=0
        )
    elif isinstance(mark, Line):
        _set_stroke(canvas, mark.stroke)
        path = canvas.beginPath()
        (x, y), *rest = mark.points
        path.moveTo(x * _MM_PT, y * _MM_PT)
        for x, y in rest:
            path.lineTo(x * _MM_PT, y * _MM_PT)
        canvas.drawPath(path, stroke=1, fill=0)
    elif mark.text:
        canvas.setFillColor(HexColor(mark.colour))
        canvas.setFont(font_name(mark.bold), mark.size_pt)
        x, y = mark.x_mm * _MM_PT, mark.y_mm * _MM_PT
        if mark.turn_deg:
            canvas.saveState()
            canvas.translate(x, y)
            canvas.rotate(mark.turn_deg)
            x = y = 0.0
        shift = {"start": 0.0, "middle": 0.5, "end": 1.0}[mark.anchor] * mark.width_mm * _MM_PT
        canvas.drawString(x - shift, y, mark.text)
        if mark.turn_deg:
            canvas.restoreState()


def _add_ring(path: object, ring: Ring) -> None:
    """Add a closed ring; arcs as cubic curves of at most a quarter turn each."""
    first = ring.vertices[0]
    path.moveTo(first[0] * _MM_PT, first[1] * _MM_PT)  # type: ignore[attr-defined]
    for start, end, bulge in ring.edges():
        if not bulge or start == end:
            path.lineTo(end[0] * _MM_PT, end[1] * _MM_PT)  # type: ignore[attr-defined]
            continue
        (cx, cy), radius, angle, sweep = arc_of(start, end, bulge)
        count = max(1, math.ceil(abs(sweep) / (math.pi / 2) - 1e-9))
        step = sweep / count
        # Usual cubic for an arc of angle s: handles 4/3·tan(s/4) long; off by < 0.03 % of r.
        handle = 4.0 / 3.0 * math.tan(step / 4.0) * radius
        for k in range(count):
            a, b = angle + k * step, angle + (k + 1) * step
            ax, ay = cx + radius * math.cos(a), cy + radius * math.sin(a)
            bx, by = cx + radius * math.cos(b), cy + radius * math.sin(b)
            if k == count - 1:
                bx, by = end
            curve = (
                ax - handle * math.sin(a),
                ay + handle * math.cos(a),
                bx + handle * math.sin(b),
                by - handle * math.cos(b),
                bx,
                by,
            )
            path.curveTo(*(c * _MM_PT for c in curve))  # type: ignore[attr-defined]
    path.close()  # type: ignore[attr-defined]
