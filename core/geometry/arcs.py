"""Giving arcs back to polygons that came out of polygon operations.

Polygon operations know chords only. Whoever ran one still knows the circles that went in; a
run of chords whose ends lie on one of these circles, and which turns as the circle does, was
an arc of it. Where two known lines or circles meet, the exact meeting point replaces the
polygon's.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from core.geometry.path import Carrier, bulge_on, carrier_hits, carrier_of, edges_of
from core.geometry.ring import Point, Region, Ring, Vertex
from core.tolerances import FLATTEN_SAGITTA_MM, ON_CARRIER_MM, SAME_POINT_MM

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Circle:
    """A known circle, mm."""

    x: float
    y: float
    radius: float


def circles_of(shapes: Iterable[Region | Ring | Circle | Sequence[Vertex]]) -> list[Circle]:
    """The circles under every arc of some regions, rings or open paths, each once."""
    seen: dict[tuple[int, int, int], Circle] = {}

    def add(start: Point, end: Point, bulge: float) -> None:
        carrier = carrier_of(start, end, bulge)
        key = (round(carrier.x * 1e5), round(carrier.y * 1e5), round(carrier.radius * 1e5))
        seen.setdefault(key, Circle(carrier.x, carrier.y, carrier.radius))

    for shape in shapes:
        if isinstance(shape, Circle):
            seen[(round(shape.x * 1e5), round(shape.y * 1e5), round(shape.radius * 1e5))] = shape
            continue
        if isinstance(shape, Region):
            edges = [edge for ring in shape.rings for edge in ring.edges()]
        elif isinstance(shape, Ring):
            edges = list(shape.edges())
        else:
            edges = edges_of(shape)
        for start, end, bulge in edges:
            if bulge:
                add(start, end, bulge)
    return list(seen.values())


def _label(points: FloatArray, circles: Sequence[Circle], sagitta_mm: float) -> NDArray[np.int64]:
    """Per edge (i to i + 1) the index of the circle it is a chord of, or −1."""
    count = len(points)
    labels = np.full(count, -1, dtype=np.int64)
    if not circles:
        return labels
    centre = np.array([(c.x, c.y) for c in circles])
    radius = np.array([c.radius for c in circles])
    best = np.full(count, np.inf)
    nxt = np.roll(points, -1, axis=0)
    middle = (points + nxt) / 2
    chord = np.hypot(*(nxt - points).T)
    # Blocks of circles keep the tables small for outlines of thousands of vertices.
    block = max(1, 2_000_000 // max(count, 1))
    for low in range(0, len(circles), block):
        c, r = centre[low : low + block], radius[low : low + block]
        off = np.abs(np.hypot(points[:, None, 0] - c[:, 0], points[:, None, 1] - c[:, 1]) - r)
        ends = np.maximum(off, np.roll(off, -1, axis=0))
        sag = r - np.hypot(middle[:, None, 0] - c[:, 0], middle[:, None, 1] - c[:, 1])
        # A chord of this circle sags by l²/8r; a straight edge that happens to end on the
        # circle sags far more than flattening ever leaves.
        fits = (ends <= ON_CARRIER_MM) & (sag > -ON_CARRIER_MM) & (sag <= 1.5 * sagitta_mm + 1e-9)
        fits &= sag >= 0.5 * chord[:, None] ** 2 / (8 * r) - 1e-9
        score = np.where(fits, ends, np.inf)
        pick = np.argmin(score, axis=1)
        value = score[np.arange(count), pick]
        better = value < best
        best = np.where(better, value, best)
        labels = np.where(better & np.isfinite(value), pick + low, labels)
    # The first and last chord of a run may be clipped: their outer end lies on the chord, up
    # to a sagitta inside the circle.
    for index in np.flatnonzero(labels < 0):
        for beside in (int(index) - 1, (int(index) + 1) % count):
            if labels[beside] < 0:
                continue
            circle = circles[labels[beside]]
            a, b = points[index], nxt[index]
            off_a = circle.radius - math.hypot(a[0] - circle.x, a[1] - circle.y)
            off_b = circle.radius - math.hypot(b[0] - circle.x, b[1] - circle.y)
            inner, outer = max(off_a, off_b), min(off_a, off_b)
            longest = 2 * math.sqrt(2 * circle.radius * 1.5 * sagitta_mm)
            on_chord = -ON_CARRIER_MM <= inner <= 1.5 * sagitta_mm
            if abs(outer) <= ON_CARRIER_MM and on_chord and chord[index] <= longest:
                labels[index] = -2 - labels[beside]
                break
    return np.where(labels < -1, -2 - labels, labels)


def _nearest(points: Sequence[Point], to: Point) -> Point:
    return min(points, key=lambda point: math.dist(point, to))


def _ring_back(points: FloatArray, circles: Sequence[Circle], sagitta_mm: float) -> Ring:
    keep = np.hypot(*(np.roll(points, -1, axis=0) - points).T) > SAME_POINT_MM
    points = points[keep]
    count = len(points)
    labels = _label(points, circles, sagitta_mm)
    # Sense of each chord about its circle: a run must keep one.
    nxt = np.roll(points, -1, axis=0)
    senses = np.zeros(count, dtype=np.int64)
    for i in np.flatnonzero(labels >= 0):
        c = circles[labels[i]]
        ax, ay = points[i, 0] - c.x, points[i, 1] - c.y
        bx, by = nxt[i, 0] - c.x, nxt[i, 1] - c.y
        senses[i] = 1 if ax * by - ay * bx > 0 else -1
    same = (labels == np.roll(labels, 1)) & (senses == np.roll(senses, 1)) & (labels >= 0)
    starts = np.flatnonzero(~same)
    if len(starts) == 0:
        c = circles[labels[0]]
        ring = Ring.circle(c.x, c.y, c.radius)
        return ring if senses[0] > 0 else ring.reversed()
    spans: list[tuple[int, int]] = []  # first vertex, number of edges
    for k, begin in enumerate(starts):
        end = starts[(k + 1) % len(starts)]
        spans.append((int(begin), int((end - begin) % count) or count))
    carriers: list[Carrier] = []
    for start, _ in spans:
        label = labels[start]
        if label >= 0:
            c = circles[label]
            carriers.append(Carrier(c.x, c.y, radius=c.radius, ccw=senses[start] > 0))
        else:
            a, b = points[start], points[(start + 1) % count]
            carriers.append(carrier_of((a[0], a[1]), (b[0], b[1]), 0.0))
    corners: list[Point] = []
    for k, (first, _) in enumerate(spans):
        point = (float(points[first, 0]), float(points[first, 1]))
        one, two = carriers[k - 1], carriers[k]
        if one.is_circle or two.is_circle:
            hits = [h for h in carrier_hits(one, two) if math.dist(h, point) <= 2 * sagitta_mm]
            if hits:
                point = _nearest(hits, point)
            elif one.is_circle != two.is_circle:
                point = (one if one.is_circle else two).nearest(point)
        corners.append(point)
    rows: list[Vertex] = []
    for k, (_start, length) in enumerate(spans):
        carrier, here = carriers[k], corners[k]
        there = corners[(k + 1) % len(corners)]
        if not carrier.is_circle:
            rows.append((*here, 0.0))
            continue
        if math.dist(here, there) <= SAME_POINT_MM and length < 3:
            continue
        bulge = bulge_on(carrier, here, there)
        if abs(bulge) > 1.0:
            # More than a half turn: two arcs, so that every reader takes it.
            turn = 2 * math.atan(abs(bulge)) * (1 if carrier.ccw else -1)
            angle = math.atan2(here[1] - carrier.y, here[0] - carrier.x) + turn
            half = math.tan(turn / 4)
            rows.append((*here, half))
            rows.append(
                (
                    carrier.x + carrier.radius * math.cos(angle),
                    carrier.y + carrier.radius * math.sin(angle),
                    half,
                )
            )
        else:
            rows.append((*here, bulge))
    return Ring.of(rows)


def restore_arcs(
    polygon: Polygon,
    shapes: Iterable[Region | Ring | Circle | Sequence[Vertex]],
    *,
    sagitta_mm: float = FLATTEN_SAGITTA_MM,
) -> Region:
    """A region with true arcs from a polygon made by operations on flattened shapes.

    polygon: valid, mm. shapes: what went in (or at least every shape with arcs), flattened
    with at most sagitta_mm. Vertices on a known circle get their arc back; joints of an arc
    with its neighbours are the exact meeting points. Edges that fit no circle stay straight.
    """
    circles = circles_of(shapes)
    outer = _ring_back(np.asarray(polygon.exterior.coords)[:-1], circles, sagitta_mm)
    holes = [_ring_back(np.asarray(h.coords)[:-1], circles, sagitta_mm) for h in polygon.interiors]
    return Region.of(outer, holes)
