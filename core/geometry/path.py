"""Open paths of true lines and arcs: the stuff seams are made of.

A path is a tuple of vertices (x_mm, y_mm, bulge to the next vertex); the last bulge is 0 and
means nothing. Every function gives a new path and keeps lines lines and arcs arcs, so that
what was drawn as an arc leaves as an arc. Left and right are those of somebody walking along
the path.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.errors import InvalidGeometryError
from core.geometry.ring import Point, Ring, Vertex, arc_of, flatten_rows
from core.tolerances import FLATTEN_SAGITTA_MM, SAME_POINT_MM, SMOOTH_TURN_RAD

Path = tuple[Vertex, ...]


@dataclass(frozen=True, slots=True)
class Carrier:
    """The whole line or circle an edge lies on.

    A line: (x, y) a point on it, (dx, dy) its unit direction, radius 0. A circle: (x, y) its
    centre, radius > 0, ccw the sense the edge runs.
    """

    x: float
    y: float
    dx: float = 0.0
    dy: float = 0.0
    radius: float = 0.0
    ccw: bool = True

    @property
    def is_circle(self) -> bool:
        """True for a circle, False for a line."""
        return self.radius > 0.0

    def shifted(self, left_mm: float) -> Carrier:
        """The carrier moved to the left of its sense by left_mm (negative: to the right).

        Raises InvalidGeometryError if a circle would shrink to nothing.
        """
        if not self.is_circle:
            return Carrier(self.x - self.dy * left_mm, self.y + self.dx * left_mm, self.dx, self.dy)
        radius = self.radius - left_mm if self.ccw else self.radius + left_mm
        if radius <= SAME_POINT_MM:
            raise InvalidGeometryError(
                f"An arc of radius {self.radius:.3f} mm is too small to move by "
                f"{abs(left_mm):.3f} mm",
                f"centre ({self.x:.1f}, {self.y:.1f})",
                "Make the arc larger or the fit smaller.",
            )
        return Carrier(self.x, self.y, radius=radius, ccw=self.ccw)

    def nearest(self, point: Point) -> Point:
        """The point of the carrier nearest to point."""
        px, py = point[0] - self.x, point[1] - self.y
        if not self.is_circle:
            along = px * self.dx + py * self.dy
            return self.x + along * self.dx, self.y + along * self.dy
        length = math.hypot(px, py)
        if length == 0.0:
            return self.x + self.radius, self.y
        return self.x + px / length * self.radius, self.y + py / length * self.radius


def carrier_of(start: Point, end: Point, bulge: float) -> Carrier:
    """The carrier of one edge; the ends must differ."""
    if bulge == 0.0:
        dx, dy = end[0] - start[0], end[1] - start[1]
        length = math.hypot(dx, dy)
        if length == 0.0:
            raise InvalidGeometryError("An edge has no length", f"({start[0]:.3f}, {start[1]:.3f})")
        return Carrier(start[0], start[1], dx / length, dy / length)
    (cx, cy), radius, _, sweep = arc_of(start, end, bulge)
    return Carrier(cx, cy, radius=radius, ccw=sweep > 0)


def carrier_hits(one: Carrier, two: Carrier) -> list[Point]:
    """Where two carriers meet: no, one or two points. Identical carriers give none."""
    if not one.is_circle and not two.is_circle:
        cross = one.dx * two.dy - one.dy * two.dx
        if abs(cross) < 1e-12:
            return []
        along = ((two.x - one.x) * two.dy - (two.y - one.y) * two.dx) / cross
        return [(one.x + along * one.dx, one.y + along * one.dy)]
    if one.is_circle and not two.is_circle:
        one, two = two, one
    if not one.is_circle:
        px, py = two.x - one.x, two.y - one.y
        along = px * one.dx + py * one.dy
        side = px * one.dy - py * one.dx
        room = (two.radius - abs(side)) * (two.radius + abs(side))
        if room < 0.0:
            # A touching line misses by rounding only.
            if room < -1e-9 * max(1.0, two.radius):
                return []
            room = 0.0
        half = math.sqrt(room)
        stations = (along - half, along + half) if half > 0.0 else (along,)
        return [(one.x + s * one.dx, one.y + s * one.dy) for s in stations]
    dx, dy = two.x - one.x, two.y - one.y
    distance = math.hypot(dx, dy)
    if distance < 1e-12:
        return []
    along = (distance * distance + one.radius**2 - two.radius**2) / (2.0 * distance)
    room = (one.radius - abs(along)) * (one.radius + abs(along))
    if room < 0.0:
        if room < -1e-9 * max(1.0, one.radius):
            return []
        room = 0.0
    half = math.sqrt(room)
    ux, uy = dx / distance, dy / distance
    fx, fy = one.x + along * ux, one.y + along * uy
    if half == 0.0:
        return [(fx, fy)]
    return [(fx - half * uy, fy + half * ux), (fx + half * uy, fy - half * ux)]


def bulge_on(carrier: Carrier, start: Point, end: Point) -> float:
    """Bulge of the edge on carrier from start to end, run in the carrier's sense."""
    if not carrier.is_circle:
        return 0.0
    one = math.atan2(start[1] - carrier.y, start[0] - carrier.x)
    two = math.atan2(end[1] - carrier.y, end[0] - carrier.x)
    sweep = (two - one) % (2 * math.pi) if carrier.ccw else -((one - two) % (2 * math.pi))
    return math.tan(sweep / 4.0)


