"""What a maker sees in an outline: holes, slots, notches, combs, straight edges, symmetry.

Later stages hang decisions on these, so each carries a :class:`FeatureRef`: its kind, its
sizes and a point in the panel's frame. A drawing that is read again gives the same refs, and
small shifts can be matched within a tolerance. Own derivation throughout.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import shapely
from shapely import affinity
from shapely.geometry import Polygon

from core.geometry import Point, Region, Ring
from core.outlines.runs import PARALLEL, Run, apart, runs_of, sharpened
from core.outlines.understand import round_ring
from core.tolerances import COMB_DEPTH_TOL_MM, NOMINAL_TOL_MM, SYMMETRY_TOL_MM

_NOTCH_REACH = 10  # edges from one wall of a notch to the other, reliefs at its corners counted
_SHORTEST_EDGE_MM = 50.0  # a straight edge shorter than this guides nothing
_MOST_EDGES = 4000  # of a ring; beyond this it is a flattened curve, not joinery


@dataclass(frozen=True, slots=True)
class FeatureRef:
    """A feature by what it is: kind, sizes in mm (an axis: degrees), a point of the panel.

    kind: hole (diameter), slot (width, length), notch (width, depth), comb (depth, length,
    walls), edge (length), axis (angle).
    """

    kind: str
    size: tuple[float, ...]
    anchor: Point


@dataclass(frozen=True, slots=True)
class Recognised:
    """One feature recognised on a region.

    ring: index into region.rings. first_edge, last_edge: edges of that ring it spans, in
    running order, wrapping past the end if last < first (-1, -1 for an axis).
    walls: the pairs of points of its walls (slot, notch: two; comb: all; edge: itself; axis:
    its line across the panel). nominal_mm: the nominal thickness it was drawn for, None if that
    plays no part; matches: all thicknesses given that it could be for, nearest first.
    certain: clean enough to be re-cut without asking, with one thickness only.
    """

    ref: FeatureRef
    ring: int = 0
    first_edge: int = -1
    last_edge: int = -1
    walls: tuple[tuple[Point, Point], ...] = ()
    nominal_mm: float | None = None
    matches: tuple[float, ...] = ()
    certain: bool = True

    @property
    def kind(self) -> str:
        """What it is."""
        return self.ref.kind

    @property
    def width_mm(self) -> float:
        """Diameter, width, or the first size."""
        return self.ref.size[0]


def recognise(region: Region, nominal_thicknesses_mm: Iterable[float]) -> tuple[Recognised, ...]:
    """Everything recognised on a region, in a fixed order.

    nominal_thicknesses_mm: thicknesses that boards of the project are sold as. A slot or notch
    counts when its width is one of them within NOMINAL_TOL_MM, a comb when its depth is within
    COMB_DEPTH_TOL_MM.
    """
    nominals = tuple(sorted({t for t in nominal_thicknesses_mm if t > 0}))
    found: list[Recognised] = []
    for index, ring in enumerate(region.rings):
        if len(ring.vertices) > _MOST_EDGES:
            continue
        runs = runs_of(ring)
        if index:
            hole = _hole(ring, index)
            slot = hole or _slot(runs, ring, index, nominals)
            if slot:
                found.append(slot)
                continue
        combs = _combs(sharpened(runs), index, nominals)
        found += combs
        taken = {edge for comb in combs for edge in _span(comb, len(ring.vertices))}
        notches = _notches(runs, index, nominals, taken, len(ring.vertices))
        found += notches
        if index == 0:
            taken |= {edge for notch in notches for edge in _span(notch, len(ring.vertices))}
            found += _edges([run for run in runs if run.first not in taken])
    found += _axes(region)
    return tuple(found)


def _span(item: Recognised, count: int) -> list[int]:
    """Edge indices a feature covers."""
    if item.last_edge >= item.first_edge:
        return list(range(item.first_edge, item.last_edge + 1))
    return [*range(item.first_edge, count), *range(item.last_edge + 1)]


def _nearest(width: float, nominals: Sequence[float], tolerance: float) -> tuple[float, ...]:
    """Thicknesses within the tolerance, nearest first."""
    near = [t for t in nominals if abs(t - width) <= tolerance + 1e-9]
    return tuple(sorted(near, key=lambda t: (abs(t - width), t)))


# --- holes and slots ------------------------------------------------------------------------


def _hole(ring: Ring, index: int) -> Recognised | None:
    circle = round_ring(ring)
    if circle is None:
        return None
    at, diameter = circle
    return Recognised(FeatureRef("hole", (diameter,), at), index, 0, len(ring.vertices) - 1)


def _slot(
    runs: Sequence[Run], ring: Ring, index: int, nominals: Sequence[float]
) -> Recognised | None:
    """A hole between two parallel walls a nominal thickness apart."""
    straight = sorted((r for r in runs if not r.bulge), key=lambda r: -r.length)[:8]
    for i, a in enumerate(straight):
        for b in straight[i + 1 :]:
            beside = apart(a, b)
            if beside is None:
                continue
            width = abs(beside[0])
            matches = _nearest(width, nominals, NOMINAL_TOL_MM)
            if not matches or min(a.length, b.length) < width * 0.5:
                continue
            ux, uy = a.unit
            across, along = _extent(ring, uy, -ux), _extent(ring, ux, uy)
            # Reliefs may reach over the walls at the ends, the board's waste may not.
            if across[1] - across[0] > width * 1.6 or beside[1] < 0.5 * (along[1] - along[0]):
                continue
            length = along[1] - along[0]
            at = _point(ux, uy, (along[0] + along[1]) / 2, _middle_across(a, b, ux, uy))
            plain = across[1] - across[0] <= width + NOMINAL_TOL_MM
            return Recognised(
                FeatureRef("slot", (width, length), at),
                index,
                0,
                len(ring.vertices) - 1,
                ((a.start, a.end), (b.start, b.end)),
                matches[0],
                matches,
                plain and len(matches) == 1,
            )
    return None


def _extent(ring: Ring, ux: float, uy: float) -> tuple[float, float]:
    """Least and greatest of a ring along a direction, arcs included."""
    flat = ring.flattened()
    along = flat[:, 0] * ux + flat[:, 1] * uy
    return float(along.min()), float(along.max())


def _middle_across(a: Run, b: Run, ux: float, uy: float) -> float:
    """Where the centre line between two walls lies, across the direction (uy, −ux)."""
    sides = [(r.start[0] + r.end[0]) / 2 * uy - (r.start[1] + r.end[1]) / 2 * ux for r in (a, b)]
    return sum(sides) / 2


def _point(ux: float, uy: float, along: float, across: float) -> Point:
    """The point at (along, across) of the frame (u, right of u)."""
    return along * ux + across * uy, along * uy - across * ux


# --- notches --------------------------------------------------------------------------------


def _notches(
    runs: Sequence[Run],
    index: int,
    nominals: Sequence[float],
    taken: set[int],
    edges: int,
) -> list[Recognised]:
    """Gaps in a ring's line between walls a nominal thickness apart."""
    out: list[Recognised] = []
    used: set[int] = set()
    count = len(runs)
    for i, a in enumerate(runs):
        if a.bulge or i in used or a.first in taken:
            continue
        for step in range(2, min(_NOTCH_REACH, count - 1)):
            j = (i + step) % count
            b = runs[j]
            beside = apart(a, b)
            if j in used or b.first in taken or beside is None:
                continue
            width, shared = beside
            matches = _nearest(width, nominals, NOMINAL_TOL_MM)
            # A gap lies to the right of its walls, as the board lies to the left.
            if width <= 0 or not matches or shared < 0.5 * min(a.length, b.length):
                continue
            between = [runs[(i + k) % count] for k in range(1, step)]
            if not _closes_gap(a, b, width, between):
                continue
            depth = min(a.length, b.length)
            (ux, uy) = a.unit
            mouth_a = a.end[0] - ux * depth, a.end[1] - uy * depth
            mouth_b = b.start[0] + b.unit[0] * depth, b.start[1] + b.unit[1] * depth
            at = ((mouth_a[0] + mouth_b[0]) / 2, (mouth_a[1] + mouth_b[1]) / 2)
            plain = len(between) == 1 and not between[0].bulge
            out.append(
                Recognised(
                    FeatureRef("notch", (width, depth), at),
                    index,
                    a.first,
                    b.last,
                    ((a.start, a.end), (b.start, b.end)),
                    matches[0],
                    matches,
                    plain and len(matches) == 1,
                )
            )
            used |= {(i + k) % count for k in range(step + 1)}
            break
    return out


