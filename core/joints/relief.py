"""Relief: opening an inside corner so that a mate's square corner seats.

A round bit of radius r leaves a corner of waste angle a uncut: tangent to both sides its
centre stays r / sin(a/2) from the corner. A relief lets it go on. Overcut beyond the sides:
on the bisector through the corner r(1 − sin(a/2)), 0.293 r at 90°; along one side 0 in that
side and r(1 + cos a) in the other (plane trigonometry).

All functions take the material on the left of the path, so an inside corner turns right.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from core.errors import InvalidGeometryError
from core.geometry.path import (
    Carrier,
    Path,
    bulge_on,
    carrier_hits,
    carrier_of,
    clean_path,
    edge_direction,
    edge_fraction,
    edge_length,
    edge_point,
    edges_of,
)
from core.geometry.ring import Point, Ring, Vertex
from core.project.model import ReliefKind
from core.tolerances import COLLISION_MM

MIN_TURN_RAD = math.radians(6.0)  # a flatter corner is left as it is


@dataclass(frozen=True, slots=True)
class Corner:
    """An inside corner: where, the unit directions of travel in and out, the mate's corner."""

    at: Point
    into: Point
    out: Point
    mate: Point

    @property
    def waste_angle_rad(self) -> float:
        """Angle of the waste between the two sides."""
        cross = self.into[0] * self.out[1] - self.into[1] * self.out[0]
        dot = self.into[0] * self.out[0] + self.into[1] * self.out[1]
        return math.pi - abs(math.atan2(cross, dot))

    @property
    def bisector(self) -> Point:
        """Unit vector from the corner into the waste."""
        x, y = self.out[0] - self.into[0], self.out[1] - self.into[1]
        length = math.hypot(x, y)
        return x / length, y / length


def overcut_mm(radius_mm: float, waste_angle_rad: float) -> float:
    """How far a dog-bone cuts beyond each side: r(1 − sin(a/2))."""
    return radius_mm * (1.0 - math.sin(waste_angle_rad / 2.0))


def corner_at(path: Path, index: int, mate: Point) -> Corner | None:
    """The corner of a path at a vertex if it turns right by more than 6°, else None."""
    if index <= 0 or index >= len(path) - 1:
        return None
    edges = edges_of((path[index - 1], path[index], path[index + 1]))
    into, out = edge_direction(*edges[0], 1.0), edge_direction(*edges[1], 0.0)
    turn = math.atan2(into[0] * out[1] - into[1] * out[0], into[0] * out[0] + into[1] * out[1])
    if turn > -MIN_TURN_RAD:
        return None
    return Corner((path[index][0], path[index][1]), into, out, mate)


def relief_needed(corner: Corner, radius_mm: float) -> bool:
    """True if the mate's corner, anywhere within its play, enters what the bit would leave.

    The mate may lie against either side, so standing clear of what is left while it is centred
    is not enough: a loose joint would then have less play than a tight one whose corners are
    opened.
    """
    half = corner.waste_angle_rad / 2
    ux, uy = corner.bisector
    kx, ky = corner.mate[0] - corner.at[0], corner.mate[1] - corner.at[1]
    # What stays ends where the bit touches the sides; a mate past that is clear of it.
    touches = radius_mm / math.tan(half) - 1e-9
    if any(along >= touches for along in _along_sides(corner)):
        return False
    reach = radius_mm / math.sin(half)
    if reach - radius_mm > COLLISION_MM:
        return True
    # A film too thin to feel is in the way only of a mate that stands in it.
    return math.hypot(kx - ux * reach, ky - uy * reach) > radius_mm + 1e-9


def _along_sides(corner: Corner) -> tuple[float, float]:
    """How far from the corner the mate's corner stands along the side into it and out of it."""
    kx, ky = corner.mate[0] - corner.at[0], corner.mate[1] - corner.at[1]
    (ix, iy), (ox, oy) = corner.into, corner.out
    return -(kx * ix + ky * iy), kx * ox + ky * oy


