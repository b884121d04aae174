"""The inner loops of :mod:`core.geometry.fitting`, compiled."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@njit(cache=True, nogil=True)
def _spread(points: FloatArray, c: float, s: float) -> tuple[float, float, int, int, int, int]:
    """Width and height of points turned by (cos, sin), and the corners that span them."""
    i1 = i2 = j1 = j2 = 0
    x1 = y1 = math.inf
    x2 = y2 = -math.inf
    for k in range(points.shape[0]):
        x = points[k, 0] * c - points[k, 1] * s
        y = points[k, 0] * s + points[k, 1] * c
        if x < x1:
            x1, i1 = x, k
        if x > x2:
            x2, i2 = x, k
        if y < y1:
            y1, j1 = y, k
        if y > y2:
            y2, j2 = y, k
    return x2 - x1, y2 - y1, i1, i2, j1, j2


@njit(cache=True, nogil=True)
def best_angle(points: FloatArray, width: float, height: float) -> tuple[float, float]:
    """(least ratio, its angle in [0, π)) of a convex ring in a width × height room."""
    count = points.shape[0]
    critical = np.empty(2 * count + 2)
    critical[0] = 0.0
    critical[1] = math.pi / 2
    for k in range(count):
        n = k + 1 if k + 1 < count else 0
        angle = -math.atan2(points[n, 1] - points[k, 1], points[n, 0] - points[k, 0])
        angle = angle % (math.pi / 2)
        critical[2 * k + 2] = angle
        critical[2 * k + 3] = angle + math.pi / 2
    critical.sort()
    best, at = math.inf, 0.0
    for k in range(critical.shape[0]):
        start = critical[k]
        end = critical[k + 1] if k + 1 < critical.shape[0] else math.pi
        w, h, i1, i2, j1, j2 = _spread(points, math.cos(start), math.sin(start))
        ratio = max(w / width, h / height)
        if ratio < best:
            best, at = ratio, start
        if end - start < 1e-12:
            continue
        middle = (start + end) / 2
        w, h, i1, i2, j1, j2 = _spread(points, math.cos(middle), math.sin(middle))
        px, py = points[i2, 0] - points[i1, 0], points[i2, 1] - points[i1, 1]
        qx, qy = points[j2, 0] - points[j1, 0], points[j2, 1] - points[j1, 1]
        # w = px cos − py sin and h = qx sin + qy cos take equal shares of width and height.
        equal = math.atan2(px / width - qy / height, py / width + qx / height) % math.pi
        if start < equal < end:
            w, h, i1, i2, j1, j2 = _spread(points, math.cos(equal), math.sin(equal))
            ratio = max(w / width, h / height)
            if ratio < best:
                best, at = ratio, equal
    return best, at
