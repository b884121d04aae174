"""Pushing a long board through an open-ended bed: where it stops, and how it is found again.

The board lies with its length along the feed (the bed's x) and is pushed on towards −x. At a
stop its point u lies at u − start on the bed, so every stop sees one window of it. A piece must
lie wholly in one window. Between two stops the board is lifted off its pins, pushed on and set
down on the pins again: two holes bored at one stop, in waste that both windows reach, take the
pins at the next one, so the step and the angle are right however the board was pushed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import shapely
import shapely.affinity
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from core.bed.room import beside, blocked_zones
from core.geometry import Point
from core.shop import Machine
from core.tolerances import FIT_REL, LAYOUT_DISTANCE_MM

#: Waste left between a pin's hole and the edge of the board (common practice, no source).
PIN_TO_EDGE_MM = 5.0
#: Waste left between a pin's hole and the groove round a piece (common practice, no source).
PIN_TO_GROOVE_MM = 2.0
#: Depth of the strip kept free for the middles of pins along either edge.
PIN_STRIP_MM = 1.0
#: Two pins nearer than this say little about the angle (common practice, no source).
PINS_APART_MM = 80.0
#: Stops are tried this far apart when room for pins is looked for.
SLIDE_MM = 5.0


@dataclass(frozen=True, slots=True)
class Feed:
    """How a long board lies on an open-ended bed, and what one stop reaches.

    length_mm, depth_mm: the board along and across the feed. turned: it lies a quarter turn
    counter-clockwise. bed_y_mm: its lower edge from the travel's corner. left_mm, right_mm: what
    cut pieces may cover along the feed, bed coordinates. low_mm, high_mm: across it, from the
    board's lower edge. radius_mm: of the bit.
    """

    length_mm: float
    depth_mm: float
    turned: bool
    bed_y_mm: float
    left_mm: float
    right_mm: float
    low_mm: float
    high_mm: float
    radius_mm: float

    @property
    def window_mm(self) -> float:
        """The longest piece one stop cuts, along the feed."""
        return self.right_mm - self.left_mm

    def room(self, margin_mm: float, pin_mm: float) -> Polygon:
        """Where pieces may lie on the board as it lies, room for the pins' holes left free.

        margin_mm: to every edge of the board.
        """
        strip = pin_mm + 2 * self.radius_mm + PIN_TO_GROOVE_MM + PIN_STRIP_MM
        low = max(margin_mm, self.low_mm, max(self.low_mm, PIN_TO_EDGE_MM) + strip)
        high = min(
            self.depth_mm - margin_mm,
            self.high_mm,
            min(self.high_mm, self.depth_mm - PIN_TO_EDGE_MM) - strip,
        )
        if high <= low or self.length_mm <= 2 * margin_mm:
            return Polygon()
        return box(margin_mm, low, self.length_mm - margin_mm, high)


@dataclass(frozen=True, slots=True)
class Stretch:
    """One stop. Coordinates are of the board as it lies.

    start_mm: the board's point at the travel's left edge. from_mm, to_mm: what of the board is
    over the travel. members: indices of the shapes cut here. bores: middles of the holes bored
    here for the next stop; pins: of those bored before, in which pins stand now.
    """

    start_mm: float
    from_mm: float
    to_mm: float
    members: tuple[int, ...]
    bores: tuple[Point, ...] = ()
    pins: tuple[Point, ...] = ()


@lru_cache(maxsize=256)
def feed_of(
    machine: Machine, width_mm: float, height_mm: float, *, edge_margin_mm: float = 0.0
) -> Feed | None:
    """How a board of that size is pushed through, its longer side along the feed.

    None if the bed has no open ends or the board is wider than the table.
    """
    if not machine.open_ended:
        return None
    turned = height_mm > width_mm * (1 + FIT_REL)
    length, depth = (height_mm, width_mm) if turned else (width_mm, height_mm)
    if depth > machine.table_mm[1] * (1 + FIT_REL):
        return None
    radius = machine.cutter.radius_mm
    bed_y = beside(depth, machine.travel_mm[1], machine.table_mm[1], radius, edge_margin_mm)
    best: tuple[float, tuple[float, float, float, float]] | None = None
    for x1, y1, x2, y2 in _clear_rectangles(machine):
        low, high = max(0.0, y1 - bed_y), min(depth, y2 - bed_y)
        area = (x2 - x1) * (high - low)
        if high > low and x2 > x1 and (best is None or area > best[0] * (1 + FIT_REL)):
            best = (area, (x1, low, x2, high))
    if best is None:
        return None
    left, low, right, high = best[1]
    return Feed(length, depth, turned, bed_y, left, right, low, high, radius)


def _clear_rectangles(machine: Machine) -> list[tuple[float, float, float, float]]:
    """Largest upright rectangles pieces may cover, bed coordinates, clear of all clamps."""
    radius = machine.cutter.radius_mm
    travel_w, travel_h = machine.travel_mm
    x1, y1, x2, y2 = radius, radius, travel_w - radius, travel_h - radius
    if x2 <= x1 or y2 <= y1:
        return []
    zones = [zone.bounds for zone in blocked_zones(machine)]
    xs = sorted({x1, x2, *(min(max(v, x1), x2) for z in zones for v in (z[0], z[2]))})
    ys = sorted({y1, y2, *(min(max(v, y1), y2) for z in zones for v in (z[1], z[3]))})
    found = []
    for i, left in enumerate(xs):
        for right in xs[i + 1 :]:
            for k, low in enumerate(ys):
                for high in ys[k + 1 :]:
                    clear = not any(
                        z[0] < right and z[2] > left and z[1] < high and z[3] > low for z in zones
                    )
                    if clear:
                        found.append((left, low, right, high))
    return found


def lying(shape: BaseGeometry, blank: tuple[float, float, float, float], feed: Feed) -> Polygon:
    """A shape of the sheet on its board as that lies on the bed; blank: (x, y, width, height)."""
    x, y, _, height = blank
    if feed.turned:
        return shapely.affinity.affine_transform(shape, (0.0, -1.0, 1.0, 0.0, y + height, -x))
    return shapely.affinity.translate(shape, -x, -y)


def on_sheet(at: Point, blank: tuple[float, float, float, float], feed: Feed) -> Point:
    """A point of the lying board in the sheet's coordinates."""
    x, y, _, height = blank
    return (x + at[1], y + height - at[0]) if feed.turned else (x + at[0], y + at[1])


