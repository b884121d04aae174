"""The compiled search: overlap of one position, the best position of one piece, separation.

Pieces may overlap while the search runs; each pair's overlap depth counts with a weight that
grows as long as the pair stays in conflict (guided local search). Everything is plain arrays,
described at ``Tables`` and ``State``; random numbers come from a generator of the state's own,
so a state and a number of evaluations give one result whatever the thread or clock.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numba import njit

from core.nesting.nfp import DEEP, NEAR_INSIDE, OUTSIDE, REF_X, REF_Y

# columns of State.where
X, Y, LEFT, LOW, RIGHT, HIGH, SIZE = 0, 1, 2, 3, 4, 5, 6
# columns of State.what
POSE, BIN, KIND, SLOT, MOVABLE = 0, 1, 2, 3, 4
# entries of State.tally
LOSS, BEST, IDLE, EVALS, TARGET = 0, 1, 2, 3, 4
# entries of Tables.tune
UNIFORM, LOCAL, GROWTH, DECAY, PATIENCE, GAIN, TOUCH, SPREAD = 0, 1, 2, 3, 4, 5, 6, 7
# what separate reports
GOING_ON, SOLVED, STUCK = 0, 1, 2

_TOP = 3
_LINES = 12


class Tables(NamedTuple):
    """What never changes during a search.

    pose (p, 10): grown bounds, outline bounds, cos, sin. code (p, p): 2·no-fit polygon +
    swapped, or −1. frame (k, 6), side (k, 3): grid, number of its first edge and first cell.
    edges, cells, listed: all no-fit polygons' one after another. kind_start, kind_pose: poses
    of each kind. bins_ok (kinds, bins): whether a kind may go there. tune: numbers that steer.
    """

    pose: Any
    code: Any
    frame: Any
    side: Any
    edges: Any
    cells: Any
    listed: Any
    kind_start: Any
    kind_pose: Any
    tune: Any


class State(NamedTuple):
    """What the search changes.

    where (n, 7): centre, bounds, size √√area. what (n, 5): pose, bin, kind, place in its bin's
    list, movable. members (b, n), count (b): the pieces in each bin; box (b, n, 4):
    their grown bounds in that order. room (b, 4): left, low,
    right, high. live (b): bins in play. weight, depth (n, n). rng (1). tally: see above.
    best_where, best_what: copies at the least loss.
    """

    where: Any
    what: Any
    members: Any
    count: Any
    box: Any
    room: Any
    live: Any
    weight: Any
    depth: Any
    rng: Any
    tally: Any
    best_where: Any
    best_what: Any


@njit(cache=True, nogil=True, error_model="numpy")
def _random(rng):  # type: ignore[no-untyped-def]
    """The next number in [0, 1); xorshift64*."""
    s = rng[0]
    s ^= s >> np.uint64(12)
    s ^= s << np.uint64(25)
    s ^= s >> np.uint64(27)
    rng[0] = s
    return float((s * np.uint64(2685821657736338717)) >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@njit(cache=True, nogil=True, error_model="numpy")
def _normal(rng):  # type: ignore[no-untyped-def]
    return (_random(rng) + _random(rng) + _random(rng) + _random(rng) - 2.0) * 1.7320508


@njit(cache=True, nogil=True, error_model="numpy")
def depth_at(T, which, x, y):  # type: ignore[no-untyped-def]
    """How deep a point lies in a no-fit polygon, mm; 0 outside."""
    frame, edges, listed = T.frame, T.edges, T.listed
    fx = (x - frame[which, 0]) * frame[which, 2]
    fy = (y - frame[which, 1]) * frame[which, 3]
    side = T.side[which, 0]
    if fx <= 0.0 or fy <= 0.0 or fx >= side or fy >= side:
        return 0.0
    ix, iy = int(fx), int(fy)
    cell = T.side[which, 2] + ix * side + iy
    packed = T.cells[cell]
    flag = packed & 3
    if flag == OUTSIDE:
        return 0.0
    shift = T.side[which, 3]
    first, last = shift + (packed >> 2), shift + (T.cells[cell + 1] >> 2)
    base = T.side[which, 1]
    least = np.inf
    if flag == DEEP:
        for k in range(first, last):
            e = base + listed[k]
            x0, y0 = edges[e, 0], edges[e, 1]
            px, py = x - x0, y - y0
            dx, dy = edges[e, 2] - x0, edges[e, 3] - y0
            t = min(max((px * dx + py * dy) * edges[e, 4], 0.0), 1.0)
            px -= t * dx
            py -= t * dy
            least = min(least, px * px + py * py)
        return np.sqrt(least)
    inside = flag == NEAR_INSIDE
    rx = frame[which, 0] + (ix + REF_X) / frame[which, 2]
    ry = frame[which, 1] + (iy + REF_Y) / frame[which, 3]
    qx, qy = x - rx, y - ry
    for k in range(first, last):
        e = base + listed[k]
        x0, y0, x1, y1 = edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3]
        px, py = x - x0, y - y0
        dx, dy = x1 - x0, y1 - y0
        ox, oy = x0 - rx, y0 - ry
        crossed = (qx * oy - qy * ox >= 0.0) != (qx * (y1 - ry) - qy * (x1 - rx) >= 0.0)
        inside ^= crossed & ((dx * py - dy * px >= 0.0) != (dy * ox - dx * oy >= 0.0))
        t = min(max((px * dx + py * dy) * edges[e, 4], 0.0), 1.0)
        px -= t * dx
        py -= t * dy
        least = min(least, px * px + py * py)
    return np.sqrt(least) if inside else 0.0


@njit(cache=True, nogil=True, error_model="numpy")
def nearest_at(T, which, x, y):  # type: ignore[no-untyped-def]
    """The nearest boundary point of a no-fit polygon to a point inside it."""
    frame = T.frame[which]
    side = T.side[which, 0]
    ix = min(max(int((x - frame[0]) * frame[2]), 0), side - 1)
    iy = min(max(int((y - frame[1]) * frame[3]), 0), side - 1)
    cell = T.side[which, 2] + ix * side + iy
    first, last = T.cells[cell] >> 2, T.cells[cell + 1] >> 2
    least, bx, by = np.inf, x, y
    for k in range(first, last):
        e = T.edges[T.side[which, 1] + T.listed[T.side[which, 3] + k]]
        dx, dy = e[2] - e[0], e[3] - e[1]
        t = min(max(((x - e[0]) * dx + (y - e[1]) * dy) * e[4], 0.0), 1.0)
        nx, ny = e[0] + t * dx, e[1] + t * dy
        d = (x - nx) ** 2 + (y - ny) ** 2
        if d < least:
            least, bx, by = d, nx, ny
    return bx, by


@njit(cache=True, nogil=True, error_model="numpy")
def pair_depth(T, pose_i, xi, yi, pose_j, xj, yj):  # type: ignore[no-untyped-def]
    """Overlap depth of two poses at two positions, mm."""
    code = T.code[pose_i, pose_j]
    base = pose_i
    dx, dy = xj - xi, yj - yi
    if code & 1:
        base = pose_j
        dx, dy = -dx, -dy
    cos, sin = T.pose[base, 8], T.pose[base, 9]
    return depth_at(T, code >> 1, cos * dx + sin * dy, cos * dy - sin * dx)


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def _overlap(  # type: ignore[no-untyped-def]
    poses, code, frame, sides, edges, cells, listed, box, members, count, what, where, weight,
    i, pose, bin_, x, y, bound,
):  # fmt: skip
    """``evaluate`` on bare arrays, with ``pair_depth`` written out, copied by the compiler into
    each of the loops that need it: most time is spent here, and a call with so many arrays
    takes as long as a third of it."""
    left, low = x + poses[pose, 0], y + poses[pose, 1]
    right, high = x + poses[pose, 2], y + poses[pose, 3]
    total = 0.0
    for k in range(count[bin_]):
        if not (
            (box[bin_, k, 0] < right)
            & (box[bin_, k, 2] > left)
            & (box[bin_, k, 1] < high)
            & (box[bin_, k, 3] > low)
        ):
            continue
        j = members[bin_, k]
        if j == i:
            continue
        other = what[j, POSE]
        pair = code[pose, other]
        gx, gy = where[j, X] - x, where[j, Y] - y
        base = pose
        if pair & 1:
            base = other
            gx, gy = -gx, -gy
        cos, sin = poses[base, 8], poses[base, 9]
        ux, uy = cos * gx + sin * gy, cos * gy - sin * gx
        which = pair >> 1
        fx = (ux - frame[which, 0]) * frame[which, 2]
        fy = (uy - frame[which, 1]) * frame[which, 3]
        side = sides[which, 0]
        if fx <= 0.0 or fy <= 0.0 or fx >= side or fy >= side:
            continue
        ix, iy = int(fx), int(fy)
        cell = sides[which, 2] + ix * side + iy
        packed = cells[cell]
        flag = packed & 3
        if flag == OUTSIDE:
            continue
        shift = sides[which, 3]
        first, last = shift + (packed >> 2), shift + (cells[cell + 1] >> 2)
        start_edge = sides[which, 1]
        least = np.inf
        if flag == DEEP:
            for q in range(first, last):
                e = start_edge + listed[q]
                x0, y0 = edges[e, 0], edges[e, 1]
                px, py = ux - x0, uy - y0
                dx, dy = edges[e, 2] - x0, edges[e, 3] - y0
                t = min(max((px * dx + py * dy) * edges[e, 4], 0.0), 1.0)
                px -= t * dx
                py -= t * dy
                least = min(least, px * px + py * py)
        else:
            inside = flag == NEAR_INSIDE
            rx = frame[which, 0] + (ix + REF_X) / frame[which, 2]
            ry = frame[which, 1] + (iy + REF_Y) / frame[which, 3]
            qx, qy = ux - rx, uy - ry
            for q in range(first, last):
                e = start_edge + listed[q]
                x0, y0, x1, y1 = edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3]
                px, py = ux - x0, uy - y0
                dx, dy = x1 - x0, y1 - y0
                ox, oy = x0 - rx, y0 - ry
                crossed = (qx * oy - qy * ox >= 0.0) != (qx * (y1 - ry) - qy * (x1 - rx) >= 0.0)
                inside ^= crossed & ((dx * py - dy * px >= 0.0) != (dy * ox - dx * oy >= 0.0))
                t = min(max((px * dx + py * dy) * edges[e, 4], 0.0), 1.0)
                px -= t * dx
                py -= t * dy
                least = min(least, px * px + py * py)
            if not inside:
                continue
        total += weight[i, j] * np.sqrt(least)
        if total >= bound:
            return total
    return total


@njit(cache=True, nogil=True, error_model="numpy")
def evaluate(T, S, i, pose, bin_, x, y, bound):  # type: ignore[no-untyped-def]
    """Weighted overlap of piece i if it lay there; stops early at the bound."""
    S.tally[EVALS] += 1.0
    return _overlap(
        T.pose, T.code, T.frame, T.side, T.edges, T.cells, T.listed, S.box, S.members, S.count,
        S.what, S.where, S.weight, i, pose, bin_, x, y, bound,
    )  # fmt: skip


@njit(cache=True, nogil=True, error_model="numpy")
def fit_range(T, S, pose, bin_):  # type: ignore[no-untyped-def]
    """Where a pose's centre may lie in a bin: left, right, low, high; left > right if nowhere."""
    left, right = S.room[bin_, 0] - T.pose[pose, 4], S.room[bin_, 2] - T.pose[pose, 6]
    low, high = S.room[bin_, 1] - T.pose[pose, 5], S.room[bin_, 3] - T.pose[pose, 7]
    slack = T.tune[TOUCH]
    if right < left:
        if right < left - slack:
            return 1.0, 0.0, 0.0, 0.0
        left = right = (left + right) / 2
    if high < low:
        if high < low - slack:
            return 1.0, 0.0, 0.0, 0.0
        low = high = (low + high) / 2
    return left, right, low, high


