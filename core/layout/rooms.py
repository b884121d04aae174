"""Whether a cut piece fits the room of a blank."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from core.tolerances import FIT_REL

Size = tuple[float, float]


def largest_rectangles(room: BaseGeometry) -> list[Size]:
    """Sizes of the largest upright rectangles inside an outline with corners at known places.

    Exact for upright sides. Beside a slanting or round side a rectangle's corners lie where the
    outline has corners, so it is a little smaller than it could be.
    """
    if room.is_empty:
        return []
    coords = shapely.get_coordinates(room)
    xs, ys = (np.unique(np.round(coords[:, k], 9)) for k in (0, 1))
    if len(xs) == len(ys) == 2:
        return [(float(xs[1] - xs[0]), float(ys[1] - ys[0]))]
    grown = room.buffer(1e-7)
    shapely.prepare(grown)
    # A rectangle between these lines lies inside if each of its cells does.
    cells = shapely.box(xs[:-1, None], ys[None, :-1], xs[1:, None], ys[None, 1:])
    inside = shapely.covers(grown, cells)
    heights = np.diff(ys)
    tallest: dict[float, float] = {}
    for i in range(len(inside)):
        whole = np.logical_and.accumulate(inside[i:], axis=0)
        run = np.zeros(len(whole))
        best = np.zeros(len(whole))
        for k, height in enumerate(heights):
            run = (run + height) * whole[:, k]
            np.maximum(best, run, out=best)
        for width, high in zip(np.round(xs[i + 1 :] - xs[i], 9), np.round(best, 9), strict=True):
            if high > tallest.get(width, 0.0):
                tallest[width] = float(high)
    return _undominated(tallest)


def _undominated(tallest: Mapping[float, float]) -> list[Size]:
    """Of the sizes (width to height) those that fit into no other one, largest area first."""
    kept: list[Size] = []
    for width in sorted(tallest, reverse=True):
        if not kept or tallest[width] > kept[-1][1]:
            kept.append((float(width), tallest[width]))
    return sorted(kept, key=lambda s: (-s[0] * s[1], s))


def fits_rooms(
    shape: BaseGeometry, turns_deg: Sequence[float] | None, rooms: Sequence[Size]
) -> bool:
    """True if the shape's bounds fit a room in an allowed turn (every 5° if any angle is)."""
    hull = shape.convex_hull
    for turn in turns_deg if turns_deg is not None else [5.0 * k for k in range(36)]:
        x1, y1, x2, y2 = affinity.rotate(hull, turn, origin=(0, 0)).bounds
        for width, height in rooms:
            if x2 - x1 <= width * (1 + FIT_REL) and y2 - y1 <= height * (1 + FIT_REL):
                return True
    return False
