"""Where a text fits inside a shape on paper: off other texts, and off lines where it can."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from core.geometry import Point
from core.reports.fonts import text_width_mm, wrap

SIZES_PT = (10.0, 9.0, 8.0, 7.0, 6.5)
_CLEAR_PT = 8.0  # a name goes off what is drawn down to this size, no smaller
_CLEAR_MM = 0.5
_APART_MM = 0.9  # between texts side by side, so that they are not read as one

Box = tuple[float, float, float, float]


class Finder:
    """Looks for the place of a text block inside one shape, best places first.

    lines: drawn inside the shape; a place off them is better than one across them.
    """

    def __init__(
        self, free: Callable[[Box], bool], shape: Polygon, lines: Sequence[BaseGeometry] = ()
    ) -> None:
        self._free = free
        self._shape = shape.buffer(-_CLEAR_MM) if shape.area else shape
        self._lines = shapely.union_all([*lines]) if lines else None
        self._spots = self._candidates() if not self._shape.is_empty else np.empty((0, 2))
        shapely.prepare(self._shape)

    def _candidates(self) -> NDArray[np.float64]:
        """The middle, then a grid from the middle outwards, with the roomiest spot among it."""
        x1, y1, x2, y2 = self._shape.bounds
        middle = ((x1 + x2) / 2, (y1 + y2) / 2)
        share = (np.arange(13) + 0.5) / 13
        grid = np.array(np.meshgrid(x1 + (x2 - x1) * share, y1 + (y2 - y1) * share))
        spots = [middle, *map(tuple, grid.reshape(2, -1).T)]
        pole = shapely.maximum_inscribed_circle(self._shape, tolerance=0.3)
        if isinstance(pole, LineString) and not pole.is_empty:
            spots.append(tuple(pole.coords[0]))
        at = np.array(spots)
        return at[np.argsort(np.hypot(at[:, 0] - middle[0], at[:, 1] - middle[1]), kind="stable")]

    def spot(self, wide: float, high: float, *, clear: bool = False) -> Point | None:
        """Middle of a wide × high box inside the shape and clear of other texts, or None.

        clear: not across a line either.
        """
        if not len(self._spots):
            return None
        x1, y1, x2, y2 = self._shape.bounds
        if wide > x2 - x1 or high > y2 - y1:
            return None
        at = self._spots
        boxes = shapely.box(
            at[:, 0] - wide / 2, at[:, 1] - high / 2, at[:, 0] + wide / 2, at[:, 1] + high / 2
        )
        inside = np.flatnonzero(shapely.contains(self._shape, boxes))
        if self._lines is not None and len(inside):
            struck = shapely.intersects(self._lines, boxes[inside])
            rest = inside[:0] if clear else inside[struck]
            inside = np.concatenate([inside[~struck], rest])
        for index in inside:
            x1, y1, x2, y2 = shapely.bounds(boxes[index])
            if self._free((x1 - _APART_MM, y1, x2 + _APART_MM, y2)):
                return (float(at[index, 0]), float(at[index, 1]))
        return None


def tries() -> Iterator[tuple[bool, bool, float]]:
    """(clear of lines, turned, size) to try: rather a little smaller than across a line."""
    for clear in (True, False):
        for turned in (False, True):
            for size in SIZES_PT:
                if size >= _CLEAR_PT or not clear:
                    yield clear, turned, size


def balanced(words: str, count: int) -> list[str]:
    """The words in so many lines (or fewer), as even in width as spaces allow."""
    width = text_width_mm(words, 10.0)
    for share in np.arange(1.0, 1.8, 0.1):
        lines = wrap(words, width / count * float(share), 10.0)
        if len(lines) <= count:
            return lines
    return wrap(words, width, 10.0)
