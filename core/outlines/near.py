"""Which shapes lie near which, bounded however many there are."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely

from core.errors import UnreadableDrawing
from core.outlines.limits import MAX_NEAR_PAIRS

_CHUNK = 1000


def near_pairs(shapes: Any, *, within_mm: float | None = None) -> tuple[Any, Any]:
    """Index arrays (first < second) of pairs that lie within a distance.

    within_mm None: pairs whose bounding boxes meet. Raises UnreadableDrawing when there are
    more than MAX_NEAR_PAIRS.
    """
    firsts, seconds = [], []
    total = 0
    for first, second in _chunks(shapes, within_mm):
        once = first < second
        firsts.append(first[once])
        seconds.append(second[once])
        total += int(once.sum())
        if total > MAX_NEAR_PAIRS:
            raise UnreadableDrawing(
                "Too many shapes lie on top of each other",
                remedy="Delete the repeats in the drawing and export it again.",
            )
    if not firsts:
        nothing = np.empty(0, dtype=np.int64)
        return nothing, nothing
    return np.concatenate(firsts), np.concatenate(seconds)


def _chunks(shapes: Any, within_mm: float | None) -> Iterator[tuple[Any, Any]]:
    tree = shapely.STRtree(shapes)
    for start in range(0, len(shapes), _CHUNK):
        part = shapes[start : start + _CHUNK]
        if within_mm is None:
            first, second = tree.query(part)
        else:
            first, second = tree.query(part, predicate="dwithin", distance=within_mm)
        yield first + start, second
