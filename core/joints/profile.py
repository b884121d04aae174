"""One joint length: the seam between two mates, and what each mate keeps of it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from core.errors import InvalidGeometryError
from core.geometry.path import (
    Path,
    at_station,
    edge_fraction,
    edge_length,
    edge_point,
    edges_of,
    merged_bulge,
    mirrored_path,
    moved_path,
    path_length,
    reversed_path,
    round_corners,
    shift_edges,
    sub_path,
)
from core.geometry.ring import Point, Vertex, arc_of, arc_steps
from core.joints.relief import Corner, corner_at, relief_needed, relieve_path
from core.joints.style import Tooth
from core.project.model import ReliefKind
from core.project.refit import ReliefSide
from core.tolerances import FLATTEN_SAGITTA_MM, SAME_CIRCLE_MM, SAME_POINT_MM

_STUB_MM = 1.0  # of an arc at its end that the fit may change; its sagitta is negligible


@dataclass(frozen=True, slots=True)
class ToothPlace:
    """Where a tooth stands: station of its base's start; over: it points to the right."""

    station_mm: float
    over: bool = False


@dataclass(frozen=True)
class JointProfile:
    """A joint length drawn out.

    middle: the line between the mates. left, right: the edges the two mates keep, with fit,
    still without relief. left_cut, right_cut: with relief. All walk the same way.
    corners: relieved corners, as points. teeth: number of teeth.
    """

    middle: Path
    left: Path
    right: Path
    left_cut: Path
    right_cut: Path
    corners: tuple[Point, ...] = ()
    teeth: int = 0

    @property
    def length_mm(self) -> float:
        """Contact length, mm."""
        return path_length(self.middle)


def tooth_frame(base: Path, station_mm: float, base_mm: float) -> tuple[Point, Point, float]:
    """(origin, unit direction, station where it ends) of a tooth on a base line.

    On an arc the tooth stands on the chord of length base_mm.
    """
    start, direction = at_station(base, station_mm)
    end, end_direction = at_station(base, station_mm + base_mm)
    chord = ((end[0] - start[0]), (end[1] - start[1]))
    reach = (chord[0] ** 2 + chord[1] ** 2) ** 0.5
    straight = abs(direction[0] * end_direction[1] - direction[1] * end_direction[0]) < 1e-12
    if straight:
        return start, direction, station_mm + base_mm
    # Secant steps: the chord is a little shorter than the stretch of arc it spans.
    stretch = base_mm
    for _ in range(30):
        if abs(reach - base_mm) < 1e-12:
            break
        stretch *= base_mm / reach
        end, _ = at_station(base, station_mm + stretch)
        chord = ((end[0] - start[0]), (end[1] - start[1]))
        reach = (chord[0] ** 2 + chord[1] ** 2) ** 0.5
    return start, (chord[0] / reach, chord[1] / reach), station_mm + stretch


@dataclass
class _Rows:
    vertices: list[Vertex]
    left: list[float]
    right: list[float]
    radii: list[float]
    base: list[bool]


def _lay_out(
    base: Path, start_mm: float, end_mm: float, tooth: Tooth | None, places: Sequence[ToothPlace]
) -> _Rows:
    """Base line and teeth as one path, with retreat per edge and rounding per vertex."""
    shift = 0.0 if tooth is None else tooth.base_shift
    rows = _Rows([], [], [], [], [])

    def add(
        path: Path,
        left: Sequence[float],
        right: Sequence[float],
        radii: Sequence[float],
        *,
        is_base: bool,
    ) -> None:
        if rows.vertices:
            last = rows.vertices.pop()
            radius = max(rows.radii.pop(), radii[0])
            rows.vertices.append((last[0], last[1], path[0][2]))
            rows.radii.append(radius)
            rows.vertices.extend(path[1:])
            rows.radii.extend(radii[1:])
        else:
            rows.vertices.extend(path)
            rows.radii.extend(radii)
        rows.left.extend(left)
        rows.right.extend(right)
        rows.base.extend([is_base] * len(left))

    def add_base(low: float, high: float) -> None:
        if high - low < 1e-9:
            return
        part = sub_path(base, low, high)
        edges = len(part) - 1
        add(part, [shift] * edges, [shift] * edges, [0.0] * len(part), is_base=True)

    at = start_mm
    for place in sorted(places, key=lambda p: p.station_mm):
        assert tooth is not None
        origin, direction, after = tooth_frame(base, place.station_mm, tooth.base_mm)
        if place.station_mm < at - 1e-6 or after > end_mm + 1e-6:
            raise InvalidGeometryError(
                "Teeth overlap along a seam", f"at {place.station_mm:.1f} mm"
            )
        add_base(at, place.station_mm)
        path, left, right = tooth.path, tooth.left_shift, tooth.right_shift
        if place.over:
            path, left, right = mirrored_path(path), right, left
        add(moved_path(path, origin, direction), left, right, tooth.radii_mm, is_base=False)
        at = after
    add_base(at, end_mm)
    return rows


