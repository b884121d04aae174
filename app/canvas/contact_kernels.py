"""The inner loops of :mod:`app.canvas.contact`, compiled.

Shapes are edge tables: rows (x0, y0, x1, y1) of every ring, in mm. What moves and what stays go
together as one value, :data:`Shapes`: ``moving``, its table; ``span``, its bounds (min x, min y,
max x, max y); ``parts``, the row at which each of its pieces begins, with the end appended;
``boxes``, the bounds of each obstacle; ``edges``, the obstacles' table; ``firsts``, the row at
which each of them begins, with the end appended. A place (tx, ty) is the shift of the moving
shape from where its table has it.

An obstacle keeps the moving shape at ``reach`` mm: the set of points nearer than that to one of
its edges is a capsule, and the first meeting of two shapes is always a corner of one with the
capsule of an edge of the other, so corners against edges, both ways round, is exact.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
#: moving, span, parts, boxes, edges, firsts
Shapes = tuple[Floats, Floats, Ints, Floats, Floats, Ints]
_FIRST_STRETCH_MM = 2.0  # a shape that glides meets the next side about as soon


@njit(cache=True, nogil=True)
def _line_hit(
    px: float,
    py: float,
    ax: float,
    ay: float,
    bx: float,
    by: float,
    reach: float,
    dx: float,
    dy: float,
    best: float,
) -> tuple[float, float, float]:
    """When a point moving by (dx, dy) comes within reach of a segment's flat side.

    Returns (share of the way, normal x, normal y); the share is ``best`` if it does not come.
    """
    ex, ey = bx - ax, by - ay
    length = math.hypot(ex, ey)
    if length < 1e-12:
        return best, 0.0, 0.0
    nx, ny = -ey / length, ex / length
    side = (px - ax) * nx + (py - ay) * ny
    if side < 0.0:
        nx, ny, side = -nx, -ny, -side
    speed = dx * nx + dy * ny
    if speed >= -1e-12:
        return best, 0.0, 0.0
    # A point that is a little too near already may not come nearer; one far inside has
    # met another edge before and must be able to leave.
    slack = side - reach
    if slack < -1e-3:
        return best, 0.0, 0.0
    share = max(slack, 0.0) / -speed
    if share >= best:
        return best, 0.0, 0.0
    along = ((px + share * dx - ax) * ex + (py + share * dy - ay) * ey) / length
    if along < 0.0 or along > length:
        return best, 0.0, 0.0
    return share, nx, ny


@njit(cache=True, nogil=True)
def _corner_hit(
    px: float, py: float, ax: float, ay: float, reach: float, dx: float, dy: float, best: float
) -> tuple[float, float, float]:
    """When a point moving by (dx, dy) comes within reach of a corner; as _line_hit."""
    vx, vy = px - ax, py - ay
    b = vx * dx + vy * dy
    if b >= 0.0:
        return best, 0.0, 0.0
    gap = math.hypot(vx, vy)
    if gap < reach - 1e-3 or gap < 1e-12:
        return best, 0.0, 0.0
    if gap <= reach:
        return 0.0, vx / gap, vy / gap
    a = dx * dx + dy * dy
    c = vx * vx + vy * vy - reach * reach
    root = b * b - a * c
    if root < 0.0:
        return best, 0.0, 0.0
    share = (-b - math.sqrt(root)) / a
    if share < 0.0 or share >= best or reach < 1e-9:
        return best, 0.0, 0.0
    return share, (vx + share * dx) / reach, (vy + share * dy) / reach


@njit(cache=True, nogil=True)
def cast(
    shapes: Shapes, reaches: Floats, tx: float, ty: float, dx: float, dy: float
) -> tuple[float, int, float, float]:
    """How far the moving shape, laid at (tx, ty), can go along (dx, dy).

    Returns (share of the way 0–1, obstacle met or −1, normal x, normal y pointing at the
    moving shape).
    """
    moving, span, _, boxes, edges, firsts = shapes
    best, met, bnx, bny = 1.0, -1, 0.0, 0.0
    mx0 = span[0] + tx + min(dx, 0.0)
    mx1 = span[2] + tx + max(dx, 0.0)
    my0 = span[1] + ty + min(dy, 0.0)
    my1 = span[3] + ty + max(dy, 0.0)
    near = np.empty(len(moving), np.int64)
    for o in range(len(reaches)):
        reach = reaches[o]
        if boxes[o, 0] - reach > mx1 or boxes[o, 2] + reach < mx0:
            continue
        if boxes[o, 1] - reach > my1 or boxes[o, 3] + reach < my0:
            continue
        # Edges of the moving shape that can come near this obstacle at all, and the box they
        # sweep.
        count = 0
        sx0, sx1, sy0, sy1 = np.inf, -np.inf, np.inf, -np.inf
        for k in range(len(moving)):
            lx0 = min(moving[k, 0], moving[k, 2]) + tx + min(dx, 0.0) - reach
            lx1 = max(moving[k, 0], moving[k, 2]) + tx + max(dx, 0.0) + reach
            if boxes[o, 0] > lx1 or boxes[o, 2] < lx0:
                continue
            ly0 = min(moving[k, 1], moving[k, 3]) + ty + min(dy, 0.0) - reach
            ly1 = max(moving[k, 1], moving[k, 3]) + ty + max(dy, 0.0) + reach
            if boxes[o, 1] > ly1 or boxes[o, 3] < ly0:
                continue
            near[count] = k
            count += 1
            sx0, sx1 = min(sx0, lx0), max(sx1, lx1)
            sy0, sy1 = min(sy0, ly0), max(sy1, ly1)
        if not count:
            continue
        for e in range(firsts[o], firsts[o + 1]):
            ax, ay, bx, by = edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3]
            ex0, ex1 = min(ax, bx), max(ax, bx)
            ey0, ey1 = min(ay, by), max(ay, by)
            if ex0 > sx1 or ex1 < sx0 or ey0 > sy1 or ey1 < sy0:
                continue
            for i in range(count):
                k = near[i]
                px, py = moving[k, 0] + tx, moving[k, 1] + ty
                qx, qy = moving[k, 2] + tx, moving[k, 3] + ty
                if min(px, qx) + min(dx, 0.0) - reach > ex1:
                    continue
                if max(px, qx) + max(dx, 0.0) + reach < ex0:
                    continue
                if min(py, qy) + min(dy, 0.0) - reach > ey1:
                    continue
                if max(py, qy) + max(dy, 0.0) + reach < ey0:
                    continue
                share, nx, ny = _line_hit(px, py, ax, ay, bx, by, reach, dx, dy, best)
                if share < best:
                    best, met, bnx, bny = share, o, nx, ny
                share, nx, ny = _corner_hit(px, py, ax, ay, reach, dx, dy, best)
                if share < best:
                    best, met, bnx, bny = share, o, nx, ny
                # The obstacle's corner against the moving edge is the same with the way turned.
                share, nx, ny = _line_hit(ax, ay, px, py, qx, qy, reach, -dx, -dy, best)
                if share < best:
                    best, met, bnx, bny = share, o, -nx, -ny
    return best, met, bnx, bny


@njit(cache=True, nogil=True)
def cast_near(
    shapes: Shapes, reaches: Floats, tx: float, ty: float, dx: float, dy: float
) -> tuple[float, int, float, float]:
    """As :func:`cast`, for a shape that is likely to meet something soon.

    A short first stretch of the way sweeps over far less than all of it, and what is met there
    is met first.
    """
    length = math.hypot(dx, dy)
    stretch = _FIRST_STRETCH_MM
    while 3.0 * stretch < length:
        part = stretch / length
        share, met, nx, ny = cast(shapes, reaches, tx, ty, part * dx, part * dy)
        if met >= 0:
            return share * part, met, nx, ny
        stretch *= 8.0
    return cast(shapes, reaches, tx, ty, dx, dy)


@njit(cache=True, nogil=True)
def slide(
    shapes: Shapes, reaches: Floats, tx: float, ty: float, wx: float, wy: float, rounds: int
) -> tuple[float, float]:
    """Move from the legal (tx, ty) towards (wx, wy), gliding along what is met.

    Every round goes straight at the goal, then along the side that stopped it; in a corner of
    two sides it rests. Returns where it comes to rest.
    """
    onx, ony = 0.0, 0.0
    for _ in range(rounds):
        dx, dy = wx - tx, wy - ty
        if dx * dx + dy * dy < 1e-12:
            break
        share, met, nx, ny = cast_near(shapes, reaches, tx, ty, dx, dy)
        tx += share * dx
        ty += share * dy
        if met < 0:
            break
        rx, ry = wx - tx, wy - ty
        into = rx * nx + ry * ny
        gx, gy = rx - into * nx, ry - into * ny
        if gx * gx + gy * gy < 1e-10:
            break
        moved = share * share * (dx * dx + dy * dy)
        if moved < 1e-12 and gx * onx + gy * ony < -1e-9 and (onx != 0.0 or ony != 0.0):
            break
        share, _, _, _ = cast_near(shapes, reaches, tx, ty, gx, gy)
        tx += share * gx
        ty += share * gy
        onx, ony = nx, ny
        if share * share * (gx * gx + gy * gy) < 1e-12:
            if moved < 1e-12:
                break
            # Stopped by a second side at once: one more look at the goal decides.
            continue
    return tx, ty