@njit(cache=True, nogil=True, error_model="numpy")
def take_out(S, i):  # type: ignore[no-untyped-def]
    """Take piece i off its bin; it lies nowhere until it is put again."""
    old = S.what[i, BIN]
    if old < 0:
        return
    slot, end = S.what[i, SLOT], S.count[old] - 1
    last = S.members[old, end]
    S.members[old, slot] = last
    S.what[last, SLOT] = slot
    for c in range(4):
        S.box[old, slot, c] = S.box[old, end, c]
    S.count[old] = end
    S.what[i, BIN] = -1


@njit(cache=True, nogil=True, error_model="numpy")
def put(T, S, i, pose, bin_, x, y):  # type: ignore[no-untyped-def]
    """Lay piece i there; bin_ is not negative."""
    old = S.what[i, BIN]
    if old != bin_:
        take_out(S, i)
        S.members[bin_, S.count[bin_]] = i
        S.what[i, SLOT] = S.count[bin_]
        S.count[bin_] += 1
        S.what[i, BIN] = bin_
    S.what[i, POSE] = pose
    S.where[i, X], S.where[i, Y] = x, y
    S.where[i, LEFT], S.where[i, LOW] = x + T.pose[pose, 0], y + T.pose[pose, 1]
    S.where[i, RIGHT], S.where[i, HIGH] = x + T.pose[pose, 2], y + T.pose[pose, 3]
    slot = S.what[i, SLOT]
    for c in range(4):
        S.box[bin_, slot, c] = S.where[i, LEFT + c]


