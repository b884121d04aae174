"""Where a text fits inside a shape on paper: off other texts, and off lines where it can."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from core.geometry import Point
from core.reports.fonts import printable, text_width_mm, wrap

SIZES_PT = (10.0, 9.0, 8.0, 7.0, 6.5)
_CLEAR_PT = 8.0  # name and size go off what is drawn down to this size, the name alone to 7 pt
_CLEAR_MM = 0.7  # from the outline of the shape
_NEAR_MM = 0.45  # the same where a name would have to be left out for it
_OFF_LINES_MM = 0.6  # from what is drawn
_OFF_DOTS_MM, _DOT_MM2 = 1.3, 13.0  # holes no larger than a letter are not to be read as one
NUMBER_PT = (10.0, 8.0, 7.0, 6.5)
_APART_MM = 0.9  # between texts side by side, so that they are not read as one

Box = tuple[float, float, float, float]
Keep = Literal["all", "signs", "near", "nothing"]
_NAME_KEEPS: tuple[Keep, ...] = ("all", "signs", "near")
_NUMBER_KEEPS: tuple[Keep, ...] = ("all", "signs", "nothing")


class Finder:
    """Looks for the place of a text block inside one shape, best places first.

    lines: drawn inside the shape; a place off them is better than one across them. signs: marks
    that a text would make unreadable, or they it.
    """

    def __init__(
        self,
        free: Callable[[Box], bool],
        shape: Polygon,
        lines: Sequence[BaseGeometry] = (),
        signs: Sequence[BaseGeometry] = (),
    ) -> None:
        self._free = free
        self._shape = shape.buffer(-_CLEAR_MM) if shape.area else shape
        self._near = shape.buffer(-_NEAR_MM) if shape.area else shape
        wide = [line.buffer(_OFF_LINES_MM) for line in (*lines, *signs)]
        small = [Polygon(hole) for hole in shape.interiors]
        small = [hole.buffer(_OFF_DOTS_MM) for hole in small if hole.area < _DOT_MM2]
        self._all = shapely.union_all([*wide, *small]) if wide or small else None
        self._signs = shapely.union_all(wide[len(lines) :]) if signs else None
        self._spots = self._candidates() if not self._shape.is_empty else np.empty((0, 2))
        shapely.prepare(self._shape)
        shapely.prepare(self._near)

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

    def spot(self, wide: float, high: float, *, keep: Keep = "signs") -> Point | None:
        """Middle of a wide × high box inside the shape and clear of other texts, or None.

        keep: what it has to go off: "all" that is drawn, the "signs" (and lines rather than not),
        those but "near" the outline, or "nothing".
        """
        if not len(self._spots):
            return None
        shape = self._near if keep == "near" else self._shape
        x1, y1, x2, y2 = shape.bounds
        if wide > x2 - x1 or high > y2 - y1:
            return None
        at = self._spots
        boxes = shapely.box(
            at[:, 0] - wide / 2, at[:, 1] - high / 2, at[:, 0] + wide / 2, at[:, 1] + high / 2
        )
        inside = np.flatnonzero(shapely.contains(shape, boxes))
        if self._signs is not None and keep != "nothing" and len(inside):
            inside = inside[~shapely.intersects(self._signs, boxes[inside])]
        if self._all is not None and len(inside):
            struck = shapely.intersects(self._all, boxes[inside])
            rest = inside[:0] if keep == "all" else inside[struck]
            inside = np.concatenate([inside[~struck], rest])
        for index in inside:
            x1, y1, x2, y2 = shapely.bounds(boxes[index])
            if self._free((x1 - _APART_MM, y1, x2 + _APART_MM, y2)):
                return (float(at[index, 0]), float(at[index, 1]))
        return None


def blocks(
    number: str, lines: Sequence[str], *, plain: bool
) -> Iterator[tuple[list[str], bool, float, Keep]]:
    """Rows, turned, size and what to keep off, to try one after another.

    plain: nothing is drawn in the shape, so only its size sets that of the letters.

    All lines, then fewer from the end, then the first one broken into two or three, clear of all
    that is drawn; then the same across lines, then nearer to the outline; then the number alone.
    """
    wholes = []
    for count in range(len(lines), 0, -1):
        rows = [printable(line) for line in lines[:count] if line]
        wholes.append(([number, *rows], ["  ".join([number, *rows])]))
    name = printable(lines[0]) if lines else ""
    broken = [balanced(name, count) for count in (2, 3) if " " in name]
    # One broken within a word is no better than the number alone.
    broken = [[number, *rows] for rows in broken if " ".join(rows) == name]
    for keep in _NAME_KEEPS:
        for left, group in zip(range(len(wholes) - 1, -1, -1), wholes, strict=True):
            least = 0.0 if keep != "all" else _CLEAR_PT if left and not plain else 7.0
            for turned in (False, True):
                for size in SIZES_PT:
                    for rows in group if size >= least else ():
                        yield rows, turned, size, keep
        for rows in broken:
            for turned in (False, True):
                for size in SIZES_PT:
                    yield rows, turned, size, keep
    for keep in _NUMBER_KEEPS:
        for turned in (False, True):
            for size in NUMBER_PT:
                yield [number], turned, size, keep


def balanced(words: str, count: int) -> list[str]:
    """The words in so many lines (or fewer), as even in width as spaces allow."""
    width = text_width_mm(words, 10.0)
    for share in np.arange(1.0, 1.8, 0.1):
        lines = wrap(words, width / count * float(share), 10.0)
        if len(lines) <= count:
            return lines
    return wrap(words, width, 10.0)
