"""Seam lines made ready: rounded at bends, run on to the edge, cut into joint lengths."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from core.errors import InvalidGeometryError
from core.geometry.path import (
    Path,
    carrier_hits,
    carrier_of,
    edge_direction,
    edge_fraction,
    edge_length,
    edges_of,
    fillet,
    path_length,
    round_corners,
    sub_path,
)
from core.geometry.ring import Point, Region, arc_of
from core.joints.style import JointContext, Keys, Lap, SeamStyle, StyleProperties, Tooth
from core.project.model import SeamLine
from core.tolerances import BIT_ROOM_MM, END_OVERSHOOT_MM

TOUCH_MM = 1e-5  # points of a seam and an edge this near are one point
_SHORTEST_MM = 0.02  # a shorter stretch inside the board is a graze, not a joint length
TURNS_BACK = -0.9999  # cosine of a bend beyond which a seam runs back along itself (0.8° short)


@dataclass(frozen=True, slots=True)
class Hit:
    """Where a seam line meets an edge of the outline."""

    station_mm: float
    at: Point
    ring: int
    edge: int
    fraction: float


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where two seam lines meet inside the board: line indices and stations."""

    at: Point
    lines: tuple[int, int]
    stations_mm: tuple[float, float]


@dataclass
class ReadySeam:
    """A seam line with everything its style says about it."""

    index: int
    line: SeamLine
    style: SeamStyle
    context: JointContext
    properties: StyleProperties
    tooth: Tooth | None
    keys: Keys | None
    lap: Lap | None
    fit_mm: float
    base: Path = ()

    @property
    def gap_mm(self) -> float:
        """Gap at a flank."""
        return self.fit_mm / 2

    @property
    def reach_mm(self) -> tuple[float, float]:
        """How far the joint reaches to the left and to the right of the line."""
        if self.tooth is not None:
            depth, back = self.tooth.depth_mm, self.tooth.back_mm
            return (back, depth) if self.line.turned_over else (depth, back)
        if self.keys is not None:
            half = self.keys.outline.bounds[3]
            return half, half
        if self.lap is not None:
            return self.lap.lap_mm / 2, self.lap.lap_mm / 2
        return 0.0, 0.0


class EdgeTable:
    """The edges of a region with their bounds, for quick crossing tests."""

    def __init__(self, region: Region) -> None:
        self.region = region
        self.edges: list[tuple[int, int, Point, Point, float]] = []
        boxes: list[tuple[float, float, float, float]] = []
        for ring_index, ring in enumerate(region.rings):
            for edge_index, (start, end, bulge) in enumerate(ring.edges()):
                self.edges.append((ring_index, edge_index, start, end, bulge))
                x1, x2 = sorted((start[0], end[0]))
                y1, y2 = sorted((start[1], end[1]))
                if bulge:
                    (cx, cy), r, _, _ = arc_of(start, end, bulge)
                    if abs(bulge) < 1.0:
                        # An arc of less than a half turn stays within its sagitta.
                        grow = abs(bulge) * math.dist(start, end) / 2
                        x1, x2, y1, y2 = x1 - grow, x2 + grow, y1 - grow, y2 + grow
                    else:
                        x1, x2, y1, y2 = cx - r, cx + r, cy - r, cy + r
                boxes.append((x1, y1, x2, y2))
        self.boxes: NDArray[np.float64] = np.array(boxes)

    def near(self, start: Point, end: Point, bulge: float) -> NDArray[np.int64]:
        """Indices of edges whose bounds meet those of an edge."""
        x1, x2 = sorted((start[0], end[0]))
        y1, y2 = sorted((start[1], end[1]))
        if bulge:
            grow = math.dist(start, end) * max(abs(bulge), 1.0)
            x1, x2, y1, y2 = x1 - grow, x2 + grow, y1 - grow, y2 + grow
        b, t = self.boxes, 1e-4
        hit = (b[:, 0] <= x2 + t) & (b[:, 2] >= x1 - t) & (b[:, 1] <= y2 + t) & (b[:, 3] >= y1 - t)
        return np.flatnonzero(hit)


