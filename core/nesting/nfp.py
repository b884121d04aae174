"""No-fit polygons as bags of edges under a grid of cells.

The no-fit polygon of A and B holds the positions of B (relative to A) at which they overlap:
the union of the Minkowski sums of A's convex parts with B's mirrored through the origin. Its
boundary is found without any topology: every edge of every sum, less what lies inside another
sum. A grid over it lists for each cell the edges that can be nearest to a point in the cell and
whether the cell's reference point is inside; a query then costs a handful of edges. Overlap
depth is the distance to the nearest edge (own derivation; the use of overlap depth over no-fit
polygons follows Egeblad, Nielsen & Odgaard 2007 and Imamichi, Yagiura & Nagamochi 2009).
"""

from __future__ import annotations

import numpy as np
from numba import njit

REF_X, REF_Y = 0.5137, 0.4824  # off centre: a cell's middle often lies on an edge of whole numbers
OUTSIDE, NEAR_OUTSIDE, DEEP, NEAR_INSIDE = 0, 1, 2, 3
_TOUCH_REL = 1e-11  # edges closer than this part of the extent run along each other


@njit(cache=True, nogil=True, error_model="numpy")
def convex_sum(a, b, out):  # type: ignore[no-untyped-def]
    """Minkowski sum of convex counter-clockwise a (n, 2) and b (m, 2) into out; its length."""
    n, m = len(a), len(b)
    i0, j0 = 0, 0
    for i in range(1, n):
        if a[i, 1] < a[i0, 1] or (a[i, 1] == a[i0, 1] and a[i, 0] < a[i0, 0]):
            i0 = i
    for j in range(1, m):
        if b[j, 1] < b[j0, 1] or (b[j, 1] == b[j0, 1] and b[j, 0] < b[j0, 0]):
            j0 = j
    i, j, count = 0, 0, 0
    while i < n or j < m:
        p, q = (i0 + i) % n, (j0 + j) % m
        out[count, 0] = a[p, 0] + b[q, 0]
        out[count, 1] = a[p, 1] + b[q, 1]
        count += 1
        if i >= n:
            j += 1
            continue
        if j >= m:
            i += 1
            continue
        p1, q1 = (p + 1) % n, (q + 1) % m
        ax, ay = a[p1, 0] - a[p, 0], a[p1, 1] - a[p, 1]
        bx, by = b[q1, 0] - b[q, 0], b[q1, 1] - b[q, 1]
        cross = ax * by - ay * bx
        if abs(cross) <= 1e-13 * (abs(ax) + abs(ay)) * (abs(bx) + abs(by)):
            i += 1
            j += 1
        elif cross > 0:
            i += 1
        else:
            j += 1
    return count


@njit(cache=True, nogil=True, error_model="numpy")
def _inside_span(x0, y0, x1, y1, poly, first, last, touch, later):  # type: ignore[no-untyped-def]
    """The part (t0, t1) of a directed edge covered by a convex polygon; t0 ≥ t1 if none.

    Running along a side in the same direction counts as covered only by an earlier polygon
    (later False), so exactly one of two such edges stays.
    """
    t0, t1 = 0.0, 1.0
    ex, ey = x1 - x0, y1 - y0
    for k in range(first, last):
        k1 = k + 1 if k + 1 < last else first
        sx, sy = poly[k1, 0] - poly[k, 0], poly[k1, 1] - poly[k, 1]
        length = np.sqrt(sx * sx + sy * sy)
        if length <= touch:
            continue
        d0 = (sx * (y0 - poly[k, 1]) - sy * (x0 - poly[k, 0])) / length
        d1 = (sx * (y1 - poly[k, 1]) - sy * (x1 - poly[k, 0])) / length
        if abs(d0) <= touch and abs(d1) <= touch:
            if sx * ex + sy * ey > 0 and later:
                return 1.0, 0.0
            continue
        if d0 <= touch and d1 <= touch:
            return 1.0, 0.0
        if d0 < 0:
            t0 = max(t0, d0 / (d0 - d1))
        elif d1 < 0:
            t1 = min(t1, d0 / (d0 - d1))
        if t0 >= t1:
            return 1.0, 0.0
    return t0, t1


