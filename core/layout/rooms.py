"""Whether a cut piece fits the room of a blank."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from core.tolerances import FIT_REL

Size = tuple[float, float]


def largest_rectangles(room: BaseGeometry) -> list[Size]:
    """Sizes of the largest upright rectangles inside an outline with upright sides."""
    if room.is_empty:
        return []
    coords = shapely.get_coordinates(room)
    xs, ys = (np.unique(np.round(coords[:, k], 9)) for k in (0, 1))
    if len(xs) == len(ys) == 2:
        return [(float(xs[1] - xs[0]), float(ys[1] - ys[0]))]
    grown = room.buffer(1e-7)
    shapely.prepare(grown)
    found: list[Size] = []
    for i, left in enumerate(xs):
        for right in xs[i + 1 :]:
            for k, low in enumerate(ys):
                boxes = shapely.box(left, low, right, ys[k + 1 :])
                tops = ys[k + 1 :][shapely.covers(grown, boxes)]
                if len(tops):
                    found.append((float(right - left), float(tops[-1] - low)))
    return _undominated(found)


def _undominated(sizes: Sequence[Size]) -> list[Size]:
    """The sizes that fit into no other one, largest area first, each once."""
    kept: list[Size] = []
    for size in sorted(set(sizes), key=lambda s: (-s[0] * s[1], s)):
        if not any(size[0] <= w and size[1] <= h for w, h in kept):
            kept.append(size)
    return kept


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
