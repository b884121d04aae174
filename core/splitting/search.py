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

from shapely.geometry import Polygon

from core.splitting.dividing import halves, ways_along
from core.splitting.frame import Cut, Frame, Part, Plan, inner_corners, least_pieces

_MANY_CORNERS = 401  # of an edge; so many are the points of a curve
_CLEAR_MM = 0.5  # beyond the margin that a thing to keep off already has round it


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
    if len(board.exterior.coords) > _MANY_CORNERS:
        return []
    corners = inner_corners(board, turned=0.3)
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
            side = halves(part.board, upright, middle)[0 if from_low else 1]
            if side and all(frame.ratio(Part(p)) <= 1.0 for p in side):
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
            for made in ways_along(frame, part, upright, at):
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