@njit(cache=True, nogil=True, error_model="numpy")
def _ascending(values):  # type: ignore[no-untyped-def]
    """Stable order of a few hundred values; a library's sort takes two seconds to compile."""
    order = np.empty(len(values), np.int64)
    for k in range(len(values)):
        at = k
        while at > 0 and values[order[at - 1]] > values[k]:
            order[at] = order[at - 1]
            at -= 1
        order[at] = k
    return order


@njit(cache=True, nogil=True, error_model="numpy")
def _bounds(points):  # type: ignore[no-untyped-def]
    left, low, right, high = np.inf, np.inf, -np.inf, -np.inf
    for k in range(len(points)):
        left, low = min(left, points[k, 0]), min(low, points[k, 1])
        right, high = max(right, points[k, 0]), max(high, points[k, 1])
    return left, low, right, high


@njit(cache=True, nogil=True, error_model="numpy")
def _longer(rows, length):  # type: ignore[no-untyped-def]
    """A copy with room for more; slice assignment takes a second to compile."""
    wider = np.empty((length, rows.shape[1]))
    for k in range(len(rows)):
        for c in range(rows.shape[1]):
            wider[k, c] = rows[k, c]
    return wider


@njit(cache=True, nogil=True, error_model="numpy")
def build(axy, astart, bxy, bstart, cos, sin):  # type: ignore[no-untyped-def]
    """The no-fit polygon of A and of B turned by (cos, sin).

    axy, bxy: convex parts one after another; astart, bstart: where each starts. Returns
    (edges (e, 5): x0, y0, x1, y1, 1/length²; frame (6,): left, low, 1/cell width, 1/cell
    height, right, high; cells per side; cells (g·g + 1,): 4·start + flag; list of edges).
    """
    parts_a, parts_b = len(astart) - 1, len(bstart) - 1
    turned = np.empty_like(bxy)
    for k in range(len(bxy)):
        turned[k, 0] = -(cos * bxy[k, 0] - sin * bxy[k, 1])
        turned[k, 1] = -(sin * bxy[k, 0] + cos * bxy[k, 1])
    total = 0
    for i in range(parts_a):
        for j in range(parts_b):
            total += astart[i + 1] - astart[i] + bstart[j + 1] - bstart[j]
    poly = np.empty((total, 2))
    count = parts_a * parts_b
    start = np.zeros(count + 1, np.int64)
    box = np.empty((count, 4))
    area = np.empty(count)
    made, at = 0, 0
    for i in range(parts_a):
        for j in range(parts_b):
            n = convex_sum(
                axy[astart[i] : astart[i + 1]], turned[bstart[j] : bstart[j + 1]], poly[at:]
            )
            start[made] = at
            box[made, 0], box[made, 1], box[made, 2], box[made, 3] = _bounds(poly[at : at + n])
            area[made] = -(box[made, 2] - box[made, 0]) * (box[made, 3] - box[made, 1])
            at += n
            made += 1
    start[count] = at
    left, low, right, high = _bounds(poly[:at])
    touch = _TOUCH_REL * max(right - left, high - low)
    large_first = _ascending(area)
    edges = _boundary(poly, start, box, large_first, touch)
    return _grid(edges, poly, start, box, large_first, left, low, right, high)


