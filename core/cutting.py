"""What the bit leaves: the one place where the physical outline of a piece is made.

A piece is bounded by stretches of the drawn outline and by its side of seams. Here they are
joined, with the fit already taken off by the joint's profile and relief already cut in it, and
the features that lie on the piece are cut to it. Nothing else in the program makes outlines
for the router.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import shapely
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry import Polygon

from core.errors import InvalidGeometryError
from core.geometry.arcs import restore_arcs
from core.geometry.path import (
    Path,
    bulge_on,
    carrier_hits,
    carrier_of,
    edge_fraction,
    edge_length,
    edges_of,
    merged_bulge,
)
from core.geometry.ring import Motion, Point, Region, Ring, Vertex
from core.joints.access import round_hole
from core.outlines.model import Face, Feature, Role
from core.shop import Cutter
from core.tolerances import SAME_POINT_MM, SLIVER_MM2

_JOIN_ANGLE_FACTOR = 25.0  # an offset seam meets an edge within this many offsets of its end


@dataclass(frozen=True)
class Pocket:
    """A place cut to a depth. ring: its outline, mm; it may run past the piece where it is open.

    kind: the role it was drawn as, or what needs it ("key", "lap", "thin"). islands: board left.
    clearance_mm: how much of the depth is only room to spare between the two levels of a lap.
    """

    ring: Ring
    depth_mm: float
    face: Face = Face.SHOW
    kind: str = "pocket"
    islands: tuple[Ring, ...] = ()
    clearance_mm: float = 0.0

    @property
    def polygon(self) -> Polygon:
        """Flattened, islands as holes."""
        return Region.of(self.ring, self.islands).polygon


@dataclass(frozen=True, slots=True)
class Drill:
    """A hole to drill. depth_mm None: right through."""

    at: Point
    diameter_mm: float | None
    depth_mm: float | None = None
    face: Face = Face.SHOW


@dataclass(frozen=True, slots=True)
class Engraving:
    """A line to engrave, points in mm."""

    path: tuple[Point, ...]
    depth_mm: float | None = None
    face: Face = Face.SHOW


@dataclass(frozen=True)
class CutGeometry:
    """Everything the machine does to one piece, in the panel's frame, mm."""

    region: Region
    pockets: tuple[Pocket, ...] = ()
    drills: tuple[Drill, ...] = ()
    engravings: tuple[Engraving, ...] = ()

    @property
    def outline(self) -> Ring:
        """The outer ring, counter-clockwise."""
        return self.region.outer

    @property
    def holes(self) -> tuple[Ring, ...]:
        """Holes, clockwise."""
        return self.region.holes

    @property
    def polygon(self) -> Polygon:
        """The outline flattened once, holes included."""
        return self.region.polygon

    @property
    def needs_back(self) -> bool:
        """True if something is cut from the back face."""
        faces = [p.face for p in self.pockets] + [d.face for d in self.drills]
        faces += [e.face for e in self.engravings]
        return Face.BACK in faces

    def moved(self, motion: Motion) -> CutGeometry:
        """Everything laid down by motion; a mirrored piece shows its other face."""

        def ring(r: Ring, ccw: bool) -> Ring:
            return r.moved(motion).oriented(ccw=ccw)

        return CutGeometry(
            self.region.moved(motion),
            tuple(
                Pocket(
                    ring(p.ring, True),
                    p.depth_mm,
                    p.face,
                    p.kind,
                    tuple(ring(i, False) for i in p.islands),
                    p.clearance_mm,
                )
                for p in self.pockets
            ),
            tuple(
                Drill(motion.apply(*d.at), d.diameter_mm, d.depth_mm, d.face) for d in self.drills
            ),
            tuple(
                Engraving(tuple(motion.apply(*p) for p in e.path), e.depth_mm, e.face)
                for e in self.engravings
            ),
        )

    def digest(self) -> str:
        """A short name of this very geometry: equal cuts, equal digest (to 1e-6 mm)."""
        text: list[str] = []

        def add(ring: Ring) -> None:
            text.append(";".join(f"{x:.6f},{y:.6f},{b:.9f}" for x, y, b in ring.vertices))

        for one in self.region.rings:
            add(one)
        for p in self.pockets:
            text.append(f"P{p.depth_mm:.6f}{p.face}{p.kind}")
            for one in (p.ring, *p.islands):
                add(one)
        text += [f"D{d.at[0]:.6f},{d.at[1]:.6f},{d.diameter_mm},{d.depth_mm}" for d in self.drills]
        text += [f"E{e.path}{e.depth_mm}{e.face}" for e in self.engravings]
        return hashlib.sha256("|".join(text).replace("-0.000000", "0.000000").encode()).hexdigest()[
            :16
        ]


