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
    points = np.array([row[:2] for row in rows])
    last = len(points) - 1
    out: list[Vertex] = []
    here = 0
    guess = 8
    while here < last:
        reach, bulge = _longest(points, here, last, guess)
        out.append((float(points[here][0]), float(points[here][1]), bulge))
        guess = max(_FEWEST, reach - here)
        here = reach
    return out


def _longest(points: FloatArray, here: int, last: int, guess: int) -> tuple[int, float]:
    """The furthest point an arc from here reaches along the chords, and the arc's bulge."""
    best, bulge = here + 1, 0.0
    low, high = here + _FEWEST, last
    if low > high:
        return best, bulge
    tried = _bulge(points, here, low)
    if tried is None:
        return best, bulge
    best, bulge = low, tried
    step = max(1, guess - _FEWEST)
    # Gallop out from the last arc's length, then halve down to where it stops to fit.
    upper = high + 1
    while best < high:
        at = min(best + step, high)
        tried = _bulge(points, here, at)
        if tried is None:
            upper = at
            break
        best, bulge = at, tried
        step *= 2
    while upper - best > 1 and upper <= high:
        at = (best + upper) // 2
        tried = _bulge(points, here, at)
        if tried is None:
            upper = at
        else:
            best, bulge = at, tried
    return best, bulge


def _bulge(points: FloatArray, here: int, there: int) -> float | None:
    """Bulge of the arc between two points that runs along all chords between them, or None.

    0 for chords that lie on one line.
    """
    start, end = points[here], points[there]
    run = points[here : there + 1]
    chord = end - start
    length = math.hypot(chord[0], chord[1])
    if length <= SAME_POINT_MM:
        return None
    ux, uy = chord[0] / length, chord[1] / length
    rel = run - start
    along = rel[:, 0] * ux + rel[:, 1] * uy
    across = rel[:, 1] * ux - rel[:, 0] * uy  # positive to the left of the chord
    most = float(np.abs(across).max())
    if most <= CURVE_ARC_MM:
        return 0.0 if bool((np.diff(along) > 0).all()) else None
    # The middle of the run pins the arc; a bulge is positive where it lies to the right.
    middle = int(np.argmax(np.abs(across)))
    x, h = float(along[middle]), float(across[middle])
    # Circle through (0, 0), (length, 0) and (x, h): its centre is (length / 2, k).
    k = (x * x - x * length + h * h) / (2 * h)
    radius = math.hypot(length / 2, k)
    away = np.hypot(along - length / 2, across - k)
    if float(np.abs(away - radius).max()) > CURVE_ARC_MM:
        return None
    # The arc may stand off a chord between its points by no more than a flattened curve may.
    chords = np.hypot(*(run[1:] - run[:-1]).T)
    half = float(chords.max()) / 2
    if half >= radius or radius - math.sqrt(radius * radius - half * half) > 2 * CURVE_SAGITTA_MM:
        return None
    turn = np.unwrap(np.arctan2(across - k, along - length / 2))
    steps = np.diff(turn)
    if not (bool((steps > 0).all()) or bool((steps < 0).all())):
        return None
    bulge = math.tan(float(turn[-1] - turn[0]) / 4)
    return bulge if abs(bulge) <= _LARGEST_BULGE else None
