"""Where pieces go on a sheet: motions moved on, turned and turned over, and bounds. No Qt here."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from shapely.geometry import Polygon

from core.geometry import Motion


def shifted(motion: Motion, dx_mm: float, dy_mm: float) -> Motion:
    """The motion moved on."""
    return replace(motion, x_mm=motion.x_mm + dx_mm, y_mm=motion.y_mm + dy_mm)


def turned_about(motion: Motion, by_deg: float, x_mm: float, y_mm: float) -> Motion:
    """The motion turned on about a point of the sheet, counter-clockwise."""
    turn = Motion(0, 0, by_deg)
    x, y = turn.apply(motion.x_mm - x_mm, motion.y_mm - y_mm)
    return replace(
        motion,
        x_mm=x + x_mm,
        y_mm=y + y_mm,
        turn_deg=round((motion.turn_deg + by_deg) % 360, 9),
    )


def mirrored_about(motion: Motion, x_mm: float) -> Motion:
    """The motion turned over about an upright line of the sheet."""
    return Motion(
        2 * x_mm - motion.x_mm,
        motion.y_mm,
        round(-motion.turn_deg % 360, 9),
        not motion.mirrored,
    )


def bounds_of(shapes: Iterable[Polygon]) -> tuple[float, float, float, float]:
    """Common bounds of shapes."""
    rows = np.array([shape.bounds for shape in shapes])
    return (
        float(rows[:, 0].min()),
        float(rows[:, 1].min()),
        float(rows[:, 2].max()),
        float(rows[:, 3].max()),
    )


def middle(bounds: tuple[float, float, float, float]) -> tuple[float, float]:
    """The middle of bounds."""
    return (bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2


def angle_of(x_mm: float, y_mm: float) -> float:
    """Direction of a vector in degrees, counter-clockwise from x."""
    return math.degrees(math.atan2(y_mm, x_mm))