def edge_fraction(start: Point, end: Point, bulge: float, point: Point) -> float:
    """How far along the edge a point of its carrier lies: 0 at start, 1 at end.

    On an arc a point just before the start gives a small negative number, not nearly a turn.
    """
    if bulge == 0.0:
        dx, dy = end[0] - start[0], end[1] - start[1]
        return ((point[0] - start[0]) * dx + (point[1] - start[1]) * dy) / (dx * dx + dy * dy)
    (cx, cy), _, angle, sweep = arc_of(start, end, bulge)
    turn = math.atan2(point[1] - cy, point[0] - cx) - angle
    if sweep < 0:
        turn, sweep = -turn, -sweep
    turn %= 2 * math.pi
    if turn > sweep + (2 * math.pi - sweep) / 2:
        turn -= 2 * math.pi
    return turn / sweep


def edge_length(start: Point, end: Point, bulge: float) -> float:
    """Length of an edge in mm, along the arc."""
    if bulge == 0.0:
        return math.hypot(end[0] - start[0], end[1] - start[1])
    _, radius, _, sweep = arc_of(start, end, bulge)
    return radius * abs(sweep)


def edge_point(start: Point, end: Point, bulge: float, fraction: float) -> Point:
    """The point at a fraction of an edge's length; outside 0…1 the edge is run on."""
    if bulge == 0.0:
        return (
            start[0] + (end[0] - start[0]) * fraction,
            start[1] + (end[1] - start[1]) * fraction,
        )
    (cx, cy), radius, angle, sweep = arc_of(start, end, bulge)
    turn = angle + sweep * fraction
    return cx + radius * math.cos(turn), cy + radius * math.sin(turn)