def base_line(line: SeamLine, context: JointContext, lap_mm: float = 0.0) -> Path:
    """The line's path with bends rounded, not yet run on to the edge.

    A bend is never tighter than the bit, for it is an inside corner of one mate. Raises
    InvalidGeometryError for a line without length or bends too close to be rounded.
    """
    points = [line.points[0]]
    bulges: list[float] = []
    for index, point in enumerate(line.points[1:]):
        if math.dist(point, points[-1]) > TOUCH_MM:
            points.append(point)
            bulges.append(line.bulges[index] if index < len(line.bulges) else 0.0)
    if len(points) < 2:
        raise InvalidGeometryError("A seam line needs two points apart from each other")
    # Both sides of a lap are moved by half of it and must stay rounded too.
    least = context.cutter.radius_mm + context.gap_mm / 2 + BIT_ROOM_MM + lap_mm / 2
    radius = max(line.corner_mm, least)
    path = tuple((*p, b) for p, b in zip(points, [*bulges, 0.0], strict=True))
    for one, two in itertools.pairwise(edges_of(path)):
        (x1, y1), (x2, y2) = edge_direction(*one, 1.0), edge_direction(*two, 0.0)
        if x1 * x2 + y1 * y2 < TURNS_BACK:
            raise InvalidGeometryError(
                "A seam turns back on itself",
                f"({two[0][0]:.0f}, {two[0][1]:.0f})",
                "Move that point, or remove it.",
            )
    if any(bulges):
        tightest = min(arc_of(*edge)[1] for edge in edges_of(path) if edge[2])
        if tightest < least:
            raise InvalidGeometryError(
                f"A seam curves with a radius of {tightest:.1f} mm, tighter than the bit allows",
                f"({points[0][0]:.0f}, {points[0][1]:.0f})",
                f"Curve it less: {least:.1f} mm or more.",
            )
        return round_corners(path, [radius] * len(points))
    return fillet(points, [radius] * len(points))


def _edge_hits(
    one: tuple[Point, Point, float], two: tuple[Point, Point, float]
) -> list[tuple[Point, float, float]]:
    """(point, fraction on one, fraction on two) where two edges meet."""
    found = []
    l1, l2 = edge_length(*one), edge_length(*two)
    for point in carrier_hits(carrier_of(*one), carrier_of(*two)):
        f1, f2 = edge_fraction(*one, point), edge_fraction(*two, point)
        t1, t2 = TOUCH_MM / l1, TOUCH_MM / l2
        if -t1 <= f1 <= 1 + t1 and -t2 <= f2 <= 1 + t2:
            found.append((point, min(1.0, max(0.0, f1)), min(1.0, max(0.0, f2))))
    return found


def outline_hits(base: Path, table: EdgeTable) -> list[Hit]:
    """Where a seam line meets the outline, in order, each place once."""
    hits: list[Hit] = []
    station = 0.0
    for edge in edges_of(base):
        length = edge_length(*edge)
        for index in table.near(*edge):
            ring, number, start, end, bulge = table.edges[index]
            for point, f1, f2 in _edge_hits(edge, (start, end, bulge)):
                hits.append(Hit(station + f1 * length, point, ring, number, f2))
        station += length
    hits.sort(key=lambda hit: hit.station_mm)
    once: list[Hit] = []
    for hit in hits:
        count = len(table.region.rings[hit.ring].vertices)
        start, end, bulge = list_edge(table.region, hit.ring, hit.edge)
        long = edge_length(start, end, bulge)
        if (1.0 - hit.fraction) * long <= TOUCH_MM:
            hit = Hit(hit.station_mm, end, hit.ring, (hit.edge + 1) % count, 0.0)
        elif hit.fraction * long <= TOUCH_MM:
            hit = Hit(hit.station_mm, start, hit.ring, hit.edge, 0.0)
        if once and hit.station_mm - once[-1].station_mm <= 2 * TOUCH_MM:
            if once[-1].fraction != 0.0 and hit.fraction == 0.0:
                once[-1] = hit
            continue
        once.append(hit)
    return once


def list_edge(region: Region, ring: int, edge: int) -> tuple[Point, Point, float]:
    """(start, end, bulge) of one edge of a region."""
    rows = region.rings[ring].vertices
    a, b = rows[edge], rows[(edge + 1) % len(rows)]
    return (a[0], a[1]), (b[0], b[1]), a[2]


def _inside(region: Region, points: Sequence[Point]) -> NDArray[np.bool_]:
    polygon = region.polygon
    shapely.prepare(polygon)
    xy = np.array(points)
    return shapely.contains_xy(polygon, xy[:, 0], xy[:, 1])


