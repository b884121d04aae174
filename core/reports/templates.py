"""Paper templates at full size: a seam or a small piece, on as many pages as it takes.

Pages overlap; crosses on neighbours are laid on each other and the sheets taped together. A
line of 100 mm on every page shows whether the printer kept to scale.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from shapely.affinity import translate
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from core.errors import InvalidRequestError
from core.geometry import Motion, Point, Ring
from core.outlines.model import Face
from core.plan import Plan, PlanPiece
from core.reports.finder import Finder
from core.reports.fonts import PT_MM, shorten, wrap
from core.reports.paper import MARGIN_MM, Paper, paper_named
from core.reports.pdf import render_pdf
from core.reports.picture import (
    ACCENT,
    MUTED,
    NARROW_MM,
    THIN_MM,
    Line,
    Mark,
    Page,
    Shape,
    Stroke,
    text,
)
from core.reports.words import Words

OVERLAP_MM = 10.0
CHECK_MM = 100.0
_HEAD_MM = 13.0
_FOOT_MM = 13.0
_MOST_PAGES = 60
_NAME_PT = 11.0
_SEAM = Stroke(THIN_MM, ACCENT, (2.0, 1.0))
_PARTLY = Stroke(THIN_MM, MUTED, (2.0, 1.0))
_BEHIND = Stroke(THIN_MM, MUTED, (0.5, 1.0))


def seam_template_pages(plan: Plan, seam_id: str, *, paper: str = "A4") -> list[Page]:
    """A seam's line at full size with a hand's breadth of board on both sides.

    Raises InvalidRequestError for a seam or paper that does not exist, or if it took more than
    60 pages.
    """
    seam = next((s for s in plan.seams if s.id == seam_id), None)
    if seam is None:
        raise InvalidRequestError(f"There is no seam “{seam_id}” in this plan")
    around = LineString(seam.profile).buffer(40.0, cap_style="square").envelope
    pieces = [p for p in plan.pieces if p.id in seam.pieces]
    shapes: list[Mark] = []
    for piece in pieces:
        for ring in piece.cut.rings:
            shapes += _clipped(ring, around, Stroke(NARROW_MM))
        for mark in _features(piece):
            if isinstance(mark, Line):
                shapes += _lines(mark.points, around, (0.0, 0.0), mark.stroke)
                continue
            for ring in mark.rings:
                shapes += _clipped(ring, around, mark.stroke or Stroke())
    shapes.append(Line(seam.profile, _SEAM))
    names = [(p.cut.polygon.intersection(around), f"{p.name}, {seam.letter}") for p in pieces]
    title = f"Seam {seam.letter}: " + " + ".join(p.name for p in pieces)
    return _tiles(plan, shapes, names, around.bounds, title, paper)


def piece_template_pages(plan: Plan, piece_id: str, *, paper: str = "A4") -> list[Page]:
    """A piece as it is cut, at full size. Errors as for seam_template_pages."""
    piece = next((p for p in plan.pieces if p.id == piece_id), None)
    if piece is None:
        raise InvalidRequestError(f"There is no piece “{piece_id}” in this plan")
    shapes: list[Mark] = [Shape(piece.cut.rings, Stroke(NARROW_MM), None, "template")]
    shapes += _features(piece)
    names = [(piece.cut.polygon, piece.name)]
    return _tiles(plan, shapes, names, piece.cut.bounds, f"Piece: {piece.name}", paper)


def _features(piece: PlanPiece) -> list[Shape | Line]:
    """What is not cut through, dashed; dotted where it is cut from the back."""
    marks: list[Shape | Line] = []
    for feature in piece.features:
        behind = feature.depth_mm is not None and feature.face is Face.BACK
        stroke = _BEHIND if behind else _PARTLY
        if feature.ring is not None:
            marks.append(Shape((feature.ring, *feature.islands), stroke))
        elif feature.at is not None:
            x, y = feature.at
            marks.append(Line(((x - 4.0, y), (x + 4.0, y)), Stroke(THIN_MM)))
            marks.append(Line(((x, y - 4.0), (x, y + 4.0)), Stroke(THIN_MM)))
            if feature.diameter_mm:
                marks.append(Shape((Ring.circle(x, y, feature.diameter_mm / 2),), stroke))
        elif len(feature.path) > 1:
            marks.append(Line(feature.path, stroke))
    return marks


def _key(marks: Sequence[Mark]) -> str:
    """What the kinds of line on a page mean, those that are on it."""
    strokes = {m.stroke for m in marks if isinstance(m, Shape | Line)}
    dashed = ["the seam as drawn"] if _SEAM in strokes else []
    dashed += ["holes and pockets"] if _PARTLY in strokes else []
    words = ["Seen on the show face."]
    words += [f"Dashed: {', '.join(dashed)}."] if dashed else []
    words += ["Dotted: from the back."] if _BEHIND in strokes else []
    return " ".join(words)


def template_pdf(plan: Plan, *, seam: str = "", piece: str = "", paper: str = "A4") -> bytes:
    """The template of one seam or one piece as PDF bytes; give one of the two ids."""
    if bool(seam) == bool(piece):
        raise InvalidRequestError("A template is of one seam or of one piece")
    if seam:
        pages = seam_template_pages(plan, seam, paper=paper)
    else:
        pages = piece_template_pages(plan, piece, paper=paper)
    return render_pdf(pages, title=f"Template: {plan.project.name}")


# --- tiling -------------------------------------------------------------------------------


def _tiles(
    plan: Plan,
    shapes: Sequence[Mark],
    names: Sequence[tuple[BaseGeometry, str]],
    bounds: tuple[float, float, float, float],
    title: str,
    paper: str,
) -> list[Page]:
    sheet = paper_named(paper)
    x1, y1, x2, y2 = bounds
    wide, high = x2 - x1 + 2.0, y2 - y1 + 2.0
    options = [_grid(sheet, wide, high, landscape) for landscape in (False, True)]
    columns, rows, room_w, room_h, page_w, page_h = min(options, key=lambda o: o[0] * o[1])
    if columns * rows > _MOST_PAGES:
        raise InvalidRequestError(
            f"A template of that size would take {columns * rows} pages",
            remedy=f"At most {_MOST_PAGES} are printed: use larger paper or the drawing file.",
        )
    pages = []
    step_x, step_y = room_w - OVERLAP_MM, room_h - OVERLAP_MM
    # The drawing sits in the middle of what the pages cover.
    left = x1 - 1.0 - (step_x * columns + OVERLAP_MM - wide) / 2
    low = y1 - 1.0 - (step_y * rows + OVERLAP_MM - high) / 2
    for row in range(rows - 1, -1, -1):
        for column in range(columns):
            wx, wy = left + column * step_x, low + row * step_y
            window = box(wx, wy, wx + room_w, wy + room_h)
            shift = (MARGIN_MM - wx, MARGIN_MM + _FOOT_MM - wy)
            marks: list[Mark] = []
            for shape in shapes:
                marks += _cut_to(shape, window, shift)
            marks += _names(names, window.buffer(-12.0), shift, marks)
            place = f"row {rows - row} of {rows}, column {column + 1} of {columns}"
            alone = columns * rows == 1
            head = (title, "page 1 of 1" if alone else place, _key(marks))
            marks += _frame(plan, head, page_w, page_h, room_w, room_h, column, row, alone)
            pages.append(Page(page_w, page_h, tuple(marks), f"{title}, {place}", "template", 1.0))
    return pages


def _grid(
    sheet: Paper, wide: float, high: float, landscape: bool
) -> tuple[int, int, float, float, float, float]:
    page_w, page_h = sheet.width_mm, sheet.height_mm
    if landscape:
        page_w, page_h = page_h, page_w
    room_w = page_w - 2 * MARGIN_MM
    room_h = page_h - 2 * MARGIN_MM - _HEAD_MM - _FOOT_MM
    columns = max(1, math.ceil((wide - OVERLAP_MM) / (room_w - OVERLAP_MM)))
    rows = max(1, math.ceil((high - OVERLAP_MM) / (room_h - OVERLAP_MM)))
    return columns, rows, room_w, room_h, page_w, page_h


def _cut_to(mark: Mark, window: Polygon, shift: Point) -> list[Mark]:
    """What of a mark lies in the window, on the page. A shape wholly inside keeps its arcs."""
    if isinstance(mark, Shape):
        motion = Motion(*shift)
        out: list[Mark] = []
        for ring in mark.rings:
            if window.covers(box(*ring.bounds)):
                out.append(Shape((ring.moved(motion),), mark.stroke, None, mark.role, mark.key))
            else:
                closed = [tuple(p) for p in ring.flattened(0.01)]
                out += _lines([*closed, closed[0]], window, shift, mark.stroke or Stroke())
        return out
    if isinstance(mark, Line):
        return _lines(list(mark.points), window, shift, mark.stroke)
    return []


def _lines(
    points: Sequence[Sequence[float]], window: Polygon, shift: Point, stroke: Stroke
) -> list[Mark]:
    cut = LineString(points).intersection(window)
    out: list[Mark] = []
    for part in getattr(cut, "geoms", [cut]):
        if part.geom_type == "LineString" and part.length > 0.0:
            rows = tuple((float(x) + shift[0], float(y) + shift[1]) for x, y in part.coords)
            out.append(Line(rows, stroke, "template"))
    return out


def _clipped(ring: Ring, area: Polygon, stroke: Stroke) -> list[Mark]:
    """An outline within an area, as open lines."""
    closed = [tuple(p) for p in ring.flattened(0.01)]
    return _lines([*closed, closed[0]], area, (0.0, 0.0), stroke)


def _names(
    names: Sequence[tuple[BaseGeometry, str]], inner: Polygon, shift: Point, marks: Sequence[Mark]
) -> list[Mark]:
    """The name of every piece on a page that has room for it, off every line."""
    drawn = [LineString(m.points) for m in marks if isinstance(m, Line)]
    for mark in marks:
        if isinstance(mark, Shape):
            drawn += [LineString([*(f := r.flattened(0.1)), f[0]]) for r in mark.rings]
    taken: list[Polygon] = []
    out: list[Mark] = []
    for region, words in names:
        here = region.intersection(inner)
        parts = [p for p in getattr(here, "geoms", [here]) if isinstance(p, Polygon) and p.area]
        for part in sorted(parts, key=lambda p: -p.area):
            label = text(0, 0, words, _NAME_PT, anchor="middle", role="name")
            finder = Finder(
                lambda at: not any(t.intersects(box(*at)) for t in taken),
                translate(part, *shift),
                drawn,
            )
            wide, high = label.width_mm, _NAME_PT * PT_MM
            # Well off the lines where there is room, near them where there is little.
            spots = (finder.spot(wide + 2 * o, high + 2 * o, keep="all") for o in (6.0, 3.0, 1.5))
            spot = next((at for at in spots if at is not None), None)
            if spot is not None:
                x, y = spot
                taken.append(box(x - wide / 2, y - high / 2, x + wide / 2, y + high / 2))
                out.append(replace(label, x_mm=x, y_mm=y - high * 0.36))
                break
    return out


def _frame(
    plan: Plan,
    words: tuple[str, str, str],
    page_w: float,
    page_h: float,
    room_w: float,
    room_h: float,
    column: int,
    row: int,
    alone: bool,
) -> list[Mark]:
    """Head, crosses in the corners of the overlap, and the check line.

    words: title, place of the page, key to the lines.
    """
    title, place, key = words
    left, low, right = MARGIN_MM, MARGIN_MM + _FOOT_MM, page_w - MARGIN_MM
    marks: list[Mark] = []
    head = text(right, page_h - MARGIN_MM - 4.0, place, 9.0, anchor="end")
    room = page_w - 2 * MARGIN_MM - head.width_mm - 6.0
    marks.append(
        text(left, page_h - MARGIN_MM - 4.0, shorten(title, room, 10.0, True), 10.0, bold=True)
    )
    marks.append(head)
    hint = "Full size, print at 100 %."
    if not alone:
        hint += " Lay crosses with the same name on each other and tape."
    width = page_w - 2 * MARGIN_MM
    marks.append(text(left, page_h - MARGIN_MM - 9.0, shorten(hint, width, 8.0), 8.0, colour=MUTED))
    # Crosses in the middle of the overlaps: neighbours print the same ones.
    inset = OVERLAP_MM / 2
    for cx, ix in ((left + inset, column), (left + room_w - inset, column + 1)):
        for cy, iy in ((low + inset, row), (low + room_h - inset, row + 1)):
            marks += _cross(cx, cy, f"{chr(65 + ix % 26)}{iy + 1}", inward=cx > page_w / 2)
    edge = Ring.rectangle(left, low, room_w, room_h)
    marks.append(Shape((edge,), Stroke(0.13, MUTED, (0.8, 1.6)), None, "tile"))
    # The check line.
    y = MARGIN_MM + 6.5
    stroke = Stroke(NARROW_MM)
    marks.append(Line(((left, y), (left + CHECK_MM, y)), stroke, "check"))
    for x in (left, left + CHECK_MM):
        marks.append(Line(((x, y - 2.0), (x, y + 2.0)), stroke))
    inches = f" ({Words('in').length(CHECK_MM)})" if plan.project.units in ("in", "ft") else ""
    note = f"This line must measure 100 mm{inches}. If not, print again without scaling."
    marks.append(text(left, MARGIN_MM, shorten(note, width, 8.0), 8.0, role="check-words"))
    for line, words_ in enumerate(wrap(key, right - left - CHECK_MM - 5.0, 8.0)):
        marks.append(text(left + CHECK_MM + 5.0, y + 0.5 - 3.6 * line, words_, 8.0, role="key"))
    return marks


def _cross(x: float, y: float, name: str, *, inward: bool) -> list[Mark]:
    """A cross with its name, on the left of it where it stands at the right edge."""
    stroke = Stroke(THIN_MM)
    side, anchor = (-1.9, "end") if inward else (1.9, "start")
    return [
        Line(((x - 3.5, y), (x + 3.5, y)), stroke, "registration"),
        Line(((x, y - 3.5), (x, y + 3.5)), stroke, "registration"),
        Shape((Ring.circle(x, y, 1.5),), stroke, None, "registration", name),
        text(x + side, y + 1.2, name, 7.0, anchor=anchor, role="registration"),
    ]