@njit(cache=True, nogil=True, error_model="numpy")
def _boundary(poly, start, box, large_first, touch):  # type: ignore[no-untyped-def]
    count = len(start) - 1
    edges = np.empty((64, 5))
    used = 0
    spans = np.empty((256, 2))
    for k in range(count):
        for v in range(start[k], start[k + 1]):
            w = v + 1 if v + 1 < start[k + 1] else start[k]
            x0, y0, x1, y1 = poly[v, 0], poly[v, 1], poly[w, 0], poly[w, 1]
            length = np.sqrt((x1 - x0) ** 2 + (y1 - y0) ** 2)
            if length <= touch:
                continue
            lo_x, hi_x, lo_y, hi_y = min(x0, x1), max(x0, x1), min(y0, y1), max(y0, y1)
            spans[0, 0], spans[0, 1] = 0.0, 1.0
            live = 1
            for rank in range(count):
                m = large_first[rank]
                if m == k or box[m, 0] > hi_x + touch or box[m, 2] < lo_x - touch:
                    continue
                if box[m, 1] > hi_y + touch or box[m, 3] < lo_y - touch:
                    continue
                t0, t1 = _inside_span(x0, y0, x1, y1, poly, start[m], start[m + 1], touch, m > k)
                if t0 >= t1:
                    continue
                keep = 0
                extra = 0
                for s in range(live):
                    a, b = spans[s, 0], spans[s, 1]
                    if t1 <= a or t0 >= b:
                        spans[keep, 0], spans[keep, 1] = a, b
                        keep += 1
                        continue
                    if t0 > a and t1 < b:
                        # one span becomes two: there is room, a span splits once per polygon
                        spans[live + extra, 0], spans[live + extra, 1] = t1, b
                        extra += 1
                        spans[keep, 0], spans[keep, 1] = a, t0
                        keep += 1
                    elif t0 > a:
                        spans[keep, 0], spans[keep, 1] = a, t0
                        keep += 1
                    elif t1 < b:
                        spans[keep, 0], spans[keep, 1] = t1, b
                        keep += 1
                for s in range(extra):
                    spans[keep + s, 0], spans[keep + s, 1] = (
                        spans[live + s, 0],
                        spans[live + s, 1],
                    )
                live = keep + extra
                if live == 0:
                    break
                if live > 120:
                    break
            for s in range(live):
                if (spans[s, 1] - spans[s, 0]) * length <= touch:
                    continue
                if used == len(edges):
                    edges = _longer(edges, 2 * used)
                a, b = spans[s, 0], spans[s, 1]
                edges[used, 0] = x0 + a * (x1 - x0) if a > 0 else x0
                edges[used, 1] = y0 + a * (y1 - y0) if a > 0 else y0
                edges[used, 2] = x0 + b * (x1 - x0) if b < 1 else x1
                edges[used, 3] = y0 + b * (y1 - y0) if b < 1 else y1
                edges[used, 4] = 1.0 / (
                    (edges[used, 2] - edges[used, 0]) ** 2 + (edges[used, 3] - edges[used, 1]) ** 2
                )
                used += 1
    return _longer(edges[:used], used)


@njit(cache=True, nogil=True, error_model="numpy")
def in_any(x, y, poly, start, box, large_first):  # type: ignore[no-untyped-def]
    """True if a point lies inside one of the convex polygons."""
    for rank in range(len(large_first)):
        m = large_first[rank]
        if x < box[m, 0] or x > box[m, 2] or y < box[m, 1] or y > box[m, 3]:
            continue
        inside = True
        for k in range(start[m], start[m + 1]):
            k1 = k + 1 if k + 1 < start[m + 1] else start[m]
            sx, sy = poly[k1, 0] - poly[k, 0], poly[k1, 1] - poly[k, 1]
            if sx * (y - poly[k, 1]) - sy * (x - poly[k, 0]) < 0:
                inside = False
                break
        if inside:
            return True
    return False


@njit(cache=True, nogil=True, error_model="numpy")
def _square(edge, x, y):  # type: ignore[no-untyped-def]
    """Square of a point's distance to an edge."""
    dx, dy = edge[2] - edge[0], edge[3] - edge[1]
    t = min(max(((x - edge[0]) * dx + (y - edge[1]) * dy) * edge[4], 0.0), 1.0)
    ex, ey = x - edge[0] - t * dx, y - edge[1] - t * dy
    return ex * ex + ey * ey