def _off_sides(corner: Corner) -> tuple[float, float]:
    """How far into the waste the mate's corner stands from the side into it and out of it."""
    kx, ky = corner.mate[0] - corner.at[0], corner.mate[1] - corner.at[1]
    (ix, iy), (ox, oy) = corner.into, corner.out
    return kx * iy - ky * ix, kx * oy - ky * ox


def disc_centre(
    corner: Corner,
    radius_mm: float,
    kind: ReliefKind,
    *,
    keep_in: bool = True,
    allowance_mm: float = 0.0,
) -> Point:
    """Centre of the relieving disc. keep_in: a T-bone leaves the incoming side untouched."""
    (kx, ky), (ux, uy) = corner.at, corner.bisector
    near = radius_mm - allowance_mm
    if kind is ReliefKind.T_BONE:
        dx, dy = corner.into if keep_in else corner.out
        # The waste lies to the right of travel.
        return kx + dy * near, ky - dx * near
    if kind is ReliefKind.SMALLEST:
        # Only as far as the mate's corner gets when it slides along one side up to the other.
        half = corner.waste_angle_rad / 2
        short = min(_off_sides(corner)) / math.sin(2 * half)
        if short > 0.0:
            along, away = short * math.cos(half), short * math.sin(half)
            near = max(near, along + math.sqrt(max(0.0, near * near - away * away)))
    return kx + ux * near, ky + uy * near


@dataclass(frozen=True, slots=True)
class _Side:
    """Edges leaving a corner one way, nearest first, as (path edge index, edge)."""

    edges: tuple[tuple[int, tuple[Point, Point, float]], ...]

    @property
    def first(self) -> tuple[Point, Point, float]:
        return self.edges[0][1]

    def meet(self, cutting: Carrier, guess: Point, corner: Point) -> tuple[Point, int]:
        """Where the cut leaves this side, and on which path edge."""
        reach = math.dist(guess, corner)
        gone = 0.0
        best: tuple[float, Point, int] | None = None
        for index, edge in self.edges:
            for hit in carrier_hits(carrier_of(*edge), cutting):
                # The cut may pass through the corner itself: that is not where it leaves.
                if not -1e-9 <= edge_fraction(*edge, hit) <= 1.0 + 1e-9:
                    continue
                if reach > 1e-6 and math.dist(hit, corner) < 0.3 * reach:
                    continue
                away = math.dist(hit, guess)
                if best is None or away < best[0]:
                    best = (away, hit, index)
            gone += edge_length(*edge)
            if gone > 1.5 * reach + 1e-6:
                break
        if best is None:
            raise InvalidGeometryError(
                "There is no room for a relief",
                f"({corner[0]:.1f}, {corner[1]:.1f})",
                "Take a thinner bit, wider teeth or rounded corners.",
            )
        return best[1], best[2]


