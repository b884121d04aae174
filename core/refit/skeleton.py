"""A ring seen as sides and corners, and moving single sides of it.

A *side* is a straight stretch of the ring (edges in one line taken together) or an arc. Where
two straight sides are joined by small arcs, a relief or a rounding as a bit leaves it, the
arcs belong to the *corner* and move with it; the corner's point is where the two sides' lines
meet. So a slot with drawn dog-bones is four sides and four corners, like any rectangle.

Every ring is walked with the board on its left (outer rings counter-clockwise, holes
clockwise). A side moved by a positive distance moves to its left: into the board, so the
opening beside it gets larger.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from core.errors import InvalidGeometryError
from core.geometry import Point, Ring, Vertex
from core.geometry.path import (
    Carrier,
    bulge_on,
    carrier_hits,
    carrier_of,
    edge_direction,
)
from core.geometry.ring import arc_of
from core.tolerances import SAME_POINT_MM, SMOOTH_TURN_RAD

# Half of a 16 mm bit: arcs up to this radius between two straight sides are bit work.
CORNER_RADIUS_MM = 8.0


@dataclass(frozen=True, slots=True)
class Side:
    """One side from corner point to corner point. first, last: edges of the ring, in order."""

    start: Point
    end: Point
    bulge: float
    first: int
    last: int

    @property
    def length_mm(self) -> float:
        """Distance of its corner points."""
        return math.dist(self.start, self.end)

    @property
    def direction(self) -> Point:
        """Unit vector from start to end."""
        size = self.length_mm
        return (self.end[0] - self.start[0]) / size, (self.end[1] - self.start[1]) / size

    @property
    def is_straight(self) -> bool:
        """True unless it is an arc."""
        return self.bulge == 0.0

    @property
    def middle(self) -> Point:
        """Halfway between its corner points."""
        return (self.start[0] + self.end[0]) / 2, (self.start[1] + self.end[1]) / 2


@dataclass(frozen=True)
class Skeleton:
    """The sides of a ring in running order.

    plain: per side, True if the corner at its end is a bare vertex, False if arcs sit there.
    """

    ring: Ring
    sides: tuple[Side, ...]
    plain: tuple[bool, ...]

    def turn_rad(self, index: int) -> float:
        """Turn from a side into the next one, left positive, measured at the corner."""
        one, two = self.sides[index], self.sides[(index + 1) % len(self.sides)]
        bx, by = edge_direction(one.start, one.end, one.bulge, 1.0)
        ax, ay = edge_direction(two.start, two.end, two.bulge, 0.0)
        return math.atan2(bx * ay - by * ax, bx * ax + by * ay)


def skeleton_of(ring: Ring) -> Skeleton | None:
    """Sides and corners of a ring; None if it has fewer than three sides (a circle, a lens)."""
    runs = _runs(ring)
    count = len(runs)
    small = [_is_small_arc(run) for run in runs]
    if count < 2 or all(small):
        return None
    # Begin at a side, so that no corner runs over the end of the list.
    begin = next(i for i in range(count) if not small[i])
    runs = runs[begin:] + runs[:begin]
    small = small[begin:] + small[:begin]
    at = 1
    while at < count:
        if not small[at]:
            at += 1
            continue
        stop = at
        while stop < count and small[stop]:
            stop += 1
        if _corner_point(runs[at - 1], runs[stop % count], runs[at:stop]) is None:
            for k in range(at, stop):
                small[k] = False
        at = stop
    kept = [i for i in range(count) if not small[i]]
    if len(kept) < 3:
        return None
    corners: list[Point] = []
    plain: list[bool] = []
    for k, i in enumerate(kept):
        after = kept[(k + 1) % len(kept)]
        between = runs[i + 1 : after if after > i else count]
        if between:
            point = _corner_point(runs[i], runs[after], between)
            assert point is not None
            corners.append(point)
        else:
            corners.append(runs[i].end)
        plain.append(not between)
    sides = tuple(
        Side(corners[k - 1], corners[k], runs[i].bulge, runs[i].first, runs[i].last)
        for k, i in enumerate(kept)
    )
    if any(side.length_mm <= SAME_POINT_MM for side in sides):
        return None
    return Skeleton(ring, sides, tuple(plain))


def _runs(ring: Ring) -> list[Side]:
    """Edges in order, straight ones that go on in one line made one."""
    runs: list[Side] = []
    for i, (start, end, bulge) in enumerate(ring.edges()):
        edge = Side(start, end, bulge, i, i)
        if runs and _goes_on(runs[-1], edge):
            runs[-1] = Side(runs[-1].start, end, 0.0, runs[-1].first, i)
        else:
            runs.append(edge)
    if len(runs) > 3 and _goes_on(runs[-1], runs[0]):
        last = runs.pop()
        runs[0] = Side(last.start, runs[0].end, 0.0, last.first, runs[0].last)
    return runs


def _goes_on(a: Side, b: Side) -> bool:
    if a.bulge or b.bulge:
        return False
    (ux, uy), (vx, vy) = a.direction, b.direction
    return abs(ux * vy - uy * vx) < SMOOTH_TURN_RAD and ux * vx + uy * vy > 0


def _is_small_arc(run: Side) -> bool:
    if not run.bulge:
        return False
    return arc_of(run.start, run.end, run.bulge)[1] <= CORNER_RADIUS_MM + 1e-6


def _corner_point(one: Side, two: Side, arcs: list[Side]) -> Point | None:
    """Where the lines of two straight sides meet, if that is where the arcs between them are."""
    if one.bulge or two.bulge:
        return None
    hits = carrier_hits(carrier_of(one.start, one.end, 0.0), carrier_of(two.start, two.end, 0.0))
    if not hits:
        return None
    (ux, uy), (vx, vy) = one.direction, two.direction
    if abs(ux * vy - uy * vx) < math.sin(math.radians(20.0)):
        return None
    # Arcs of a relief or a rounding start and end within a few radii of the corner.
    reach = 3.0 * CORNER_RADIUS_MM
    ends = [arc.start for arc in arcs] + [arcs[-1].end]
    return hits[0] if all(math.dist(hits[0], end) <= reach for end in ends) else None


def moved_ring(skeleton: Skeleton, shifts_mm: Mapping[int, float]) -> Ring:
    """The ring with some sides moved to their left; arcs of corners move along unchanged.

    shifts_mm: side → distance. Sides that do not move keep their line or circle and get longer
    or shorter. Raises InvalidGeometryError if neighbours no longer meet or a side would vanish.
    """
    shifts = {i: s for i, s in shifts_mm.items() if s != 0.0}
    if not shifts:
        return skeleton.ring
    sides, count = skeleton.sides, len(skeleton.sides)
    moved = _moved_carriers(sides, shifts)
    corners = moved_corners(skeleton, shifts)
    old = skeleton.ring.vertices
    total = len(old)
    rows: list[Vertex | None] = [None] * total
    for i, side in enumerate(sides):
        start, end = corners[i - 1], corners[i]
        # The vertex a side's first edge starts from belongs to the corner before it.
        for vertex, corner, point in (
            (side.first, start, side.start),
            ((side.last + 1) % total, end, side.end),
        ):
            dx, dy = corner[0] - point[0], corner[1] - point[1]
            x, y, bulge = old[vertex]
            at = (x + dx, y + dy) if (dx or dy) else (x, y)
            rows[vertex] = (*at, bulge)
        ux, uy = edge_direction(side.start, side.end, side.bulge, 0.5)
        left = shifts.get(i, 0.0)
        vertex = side.first
        while vertex != side.last:
            vertex = (vertex + 1) % total
            x, y, bulge = old[vertex]
            rows[vertex] = (x - uy * left, y + ux * left, bulge)
    for i in range(count):
        # Vertices between the arcs of a corner.
        vertex = (sides[i].last + 1) % total
        stop = sides[(i + 1) % count].first
        point, corner = sides[i].end, corners[i]
        while vertex != stop:
            vertex = (vertex + 1) % total
            x, y, bulge = old[vertex]
            rows[vertex] = (x + corner[0] - point[0], y + corner[1] - point[1], bulge)
    done = [row for row in rows if row is not None]
    assert len(done) == total
    for i, side in enumerate(sides):
        if side.bulge and (corners[i - 1] != side.start or corners[i] != side.end):
            x, y, _ = done[side.first]
            done[side.first] = (x, y, bulge_on(moved[i], corners[i - 1], corners[i]))
    return Ring.of(done)


def _moved_carriers(sides: tuple[Side, ...], shifts: Mapping[int, float]) -> list[Carrier]:
    carriers = [carrier_of(s.start, s.end, s.bulge) for s in sides]
    return [c.shifted(shifts.get(i, 0.0)) for i, c in enumerate(carriers)]


def moved_corners(skeleton: Skeleton, shifts_mm: Mapping[int, float]) -> list[Point]:
    """Per side the corner at its end once some sides have moved to their left.

    Raises InvalidGeometryError if neighbours no longer meet or a side would vanish.
    """
    sides, count = skeleton.sides, len(skeleton.sides)
    moved = _moved_carriers(sides, shifts_mm)
    corners = [
        _moved_corner(sides, moved, i, shifts_mm.get(i, 0.0), shifts_mm.get((i + 1) % count, 0.0))
        for i in range(count)
    ]
    _check_sides(sides, corners)
    return corners


def _moved_corner(
    sides: tuple[Side, ...], moved: list[Carrier], index: int, one: float, two: float
) -> Point:
    """Where the corner after a side lies once it and the next have moved."""
    side, after = sides[index], sides[(index + 1) % len(sides)]
    x, y = side.end
    if one == 0.0 and two == 0.0:
        return x, y
    bx, by = edge_direction(side.start, side.end, side.bulge, 1.0)
    ax, ay = edge_direction(after.start, after.end, after.bulge, 0.0)
    cross = bx * ay - by * ax
    if abs(cross) <= 1e-4:
        if abs(one - two) > SAME_POINT_MM:
            raise InvalidGeometryError(
                "A wall that runs on smoothly into its neighbour cannot be moved alone",
                f"({x:.1f}, {y:.1f})",
                "Draw a corner between them, or leave the joint as drawn.",
            )
        return x - by * one, y + bx * one
    guess = (x + (one * ax - two * bx) / cross, y + (one * ay - two * by) / cross)
    if side.is_straight and after.is_straight:
        return guess
    hits = carrier_hits(moved[index], moved[(index + 1) % len(sides)])
    if not hits:
        raise InvalidGeometryError(
            "A moved wall no longer meets its neighbour",
            f"({x:.1f}, {y:.1f})",
            "Leave the joint as drawn, or draw it again.",
        )
    return min(hits, key=lambda hit: math.dist(hit, guess))


def _check_sides(sides: tuple[Side, ...], corners: list[Point]) -> None:
    for i, side in enumerate(sides):
        start, end = corners[i - 1], corners[i]
        dx, dy = side.direction
        if (end[0] - start[0]) * dx + (end[1] - start[1]) * dy <= SAME_POINT_MM:
            raise InvalidGeometryError(
                "Moving the walls of a joint would leave nothing between them",
                f"({side.middle[0]:.1f}, {side.middle[1]:.1f})",
                "Leave the joint as drawn, or draw it again.",
            )
