"""Replaying saw cuts one by one: the check that a cut list can be done at all.

It knows nothing of how the cuts were found. It starts with the sheet, looks for the one part
that a cut crosses from edge to edge, takes the kerf away and goes on with the two halves.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from core.breakdown.model import Rect, SawCut
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
    pieces, _ = follow(width_mm, height_mm, cuts, kerf_mm, tolerance_mm=tolerance_mm)
    return tuple(piece for piece in pieces if piece is not None)


class CutTrace(NamedTuple):
    """What one cut did: pieces by their number, 0 being the sheet.

    piece: the one cut. low: what lies left of or below the kerf, high: right of or above; −1 if
    the kerf ate it.
    """

    cut: SawCut
    upright: bool
    piece: int
    low: int
    high: int


def follow(
    width_mm: float,
    height_mm: float,
    cuts: Iterable[tuple[float, float, float, float]],
    kerf_mm: float,
    *,
    tolerance_mm: float = SAW_TOL_MM,
) -> tuple[list[Rect | None], list[CutTrace]]:
    """Replay cuts as replay() does, keeping account of every piece.

    Returns the pieces by number (None once cut up) and a trace of every cut. To have the
    rectangle of a piece that was cut up, see rects_of().
    """
    pieces: list[Rect | None] = [Rect(0.0, 0.0, float(width_mm), float(height_mm))]
    traces: list[CutTrace] = []
    for order, (x1, y1, x2, y2) in enumerate(cuts, start=1):
        place = f"cut {order} from ({x1:g}, {y1:g}) to ({x2:g}, {y2:g})"
        upright = abs(x1 - x2) <= tolerance_mm
        if upright == (abs(y1 - y2) <= tolerance_mm):
            raise CutReplayError(order, "Cut is neither level nor upright", place)
        at = x1 if upright else y1
        ends = sorted((y1, y2) if upright else (x1, x2))
        index = next(
            (
                number
                for number, piece in enumerate(pieces)
                if piece is not None
                and _crosses(piece, upright, at, ends[0], ends[1], kerf_mm, tolerance_mm)
            ),
            None,
        )
        if index is None:
            raise CutReplayError(order, "Cut is not straight across one part", place)
        piece = pieces[index]
        assert piece is not None
        numbers = []
        for half in split(piece, upright, at, kerf_mm):
            if min(half.width_mm, half.height_mm) > tolerance_mm:
                numbers.append(len(pieces))
                pieces.append(half)
            else:
                numbers.append(-1)
        pieces[index] = None
        traces.append(CutTrace(SawCut(x1, y1, x2, y2), upright, index, *numbers))
    return pieces, traces


def rects_of(
    width_mm: float, height_mm: float, traces: Iterable[CutTrace], kerf_mm: float
) -> dict[int, Rect]:
    """The rectangle of every piece that ever lay on the floor, by its number."""
    rects = {0: Rect(0.0, 0.0, float(width_mm), float(height_mm))}
    for trace in traces:
        at = trace.cut.x1_mm if trace.upright else trace.cut.y1_mm
        halves = split(rects[trace.piece], trace.upright, at, kerf_mm)
        for number, half in zip((trace.low, trace.high), halves, strict=True):
            if number >= 0:
                rects[number] = half
    return rects


def split(piece: Rect, upright: bool, at_mm: float, kerf_mm: float) -> tuple[Rect, Rect]:
    """The two halves of a piece beside a kerf centred on at_mm; a half may be empty or less."""
    low, high = at_mm - kerf_mm / 2, at_mm + kerf_mm / 2
    x, y, width, height = piece
    if upright:
        return Rect(x, y, low - x, height), Rect(high, y, x + width - high, height)
    return Rect(x, y, width, low - y), Rect(x, high, width, y + height - high)


def _crosses(
    piece: Rect, upright: bool, at: float, low: float, high: float, kerf: float, tol: float
) -> bool:
    """True if a cut at x (or y) = at, from low to high, goes straight across the piece."""
    x, y, width, height = piece
    if not upright:
        x, y, width, height = y, x, height, width
    spans = abs(y - low) <= tol and abs(y + height - high) <= tol
    inside = x + tol < at < x + width - tol
    skims = at + kerf / 2 > x + tol and at - kerf / 2 < x + width - tol
    return spans and (inside or (kerf > 0 and skims))
