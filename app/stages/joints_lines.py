"""Changing seam lines by hand: moved, turned, bent, curved. No Qt here.

Stretch number i of a line runs from its point i to point i + 1; its bulge is 0 where straight.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
import shapely

from core.geometry import Motion, Point
from core.geometry.path import flatten_path
from core.geometry.ring import Vertex, arc_of
from core.project.model import Panel, SeamLine, StyleChoice

#: Where along a stretch its handle to curve it stands: out of the way of the middle's.
CURVE_AT = 0.7
MOST_BULGE = 0.9  # a seam is never more than nearly half a circle
_FLAT_MM = 0.05
_DRAWN_SAGITTA_MM = 0.1


def bulges_of(line: SeamLine) -> list[float]:
    """The bulge of every stretch."""
    count = len(line.points) - 1
    return [line.bulges[i] if i < len(line.bulges) else 0.0 for i in range(count)]


def vertices_of(line: SeamLine) -> tuple[Vertex, ...]:
    """The line as vertices with bulges, bends still sharp."""
    return tuple((x, y, b) for (x, y), b in zip(line.points, [*bulges_of(line), 0.0], strict=True))


def _with_bulges(line: SeamLine, bulges: Sequence[float]) -> SeamLine:
    kept = tuple(bulges) if any(bulges) else ()
    return replace(line, bulges=kept)


@lru_cache(maxsize=512)
def drawn(line: SeamLine) -> tuple[Point, ...]:
    """The line as points close enough to draw and to point at."""
    if not any(line.bulges) or len(set(line.points)) < 2:
        return line.points
    rows: list[Point] = [line.points[0]]
    for i, bulge in enumerate(bulges_of(line)):
        ends = (*line.points[i], bulge), (*line.points[i + 1], 0.0)
        if line.points[i] == line.points[i + 1]:
            continue
        rows += [(float(x), float(y)) for x, y in flatten_path(ends, _DRAWN_SAGITTA_MM)[1:]]
    return tuple(rows)


def length_of(line: SeamLine) -> float:
    """Length along the line, mm."""
    return float(shapely.LineString(drawn(line)).length)


def moved_line(line: SeamLine, dx_mm: float, dy_mm: float) -> SeamLine:
    """The whole line moved."""
    return replace(line, points=tuple((x + dx_mm, y + dy_mm) for x, y in line.points))


def with_point(line: SeamLine, number: int, x_mm: float, y_mm: float) -> SeamLine:
    """The line with one of its points put elsewhere."""
    points = list(line.points)
    points[number] = (x_mm, y_mm)
    return replace(line, points=tuple(points))


def nearest_stretch(line: SeamLine, x_mm: float, y_mm: float) -> int:
    """The number of the stretch nearest to a point."""
    spot = shapely.Point(x_mm, y_mm)
    gaps = [
        shapely.LineString(drawn(_stretch(line, i))).distance(spot)
        for i in range(len(line.points) - 1)
    ]
    return int(np.argmin(gaps))


def _stretch(line: SeamLine, number: int) -> SeamLine:
    bulge = bulges_of(line)[number]
    return SeamLine(line.points[number : number + 2], bulges=(bulge,) if bulge else ())


def bent_at(line: SeamLine, x_mm: float, y_mm: float, corner_mm: float) -> tuple[SeamLine, int]:
    """The line with a bend put in at the stretch nearest to a point; and the bend's number.

    A curved stretch becomes two, each with half the turn.
    """
    at = nearest_stretch(line, x_mm, y_mm) + 1
    points = (*line.points[:at], (x_mm, y_mm), *line.points[at:])
    bulges = bulges_of(line)
    half = math.tan(math.atan(bulges[at - 1]) / 2)
    bulges[at - 1 : at] = [half, half]
    corner = line.corner_mm if line.corner_mm > 0 else corner_mm
    return _with_bulges(replace(line, points=points, corner_mm=corner), bulges), at


def without_point(line: SeamLine, number: int) -> SeamLine:
    """The line with one bend taken out; ends stay."""
    if not 0 < number < len(line.points) - 1:
        return line
    bulges = bulges_of(line)
    bulges[number - 1 : number + 1] = [0.0]
    points = (*line.points[:number], *line.points[number + 1 :])
    return _with_bulges(replace(line, points=points), bulges)


def middle_of(line: SeamLine) -> Point:
    """The point halfway along a line."""
    return _along(line, 0.5)


def _along(line: SeamLine, share: float) -> Point:
    points = drawn(line)
    spot = shapely.LineString(points).interpolate(share, normalized=True)
    return float(spot.x), float(spot.y)


def turned_line(line: SeamLine, by_deg: float) -> SeamLine:
    """The line turned about its middle, counter-clockwise."""
    x, y = middle_of(line)
    turn = Motion(0, 0, by_deg)
    points = []
    for px, py in line.points:
        dx, dy = turn.apply(px - x, py - y)
        points.append((x + dx, y + dy))
    return replace(line, points=tuple(points))


# --- curves ---------------------------------------------------------------------------------
def curve_handle(line: SeamLine, number: int) -> Point:
    """Where the handle to curve a stretch stands."""
    return _along(_stretch(line, number), CURVE_AT)


def bulge_through(start: Point, end: Point, x_mm: float, y_mm: float) -> float:
    """The bulge of the arc from start to end through a point, at most nearly half a circle."""
    ax, ay = start[0] - x_mm, start[1] - y_mm
    bx, by = end[0] - x_mm, end[1] - y_mm
    cross, dot = ax * by - ay * bx, ax * bx + ay * by
    if math.hypot(ax, ay) < 1e-9 or math.hypot(bx, by) < 1e-9:
        return 0.0
    # Seen from a point of the arc the chord spans an angle that is half the turn left over.
    seen = math.atan2(abs(cross), dot)
    bulge = math.tan((math.pi - seen) / 2)
    # A point to the left of the chord sees its end clockwise of its start: a clockwise arc.
    side = (end[0] - start[0]) * (y_mm - start[1]) - (end[1] - start[1]) * (x_mm - start[0])
    return max(-MOST_BULGE, min(MOST_BULGE, math.copysign(bulge, -side)))


def rise_of(line: SeamLine, number: int) -> float:
    """How far a stretch bows out of its chord, mm: positive to the left of its direction."""
    chord = math.dist(line.points[number], line.points[number + 1])
    return -bulges_of(line)[number] * chord / 2


def with_rise(line: SeamLine, number: int, rise_mm: float) -> SeamLine:
    """The line with one stretch bowed by so much, 0 for straight."""
    chord = math.dist(line.points[number], line.points[number + 1])
    if chord < 1e-6:
        return line
    bulge = max(-MOST_BULGE, min(MOST_BULGE, -2 * rise_mm / chord))
    bulges = bulges_of(line)
    bulges[number] = 0.0 if abs(rise_mm) < _FLAT_MM else bulge
    return _with_bulges(line, bulges)


def curved_through(
    line: SeamLine, number: int, x_mm: float, y_mm: float, *, flat_mm: float = 0.0
) -> SeamLine:
    """The line with one stretch curved through a point; straight if it rises less than flat_mm."""
    start, end = line.points[number], line.points[number + 1]
    bulges = bulges_of(line)
    bulges[number] = bulge_through(start, end, x_mm, y_mm)
    curved = _with_bulges(line, bulges)
    if abs(rise_of(curved, number)) <= max(flat_mm, _FLAT_MM):
        bulges[number] = 0.0
        return _with_bulges(line, bulges)
    return curved


def radius_of(line: SeamLine, number: int) -> float | None:
    """Radius of a curved stretch, None if it is straight or, while a point of it is dragged
    onto the next, has no length."""
    bulge = bulges_of(line)[number]
    start, end = line.points[number], line.points[number + 1]
    if not bulge or math.dist(start, end) < 1e-6:
        return None
    return float(arc_of(start, end, bulge)[1])


def upright_line(panel: Panel, style: StyleChoice) -> SeamLine:
    """A new seam across the middle of the panel's longer side."""
    x1, y1, x2, y2 = panel.region.bounds
    if x2 - x1 >= y2 - y1:
        middle = (x1 + x2) / 2
        points = ((middle, y1), (middle, y2))
    else:
        middle = (y1 + y2) / 2
        points = ((x1, middle), (x2, middle))
    return SeamLine(points, style)
