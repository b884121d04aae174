"""What is left of a sheet, and the small questions of rectangles that go with it."""

from __future__ import annotations

from collections.abc import Sequence

from shapely.geometry import Polygon, box

from core.layout.arrangement import Rectangle
from core.plan import PlanBlank
from core.shop import Stock

#: An offcut is worth keeping from this size on (common practice, no source).
KEEP_SHORT_MM, KEEP_LONG_MM = 150.0, 300.0


def first_overlap(shapes: Sequence[Polygon]) -> tuple[int, int] | None:
    for i, first in enumerate(shapes):
        for j in range(i + 1, len(shapes)):
            if first.intersection(shapes[j]).area > 1e-3:
                return i, j
    return None


def rect_of(shape: Polygon) -> Rectangle:
    x1, y1, x2, y2 = shape.bounds
    return x1, y1, x2 - x1, y2 - y1


def worth_keeping(rect: Rectangle) -> bool:
    short, long = sorted(rect[2:])
    return short >= KEEP_SHORT_MM and long >= KEEP_LONG_MM


def edge_rectangle(
    blank: PlanBlank, shapes: Sequence[Polygon], spacing_mm: float, stock: Stock
) -> Rectangle | None:
    """The largest clear rectangle that one straight cut frees from a blank, or None.

    Full width or height of the blank, from an edge to the nearest piece less spacing.
    """
    if not shapes:
        return None
    x1, y1 = blank.x_mm, blank.y_mm
    x2, y2 = x1 + blank.width_mm, y1 + blank.height_mm
    bounds = [shape.bounds for shape in shapes]
    left = min(b[0] for b in bounds) - spacing_mm
    low = min(b[1] for b in bounds) - spacing_mm
    right = max(b[2] for b in bounds) + spacing_mm
    high = max(b[3] for b in bounds) + spacing_mm
    options: list[Rectangle] = [
        (right, y1, x2 - right, y2 - y1),
        (x1, high, x2 - x1, y2 - high),
        (x1, y1, left - x1, y2 - y1),
        (x1, y1, x2 - x1, low - y1),
    ]
    closed = [d.polygon for d in stock.defects]
    outline = stock.polygon
    best: Rectangle | None = None
    for rect in options:
        if rect[2] <= 0 or rect[3] <= 0:
            continue
        shape = box(rect[0], rect[1], rect[0] + rect[2], rect[1] + rect[3])
        if any(shape.intersects(d) for d in closed) or not outline.buffer(1e-6).covers(shape):
            continue
        if best is None or rect[2] * rect[3] > best[2] * best[3]:
            best = rect
    return best
