"""Replaying saw cuts one by one: the check that a cut list can be done at all.

It knows nothing of how the cuts were found. It starts with the sheet, looks for the one part
that a cut crosses from edge to edge, takes the kerf away and goes on with the two halves.
"""

from __future__ import annotations

from collections.abc import Iterable

from core.breakdown.model import Rect
from core.errors import InvalidGeometryError
from core.tolerances import SAW_TOL_MM


class CutReplayError(InvalidGeometryError):
    """A cut that is not a through cut of a part present at that moment.

    order: number of the cut, counted from 1.
    """

    def __init__(self, order: int, what: str, where: str) -> None:
        self.order = order
        super().__init__(what, where, "Cut only straight across a part that is still whole there.")


def replay(
    width_mm: float,
    height_mm: float,
    cuts: Iterable[tuple[float, float, float, float]],
    kerf_mm: float,
    *,
    tolerance_mm: float = SAW_TOL_MM,
) -> tuple[Rect, ...]:
    """Saw a sheet by a list of cuts and return the rectangles that lie on the floor afterwards.

    cuts: kerf centre lines (x1, y1, x2, y2) in order. A cut must run along x or y, from one
    edge of one part to the opposite edge. Its centre may lie up to half a kerf off the part (the
    blade skims the edge); what the kerf eats up wholly is gone.
    Returns the rectangles in no particular order; their areas and the kerfs add up to the sheet.
    Raises CutReplayError naming the first cut that is not a through cut.
    >>> replay(10, 4, [(3, 0, 3, 4)], 2.0)
    (Rect(x_mm=0.0, y_mm=0.0, width_mm=2.0, height_mm=4.0), Rect(x_mm=4.0, y_mm=0.0, \
width_mm=6.0, height_mm=4.0))
    """
    pieces = [Rect(0.0, 0.0, float(width_mm), float(height_mm))]
    for order, (x1, y1, x2, y2) in enumerate(cuts, start=1):
        place = f"cut {order} from ({x1:g}, {y1:g}) to ({x2:g}, {y2:g})"
        upright = abs(x1 - x2) <= tolerance_mm
        if upright == (abs(y1 - y2) <= tolerance_mm):
            raise CutReplayError(order, "Cut is neither level nor upright", place)
        if upright:
            index = _crossed(pieces, x1, min(y1, y2), max(y1, y2), kerf_mm, tolerance_mm)
        else:
            turned = [Rect(p.y_mm, p.x_mm, p.height_mm, p.width_mm) for p in pieces]
            index = _crossed(turned, y1, min(x1, x2), max(x1, x2), kerf_mm, tolerance_mm)
        if index is None:
            raise CutReplayError(order, "Cut is not straight across one part", place)
        halves = split(pieces[index], upright, x1 if upright else y1, kerf_mm)
        pieces[index : index + 1] = [
            half for half in halves if min(half.width_mm, half.height_mm) > tolerance_mm
        ]
    return tuple(pieces)


def split(piece: Rect, upright: bool, at_mm: float, kerf_mm: float) -> tuple[Rect, Rect]:
    """The two halves of a piece beside a kerf centred on at_mm; a half may be empty or less."""
    low, high = at_mm - kerf_mm / 2, at_mm + kerf_mm / 2
    x, y, width, height = piece
    if upright:
        return Rect(x, y, low - x, height), Rect(high, y, x + width - high, height)
    return Rect(x, y, width, low - y), Rect(x, high, width, y + height - high)


def _crossed(
    pieces: list[Rect], at: float, low: float, high: float, kerf: float, tol: float
) -> int | None:
    """Index of the piece that an upright cut at x = at from low to high crosses, or None."""
    for index, (x, y, width, height) in enumerate(pieces):
        spans = abs(y - low) <= tol and abs(y + height - high) <= tol
        inside = x + tol < at < x + width - tol
        skims = at + kerf / 2 > x + tol and at - kerf / 2 < x + width - tol
        if spans and (inside or (kerf > 0 and skims)):
            return index
    return None
