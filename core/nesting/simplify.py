"""Fewer vertices, outwards only: what is cut away from an outline is never board it needs."""

from __future__ import annotations

import numpy as np
import shapely
from numba import njit
from shapely.geometry.base import BaseGeometry


@njit(cache=True, nogil=True, error_model="numpy")
def _thin(xy, most_mm, fewest):  # type: ignore[no-untyped-def]
    """One ring (n, 2), inside to its left, with vertices dropped outwards, cheapest first."""
    n = len(xy)
    pts = xy.copy()
    after = np.empty(n, np.int64)
    before = np.empty(n, np.int64)
    for i in range(n):
        after[i], before[i] = (i + 1) % n, (i - 1) % n
    alive = np.ones(n, np.bool_)
    cost = np.empty(n)
    stale = np.ones(n, np.bool_)
    meet = np.empty((n, 2))
    drops = np.zeros(n, np.bool_)  # True: a hollow corner goes; False: the side after it does
    left = n
    while left > max(fewest, 3):
        best, at = most_mm, -1
        for i in range(n):
            if not alive[i]:
                continue
            if stale[i]:
                stale[i] = False
                cost[i] = np.inf
                p, q, r = before[i], after[i], after[after[i]]
                ax, ay = pts[i, 0] - pts[p, 0], pts[i, 1] - pts[p, 1]
                bx, by = pts[q, 0] - pts[i, 0], pts[q, 1] - pts[i, 1]
                turn = ax * by - ay * bx
                if turn <= 0:
                    cx, cy = pts[q, 0] - pts[p, 0], pts[q, 1] - pts[p, 1]
                    length = np.sqrt(cx * cx + cy * cy)
                    if length > 0:
                        cost[i] = -turn / length
                        drops[i] = True
                else:
                    dx, dy = pts[r, 0] - pts[q, 0], pts[r, 1] - pts[q, 1]
                    det = ax * dy - ay * dx
                    size = np.sqrt((ax * ax + ay * ay) * (dx * dx + dy * dy))
                    if bx * dy - by * dx > 0 and det > 0.05 * size and r != p:
                        t = (bx * dy - by * dx) / det
                        mx, my = pts[i, 0] + t * ax, pts[i, 1] + t * ay
                        length = np.sqrt(bx * bx + by * by)
                        if length > 0:
                            cost[i] = t * turn / length
                            drops[i] = False
                            meet[i, 0], meet[i, 1] = mx, my
            if cost[i] < best:
                best, at = cost[i], i
        if at < 0:
            break
        p, q = before[at], after[at]
        if drops[at]:
            alive[at] = False
            after[p], before[q] = q, p
        else:
            pts[at, 0], pts[at, 1] = meet[at, 0], meet[at, 1]
            alive[q] = False
            after[at] = after[q]
            before[after[q]] = at
            stale[at] = True
            q = after[at]
        left -= 1
        stale[p] = True
        stale[before[p]] = True
        stale[before[before[p]]] = True
        stale[q] = True
    return pts[alive]


def simplify_outward(polygon: BaseGeometry, *, most_mm: float, fewest: int) -> BaseGeometry:
    """The polygon with fewer vertices, nowhere smaller, nowhere more than most_mm larger a step.

    fewest: stop at so many vertices a ring. Sides that stay keep their lines exactly. Gives the
    polygon back if a simpler one would not be valid.
    """
    made = []
    for part in shapely.get_parts(shapely.orient_polygons(polygon)):
        rings = []
        for ring in (part.exterior, *part.interiors):
            xy = np.ascontiguousarray(shapely.get_coordinates(ring)[:-1])
            rings.append(_thin(xy, most_mm, fewest) if len(xy) > 3 else xy)
        made.append(shapely.Polygon(rings[0], rings[1:]))
    simple = made[0] if len(made) == 1 else shapely.MultiPolygon(made)
    if not simple.is_valid or polygon.difference(simple).area > 1e-9 * polygon.area:
        return polygon
    return simple