@njit(cache=True, nogil=True, error_model="numpy")
def _refine(T, S, i, pose, bin_, x, y, value, step, least):  # type: ignore[no-untyped-def]
    """Pattern search along axes and diagonals: longer steps after a gain, half after none."""
    left, right, low, high = fit_range(T, S, pose, bin_)
    while step > least and value > 0.0:
        way = int(_random(S.rng) * 4.0)
        sx, sy = step, 0.0
        if way == 1:
            sx, sy = 0.0, step
        elif way == 2:
            sx, sy = step * 0.7, step * 0.7
        elif way == 3:
            sx, sy = step * 0.7, -step * 0.7
        found, fx, fy = value, x, y
        for _ in range(2):
            cx, cy = min(max(x + sx, left), right), min(max(y + sy, low), high)
            sx, sy = -sx, -sy
            if cx == x and cy == y:
                continue
            S.tally[EVALS] += 1.0
            v = _overlap(
                T.pose, T.code, T.frame, T.side, T.edges, T.cells, T.listed, S.box, S.members,
                S.count, S.what, S.where, S.weight, i, pose, bin_, cx, cy, found,
            )  # fmt: skip
            if v < found:
                found, fx, fy = v, cx, cy
        if found < value:
            x, y, value = fx, fy, found
            step *= 1.1
        else:
            step *= 0.5
    return x, y, value


