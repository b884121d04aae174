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
    from core.geometry.fitting_kernels import best_angle  # the compiler is slow to load

    ratio, angle = best_angle(np.ascontiguousarray(points), width_mm, height_mm)
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
