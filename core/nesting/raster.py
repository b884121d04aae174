"""Construction on a raster: a valid layout within the first moments.

Sheets are grids of cells; a piece is the set of cells it touches, so what is free of overlap
on the grid is free of overlap. For each column the next blocked and the next free cell are
known, so a place is found by jumping from obstacle to obstacle.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from core.nesting.prepare import Floats, Ints

Cells = NDArray[np.uint8]
_HAIR = 1e-6  # part of a cell by which a touch is not yet a touch


@njit(cache=True, nogil=True)
def mark(cells, xy, starts, left, low, size_x, size_y):  # type: ignore[no-untyped-def]
    """Set every cell that the outline's inside touches. cells: (columns, rows), changed."""
    columns, rows = cells.shape
    for ring in range(len(starts) - 1):
        for k in range(starts[ring], starts[ring + 1] - 1):
            x0, y0 = (xy[k, 0] - left) / size_x, (xy[k, 1] - low) / size_y
            x1, y1 = (xy[k + 1, 0] - left) / size_x, (xy[k + 1, 1] - low) / size_y
            if x1 < x0:
                x0, y0, x1, y1 = x1, y1, x0, y0
            first = max(int(np.floor(x0 + _HAIR)), 0)
            last = min(int(np.ceil(x1 - _HAIR)) - 1, columns - 1)
            slope = (y1 - y0) / (x1 - x0) if x1 - x0 > 1e-12 else 0.0
            for c in range(first, last + 1):
                if x1 - x0 > 1e-12:
                    a = y0 + slope * (max(x0, c) - x0)
                    b = y0 + slope * (min(x1, c + 1.0) - x0)
                else:
                    a, b = y0, y1
                if b < a:
                    a, b = b, a
                bottom = max(int(np.floor(a + _HAIR)), 0)
                top = min(int(np.ceil(b - _HAIR)) - 1, rows - 1)
                for r in range(bottom, top + 1):
                    cells[c, r] = 1
    crossings = np.empty(len(xy) + 1)
    for c in range(columns):
        at = left + (c + 0.5) * size_x
        count = 0
        for ring in range(len(starts) - 1):
            for k in range(starts[ring], starts[ring + 1] - 1):
                xa, xb = xy[k, 0], xy[k + 1, 0]
                if (xa <= at) != (xb <= at):
                    t = (at - xa) / (xb - xa)
                    y = xy[k, 1] + t * (xy[k + 1, 1] - xy[k, 1])
                    crossings[count] = (y - low) / size_y
                    count += 1
        crossings[:count].sort()
        for pair in range(0, count - 1, 2):
            bottom = max(int(np.floor(crossings[pair] + _HAIR)), 0)
            top = min(int(np.ceil(crossings[pair + 1] - _HAIR)) - 1, rows - 1)
            for r in range(bottom, top + 1):
                cells[c, r] = 1


