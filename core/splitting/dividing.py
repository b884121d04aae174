"""Cutting a part of a panel along one line: which joint lengths it has, and what it leaves."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from core.splitting.frame import Cut, Frame, Part

_STEEP = 1.0 / math.tan(math.radians(25.0))  # an edge this oblique to a cut leaves a feather tip


def halves(board: BaseGeometry, upright: bool, at: float) -> tuple[list[Polygon], list[Polygon]]:
    """The parts of a board below (or left of) a line and above it."""
    x1, y1, x2, y2 = board.bounds
    if upright:
        low = shapely.clip_by_rect(board, x1 - 1, y1 - 1, at, y2 + 1)
        high = shapely.clip_by_rect(board, at, y1 - 1, x2 + 1, y2 + 1)
    else:
        low = shapely.clip_by_rect(board, x1 - 1, y1 - 1, x2 + 1, at)
        high = shapely.clip_by_rect(board, x1 - 1, at, x2 + 1, y2 + 1)
    return _polygons(low), _polygons(high)


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    return [g for g in shapely.get_parts(shape) if g.geom_type == "Polygon" and g.area > 1e-3]


def chords_ok(
    frame: Frame, part: Part, upright: bool, at: float
) -> list[tuple[float, float]] | None:
    """Joint lengths of a cut, or None if one is too short, too oblique or crosses a keep-off."""
    chords = part.chords(upright, at)
    if not chords:
        return None
    least = frame.limits.min_width_mm
    for low, high, slope_low, slope_high in chords:
        if high - low < least or abs(slope_low) > _STEEP or abs(slope_high) > _STEEP:
            return None
    for shape in frame.keep_off:
        x1, y1, x2, y2 = shape.bounds
        if not (x1 <= at <= x2 if upright else y1 <= at <= y2):
            continue
        for low, high, _, _ in chords:
            line = LineString([(at, low), (at, high)] if upright else [(low, at), (high, at)])
            if line.intersects(shape):
                return None
    return [(low, high) for low, high, _, _ in chords]


def divide(
    frame: Frame, part: Part, upright: bool, at: float, teeth_up: bool
) -> tuple[tuple[Cut, ...], list[Part]] | None:
    """Cut a part along a line with the teeth one way; None if the line will not do."""
    made = ways_along(frame, part, upright, at, both=False, teeth_up=teeth_up)
    return made[0] if made else None


def ways_along(
    frame: Frame,
    part: Part,
    upright: bool,
    at: float,
    *,
    both: bool = True,
    teeth_up: bool = True,
) -> list[tuple[tuple[Cut, ...], list[Part]]]:
    """The line with teeth either way, and each joint length of it alone."""
    chords = chords_ok(frame, part, upright, at)
    if chords is None:
        return []
    low, high = halves(part.board, upright, at)
    if not low or not high:
        return []
    one_way = frame.both_ways or frame.depth_mm == 0.0
    ways = ((True,) if one_way else (True, False)) if both else (teeth_up,)
    found = [_parted(frame, part, upright, at, up, chords, low, high) for up in ways]
    if both and 2 <= len(chords) <= 4:
        for only in range(len(chords)):
            joined = _rejoin(low, high, chords, upright, at, only)
            if joined is not None:
                one = [chords[only]]
                found += [
                    _parted(frame, part, upright, at, up, one, joined[0], joined[1]) for up in ways
                ]
    return found


def _parted(
    frame: Frame,
    part: Part,
    upright: bool,
    at: float,
    teeth_up: bool,
    chords: Sequence[tuple[float, float]],
    low: Sequence[Polygon],
    high: Sequence[Polygon],
) -> tuple[tuple[Cut, ...], list[Part]]:
    """Cuts and parts of a line, each part with the teeth that stand on it."""
    depth = frame.depth_mm
    reach_low = depth if frame.both_ways or teeth_up else 0.0
    reach_high = depth if frame.both_ways or not teeth_up else 0.0
    parts: list[Part] = []
    for boards, reach, is_low in ((low, reach_low, True), (high, reach_high, False)):
        for board in boards:
            teeth: list[Polygon] = []
            for old in part.teeth:
                # A strip of teeth stays with the board it hangs on.
                clipped = _strip_side(old, upright, at, is_low)
                if clipped is not None and clipped.distance(board) < 1e-6:
                    teeth.append(clipped)
            if reach > 0.0:
                for a, b in chords:
                    strip = _strip(upright, at, a, b, reach, up=is_low)
                    if len(boards) == 1 or strip.distance(board) < 1e-6:
                        teeth.append(strip)
            parts.append(Part(board, tuple(teeth)))
    return tuple(Cut(upright, at, a, b, teeth_up) for a, b in chords), parts


def _strip(upright: bool, at: float, a: float, b: float, reach: float, *, up: bool) -> Polygon:
    one, two = (at, at + reach) if up else (at - reach, at)
    # Teeth keep off both ends of the joint length; they never widen the piece there.
    inset = min(reach / 2, (b - a) / 4)
    if upright:
        return shapely.box(one, a + inset, two, b - inset)
    return shapely.box(a + inset, one, b - inset, two)


def _strip_side(old: Polygon, upright: bool, at: float, is_low: bool) -> Polygon | None:
    x1, y1, x2, y2 = old.bounds
    if upright:
        x1, x2 = (x1, min(x2, at)) if is_low else (max(x1, at), x2)
    else:
        y1, y2 = (y1, min(y2, at)) if is_low else (max(y1, at), y2)
    return shapely.box(x1, y1, x2, y2) if x2 > x1 and y2 > y1 else None


def _rejoin(
    low: list[Polygon],
    high: list[Polygon],
    chords: Sequence[tuple[float, float]],
    upright: bool,
    at: float,
    only: int,
) -> tuple[list[Polygon], list[Polygon]] | None:
    """Parts when only one joint length is cut: the others stay joined. None if it parts nothing."""
    boards = [*low, *high]
    group = list(range(len(boards)))

    def find(k: int) -> int:
        while group[k] != k:
            k = group[k]
        return k

    def beside(a: float, b: float, side: list[int]) -> int | None:
        middle = (a + b) / 2
        spot = shapely.Point((at, middle) if upright else (middle, at))
        best = min(side, key=lambda k: boards[k].distance(spot), default=None)
        return best

    lows, highs = list(range(len(low))), list(range(len(low), len(boards)))
    sides = None
    for k, (a, b) in enumerate(chords):
        one, two = beside(a, b, lows), beside(a, b, highs)
        if one is None or two is None:
            return None
        if k == only:
            sides = (one, two)
            continue
        group[find(two)] = find(one)
    if sides is None or find(sides[0]) == find(sides[1]):
        return None
    merged: dict[int, list[Polygon]] = {}
    for k, board in enumerate(boards):
        merged.setdefault(find(k), []).append(board)
    result: list[list[Polygon]] = []
    for side in sides:
        union = _polygons(shapely.union_all(merged[find(side)]))
        if len(union) != 1:
            return None
        result.append(union)
    rest = [k for k in merged if k not in (find(sides[0]), find(sides[1]))]
    if rest:
        return None
    return result[0], result[1]