@njit(cache=True, nogil=True, error_model="numpy")
def _farthest(edge, x0, y0, x1, y1):  # type: ignore[no-untyped-def]
    """Square of the largest distance of a box's points to an edge: that of a corner, as
    distance to an edge is convex."""
    return max(
        max(_square(edge, x0, y0), _square(edge, x1, y0)),
        max(_square(edge, x0, y1), _square(edge, x1, y1)),
    )


@njit(cache=True, nogil=True, error_model="numpy")
def _nearest_to(edge, x0, y0, x1, y1):  # type: ignore[no-untyped-def]
    """Square of the least distance between a box and an edge; 0 if they meet."""
    t0, t1 = 0.0, 1.0
    for axis in range(2):
        a, d = edge[axis], edge[2 + axis] - edge[axis]
        first, last = (x0, x1) if axis == 0 else (y0, y1)
        if d == 0.0:
            if a < first or a > last:
                t0 = 2.0
            continue
        u, v = (first - a) / d, (last - a) / d
        t0, t1 = max(t0, min(u, v)), min(t1, max(u, v))
    if t0 <= t1:
        return 0.0
    least = min(
        min(_square(edge, x0, y0), _square(edge, x1, y0)),
        min(_square(edge, x0, y1), _square(edge, x1, y1)),
    )
    for end in range(0, 4, 2):
        ex = max(max(x0 - edge[end], edge[end] - x1), 0.0)
        ey = max(max(y0 - edge[end + 1], edge[end + 1] - y1), 0.0)
        least = min(least, ex * ex + ey * ey)
    return least


@njit(cache=True, nogil=True, error_model="numpy")
def _grid(edges, poly, start, box, large_first, left, low, right, high):  # type: ignore[no-untyped-def]
    count = len(edges)
    side = min(max(int(2.0 * np.sqrt(count)) + 4, 8), 26)
    width, height = (right - left) / side, (high - low) / side
    diagonal = np.sqrt(width * width + height * height)
    reach = 0.55 * diagonal  # from a reference point to the far corner of its cell, at most
    cells = np.empty(side * side + 1, np.int32)
    listed = np.empty(side * side * 8, np.int32)
    used = 0
    distance = np.empty(count)
    for i in range(side):
        for j in range(side):
            x, y = left + (i + REF_X) * width, low + (j + REF_Y) * height
            nearest = np.inf
            for k in range(count):
                dx, dy = edges[k, 2] - edges[k, 0], edges[k, 3] - edges[k, 1]
                t = ((x - edges[k, 0]) * dx + (y - edges[k, 1]) * dy) * edges[k, 4]
                t = min(max(t, 0.0), 1.0)
                ex, ey = x - edges[k, 0] - t * dx, y - edges[k, 1] - t * dy
                distance[k] = ex * ex + ey * ey
                nearest = min(nearest, distance[k])
            nearest = np.sqrt(nearest)
            inside = in_any(x, y, poly, start, box, large_first)
            if nearest > reach:
                flag = DEEP if inside else OUTSIDE
            else:
                flag = NEAR_INSIDE if inside else NEAR_OUTSIDE
            cells[i * side + j] = 4 * used + flag
            if flag == OUTSIDE:
                continue
            x0, y0 = left + i * width, low + j * height
            x1, y1 = x0 + width, y0 + height
            loose = (nearest + 2.0 * reach) ** 2
            # No point of the cell is further from its nearest edge than this.
            limit = np.inf
            for k in range(count):
                if distance[k] <= loose:
                    limit = min(limit, _farthest(edges[k], x0, y0, x1, y1))
            limit *= 1.0 + 1e-9
            for k in range(count):
                if distance[k] <= loose and _nearest_to(edges[k], x0, y0, x1, y1) <= limit:
                    if used == len(listed):
                        wider = np.empty(2 * used, np.int32)
                        for m in range(used):
                            wider[m] = listed[m]
                        listed = wider
                    listed[used] = k
                    used += 1
    cells[side * side] = 4 * used
    frame = np.array([left, low, 1.0 / width, 1.0 / height, right, high])
    return edges, frame, side, cells, listed[:used].copy()