@njit(cache=True, nogil=True)
def runs_of(cells):  # type: ignore[no-untyped-def]
    """Upright runs of set cells: (n, 3) of column, first row, row past the last; tall first."""
    columns, rows = cells.shape
    found = np.empty((columns * (rows // 2 + 1), 3), np.int64)
    count = 0
    for c in range(columns):
        r = 0
        while r < rows:
            if cells[c, r]:
                start = r
                while r < rows and cells[c, r]:
                    r += 1
                found[count, 0] = c
                found[count, 1] = start
                found[count, 2] = r
                count += 1
            else:
                r += 1
    found = found[:count]
    order = np.argsort(found[:, 1] - found[:, 2], kind="mergesort")
    return found[order]


@njit(cache=True, nogil=True)
def refresh(cells, blocked, free, first, last):  # type: ignore[no-untyped-def]
    """Renew, for columns first to last, the next blocked and next free row from every row."""
    rows = cells.shape[1]
    for c in range(first, last + 1):
        blocked[c, rows] = rows
        free[c, rows] = rows
        for r in range(rows - 1, -1, -1):
            if cells[c, r]:
                blocked[c, r] = r
                free[c, r] = free[c, r + 1]
            else:
                blocked[c, r] = blocked[c, r + 1]
                free[c, r] = r


@njit(cache=True, nogil=True)
def leftmost(blocked, free, runs, width, height, start, end):  # type: ignore[no-untyped-def]
    """The lowest place in the leftmost column from start to end; (-1, -1) if there is none."""
    columns = blocked.shape[0]
    rows = blocked.shape[1] - 1
    for c in range(start, min(columns - width, end) + 1):
        r = 0
        while r + height <= rows:
            clear = True
            for k in range(len(runs)):
                column = c + runs[k, 0]
                hit = blocked[column, r + runs[k, 1]]
                if hit < r + runs[k, 2]:
                    r = free[column, hit] - runs[k, 1]
                    clear = False
                    break
            if clear:
                return c, r
    return -1, -1


@njit(cache=True, nogil=True)
def stamp(cells, runs, column, row):  # type: ignore[no-untyped-def]
    """Set the cells of a piece's runs, moved by (column, row)."""
    for k in range(len(runs)):
        c = column + runs[k, 0]
        for r in range(row + runs[k, 1], row + runs[k, 2]):
            cells[c, r] = 1


class Grid:
    """The free cells of one sheet. left, low: its lower left corner, mm."""

    __slots__ = ("blocked", "cells", "free", "left", "low", "reached", "size_x", "size_y")

    def __init__(self, cells: Cells, left: float, low: float, size_x: float, size_y: float):
        self.cells = cells
        self.left, self.low, self.size_x, self.size_y = left, low, size_x, size_y
        columns, rows = cells.shape
        self.blocked = np.empty((columns, rows + 1), np.int32)
        self.free = np.empty((columns, rows + 1), np.int32)
        self.reached: dict[int, int] = {}
        refresh(self.cells, self.blocked, self.free, 0, columns - 1)

    def copy(self) -> Grid:
        """A grid of its own with the same cells set."""
        twin = object.__new__(Grid)
        twin.cells, twin.blocked, twin.free = (
            self.cells.copy(), self.blocked.copy(), self.free.copy(),
        )  # fmt: skip
        twin.left, twin.low, twin.size_x, twin.size_y = (
            self.left, self.low, self.size_x, self.size_y,
        )  # fmt: skip
        twin.reached = dict(self.reached)
        return twin

    def block(self, xy: Floats, starts: Ints) -> None:
        """Block every cell an outline touches, in sheet coordinates."""
        mark(self.cells, xy, starts, self.left, self.low, self.size_x, self.size_y)

    def renew(self) -> None:
        """To be called after the last ``block``, before the first ``find``."""
        refresh(self.cells, self.blocked, self.free, 0, self.cells.shape[0] - 1)

    def find(
        self, key: int, runs: Ints, width: int, height: int, end: int = 1 << 30
    ) -> tuple[int, int]:
        """The lowest, leftmost place for a pose (key: its number); (-1, -1) if none.

        Cells are only ever filled, so the search goes on where it last stopped for the pose.
        """
        start = self.reached.get(key, 0)
        column, row = leftmost(self.blocked, self.free, runs, width, height, start, end)
        self.reached[key] = column if column >= 0 else max(start, min(end + 1, 1 << 30))
        return int(column), int(row)

    def put(self, runs: Ints, column: int, row: int, width: int) -> None:
        """Fill the cells of a pose at a place found."""
        stamp(self.cells, runs, column, row)
        refresh(self.cells, self.blocked, self.free, column, column + width - 1)


def cells_of(
    xy: Floats, starts: Ints, bounds: tuple[float, float, float, float], size_x: float,
    size_y: float,
) -> tuple[Ints, int, int]:  # fmt: skip
    """A pose's runs and its width and height in cells, its lower left corner on a corner."""
    width = max(int(np.ceil((bounds[2] - bounds[0]) / size_x - _HAIR)), 1)
    height = max(int(np.ceil((bounds[3] - bounds[1]) / size_y - _HAIR)), 1)
    cells = np.zeros((width, height), np.uint8)
    mark(cells, xy, starts, bounds[0], bounds[1], size_x, size_y)
    return runs_of(cells), width, height
