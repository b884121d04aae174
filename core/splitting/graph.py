"""A panel's outline and its seams as a plane graph, and the pieces as its faces.

Nodes are where seams meet the outline or each other. Between nodes run stretches: of the
outline, with board on their left only, and of seams, with board on both sides. Walking every
stretch with the board on the left and turning as far left as the board reaches at each node
gives the pieces. No polygon is cut, so arcs stay arcs and neighbours share their line exactly.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from core.errors import InvalidGeometryError
from core.geometry.path import (
    Path,
    edge_direction,
    edge_point,
    edges_of,
)
from core.geometry.ring import Point, Region, Ring, Vertex, arc_of, arc_steps
from core.splitting.lines import TOUCH_MM, list_edge
from core.tolerances import FLATTEN_SAGITTA_MM, SAME_POINT_MM, SPECK_MM2


@dataclass(frozen=True, slots=True)
class Walk:
    """One stretch walked with the board on its left.

    seam: (line index, joint index) or None for the drawn outline. forward: along the seam.
    start, end: node numbers.
    """

    path: Path
    start: int
    end: int
    seam: tuple[int, int] | None = None
    forward: bool = True


@dataclass(frozen=True)
class Face:
    """A piece: its outer walk and the walks of holes that seams touch."""

    outer: tuple[Walk, ...]
    holes: tuple[tuple[Walk, ...], ...] = ()
    whole_holes: tuple[Ring, ...] = ()

    @property
    def region(self) -> Region:
        """The piece's share of the panel as drawn."""
        return Region.of(
            ring_of(self.outer), [*(ring_of(w) for w in self.holes), *self.whole_holes]
        )


def ring_of(walks: Sequence[Walk]) -> Ring:
    """The closed ring of a walk."""
    rows = [vertex for walk in walks for vertex in walk.path[:-1]]
    return Ring.of(rows)


def without_specks(path: Sequence[Vertex]) -> Path:
    """An open path without edges that have no length; both its ends stay.

    They come up where a seam meets the outline within rounding of a corner. Raises
    InvalidGeometryError if nothing is left.
    """
    kept = [path[0]]
    for vertex in path[1:]:
        if math.dist(vertex[:2], kept[-1][:2]) <= SAME_POINT_MM:
            kept.pop()  # what leaves this place is the later one's edge
        kept.append(vertex)
    if len(kept) < 2:
        raise InvalidGeometryError(
            "A seam touches the outline without crossing it",
            f"({path[0][0]:.2f}, {path[0][1]:.2f})",
            "Drag it further into the panel, or off the corner.",
        )
    return ((*path[0][:2], kept[0][2]), *kept[1:-1], (*path[-1][:2], kept[-1][2]))


class Nodes:
    """Numbered places; places nearer than TOUCH_MM are one."""

    def __init__(self) -> None:
        self.places: list[Point] = []

    def number(self, point: Point) -> int:
        """The number of the node at point, new if there was none."""
        for index, place in enumerate(self.places):
            if (
                abs(place[0] - point[0]) <= 2 * TOUCH_MM
                and abs(place[1] - point[1]) <= 2 * TOUCH_MM
            ):
                return index
        self.places.append(point)
        return len(self.places) - 1


def outline_walks(
    region: Region, marks: dict[int, list[tuple[int, float, int]]], nodes: Nodes
) -> tuple[list[Walk], list[Ring]]:
    """Stretches of the outline between nodes, and the rings no seam touches.

    marks: per ring the (edge, fraction, node) where seams end on it.
    """
    walks: list[Walk] = []
    whole: list[Ring] = []
    for number, ring in enumerate(region.rings):
        here = sorted(set(marks.get(number, [])))
        if not here:
            if number:
                whole.append(ring)
            continue
        count = len(ring.vertices)
        for k, (edge, fraction, node) in enumerate(here):
            edge2, fraction2, node2 = here[(k + 1) % len(here)]
            rows: list[tuple[float, float, float]] = []
            ends_here = (edge2, fraction2) > (edge, fraction)
            at, f0 = edge, fraction
            steps = 0
            while True:
                start, end, bulge = list_edge(region, number, at)
                last = at == edge2 and (steps > 0 or ends_here)
                f1 = fraction2 if last else 1.0
                p0 = (
                    nodes.places[node]
                    if not rows and steps == 0
                    else edge_point(start, end, bulge, f0)
                )
                if f1 > f0:
                    rows.extend(_stretch(start, end, bulge, f0, f1, p0))
                if last:
                    break
                at, f0 = (at + 1) % count, 0.0
                steps += 1
                if steps > count:
                    raise InvalidGeometryError("A seam meets the outline in an impossible way")
            rows.append((*nodes.places[node2], 0.0))
            walks.append(Walk(without_specks(rows), node, node2))
    return walks, whole


