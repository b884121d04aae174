"""Loops to rings that can be worked with, and rings to outlines with holes.

A ring that touches itself is taken apart at the touch; one that crosses itself is refused with
the place. Which ring is a hole in which follows from depth: a ring inside one other is its
hole, a ring inside that hole is a panel again, and so on.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from shapely.geometry import Polygon

from core.errors import InvalidGeometryError
from core.geometry import Point, Region, Ring, arc_of, arc_steps
from core.outlines.loops import find_loops
from core.outlines.near import near_pairs
from core.outlines.overlaps import exploded, without_overlaps
from core.outlines.strands import Strand
from core.tolerances import (
    FLATTEN_SAGITTA_MM,
    GAP_SILENT_MM,
    MOST_TOUCHING_CORNERS,
    OVERLAP_TOL_MM,
    SAME_POINT_MM,
    SAME_RING_MM,
    SPECK_MM2,
)


@dataclass(frozen=True, slots=True)
class FoundRing:
    """A valid ring with its flattened polygon (filled) and where it came from."""

    ring: Ring
    polygon: Polygon
    layer: str
    source: int
    order: int


@dataclass
class RingFaults:
    """What was wrong with rings, for findings: places in mm."""

    specks: int = 0
    crossing: list[tuple[Point, str]] = field(default_factory=list)
    touching: list[tuple[Point, str]] = field(default_factory=list)
    tidied: list[tuple[Point, str]] = field(default_factory=list)


def make_rings(
    strands: Sequence[Strand], faults: RingFaults, tick: Callable[[], None] = lambda: None
) -> list[FoundRing]:
    """Valid rings from closed strands in mm; faults is filled with what was not."""
    found: list[FoundRing] = []
    for number, strand in enumerate(strands):
        if number % 500 == 0:
            tick()
        try:
            ring = whole_circle(Ring.of(strand.rows))
        except InvalidGeometryError:
            faults.specks += 1
            continue
        polygon = filled(ring)
        x1, y1, x2, y2 = polygon.bounds
        if min(x2 - x1, y2 - y1) < math.sqrt(SPECK_MM2):
            faults.specks += 1
            continue
        if is_circle(ring) or polygon.is_valid:
            found.append(
                FoundRing(
                    ring.oriented(ccw=True), polygon, strand.layer, strand.source, strand.order
                )
            )
        else:
            found += _mended(strand, polygon, faults)
    return found


def is_circle(ring: Ring) -> bool:
    """True for a full circle of two half-circle edges."""
    v = ring.vertices
    return len(v) == 2 and abs(abs(v[0][2]) - 1) < 1e-9 and abs(v[0][2] - v[1][2]) < 1e-9


def whole_circle(ring: Ring) -> Ring:
    """The ring as two half circles if all its edges are arcs of one circle, else as it is."""
    if len(ring.vertices) < 2 or is_circle(ring) or not all(v[2] for v in ring.vertices):
        return ring
    circles = [arc_of(start, end, bulge) for start, end, bulge in ring.edges()]
    (cx, cy), radius, _, _ = circles[0]
    turn = sum(sweep for _, _, _, sweep in circles)
    same = all(
        math.dist(centre, (cx, cy)) <= OVERLAP_TOL_MM and abs(other - radius) <= OVERLAP_TOL_MM
        for centre, other, _, _ in circles
    )
    if not same or abs(abs(turn) - math.tau) > 1e-4:
        return ring
    cx = sum(centre[0] for centre, _, _, _ in circles) / len(circles)
    cy = sum(centre[1] for centre, _, _, _ in circles) / len(circles)
    radius = sum(other for _, other, _, _ in circles) / len(circles)
    return Ring.circle(cx, cy, radius)


def filled(ring: Ring) -> Polygon:
    """The ring as a filled polygon, flattened as everywhere; circles in one go."""
    if not is_circle(ring):
        return Polygon(ring.flattened())
    (x1, y1, _), (x2, y2, _) = ring.vertices
    radius = math.hypot(x2 - x1, y2 - y1) / 2
    count = 2 * arc_steps(radius, math.pi, FLATTEN_SAGITTA_MM)
    turn = math.atan2(y1 - y2, x1 - x2) + np.arange(count) * (math.tau / count)
    return Polygon(
        np.column_stack(
            ((x1 + x2) / 2 + radius * np.cos(turn), (y1 + y2) / 2 + radius * np.sin(turn))
        )
    )


def _mended(strand: Strand, polygon: Polygon, faults: RingFaults) -> list[FoundRing]:
    """What can be had of a ring that is not simple."""
    at = _fault_place(polygon)
    edges, _ = without_overlaps(exploded([_with_touching_corners(strand)]))
    parts = find_loops(edges, gap_mm=GAP_SILENT_MM).loops if edges else []
    rings: list[FoundRing] = []
    for part in parts:
        try:
            ring = Ring.of(part.rows).oriented(ccw=True)
        except InvalidGeometryError:
            continue
        shape = filled(ring)
        if not shape.is_valid:
            rings = []
            break
        if ring.signed_area_mm2 >= SPECK_MM2:
            rings.append(FoundRing(ring, shape, strand.layer, strand.source, strand.order))
    if rings:
        faults.touching.append((at, strand.layer))
        return rings
    tidy = _tidied(polygon)
    if tidy is not None:
        faults.tidied.append((at, strand.layer))
        ring = Ring.of(tidy.exterior.coords).oriented(ccw=True)
        return [FoundRing(ring, filled(ring), strand.layer, strand.source, strand.order)]
    faults.crossing.append((at, strand.layer))
    return []


def _with_touching_corners(strand: Strand) -> Strand:
    """The strand with a corner wherever one of its corners lies on one of its straight edges."""
    rows = list(strand.rows)
    if len(rows) > MOST_TOUCHING_CORNERS:
        return strand
    corners = np.array([row[:2] for row in rows], dtype=float)
    made = []
    for start, end in itertools.zip_longest(rows, rows[1:], fillvalue=rows[0]):
        made.append(start)
        along = np.subtract(end[:2], start[:2])
        length = float(np.hypot(*along))
        if start[2] or length <= 2 * OVERLAP_TOL_MM:
            continue
        unit = along / length
        off = corners - np.array(start[:2])
        at = off @ unit
        beside = np.abs(off[:, 0] * unit[1] - off[:, 1] * unit[0])
        on = (beside <= SAME_POINT_MM) & (at > OVERLAP_TOL_MM) & (at < length - OVERLAP_TOL_MM)
        made += [(float(x), float(y), 0.0) for x, y in corners[on][np.argsort(at[on])]]
    return strand if len(made) == len(rows) else replace(strand, rows=tuple(made))


def _tidied(polygon: Polygon) -> Polygon | None:
    """The polygon without crossings too small to see, None if they are not."""
    try:
        shape = shapely.make_valid(polygon)
    except shapely.errors.GEOSException:
        return None
    parts = [p for p in getattr(shape, "geoms", [shape]) if isinstance(p, Polygon)]
    if not parts:
        return None
    largest = max(parts, key=lambda p: p.area)
    rest = sum(p.area for p in parts) - largest.area
    lost = abs(abs(_plain_area(polygon)) - largest.area)
    if largest.interiors or rest + lost > SPECK_MM2 or largest.area < SPECK_MM2:
        return None
    return largest if largest.is_valid else None


def _plain_area(polygon: Polygon) -> float:
    """Signed area of the exterior as it runs, crossings or not."""
    rows = np.asarray(polygon.exterior.coords)
    rows = rows - rows[0]
    return float(np.sum(rows[:-1, 0] * rows[1:, 1] - rows[1:, 0] * rows[:-1, 1]) / 2)


def _fault_place(polygon: Polygon) -> Point:
    """Where a polygon is not simple."""
    told = re.search(r"\[(\S+) (\S+?)(?: \S+)?\]", shapely.is_valid_reason(polygon))
    if told:
        try:
            return float(told.group(1)), float(told.group(2))
        except ValueError:
            pass
    x, y = polygon.exterior.coords[0][:2]
    return x, y


# --- which ring lies in which ---------------------------------------------------------------


@dataclass
class Nested:
    """Rings sorted into outlines with holes.

    panels: (outer ring, its holes). doubles: (kept, dropped) pairs of the same ring drawn
    twice. crossings: pairs of rings whose lines cross, with the place.
    """

    panels: list[tuple[FoundRing, list[FoundRing]]] = field(default_factory=list)
    doubles: list[tuple[FoundRing, FoundRing]] = field(default_factory=list)
    crossings: list[tuple[FoundRing, FoundRing, Point]] = field(default_factory=list)


def nest_rings(rings: Sequence[FoundRing]) -> Nested:
    """Sort rings into outlines and holes by how deep they lie; order as drawn."""
    out = Nested()
    ordered = sorted(rings, key=lambda r: r.order)
    if not ordered:
        return out
    polygons = np.array([r.polygon for r in ordered], dtype=object)
    bounds = shapely.bounds(polygons)
    areas = shapely.area(polygons)
    first, second = near_pairs(polygons)
    same = (np.abs(bounds[first] - bounds[second]) <= SAME_RING_MM).all(axis=1)
    dropped: set[int] = set()
    for a, b in zip(first[same], second[same], strict=True):
        if a in dropped or b in dropped:
            continue
        if _same_ring(polygons[a], polygons[b]):
            dropped.add(int(b))
            out.doubles.append((ordered[a], ordered[b]))
    if dropped:
        gone = np.zeros(len(ordered), dtype=bool)
        gone[list(dropped)] = True
        live = ~(gone[first] | gone[second])
        first, second = first[live], second[live]
    larger = np.where(areas[first] >= areas[second], first, second)
    smaller = np.where(areas[first] >= areas[second], second, first)
    shapely.prepare(polygons)
    inside = shapely.covers(polygons[larger], polygons[smaller])
    depth = np.zeros(len(ordered), dtype=np.int64)
    np.add.at(depth, smaller[inside], 1)
    # The innermost of the rings around one is the smallest of them.
    parent = np.full(len(ordered), -1)
    for k in np.argsort(-areas[larger[inside]], kind="stable"):
        parent[smaller[inside][k]] = larger[inside][k]
    _find_crossings(ordered, polygons, larger[~inside], smaller[~inside], out)
    holes: dict[int, list[FoundRing]] = {}
    for i in range(len(ordered)):
        if i not in dropped and depth[i] % 2:
            holes.setdefault(int(parent[i]), []).append(ordered[i])
    for i, ring in enumerate(ordered):
        if i not in dropped and depth[i] % 2 == 0:
            out.panels.append((ring, holes.get(i, [])))
    return out


def _same_ring(a: Polygon, b: Polygon) -> bool:
    """True if two rings of equal bounds run along each other everywhere."""
    if abs(a.area - b.area) > SAME_RING_MM * (a.length + b.length):
        return False
    return bool(a.symmetric_difference(b).area <= SAME_RING_MM * (a.length + b.length))


def _find_crossings(
    ordered: Sequence[FoundRing], polygons: np.ndarray, a: np.ndarray, b: np.ndarray, out: Nested
) -> None:
    """Pairs that overlap without one lying in the other."""
    hit = shapely.overlaps(polygons[a], polygons[b])
    for i, j in zip(a[hit], b[hit], strict=True):
        common = polygons[i].intersection(polygons[j])
        smaller = min(polygons[i].area, polygons[j].area)
        # Lines drawn along each other overlap by dust that crosses nothing.
        if common.area <= SAME_RING_MM * common.length or common.area <= 1e-9 * smaller:
            continue
        at = polygons[i].exterior.intersection(polygons[j].exterior)
        point = at.representative_point() if not at.is_empty else common.representative_point()
        out.crossings.append((ordered[i], ordered[j], (point.x, point.y)))


def make_region(outer: FoundRing, holes: Sequence[FoundRing]) -> tuple[Region | None, bool]:
    """The board between a ring and its holes.

    Returns (region, True if holes touched the edge and had to be cut out as straight chords).
    A region that falls apart gives None.
    """
    region = Region.of(outer.ring, [hole.ring for hole in holes])
    if not holes:
        return region, False
    shapes = np.array([hole.polygon for hole in holes], dtype=object)
    clear = not shapely.dwithin(outer.polygon.exterior, shapes, SAME_POINT_MM).any()
    if clear and not len(near_pairs(shapes, within_mm=SAME_POINT_MM)[0]):
        return region, False
    board = outer.polygon.difference(shapely.union_all(shapes))
    parts = [p for p in getattr(board, "geoms", [board]) if p.area > SPECK_MM2]
    if len(parts) != 1:
        return None, True
    try:
        region = Region.from_polygon(parts[0])
    except InvalidGeometryError:
        return None, True
    return (region if region.polygon.is_valid else None), True