@dataclass(frozen=True)
class Border:
    """One stretch of a piece's outline, walked with the piece on the left."""

    path: Path
    node: Point  # where the drawn stretch starts
    seam: bool = False


@dataclass
class _Trail:
    rows: list[Vertex] = field(default_factory=list)


def _trim_start(path: Path, point: Point, edge: int) -> Path:
    start, end, bulge = edges_of(path)[edge]
    rest = 0.0
    if bulge:
        rest = bulge_on(carrier_of(start, end, bulge), point, end)
    if math.dist(point, end) <= SAME_POINT_MM:
        return path[edge + 1 :]
    return ((point[0], point[1], rest), *path[edge + 1 :])


def _trim_end(path: Path, point: Point, edge: int) -> Path:
    start, end, bulge = edges_of(path)[edge]
    if math.dist(point, start) <= SAME_POINT_MM:
        return (*path[:edge], (path[edge][0], path[edge][1], 0.0))
    rest = bulge_on(carrier_of(start, end, bulge), start, point) if bulge else 0.0
    return (*path[:edge], (start[0], start[1], rest), (point[0], point[1], 0.0))


def _window(path: Path, reach: float, *, from_end: bool) -> list[int]:
    """Indices of the edges within reach of an end, nearest first."""
    edges = edges_of(path)
    order = range(len(edges) - 1, -1, -1) if from_end else range(len(edges))
    found, gone = [], 0.0
    for index in order:
        found.append(index)
        gone += edge_length(*edges[index])
        if gone > reach:
            break
    return found


def _meet(
    one: Path, two: Path, node: Point, *, one_seam: bool, two_seam: bool
) -> tuple[Path, Path] | None:
    """The end of one and the start of two, run on or cut back to where they meet, or None."""
    off = max(math.dist(one[-1][:2], node), math.dist(two[0][:2], node))
    reach = _JOIN_ANGLE_FACTOR * off
    best: tuple[float, Point, int, int] | None = None
    last, edges_one, edges_two = len(one) - 2, edges_of(one), edges_of(two)
    for i in [last] if one_seam else _window(one, reach, from_end=True):
        for j in [0] if two_seam else _window(two, reach, from_end=False):
            for hit in carrier_hits(carrier_of(*edges_one[i]), carrier_of(*edges_two[j])):
                away = math.dist(hit, node)
                if away > reach:
                    continue
                f1 = edge_fraction(*edges_one[i], hit)
                f2 = edge_fraction(*edges_two[j], hit)
                # A seam's own end may be run on; the drawn outline is only ever cut back.
                if f1 < -1e-9 or f2 > 1.0 + 1e-9:
                    continue
                if (not one_seam and f1 > 1.0 + 1e-9) or (not two_seam and f2 < -1e-9):
                    continue
                if best is None or away < best[0]:
                    best = (away, hit, i, j)
    if best is None:
        return None
    _, hit, i, j = best
    return _trim_end(one, hit, i), _trim_start(two, hit, j)


def join_borders(borders: Sequence[Border]) -> Ring:
    """The closed outline of a piece from its borders in walking order.

    Where a border was moved by the fit, it is run on or cut back along its own line or circle
    to where it meets its neighbour, so joints are exact. Where the two never meet (the seam
    runs along the outline's own edge), a step through the drawn corner closes the outline and
    nothing else is touched.
    """
    paths = [border.path for border in borders]
    count = len(paths)
    bridges: list[list[Vertex]] = [[] for _ in paths]
    for index in range(count):
        after = (index + 1) % count
        one, two, node = paths[index], paths[after], borders[after].node
        if math.dist(one[-1][:2], two[0][:2]) <= SAME_POINT_MM:
            continue
        met = _meet(one, two, node, one_seam=borders[index].seam, two_seam=borders[after].seam)
        if met is not None and after != index:
            paths[index], paths[after] = met
            continue
        bridges[index] = [(node[0], node[1], 0.0)]
    rows: list[Vertex] = []
    for path, bridge in zip(paths, bridges, strict=True):
        if len(path) > 1 and not bridge:
            rows.extend(path[:-1])
        elif bridge:
            rows.extend(path)
            rows.extend(bridge)
    return tidy_ring(Ring.of(rows))


def tidy_ring(ring: Ring) -> Ring:
    """The ring without needless vertices: straight runs merged; arcs stay as they are divided."""
    rows = list(ring.vertices)
    at = 0
    while at < len(rows) and len(rows) > 3:
        a, b, c = rows[at - 1], rows[at], rows[(at + 1) % len(rows)]
        if a[2] == 0.0 and b[2] == 0.0 and merged_bulge(a, b, c) is not None:
            rows.pop(at)
        else:
            at += 1
    return Ring(tuple(rows))


