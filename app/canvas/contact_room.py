"""The inner loops that tell whether a place is free, and how far from what lies around it.

Shapes and places as in :mod:`app.canvas.contact_kernels`. ``walls`` says how many of the
obstacles, which come first, are outlines to stay inside.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from app.canvas.contact_kernels import Floats, Ints, Shapes


@njit(cache=True, nogil=True)
def _between(
    ax: float, ay: float, bx: float, by: float, cx: float, cy: float, dx: float, dy: float
) -> float:
    """Squared distance of two segments; 0 if they cross."""
    ux, uy, vx, vy = bx - ax, by - ay, dx - cx, dy - cy
    cross = ux * vy - uy * vx
    wx, wy = cx - ax, cy - ay
    if abs(cross) > 1e-12:
        s = (wx * vy - wy * vx) / cross
        t = (wx * uy - wy * ux) / cross
        if 0.0 <= s <= 1.0 and 0.0 <= t <= 1.0:
            return 0.0
    best = _to_segment(ax, ay, cx, cy, dx, dy)
    best = min(best, _to_segment(bx, by, cx, cy, dx, dy))
    best = min(best, _to_segment(cx, cy, ax, ay, bx, by))
    return min(best, _to_segment(dx, dy, ax, ay, bx, by))


@njit(cache=True, nogil=True)
def _to_segment(px: float, py: float, ax: float, ay: float, bx: float, by: float) -> float:
    ex, ey = bx - ax, by - ay
    square = ex * ex + ey * ey
    t = 0.0
    if square > 0.0:
        t = min(1.0, max(0.0, ((px - ax) * ex + (py - ay) * ey) / square))
    gx, gy = px - ax - t * ex, py - ay - t * ey
    return gx * gx + gy * gy


@njit(cache=True, nogil=True)
def _inside(px: float, py: float, edges: Floats, start: int, stop: int) -> bool:
    """Even-odd test against the edges start…stop, holes included."""
    odd = False
    for e in range(start, stop):
        ay, by = edges[e, 1], edges[e, 3]
        if (ay > py) != (by > py):
            x = edges[e, 0] + (py - ay) / (by - ay) * (edges[e, 2] - edges[e, 0])
            if px < x:
                odd = not odd
    return odd


@njit(cache=True, nogil=True)
def gap_to(
    moving: Floats,
    span: Floats,
    parts: Ints,
    boxes: Floats,
    edges: Floats,
    firsts: Ints,
    o: int,
    wall: bool,
    tx: float,
    ty: float,
    enough: float,
) -> float:
    """Distance of the moving shape at (tx, ty) to obstacle o; −1 if they overlap.

    wall: the obstacle is the outline the shape must stay inside. Distances beyond ``enough``
    come back as ``enough``.
    """
    mx0, my0, mx1, my1 = span[0] + tx, span[1] + ty, span[2] + tx, span[3] + ty
    if wall and (mx0 < boxes[o, 0] or my0 < boxes[o, 1] or mx1 > boxes[o, 2] or my1 > boxes[o, 3]):
        return -1.0
    if not wall and (
        boxes[o, 0] > mx1 + enough
        or boxes[o, 2] < mx0 - enough
        or boxes[o, 1] > my1 + enough
        or boxes[o, 3] < my0 - enough
    ):
        return enough
    best = enough * enough
    for e in range(firsts[o], firsts[o + 1]):
        ax, ay, bx, by = edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3]
        ex0, ex1 = min(ax, bx) - enough, max(ax, bx) + enough
        ey0, ey1 = min(ay, by) - enough, max(ay, by) + enough
        if ex0 > mx1 or ex1 < mx0 or ey0 > my1 or ey1 < my0:
            continue
        for k in range(len(moving)):
            px, py = moving[k, 0] + tx, moving[k, 1] + ty
            qx, qy = moving[k, 2] + tx, moving[k, 3] + ty
            if min(px, qx) > ex1 or max(px, qx) < ex0:
                continue
            if min(py, qy) > ey1 or max(py, qy) < ey0:
                continue
            square = _between(px, py, qx, qy, ax, ay, bx, by)
            if square == 0.0:
                return -1.0
            best = min(best, square)
    for p in range(len(parts) - 1):
        k = parts[p]
        if _inside(moving[k, 0] + tx, moving[k, 1] + ty, edges, firsts[o], firsts[o + 1]) != wall:
            return -1.0
    if not wall:
        x, y = edges[firsts[o], 0] - tx, edges[firsts[o], 1] - ty
        for p in range(len(parts) - 1):
            if _inside(x, y, moving, parts[p], parts[p + 1]):
                return -1.0
    return math.sqrt(best)


@njit(cache=True, nogil=True)
def _keeps(
    moving: Floats,
    span: Floats,
    parts: Ints,
    boxes: Floats,
    edges: Floats,
    firsts: Ints,
    o: int,
    wall: bool,
    tx: float,
    ty: float,
    keep: float,
    near: Ints,
) -> bool:
    """True if the shape at (tx, ty) is ``keep`` from obstacle o and does not overlap it.

    The same answer as :func:`gap_to` would give, found without measuring: the first pair of
    edges that is too near decides. near: room to work in, as long as ``moving``.
    """
    mx0, my0, mx1, my1 = span[0] + tx, span[1] + ty, span[2] + tx, span[3] + ty
    bx0, by0, bx1, by1 = boxes[o, 0], boxes[o, 1], boxes[o, 2], boxes[o, 3]
    far = max(keep, 0.0)  # where nothing is to be kept, crossing is still looked for
    if wall:
        if mx0 < bx0 or my0 < by0 or mx1 > bx1 or my1 > by1:
            return False
    elif bx0 > mx1 + far or bx1 < mx0 - far or by0 > my1 + far or by1 < my0 - far:
        return True
    # One inside the other is found in one walk round it, before any pair is looked at.
    for p in range(len(parts) - 1):
        k = parts[p]
        if _inside(moving[k, 0] + tx, moving[k, 1] + ty, edges, firsts[o], firsts[o + 1]) != wall:
            return False
    if not wall:
        x, y = edges[firsts[o], 0] - tx, edges[firsts[o], 1] - ty
        for p in range(len(parts) - 1):
            if _inside(x, y, moving, parts[p], parts[p + 1]):
                return False
    # The edges of the shape that can come near this obstacle at all, and their box.
    count = 0
    nx0, ny0, nx1, ny1 = np.inf, np.inf, -np.inf, -np.inf
    for k in range(len(moving)):
        x0, x1 = min(moving[k, 0], moving[k, 2]) + tx, max(moving[k, 0], moving[k, 2]) + tx
        y0, y1 = min(moving[k, 1], moving[k, 3]) + ty, max(moving[k, 1], moving[k, 3]) + ty
        if x0 > bx1 + far or x1 < bx0 - far or y0 > by1 + far or y1 < by0 - far:
            continue
        near[count] = k
        count += 1
        nx0, nx1 = min(nx0, x0), max(nx1, x1)
        ny0, ny1 = min(ny0, y0), max(ny1, y1)
    if not count:
        return True
    least = far * far
    for e in range(firsts[o], firsts[o + 1]):
        ax, ay, bx, by = edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3]
        ex0, ex1 = min(ax, bx) - far, max(ax, bx) + far
        ey0, ey1 = min(ay, by) - far, max(ay, by) + far
        if ex0 > nx1 or ex1 < nx0 or ey0 > ny1 or ey1 < ny0:
            continue
        for i in range(count):
            k = near[i]
            px, py = moving[k, 0] + tx, moving[k, 1] + ty
            qx, qy = moving[k, 2] + tx, moving[k, 3] + ty
            if min(px, qx) > ex1 or max(px, qx) < ex0 or min(py, qy) > ey1 or max(py, qy) < ey0:
                continue
            square = _between(px, py, qx, qy, ax, ay, bx, by)
            if square == 0.0 or square < least:
                return False
    return True


@njit(cache=True, nogil=True)
def _free_of(
    shapes: Shapes,
    reaches: Floats,
    walls: int,
    tx: float,
    ty: float,
    slack: float,
    those: Ints,
    first: int,
    near: Ints,
) -> int:
    """The obstacle among ``those`` that bars (tx, ty), −1 if none; ``first`` is asked first."""
    moving, span, parts, boxes, edges, firsts = shapes  # once: what is asked of each is flat
    for i in range(-1, len(those)):
        o = those[i] if i >= 0 else first
        if o >= 0 and not _keeps(
            moving,
            span,
            parts,
            boxes,
            edges,
            firsts,
            o,
            o < walls,
            tx,
            ty,
            reaches[o] - slack,
            near,
        ):
            return int(o)
    return -1


@njit(cache=True, nogil=True)
def _within(
    shapes: Shapes, reaches: Floats, walls: int, x0: float, y0: float, x1: float, y1: float
) -> Ints:
    """Walls, and obstacles that the shape can come near at shifts of x0…x1 by y0…y1."""
    _, span, _, boxes, _, _ = shapes
    found = np.empty(len(reaches), np.int64)
    count = 0
    for o in range(len(reaches)):
        reach = reaches[o]
        if o >= walls and (
            boxes[o, 0] > span[2] + x1 + reach
            or boxes[o, 2] < span[0] + x0 - reach
            or boxes[o, 1] > span[3] + y1 + reach
            or boxes[o, 3] < span[1] + y0 - reach
        ):
            continue
        found[count] = o
        count += 1
    return found[:count]


@njit(cache=True, nogil=True)
def is_free(
    shapes: Shapes, reaches: Floats, walls: int, tx: float, ty: float, slack: float
) -> bool:
    """True if the shape keeps every distance at (tx, ty), less ``slack``.

    The first ``walls`` obstacles are outlines it must stay inside.
    """
    near = np.empty(len(shapes[0]), np.int64)
    those = _within(shapes, reaches, walls, tx, ty, tx, ty)
    return _free_of(shapes, reaches, walls, tx, ty, slack, those, -1, near) < 0


@njit(cache=True, nogil=True)
def search_free(
    shapes: Shapes,
    reaches: Floats,
    walls: int,
    wx: float,
    wy: float,
    step: float,
    farthest: float,
    slack: float,
) -> tuple[bool, float, float]:
    """A free place near (wx, wy), looked for on widening rings of 16 spots."""
    near = np.empty(len(shapes[0]), np.int64)
    those = _within(
        shapes, reaches, walls, wx - farthest, wy - farthest, wx + farthest, wy + farthest
    )
    barred = -1  # what bars one spot often bars the next
    radius = step
    while radius <= farthest:
        for i in range(16):
            angle = i * math.pi / 8.0
            x, y = wx + radius * math.cos(angle), wy + radius * math.sin(angle)
            barred = _free_of(shapes, reaches, walls, x, y, slack, those, barred, near)
            if barred < 0:
                return True, x, y
        radius *= 1.5
    return False, wx, wy


@njit(cache=True, nogil=True)
def gaps(shapes: Shapes, keeps: Floats, walls: int, tx: float, ty: float, beyond: float) -> Floats:
    """Distance to every obstacle, −1 where they overlap, at most its keep plus ``beyond``."""
    moving, span, parts, boxes, edges, firsts = shapes
    out = np.empty(len(keeps))
    for o in range(len(keeps)):
        enough = keeps[o] + beyond
        out[o] = gap_to(moving, span, parts, boxes, edges, firsts, o, o < walls, tx, ty, enough)
    return out


@njit(cache=True, nogil=True)
def first_free(
    shapes: Shapes, reaches: Floats, walls: int, wide: float, high: float, step: float, slack: float
) -> tuple[bool, float, float]:
    """The leftmost, then lowest free place among shifts 0…wide by 0…high on a grid."""
    near = np.empty(len(shapes[0]), np.int64)
    barred = -1
    across = int(wide / step) + 2
    up = int(high / step) + 2
    for i in range(across):
        x = min(i * step, wide)
        those = _within(shapes, reaches, walls, x, 0.0, x, high)
        for j in range(up):
            y = min(j * step, high)
            barred = _free_of(shapes, reaches, walls, x, y, slack, those, barred, near)
            if barred < 0:
                return True, x, y
    return False, 0.0, 0.0
