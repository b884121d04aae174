"""Searching for cuts: straight ones, square to each other in one frame, each through one part.

The panel is turned so that cuts run along the axes. A part that does not fit is cut by a line
at one of a few telling places: as far as a piece may reach, evenly, through holes, beside
inner corners. Parts are cut on until all fit; the number of pieces is deepened one by one, so
the first answer has the fewest pieces this search can find. A budget of evaluations, not a
clock, ends it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from core.splitting.limits import fit_piece
from core.splitting.model import PieceLimits

FloatArray = NDArray[np.float64]
_CLEAR_MM = 0.5  # beyond the margin that a thing to keep off already has round it
_STEEP = 1.0 / math.tan(math.radians(25.0))  # an edge this oblique to a cut leaves a feather tip


@dataclass(frozen=True, slots=True)
class Cut:
    """One straight stretch of seam in the frame: from one edge of the board to another.

    upright: runs along y at x = at_mm, else along x at y = at_mm. low_mm, high_mm: its ends.
    teeth_up: the teeth point towards larger x (or y).
    """

    upright: bool
    at_mm: float
    low_mm: float
    high_mm: float
    teeth_up: bool

    @property
    def length_mm(self) -> float:
        return self.high_mm - self.low_mm

    @property
    def ends(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Both end points in the frame."""
        if self.upright:
            return (self.at_mm, self.low_mm), (self.at_mm, self.high_mm)
        return (self.low_mm, self.at_mm), (self.high_mm, self.at_mm)


@dataclass(frozen=True)
class Part:
    """A part of the panel, with the strips its teeth take from neighbours."""

    board: Polygon
    teeth: tuple[Polygon, ...] = ()

    @cached_property
    def points(self) -> FloatArray:
        """Corners of board and teeth."""
        rows = [shapely.get_coordinates(self.board.exterior)]
        rows += [shapely.get_coordinates(t) for t in self.teeth]
        return np.vstack(rows) if self.teeth else rows[0]

    @cached_property
    def edges(self) -> FloatArray:
        """(n, 4) edges x1, y1, x2, y2 of the board's rings."""
        rows = []
        for ring in (self.board.exterior, *self.board.interiors):
            xy = shapely.get_coordinates(ring)
            rows.append(np.hstack([xy[:-1], xy[1:]]))
        return np.vstack(rows)

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        """Bounds of the board."""
        x1, y1, x2, y2 = self.board.bounds
        return x1, y1, x2, y2

    def chords(self, upright: bool, at: float) -> list[tuple[float, float, float, float]]:
        """Where a line runs in the board: (low, high, slope of the edge at low, at high).

        Slope: how far the end moves along the line per mm that the line is moved.
        """
        e = self.edges if upright else self.edges[:, [1, 0, 3, 2]]
        hit = (e[:, 0] <= at) != (e[:, 2] <= at)
        x1, y1, x2, y2 = e[hit].T
        slope = (y2 - y1) / (x2 - x1)
        y = y1 + (at - x1) * slope
        order = np.argsort(y)
        y, slope = y[order], slope[order]
        return [
            (float(y[k]), float(y[k + 1]), float(slope[k]), float(slope[k + 1]))
            for k in range(0, len(y) - 1, 2)
        ]


@dataclass(frozen=True, slots=True)
class Plan:
    """Cuts and the parts they leave."""

    cuts: tuple[Cut, ...]
    parts: tuple[Part, ...]

    @property
    def seam_mm(self) -> float:
        return sum(cut.length_mm for cut in self.cuts)


@dataclass
class Frame:
    """A panel turned for cutting along the axes, and what may be cut how."""

    board: Polygon
    limits: PieceLimits
    depth_mm: float
    keep_off: tuple[BaseGeometry, ...]
    margin_mm: float
    both_ways: bool = False  # the joint reaches to both sides of the seam line
    slot_mm: float = 0.0  # openings no wider than this take a board or a screw
    budget: int = 1500
    spent: int = 0
    pool: list[Plan] = field(default_factory=list)  # whole plans met on the way

    @cached_property
    def in_the_way(self) -> tuple[tuple[float, float, float, float], ...]:
        """Bounds (x1, y1, x2, y2) of where no tooth finds room: things to keep off, and openings
        with the same margin round them."""
        grown = self.margin_mm - self.depth_mm
        openings = (Polygon(ring).buffer(grown) for ring in self.board.interiors)
        return tuple(shape.bounds for shape in (*self.keep_off, *openings))

    @cached_property
    def slots(self) -> tuple[tuple[float, float, float, float], ...]:
        """Bounds (x1, y1, x2, y2) of slots and small holes."""
        return tuple(slot.bounds for slot in slots_of(self.board, self.slot_mm))

    def ratio(self, part: Part) -> float:
        """How much of its room the part needs: over 1 is too much."""
        self.spent += 1
        fit = fit_piece(part.points, self.limits)
        return math.inf if fit is None else fit.ratio