def features_on(
    region: Region, features: Sequence[Feature], *, whole: bool = False
) -> tuple[tuple[Pocket, ...], tuple[Drill, ...], tuple[Engraving, ...], tuple[int, ...]]:
    """Features cut to a piece: (pockets, drills, engravings, indices of those cut in two).

    whole: the piece is the whole panel, so every feature lies on it as drawn (a pocket may
    then run past the outline).
    """
    pockets: list[Pocket] = []
    drills: list[Drill] = []
    engravings: list[Engraving] = []
    crossed: list[int] = []
    if not features:
        return (), (), (), ()
    polygon = region.polygon
    shapely.prepare(polygon)
    for index, feature in enumerate(features):
        if feature.at is not None:
            here = whole or polygon.intersects(ShapelyPoint(feature.at))
            if here and (feature.kind is Role.DRILL or feature.ring is None):
                drills.append(
                    Drill(feature.at, feature.diameter_mm, feature.depth_mm, feature.face)
                )
            continue
        if feature.ring is not None and feature.kind is not Role.ENGRAVE:
            kind = str(feature.kind.value)
            ring = feature.ring.oriented(ccw=True)
            depth = feature.depth_mm if feature.depth_mm is not None else math.inf
            shape = Region(ring).polygon
            if whole or polygon.contains(shape):
                pockets.append(Pocket(ring, depth, feature.face, kind))
                continue
            if not polygon.intersects(shape):
                continue
            part = polygon.intersection(shape)
            parts = [g for g in shapely.get_parts(part) if g.geom_type == "Polygon"]
            parts = [g for g in parts if g.area > SLIVER_MM2]
            if parts:
                crossed.append(index)
            for piece in parts:
                kept = restore_arcs(piece, [region, Region(ring)])
                pockets.append(Pocket(kept.outer, depth, feature.face, kind, kept.holes))
            continue
        points = feature.path
        if feature.ring is not None:
            flat = [(float(x), float(y)) for x, y in feature.ring.flattened()]
            points = (*flat, flat[0])
        if len(points) < 2:
            continue
        line = shapely.LineString(points)
        if whole or polygon.contains(line):
            engravings.append(Engraving(tuple(points), feature.depth_mm, feature.face))
            continue
        kept_line = polygon.intersection(line)
        for part in shapely.get_parts(kept_line):
            if part.geom_type == "LineString" and part.length > SAME_POINT_MM:
                crossed.append(index)
                engravings.append(
                    Engraving(
                        tuple((float(x), float(y)) for x, y in part.coords),
                        feature.depth_mm,
                        feature.face,
                    )
                )
    return tuple(pockets), tuple(drills), tuple(engravings), tuple(dict.fromkeys(crossed))


def drilled_holes(region: Region, cutter: Cutter | None) -> tuple[Region, tuple[Drill, ...]]:
    """The region without round holes thinner than the bit, and these as drill centres."""
    if cutter is None:
        return region, ()
    holes: list[Ring] = []
    drills: list[Drill] = []
    for ring in region.holes:
        circle = round_hole(ring)
        if circle is not None and circle[1] < cutter.diameter_mm - SAME_POINT_MM:
            drills.append(Drill(circle[0], circle[1]))
        else:
            holes.append(ring)
    return (Region(region.outer, tuple(holes)), tuple(drills)) if drills else (region, ())


def cut_whole(
    region: Region, features: Sequence[Feature] = (), cutter: Cutter | None = None
) -> CutGeometry:
    """What the bit leaves of a panel that is not split.

    cutter: round holes thinner than it become drill centres; None leaves every hole.
    """
    pockets, drills, engravings, _ = features_on(region, features, whole=True)
    region, holes = drilled_holes(region, cutter)
    return CutGeometry(region, pockets, (*drills, *holes), engravings)


def cut_piece(
    borders: Sequence[Border],
    hole_borders: Sequence[Sequence[Border]],
    holes: Sequence[Ring],
    features: Sequence[Feature] = (),
    cutter: Cutter | None = None,
) -> CutGeometry:
    """What the bit leaves of one piece of a split panel.

    borders: of its outer outline; hole_borders: of holes that seams touch; holes: untouched.
    cutter: as in cut_whole.
    Raises InvalidGeometryError if the outline would cross itself.
    """
    region = Region.of(join_borders(borders), [*(join_borders(b) for b in hole_borders), *holes])
    if not region.polygon.is_valid:
        reason = shapely.is_valid_reason(region.polygon)
        raise InvalidGeometryError(
            f"The piece's outline would cross itself ({reason.lower()})",
            "",
            "Move the seam, or take smaller teeth.",
        )
    pockets, drills, engravings, _ = features_on(region, features)
    region, small = drilled_holes(region, cutter)
    return CutGeometry(region, pockets, (*drills, *small), engravings)
