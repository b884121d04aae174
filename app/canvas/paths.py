"""Outlines as Qt paths. Scene coordinates are mm with y up; the view turns them over."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import shapely
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QPainterPath, QPolygonF, QTransform
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from core.geometry import Motion, Region, Ring, arc_of


def ring_path(ring: Ring) -> QPainterPath:
    """A closed path with true arcs."""
    path = QPainterPath()
    x, y, _ = ring.vertices[0]
    path.moveTo(x, y)
    for start, end, bulge in ring.edges():
        if not bulge:
            path.lineTo(end[0], end[1])
            continue
        (cx, cy), radius, angle, sweep = arc_of(start, end, bulge)
        # Qt measures angles for a y that points down; ours points up, hence both signs.
        box = QRectF(cx - radius, cy - radius, 2 * radius, 2 * radius)
        path.arcTo(box, -math.degrees(angle), -math.degrees(sweep))
        path.lineTo(end[0], end[1])
    path.closeSubpath()
    return path


def region_path(region: Region) -> QPainterPath:
    """Outer ring and holes as one path; holes stay open."""
    path = QPainterPath()
    for ring in region.rings:
        path.addPath(ring_path(ring))
    return path


def shape_path(shape: BaseGeometry) -> QPainterPath:
    """A shapely polygon or multipolygon as one path, straight edges."""
    path = QPainterPath()
    for part in shapely.get_parts(shape):
        if part.geom_type != "Polygon":
            continue
        for ring in (part.exterior, *part.interiors):
            path.addPolygon(polygon_of(shapely.get_coordinates(ring).tolist()))
            path.closeSubpath()
    return path


def polygon_of(points: Iterable[Sequence[float]]) -> QPolygonF:
    """Points as a Qt polygon."""
    polygon = QPolygonF()
    for point in points:
        polygon.append(QPointF(point[0], point[1]))
    return polygon


def line_path(points: Sequence[Sequence[float]]) -> QPainterPath:
    """An open line through points."""
    path = QPainterPath()
    if points:
        path.addPolygon(polygon_of(points))
    return path


def motion_transform(motion: Motion) -> QTransform:
    """Mirror, turn and move as Qt applies them."""
    a, b, d, e, xoff, yoff = motion.matrix()
    return QTransform(a, d, b, e, xoff, yoff)


def label_point(region: Region) -> tuple[float, float]:
    """A point well inside the region, near its middle where the middle is board."""
    polygon = region.flattened(0.5)
    if not polygon.is_valid:
        polygon = polygon.buffer(0)
    middle = polygon.centroid
    if polygon.buffer(-min(region.size_mm) * 0.12).contains(middle):
        return float(middle.x), float(middle.y)
    circle = shapely.maximum_inscribed_circle(polygon, tolerance=max(region.size_mm) / 50)
    x, y = circle.coords[0]
    return float(x), float(y)


def label_room(region: Region, at: tuple[float, float]) -> tuple[float, float]:
    """Width and height that a text centred on a point has within the outline, mm."""
    outline = Polygon(region.outer.flattened(0.5))
    x, y = at
    x1, y1, x2, y2 = outline.bounds
    if not outline.is_valid:
        return x2 - x1, y2 - y1
    level = outline.intersection(shapely.LineString([(x1 - 1, y), (x2 + 1, y)]))
    upright = outline.intersection(shapely.LineString([(x, y1 - 1), (x, y2 + 1)]))
    return 2 * _half(level, x, 0), 2 * _half(upright, y, 1)


def _half(cut: BaseGeometry, middle: float, axis: int) -> float:
    """How far the stretch of a cut that holds the middle reaches to its nearer end."""
    for part in shapely.get_parts(cut):
        low, high = part.bounds[axis], part.bounds[axis + 2]
        if low - 1e-6 <= middle <= high + 1e-6:
            return float(min(middle - low, high - middle))
    return 0.0
