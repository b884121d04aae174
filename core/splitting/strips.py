"""Plans made of parallel cuts, and grids of them: quick, regular, symmetric where possible."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import product

import shapely
from shapely.geometry import Polygon

from core.splitting.dividing import chords_ok, divide
from core.splitting.frame import Cut, Frame, Part, Plan
from core.splitting.search import places

_PAIR_STEPS = 9  # places tried for two cuts alike about the middle
_STATIONS = 56  # places tried for a cut across a panel


def cut_along(
    frame: Frame, start: Sequence[Part], cuts: Sequence[tuple[bool, float]], *, teeth_up: bool
) -> Plan | None:
    """Cut every part that a line crosses, line by line; None if one will not do."""
    parts = list(start)
    made: list[Cut] = []
    for upright, at in cuts:
        after: list[Part] = []
        crossed = False
        for part in parts:
            x1, y1, x2, y2 = part.bounds
            low, high = (x1, x2) if upright else (y1, y2)
            if not low + 1e-6 < at < high - 1e-6:
                after.append(part)
                continue
            done = divide(frame, part, upright, at, teeth_up)
            if done is None:
                return None
            crossed = True
            made.extend(done[0])
            after.extend(done[1])
        if not crossed:
            return None
        parts = after
    return Plan(tuple(made), tuple(parts))


def all_fit(frame: Frame, plan: Plan) -> bool:
    """True if every part fits."""
    return all(frame.ratio(part) <= 1.0 + 1e-9 for part in plan.parts)


def even_strips(frame: Frame, most: int) -> list[Plan]:
    """Evenly spaced parallel cuts: the fewest that do, upright and level."""
    found: list[Plan] = []
    x1, y1, x2, y2 = frame.board.bounds
    whole = [Part(frame.board)]
    for upright in (True, False):
        low, high = (x1, x2) if upright else (y1, y2)
        for count in range(2, most + 1):
            cuts = [(upright, low + (high - low) * k / count) for k in range(1, count)]
            plan = _first_way(frame, whole, cuts)
            if plan is not None:
                found.append(plan)
                break
    return found


def _first_way(
    frame: Frame, start: Sequence[Part], cuts: Sequence[tuple[bool, float]]
) -> Plan | None:
    for teeth_up in (True, False):
        plan = cut_along(frame, start, cuts, teeth_up=teeth_up)
        if plan is not None and all_fit(frame, plan):
            return plan
    return None


def mirrored_pairs(frame: Frame, most: int) -> list[Plan]:
    """Two cuts at equal distance from the middle, for panels alike on both sides."""
    if most < 3:
        return []
    found: list[Plan] = []
    x1, y1, x2, y2 = frame.board.bounds
    for upright in (True, False):
        low, high = (x1, x2) if upright else (y1, y2)
        middle, half = (low + high) / 2, (high - low) / 2
        reach = max(w if upright else h for w, h in frame.limits.envelopes_mm)
        tries = [reach / 2 - frame.depth_mm, half / 2, half / 3, 0.4 * half, 0.6 * half]
        # Between as far out as the middle piece allows and as far in as the outer ones do.
        least, furthest = half - reach, reach / 2
        if least < furthest:
            tries += [least + (furthest - least) * k / _PAIR_STEPS for k in range(1, _PAIR_STEPS)]
        for away, outwards in product(tries, (False, True)):
            if not frame.limits.min_width_mm / 2 <= away < half - frame.limits.min_width_mm:
                continue
            # The middle piece carries the teeth of both, or neither: both sides stay alike.
            first = cut_along(
                frame, [Part(frame.board)], [(upright, middle - away)], teeth_up=not outwards
            )
            if first is None:
                continue
            second = cut_along(frame, first.parts, [(upright, middle + away)], teeth_up=outwards)
            if second is None:
                continue
            plan = Plan((*first.cuts, *second.cuts), second.parts)
            if len(plan.parts) <= most and all_fit(frame, plan):
                found.append(plan)
    return found


def on_the_axis(frame: Frame, most: int, *, upright: bool) -> list[Plan]:
    """For a panel alike on both sides of its middle: a cut square to the middle line, then
    parts that still do not fit are cut along it. upright: the middle line runs along y.
    """
    found: list[Plan] = []
    x1, y1, x2, y2 = frame.board.bounds
    middle = (x1 + x2) / 2 if upright else (y1 + y2) / 2
    whole = Part(frame.board)
    for at in places(frame, whole, not upright):
        for teeth_up in (True, False):
            first = divide(frame, whole, not upright, at, teeth_up)
            if first is None:
                continue
            cuts = list(first[0])
            parts: list[Part] = []
            for part in first[1]:
                halves = None
                if frame.ratio(part) > 1.0 + 1e-9:
                    halves = divide(frame, part, upright, middle, True)
                if halves is None:
                    parts.append(part)
                    continue
                cuts.extend(halves[0])
                parts.extend(halves[1])
            plan = Plan(tuple(cuts), tuple(parts))
            if len(parts) <= most and all_fit(frame, plan):
                found.append(plan)
                break
    return found


def grids(frame: Frame, most: int) -> list[Plan]:
    """Columns by rows, with crossing seams, and with rows staggered like bricks."""
    found: list[Plan] = []
    x1, y1, x2, y2 = frame.board.bounds
    whole = [Part(frame.board)]
    sizes = sorted(
        (columns * rows, columns, rows)
        for columns in range(2, most // 2 + 1)
        for rows in range(2, most // columns + 1)
    )
    fewest = most
    for count, columns, rows in sizes:
        if count > fewest:
            break
        ups = [(True, x1 + (x2 - x1) * k / columns) for k in range(1, columns)]
        levels = [(False, y1 + (y2 - y1) * k / rows) for k in range(1, rows)]
        tries = [_first_way(frame, whole, [*ups, *levels])]
        tries += [_bricks(frame, ups, rows), _bricks_level(frame, levels, columns)]
        for plan in tries:
            if plan is not None and len(plan.parts) <= most and all_fit(frame, plan):
                found.append(plan)
                fewest = min(fewest, len(plan.parts))
    return found


def _bricks(frame: Frame, ups: Sequence[tuple[bool, float]], rows: int) -> Plan | None:
    """Upright seams through, level ones shifted from column to column."""
    first = cut_along(frame, [Part(frame.board)], ups, teeth_up=True)
    if first is None:
        return None
    return _staggered(frame, first, rows, upright=False)


def _bricks_level(frame: Frame, levels: Sequence[tuple[bool, float]], columns: int) -> Plan | None:
    """Level seams through, upright ones shifted from row to row."""
    first = cut_along(frame, [Part(frame.board)], levels, teeth_up=True)
    if first is None:
        return None
    return _staggered(frame, first, columns, upright=True)


def _staggered(frame: Frame, first: Plan, count: int, *, upright: bool) -> Plan | None:
    axis = 1 if upright else 0
    row = sorted(first.parts, key=lambda p: p.board.bounds[axis])
    cuts = list(first.cuts)
    parts: list[Part] = []
    for k, part in enumerate(row):
        x1, y1, x2, y2 = part.bounds
        low, high = (x1, x2) if upright else (y1, y2)
        size = (high - low) / count
        best: Plan | None = None
        # Shifted to and fro as far as the pieces still fit.
        for share in (0.12, 0.06, 0.03):
            shift = size * share * (1 if k % 2 else -1)
            lines = [(upright, low + size * n + shift) for n in range(1, count)]
            best = _first_way(frame, [part], lines)
            if best is not None:
                break
        if best is None:
            return None
        cuts.extend(best.cuts)
        parts.extend(best.parts)
    return Plan(tuple(cuts), tuple(parts))


def shortest_strips(frame: Frame, *, upright: bool) -> Plan | None:
    """Parallel cuts: the fewest pieces, and among these the least seam.

    Dynamic programming over stations across the panel; how far each strip may reach is found
    by moving both ends along together, since a wider strip never fits where a narrower fails.
    """
    x1, y1, x2, y2 = frame.board.bounds
    low, high = (x1, x2) if upright else (y1, y2)
    count = _STATIONS
    stations = [low + (high - low) * k / count for k in range(count + 1)]
    whole = Part(frame.board)
    length: list[float] = []
    for at in stations:
        chords = chords_ok(frame, whole, upright, at) if low < at < high else None
        length.append(math.inf if chords is None else sum(b - a for a, b in chords))
    length[0] = length[-1] = 0.0
    reach: list[int] = []
    j = 0
    for i in range(count):
        j = max(j, i + 1)
        if not _strip_fits(frame, upright, stations[i], stations[j]):
            reach.append(i)
            continue
        while j < count and _strip_fits(frame, upright, stations[i], stations[j + 1]):
            j += 1
        reach.append(j)
    best: list[tuple[int, float]] = [(10**6, math.inf)] * (count + 1)
    back = [-1] * (count + 1)
    best[0] = (0, 0.0)
    for i in range(count):
        if best[i][0] >= 10**6 or (i and math.isinf(length[i])):
            continue
        for j in range(i + 1, reach[i] + 1):
            if math.isinf(length[j]):
                continue
            value = (best[i][0] + 1, best[i][1] + length[j])
            if value < best[j]:
                best[j], back[j] = value, i
    if best[count][0] >= 10**6 or best[count][0] < 2:
        return None
    cuts: list[tuple[bool, float]] = []
    at_index = back[count]
    while at_index > 0:
        cuts.append((upright, stations[at_index]))
        at_index = back[at_index]
    return _first_way(frame, [Part(frame.board)], cuts[::-1])


def _strip_fits(frame: Frame, upright: bool, low: float, high: float) -> bool:
    x1, y1, x2, y2 = frame.board.bounds
    reach = frame.depth_mm
    if upright:
        shape = shapely.clip_by_rect(frame.board, low, y1 - 1, min(high + reach, x2 + 1), y2 + 1)
    else:
        shape = shapely.clip_by_rect(frame.board, x1 - 1, low, x2 + 1, min(high + reach, y2 + 1))
    boards = [g for g in shapely.get_parts(shape) if isinstance(g, Polygon) and g.area > 1e-3]
    return bool(boards) and all(frame.ratio(Part(b)) <= 1.0 + 1e-9 for b in boards)
