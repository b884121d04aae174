"""A tooth being drawn: its points and bulges, changed one step at a time. No Qt here.

Rows are (x_mm, y_mm, bulge to the next); the first lies at (0, 0), the last on the seam.
"""

from __future__ import annotations

import math

from core.geometry.ring import Vertex
from core.shop import ToothDrawing

Rows = tuple[Vertex, ...]
#: What a new drawing begins with: a head wider than its neck, so that it holds.
BEGINNING: Rows = (
    (0.0, 0.0, 0.0),
    (4.0, 10.0, 0.0),
    (-5.0, 22.0, -0.55),
    (33.0, 22.0, 0.0),
    (24.0, 10.0, 0.0),
    (28.0, 0.0, 0.0),
)
STEEPEST = 1.0  # a bulge beyond a half circle is drawn as two arcs


def middle_of(rows: Rows, edge: int) -> tuple[float, float]:
    """The point halfway along an edge, on its arc if it is one."""
    (x1, y1, bulge), (x2, y2, _) = rows[edge], rows[edge + 1]
    # A positive bulge is an arc that leaves its chord to the right.
    return (x1 + x2) / 2 + bulge * (y2 - y1) / 2, (y1 + y2) / 2 - bulge * (x2 - x1) / 2


def bulge_through(rows: Rows, edge: int, x_mm: float, y_mm: float) -> float:
    """The bulge with which an edge's arc is as high as a point, −1 to 1; 0 when nearly flat."""
    (x1, y1, _), (x2, y2, _) = rows[edge], rows[edge + 1]
    chord = math.hypot(x2 - x1, y2 - y1)
    if chord < 1e-6:
        return 0.0
    away = ((x_mm - (x1 + x2) / 2) * (y2 - y1) - (y_mm - (y1 + y2) / 2) * (x2 - x1)) / chord
    bulge = 2 * away / chord
    if abs(away) < 0.2:
        return 0.0
    return max(-STEEPEST, min(STEEPEST, bulge))


def is_alike(rows: Rows) -> bool:
    """True if the tooth is the same from both ends."""
    return all(
        math.dist(a[:2], b[:2]) < 1e-6 and abs(a[2] - b[2]) < 1e-9
        for a, b in zip(rows, mirrored(rows), strict=True)
    )


def mirrored(rows: Rows) -> Rows:
    """The tooth walked from its other end."""
    base = rows[-1][0]
    count = len(rows)
    return tuple(
        (base - rows[k][0], rows[k][1], rows[k - 1][2] if k else 0.0)
        for k in range(count - 1, -1, -1)
    )


def made_alike(rows: Rows) -> Rows:
    """Both halves like the first one; an odd point in the middle comes to the middle."""
    count, base = len(rows), rows[-1][0]
    half = count // 2
    first = list(rows[:half])
    result = [*first]
    if count % 2:
        result.append((base / 2, rows[half][1], 0.0))
    for k in range(half - 1, -1, -1):
        result.append((base - first[k][0], first[k][1], 0.0))
    bulges = [rows[k][2] for k in range(count - 1)]
    for k in range(count - 1):
        bulge = bulges[min(k, count - 2 - k)]
        result[k] = (result[k][0], result[k][1], bulge)
    return tuple(result)


def with_point(rows: Rows, index: int, x_mm: float, y_mm: float, *, alike: bool) -> Rows:
    """A point put elsewhere. The ends stay on the seam; the first stays where it is."""
    last = len(rows) - 1
    if index == 0:
        return rows
    changed = list(rows)
    if index == last:
        base = max(1.0, x_mm)
        if alike:
            grow = base - rows[-1][0]
            # Both halves keep their shape; the middle grows.
            changed = [
                (x + grow if k > last - k else x + grow / 2 if 2 * k == last else x, y, b)
                for k, (x, y, b) in enumerate(rows)
            ]
        changed[last] = (base, 0.0, 0.0)
        return tuple(changed)
    if alike and 2 * index == last:
        x_mm = rows[-1][0] / 2
    changed[index] = (x_mm, y_mm, rows[index][2])
    other = last - index
    if alike and other != index:
        changed[other] = (rows[-1][0] - x_mm, y_mm, rows[other][2])
    return tuple(changed)


def with_bulge(rows: Rows, edge: int, bulge: float, *, alike: bool) -> Rows:
    """An edge made straight (0) or an arc."""
    changed = list(rows)
    changed[edge] = (rows[edge][0], rows[edge][1], bulge)
    other = len(rows) - 2 - edge
    if alike:
        changed[other] = (rows[other][0], rows[other][1], bulge)
    return tuple(changed)


def with_new_point(rows: Rows, edge: int, *, alike: bool) -> tuple[Rows, int]:
    """An edge parted at its middle, and the new point's index; its arc becomes two."""
    other = len(rows) - 2 - edge
    changed = list(rows)
    for e in sorted({edge, other} if alike else {edge}, reverse=True):
        x, y = middle_of(rows, e)
        half = math.tan(math.atan(rows[e][2]) / 2)
        changed[e] = (rows[e][0], rows[e][1], half)
        changed.insert(e + 1, (x, y, half))
    at = edge + 1 + (1 if alike and other < edge else 0)
    return tuple(changed), at


def without_point(rows: Rows, index: int, *, alike: bool) -> Rows:
    """A point taken out; the ends stay, and at least one point between them."""
    last = len(rows) - 1
    gone = {index, last - index} if alike else {index}
    if index in (0, last) or len(rows) - len(gone) < 3:
        return rows
    changed = list(rows)
    for k in sorted(gone, reverse=True):
        del changed[k]
        changed[k - 1] = (changed[k - 1][0], changed[k - 1][1], 0.0)
    return tuple(changed)


def drawing_of(name: str, rows: Rows, *, rounded: bool) -> ToothDrawing:
    """The rows as a drawing to keep."""
    return ToothDrawing(
        name.strip(), tuple((float(x), float(y), float(b)) for x, y, b in rows), rounded
    )