@njit(cache=True, nogil=True, error_model="numpy")
def _polish(T, S, i, pose, bin_, x, y, value, lines):  # type: ignore[no-untyped-def]
    """Jump to exact contact: to the lines of violated edges and where two of them meet."""
    left, right, low, high = fit_range(T, S, pose, bin_)
    count = 4
    lines[0, 0], lines[0, 1], lines[0, 2], lines[0, 3] = left, low, 1.0, 0.0
    lines[1, 0], lines[1, 1], lines[1, 2], lines[1, 3] = right, low, 1.0, 0.0
    lines[2, 0], lines[2, 1], lines[2, 2], lines[2, 3] = left, low, 0.0, 1.0
    lines[3, 0], lines[3, 1], lines[3, 2], lines[3, 3] = left, high, 0.0, 1.0
    slack = T.tune[TOUCH]
    for _ in range(6):
        if value <= 0.0:
            break
        first_new = count
        deepest = 0.0
        for k in range(S.count[bin_]):
            j = S.members[bin_, k]
            w = S.where[j]
            if j == i or w[LEFT] >= x + T.pose[pose, 2] or w[RIGHT] <= x + T.pose[pose, 0]:
                continue
            if w[LOW] >= y + T.pose[pose, 3] or w[HIGH] <= y + T.pose[pose, 1]:
                continue
            other = S.what[j, POSE]
            code = T.code[pose, other]
            base, sign = pose, -1.0
            dx, dy = w[X] - x, w[Y] - y
            if code & 1:
                base, sign = other, 1.0
                dx, dy = -dx, -dy
            cos, sin = T.pose[base, 8], T.pose[base, 9]
            qx, qy = cos * dx + sin * dy, cos * dy - sin * dx
            d = depth_at(T, code >> 1, qx, qy)
            if d <= 0.0:
                continue
            deepest = max(deepest, d)
            if count == _LINES:
                continue
            nx, ny = nearest_at(T, code >> 1, qx, qy)
            mx, my = nx - qx, ny - qy
            length = np.sqrt(mx * mx + my * my)
            if length <= 0.0:
                continue
            ux, uy = sign * (cos * mx - sin * my), sign * (sin * mx + cos * my)
            lines[count, 0], lines[count, 1] = x + ux, y + uy
            lines[count, 2], lines[count, 3] = ux / length, uy / length
            count += 1
        best, bx, by = value, x, y
        limit = 3.0 * deepest + 4.0 * slack
        for a in range(first_new, count):
            for b in range(-1, a):
                cx, cy = lines[a, 0], lines[a, 1]
                if b >= 0:
                    det = lines[a, 2] * lines[b, 3] - lines[a, 3] * lines[b, 2]
                    if abs(det) < 1e-3:
                        continue
                    ca = lines[a, 2] * lines[a, 0] + lines[a, 3] * lines[a, 1]
                    cb = lines[b, 2] * lines[b, 0] + lines[b, 3] * lines[b, 1]
                    cx = (ca * lines[b, 3] - cb * lines[a, 3]) / det
                    cy = (cb * lines[a, 2] - ca * lines[b, 2]) / det
                    if abs(cx - x) > limit or abs(cy - y) > limit:
                        continue
                    if cx < left - slack or cx > right + slack or cy < low - slack:
                        continue
                    if cy > high + slack:
                        continue
                cx, cy = min(max(cx, left), right), min(max(cy, low), high)
                S.tally[EVALS] += 1.0
                v = _overlap(
                    T.pose, T.code, T.frame, T.side, T.edges, T.cells, T.listed, S.box, S.members,
                    S.count, S.what, S.where, S.weight, i, pose, bin_, cx, cy, best,
                )  # fmt: skip
                if v < best:
                    best, bx, by = v, cx, cy
        if best >= value:
            break
        x, y, value = bx, by, best
    return x, y, value


