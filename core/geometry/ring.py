"""Rings whose arcs stay arcs.

The truth of every outline is a :class:`Ring`: vertices with a *bulge* each, the form the DXF
reference gives a polyline. Polygons for area, overlap and nesting are flattened from it once
and kept; nothing ever goes back from a polygon to a ring except through
:mod:`core.geometry.arcs`, which knows the circles it may find again.

Bulge = tan(included angle / 4) of the arc from this vertex to the next; 0 is a straight line,
1 a half circle; positive turns counter-clockwise, so the arc bows to the right of travel
(DXF reference, polyline bulge).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from core.errors import InvalidGeometryError
from core.tolerances import FLATTEN_SAGITTA_MM, SAME_POINT_MM

Vertex = tuple[float, float, float]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Motion:
    """How a piece is laid down: mirrored x → −x first, then turned about (0, 0), then moved.

    turn_deg is counter-clockwise; x_mm, y_mm move after the turn. The same order as a
    placement in a plan.
    """

    x_mm: float = 0.0
    y_mm: float = 0.0
    turn_deg: float = 0.0
    mirrored: bool = False

    def matrix(self) -> tuple[float, float, float, float, float, float]:
        """(a, b, d, e, xoff, yoff) as shapely.affinity.affine_transform takes it.

        Quarter turns give exact zeros and ones, so a turned rectangle stays a rectangle.
        """
        quarter = self.turn_deg / 90.0
        if quarter == round(quarter):
            cos, sin = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
        else:
            angle = math.radians(self.turn_deg)
            cos, sin = math.cos(angle), math.sin(angle)
        sign = -1.0 if self.mirrored else 1.0
        return (cos * sign, -sin, sin * sign, cos, self.x_mm, self.y_mm)

    def apply(self, x_mm: float, y_mm: float) -> Point:
        """Where the point (x_mm, y_mm) of the piece comes to lie."""
        a, b, d, e, xoff, yoff = self.matrix()
        return (a * x_mm + b * y_mm + xoff, d * x_mm + e * y_mm + yoff)


def arc_of(start: Point, end: Point, bulge: float) -> tuple[Point, float, float, float]:
    """Centre, radius, start angle and signed sweep (radians) of a bulged edge.

    bulge must not be 0 and the ends must differ. Source: bulge = tan(sweep / 4), radius =
    chord (1 + b²) / (4 |b|) (DXF reference, polyline bulge).
    """
    dx, dy = end[0] - start[0], end[1] - start[1]
    chord = math.hypot(dx, dy)
    # Signed distance from the chord's middle to the centre, to the left of travel.
    rise = chord * (1.0 - bulge * bulge) / (4.0 * bulge)
    cx = (start[0] + end[0]) / 2 - dy / chord * rise
    cy = (start[1] + end[1]) / 2 + dx / chord * rise
    radius = chord * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
    return (cx, cy), radius, math.atan2(start[1] - cy, start[0] - cx), 4.0 * math.atan(bulge)


def arc_steps(radius_mm: float, sweep_rad: float, sagitta_mm: float) -> int:
    """Number of chords so that none is further than sagitta_mm from the arc."""
    ratio = max(-1.0, 1.0 - sagitta_mm / radius_mm) if radius_mm > 0 else -1.0
    step = 2.0 * math.acos(ratio)
    return max(1, math.ceil(abs(sweep_rad) / max(step, 1e-5) - 1e-9))


def flatten_rows(
    starts: NDArray[np.float64], ends: NDArray[np.float64], sagitta_mm: float
) -> NDArray[np.float64]:
    """(m, 2) points of edges, each from its start on, arcs as chords within sagitta_mm.

    starts: (n, 3) rows x, y, bulge. ends: (n, 2). An edge's own end is not among the points.
    """
    arcs = np.flatnonzero(starts[:, 2])
    if len(arcs) == 0:
        return np.ascontiguousarray(starts[:, :2])
    x1, y1, bulge = starts[arcs].T
    x2, y2 = ends[arcs].T
    dx, dy = x2 - x1, y2 - y1
    chord = np.hypot(dx, dy)
    rise = chord * (1.0 - bulge * bulge) / (4.0 * bulge)
    cx = (x1 + x2) / 2 - dy / chord * rise
    cy = (y1 + y2) / 2 + dx / chord * rise
    radius = chord * (1.0 + bulge * bulge) / (4.0 * np.abs(bulge))
    angle, sweep = np.arctan2(y1 - cy, x1 - cx), 4.0 * np.arctan(bulge)
    # As arc_steps counts, for every arc at once.
    step = 2.0 * np.arccos(np.maximum(-1.0, 1.0 - sagitta_mm / radius))
    counts = np.ones(len(starts), dtype=np.int64)
    counts[arcs] = np.maximum(1, np.ceil(np.abs(sweep) / np.maximum(step, 1e-5) - 1e-9))
    edge = np.repeat(np.arange(len(starts)), counts)
    number = np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts)
    points = starts[edge, :2]
    between = np.flatnonzero(number)
    place = np.zeros(len(starts), dtype=np.int64)
    place[arcs] = np.arange(len(arcs))
    arc = place[edge[between]]
    turn = angle[arc] + sweep[arc] * number[between] / counts[edge[between]]
    points[between, 0] = cx[arc] + radius[arc] * np.cos(turn)
    points[between, 1] = cy[arc] + radius[arc] * np.sin(turn)
    return points


@dataclass(frozen=True)
class Ring:
    """A closed outline: vertices (x_mm, y_mm, bulge to the next vertex), last joins first."""

    vertices: tuple[Vertex, ...]

    @staticmethod
    def of(points: Iterable[Sequence[float]]) -> Ring:
        """A ring from (x, y) or (x, y, bulge) rows; repeated points and a closing one dropped.

        Raises InvalidGeometryError when fewer than two vertices (three if none is bulged)
        are left or a coordinate is not finite.
        """
        kept: list[Vertex] = []
        for row in points:
            x, y = float(row[0]), float(row[1])
            bulge = float(row[2]) if len(row) > 2 else 0.0
            if not (math.isfinite(x) and math.isfinite(y) and math.isfinite(bulge)):
                raise InvalidGeometryError("A coordinate is not a finite number", f"({x}, {y})")
            if kept and math.hypot(x - kept[-1][0], y - kept[-1][1]) <= SAME_POINT_MM:
                kept[-1] = (kept[-1][0], kept[-1][1], bulge)
                continue
            kept.append((x, y, bulge))
        while (
            len(kept) > 1
            and math.hypot(kept[0][0] - kept[-1][0], kept[0][1] - kept[-1][1]) <= SAME_POINT_MM
        ):
            kept.pop()
        if len(kept) < 2 or (len(kept) == 2 and not any(v[2] for v in kept)):
            raise InvalidGeometryError("An outline needs at least three corners or an arc")
        return Ring(tuple(kept))

    @staticmethod
    def rectangle(x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> Ring:
        """An upright rectangle with its lower left corner at (x_mm, y_mm), counter-clockwise."""
        x2, y2 = x_mm + width_mm, y_mm + height_mm
        return Ring.of([(x_mm, y_mm), (x2, y_mm), (x2, y2), (x_mm, y2)])

    @staticmethod
    def circle(x_mm: float, y_mm: float, radius_mm: float) -> Ring:
        """A full circle as two half-circle bulges, counter-clockwise."""
        return Ring.of([(x_mm - radius_mm, y_mm, 1.0), (x_mm + radius_mm, y_mm, 1.0)])

    def edges(self) -> Iterable[tuple[Point, Point, float]]:
        """(start, end, bulge) of every edge in order."""
        count = len(self.vertices)
        for i, (x, y, bulge) in enumerate(self.vertices):
            nx, ny, _ = self.vertices[(i + 1) % count]
            yield (x, y), (nx, ny), bulge

    def flattened(self, sagitta_mm: float = FLATTEN_SAGITTA_MM) -> NDArray[np.float64]:
        """(n, 2) array of points, arcs as chords within sagitta_mm; the first not repeated."""
        rows = np.array(self.vertices, dtype=np.float64)
        return flatten_rows(rows, np.roll(rows[:, :2], -1, axis=0), sagitta_mm)

    @cached_property
    def signed_area_mm2(self) -> float:
        """Exact area with true arcs; positive when the ring runs counter-clockwise."""
        total = 0.0
        for (x1, y1), (x2, y2), bulge in self.edges():
            total += (x1 * y2 - x2 * y1) / 2.0
            if bulge:
                _, radius, _, sweep = arc_of((x1, y1), (x2, y2), bulge)
                total += radius * radius * (sweep - math.sin(sweep)) / 2.0
        return total

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        """Exact (min x, min y, max x, max y), arcs included."""
        xs = [v[0] for v in self.vertices]
        ys = [v[1] for v in self.vertices]
        for start, end, bulge in self.edges():
            if not bulge:
                continue
            (cx, cy), radius, angle, sweep = arc_of(start, end, bulge)
            low, high = sorted((angle, angle + sweep))
            quarter = math.ceil(low / (math.pi / 2))
            while quarter * math.pi / 2 <= high:
                dx, dy = ((1, 0), (0, 1), (-1, 0), (0, -1))[quarter % 4]
                xs.append(cx + radius * dx)
                ys.append(cy + radius * dy)
                quarter += 1
        return min(xs), min(ys), max(xs), max(ys)

    @property
    def has_arcs(self) -> bool:
        """True if at least one edge is an arc."""
        return any(v[2] for v in self.vertices)

    def reversed(self) -> Ring:
        """The same outline run the other way."""
        count = len(self.vertices)
        rows = []
        for i in range(count - 1, -1, -1):
            x, y, _ = self.vertices[i]
            rows.append((x, y, -self.vertices[i - 1][2]))
        return Ring(tuple(rows))

    def oriented(self, *, ccw: bool) -> Ring:
        """This ring, turned round if need be."""
        return self if (self.signed_area_mm2 > 0) == ccw else self.reversed()

    def moved(self, motion: Motion) -> Ring:
        """The ring laid down by motion; a mirrored one keeps its running direction."""
        sign = -1.0 if motion.mirrored else 1.0
        ring = Ring(tuple((*motion.apply(x, y), bulge * sign) for x, y, bulge in self.vertices))
        return ring.reversed() if motion.mirrored else ring

    def scaled(self, factor: float) -> Ring:
        """The ring scaled about (0, 0); factor > 0."""
        return Ring(tuple((x * factor, y * factor, b) for x, y, b in self.vertices))


@dataclass(frozen=True)
class Region:
    """Board: an outer ring (counter-clockwise) less holes (clockwise)."""

    outer: Ring
    holes: tuple[Ring, ...] = ()

    @staticmethod
    def of(outer: Ring, holes: Iterable[Ring] = ()) -> Region:
        """A region with every ring turned the right way."""
        return Region(outer.oriented(ccw=True), tuple(h.oriented(ccw=False) for h in holes))

    @staticmethod
    def from_polygon(polygon: Polygon) -> Region:
        """A region with straight edges only, from a valid shapely polygon in mm."""
        return Region.of(
            Ring.of(polygon.exterior.coords), [Ring.of(h.coords) for h in polygon.interiors]
        )

    @property
    def rings(self) -> tuple[Ring, ...]:
        """Outer ring first, then the holes."""
        return (self.outer, *self.holes)

    @cached_property
    def polygon(self) -> Polygon:
        """The region flattened once, sagitta within FLATTEN_SAGITTA_MM."""
        return self.flattened()

    def flattened(self, sagitta_mm: float = FLATTEN_SAGITTA_MM) -> Polygon:
        """Shapely polygon, mm, arcs as chords within sagitta_mm."""
        return Polygon(
            self.outer.flattened(sagitta_mm), [h.flattened(sagitta_mm) for h in self.holes]
        )

    @cached_property
    def area_mm2(self) -> float:
        """Exact area, arcs included."""
        return sum(ring.signed_area_mm2 for ring in self.rings)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Exact bounds of the outer ring."""
        return self.outer.bounds

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the bounds."""
        x1, y1, x2, y2 = self.bounds
        return x2 - x1, y2 - y1

    def moved(self, motion: Motion) -> Region:
        """The region laid down by motion."""
        return Region(self.outer.moved(motion), tuple(h.moved(motion) for h in self.holes))

    def scaled(self, factor: float) -> Region:
        """The region scaled about (0, 0)."""
        return Region(self.outer.scaled(factor), tuple(h.scaled(factor) for h in self.holes))