def _relief_rows(
    corner: Corner,
    before: _Side,
    after: _Side,
    radius_mm: float,
    kind: ReliefKind,
    *,
    keep_in: bool,
    allowance_mm: float,
) -> tuple[list[Vertex], int, int]:
    """Vertices that replace the corner, and the path edges their ends lie on."""
    (kx, ky), (ux, uy) = corner.at, corner.bisector
    half = corner.waste_angle_rad / 2
    r = radius_mm
    centre = disc_centre(corner, r, kind, keep_in=keep_in, allowance_mm=allowance_mm)
    disc = Carrier(*centre, radius=r, ccw=False)
    back, ahead = (-corner.into[0], -corner.into[1]), corner.out
    tangent = r / math.tan(half)

    def reach(side: Point) -> float:
        px, py = centre[0] - kx, centre[1] - ky
        along = px * side[0] + py * side[1]
        away = px * side[1] - py * side[0]
        return along + math.sqrt(max(0.0, r * r - away * away))

    def spot(side: Point, far: float) -> Point:
        return kx + side[0] * far, ky + side[1] * far

    first, last = before.edges[0][0], after.edges[0][0]
    if kind is ReliefKind.T_BONE:
        kept, other = (back, ahead) if keep_in else (ahead, back)
        kept_side, other_side = (before, after) if keep_in else (after, before)
        # Where the relief starts on the kept side: at the corner, or with an allowance where
        # the disc, standing that much nearer, cuts the side.
        start, start_edge = corner.at, first if keep_in else last
        narrow = half < math.pi / 4 - 1e-9
        if narrow:
            # Run along the kept side until both sides are touched.
            normal = (centre[0] - kx, centre[1] - ky)
            length = math.hypot(*normal)
            nx, ny = normal[0] / length, normal[1] / length
            top = (centre[0] + nx * r, centre[1] + ny * r)
            low = (centre[0] - nx * r, centre[1] - ny * r)
            guess = spot(other, (2 * r - allowance_mm) / math.sin(2 * half))
            crossing, other_edge = other_side.meet(
                Carrier(*top, kept[0], kept[1]), guess, corner.at
            )
            turn = Carrier(*centre, radius=r, ccw=not keep_in)
            rows: list[Vertex] = [(*low, bulge_on(turn, low, top)), (*top, 0.0), (*crossing, 0.0)]
            if allowance_mm:
                # The slot's near side lies just beyond the kept side; step back over to it.
                out = (low[0] + kept[0] * tangent, low[1] + kept[1] * tangent)
                foot, start_edge = kept_side.meet(
                    Carrier(*out, nx, ny), spot(kept, tangent), corner.at
                )
                rows = [(*foot, 0.0), (*out, 0.0), *rows]
            if keep_in:
                return rows, start_edge, other_edge
            turned = clean_path(rows)
            turned = tuple(
                (turned[i][0], turned[i][1], -turned[i - 1][2] if i else 0.0)
                for i in range(len(turned) - 1, -1, -1)
            )
            return list(turned), other_edge, start_edge
        crossing, other_edge = other_side.meet(disc, spot(other, reach(other)), corner.at)
        if allowance_mm:
            start, start_edge = kept_side.meet(disc, spot(kept, reach(kept)), corner.at)
        if keep_in:
            bulge = bulge_on(disc, start, crossing)
            return [(*start, bulge), (*crossing, 0.0)], start_edge, other_edge
        return [(*crossing, bulge_on(disc, crossing, start)), (*start, 0.0)], other_edge, start_edge
    along = math.hypot(centre[0] - kx, centre[1] - ky)
    if reach(back) * math.cos(half) <= along + 1e-9:
        start, first = before.meet(disc, spot(back, reach(back)), corner.at)
        end, last = after.meet(disc, spot(ahead, reach(ahead)), corner.at)
        return [(*start, bulge_on(disc, start, end)), (*end, 0.0)], first, last
    # Sharper than square, the disc's mouth is narrower than the bit: it runs in along the
    # bisector and widens the mouth to its own width.
    flanks: list[tuple[Point, Point, int]] = []
    for side, edges in ((back, before), (ahead, after)):
        cross = ux * side[1] - uy * side[0]
        px, py = (-uy, ux) if cross > 0 else (uy, -ux)
        flank = (centre[0] + px * r, centre[1] + py * r)
        guess = spot(side, r / math.sin(half))
        hit, edge = edges.meet(Carrier(*flank, ux, uy), guess, corner.at)
        flanks.append((flank, hit, edge))
    (f1, s1, first), (f2, s2, last) = flanks
    rows = [(*s1, 0.0), (*f1, bulge_on(disc, f1, f2)), (*f2, 0.0), (*s2, 0.0)]
    return rows, first, last


def relieve_path(
    path: Path,
    corners: Mapping[int, Corner],
    radius_mm: float,
    kind: ReliefKind,
    *,
    keep_in: Mapping[int, bool] | None = None,
    allowance_mm: float = 0.0,
) -> Path:
    """The path, material on its left, with the given vertices relieved.

    allowance_mm: how much smaller the bit's radius really is; the disc then goes that much
    further. Neighbouring reliefs must leave each other room; raises InvalidGeometryError if
    they do not.
    """
    if kind is ReliefKind.NONE or not corners:
        return path
    edges = edges_of(path)
    rows: list[Vertex] = [path[0]]
    at_edge, at_point = 0, path[0][:2]
    for index in sorted(corners):
        if index <= at_edge:
            raise _no_room(path[index])
        before = _Side(tuple((k, edges[k]) for k in range(index - 1, at_edge - 1, -1)))
        after = _Side(tuple((k, edges[k]) for k in range(index, len(edges))))
        new, first, last = _relief_rows(
            corners[index],
            before,
            after,
            radius_mm,
            kind,
            keep_in=True if keep_in is None else keep_in.get(index, True),
            allowance_mm=allowance_mm,
        )
        _run(rows, edges, at_edge, at_point, first, new[0][:2])
        rows.pop()
        rows.extend(new)
        at_edge, at_point = last, new[-1][:2]
    _run(rows, edges, at_edge, at_point, len(edges) - 1, path[-1][:2])
    return clean_path(rows)


