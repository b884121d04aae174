"""A page that shows whether a printer keeps to scale, prints the signs and keeps tints apart."""

from __future__ import annotations

from shapely.geometry import box

from core.reports.paper import MARGIN_MM, paper_named
from core.reports.pdf import render_pdf
from core.reports.picture import (
    FINE_MM,
    HEAVY_MM,
    MUTED,
    NARROW_MM,
    THIN_MM,
    TINTS,
    WIDE_MM,
    Line,
    Mark,
    Page,
    Stroke,
    hatch,
    rectangle,
    text,
)

RULE_MM = 100.0
SIGNS = "½ ¼ ¾ ⅛ ⅜ ⅝ ⅞  ″ ′  ⌀ ×  – …  ● ▲ ■ ▼  ↔ ↕  ° m² ä é ø ß ł č"


def print_test_page(paper: str = "A4") -> Page:
    """The test page, upright. Raises InvalidRequestError for an unknown paper."""
    sheet = paper_named(paper)
    left, top = MARGIN_MM, sheet.height_mm - MARGIN_MM
    right = sheet.width_mm - MARGIN_MM
    marks: list[Mark] = [text(left, top - 6.0, f"Print test, {sheet.name}", 15.0, bold=True)]
    y = top - 20.0
    marks += _rule(left, y)
    marks.append(text(left, y - 7.0, "Both lines must measure 100 mm (3 15/16″).", 9.5))
    marks.append(
        text(left, y - 12.0, "If not, print again at 100 %, without fitting to the page.", 9.5)
    )
    x = right - 6.0
    marks.append(Line(((x, y - RULE_MM), (x, y)), Stroke(NARROW_MM), "rule"))
    for end in (y, y - RULE_MM):
        marks.append(Line(((x - 2.5, end), (x + 2.5, end)), Stroke(NARROW_MM)))
    y -= 26.0
    marks.append(text(left, y, "Signs that must all be there:", 9.5))
    marks.append(text(left, y - 7.5, SIGNS, 12.0, role="signs"))
    y -= 22.0
    marks.append(text(left, y, "Tints must let the numbers stand out, in grey as well:", 9.5))
    y -= 18.0
    for index, tint in enumerate(TINTS):
        at = left + index * 17.0
        marks.append(rectangle(at, y, 15.0, 13.0, Stroke(NARROW_MM), tint, role="tint"))
        marks.append(text(at + 7.5, y + 4.8, str(index + 1), 10.0, bold=True, anchor="middle"))
    y -= 12.0
    marks.append(text(left, y, "Lines, from fine to heavy, and hatches:", 9.5))
    y -= 8.0
    for index, width in enumerate((FINE_MM, THIN_MM, NARROW_MM, WIDE_MM, HEAVY_MM)):
        at = left + index * 22.0
        marks.append(Line(((at, y), (at + 18.0, y)), Stroke(width)))
        marks.append(text(at, y - 5.0, f"{width:g} mm", 8.0, colour=MUTED))
    y -= 24.0
    for index, (gap, crossed) in enumerate(((2.6, False), (1.4, False), (1.0, True))):
        at = left + index * 34.0
        marks += hatch(box(at, y, at + 30.0, y + 14.0), gap, Stroke(FINE_MM), crossed=crossed)
        marks.append(rectangle(at, y, 30.0, 14.0, Stroke(NARROW_MM)))
    y -= 10.0
    words = "The dashed frame must be whole: what lies beyond it, this printer cuts off."
    marks.append(text(left, y, words, 9.5))
    edge = Stroke(THIN_MM, MUTED, (1.0, 1.0))
    width, height = sheet.width_mm - 2 * MARGIN_MM, sheet.height_mm - 2 * MARGIN_MM
    marks.append(rectangle(left - 3.0, MARGIN_MM - 3.0, width + 6.0, height + 6.0, edge))
    return Page(sheet.width_mm, sheet.height_mm, tuple(marks), "Print test", "test", 1.0)


def print_test_pdf(paper: str = "A4") -> bytes:
    """The test page as PDF bytes."""
    return render_pdf([print_test_page(paper)], title="Print test")


def _rule(x: float, y: float) -> list[Mark]:
    """A line of 100 mm with a tick every 10 mm."""
    stroke = Stroke(NARROW_MM)
    marks: list[Mark] = [Line(((x, y), (x + RULE_MM, y)), stroke, "rule")]
    for step in range(11):
        tall = 2.5 if step % 5 == 0 else 1.5
        at = x + step * RULE_MM / 10
        marks.append(Line(((at, y - tall), (at, y + tall)), stroke))
    return marks