@njit(cache=True, nogil=True, error_model="numpy")
def _note(top, filled, value, pose, bin_, x, y, apart):  # type: ignore[no-untyped-def]
    """Keep a sample among the few best that differ; the number kept."""
    for k in range(filled):
        same = top[k, 1] == pose and top[k, 2] == bin_
        if same and abs(top[k, 3] - x) < apart and abs(top[k, 4] - y) < apart:
            if value < top[k, 0]:
                top[k, 0], top[k, 3], top[k, 4] = value, x, y
                while k > 0 and top[k, 0] < top[k - 1, 0]:
                    for c in range(5):
                        top[k, c], top[k - 1, c] = top[k - 1, c], top[k, c]
                    k -= 1
            return filled
    if filled < _TOP:
        k = filled
        filled += 1
    elif value < top[_TOP - 1, 0]:
        k = _TOP - 1
    else:
        return filled
    top[k, 0], top[k, 1], top[k, 2], top[k, 3], top[k, 4] = value, pose, bin_, x, y
    while k > 0 and top[k, 0] < top[k - 1, 0]:
        for c in range(5):
            top[k, c], top[k - 1, c] = top[k - 1, c], top[k, c]
        k -= 1
    return filled


@njit(cache=True, nogil=True, error_model="numpy")
def search(T, S, i, top, lines, lives, live_count):  # type: ignore[no-untyped-def]
    """The best place found for piece i: (value, pose, bin, x, y). lives: bins in play."""
    kind = S.what[i, KIND]
    first, last = T.kind_start[kind], T.kind_start[kind + 1]
    pose, bin_, x, y = S.what[i, POSE], S.what[i, BIN], S.where[i, X], S.where[i, Y]
    size = min(T.pose[pose, 2] - T.pose[pose, 0], T.pose[pose, 3] - T.pose[pose, 1])
    value = np.inf
    filled = 0
    apart = 0.05 * size
    uniform = int(T.tune[UNIFORM])
    if live_count > 1:
        uniform = int(T.tune[UNIFORM] * min(0.8 * live_count, 4.0))
    local = int(T.tune[LOCAL]) if bin_ >= 0 else 0
    for sample in range(-1 if bin_ >= 0 else 0, uniform + local):
        p, b, cx, cy = pose, bin_, x, y
        if sample >= 0:
            if sample < uniform:
                p = T.kind_pose[first + int(_random(S.rng) * (last - first))]
                b = lives[int(_random(S.rng) * live_count)] if live_count > 1 else lives[0]
            elif last - first > 1 and sample % 3 == 0:
                p = T.kind_pose[first + int(_random(S.rng) * (last - first))]
            left, right, low, high = fit_range(T, S, p, b)
            if left > right:
                continue
            if sample < uniform:
                cx = left + _random(S.rng) * (right - left)
                cy = low + _random(S.rng) * (high - low)
            else:
                reach = size * T.tune[SPREAD]
                cx = min(max(x + _normal(S.rng) * reach, left), right)
                cy = min(max(y + _normal(S.rng) * reach, low), high)
        bound = top[_TOP - 1, 0] if filled == _TOP else np.inf
        S.tally[EVALS] += 1.0
        v = _overlap(
            T.pose, T.code, T.frame, T.side, T.edges, T.cells, T.listed, S.box, S.members,
            S.count, S.what, S.where, S.weight, i, p, b, cx, cy, bound,
        )  # fmt: skip
        if v < bound:
            filled = _note(top, filled, v, p, b, cx, cy, apart)
        if sample < 0:
            value = v
            if value <= 0.0:
                return value, pose, bin_, x, y
    best, bp, bb, bx, by = value, pose, bin_, x, y
    for k in range(filled):
        v, p, b = top[k, 0], int(top[k, 1]), int(top[k, 2])
        cx, cy = top[k, 3], top[k, 4]
        cx, cy, v = _refine(T, S, i, p, b, cx, cy, v, 0.12 * size, 0.004 * size)
        if v > 0.0:
            cx, cy, v = _polish(T, S, i, p, b, cx, cy, v, lines)
        if v < best:
            best, bp, bb, bx, by = v, p, b, cx, cy
            if v <= 0.0:
                break
    return best, bp, bb, bx, by