def _no_room(vertex: Vertex) -> InvalidGeometryError:
    return InvalidGeometryError(
        "Two reliefs run into each other",
        f"({vertex[0]:.1f}, {vertex[1]:.1f})",
        "Take a thinner bit, wider teeth or rounded corners.",
    )


def _run(
    rows: list[Vertex],
    edges: list[tuple[Point, Point, float]],
    from_edge: int,
    from_point: Point,
    to_edge: int,
    to_point: Point,
) -> None:
    """Append the path from a point on one edge to a point on a later one."""
    x, y, _ = rows.pop()
    here = from_point
    for index in range(from_edge, to_edge + 1):
        start, end, bulge = edges[index]
        there = to_point if index == to_edge else end
        f0 = edge_fraction(start, end, bulge, here) if index == from_edge else 0.0
        f1 = edge_fraction(start, end, bulge, there) if index == to_edge else 1.0
        if f1 < f0 - 1e-9:
            raise _no_room((x, y, 0.0))
        part = bulge
        if bulge and (f0 > 1e-12 or f1 < 1.0 - 1e-12):
            part = math.tan(math.atan(bulge) * (f1 - f0))
        rows.append((here[0], here[1], part))
        here = there
    rows.append((to_point[0], to_point[1], 0.0))


def relieve_ring(
    ring: Ring,
    indices: Mapping[int, Point],
    radius_mm: float,
    kind: ReliefKind,
    *,
    keep_in: Mapping[int, bool] | None = None,
    allowance_mm: float = 0.0,
) -> Ring:
    """A ring, material on its left, with the inside corners at indices relieved.

    indices: vertex → the mate's corner there. Vertices that turn left, or by less than 6°, or
    that the mate's corner does not enter are left alone. Raises InvalidGeometryError if an
    edge is too short.
    """
    if not indices or kind is ReliefKind.NONE:
        return ring
    rows = ring.vertices
    count = len(rows)
    # Opened at a vertex that keeps its corner; if there is none, in the middle of an edge.
    opening = next((i for i in range(count) if i not in indices), None)
    if opening is None:
        start, end, bulge = next(iter(ring.edges()))
        half = math.tan(math.atan(bulge) / 2) if bulge else 0.0
        middle = edge_point(start, end, bulge, 0.5)
        ring = Ring(((*rows[0][:2], half), (*middle, half), *rows[1:]))
        shifted = {(i if i == 0 else i + 1): m for i, m in indices.items()}
        keep = (
            None if keep_in is None else {(i if i == 0 else i + 1): k for i, k in keep_in.items()}
        )
        return relieve_ring(ring, shifted, radius_mm, kind, keep_in=keep, allowance_mm=allowance_mm)
    path: Path = (
        *tuple(rows[(opening + k) % count] for k in range(count)),
        (rows[opening][0], rows[opening][1], 0.0),
    )
    corners: dict[int, Corner] = {}
    keep_new: dict[int, bool] = {}
    for index, mate in indices.items():
        place = (index - opening) % count
        corner = corner_at(path, place, mate)
        if corner is not None and relief_needed(corner, radius_mm):
            corners[place] = corner
            if keep_in is not None and index in keep_in:
                keep_new[place] = keep_in[index]
    return Ring.of(
        relieve_path(path, corners, radius_mm, kind, keep_in=keep_new, allowance_mm=allowance_mm)
    )
