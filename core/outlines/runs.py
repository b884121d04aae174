"""A ring as a row of runs: straight stretches and arcs, corners that a bit relieved made square."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from core.geometry import Point, Ring

PARALLEL = 1e-3  # sine of the angle two walls of a slot may be out of parallel
_RELIEF_REACH_MM = 15.0  # a bit that relieves corners is no larger
_RELIEF_RUNS = 3  # runs a relief is made of at most


@dataclass(frozen=True, slots=True)
class Run:
    """A straight stretch of a ring, or one arc, with the edges it is made of.

    relieved: it was drawn out to the corner that a relief or a rounding took away.
    """

    start: Point
    end: Point
    bulge: float
    first: int
    last: int
    relieved: bool = False

    @property
    def length(self) -> float:
        """From end to end in a straight line, mm."""
        return math.dist(self.start, self.end)

    @property
    def unit(self) -> Point:
        """The way it runs, one long; of a run that has a length."""
        size = self.length
        return (self.end[0] - self.start[0]) / size, (self.end[1] - self.start[1]) / size


def runs_of(ring: Ring) -> list[Run]:
    """Edges in order, straight ones that go on in one line made one."""
    runs = [Run(start, end, b, i, i) for i, (start, end, b) in enumerate(ring.edges())]
    merged: list[Run] = []
    for run in runs:
        if merged and _goes_on(merged[-1], run):
            last = merged[-1]
            merged[-1] = Run(last.start, run.end, 0.0, last.first, run.last)
        else:
            merged.append(run)
    if len(merged) > 3 and _goes_on(merged[-1], merged[0]):
        last = merged.pop()
        first = merged[0]
        merged[0] = Run(last.start, first.end, 0.0, last.first, first.last)
    return merged


def _goes_on(a: Run, b: Run) -> bool:
    """True if two straight runs are one line."""
    if a.bulge or b.bulge or not a.length or not b.length:
        return False
    (ux, uy), (vx, vy) = a.unit, b.unit
    return abs(ux * vy - uy * vx) < 1e-6 and ux * vx + uy * vy > 0


def sharpened(runs: Sequence[Run]) -> list[Run]:
    """The runs with reliefs and roundings at square corners taken back to the corner.

    What a bit cleared at a corner is one to three short runs, at least one of them an arc,
    between two straight ones that are square to each other; both are drawn out to where their
    lines meet.
    """
    count = len(runs)
    start = next((i for i in range(count) if not runs[i].bulge and runs[i].length), None)
    if start is None or count < 6:
        return list(runs)
    turned = [*runs[start:], *runs[:start]]
    out = [turned[0]]
    i = 1
    while i <= count:
        met = _past_relief(turned, i)
        if met is None:
            if i < count:
                out.append(turned[i])
            i += 1
            continue
        corner, there = met
        a = out[-1]
        out[-1] = Run(a.start, corner, 0.0, a.first, turned[there - 1].last, True)
        b = turned[there % count] if there < count else out[0]
        grown = Run(corner, b.end, 0.0, b.first, b.last, True)
        if there < count:
            out.append(grown)
        else:
            out[0] = grown
        i = there + 1
    return out


def _past_relief(turned: Sequence[Run], at: int) -> tuple[Point, int] | None:
    """The corner that the short runs from at on cut off, and the straight run after them."""
    count = len(turned)
    a = turned[at - 1]
    if a.bulge or not a.length:
        return None
    arcs = False
    for there in range(at, min(at + _RELIEF_RUNS, count) + 1):
        b = turned[there % count]
        if there > at and arcs and not b.bulge and b.length:
            corner = _square_corner(a, b)
            if corner is not None:
                return corner, there
        if there == count or b.length > _RELIEF_REACH_MM:
            return None
        arcs = arcs or bool(b.bulge)
    return None


def _square_corner(a: Run, b: Run) -> Point | None:
    """Where the lines of two square runs meet, if that is just past a and just before b."""
    (ux, uy), (vx, vy) = a.unit, b.unit
    if abs(ux * vx + uy * vy) > PARALLEL:
        return None
    across = ux * vy - uy * vx
    dx, dy = b.start[0] - a.end[0], b.start[1] - a.end[1]
    past = (dx * vy - dy * vx) / across
    before = (dx * uy - dy * ux) / across
    # The corner lies past a's end and, seen from b, before its start.
    if not (-1e-6 <= past <= _RELIEF_REACH_MM and -1e-6 <= -before <= _RELIEF_REACH_MM):
        return None
    return a.end[0] + ux * past, a.end[1] + uy * past


def apart(a: Run, b: Run) -> tuple[float, float] | None:
    """Distance of antiparallel straight runs and how far they run beside each other.

    The distance is positive when b lies to the right of a. None if they are not walls of one
    gap or tongue.
    """
    if a.bulge or b.bulge or not a.length or not b.length:
        return None
    (ux, uy), (vx, vy) = a.unit, b.unit
    if ux * vx + uy * vy > 0 or abs(ux * vy - uy * vx) > PARALLEL:
        return None
    mx, my = (b.start[0] + b.end[0]) / 2 - a.start[0], (b.start[1] + b.end[1]) / 2 - a.start[1]
    right = mx * uy - my * ux
    s1 = (b.start[0] - a.start[0]) * ux + (b.start[1] - a.start[1]) * uy
    s2 = (b.end[0] - a.start[0]) * ux + (b.end[1] - a.start[1]) * uy
    beside = min(max(s1, s2), a.length) - max(min(s1, s2), 0.0)
    return (right, beside) if beside > 0 else None