@njit(cache=True, nogil=True, error_model="numpy")
def measure(T, S):  # type: ignore[no-untyped-def]
    """Renew every pair's depth; the loss: the sum of depths, each times its pair's size."""
    loss = 0.0
    for i in range(len(S.where)):
        for j in range(len(S.where)):
            S.depth[i, j] = 0.0
    for b in range(len(S.count)):
        for u in range(S.count[b]):
            i = S.members[b, u]
            wi = S.where[i]
            for v in range(u):
                j = S.members[b, v]
                wj = S.where[j]
                if wj[LEFT] >= wi[RIGHT] or wj[RIGHT] <= wi[LEFT]:
                    continue
                if wj[LOW] >= wi[HIGH] or wj[HIGH] <= wi[LOW]:
                    continue
                if S.what[i, MOVABLE] == 0 and S.what[j, MOVABLE] == 0:
                    continue
                d = pair_depth(T, S.what[i, POSE], wi[X], wi[Y], S.what[j, POSE], wj[X], wj[Y])
                if d > T.tune[TOUCH]:
                    S.depth[i, j] = d
                    S.depth[j, i] = d
                    loss += d * wi[SIZE] * wj[SIZE]
    return loss


@njit(cache=True, nogil=True, error_model="numpy")
def _deepest(S, i):  # type: ignore[no-untyped-def]
    """How deep piece i lies in another at most, mm."""
    found = 0.0
    for j in range(len(S.where)):
        found = max(found, S.depth[i, j])
    return found


@njit(cache=True, nogil=True, error_model="numpy")
def reweight(T, S):  # type: ignore[no-untyped-def]
    """Weights of pairs in conflict grow, the deepest most; the others relax to their size."""
    n = len(S.where)
    deepest = 0.0
    for i in range(n):
        deepest = max(deepest, _deepest(S, i))
    if deepest <= 0.0:
        return
    growth, decay = T.tune[GROWTH], T.tune[DECAY]
    for i in range(n):
        for j in range(i):
            w = S.weight[i, j]
            if S.depth[i, j] > 0.0:
                w *= 1.2 + growth * S.depth[i, j] / deepest
            else:
                w = max(w * decay, S.where[i, SIZE] * S.where[j, SIZE])
            S.weight[i, j] = w
            S.weight[j, i] = w


@njit(cache=True, nogil=True, error_model="numpy")
def reset_weights(S):  # type: ignore[no-untyped-def]
    """All weights back to the size of the pair."""
    n = len(S.where)
    for i in range(n):
        for j in range(n):
            S.weight[i, j] = S.where[i, SIZE] * S.where[j, SIZE]


@njit(cache=True, nogil=True, error_model="numpy")
def restore(T, S):  # type: ignore[no-untyped-def]
    """Back to the arrangement of least loss."""
    for i in range(len(S.where)):
        if S.what[i, MOVABLE] != 0:
            if S.best_what[i, BIN] < 0:
                take_out(S, i)
                continue
            where = S.best_where[i, X], S.best_where[i, Y]
            put(T, S, i, S.best_what[i, POSE], S.best_what[i, BIN], where[0], where[1])


