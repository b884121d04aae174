"""Flattened ellipses and splines as few true arcs, which is what a toolpath wants.

The parsing libraries flatten a curve to chords within CURVE_SAGITTA_MM. Here each longest
stretch of chords that one arc runs along within CURVE_ARC_MM becomes that arc, so what is cut is
never further than the two together from the curve drawn. An ellipse of a metre is some dozen
arcs instead of hundreds of chords: a controller runs them at an even speed and the router does
not leave facets. Lines and arcs of the same strand are left as they are.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numba import njit
from numpy.typing import NDArray

from core.geometry import Vertex
from core.outlines.strands import Strand
from core.tolerances import CURVE_ARC_MM, CURVE_SAGITTA_MM, SAME_POINT_MM

FloatArray = NDArray[np.float64]

_FEWEST = 3  # chords; fewer than that show no curvature
_LARGEST_BULGE = 1.0  # half a circle


def with_arcs(strand: Strand) -> Strand:
    """The strand with runs of its chords as arcs, if it was flattened from a curve."""
    if not (strand.curve or strand.chords) or len(strand.rows) <= _FEWEST:
        return strand
    rows = strand.rows
    if strand.closed:
        rows = (*rows, (rows[0][0], rows[0][1], 0.0))
    out: list[Vertex] = []
    start = 0
    while start < len(rows) - 1:
        if rows[start][2]:  # an arc already
            out.append(rows[start])
            start += 1
            continue
        end = start
        while end < len(rows) - 1 and not rows[end][2]:
            end += 1
        out += _run(rows[start : end + 1])
        start = end
    if strand.closed:
        if len(out) < 2:
            return strand
    else:
        out.append(rows[-1])
    return replace(strand, rows=tuple(out))


def _run(rows: Sequence[Vertex]) -> list[Vertex]:
    """Vertices of chords as arcs where they fit, the last point left out."""
    points = np.array([row[:2] for row in rows], dtype=np.float64)
    stops, bulges = _arcs(points, CURVE_ARC_MM, 2 * CURVE_SAGITTA_MM)
    return [
        (float(points[stop][0]), float(points[stop][1]), float(bulge))
        for stop, bulge in zip(stops, bulges, strict=True)
    ]


@njit(cache=True)
def _arcs(
    points: FloatArray, arc_mm: float, chord_mm: float
) -> tuple[NDArray[np.int64], FloatArray]:
    """Where arcs begin along chords, and the bulge of each; every one as long as it can be.

    points: (n, 2). arc_mm: how far an arc may be from a point. chord_mm: how far from the
    middle of a chord.
    """
    last = len(points) - 1
    stops = np.empty(last, dtype=np.int64)
    bulges = np.empty(last, dtype=np.float64)
    count = 0
    here = 0
    guess = 8
    while here < last:
        best, bulge = here + 1, 0.0
        if here + _FEWEST <= last:
            fits, tried = _bulge(points, here, here + _FEWEST, arc_mm, chord_mm)
            if fits:
                best, bulge = here + _FEWEST, tried
                # Gallop out from the last arc's length, then halve down to where it fits.
                step = max(1, guess - _FEWEST)
                upper = last + 1
                while best < last:
                    at = min(best + step, last)
                    fits, tried = _bulge(points, here, at, arc_mm, chord_mm)
                    if not fits:
                        upper = at
                        break
                    best, bulge = at, tried
                    step *= 2
                while upper <= last and upper - best > 1:
                    at = (best + upper) // 2
                    fits, tried = _bulge(points, here, at, arc_mm, chord_mm)
                    if fits:
                        best, bulge = at, tried
                    else:
                        upper = at
        stops[count], bulges[count] = here, bulge
        count += 1
        guess = max(_FEWEST, best - here)
        here = best
    return stops[:count], bulges[:count]


@njit(cache=True)
def _bulge(
    points: FloatArray, here: int, there: int, arc_mm: float, chord_mm: float
) -> tuple[bool, float]:
    """Whether one arc runs along all chords between two points, and its bulge.

    The bulge is 0 for chords that lie on one line.
    """
    x0, y0 = points[here, 0], points[here, 1]
    dx, dy = points[there, 0] - x0, points[there, 1] - y0
    length = math.sqrt(dx * dx + dy * dy)
    if length <= SAME_POINT_MM:
        return False, 0.0
    ux, uy = dx / length, dy / length
    # The point farthest from the chord pins the arc; h is positive to the left of the chord.
    x, h = 0.0, 0.0
    forward = True
    before = 0.0
    for i in range(here + 1, there):
        px, py = points[i, 0] - x0, points[i, 1] - y0
        along, across = px * ux + py * uy, py * ux - px * uy
        if along <= before:
            forward = False
        before = along
        if abs(across) > abs(h):
            x, h = along, across
    if before >= length:
        forward = False
    if abs(h) <= arc_mm:
        return forward, 0.0
    # Circle through (0, 0), (length, 0) and (x, h): its centre is (length / 2, k).
    k = (x * x - x * length + h * h) / (2 * h)
    radius = math.sqrt(length * length / 4 + k * k)
    turn = 0.0
    angle = math.atan2(-k, -length / 2)
    px, py = 0.0, 0.0
    for i in range(here + 1, there + 1):
        qx = (points[i, 0] - x0) * ux + (points[i, 1] - y0) * uy
        qy = (points[i, 1] - y0) * ux - (points[i, 0] - x0) * uy
        away = math.sqrt((qx - length / 2) ** 2 + (qy - k) ** 2)
        if abs(away - radius) > arc_mm:
            return False, 0.0
        half = math.sqrt((qx - px) ** 2 + (qy - py) ** 2) / 2
        if half >= radius or radius - math.sqrt(radius * radius - half * half) > chord_mm:
            return False, 0.0
        now = math.atan2(qy - k, qx - length / 2)
        part = now - angle
        if part > math.pi:
            part -= 2 * math.pi
        elif part < -math.pi:
            part += 2 * math.pi
        if part == 0.0 or (turn != 0.0 and (part > 0.0) != (turn > 0.0)):
            return False, 0.0
        turn += part
        angle = now
        px, py = qx, qy
    bulge = math.tan(turn / 4) if abs(turn) < math.pi * 1.5 else math.inf
    return abs(bulge) <= _LARGEST_BULGE, bulge
