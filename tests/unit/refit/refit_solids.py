"""Boards put together in space: exact overlap of two boards that stand square to each other.

A board is a region in one of the coordinate planes, and where its thickness lies. Two boards
square to each other share one axis of their planes. Cut both to the other's thickness; at a
station along the shared axis the overlap is then a rectangle, so its volume is the integral of
the product of two lengths, piecewise quadratic between the corners and summed without error by
Simpson's rule.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True)
class Board:
    """region: polygon whose first and second coordinate are the axes named by plane."""

    region: BaseGeometry
    plane: str  # "xy", "xz" or "yz"
    low: float
    thickness: float

    @property
    def normal(self) -> str:
        return next(axis for axis in "xyz" if axis not in self.plane)

    def moved(self, **by: float) -> Board:
        from shapely.affinity import translate

        region = translate(self.region, by.get(self.plane[0], 0), by.get(self.plane[1], 0))
        return Board(region, self.plane, self.low + by.get(self.normal, 0), self.thickness)


def overlap_mm3(one: Board, two: Board) -> float:
    """Volume two boards would share."""
    if one.normal == two.normal:
        shared = min(one.low + one.thickness, two.low + two.thickness) - max(one.low, two.low)
        return max(0.0, shared) * float(one.region.intersection(two.region).area)
    axis = next(a for a in "xyz" if a in one.plane and a in two.plane)
    a = _within(one, two.normal, two.low, two.thickness)
    b = _within(two, one.normal, one.low, one.thickness)
    if a.is_empty or b.is_empty:
        return 0.0
    ia, ib = one.plane.index(axis), two.plane.index(axis)
    cuts = np.unique(np.concatenate([_stations(a, ia), _stations(b, ib)]))
    low, high = cuts[:-1], cuts[1:]
    keep = high - low > 1e-9
    low, high = low[keep], high[keep]
    # Lengths are straight lines between corners; sampled just inside against jumps.
    inset = (high - low) * 1e-6
    first, middle, last = (
        _lengths(a, ia, at) * _lengths(b, ib, at)
        for at in (low + inset, (low + high) / 2, high - inset)
    )
    return float(np.sum((high - low) / 6 * (first + 4 * middle + last)))


def _within(board: Board, axis: str, low: float, thickness: float) -> BaseGeometry:
    x1, y1, x2, y2 = board.region.bounds
    if board.plane.index(axis) == 0:
        return board.region.intersection(box(low, y1 - 1, low + thickness, y2 + 1))
    return board.region.intersection(box(x1 - 1, low, x2 + 1, low + thickness))


def _stations(shape: BaseGeometry, index: int) -> np.ndarray:
    parts = [g for g in getattr(shape, "geoms", [shape]) if g.geom_type == "Polygon"]
    rows = [p for g in parts for ring in (g.exterior, *g.interiors) for p in ring.coords]
    return np.array(sorted({row[index] for row in rows}))


def _lengths(shape: BaseGeometry, index: int, at: np.ndarray) -> np.ndarray:
    """How much of a line across a shape lies in it, at each station."""
    bounds = shape.bounds
    ends = [(bounds[1 - index] - 1, bounds[3 - index] + 1)]
    points = np.empty((len(at), 2, 2))
    points[:, :, index] = at[:, None]
    points[:, :, 1 - index] = ends
    shapely.prepare(shape)
    return shapely.length(shapely.intersection(shape, shapely.linestrings(points)))