def build_profile(
    base: Path,
    start_mm: float,
    end_mm: float,
    tooth: Tooth | None,
    places: Sequence[ToothPlace],
    *,
    gap_mm: float,
    radius_mm: float,
    relief: ReliefKind,
    relief_side: ReliefSide = ReliefSide.ENDS,
    allowance_mm: float = 0.0,
) -> JointProfile:
    """Draw one joint length of a seam.

    base: the seam line; start_mm to end_mm: the stretch with board on both sides. gap_mm: gap
    at a flank (half the fit). radius_mm: of the bit. relief_side: what T-bones cut into.
    Raises InvalidGeometryError if a tooth, a rounding or a relief does not fit.
    """
    rows = _merged(_lay_out(base, start_mm, end_mm, tooth, places))
    if not any(rows.radii):
        rows = _stubbed(rows)
    sharp = tuple(rows.vertices)
    left = shift_edges(sharp, [gap_mm * k for k in rows.left])
    right = shift_edges(sharp, [-gap_mm * k for k in rows.right])
    if any(rows.radii) and len({*rows.left, *rows.right}) == 1:
        # The same gap everywhere: mates follow the rounded line itself, on circles about the
        # same centres, so that the gap holds round the corners too.
        middle = round_corners(sharp, rows.radii)
        edges = len(middle) - 1
        left = shift_edges(middle, [gap_mm * rows.left[0]] * edges)
        right = shift_edges(middle, [-gap_mm * rows.right[0]] * edges)
        left, right, _ = _alike(left, right)
        return JointProfile(middle, left, right, left, right, (), len(places))
    if any(rows.radii):
        middle, left, right = (round_corners(p, rows.radii) for p in (sharp, left, right))
        left, right, _ = _alike(left, right)
        return JointProfile(middle, left, right, *_shared_arcs(left, right), (), len(places))
    left, right, sources = _alike(left, right)
    flanks = [rows.left[edge] == rows.right[edge] != 0.0 for edge in sources]
    if relief is ReliefKind.SMALLEST and tooth is not None and tooth.base_shift:
        # With a gap all round nothing stops a mate's corner short of the very corner.
        relief = ReliefKind.DOG_BONE
    # Only corners of teeth are relieved; bends of the line itself are rounded by the line.
    left_cut, spots = _relieved(left, right, flanks, radius_mm, relief, relief_side, allowance_mm)
    back, more = _relieved(
        reversed_path(right),
        reversed_path(left),
        flanks,
        radius_mm,
        relief,
        relief_side,
        allowance_mm,
        turned=True,
    )
    left_cut, right_cut = _shared_arcs(left_cut, reversed_path(back))
    return JointProfile(sharp, left, right, left_cut, right_cut, tuple(spots + more), len(places))


def _merged(rows: _Rows) -> _Rows:
    """Neighbouring edges on one line or circle that retreat alike become one edge."""
    at = 1
    while at < len(rows.vertices) - 1:
        a, b, c = rows.vertices[at - 1 : at + 2]
        same = rows.left[at - 1] == rows.left[at] and rows.right[at - 1] == rows.right[at]
        bulge = merged_bulge(a, b, c) if same and not rows.radii[at] else None
        if bulge is None:
            at += 1
            continue
        rows.vertices[at - 1] = (a[0], a[1], bulge)
        for column in (rows.vertices, rows.radii, rows.left, rows.right, rows.base):
            del column[at]
    return rows


def _stubbed(rows: _Rows) -> _Rows:
    """Arcs of the seam line itself divided a little before their ends.

    The fit and the outline change only the ends of such an arc; the long part between stays
    the same on both mates and flattens alike.
    """
    new = _Rows([], [], [], [], [])
    edges = edges_of(rows.vertices)
    for index, edge in enumerate(edges):
        length = edge_length(*edge)
        cuts = [0.0]
        if edge[2] and rows.base[index] and length > 4 * _STUB_MM:
            cuts += [_STUB_MM / length, 1.0 - _STUB_MM / length]
        for k, at in enumerate(cuts):
            after = cuts[k + 1] if k + 1 < len(cuts) else 1.0
            point = edge_point(*edge, at) if at else edge[0]
            bulge = math.tan(math.atan(edge[2]) * (after - at)) if edge[2] else 0.0
            new.vertices.append((*point, bulge))
            new.radii.append(rows.radii[index] if k == 0 else 0.0)
            new.left.append(rows.left[index])
            new.right.append(rows.right[index])
            new.base.append(rows.base[index])
    new.vertices.append(rows.vertices[-1])
    new.radii.append(rows.radii[-1])
    return new


