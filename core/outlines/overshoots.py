"""Lines that run past the corner they were meant to end in, or stop just short of another line.

A loose end is looked at together with the lines near it. Where its line crosses another one at
most OVERSHOOT_MM before the end, the rest is a scrap and is trimmed; where it ends on another
line, or would meet it within the gap that is closed, it is taken to that line. The line it meets
is cut in two there, so that the loop finder sees a corner. Nothing is changed that makes no
outline: whoever calls compares the loops with and without.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely

from core.geometry import Point, Vertex
from core.geometry.path import (
    bulge_on,
    carrier_hits,
    carrier_of,
    edge_fraction,
    edges_of,
    flatten_path,
    sub_path,
)
from core.outlines.strands import Strand, edge_length
from core.tolerances import GAP_SILENT_MM, OVERSHOOT_MM, SAME_SHAPE_MM

_MOST_ENDS = 20_000  # loose ends; a drawing with more is soup that no trimming mends
_MOST_NEAR = 64  # lines looked at around one loose end
_COARSE_MM = 0.05  # arcs are searched as chords this close to them
LooseEnd = tuple[int, int]  # an edge by index; 0 its start, 1 its end


@dataclass(frozen=True, slots=True)
class Trim:
    """A loose end that was brought to a line: where, by how much, on which layer.

    length_mm: positive, so much was cut off; negative, so much was added.
    """

    at: Point
    length_mm: float
    layer: str
    end: LooseEnd


@dataclass(frozen=True, slots=True)
class _Meeting:
    """Where a loose end is taken to: stations are lengths from each line's start."""

    at: Point
    over_mm: float
    other: int
    station_mm: float


def trimmed(
    edges: Sequence[Strand], *, gap_mm: float, only: Collection[LooseEnd] | None = None
) -> tuple[list[Strand], list[Trim]]:
    """The edges with loose ends brought to the lines near them, and what was done.

    edges: open strands in mm. gap_mm: how far a line may be lengthened. only: the loose ends
    that may be touched, None for all. The order of the edges is kept.
    """
    loose = _loose_ends(edges)
    if not loose or len(loose) > _MOST_ENDS:
        return list(edges), []
    lines = np.array([_line(edge) for edge in edges], dtype=object)
    tree = shapely.STRtree(lines)
    reach = max(OVERSHOOT_MM, gap_mm) + _COARSE_MM
    spots = shapely.points(np.array([_end(edges[i], side) for i, side in loose]))
    near: dict[int, list[int]] = defaultdict(list)
    for k, other in zip(*tree.query(spots, predicate="dwithin", distance=reach), strict=True):
        if other != loose[k][0] and len(near[int(k)]) < _MOST_NEAR:
            near[int(k)].append(int(other))
    met: dict[LooseEnd, _Meeting] = {}
    for k, (i, side) in enumerate(loose):
        found = [
            meeting for other in near[k] for meeting in _meetings(edges, i, side, other, gap_mm)
        ]
        if not found:
            continue
        best = min(found, key=lambda m: (abs(m.over_mm), m.other))
        if only is None or (i, side) in only or abs(best.over_mm) <= SAME_SHAPE_MM:
            met[i, side] = best
    return _cut(edges, met)


def _loose_ends(edges: Sequence[Strand]) -> list[LooseEnd]:
    """Ends that no other end lies on."""
    ends = [(i, side) for i in range(len(edges)) for side in (0, 1)]
    if not ends:
        return []
    spots = shapely.points(np.array([_end(edges[i], side) for i, side in ends]))
    first, _ = shapely.STRtree(spots).query(spots, predicate="dwithin", distance=GAP_SILENT_MM)
    meeting = np.bincount(first, minlength=len(ends))
    return [end for end, count in zip(ends, meeting, strict=True) if count == 1]


def _end(edge: Strand, side: int) -> Point:
    return edge.end if side else edge.start


def _line(edge: Strand) -> shapely.LineString:
    """The edge as a line to search with; arcs coarsely, they are measured exactly later."""
    return shapely.LineString(flatten_path(edge.rows, _COARSE_MM))


def _meetings(
    edges: Sequence[Strand], i: int, side: int, other: int, gap_mm: float
) -> list[_Meeting]:
    """Where a loose end's last stretch meets another line."""
    own = edges_of(edges[i].rows)
    start, end, bulge = own[-1] if side else own[0]
    carrier = carrier_of(start, end, bulge)
    length = edge_length(start, end, bulge)
    out: list[_Meeting] = []
    station = 0.0
    for a, b, other_bulge in edges_of(edges[other].rows):
        whole = edge_length(a, b, other_bulge)
        if whole <= SAME_SHAPE_MM:
            station += whole
            continue
        for at in carrier_hits(carrier, carrier_of(a, b, other_bulge)):
            along = edge_fraction(start, end, bulge, at) * length
            over = length - along if side else along
            there = edge_fraction(a, b, other_bulge, at) * whole
            if not -gap_mm <= over <= min(OVERSHOOT_MM, length - SAME_SHAPE_MM):
                continue
            # A crossing just past the other line's end is a corner both of them miss.
            if not -gap_mm <= there <= whole + gap_mm:
                continue
            if over <= SAME_SHAPE_MM and not SAME_SHAPE_MM < there < whole - SAME_SHAPE_MM:
                continue  # two loose ends that miss each other: a gap, closed elsewhere
            out.append(_Meeting(at, over, other, station + there))
        station += whole
    return out


def _cut(edges: Sequence[Strand], met: dict[LooseEnd, _Meeting]) -> tuple[list[Strand], list[Trim]]:
    """Every edge with its ends brought to their meetings and cut where others meet it."""
    cuts: dict[int, list[float]] = defaultdict(list)
    for one in met.values():
        cuts[one.other].append(one.station_mm)
    out: list[Strand] = []
    trims: list[Trim] = []
    for i, edge in enumerate(edges):
        ends: tuple[_Meeting | None, ...] = (met.get((i, 0)), met.get((i, 1)))
        if ends == (None, None) and i not in cuts:
            out.append(edge)
            continue
        rows, low, high = edge.rows, 0.0, edge.length()
        stations = list(cuts.get(i, ()))
        for side, meeting in enumerate(ends):
            if meeting is None:
                continue
            if abs(meeting.over_mm) > SAME_SHAPE_MM:
                trims.append(Trim(meeting.at, meeting.over_mm, edge.layer, (i, side)))
            if meeting.over_mm < 0:
                rows = _lengthened(rows, side, meeting.at)
                if not side:
                    stations = [s - meeting.over_mm for s in stations]
                    high -= meeting.over_mm
                else:
                    high -= meeting.over_mm
            elif side:
                high -= meeting.over_mm
            else:
                low += meeting.over_mm
        inner = sorted(s for s in stations if low + SAME_SHAPE_MM < s < high - SAME_SHAPE_MM)
        stops = [low, *inner, high]
        for a, b in pairwise(stops):
            part = sub_path(rows, a, b)
            if len(part) > 1 and b - a > SAME_SHAPE_MM:
                out.append(replace(edge, rows=part))
    return out, trims


def _lengthened(rows: tuple[Vertex, ...], side: int, to: Point) -> tuple[Vertex, ...]:
    """An open run with its first (0) or last (1) edge drawn out to a point of its carrier."""
    own = edges_of(rows)
    start, end, bulge = own[-1] if side else own[0]
    first, last = (start, to) if side else (to, end)
    grown = bulge_on(carrier_of(start, end, bulge), first, last) if bulge else 0.0
    if side:
        return (*rows[:-2], (*first, grown), (*last, 0.0))
    return ((*first, grown), *rows[1:])
