"""The proof of a joint: both mates as the bit really leaves them, put together.

If what the bit leaves of one mate lies nowhere in what it leaves of the other, the joint
closes. Moving one mate then shows whether it is held, and how much play it has.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.affinity import translate
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from core.geometry.ring import Point, Region
from core.joints.access import bit_leaves
from core.tolerances import BIT_SLACK_MM, COLLISION_MM, FINE_SAGITTA_MM, FLATTEN_SAGITTA_MM


@dataclass(frozen=True, slots=True)
class Collision:
    """Two mates that cannot be put together: which, how much they overlap, where."""

    pair: tuple[int, int]
    area_mm2: float
    at: Point


def as_cut(shape: Region | Polygon, radius_mm: float) -> BaseGeometry:
    """What the bit leaves of an outline; a curve of its own radius is one it can cut.

    A Region is flattened finely for it; a polygon that was flattened more coarsely gets that
    much more slack.
    """
    if isinstance(shape, Region):
        return bit_leaves(shape.flattened(FINE_SAGITTA_MM), radius_mm - BIT_SLACK_MM)
    return bit_leaves(shape, radius_mm - BIT_SLACK_MM - FLATTEN_SAGITTA_MM)


def overlap(one: BaseGeometry, two: BaseGeometry) -> BaseGeometry:
    """What two shapes share, without films thinner than COLLISION_MM."""
    return one.intersection(two).buffer(-COLLISION_MM / 2)


def simulated_mates(
    shapes: Sequence[Region | Polygon],
    radius_mm: float,
    *,
    only: Sequence[tuple[int, int]] | None = None,
) -> tuple[Collision, ...]:
    """Put pieces together as a bit of radius_mm leaves them; every pair that collides.

    shapes: cut outlines in the panel's frame, mm. only: pairs to look at, else all.
    """
    left = [as_cut(shape, radius_mm) for shape in shapes]
    count = len(shapes)
    pairs = (
        only if only is not None else [(i, j) for i in range(count) for j in range(i + 1, count)]
    )
    found: list[Collision] = []
    for i, j in pairs:
        common = overlap(left[i], left[j])
        if not common.is_empty:
            spot = common.representative_point()
            real = left[i].intersection(left[j])
            found.append(Collision((i, j), float(real.area), (spot.x, spot.y)))
    return tuple(found)


def held(
    one: Region | Polygon,
    two: Region | Polygon,
    radius_mm: float,
    direction_deg: float,
    *,
    way_mm: float = 5.0,
) -> bool:
    """True if moving two along a direction by way_mm runs it into one somewhere on the way."""
    first, second = as_cut(one, radius_mm), as_cut(two, radius_mm)
    dx, dy = math.cos(math.radians(direction_deg)), math.sin(math.radians(direction_deg))
    for step in range(1, 21):
        way = way_mm * step / 20
        if not overlap(first, translate(second, dx * way, dy * way)).is_empty:
            return True
    return False


def play_mm(
    one: Region | Polygon,
    two: Region | Polygon,
    radius_mm: float,
    direction_deg: float,
    *,
    most_mm: float = 5.0,
) -> float:
    """How far two can move along a direction before it touches one, mm (to 1e-4)."""
    first, second = as_cut(one, radius_mm), as_cut(two, radius_mm)
    dx, dy = math.cos(math.radians(direction_deg)), math.sin(math.radians(direction_deg))

    def free(way: float) -> bool:
        moved = translate(second, dx * way, dy * way)
        return bool(shapely.area(first.intersection(moved)) < 1e-6)

    low, high = 0.0, most_mm
    if free(high):
        return high
    while high - low > 1e-4:
        middle = (low + high) / 2
        low, high = (middle, high) if free(middle) else (low, middle)
    return low