def _closes_gap(a: Run, b: Run, width: float, between: Sequence[Run]) -> bool:
    """True if what joins two walls is the bottom of a gap: near both ends, no deeper than wide."""
    ux, uy = a.unit
    for run in between:
        for x, y in (run.start, run.end):
            along = (x - a.end[0]) * ux + (y - a.end[1]) * uy
            across = (x - a.end[0]) * uy - (y - a.end[1]) * ux
            if not (-0.6 * width <= across <= 1.6 * width and abs(along) <= 0.6 * width):
                return False
    return abs((b.start[0] - a.end[0]) * ux + (b.start[1] - a.end[1]) * uy) <= 0.6 * width


# --- combs ----------------------------------------------------------------------------------


def _combs(runs: Sequence[Run], index: int, nominals: Sequence[float]) -> list[Recognised]:
    """Runs of teeth as deep as a nominal thickness: wall, flat, wall, flat … at right angles."""
    count = len(runs)
    if count < 6:
        return []
    walls = [
        None
        if run.bulge or not run.length
        else _nearest(run.length, nominals, COMB_DEPTH_TOL_MM) or None
        for run in runs
    ]
    out: list[Recognised] = []
    used: set[int] = set()
    # Begin where a comb begins, so that one running over the ring's first vertex stays whole.
    order = sorted(range(count), key=lambda i: _is_wall_pair(runs, walls, (i - 2) % count, i))
    for i in order:
        if i in used or walls[i] is None:
            continue
        members = [i]
        while len(members) < count // 2:
            last = members[-1]
            following = (last + 2) % count
            if following in used or following in members:
                break
            if not _is_wall_pair(runs, walls, last, following):
                break
            members.append(following)
        if len(members) < 3:
            continue
        used.update(members)
        first, last_run = runs[members[0]], runs[members[-1]]
        depth = sum(runs[k].length for k in members) / len(members)
        matches = _nearest(depth, nominals, COMB_DEPTH_TOL_MM)
        if not matches:
            continue
        middles = [
            ((runs[k].start[0] + runs[k].end[0]) / 2, (runs[k].start[1] + runs[k].end[1]) / 2)
            for k in (members[0], members[-1])
        ]
        at = ((middles[0][0] + middles[1][0]) / 2, (middles[0][1] + middles[1][1]) / 2)
        out.append(
            Recognised(
                FeatureRef("comb", (depth, math.dist(*middles), float(len(members))), at),
                index,
                first.first,
                last_run.last,
                tuple((runs[k].start, runs[k].end) for k in members),
                matches[0],
                matches,
                len(matches) == 1
                and abs(matches[0] - depth) <= NOMINAL_TOL_MM
                and not any(runs[k].relieved for k in members),
            )
        )
    return sorted(out, key=lambda item: item.first_edge)


