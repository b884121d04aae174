"""Outlines in convex parts, the raw material of no-fit polygons."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from core.nesting.prepare import Floats, Ints

_FLAT_REL = 1e-11  # a corner may bend inwards by so little and still count as convex
_NO_AREA_REL = 1e-15  # triangles with less than this part of the box hold nothing


def convex_parts(polygon: BaseGeometry) -> list[Floats]:
    """The polygon as convex parts, each (n, 2), counter-clockwise, mm.

    Constrained Delaunay triangles, joined across their longest shared sides as long as the
    result stays convex. Parts cover the polygon exactly: they share their vertices' numbers.
    """
    found: list[Floats] = []
    for part in shapely.get_parts(polygon):
        ring = shapely.get_coordinates(shapely.orient_polygons(part).exterior)[:-1]
        if not len(part.interiors) and _is_convex(ring):
            found.append(ring)
            continue
        found += _joined_triangles(part)
    return found


def packed(parts: list[Floats]) -> tuple[Floats, Ints]:
    """Parts one after another, (n, 2), and where each starts, (p + 1,)."""
    starts = np.zeros(len(parts) + 1, dtype=np.int64)
    np.cumsum([len(part) for part in parts], out=starts[1:])
    return np.ascontiguousarray(np.concatenate(parts)), starts


def _is_convex(ring: Floats) -> bool:
    before, after = np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0)
    a, b = ring - before, after - ring
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    size = np.ptp(ring, axis=0).max()
    turn = np.arctan2(cross, (a * b).sum(axis=1)).sum()
    return bool((cross >= -_FLAT_REL * size * size).all() and turn < 2 * np.pi + 1e-3)


def _joined_triangles(part: BaseGeometry) -> list[Floats]:
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(part))
    box = part.bounds
    least = _NO_AREA_REL * (box[2] - box[0]) * (box[3] - box[1])
    number: dict[tuple[float, float], int] = {}
    points: list[tuple[float, float]] = []
    rings: dict[int, list[int]] = {}
    side: dict[tuple[int, int], int] = {}
    for triangle in triangles:
        if triangle.area <= least:
            continue
        ring = []
        for x, y in shapely.get_coordinates(shapely.orient_polygons(triangle).exterior)[:-1]:
            key = (float(x), float(y))
            if key not in number:
                number[key] = len(points)
                points.append(key)
            ring.append(number[key])
        index = len(rings)
        rings[index] = ring
        for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
            side[(a, b)] = index
    flat = _FLAT_REL * max(box[2] - box[0], box[3] - box[1]) ** 2

    def length(pair: tuple[int, int]) -> float:
        (xa, ya), (xb, yb) = points[pair[0]], points[pair[1]]
        return float((xa - xb) ** 2 + (ya - yb) ** 2)

    shared = [pair for pair in side if pair[0] < pair[1] and pair[::-1] in side]
    for a, b in sorted(shared, key=lambda pair: (-length(pair), pair)):
        one, two = side[(a, b)], side[(b, a)]
        if one == two:
            continue
        joined = _join(rings[one], rings[two], a, b)
        if joined is None or not _bends_left(joined, points, flat):
            continue
        rings[one] = joined
        for pair in zip(rings[two], rings[two][1:] + rings[two][:1], strict=True):
            side[pair] = one
        del rings[two]
    return [np.array([points[k] for k in ring]) for ring in rings.values()]


def _join(one: list[int], two: list[int], a: int, b: int) -> list[int] | None:
    """Two rings sharing side a→b of the first as one ring; None if they share more than it."""
    if len(set(one) & set(two)) != 2:
        return None
    at = one.index(b)
    start = one[at:] + one[:at]  # b … a
    at = two.index(a)
    other = two[at:] + two[:at]  # a … b
    return start + other[1:-1]


def _bends_left(ring: list[int], points: list[tuple[float, float]], flat: float) -> bool:
    count = len(ring)
    for k in range(count):
        xa, ya = points[ring[k - 1]]
        xb, yb = points[ring[k]]
        xc, yc = points[ring[(k + 1) % count]]
        if (xb - xa) * (yc - yb) - (yb - ya) * (xc - xb) < -flat:
            return False
    return True
