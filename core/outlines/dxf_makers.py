"""One maker for every kind of DXF entity that is a line: its vertices as we keep them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import Any

from core.geometry import Vertex
from core.outlines.limits import MAX_COORDINATE
from core.outlines.strands import arc_rows, circle_rows

#: (rows, closed, curve), None if nothing is left of the entity
Made = tuple[tuple[Vertex, ...], bool, bool] | None
_FLAT = math.cos(math.radians(0.1))  # a plane this close to level is level


def is_level(entity: Any) -> bool:
    """True if the entity lies level, upright or face down; face down ones are turned over."""
    if entity.dxftype() in ("LINE", "SPLINE", "HELIX") or not entity.dxf.hasattr("extrusion"):
        return True
    normal = entity.dxf.extrusion
    length = normal.magnitude
    if not length:
        return True
    if normal.z / length <= -_FLAT:
        from ezdxf.upright import upright

        entity.dxf.extrusion = (0, 0, -1)
        upright(entity)
        return True
    return bool(normal.z / length >= _FLAT)


def _line(entity: Any, sagitta: float) -> Made:
    start, end = entity.dxf.start, entity.dxf.end
    return ((start.x, start.y, 0.0), (end.x, end.y, 0.0)), False, False


def _circle(entity: Any, sagitta: float) -> Made:
    centre, radius = entity.dxf.center, abs(entity.dxf.radius)
    return (circle_rows(centre.x, centre.y, radius), True, False) if radius else None


def _arc(entity: Any, sagitta: float) -> Made:
    centre, radius = entity.dxf.center, abs(entity.dxf.radius)
    if not radius:
        return None
    if max(radius, abs(centre.x), abs(centre.y)) > MAX_COORDINATE:
        raise ValueError("its ends cannot be told from its centre")
    start = math.radians(math.fmod(entity.dxf.start_angle, 360.0))
    sweep = math.fmod(math.radians(entity.dxf.end_angle) - start, math.tau)
    if sweep <= 1e-12:
        sweep += math.tau
    if math.tau - sweep < 1e-9:
        return circle_rows(centre.x, centre.y, radius), True, False
    return arc_rows(centre.x, centre.y, radius, start, sweep), False, False


def _ellipse(entity: Any, sagitta: float) -> Made:
    dxf = entity.dxf
    centre, major = dxf.center, dxf.major_axis
    radius, ratio = math.hypot(major.x, major.y), abs(dxf.ratio)
    if not radius or not ratio:
        return None
    sweep = dxf.end_param - dxf.start_param
    whole = abs(abs(sweep) - math.tau) < 1e-9 or not math.fmod(sweep, math.tau)
    if abs(ratio - 1.0) < 1e-9:
        if whole:
            return circle_rows(centre.x, centre.y, radius), True, False
        start = math.fmod(dxf.start_param + math.atan2(major.y, major.x), math.tau)
        turn = math.fmod(sweep, math.tau)
        return arc_rows(centre.x, centre.y, radius, start, turn % math.tau), False, False
    rows = _flat_rows(entity.flattening(max(sagitta, radius * 1e-6)))
    if whole and len(rows) > 2:
        return rows[:-1], True, True
    return (rows, False, True) if len(rows) > 1 else None


def _spline(entity: Any, sagitta: float) -> Made:
    points = entity.control_points if len(entity.control_points) else entity.fit_points
    if len(points) < 2 or len(points) > 50_000:
        return None
    xs, ys = [float(p[0]) for p in points], [float(p[1]) for p in points]
    # A maximum may pass over what is no number, and such a curve is never flat enough.
    reach = max(abs(v) for v in (*xs, *ys))
    if not all(math.isfinite(v) for p in points for v in p) or reach > MAX_COORDINATE:
        raise ValueError("not a finite number")
    size = math.hypot(max(xs) - min(xs), max(ys) - min(ys))
    if not size:
        return None
    curve = _clamped(entity.construction_tool())
    rows = _flat_rows(curve.flattening(max(sagitta, size * 1e-6, reach * 1e-12)))
    if len(rows) < 2:
        return None
    # A spline that ends where it began is a closed line even if its flag does not say so.
    gap = math.hypot(rows[0][0] - rows[-1][0], rows[0][1] - rows[-1][1])
    if len(rows) > 3 and gap <= 1e-9 * size:
        return rows[:-1], True, True
    return rows, False, True


def _clamped(curve: Any) -> Any:
    """The same B-spline with its first and last knots repeated, so that it begins and ends there.

    A closed spline is often written with evenly running knots. It is drawn between the knots
    after the degree and before it only; beyond them the library would follow its polynomial far
    away. Knots are put in until the ends stand apart (Boehm's knot insertion, by the library).
    """
    from ezdxf.math import BSpline

    degree, knots = curve.degree, list(curve.knots())
    if curve.is_clamped or len(knots) < 2 * degree + 2:
        return curve
    first, last = knots[degree], knots[-degree - 1]
    if not first < last:
        return curve
    for knot in (first, last):
        for _ in range(degree - sum(1 for k in knots if k == knot)):
            curve = curve.insert_knot(knot)
    knots = list(curve.knots())
    start, end = knots.index(first), len(knots) - knots[::-1].index(last) - degree
    inner = knots[start + degree : end]
    ends = [first] * (degree + 1), [last] * (degree + 1)
    weights = list(curve.weights())
    return BSpline(
        curve.control_points[start - 1 : end],
        order=degree + 1,
        knots=[k - first for k in (*ends[0], *inner, *ends[1])],
        weights=weights[start - 1 : end] or None,
    )


def _lwpolyline(entity: Any, sagitta: float) -> Made:
    rows = tuple((x, y, b) for x, y, b in entity.get_points("xyb"))
    return _polyline_rows(rows, bool(entity.closed))


def _polyline(entity: Any, sagitta: float) -> Made:
    if entity.is_poly_face_mesh or entity.is_polygon_mesh:
        return None
    # Control points of a smoothed polyline (flag 16) are not on the line itself.
    rows = tuple(
        (v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0))
        for v in entity.vertices
        if not v.dxf.get("flags", 0) & 16
    )
    return _polyline_rows(rows, bool(entity.is_closed))


def _polyline_rows(rows: tuple[Vertex, ...], closed: bool) -> Made:
    """Repeated points out; one that ends on its first point is closed."""
    kept: list[Vertex] = []
    for x, y, bulge in rows:
        if abs(bulge) > 1e6:  # a turn so close to full that the arc has no end
            bulge = 0.0
        if kept and kept[-1][0] == x and kept[-1][1] == y:
            kept[-1] = (x, y, bulge)
        else:
            kept.append((x, y, bulge))
    if len(kept) > 2 and kept[0][:2] == kept[-1][:2]:
        closed = True
        kept.pop()
    if len(kept) < 2 or (closed and len(kept) == 2 and not any(row[2] for row in kept)):
        return (tuple(kept), False, False) if len(kept) == 2 else None
    return tuple(kept), closed, False


def _flat_rows(points: Iterable[Any]) -> tuple[Vertex, ...]:
    """Points of a flattened curve as rows, repeats out."""
    rows: list[Vertex] = []
    for point in points:
        x, y = float(point.x), float(point.y)
        if not rows or rows[-1][0] != x or rows[-1][1] != y:
            rows.append((x, y, 0.0))
    return tuple(rows)


def _point(entity: Any, sagitta: float) -> Made:
    return None  # points are no strands; the walk takes them itself


MAKERS: dict[str, Callable[[Any, float], Made]] = {
    "LINE": _line,
    "CIRCLE": _circle,
    "ARC": _arc,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
    "HELIX": _spline,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "POINT": _point,
}
