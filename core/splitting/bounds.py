"""Proving that fewer pieces cannot do: how much of a panel one piece can cover at most."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from core.splitting.model import PieceLimits

_CELLS = 72  # of the raster across the panel's longer side


def coverage_bound(board: Polygon, limits: PieceLimits, enough: int) -> int:
    """A number of pieces no plan can be below, by area that one room can cover.

    The panel is rastered; over every turn and place of a room, grown by what the raster and
    the step of turning may miss, the most board it covers is summed from a table. If one piece
    covers at most a share, at least 1 / share pieces are needed. enough: stop as soon as the
    bound reaches it. Own derivation; the summed-area table is Crow 1984 (from memory).
    """
    x1, y1, x2, y2 = board.bounds
    cell = max(x2 - x1, y2 - y1) / _CELLS
    if cell <= 0.0 or not limits.envelopes_mm:
        return 1
    points, weights = _raster(board, cell)
    radius = float(
        np.hypot(points[:, 0] - points[:, 0].mean(), points[:, 1] - points[:, 1].mean()).max()
    )
    if limits.turns_deg is None:
        steps = 60
        angles = np.arange(steps) * math.pi / steps
        slack = 2 * radius * math.sin(math.pi / steps / 4)
    else:
        angles = np.radians(np.array(limits.turns_deg))
        slack = 0.0
    most = 0.0
    total = float(weights.sum())
    for angle in angles:
        table, unit = _table(points, weights, float(angle), cell)
        for w, h in limits.envelopes_mm:
            # A cell's centre is counted where any of it may be: half a cell each way, and the
            # window starts anywhere between two columns of the table.
            grow = cell * (abs(math.cos(angle)) + abs(math.sin(angle))) + 2 * slack
            most = max(most, _most_in(table, w + grow, h + grow, unit))
        if total / most <= enough - 1:
            return max(1, math.ceil(total / most - 1e-9))
    return max(1, math.ceil(total / most - 1e-9))


def _raster(board: Polygon, cell: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Centres of cells that hold board, and the exact area of board in each."""
    x1, y1, x2, y2 = board.bounds
    xs = np.arange(x1, x2, cell)
    ys = np.arange(y1, y2, cell)
    corners = np.array([(x, y) for y in ys for x in xs])
    gx, gy = corners[:, 0], corners[:, 1]
    boxes = shapely.box(gx, gy, gx + cell, gy + cell)
    shapely.prepare(board)
    inside = shapely.contains_properly(board, boxes)
    touch = ~inside & shapely.intersects(board, boxes)
    area = np.where(inside, cell * cell, 0.0)
    area[touch] = shapely.area(shapely.intersection(boxes[touch], board))
    keep = area > 0.0
    centres = np.column_stack([gx[keep] + cell / 2, gy[keep] + cell / 2])
    return centres, area[keep]


def _table(
    points: NDArray[np.float64], weights: NDArray[np.float64], angle: float, unit: float
) -> tuple[NDArray[np.float64], float]:
    c, s = math.cos(angle), math.sin(angle)
    x = points[:, 0] * c - points[:, 1] * s
    y = points[:, 0] * s + points[:, 1] * c
    i = np.floor((x - x.min()) / unit).astype(int)
    j = np.floor((y - y.min()) / unit).astype(int)
    grid = np.zeros((int(i.max()) + 1, int(j.max()) + 1))
    np.add.at(grid, (i, j), weights)
    table = np.zeros((grid.shape[0] + 1, grid.shape[1] + 1))
    table[1:, 1:] = grid.cumsum(0).cumsum(1)
    return table, unit


def _most_in(table: NDArray[np.float64], width: float, height: float, unit: float) -> float:
    """Most weight in any window that a room so large may touch."""
    # A room of width w touches at most ceil(w / unit) + 1 columns.
    nx = min(table.shape[0] - 1, math.ceil(width / unit - 1e-9) + 1)
    ny = min(table.shape[1] - 1, math.ceil(height / unit - 1e-9) + 1)
    window = table[nx:, ny:] - table[:-nx, ny:] - table[nx:, :-ny] + table[:-nx, :-ny]
    return float(window.max())