def edge_direction(start: Point, end: Point, bulge: float, fraction: float) -> Point:
    """Unit direction of travel at a fraction of an edge."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    if bulge == 0.0:
        length = math.hypot(dx, dy)
        return dx / length, dy / length
    _, _, angle, sweep = arc_of(start, end, bulge)
    turn = angle + sweep * fraction + math.copysign(math.pi / 2, sweep)
    return math.cos(turn), math.sin(turn)


def edges_of(path: Sequence[Vertex]) -> list[tuple[Point, Point, float]]:
    """(start, end, bulge) of each edge of an open path."""
    return [((a[0], a[1]), (b[0], b[1]), a[2]) for a, b in itertools.pairwise(path)]


def clean_path(rows: Sequence[Sequence[float]]) -> Path:
    """A path from (x, y) or (x, y, bulge) rows without repeated points; last bulge 0."""
    kept: list[Vertex] = []
    for row in rows:
        bulge = float(row[2]) if len(row) > 2 else 0.0
        x, y = float(row[0]), float(row[1])
        if kept and math.hypot(x - kept[-1][0], y - kept[-1][1]) <= SAME_POINT_MM:
            kept[-1] = (kept[-1][0], kept[-1][1], bulge)
        else:
            kept.append((x, y, bulge))
    if kept:
        kept[-1] = (kept[-1][0], kept[-1][1], 0.0)
    return tuple(kept)


def merged_bulge(a: Vertex, b: Vertex, c: Vertex) -> float | None:
    """Bulge of the one edge from a to c if the edges a-b and b-c lie on one line or circle.

    None if they do not, or if the merged arc would be more than a half turn.
    """
    one, two = (a[0], a[1]), (b[0], b[1])
    end = (c[0], c[1])
    if a[2] == 0.0 and b[2] == 0.0:
        bx, by = edge_direction(one, two, 0.0, 1.0)
        ax, ay = edge_direction(two, end, 0.0, 0.0)
        return 0.0 if abs(bx * ay - by * ax) < 1e-9 and bx * ax + by * ay > 0 else None
    if a[2] == 0.0 or b[2] == 0.0 or (a[2] > 0) != (b[2] > 0):
        return None
    (cx, cy), r1, _, s1 = arc_of(one, two, a[2])
    (dx, dy), r2, _, s2 = arc_of(two, end, b[2])
    if math.hypot(cx - dx, cy - dy) > SAME_POINT_MM or abs(r1 - r2) > SAME_POINT_MM:
        return None
    return math.tan((s1 + s2) / 4.0) if abs(s1 + s2) <= math.pi + 1e-9 else None


def path_length(path: Sequence[Vertex]) -> float:
    """Length of a path in mm."""
    return sum(edge_length(*edge) for edge in edges_of(path))


def reversed_path(path: Sequence[Vertex]) -> Path:
    """The same path walked the other way."""
    count = len(path)
    return tuple(
        (path[i][0], path[i][1], -path[i - 1][2] if i else 0.0) for i in range(count - 1, -1, -1)
    )


def moved_path(path: Sequence[Vertex], origin: Point, direction: Point) -> Path:
    """A path drawn along +x from (0, 0), laid down at origin along the unit direction."""
    (ox, oy), (c, s) = origin, direction
    return tuple((ox + x * c - y * s, oy + x * s + y * c, b) for x, y, b in path)


def mirrored_path(path: Sequence[Vertex]) -> Path:
    """The path with y → −y: left and right change places."""
    return tuple((x, -y, -b) for x, y, b in path)


def flatten_path(
    path: Sequence[Vertex], sagitta_mm: float = FLATTEN_SAGITTA_MM
) -> NDArray[np.float64]:
    """(n, 2) points of a path, arcs as chords within sagitta_mm, both ends included."""
    if not path:
        return np.empty((0, 2))
    rows = np.array([row[:3] for row in path], dtype=np.float64)
    return np.vstack([flatten_rows(rows[:-1], rows[1:, :2], sagitta_mm), rows[-1:, :2]])


def at_station(path: Sequence[Vertex], station_mm: float) -> tuple[Point, Point]:
    """(point, unit direction) at a length along the path; run on straight beyond its ends."""
    rest = station_mm
    edges = edges_of(path)
    for index, edge in enumerate(edges):
        length = edge_length(*edge)
        if rest <= length or index == len(edges) - 1:
            if 0.0 <= rest <= length:
                return edge_point(*edge, rest / length), edge_direction(*edge, rest / length)
            over, fraction = (rest, 0.0) if rest < 0 else (rest - length, 1.0)
            (x, y), (dx, dy) = edge_point(*edge, fraction), edge_direction(*edge, fraction)
            return (x + dx * over, y + dy * over), (dx, dy)
        rest -= length
    raise InvalidGeometryError("A path has no length")


def sub_path(path: Sequence[Vertex], start_mm: float, end_mm: float) -> Path:
    """The stretch of a path between two stations, start_mm < end_mm, both on the path."""
    rows: list[Vertex] = []
    station = 0.0
    # An edge of which only a rounding error would be left is passed over.
    least = min(1e-9, (end_mm - start_mm) / 2)
    for start, end, bulge in edges_of(path):
        length = edge_length(start, end, bulge)
        low, high = max(start_mm, station), min(end_mm, station + length)
        if high - low > least:
            f0, f1 = (low - station) / length, (high - station) / length
            p0 = start if f0 <= 0.0 else edge_point(start, end, bulge, f0)
            p1 = end if f1 >= 1.0 else edge_point(start, end, bulge, f1)
            part = bulge
            if bulge and (f0 > 0.0 or f1 < 1.0):
                part = math.tan(math.atan(bulge) * (f1 - f0))
            if rows and math.dist(rows[-1][:2], p0) <= SAME_POINT_MM:
                rows.pop()
            rows.append((*p0, part))
            rows.append((*p1, 0.0))
        station += length
    return tuple(rows)


def offset_path(path: Sequence[Vertex], left_mm: float) -> Path:
    """The path moved to its left by left_mm (negative: right), arcs concentric, corners mitred.

    The result has as many vertices as the path, in the same order. Raises
    InvalidGeometryError if an arc would vanish or two neighbours no longer meet.
    """
    return shift_edges(path, [left_mm] * (len(path) - 1)) if left_mm else tuple(path)


def fillet_radius_room(points: Sequence[Point], radii: Sequence[float]) -> float:
    """Smallest straight length left between two fillets of a corner line, mm (may be < 0)."""
    takes = [0.0]
    for before, corner, after, radius in zip(
        points[:-2], points[1:-1], points[2:], radii[1:-1], strict=True
    ):
        ax, ay = corner[0] - before[0], corner[1] - before[1]
        bx, by = after[0] - corner[0], after[1] - corner[1]
        turn = abs(math.atan2(ax * by - ay * bx, ax * bx + ay * by))
        takes.append(radius * math.tan(turn / 2) if turn < math.pi - 1e-9 else math.inf)
    takes.append(0.0)
    rooms = [
        math.dist(points[i], points[i + 1]) - takes[i] - takes[i + 1]
        for i in range(len(points) - 1)
    ]
    return min(rooms)


def fillet(points: Sequence[Point], radii: Sequence[float]) -> Path:
    """A corner line with each corner rounded by its radius (0 keeps it sharp).

    points and radii have equal length; the first and last radius are not used. Raises
    InvalidGeometryError if a rounding does not fit between its neighbours.
    """
    if len(points) >= 3 and fillet_radius_room(points, radii) < -1e-9:
        raise InvalidGeometryError(
            "The corners lie too close together to be rounded",
            f"near ({points[0][0]:.1f}, {points[0][1]:.1f})",
            "Take a smaller radius.",
        )
    rows: list[Vertex] = [(*points[0], 0.0)]
    for before, corner, after, radius in zip(
        points[:-2], points[1:-1], points[2:], radii[1:-1], strict=True
    ):
        ax, ay = corner[0] - before[0], corner[1] - before[1]
        bx, by = after[0] - corner[0], after[1] - corner[1]
        turn = math.atan2(ax * by - ay * bx, ax * bx + ay * by)
        if radius <= 0.0 or abs(turn) < SMOOTH_TURN_RAD:
            rows.append((*corner, 0.0))
            continue
        take = radius * math.tan(abs(turn) / 2)
        la, lb = math.hypot(ax, ay), math.hypot(bx, by)
        rows.append((corner[0] - ax / la * take, corner[1] - ay / la * take, math.tan(turn / 4.0)))
        rows.append((corner[0] + bx / lb * take, corner[1] + by / lb * take, 0.0))
    rows.append((*points[-1], 0.0))
    return clean_path(rows)


def fillet_ring(points: Sequence[Point], radius_mm: float) -> Ring:
    """A closed corner line with every corner rounded by radius_mm.

    Raises InvalidGeometryError if a rounding does not fit between its neighbours.
    """
    middle = ((points[0][0] + points[-1][0]) / 2, (points[0][1] + points[-1][1]) / 2)
    chain = [middle, *points, middle]
    return Ring.of(fillet(chain, [radius_mm] * len(chain)))


def offset_ring(ring: Ring, left_mm: float) -> Ring:
    """A ring moved to its left by left_mm: a counter-clockwise one shrinks when positive.

    Corners are mitred; raises InvalidGeometryError where offset_path does.
    """
    rows = ring.vertices
    start, end, bulge = (rows[0][0], rows[0][1]), (rows[1][0], rows[1][1]), rows[0][2]
    # Opened in the middle of the first edge, where both ends move alike.
    half = math.tan(math.atan(bulge) / 2) if bulge else 0.0
    middle = edge_point(start, end, bulge, 0.5)
    chain = ((*middle, half), *rows[1:], (*start, half), (*middle, 0.0))
    moved = list(offset_path(chain, left_mm))
    # The two halves of the opened edge become one again.
    first = moved[0][2]
    joined = math.tan(2 * math.atan(first)) if first else 0.0
    body = [*moved[1:-1]]
    if abs(joined) > 1.0 or not math.isfinite(joined):
        return Ring.of([(moved[0][0], moved[0][1], first), *body])
    last = body.pop()
    return Ring.of([*body, (last[0], last[1], joined)])


def shift_edges(path: Sequence[Vertex], lefts_mm: Sequence[float]) -> Path:
    """The path with each edge moved to its left by its own distance, corners mitred.

    lefts_mm: one per edge, in order. The ends move square to the path; the result has as many
    vertices as the path. Raises InvalidGeometryError if neighbours no longer meet or an arc
    would vanish.
    """
    edges = edges_of(path)
    carriers = [carrier_of(*edge) for edge in edges]
    moved = [c.shifted(left) if left else c for c, left in zip(carriers, lefts_mm, strict=True)]
    last = len(edges)
    points: list[Point] = []
    for index, (x, y, _) in enumerate(path):
        if index in (0, last):
            edge = edges[0] if index == 0 else edges[-1]
            left = lefts_mm[0] if index == 0 else lefts_mm[-1]
            tx, ty = edge_direction(*edge, 0.0 if index == 0 else 1.0)
            points.append((x - ty * left, y + tx * left))
            continue
        one, two = lefts_mm[index - 1], lefts_mm[index]
        if one == 0.0 and two == 0.0:
            points.append((x, y))
            continue
        bx, by = edge_direction(*edges[index - 1], 1.0)
        ax, ay = edge_direction(*edges[index], 0.0)
        cross, dot = bx * ay - by * ax, bx * ax + by * ay
        if abs(cross) <= SMOOTH_TURN_RAD:
            if dot < 0.0 or abs(one - two) > SAME_POINT_MM:
                raise InvalidGeometryError(
                    "Two edges of a seam cannot be moved apart", f"({x:.2f}, {y:.2f})"
                )
            points.append((x - by * one, y + bx * one))
            continue
        # Where the two tangents, moved, meet; exact for two lines.
        guess = (x + (one * ax - two * bx) / cross, y + (one * ay - two * by) / cross)
        if not (moved[index - 1].is_circle or moved[index].is_circle):
            points.append(guess)
            continue
        hits = carrier_hits(moved[index - 1], moved[index])
        if not hits:
            raise InvalidGeometryError(
                "Two edges of a seam no longer meet once the fit is taken off",
                f"({x:.2f}, {y:.2f})",
                "Make the fit smaller or the arcs larger.",
            )
        points.append(min(hits, key=lambda hit: math.dist(hit, guess)))
    rows: list[Vertex] = []
    for index, point in enumerate(points):
        bulge = 0.0
        if index < last and moved[index].is_circle:
            bulge = bulge_on(moved[index], point, points[index + 1])
        rows.append((*point, bulge))
    return tuple(rows)


def round_corners(path: Sequence[Vertex], radii_mm: Sequence[float]) -> Path:
    """The path with each inner corner rounded by its radius; 0 keeps a corner.

    radii_mm: one per vertex, the first and last not used; edges may be arcs. Raises
    InvalidGeometryError if a rounding does not fit on its edges.
    """
    edges = edges_of(path)
    arcs: dict[int, tuple[Point, float, Point]] = {}
    for index in range(1, len(path) - 1):
        radius = radii_mm[index]
        if radius <= 0.0:
            continue
        before, after = edges[index - 1], edges[index]
        bx, by = edge_direction(*before, 1.0)
        ax, ay = edge_direction(*after, 0.0)
        cross = bx * ay - by * ax
        if abs(cross) <= SMOOTH_TURN_RAD:
            continue
        one, two = carrier_of(*before), carrier_of(*after)
        left = math.copysign(radius, cross)
        corner = before[1]
        hits = carrier_hits(one.shifted(left), two.shifted(left))
        if not hits:
            raise InvalidGeometryError(
                f"A corner cannot be rounded to {radius:.2f} mm",
                f"({corner[0]:.1f}, {corner[1]:.1f})",
                "Take a smaller radius.",
            )
        centre = min(hits, key=lambda hit: math.dist(hit, corner))
        start, end = one.nearest(centre), two.nearest(centre)
        turn = Carrier(*centre, radius=radius, ccw=cross > 0)
        arcs[index] = (start, bulge_on(turn, start, end), end)
    rows: list[Vertex] = []
    for index, edge in enumerate(edges):
        start = arcs[index][2] if index in arcs else edge[0]
        end = arcs[index + 1][0] if index + 1 in arcs else edge[1]
        f0, f1 = edge_fraction(*edge, start), edge_fraction(*edge, end)
        if f1 < f0 - 1e-9 or f0 < -1e-9 or f1 > 1.0 + 1e-9:
            raise InvalidGeometryError(
                "The corners lie too close together to be rounded",
                f"({edge[0][0]:.1f}, {edge[0][1]:.1f})",
                "Take a smaller radius.",
            )
        bulge = math.tan(math.atan(edge[2]) * (f1 - f0)) if edge[2] else 0.0
        rows.append((*start, bulge))
        if index + 1 in arcs:
            rows.append((*end, arcs[index + 1][1]))
    rows.append(path[-1])
    return clean_path(rows)