def _alike(left: Path, right: Path) -> tuple[Path, Path, list[int]]:
    """Both edges with their arcs divided so that they flatten into as many chords.

    The list says which edge each of the divided ones came from. Undivided, the flattened gap
    would vary by the sagitta, which is more than a gap may.
    """
    one: list[Vertex] = []
    two: list[Vertex] = []
    sources: list[int] = []
    pairs = zip(edges_of(left), edges_of(right), strict=True)
    for source, ((a, b, bulge), (c, d, mate)) in enumerate(pairs):
        parts = 1
        if bulge and mate:
            (_, r1, _, s1), (_, r2, _, s2) = arc_of(a, b, bulge), arc_of(c, d, mate)
            parts = next(
                k
                for k in range(1, 1000)
                if arc_steps(r1, s1 / k, FLATTEN_SAGITTA_MM)
                == arc_steps(r2, s2 / k, FLATTEN_SAGITTA_MM)
            )
        for rows, edge in ((one, (a, b, bulge)), (two, (c, d, mate))):
            part = math.tan(math.atan(edge[2]) / parts) if parts > 1 else edge[2]
            rows.append((*edge[0], part))
            rows.extend((*edge_point(*edge, k / parts), part) for k in range(1, parts))
        sources += [source] * parts
    return (*one, left[-1]), (*two, right[-1]), sources


def _shared_arcs(one: Path, two: Path) -> tuple[Path, Path]:
    """Both cuts with arcs of one circle divided where an arc of the other one ends.

    Where mates meet without a gap, reliefs and the fit end their arcs at different places;
    undivided, the same stretch would flatten differently and the mates overlap by a film.
    """
    circles = [[_circle(edge) for edge in edges_of(path)] for path in (one, two)]
    shared = {c for c in circles[0] if c is not None} & {c for c in circles[1] if c is not None}
    if not shared:
        return one, two
    return _divided(one, circles[0], two, circles[1]), _divided(two, circles[1], one, circles[0])


def _circle(edge: tuple[Point, Point, float]) -> tuple[int, int, int] | None:
    """The circle an arc lies on, to SAME_CIRCLE_MM; None for a straight edge.

    The centre of a very flat arc is known less well. Taking two circles for one does no harm:
    their arcs are divided needlessly.
    """
    if edge[2] == 0.0:
        return None
    (x, y), radius, _, _ = arc_of(*edge)
    step = SAME_CIRCLE_MM * max(1.0, (radius / 1000.0) ** 2)
    return tuple(round(v / step) for v in (x, y, radius))  # type: ignore[return-value]


def _divided(
    path: Path,
    circles: Sequence[tuple[int, int, int] | None],
    other: Path,
    others: Sequence[tuple[int, int, int] | None],
) -> Path:
    ends: dict[tuple[int, int, int], list[Point]] = {}
    for (start, end, _), circle in zip(edges_of(other), others, strict=True):
        if circle is not None:
            ends.setdefault(circle, []).extend((start, end))
    rows: list[Vertex] = []
    for edge, circle in zip(edges_of(path), circles, strict=True):
        inside: list[float] = []
        if circle is not None and circle in ends:
            room = 10 * SAME_POINT_MM / edge_length(*edge)
            for at in sorted(edge_fraction(*edge, point) for point in ends[circle]):
                if (inside[-1] if inside else 0.0) + room < at < 1.0 - room:
                    inside.append(at)
        for low, high in itertools.pairwise((0.0, *inside, 1.0)):
            point = edge_point(*edge, low) if low else edge[0]
            rows.append((*point, math.tan(math.atan(edge[2]) * (high - low))))
    rows.append(path[-1])
    return tuple(rows)


def _relieved(
    path: Path,
    mate: Path,
    flanks: Sequence[bool],
    radius_mm: float,
    kind: ReliefKind,
    side: ReliefSide,
    allowance_mm: float,
    *,
    turned: bool = False,
) -> tuple[Path, list[Point]]:
    corners: dict[int, Corner] = {}
    keep: dict[int, bool] = {}
    last = len(path) - 1
    for index in range(1, last):
        corner = corner_at(path, index, (mate[index][0], mate[index][1]))
        if corner is None or not relief_needed(corner, radius_mm):
            continue
        corners[index] = corner
        # A T-bone usually leaves flanks whole, which carry the fit, and cuts into shoulders
        # and tips.
        edge = last - index if turned else index - 1
        step = -1 if turned else 1
        into, out = edge, edge + step
        flank_whole = flanks[into] or not flanks[out]
        keep[index] = flank_whole if side is ReliefSide.ENDS else not flank_whole
    if kind is ReliefKind.NONE or not corners:
        return path, []
    cut = relieve_path(path, corners, radius_mm, kind, keep_in=keep, allowance_mm=allowance_mm)
    return cut, [c.at for c in corners.values()]