def _run_on(
    base: Path, region: Region, table: EdgeTable, others: Sequence[Path], *, at_start: bool
) -> Path:
    """The line carried on straight from one end to the first edge or seam it meets."""
    edges = edges_of(base)
    edge = edges[0] if at_start else edges[-1]
    end = edge[0] if at_start else edge[1]
    dx, dy = edge_direction(*edge, 0.0 if at_start else 1.0)
    if at_start:
        dx, dy = -dx, -dy
    inside = bool(_inside(region, [end])[0])
    polygon_edge = shapely.distance(region.polygon.boundary, shapely.Point(end))
    reach = END_OVERSHOOT_MM
    goal: Point | None = None
    if inside and polygon_edge > 1e-3:
        x1, y1, x2, y2 = region.bounds
        far = math.hypot(x2 - x1, y2 - y1) * 2
        ray = (end, (end[0] + dx * far, end[1] + dy * far), 0.0)
        best = math.inf
        for index in table.near(*ray):
            _, _, start, stop, bulge = table.edges[index]
            for point, _, _ in _edge_hits(ray, (start, stop, bulge)):
                best = min(best, math.dist(end, point))
        for other in others:
            for other_edge in edges_of(other):
                for point, _, _ in _edge_hits(ray, other_edge):
                    away = math.dist(end, point)
                    if away < best:
                        best, goal = away, point
        if math.isfinite(best):
            reach = best if goal is not None and math.dist(end, goal) <= best else best + reach
    if reach <= TOUCH_MM:
        return base
    new = (end[0] + dx * reach, end[1] + dy * reach)
    if goal is not None:
        new = goal
    if edge[2] == 0.0:
        return ((*new, 0.0), *base[1:]) if at_start else (*base[:-1], (*new, 0.0))
    return ((*new, 0.0), *base) if at_start else (*base, (*new, 0.0))


def _stop_at_seam(base: Path, region: Region, others: Sequence[Path]) -> Path:
    """An end that stands a hair beyond another seam, inside the board, is cut back to it."""
    total = path_length(base)
    low, high = 0.0, total
    station = 0.0
    ends = _inside(region, [base[0][:2], base[-1][:2]])
    for edge in edges_of(base):
        length = edge_length(*edge)
        for other in others:
            for other_edge in edges_of(other):
                for _, f1, _ in _edge_hits(edge, other_edge):
                    at = station + f1 * length
                    if ends[0] and at <= END_OVERSHOOT_MM:
                        low = max(low, at)
                    if ends[1] and at >= total - END_OVERSHOOT_MM:
                        high = min(high, at)
        station += length
    if high - low > TOUCH_MM and (low > 0.0 or high < total):
        return sub_path(base, low, high)
    return base


def ready_lines(seams: Sequence[ReadySeam], region: Region, table: EdgeTable) -> None:
    """Give every seam its base line, run on until it ends at an edge or at another seam."""
    raw = [base_line(s.line, s.context, s.lap.lap_mm if s.lap is not None else 0.0) for s in seams]
    for index, seam in enumerate(seams):
        others = [path for k, path in enumerate(raw) if k != index]
        path = _stop_at_seam(raw[index], region, others)
        stopped = path is not raw[index]
        for at_start in (True, False):
            end = path[0][:2] if at_start else path[-1][:2]
            if stopped and _on_any(end, others):
                continue
            path = _run_on(path, region, table, others, at_start=at_start)
        seam.base = path
        raw[index] = path


def _on_any(point: Point, paths: Sequence[Path]) -> bool:
    for path in paths:
        for edge in edges_of(path):
            if math.dist(carrier_of(*edge).nearest(point), point) <= TOUCH_MM:
                f = edge_fraction(*edge, point)
                if -1e-9 <= f <= 1 + 1e-9:
                    return True
    return False


def crossings(seams: Sequence[ReadySeam], region: Region) -> list[Crossing]:
    """Where seam lines meet each other inside the board."""
    found: list[Crossing] = []
    for i, one in enumerate(seams):
        for j in range(i + 1, len(seams)):
            two = seams[j]
            s1 = 0.0
            for e1 in edges_of(one.base):
                l1 = edge_length(*e1)
                s2 = 0.0
                for e2 in edges_of(two.base):
                    l2 = edge_length(*e2)
                    for point, f1, f2 in _edge_hits(e1, e2):
                        place = Crossing(point, (i, j), (s1 + f1 * l1, s2 + f2 * l2))
                        if all(math.dist(place.at, c.at) > TOUCH_MM for c in found):
                            found.append(place)
                    s2 += l2
                s1 += l1
    if not found:
        return []
    edge = region.polygon.boundary
    keep = _inside(region, [c.at for c in found])
    return [
        c
        for c, inside in zip(found, keep, strict=True)
        if inside or edge.distance(shapely.Point(c.at)) <= 0.01
    ]


def joint_spans(base: Path, stations: Sequence[float], region: Region) -> list[tuple[float, float]]:
    """Stretches of a line between neighbouring stations that lie in the board."""
    from core.geometry.path import at_station

    spans = [(a, b) for a, b in itertools.pairwise(stations) if b - a > _SHORTEST_MM]
    if not spans:
        return []
    middles = [at_station(base, (a + b) / 2)[0] for a, b in spans]
    return [span for span, inside in zip(spans, _inside(region, middles), strict=True) if inside]