def slots_of(board: Polygon, widest_mm: float) -> list[Polygon]:
    """The openings that are slots or small holes: at most so wide across."""
    found = []
    for ring in board.interiors:
        opening = Polygon(ring)
        corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(opening))
        if len(corners) >= 4:
            sides = np.hypot(*np.diff(corners[:3], axis=0).T)
            if float(sides.min()) <= widest_mm:
                found.append(opening)
    return found


def turned_limits(limits: PieceLimits, frame_deg: float) -> PieceLimits:
    """Limits seen from a frame whose x axis lies at frame_deg in the panel."""
    if limits.turns_deg is None or frame_deg == 0.0:
        return limits
    from dataclasses import replace

    return replace(limits, turns_deg=tuple(t + frame_deg for t in limits.turns_deg))


def least_pieces(area_mm2: float, points: FloatArray, limits: PieceLimits) -> int:
    """A number of pieces no plan can be below: by area, and by places too far apart to share.

    Of the shape's corners, a set is grown in which no two can lie in one piece; that many
    pieces are needed.
    """
    if not limits.envelopes_mm:
        return 1
    room = max(w * h for w, h in limits.envelopes_mm)
    by_area = math.ceil(area_mm2 / room - 1e-9)
    if len(points) > 120:
        points = points[np.linspace(0, len(points) - 1, 120).astype(int)]
    dx = np.abs(points[:, None, 0] - points[None, :, 0])
    dy = np.abs(points[:, None, 1] - points[None, :, 1])
    together = np.zeros(dx.shape, dtype=bool)
    for w, h in limits.envelopes_mm:
        if limits.turns_deg is None:
            together |= np.hypot(dx, dy) <= math.hypot(w, h) * (1 + 1e-9)
            continue
        for turn in limits.turns_deg:
            c, s = abs(math.cos(math.radians(turn))), abs(math.sin(math.radians(turn)))
            if min(c, s) > 1e-12:
                together |= np.hypot(dx, dy) <= math.hypot(w, h) * (1 + 1e-9)
            elif s < 0.5:
                together |= (dx <= w * (1 + 1e-9)) & (dy <= h * (1 + 1e-9))
            else:
                together |= (dy <= w * (1 + 1e-9)) & (dx <= h * (1 + 1e-9))
    apart = ~together
    by_distance = 1
    # Greedy from each corner: take the next corner that is apart from all taken.
    for start in range(0, len(points), max(1, len(points) // 24)):
        open_ = apart[start].copy()
        size = 1
        while open_.any():
            pick = int(np.argmax(np.where(open_, apart.sum(1), -1)))
            size += 1
            open_ &= apart[pick]
        by_distance = max(by_distance, size)
    return max(1, by_area, by_distance)


def _halves(board: BaseGeometry, upright: bool, at: float) -> tuple[list[Polygon], list[Polygon]]:
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
    made = _ways(frame, part, upright, at, both=False, teeth_up=teeth_up)
    return made[0] if made else None


def _ways(
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
    low, high = _halves(part.board, upright, at)
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


def places(frame: Frame, part: Part, upright: bool) -> list[float]:
    """Telling places for a cut along one axis, in order of promise."""
    x1, y1, x2, y2 = part.bounds
    low, high = (x1, x2) if upright else (y1, y2)
    size = high - low
    found: list[float] = []
    for w, h in frame.limits.envelopes_mm:
        reach = w if upright else h
        count = math.ceil(size / reach - 1e-9)
        if 2 <= count <= 8:
            # Evenly, then as far as a piece reaches, with its teeth or without.
            found += [low + size * k / count for k in range(1, count)]
        toothless = reach - frame.depth_mm
        for room in (reach, toothless):
            if room < size:
                found += [low + room, high - room]
    found += [low + size / 2, low + size / 3, high - size / 3, low + size / 4, high - size / 4]
    for hole in part.board.interiors:
        hx1, hy1, hx2, hy2 = hole.bounds
        a, b = (hx1, hx2) if upright else (hy1, hy2)
        found += [(a + b) / 2, a - frame.margin_mm, b + frame.margin_mm]
    found += _inner_corners(part.board, upright, frame.margin_mm)
    found += _limits_of_fit(frame, part, upright)
    for shape in frame.keep_off:
        sx1, sy1, sx2, sy2 = shape.bounds
        a, b = (sx1, sx2) if upright else (sy1, sy2)
        clear = frame.depth_mm + _CLEAR_MM
        near = [t for t in found if a - clear <= t <= b + clear]
        if near:
            # Where teeth just clear it, and a little farther.
            found += [a - clear, b + clear, a - frame.margin_mm, b + frame.margin_mm]
    least = frame.limits.min_width_mm
    once: list[float] = []
    for at in found:
        at = round(at, 6)
        if low + least <= at <= high - least and all(abs(at - other) > 1.0 for other in once):
            once.append(at)
    return once


def _inner_corners(board: Polygon, upright: bool, margin: float) -> list[float]:
    ring = shapely.get_coordinates(board.exterior)[:-1]
    if len(ring) > 400:
        return []
    before, after = np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0)
    cross = (ring[:, 0] - before[:, 0]) * (after[:, 1] - ring[:, 1]) - (
        ring[:, 1] - before[:, 1]
    ) * (after[:, 0] - ring[:, 0])
    if not board.exterior.is_ccw:
        cross = -cross
    long = np.hypot(*(ring - before).T) * np.hypot(*(after - ring).T)
    corners = ring[(cross < 0) & (np.abs(cross) > 0.3 * long)]
    axis = 0 if upright else 1
    values = sorted({round(float(v), 3) for v in corners[:, axis]})[:8]
    return [v for value in values for v in (value - margin, value + margin, value)]


def _limits_of_fit(frame: Frame, part: Part, upright: bool) -> list[float]:
    """The farthest cuts, from either end, that leave a piece which still fits."""
    x1, y1, x2, y2 = part.bounds
    low, high = (x1, x2) if upright else (y1, y2)
    if frame.limits.turns_deg is not None and len(part.board.exterior.coords) < 6:
        return []
    found: list[float] = []
    for from_low in (True, False):
        good, bad = (low, high) if from_low else (high, low)
        for _ in range(9):
            middle = (good + bad) / 2
            halves = _halves(part.board, upright, middle)[0 if from_low else 1]
            if halves and all(frame.ratio(Part(p)) <= 1.0 for p in halves):
                good = middle
            else:
                bad = middle
        found += [good, good - frame.depth_mm if from_low else good + frame.depth_mm]
    return found


def seek(
    frame: Frame,
    part: Part,
    most: int,
    *,
    cost: Callable[[Plan], float],
    first_only: bool,
    memo: dict[tuple[object, ...], Plan | None],
) -> Plan | None:
    """The cheapest plan of at most so many pieces the budget finds, None if it finds none."""
    if frame.ratio(part) <= 1.0 + 1e-9:
        return Plan((), (part,))
    if most < 2 or frame.spent > frame.budget:
        return None
    need = least_pieces(part.board.area, part.points, frame.limits)
    if need > most:
        return None
    key = (
        tuple(round(v, 2) for v in part.board.bounds),
        round(part.board.area, 1),
        len(part.teeth),
        most,
        first_only,
    )
    if key in memo:
        return memo[key]
    best: Plan | None = None
    best_cost = math.inf
    x1, y1, x2, y2 = part.bounds
    axes = (True, False) if x2 - x1 >= y2 - y1 else (False, True)
    options: list[tuple[float, tuple[Cut, ...], list[Part]]] = []
    for upright in axes:
        for at in places(frame, part, upright):
            if frame.spent > frame.budget:
                break
            for made in _ways(frame, part, upright, at):
                cuts, parts = made
                needs = [max(1, math.ceil(p.board.area / _room(frame) - 1e-9)) for p in parts]
                if sum(needs) > most:
                    continue
                misfits = 0
                for k, p in enumerate(parts):
                    if frame.ratio(p) > 1.0 + 1e-9:
                        needs[k] = max(2, needs[k])
                        misfits += 1
                if sum(needs) > most:
                    continue
                if misfits == 0 and first_only:
                    return Plan(cuts, tuple(parts))
                options.append((sum(c.length_mm for c in cuts) + 300.0 * sum(needs), cuts, parts))
    options.sort(key=lambda option: option[0])
    for _, cuts, parts in options:
        plan = _finish(frame, cuts, parts, most, cost=cost, first_only=first_only, memo=memo)
        if plan is None:
            continue
        value = cost(plan)
        if part.board is frame.board:
            frame.pool.append(plan)
        if value < best_cost:
            best, best_cost = plan, value
        if first_only or frame.spent > frame.budget:
            break
    if frame.spent <= frame.budget or best is not None:
        memo[key] = best
    return best


def _room(frame: Frame) -> float:
    return max(w * h for w, h in frame.limits.envelopes_mm)


def _finish(
    frame: Frame,
    cuts: tuple[Cut, ...],
    parts: Sequence[Part],
    most: int,
    *,
    cost: Callable[[Plan], float],
    first_only: bool,
    memo: dict[tuple[object, ...], Plan | None],
) -> Plan | None:
    all_cuts = list(cuts)
    all_parts: list[Part] = []
    left = most
    # The largest first: it is the likeliest to use up what is left.
    order = sorted(parts, key=lambda p: -p.board.area)
    for k, part in enumerate(order):
        others = len(order) - k - 1
        plan = seek(frame, part, left - others, cost=cost, first_only=first_only, memo=memo)
        if plan is None:
            return None
        all_cuts.extend(plan.cuts)
        all_parts.extend(plan.parts)
        left -= len(plan.parts)
        if left < others:
            return None
    return Plan(tuple(all_cuts), tuple(all_parts))
