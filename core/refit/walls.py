"""Moved walls and reliefs as values in a panel's frame, and applying them to any piece of it.

A wall is the straight side (or arc) it was in the drawing and how far it moves to its left,
into the board. A piece of a split panel has the same walls, or parts of them, on its own
outline; so the same value re-cuts the whole panel and each of its pieces, joints at seams
meet exactly, and arcs stay arcs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from core.errors import InvalidGeometryError
from core.geometry import Point, Region, Ring
from core.geometry.path import carrier_of
from core.joints.relief import corner_at, relief_needed, relieve_ring
from core.project.refit import ReliefKind
from core.refit.narrow import round_ends
from core.refit.skeleton import Side, moved_ring, skeleton_of
from core.tolerances import SAME_WALL_MM


@dataclass(frozen=True, slots=True)
class MovedWall:
    """One wall of a drawn joint.

    start, end, bulge: as drawn, the board on its left. moves_mm: to its left, into the board
    (an opening gets larger), negative: out of it. name: what it is, for the list.
    """

    start: Point
    end: Point
    bulge: float
    moves_mm: float
    name: str = ""

    @property
    def moved(self) -> tuple[Point, Point]:
        """Both ends after the move, square to the wall (a straight one)."""
        size = math.dist(self.start, self.end)
        nx = -(self.end[1] - self.start[1]) / size * self.moves_mm
        ny = (self.end[0] - self.start[0]) / size * self.moves_mm
        return (
            (self.start[0] + nx, self.start[1] + ny),
            (self.end[0] + nx, self.end[1] + ny),
        )


@dataclass(frozen=True, slots=True)
class ReliefSpot:
    """An inside corner that a mate's corner enters, after the walls have moved.

    keep_in: of the two sides there the first one walked is a wall that carries the fit, so a
    T-bone cuts into the other.
    """

    at: Point
    mate: Point
    keep_in: bool


@dataclass(frozen=True, slots=True)
class Relieved:
    """The corners of one joint and how they are opened. ends: pairs of corners (indices into
    spots) with a slot's end between them, which becomes round where two reliefs have no room.
    """

    kind: ReliefKind
    spots: tuple[ReliefSpot, ...]
    ends: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True)
class RefitCut:
    """Everything that re-cutting changes on one panel.

    walls: of the outline and its holes. reliefs: per joint. radius_mm: of the bit that cuts,
    allowance_mm: by how much its radius is under size.
    """

    walls: tuple[MovedWall, ...] = ()
    reliefs: tuple[Relieved, ...] = ()
    radius_mm: float = 0.0
    allowance_mm: float = 0.0

    def __bool__(self) -> bool:
        """False if nothing changes."""
        return bool(self.walls or self.reliefs)


def refit_cut(region: Region, cut: RefitCut) -> Region:
    """A panel, or any piece of it, as it is cut once drawn joints are re-cut.

    region: in the panel's frame, mm; the drawn panel or what the bit leaves of a piece of it
    (seams, fit and their relief already in it). cut: from :func:`core.refit.refit_panel`.
    Walls that are not on the region are passed over. Raises InvalidGeometryError if the result
    would cross itself.
    """
    if not cut:
        return region
    rings = [_refit_ring(ring, cut) for ring in region.rings]
    if all(new is old for new, old in zip(rings, region.rings, strict=True)):
        return region
    out = Region(rings[0], tuple(rings[1:]))
    if not out.polygon.is_valid or out.area_mm2 <= 0:
        from shapely import is_valid_reason

        raise InvalidGeometryError(
            f"Re-cut joints would run into each other ({is_valid_reason(out.polygon).lower()})",
            "",
            "Leave one of them as drawn.",
        )
    return out


def _refit_ring(ring: Ring, cut: RefitCut) -> Ring:
    x1, y1, x2, y2 = ring.bounds
    near = [
        wall
        for wall in cut.walls
        if _touches((wall.start, wall.end), (x1 - 1.0, y1 - 1.0, x2 + 1.0, y2 + 1.0))
    ]
    if near:
        skeleton = skeleton_of(ring)
        if skeleton is not None:
            shifts = {}
            for index, side in enumerate(skeleton.sides):
                wall = _wall_of(side, near)
                if wall is not None and wall.moves_mm:
                    shifts[index] = wall.moves_mm
            ring = moved_ring(skeleton, shifts)
    return relieve_joints(ring, cut)


@dataclass(frozen=True, slots=True)
class Blocked:
    """A corner that a mate's corner enters but that the bit leaves round. wanted: a relief was
    asked for and found no room."""

    at: Point
    wanted: bool


def blocked_corners(region: Region, cut: RefitCut) -> tuple[Blocked, ...]:
    """Corners of joints in a region, re-cut and relieved, that still keep a mate out."""
    out: list[Blocked] = []
    if cut.radius_mm <= 0:
        return ()
    for relieved in cut.reliefs:
        for ring in region.rings:
            if not _touches([spot.at for spot in relieved.spots], ring.bounds):
                continue
            rows = ring.vertices
            for s, i in _spots_on(ring, relieved).items():
                around = (rows[i - 1], rows[i], rows[(i + 1) % len(rows)])
                corner = corner_at(around, 1, relieved.spots[s].mate)
                if corner is not None and relief_needed(corner, cut.radius_mm):
                    at = relieved.spots[s].at
                    out.append(Blocked(at, relieved.kind is not ReliefKind.NONE))
    return tuple(out)


def relieve_joints(ring: Ring, cut: RefitCut) -> Ring:
    """A ring, board on its left, with the corners of joints on it opened."""
    for relieved in cut.reliefs:
        ring = _relieve(ring, relieved, cut)
    return ring


def _touches(points: Sequence[Point], box: tuple[float, float, float, float]) -> bool:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs) <= box[2] and max(xs) >= box[0] and min(ys) <= box[3] and max(ys) >= box[1]


def _wall_of(side: Side, walls: Sequence[MovedWall]) -> MovedWall | None:
    """The wall a side is, or is part of."""
    for wall in walls:
        if bool(wall.bulge) != bool(side.bulge):
            continue
        if wall.bulge:
            one = carrier_of(wall.start, wall.end, wall.bulge)
            two = carrier_of(side.start, side.end, side.bulge)
            if (
                math.dist((one.x, one.y), (two.x, two.y)) <= SAME_WALL_MM
                and abs(one.radius - two.radius) <= SAME_WALL_MM
                and one.ccw == two.ccw
                and math.dist(wall.start, side.start) <= SAME_WALL_MM
            ):
                return wall
            continue
        size = math.dist(wall.start, wall.end)
        ux, uy = (wall.end[0] - wall.start[0]) / size, (wall.end[1] - wall.start[1]) / size
        dx, dy = side.direction
        if dx * ux + dy * uy <= 0:
            continue
        stations = []
        for x, y in (side.start, side.end):
            px, py = x - wall.start[0], y - wall.start[1]
            if abs(px * uy - py * ux) > SAME_WALL_MM:
                break
            stations.append(px * ux + py * uy)
        if len(stations) < 2:
            continue
        shared = min(stations[1], size) - max(stations[0], 0.0)
        # A seam's fit may make a side a little longer than the wall was, never much.
        if shared > 0 and shared >= (stations[1] - stations[0]) - 1.0:
            return wall
    return None


def _relieve(ring: Ring, relieved: Relieved, cut: RefitCut) -> Ring:
    if relieved.kind is ReliefKind.NONE or cut.radius_mm <= 0:
        return ring
    box = ring.bounds
    if not _touches([s.at for s in relieved.spots], box):
        return ring
    found = _spots_on(ring, relieved)
    if not found:
        return ring
    indices = {i: relieved.spots[s].mate for s, i in found.items()}
    keep = {i: relieved.spots[s].keep_in for s, i in found.items()}
    try:
        return relieve_ring(
            ring,
            indices,
            cut.radius_mm,
            relieved.kind,
            keep_in=keep,
            allowance_mm=cut.allowance_mm,
        )
    except InvalidGeometryError:
        return _rounded(ring, relieved, found)


def _spots_on(ring: Ring, relieved: Relieved) -> dict[int, int]:
    """Which spots are corners of a ring: spot → vertex."""
    found: dict[int, int] = {}
    for s, spot in enumerate(relieved.spots):
        for i, (x, y, _) in enumerate(ring.vertices):
            if abs(x - spot.at[0]) <= SAME_WALL_MM and abs(y - spot.at[1]) <= SAME_WALL_MM:
                found[s] = i
                break
    return found


def _rounded(ring: Ring, relieved: Relieved, found: dict[int, int]) -> Ring:
    """Ends that have no room for two reliefs made round; without ends the ring as it is."""
    count = len(ring.vertices)
    edges = []
    for one, two in relieved.ends:
        if one in found and two in found:
            i, j = found[one], found[two]
            if (i + 1) % count == j:
                edges.append(i)
            elif (j + 1) % count == i:
                edges.append(j)
    return round_ends(ring, edges) if edges else ring
