"""What speaks against a plan of seams, in mm of seam, and what of it can be counted beforehand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.affinity import scale
from shapely.geometry import LineString, Polygon

from core.geometry.ring import Point
from core.project.model import SeamLine
from core.splitting.frame import Cut, Frame, Plan, inner_corners


@dataclass(frozen=True, slots=True)
class Weights:
    """What a plan's faults cost, in mm of seam."""

    uneven_most: float = 150.0  # times (largest / mean − 1)
    uneven_least: float = 75.0  # times (1 − smallest / mean)
    seam: float = 60.0  # each seam, whatever its length
    crossing: float = 60.0  # where four pieces meet in a point
    feather: float = 150.0
    no_tooth: float = 200.0
    unsupported: float = 500.0
    feature: float = 200.0
    lopsided: float = 150.0  # a plan that is not symmetric on a panel that is, and besides
    lopsided_share: float = 0.35  # this share of its seam
    tiny: float = 400.0  # a piece of less than a seventh of the mean
    crowded: float = 0.4  # times the mm of seam whose teeth something is in the way of
    missing: float = 25.0  # each tooth that would fit the joint length but for that
    slot: float = 900.0  # a seam through a slot or a small hole, whose walls it tears apart
    corner: float = 120.0  # a seam that ends in an inner corner, where stress gathers


def rough_cost(weights: Weights, plan: Plan, frame: Frame | None = None) -> float:
    """Cost before the real cut: seam, evenness, number of seams, teeth in the way."""
    areas = [part.board.area for part in plan.parts]
    mean = sum(areas) / len(areas)
    w = weights
    cost = plan.seam_mm + w.seam * len(plan.cuts)
    cost += w.uneven_most * (max(areas) / mean - 1) + w.uneven_least * (1 - min(areas) / mean)
    if frame is not None and frame.in_the_way:
        cost += w.crowded * sum(_crowded(cut, frame) for cut in plan.cuts)
    if frame is not None and frame.slots:
        cost += w.slot * _through(plan.cuts, frame)
    return cost + w.tiny * sum(area < mean / 7 for area in areas)


def _through(cuts: Sequence[Cut], frame: Frame) -> int:
    """How many slots the cuts run through; a cut ends where a slot begins, and goes on after."""
    count = 0
    for x1, y1, x2, y2 in frame.slots:
        for upright in (True, False):
            across, along = ((x1, x2), (y1, y2)) if upright else ((y1, y2), (x1, x2))
            lines: dict[float, list[Cut]] = {}
            for cut in cuts:
                if cut.upright is upright and across[0] < cut.at_mm < across[1]:
                    lines.setdefault(round(cut.at_mm, 3), []).append(cut)
            for stretches in lines.values():
                low, high = min(c.low_mm for c in stretches), max(c.high_mm for c in stretches)
                count += low < along[1] and along[0] < high
    return count


def _crowded(cut: Cut, frame: Frame) -> float:
    """How much of a cut has something where its teeth would stand, mm."""
    depth = frame.depth_mm
    low = cut.at_mm - (depth if frame.both_ways or not cut.teeth_up else 0.0)
    high = cut.at_mm + (depth if frame.both_ways or cut.teeth_up else 0.0)
    total = 0.0
    for x1, y1, x2, y2 in frame.in_the_way:
        across, along = ((x1, x2), (y1, y2)) if cut.upright else ((y1, y2), (x1, x2))
        if across[0] < high and low < across[1]:
            total += max(0.0, min(along[1], cut.high_mm) - max(along[0], cut.low_mm))
    return total


def mirrors_of(board: Polygon) -> tuple[bool, bool]:
    """Whether a board is its own image left to right, and top to bottom."""
    origin = _middle(board)
    return (
        _alike(board, scale(board, -1, 1, origin=origin)),
        _alike(board, scale(board, 1, -1, origin=origin)),
    )


def is_symmetric(lines: Sequence[SeamLine], board: Polygon, mirrors: tuple[bool, bool]) -> bool:
    """True if the seams are their own image in every mirror that the board is its own image in."""
    cx, cy = _middle(board)
    drawn = shapely.union_all([LineString(line.points) for line in lines])
    for mirrored, (fx, fy) in zip(mirrors, ((-1, 1), (1, -1)), strict=True):
        if mirrored:
            other = scale(drawn, fx, fy, origin=(cx, cy))
            if drawn.hausdorff_distance(other) > 1.0:
                return False
    return True


def ends_in_corners(lines: Sequence[SeamLine], board: Polygon, *, near_mm: float) -> int:
    """Seam ends that lie nearer than that to an inner corner."""
    inner = inner_corners(board, turned=0.5)
    if len(inner) == 0:
        return 0
    ends = np.array([p for line in lines for p in (line.points[0], line.points[-1])])
    away = np.hypot(ends[:, None, 0] - inner[:, 0], ends[:, None, 1] - inner[:, 1])
    return int((away.min(axis=1) < near_mm).sum())


def count_crossings(lines: Sequence[SeamLine]) -> int:
    """How many pairs of seams cross between their ends."""
    count = 0
    for k, one in enumerate(lines):
        for two in lines[k + 1 :]:
            a, b = LineString(one.points), LineString(two.points)
            if a.crosses(b):
                spot = a.intersection(b)
                ends = [
                    shapely.Point(p)
                    for line in (one, two)
                    for p in (line.points[0], line.points[-1])
                ]
                count += all(spot.distance(end) > 1.0 for end in ends)
    return count


def _middle(board: Polygon) -> Point:
    x1, y1, x2, y2 = board.bounds
    return (x1 + x2) / 2, (y1 + y2) / 2


def _alike(one: Polygon, two: Polygon) -> bool:
    return bool(one.symmetric_difference(two).area < 2e-3 * one.area)
