"""Does a shape fit in a rectangle, at given turns or at any angle: exactly.

Between two neighbouring critical angles (where an edge of the convex hull lies along a side)
the width and the height of the turned hull are sinusoids of two fixed vectors between
antipodal corners. So the best angle is a critical one, or one where the two ratios are equal;
both are found in closed form (own derivation; the rotating calipers of Shamos 1978 give the
antipodal pairs; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numba import njit
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from core.tolerances import FIT_REL

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Fit:
    """How a shape lies best in a rectangle.

    ratio: greater of width and height over the room's; at most 1 (and FIT_REL) means it fits.
    turn_deg: counter-clockwise. width_mm, height_mm: of the turned shape. x_mm, y_mm: lower
    left corner of the turned shape's bounds, so moving by their negatives puts it at (0, 0).
    """

    ratio: float
    turn_deg: float
    width_mm: float
    height_mm: float
    x_mm: float
    y_mm: float

    @property
    def fits(self) -> bool:
        """True if it fits, exact fits included."""
        return self.ratio <= 1.0 + FIT_REL


def hull_points(shape: BaseGeometry | FloatArray) -> FloatArray:
    """(n, 2) corners of the convex hull, counter-clockwise, first not repeated."""
    geometry = shape if isinstance(shape, BaseGeometry) else shapely.multipoints(shape)
    hull = shapely.convex_hull(geometry)
    if hull.geom_type == "Polygon":
        points = shapely.get_coordinates(hull)[:-1]
        return points if hull.exterior.is_ccw else points[::-1]
    return shapely.get_coordinates(hull)


def _turned(points: FloatArray, angles: FloatArray) -> tuple[FloatArray, FloatArray]:
    """x and y of every point at every angle, shape (angles, points)."""
    c, s = np.cos(angles)[:, None], np.sin(angles)[:, None]
    # Quarter turns exact, so that a rectangle of the room's size fits it.
    c = np.where(np.abs(c) < 1e-15, 0.0, c)
    s = np.where(np.abs(s) < 1e-15, 0.0, s)
    return points[:, 0] * c - points[:, 1] * s, points[:, 0] * s + points[:, 1] * c


def _best_at(points: FloatArray, angles: FloatArray, width: float, height: float) -> Fit:
    x, y = _turned(points, angles)
    x1, x2, y1, y2 = x.min(1), x.max(1), y.min(1), y.max(1)
    ratio = np.maximum((x2 - x1) / width, (y2 - y1) / height)
    k = int(np.argmin(ratio))
    return Fit(
        float(ratio[k]),
        math.degrees(float(angles[k])),
        float(x2[k] - x1[k]),
        float(y2[k] - y1[k]),
        float(x1[k]),
        float(y1[k]),
    )


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
def _best_angle(points: FloatArray, width: float, height: float) -> tuple[float, float]:
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


def best_fit(
    shape: BaseGeometry | FloatArray,
    width_mm: float,
    height_mm: float,
    *,
    turns_deg: Sequence[float] | None = None,
) -> Fit:
    """The turn at which a shape lies best in a room of width_mm × height_mm.

    shape: any geometry, or (n, 2) points. turns_deg: allowed turns, None for any angle. An
    upright turn is preferred to an equally good oblique one.
    """
    points = hull_points(shape)
    upright = np.radians(np.array([0.0, 90.0] if turns_deg is None else list(turns_deg)))
    quick = _best_at(points, upright, width_mm, height_mm)
    if turns_deg is not None or quick.fits or len(points) < 3:
        return quick
    ratio, angle = _best_angle(np.ascontiguousarray(points), width_mm, height_mm)
    if ratio >= quick.ratio - FIT_REL:
        return quick
    return _best_at(points, np.array([angle]), width_mm, height_mm)


def fits(
    shape: BaseGeometry | FloatArray,
    width_mm: float,
    height_mm: float,
    *,
    turns_deg: Sequence[float] | None = None,
) -> bool:
    """True if the shape fits the room in an allowed turn, exact fits included."""
    return best_fit(shape, width_mm, height_mm, turns_deg=turns_deg).fits