@njit(cache=True, nogil=True, error_model="numpy")
def note_best(S):  # type: ignore[no-untyped-def]
    """Keep the present arrangement as that of least loss."""
    for i in range(len(S.where)):
        for c in range(S.where.shape[1]):
            S.best_where[i, c] = S.where[i, c]
        for c in range(S.what.shape[1]):
            S.best_what[i, c] = S.what[i, c]


@njit(cache=True, nogil=True, error_model="numpy")
def start(T, S):  # type: ignore[no-untyped-def]
    """Begin to separate the present arrangement."""
    reset_weights(S)
    S.tally[LOSS] = measure(T, S)
    S.tally[BEST] = S.tally[LOSS]
    S.tally[TARGET] = S.tally[LOSS]
    S.tally[IDLE] = 0.0
    note_best(S)


@njit(cache=True, nogil=True, error_model="numpy")
def separate(T, S, budget):  # type: ignore[no-untyped-def]
    """Move pieces in conflict until none is (SOLVED), nothing gains any more (STUCK: restored to
    the least loss) or the budget of evaluations is spent (GOING_ON: call again)."""
    n = len(S.where)
    end = S.tally[EVALS] + budget
    top = np.empty((_TOP, 5))
    lines = np.empty((_LINES, 4))
    order = np.empty(n, np.int64)
    lives = np.empty(len(S.live), np.int64)
    live_count = 0
    for b in range(len(S.live)):
        if S.live[b]:
            lives[live_count] = b
            live_count += 1
    while True:
        if S.tally[LOSS] <= 0.0:
            return SOLVED
        if S.tally[IDLE] >= T.tune[PATIENCE]:
            restore(T, S)
            return STUCK
        if S.tally[EVALS] >= end:
            return GOING_ON
        reweight(T, S)
        count = 0
        for i in range(n):
            if S.what[i, MOVABLE] != 0 and _deepest(S, i) > 0.0:
                order[count] = i
                count += 1
        for k in range(count - 1, 0, -1):
            r = int(_random(S.rng) * (k + 1))
            order[k], order[r] = order[r], order[k]
        for k in range(count):
            i = order[k]
            pose, bin_, x, y = S.what[i, POSE], S.what[i, BIN], S.where[i, X], S.where[i, Y]
            _, p, b, nx, ny = search(T, S, i, top, lines, lives, live_count)
            if p != pose or b != bin_ or nx != x or ny != y:
                put(T, S, i, p, b, nx, ny)
        S.tally[LOSS] = measure(T, S)
        if S.tally[LOSS] < S.tally[BEST]:
            S.tally[BEST] = S.tally[LOSS]
            note_best(S)
        if S.tally[BEST] < S.tally[TARGET] * (1.0 - T.tune[GAIN]):
            S.tally[TARGET] = S.tally[BEST]
            S.tally[IDLE] = 0.0
        else:
            S.tally[IDLE] += 1.0


@njit(cache=True, nogil=True, error_model="numpy")
def best_spot(T, S, i, tries):  # type: ignore[no-untyped-def]
    """The place of least overlap for piece i over all live bins: (value, pose, bin, x, y)."""
    top = np.empty((_TOP, 5))
    lines = np.empty((_LINES, 4))
    lives = np.empty(len(S.live), np.int64)
    live_count = 0
    for b in range(len(S.live)):
        if S.live[b]:
            lives[live_count] = b
            live_count += 1
    best = search(T, S, i, top, lines, lives, live_count)
    for _ in range(tries - 1):
        if best[0] <= 0.0:
            break
        found = search(T, S, i, top, lines, lives, live_count)
        if found[0] < best[0]:
            best = found
    return best


@njit(cache=True, nogil=True, error_model="numpy")
def settle(T, S, i, pose, bin_, x, y):  # type: ignore[no-untyped-def]
    """Slide a piece from a free place left and down as far as it goes, step by halved step."""
    left, _, low, _ = fit_range(T, S, pose, bin_)
    least = 0.01 * T.tune[TOUCH]
    for _ in range(4):
        before_x, before_y = x, y
        step = x - left
        while step > least:
            if x - step >= left and evaluate(T, S, i, pose, bin_, x - step, y, 1e300) <= 0.0:
                x -= step
            step *= 0.5
        step = y - low
        while step > least:
            if y - step >= low and evaluate(T, S, i, pose, bin_, x, y - step, 1e300) <= 0.0:
                y -= step
            step *= 0.5
        if before_x - x + before_y - y <= least:
            break
    return x, y
