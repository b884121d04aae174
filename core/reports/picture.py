"""What a printed page holds, as values: shapes, lines and texts in millimetres of paper.

Pages are made of nothing but these marks, and every output (PDF, SVG, and PNG by way of the
PDF) draws the same list. Origin at the page's lower left corner, x right, y up.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from shapely.geometry import LineString, Polygon
from shapely.ops import unary_union

from core.geometry import Motion, Point, Ring
from core.reports.fonts import ASCENT, DESCENT, PT_MM, printable, text_width_mm

# Inks that stay apart on a black and white printer. Accent and signs are never the only sign.
INK = "#1F2A30"
MUTED = "#5C6870"
HAIRLINE = "#B9B2A6"
ACCENT = "#0B5A8F"
STOP = "#A3281C"
WARN = "#8A5A00"
PAPER = "#FFFFFF"
SHADE = "#EFECE6"
BOARD = "#F5EDDB"

# Pale tints after the hues of Okabe and Ito (2002), light enough for black text on them.
TINTS = (
    "#FBE9C8",
    "#D9EEFA",
    "#CDEBE1",
    "#FAF6C6",
    "#CFE2F2",
    "#F8DACB",
    "#F3DFEA",
    "#E4E6E8",
)

# Line widths of ISO 128-2 (from memory): wide twice the narrow one.
THIN_MM = 0.18
FINE_MM = 0.13
NARROW_MM = 0.25
WIDE_MM = 0.5
HEAVY_MM = 0.7


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a line is drawn. dash_mm: lengths of dash and gap in turn, () for continuous."""

    width_mm: float = THIN_MM
    colour: str = INK
    dash_mm: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Shape:
    """Closed rings, filled by the even-odd rule. stroke or fill None: not drawn.

    role and key say what it stands for, e.g. ("piece", "12"), so that pages can be checked.
    """

    rings: tuple[Ring, ...]
    stroke: Stroke | None = Stroke()
    fill: str | None = None
    role: str = ""
    key: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """An open line through two or more points."""

    points: tuple[Point, ...]
    stroke: Stroke = Stroke()
    role: str = ""


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text. (x_mm, y_mm) is on its base line; anchor: start, middle or end.

    turn_deg turns it counter-clockwise about that point.
    """

    x_mm: float
    y_mm: float
    text: str
    size_pt: float = 9.0
    bold: bool = False
    anchor: str = "start"
    turn_deg: float = 0.0
    colour: str = INK
    role: str = ""

    @property
    def width_mm(self) -> float:
        return text_width_mm(self.text, self.size_pt, self.bold)

    def box(self) -> Polygon:
        """The space the line of text takes on the page."""
        left = {"start": 0.0, "middle": -0.5, "end": -1.0}[self.anchor] * self.width_mm
        low, high = -DESCENT * self.size_pt * PT_MM, ASCENT * self.size_pt * PT_MM
        motion = Motion(self.x_mm, self.y_mm, self.turn_deg)
        right = left + self.width_mm
        return Polygon(
            [motion.apply(*p) for p in ((left, low), (right, low), (right, high), (left, high))]
        )


Mark = Shape | Line | Text


@dataclass(frozen=True)
class Page:
    """One page of paper, mm. title stands in its head and in the outline of the document.

    scale_denominator: of the main drawing on it (paper 1 : n), None if it has none.
    """

    width_mm: float
    height_mm: float
    marks: tuple[Mark, ...]
    title: str = ""
    kind: str = ""
    scale_denominator: float | None = None


def text(
    x_mm: float,
    y_mm: float,
    words: str,
    size_pt: float = 9.0,
    *,
    bold: bool = False,
    anchor: str = "start",
    turn_deg: float = 0.0,
    colour: str = INK,
    role: str = "",
) -> Text:
    """A Text whose signs all print."""
    return Text(x_mm, y_mm, printable(words), size_pt, bold, anchor, turn_deg, colour, role)


def rectangle(
    x_mm: float,
    y_mm: float,
    width_mm: float,
    height_mm: float,
    stroke: Stroke | None = Stroke(),
    fill: str | None = None,
    *,
    role: str = "",
    key: str = "",
) -> Shape:
    """An upright rectangle."""
    return Shape((Ring.rectangle(x_mm, y_mm, width_mm, height_mm),), stroke, fill, role, key)


def circle(
    x_mm: float, y_mm: float, radius_mm: float, stroke: Stroke | None, fill: str | None = None
) -> Shape:
    """A full circle."""
    return Shape((Ring.circle(x_mm, y_mm, radius_mm),), stroke, fill)


def polygon_shape(
    points: Sequence[Point],
    stroke: Stroke | None = None,
    fill: str | None = None,
    *,
    role: str = "",
) -> Shape:
    """A closed polygon."""
    return Shape((Ring.of(points),), stroke, fill, role)


def arrow(
    start: Point, end: Point, stroke: Stroke, *, both: bool = False, head_mm: float = 2.4
) -> list[Mark]:
    """A line with a filled head, three times as long as wide, at its end (or both ends)."""
    marks: list[Mark] = [Line((start, end), stroke)]
    for tail, tip in ((start, end), (end, start)) if both else ((start, end),):
        length = math.dist(tail, tip)
        if length == 0.0:
            continue
        ux, uy = (tip[0] - tail[0]) / length, (tip[1] - tail[1]) / length
        half = head_mm / 6
        base = (tip[0] - ux * head_mm, tip[1] - uy * head_mm)
        left = (base[0] - uy * half, base[1] + ux * half)
        right = (base[0] + uy * half, base[1] - ux * half)
        corners = (tip, left, right)
        marks.append(polygon_shape(corners, None, stroke.colour))
    return marks


def hatch(
    shape: Polygon,
    gap_mm: float,
    stroke: Stroke,
    *,
    crossed: bool = False,
    without: Iterable[Polygon] = (),
) -> list[Mark]:
    """Lines at 45° (and 135° if crossed) across a polygon, leaving out some places."""
    holes = [h for h in without if h.intersects(shape)]
    area = shape.difference(unary_union(holes)) if holes else shape
    if area.is_empty or gap_mm <= 0:
        return []
    x1, y1, x2, y2 = area.bounds
    marks: list[Mark] = []
    for sign in (1.0, -1.0) if crossed else (1.0,):
        # Lines x − sign·y = c. c starts on a whole step, so hatches of neighbours line up.
        step = gap_mm * math.sqrt(2.0)
        low = min(x1 - sign * y1, x1 - sign * y2)
        high = max(x2 - sign * y1, x2 - sign * y2)
        for k in range(math.ceil(low / step), math.floor(high / step) + 1):
            c = k * step
            line = LineString([(c + sign * y1, y1), (c + sign * y2, y2)])
            for part in getattr(line.intersection(area), "geoms", [line.intersection(area)]):
                if part.geom_type == "LineString" and part.length > 0.2:
                    coords = tuple((float(x), float(y)) for x, y in part.coords)
                    marks.append(Line(coords, stroke, "hatch"))
    return marks


def moved(marks: Iterable[Mark], dx_mm: float, dy_mm: float) -> list[Mark]:
    """The marks shifted on the page."""
    shift = Motion(dx_mm, dy_mm)
    out: list[Mark] = []
    for mark in marks:
        if isinstance(mark, Shape):
            out.append(replace(mark, rings=tuple(r.moved(shift) for r in mark.rings)))
        elif isinstance(mark, Line):
            out.append(replace(mark, points=tuple(shift.apply(*p) for p in mark.points)))
        else:
            out.append(replace(mark, x_mm=mark.x_mm + dx_mm, y_mm=mark.y_mm + dy_mm))
    return out