def _stretch(
    start: Point, end: Point, bulge: float, f0: float, f1: float, first: Point
) -> list[tuple[float, float, float]]:
    """Vertices of one edge from fraction f0 to f1, without its end.

    An arc is divided at the chord ends of the whole arc next to f0 and f1: then a piece
    flattens to the very points the panel flattens to, and pieces partition it as polygons too.
    """
    if not bulge:
        return [(*first, 0.0)]
    stops = [f0]
    if f0 > 0.0 or f1 < 1.0:
        _, radius, _, sweep = arc_of(start, end, bulge)
        count = arc_steps(radius, sweep, FLATTEN_SAGITTA_MM)
        for near in (math.ceil(f0 * count - 1e-9) / count, math.floor(f1 * count + 1e-9) / count):
            if stops[-1] + 1e-9 < near < f1 - 1e-9:
                stops.append(near)
    rows = []
    for k, at in enumerate(stops):
        after = stops[k + 1] if k + 1 < len(stops) else f1
        point = first if k == 0 else edge_point(start, end, bulge, at)
        rows.append((*point, math.tan(math.atan(bulge) * (after - at))))
    return rows


def faces_of(
    walks: Sequence[Walk], whole_holes: Sequence[Ring], whole_outer: Ring | None
) -> list[Face]:
    """The pieces bounded by walks (seam stretches given both ways).

    whole_outer: the panel's outer ring if no seam touches it. Raises InvalidGeometryError if
    a seam has the same piece on both sides or leaves the outline where it runs along it.
    """
    out: dict[int, list[int]] = {}
    angle_out: list[float] = []
    angle_back: list[float] = []
    for index, walk in enumerate(walks):
        out.setdefault(walk.start, []).append(index)
        edges = edges_of(walk.path)
        dx, dy = edge_direction(*edges[0], 0.0)
        angle_out.append(math.atan2(dy, dx))
        dx, dy = edge_direction(*edges[-1], 1.0)
        angle_back.append(math.atan2(-dy, -dx))
    follow: list[int] = []
    for index, walk in enumerate(walks):
        best, least = -1, math.inf
        for candidate in out.get(walk.end, []):
            turn = (angle_back[index] - angle_out[candidate]) % (2 * math.pi)
            other = walks[candidate]
            back = (
                walk.seam is not None and other.seam == walk.seam and other.forward != walk.forward
            )
            if back or turn < 1e-7:
                turn = 2 * math.pi + (1.0 if back else 0.0)
            if turn < least:
                best, least = candidate, turn
        if best < 0:
            raise InvalidGeometryError("A seam ends inside the board")
        follow.append(best)
    seen = [False] * len(walks)
    loops: list[list[Walk]] = []
    for index in range(len(walks)):
        if seen[index]:
            continue
        loop = []
        at = index
        while not seen[at]:
            seen[at] = True
            loop.append(walks[at])
            at = follow[at]
        if at != index:
            raise InvalidGeometryError("The seams do not part the panel cleanly")
        loops.append(loop)
    outers: list[tuple[list[Walk], Ring]] = []
    inners: list[tuple[list[Walk], Ring]] = []
    for loop in loops:
        ring = ring_of(loop)
        if abs(ring.signed_area_mm2) < SPECK_MM2:
            raise InvalidGeometryError(
                "A seam runs along the outline",
                f"({loop[0].path[0][0]:.2f}, {loop[0].path[0][1]:.2f})",
                "Drag it further into the panel.",
            )
        (outers if ring.signed_area_mm2 > 0 else inners).append((loop, ring))
    if whole_outer is not None:
        outers.append(([], whole_outer))
    polygons = [Region.of(ring).polygon for _, ring in outers]
    holes: list[list[tuple[Walk, ...]]] = [[] for _ in outers]
    plain: list[list[Ring]] = [[] for _ in outers]

    def home(ring: Ring) -> int:
        from shapely.geometry import Point as ShapelyPoint

        x, y = ring.vertices[0][:2]
        spot = ShapelyPoint(x, y)
        inside = [i for i, p in enumerate(polygons) if p.contains(spot)]
        if not inside:
            inside = [min(range(len(polygons)), key=lambda i: polygons[i].distance(spot))]
        return min(inside, key=lambda i: polygons[i].area)

    for loop, ring in inners:
        holes[home(ring)].append(tuple(loop))
    for ring in whole_holes:
        plain[home(ring)].append(ring)
    faces = []
    for k, (loop, _) in enumerate(outers):
        if not loop:
            raise InvalidGeometryError("The seams do not reach the panel's outer edge")
        faces.append(Face(tuple(loop), tuple(holes[k]), tuple(plain[k])))
    for face in faces:
        sides = {}
        for walk in (*face.outer, *(w for hole in face.holes for w in hole)):
            if walk.seam is not None:
                if walk.seam in sides:
                    raise InvalidGeometryError("A seam has the same piece on both sides")
                sides[walk.seam] = True
    return faces