def stretches(
    feed: Feed, shapes: Sequence[Polygon], travel_w_mm: float, *, pin_mm: float
) -> tuple[Stretch, ...]:
    """The stops that cut every shape, as few as will do, first one first.

    shapes: cut outlines on the lying board. travel_w_mm: of the bit's centre along the feed.
    pin_mm: diameter of the pins. Stops are covered greedily: each goes on as far as the foremost
    shape still to be cut allows, then back again only as far as two pins need, which gives the
    fewest stops (interval stabbing; own derivation). A stop in between that only bores is put in
    where two others do not share enough board. A shape longer than a window is in no stop's
    members; a stop without two bores although another follows had no room for them.
    """
    extents = [(shape.bounds[0], shape.bounds[2]) for shape in shapes]
    open_ = [k for k, (a, b) in enumerate(extents) if b - a <= feed.window_mm + LAYOUT_DISTANCE_MM]
    starts: list[tuple[float, float, tuple[int, ...]]] = []
    while open_:
        latest = min(extents[k][0] for k in open_) - feed.left_mm
        here = tuple(
            k for k in open_ if extents[k][1] <= latest + feed.right_mm + LAYOUT_DISTANCE_MM
        )
        earliest = max(extents[k][1] for k in here) - feed.right_mm
        starts.append((min(earliest, latest), latest, here))
        open_ = [k for k in open_ if k not in here]
    if not starts:
        return ()
    grown = _closed(feed, shapes, pin_mm)
    rows: list[tuple[float, tuple[int, ...], tuple[Point, ...]]] = []
    # The first stop has the board's end at the left of the bed if all of it is cut there.
    first = starts[0]
    at = min(max(first[0], -feed.left_mm), first[1])
    at = max(first[0], math.floor(at)) if at > 0 else at
    taken: list[BaseGeometry] = []
    members = first[2]
    for earliest, latest, following in starts[1:]:
        # What is shared must hold a pin; further on, a stop in between carries the board there.
        reach = feed.window_mm - pin_mm - 2 * SLIDE_MM
        while earliest > at + reach and reach > 0:
            between = at + reach
            bores = _bores(feed, at, between, grown, taken, pin_mm)
            back = between
            while not bores and back - SLIDE_MM > at + feed.window_mm / 2:
                back -= SLIDE_MM
                bores = _bores(feed, at, back, grown, taken, pin_mm)
            rows.append((at, members, bores))
            at, members = back if bores else between, ()
        low = max(earliest, at)
        spot, bores = max(low, math.floor(latest)), ()
        while True:
            bores = _bores(feed, at, spot, grown, taken, pin_mm)
            if bores or spot <= low:
                break
            spot = max(low, spot - SLIDE_MM)
        rows.append((at, members, bores))
        at, members = (spot if bores else max(low, math.floor(latest))), following
    rows.append((at, members, ()))
    return tuple(_made(feed, rows, travel_w_mm))


