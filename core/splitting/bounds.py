"""Proving that fewer pieces cannot do: how much of a panel one piece can cover at most."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from core.splitting.model import PieceLimits

FloatArray = NDArray[np.float64]
_CELLS = 72  # of the raster across the panel's longer side, for its area
_EDGE_CELLS = 320  # the same for its edge, which is few cells however fine
_TURNS = 60
_EDGE_TURNS = 180


def coverage_bound(board: Polygon, limits: PieceLimits, enough: int) -> int:
    """A number of pieces no plan can be below, by how much of the panel one room can cover.

    Pieces share out the panel's area and also its outer edge, or any part of it, so each can be
    counted. They are rastered; over every turn and place of a room, grown by what the raster
    and the step of turning may miss, the most it covers is summed from a table. If one piece
    covers at most a share, at least 1 / share pieces are needed. enough: stop as soon as the
    bound reaches it. Own derivation; the summed-area table is Crow 1984 (from memory).
    """
    x1, y1, x2, y2 = board.bounds
    size = max(x2 - x1, y2 - y1)
    if size <= 0.0 or not limits.envelopes_mm:
        return 1
    cell = size / _CELLS
    bound = _covered(*_area_cells(board, cell), cell, cell, _TURNS, limits, enough)
    if bound >= enough:
        return bound
    cell = size / _EDGE_CELLS
    points, runs = _edge_points(board, cell)
    lengths = np.hypot(runs[:, 0], runs[:, 1])
    # A point stands for its stretch of edge, which reaches half its length to either side.
    reach = float(lengths.max()) / math.sqrt(2.0)
    bound = max(bound, _covered(points, lengths, cell, reach, _EDGE_TURNS, limits, enough))
    if bound >= enough:
        return bound
    # Of a long panel the long edges alone: its ends would make up for what lies between.
    along = np.abs(runs @ _long_direction(board))
    keep = along > 0.5 * lengths
    if not keep.any():
        return bound
    more = _covered(points[keep], along[keep], cell, reach, _EDGE_TURNS, limits, enough)
    return max(bound, more)


def _long_direction(board: Polygon) -> FloatArray:
    """Unit vector along the longer side of the tightest rectangle round a panel."""
    ring = shapely.get_coordinates(shapely.minimum_rotated_rectangle(board))
    sides = ring[1:3] - ring[:2]
    longer = sides[int(np.argmax(np.hypot(sides[:, 0], sides[:, 1])))]
    return np.asarray(longer / math.hypot(*longer))


def _covered(
    points: FloatArray,
    weights: FloatArray,
    cell: float,
    reach: float,
    turns: int,
    limits: PieceLimits,
    enough: int,
) -> int:
    """The bound for one measure: points with weights, each standing for a square of side reach."""
    radius = float(
        np.hypot(points[:, 0] - points[:, 0].mean(), points[:, 1] - points[:, 1].mean()).max()
    )
    if limits.turns_deg is None:
        angles = np.arange(turns) * math.pi / turns
        slack = 2 * radius * math.sin(math.pi / turns / 4)
    else:
        angles = np.radians(np.array(limits.turns_deg))
        slack = 0.0
    most = 0.0
    total = float(weights.sum())
    for angle in angles:
        table = _table(points, weights, float(angle), cell)
        for w, h in limits.envelopes_mm:
            # A point is counted where any of what it stands for may be, and the window starts
            # anywhere between two columns of the table.
            grow = reach * (abs(math.cos(angle)) + abs(math.sin(angle))) + 2 * slack
            most = max(most, _most_in(table, w + grow, h + grow, cell))
        if total / most <= enough - 1:
            break
    return max(1, math.ceil(total / most - 1e-9))


def _area_cells(board: Polygon, cell: float) -> tuple[FloatArray, FloatArray]:
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


def _edge_points(board: Polygon, cell: float) -> tuple[FloatArray, FloatArray]:
    """Middles of short stretches of the outer edge, and their vectors."""
    rim = shapely.segmentize(board.exterior, cell / 2)
    xy = shapely.get_coordinates(rim)
    return (xy[1:] + xy[:-1]) / 2, xy[1:] - xy[:-1]


def _table(points: FloatArray, weights: FloatArray, angle: float, unit: float) -> FloatArray:
    c, s = math.cos(angle), math.sin(angle)
    x = points[:, 0] * c - points[:, 1] * s
    y = points[:, 0] * s + points[:, 1] * c
    i = np.floor((x - x.min()) / unit).astype(int)
    j = np.floor((y - y.min()) / unit).astype(int)
    columns, rows = int(i.max()) + 1, int(j.max()) + 1
    grid = np.bincount(i * rows + j, weights, minlength=columns * rows).reshape(columns, rows)
    table = np.zeros((columns + 1, rows + 1))
    table[1:, 1:] = grid.cumsum(0).cumsum(1)
    return table


def _most_in(table: FloatArray, width: float, height: float, unit: float) -> float:
    """Most weight in any window that a room so large may touch."""
    # A room of width w touches at most ceil(w / unit) + 1 columns.
    nx = min(table.shape[0] - 1, math.ceil(width / unit - 1e-9) + 1)
    ny = min(table.shape[1] - 1, math.ceil(height / unit - 1e-9) + 1)
    window = table[nx:, ny:] - table[:-nx, ny:] - table[nx:, :-ny] + table[:-nx, :-ny]
    return float(window.max())