def _is_wall_pair(
    runs: Sequence[Run], walls: Sequence[tuple[float, ...] | None], i: int, j: int
) -> bool:
    """True if runs i and j are neighbouring walls of one comb, a flat square between them."""
    if walls[i] is None or walls[j] is None:
        return False
    a, flat, b = runs[i], runs[(i + 1) % len(runs)], runs[j]
    if flat.bulge or not flat.length or abs(a.length - b.length) > NOMINAL_TOL_MM:
        return False
    (ux, uy), (fx, fy), (vx, vy) = a.unit, flat.unit, b.unit
    square = abs(ux * fx + uy * fy) <= PARALLEL
    return square and ux * vx + uy * vy < -1 + PARALLEL


# --- edges and axes -------------------------------------------------------------------------


def _edges(runs: Sequence[Run]) -> list[Recognised]:
    """Straight edges of the outer ring long enough to guide a saw or a clamp."""
    return [
        Recognised(
            FeatureRef(
                "edge",
                (run.length,),
                ((run.start[0] + run.end[0]) / 2, (run.start[1] + run.end[1]) / 2),
            ),
            0,
            run.first,
            run.last,
            ((run.start, run.end),),
        )
        for run in runs
        if not run.bulge and run.length >= _SHORTEST_EDGE_MM
    ]