def _made(
    feed: Feed,
    rows: Sequence[tuple[float, tuple[int, ...], tuple[Point, ...]]],
    travel_w_mm: float,
) -> list[Stretch]:
    found = []
    pins: tuple[Point, ...] = ()
    for start, members, bores in rows:
        found.append(
            Stretch(
                start,
                max(0.0, start),
                min(feed.length_mm, start + travel_w_mm),
                members,
                bores,
                pins,
            )
        )
        pins = bores
    return found


def _closed(feed: Feed, shapes: Sequence[Polygon], pin_mm: float) -> BaseGeometry:
    """Where no pin's middle may be, for the pieces' sake."""
    keep = pin_mm / 2 + 2 * feed.radius_mm + PIN_TO_GROOVE_MM
    filled = [Polygon(shape.exterior) for shape in shapes]
    return shapely.union_all([shape.buffer(keep) for shape in filled])


def _bores(
    feed: Feed,
    at: float,
    following: float,
    grown: BaseGeometry,
    taken: list[BaseGeometry],
    pin_mm: float,
) -> tuple[Point, ...]:
    """Middles of two holes that both stops reach, as far apart as can be; () if there are none."""
    half = pin_mm / 2
    left = max(following + feed.left_mm, 0.0) + half
    right = min(at + feed.right_mm, feed.length_mm) - half
    low = max(feed.low_mm, PIN_TO_EDGE_MM) + half
    high = min(feed.high_mm, feed.depth_mm - PIN_TO_EDGE_MM) - half
    left = max(left, PIN_TO_EDGE_MM + half)
    right = min(right, feed.length_mm - PIN_TO_EDGE_MM - half)
    if left > right or low > high:
        return ()
    free: BaseGeometry = box(left, low, right, high).difference(grown)
    if taken:
        free = free.difference(shapely.union_all(taken))
    hull = shapely.get_coordinates(free.convex_hull)
    best: tuple[float, Point, Point] | None = None
    for i, first in enumerate(hull.tolist()):
        for second in hull.tolist()[i + 1 :]:
            far = (first[0] - second[0]) ** 2 + (first[1] - second[1]) ** 2
            if best is None or far > best[0] + 1e-9:
                best = (far, (first[0], first[1]), (second[0], second[1]))
    if best is None or best[0] < PINS_APART_MM**2:
        return ()
    pair = tuple(sorted((best[1], best[2]), key=lambda p: (p[1], p[0])))
    taken += [ShapelyPoint(p).buffer(pin_mm + PIN_TO_GROOVE_MM) for p in pair]
    return pair
