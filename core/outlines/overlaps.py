"""Lines drawn twice on one layer, wholly or in part, reduced to one.

Straight edges that lie on one line and arcs that lie on one circle are cut at each other's ends
into stretches, and every stretch is kept once. What two neighbouring panels share as one edge
stays shared: the loop finder sees a branch there and gives both panels.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely

from core.geometry import Point, arc_of
from core.geometry.path import at_station
from core.outlines.near import near_pairs
from core.outlines.strands import Strand, edge_length
from core.tolerances import CURVE_ARC_MM, OVERLAP_TOL_MM, SAME_SHAPE_MM


@dataclass(frozen=True, slots=True)
class Overlap:
    """Edges of one layer that lay on each other: where, and the doubled length."""

    at: Point
    length_mm: float
    layer: str


def exploded(strands: Sequence[Strand]) -> list[Strand]:
    """Every strand as open single edges; curves stay whole (a closed one is opened)."""
    out: list[Strand] = []
    for strand in strands:
        rows = (*strand.rows, strand.rows[0]) if strand.closed else strand.rows
        if len(rows) == 2:  # a plain line or arc, by far the most common
            if edge_length(strand.start, strand.end, rows[0][2]) > SAME_SHAPE_MM:
                out.append(strand)
            continue
        if strand.curve:
            out.append(replace(strand, rows=rows, closed=False))
            continue
        for first, second in pairwise(rows):
            edge = replace(strand, rows=(first, (second[0], second[1], 0.0)), closed=False)
            if edge_length(edge.start, edge.end, first[2]) > SAME_SHAPE_MM:
                out.append(edge)
    return out


def without_overlaps(edges: Sequence[Strand]) -> tuple[list[Strand], list[Overlap]]:
    """Single edges and open curves with everything that lies on another taken out.

    The order of the edges is kept as far as they are kept.
    """
    lines = [i for i, e in enumerate(edges) if not e.curve and not e.rows[0][2]]
    arcs = [i for i, e in enumerate(edges) if not e.curve and e.rows[0][2]]
    curves = [i for i, e in enumerate(edges) if e.curve]
    told: list[Overlap] = []
    kept: dict[int, list[Strand]] = {i: [edges[i]] for i in range(len(edges))}
    for group in _groups(lines, _line_pairs(edges, lines)):
        _replace_group(edges, group, _line_stretches, kept, told)
    for group in _groups(arcs, _arc_pairs(edges, arcs)):
        _replace_group(edges, group, _arc_stretches, kept, told)
    _drop_same_curves(edges, curves, kept, told)
    return [edge for i in range(len(edges)) for edge in kept[i]], told


def _groups(members: Sequence[int], pairs: Sequence[tuple[int, int]]) -> list[list[int]]:
    """Members joined by pairs, only groups of two and more, in order."""
    parent = {i: i for pair in pairs for i in pair}

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for a, b in pairs:
        ra, rb = root(a), root(b)
        if ra != rb:
            parent[max(ra, rb)] = min(ra, rb)
    grouped: dict[int, list[int]] = defaultdict(list)
    for i in members:
        if i in parent:
            grouped[root(i)].append(i)
    return [grouped[key] for key in sorted(grouped)]


def _replace_group(
    edges: Sequence[Strand],
    group: Sequence[int],
    stretches: Callable[[Sequence[Strand]], tuple[list[Strand], float]],
    kept: dict[int, list[Strand]],
    told: list[Overlap],
) -> None:
    """Put the stretches of a group where its first edge stood."""
    members = [edges[i] for i in group]
    parts, doubled = stretches(members)
    for i in group:
        kept[i] = []
    kept[group[0]] = parts
    middle = members[-1]
    at = ((middle.start[0] + middle.end[0]) / 2, (middle.start[1] + middle.end[1]) / 2)
    told.append(Overlap(at, doubled, middle.layer))


# --- straight edges ------------------------------------------------------------------------


def _line_pairs(edges: Sequence[Strand], lines: Sequence[int]) -> list[tuple[int, int]]:
    """Pairs of straight edges on one line that share a stretch."""
    if len(lines) < 2:
        return []
    ends = np.array([(*edges[i].start, *edges[i].end) for i in lines]).reshape(-1, 2, 2)
    shapes = shapely.linestrings(ends)
    left, right = near_pairs(shapes, within_mm=OVERLAP_TOL_MM)
    along = ends[:, 1] - ends[:, 0]
    lengths = np.hypot(along[:, 0], along[:, 1])
    # Measure against the longer of the two: a short edge's direction is poorly known.
    swap = lengths[right] > lengths[left]
    left, right = np.where(swap, right, left), np.where(swap, left, right)
    unit = along[left] / lengths[left][:, None]
    offsets = ends[right] - ends[left][:, :1]
    across = np.abs(offsets[..., 0] * unit[:, None, 1] - offsets[..., 1] * unit[:, None, 0])
    params = offsets[..., 0] * unit[:, None, 0] + offsets[..., 1] * unit[:, None, 1]
    shared = np.minimum(params.max(axis=1), lengths[left]) - np.maximum(params.min(axis=1), 0.0)
    hit = (across.max(axis=1) <= OVERLAP_TOL_MM) & (shared > 2 * OVERLAP_TOL_MM)
    return [(lines[a], lines[b]) for a, b in zip(left[hit], right[hit], strict=True)]


def _line_stretches(members: Sequence[Strand]) -> tuple[list[Strand], float]:
    """The stretches covered by straight edges on one line, and the length drawn too often."""
    base = max(members, key=lambda e: math.dist(e.start, e.end))
    length = math.dist(base.start, base.end)
    ux, uy = (base.end[0] - base.start[0]) / length, (base.end[1] - base.start[1]) / length

    def param(point: Point) -> float:
        return (point[0] - base.start[0]) * ux + (point[1] - base.start[1]) * uy

    spans = []
    points: list[tuple[float, Point]] = []
    for edge in members:
        a, b = param(edge.start), param(edge.end)
        spans.append((min(a, b), max(a, b)))
        points += [(a, edge.start), (b, edge.end)]
    parts = [
        replace(base, rows=((*first, 0.0), (*second, 0.0)), order=members[0].order)
        for first, second in _covered(points, spans)
    ]
    total = sum(high - low for low, high in spans)
    return parts, total - sum(math.dist(p.start, p.end) for p in parts)


def _covered(
    points: list[tuple[float, Point]], spans: list[tuple[float, float]]
) -> list[tuple[Point, Point]]:
    """Neighbouring points along a carrier between which at least one span lies."""
    points = sorted(points, key=lambda row: row[0])
    stops: list[tuple[float, Point]] = []
    for at, point in points:
        if not stops or at - stops[-1][0] > OVERLAP_TOL_MM:
            stops.append((at, point))
    out = []
    for (a, first), (b, second) in pairwise(stops):
        middle = (a + b) / 2
        if any(low <= middle <= high for low, high in spans):
            out.append((first, second))
    return out


# --- arcs ----------------------------------------------------------------------------------


def _arc_pairs(edges: Sequence[Strand], arcs: Sequence[int]) -> list[tuple[int, int]]:
    """Pairs of arcs on one circle that share a stretch."""
    if len(arcs) < 2:
        return []
    circles = np.empty((len(arcs), 5))
    tops = np.empty((len(arcs), 2))
    for row, i in enumerate(arcs):
        (cx, cy), radius, start, sweep = arc_of(edges[i].start, edges[i].end, edges[i].rows[0][2])
        circles[row] = (cx, cy, radius, *((start, sweep) if sweep > 0 else (start + sweep, -sweep)))
        tops[row] = _arc_top(edges[i])
    centres = shapely.points(circles[:, :2])
    left, right = near_pairs(centres, within_mm=OVERLAP_TOL_MM)
    same = np.abs(circles[left, 2] - circles[right, 2]) <= OVERLAP_TOL_MM
    left, right = left[same], right[same]
    # Where the later arc begins, counted from the earlier one's start, 0…2π.
    lag = np.mod(circles[right, 3] - circles[left, 3], math.tau)
    least = 2 * OVERLAP_TOL_MM / circles[left, 2]
    shared = np.maximum(
        np.minimum(lag + circles[right, 4], circles[left, 4]) - lag,
        np.minimum(lag + circles[right, 4] - math.tau, circles[left, 4]),
    )
    hit = shared > least
    found = {(arcs[a], arcs[b]) for a, b in zip(left[hit], right[hit], strict=True)}
    # A shallow arc's centre is poorly known; the same arc drawn twice shows by its points.
    for a, b in zip(*near_pairs(shapely.points(tops), within_mm=OVERLAP_TOL_MM), strict=True):
        ends = sorted((edges[arcs[a]].start, edges[arcs[a]].end))
        others = sorted((edges[arcs[b]].start, edges[arcs[b]].end))
        if all(math.dist(p, q) <= OVERLAP_TOL_MM for p, q in zip(ends, others, strict=True)):
            found.add((arcs[a], arcs[b]))
    return sorted(found)


def _arc_top(edge: Strand) -> Point:
    """The point half way along an arc edge."""
    (x1, y1), (x2, y2), bulge = edge.start, edge.end, edge.rows[0][2]
    # The sagitta is |bulge| · chord / 2, to the right of travel when bulge is positive.
    return (x1 + x2 + bulge * (y2 - y1)) / 2, (y1 + y2 - bulge * (x2 - x1)) / 2


def _arc_stretches(members: Sequence[Strand]) -> tuple[list[Strand], float]:
    """The stretches covered by arcs on one circle, and the length drawn too often."""
    lengths = [edge_length(e.start, e.end, e.rows[0][2]) for e in members]
    base = members[lengths.index(max(lengths))]
    (cx, cy), radius, _, _ = arc_of(base.start, base.end, base.rows[0][2])
    spans: list[tuple[float, float]] = []  # start angle and counter-clockwise sweep
    marks: list[tuple[float, Point]] = []
    for edge in members:
        bulge = edge.rows[0][2]
        low, high = (edge.start, edge.end) if bulge > 0 else (edge.end, edge.start)
        marks += [(math.atan2(p[1] - cy, p[0] - cx), p) for p in (low, high)]
        spans.append((marks[-2][0], 4 * math.atan(abs(bulge))))
    marks.sort(key=lambda row: row[0])
    near = OVERLAP_TOL_MM / radius
    stops = [marks[0]]
    for mark in marks[1:]:
        if mark[0] - stops[-1][0] > near and stops[0][0] + math.tau - mark[0] > near:
            stops.append(mark)
    parts: list[Strand] = []
    for (a, start), (b, end) in zip(stops, [*stops[1:], stops[0]], strict=True):
        sweep = (b - a) % math.tau
        middle = a + sweep / 2
        if any((middle - low) % math.tau <= turn for low, turn in spans):
            rows = ((*start, math.tan(sweep / 4)), (*end, 0.0))
            parts.append(replace(base, rows=rows, order=members[0].order))
    left = sum(edge_length(p.start, p.end, p.rows[0][2]) for p in parts)
    return parts, max(sum(lengths) - left, 0.0)


# --- curves --------------------------------------------------------------------------------


def _drop_same_curves(
    edges: Sequence[Strand],
    curves: Sequence[int],
    kept: dict[int, list[Strand]],
    told: list[Overlap],
) -> None:
    """Curves drawn twice: equal ends, middles and lengths, run either way."""
    seen: dict[tuple[int, int], list[int]] = defaultdict(list)
    middles = {i: _middle(edges[i]) for i in curves}
    for i in curves:
        edge = edges[i]
        low, high = sorted((edge.start, edge.end))
        cell = round((low[0] + high[0]) / 2), round((low[1] + high[1]) / 2)
        near = (
            k for dx in (-1, 0, 1) for dy in (-1, 0, 1) for k in seen[cell[0] + dx, cell[1] + dy]
        )
        for k in near:
            other = edges[k]
            ends = sorted((other.start, other.end))
            if (
                math.dist(ends[0], low) <= OVERLAP_TOL_MM
                and math.dist(ends[1], high) <= OVERLAP_TOL_MM
                and math.dist(middles[k], middles[i]) <= 2 * CURVE_ARC_MM
                and abs(other.length() - edge.length()) <= 2 * CURVE_ARC_MM
            ):
                kept[i] = []
                told.append(Overlap(middles[i], edge.length(), edge.layer))
                break
        else:
            seen[cell].append(i)


def _middle(curve: Strand) -> Point:
    """The point half way along an open curve, the same from either end."""
    return at_station(curve.rows, curve.length() / 2)[0]
