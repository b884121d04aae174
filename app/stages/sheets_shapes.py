"""Outlines where they lie, kept from one state of the floor to the next.

A hand that moves one piece changes one outline; all others need not be laid again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon

from app.canvas.contact import edge_table
from core.geometry import Motion
from core.plan import PlanPiece

Key = tuple[str, int]  # piece id, copy
Bounds = tuple[float, float, float, float]


@dataclass(slots=True)
class Laid:
    """A piece where it lies, sheet coordinates, mm: its outline, the bounds of it and, made when
    they are first asked for, its edges as the search for a free place takes them."""

    piece: PlanPiece
    motion: Motion
    polygon: Polygon
    bounds: Bounds
    _edges: NDArray[np.float64] | None = None

    @property
    def edges(self) -> NDArray[np.float64]:
        """(n, 4) rows of edges."""
        if self._edges is None:
            self._edges = edge_table(self.polygon)
        return self._edges


class Shapes:
    """The outlines of all copies that were asked for, by copy; one that lies differently or is
    another piece by now is laid anew."""

    def __init__(self) -> None:
        self._kept: dict[Key, Laid] = {}

    def laid(self, key: Key, piece: PlanPiece, motion: Motion) -> Laid:
        """A copy where the motion lays it."""
        known = self._kept.get(key)
        if known is None or known.piece is not piece or known.motion != motion:
            polygon = laid_polygon(piece, motion)
            known = self._kept[key] = Laid(piece, motion, polygon, polygon.bounds)
        return known

    def __len__(self) -> int:
        return len(self._kept)

    def keep_only(self, keys: frozenset[Key] | set[Key]) -> None:
        """Forget copies that are no longer there."""
        for key in list(self._kept):  # another thread may be asking
            if key not in keys:
                del self._kept[key]


def laid_polygon(piece: PlanPiece, motion: Motion) -> Polygon:
    """The cut outline of a piece where a motion lays it, flattened."""
    a, b, d, e, xoff, yoff = motion.matrix()
    return affinity.affine_transform(piece.cut.polygon, (a, b, d, e, xoff, yoff))


def gap_of_bounds(one: Bounds, other: Bounds) -> float:
    """Distance of two boxes, mm; two shapes are never nearer than their boxes."""
    dx = max(one[0] - other[2], other[0] - one[2], 0.0)
    dy = max(one[1] - other[3], other[1] - one[3], 0.0)
    return float(np.hypot(dx, dy)) if dx and dy else dx + dy