def _axes(region: Region) -> list[Recognised]:
    """Lines in which the panel is its own mirror image."""
    shape = region.polygon
    if not shape.is_valid or shape.area <= 0:
        return []
    # Fine chords of curves only slow the comparison down.
    shape = shape.simplify(SYMMETRY_TOL_MM / 4)
    centre = shape.centroid
    cx, cy = centre.x, centre.y
    angles = {0.0, 90.0}
    box = shape.minimum_rotated_rectangle
    if isinstance(box, Polygon) and round_ring(region.outer) is None:
        (x1, y1), (x2, y2) = box.exterior.coords[0], box.exterior.coords[1]
        turn = math.degrees(math.atan2(y2 - y1, x2 - x1))
        angles |= {turn % 180, (turn + 90) % 180, (turn + 45) % 180, (turn + 135) % 180}
    # Every axis of a polygon runs through a corner or the middle of an edge.
    hull = shape.convex_hull.simplify(1.0)
    if isinstance(hull, Polygon) and len(hull.exterior.coords) <= 13:
        corners = list(hull.exterior.coords)[:-1]
        for (x1, y1), (x2, y2) in zip(corners, [*corners[1:], corners[0]], strict=True):
            for x, y in ((x1, y1), ((x1 + x2) / 2, (y1 + y2) / 2)):
                angles.add(math.degrees(math.atan2(y - cy, x - cx)) % 180)
    found: list[float] = []
    for angle in sorted(angles):
        if any(abs(math.remainder(angle - other, 180)) < 0.05 for other in found):
            continue
        if _is_axis(shape, cx, cy, angle):
            found.append(angle)
    reach = max(region.size_mm)
    out = []
    for angle in found:
        ux, uy = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        line = ((cx - ux * reach, cy - uy * reach), (cx + ux * reach, cy + uy * reach))
        out.append(Recognised(FeatureRef("axis", (angle,), (cx, cy)), walls=(line,)))
    return out


def _is_axis(shape: Polygon, cx: float, cy: float, angle_deg: float) -> bool:
    """True if the shape mirrored in the line lies on itself within SYMMETRY_TOL_MM."""
    flipped = affinity.scale(
        affinity.rotate(shape, -angle_deg, origin=(cx, cy)), 1.0, -1.0, origin=(cx, cy)
    )
    mirrored = affinity.rotate(flipped, angle_deg, origin=(cx, cy))
    bounds = zip(shape.bounds, mirrored.bounds, strict=True)
    if any(abs(a - b) > SYMMETRY_TOL_MM for a, b in bounds):
        return False
    differing = shapely.symmetric_difference(shape, mirrored)
    if differing.area > SYMMETRY_TOL_MM * shape.length / 2:
        return False
    # Little area can still be a small feature on one side only.
    return bool(differing.buffer(-SYMMETRY_TOL_MM / 2).is_empty)
