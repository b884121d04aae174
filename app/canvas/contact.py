"""Where a piece may go: from a wanted place to the nearest one that keeps every distance.

A piece that is dragged glides along its neighbours at exactly the spacing and along the sheet's
edge at exactly the margin. Nothing here knows the window: shapes and places in, places and
reasons out. Coordinates are the sheet's, mm, x right and y up; a place is how far the moving
shapes are shifted from where they were when the :class:`Mover` was made.

The compiled loops are loaded when the first shape is moved, or by :func:`warm`: loading the
compiler takes longer than showing a window.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon

from core.tolerances import CONTACT_SKIN_MM, LAYOUT_DISTANCE_MM

# Beyond this the straight way from the old place is not followed: the hand has carried the
# piece over its neighbours, so a place is looked for where it is now.
_LONGEST_SLIDE_MM = 250.0
_SLIDE_ROUNDS = 24


class Kind(StrEnum):
    """What a moving piece can meet."""

    EDGE = "edge"  # the sheet's own outline: stay inside
    PIECE = "piece"
    DEFECT = "defect"
    ROOM = "room"  # saw cuts, sawn edges, clamps, and what the bit does not reach


@dataclass(frozen=True)
class Obstacle:
    """Something on the sheet. distance_mm: what must be kept between it and a moving piece.
    edges: its :func:`edge_table` where that is known."""

    id: str
    polygon: Polygon
    distance_mm: float
    kind: Kind = Kind.PIECE
    edges: NDArray[np.float64] | None = field(default=None, compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Contact:
    """What a place touches.

    gap_mm: distance to it, 0 if they overlap. short_mm: what is missing to the distance that
    must be kept, 0 at a legal touch. deep_mm: by how much they overlap (the narrow way across
    the shared area, or how far past the edge).
    """

    id: str
    kind: Kind
    gap_mm: float
    short_mm: float
    deep_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Outcome:
    """Where a wish leads. dx_mm, dy_mm: the shift to use; legal: it keeps every distance.

    held: the wish itself was not allowed. touches: what the place found rests against.
    snapped: it was drawn to an edge or a neighbour that the wish did not reach.
    """

    dx_mm: float
    dy_mm: float
    legal: bool
    held: bool = False
    snapped: bool = False
    touches: tuple[Contact, ...] = ()


def edge_table(polygon: Polygon) -> NDArray[np.float64]:
    """(n, 4) rows (x0, y0, x1, y1) of the edges of all rings, mm."""
    tables = []
    for ring in (polygon.exterior, *polygon.interiors):
        points = shapely.get_coordinates(ring)
        tables.append(np.hstack([points[:-1], points[1:]]))
    return tables[0] if len(tables) == 1 else np.vstack(tables)


def _stacked(
    tables: Sequence[NDArray[np.float64]],
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """All tables as one, and where each begins, the end appended."""
    firsts = np.zeros(len(tables) + 1, dtype=np.int64)
    np.cumsum([len(table) for table in tables], out=firsts[1:])
    whole = np.vstack(tables) if tables else np.empty((0, 4))
    return np.ascontiguousarray(whole), firsts


def _touchable(obstacle: Obstacle) -> Polygon:
    """The obstacle's outline for the search.

    Where no distance is to be kept, lying flush against it is allowed, but to the kernels
    touching is crossing: such an outline gives way by a hair, less than any tolerance.
    """
    if obstacle.distance_mm > CONTACT_SKIN_MM:
        return obstacle.polygon
    by = 1.5 * CONTACT_SKIN_MM * (1 if obstacle.kind is Kind.EDGE else -1)
    given = obstacle.polygon.buffer(by, join_style="mitre")
    return given if given.geom_type == "Polygon" and not given.is_empty else obstacle.polygon


class Mover:
    """One or several pieces that move as one, against everything else on a sheet.

    polygons: the pieces where they lie now (any place, legal or not). obstacles: the sheet's
    outline as Kind.EDGE, the pieces that stay, the defects.
    """

    def __init__(self, polygons: Sequence[Polygon], obstacles: Sequence[Obstacle]) -> None:
        self._polygons = list(polygons)
        # Outlines to stay inside go first: the kernels count on it.
        ordered = sorted(obstacles, key=lambda o: o.kind is not Kind.EDGE)
        self._obstacles = ordered
        self._walls = sum(o.kind is Kind.EDGE for o in ordered)
        moving, parts = _stacked([edge_table(p) for p in self._polygons])
        outlines = [_touchable(o) for o in ordered]
        tables = [
            edge_table(outline) if o.edges is None or outline is not o.polygon else o.edges
            for o, outline in zip(ordered, outlines, strict=True)
        ]
        edges, firsts = _stacked(tables)
        boxes = shapely.bounds(np.array(outlines, dtype=object)).reshape(-1, 4)
        self._keeps = np.array([o.distance_mm for o in ordered], dtype=np.float64)
        self._reaches = self._keeps + CONTACT_SKIN_MM
        starts, ends = moving[:, :2], moving[:, 2:]
        span = np.hstack(
            [np.minimum(starts, ends).min(axis=0), np.maximum(starts, ends).max(axis=0)]
        )
        self._shapes = (moving, span, parts, boxes, edges, firsts)  # as the kernels take them
        self._last: tuple[float, float] | None = (0.0, 0.0) if self.is_legal(0.0, 0.0) else None

    def is_legal(self, dx_mm: float, dy_mm: float) -> bool:
        """True if the place keeps every distance within the tolerance of a layout."""
        from app.canvas import contact_room as room

        return bool(
            room.is_free(
                self._shapes,
                self._reaches,
                self._walls,
                float(dx_mm),
                float(dy_mm),
                LAYOUT_DISTANCE_MM / 2,
            )
        )

    def move(
        self, dx_mm: float, dy_mm: float, *, snap_mm: float = 0.0, free_mm: float = 20.0
    ) -> Outcome:
        """The nearest legal place to a wished one.

        snap_mm: how near an edge or neighbour must be to draw the piece to it. free_mm: how
        far the piece may lag behind the hand before a place on the far side of what is in the
        way is tried. Not legal only if nothing near is free; the outcome then is the wish.
        """
        dx_mm, dy_mm = float(dx_mm), float(dy_mm)
        if self.is_legal(dx_mm, dy_mm):
            x, y, held = dx_mm, dy_mm, False
        else:
            place = self._nearest(dx_mm, dy_mm, free_mm)
            if place is None:
                return Outcome(dx_mm, dy_mm, False, True, False, self.touches(dx_mm, dy_mm))
            (x, y), held = place, True
        snapped = False
        if snap_mm > 0:
            sx, sy = self._snap(x, y, snap_mm)
            snapped = (sx, sy) != (x, y)
            x, y = sx, sy
        self._last = (x, y)
        return Outcome(x, y, True, held, snapped, self.touches(x, y))

    def settle(self, *, farthest_mm: float = 4000.0) -> Outcome:
        """The nearest legal place to where the pieces are, however far; for a drop or a turn."""
        if self.is_legal(0.0, 0.0):
            return Outcome(0.0, 0.0, True, touches=self.touches(0.0, 0.0))
        found = self._search(0.0, 0.0, farthest_mm)
        if found is None:
            return Outcome(0.0, 0.0, False, True, False, self.touches(0.0, 0.0))
        x, y = self._slide(*found, 0.0, 0.0)
        self._last = (x, y)
        return Outcome(x, y, True, True, False, self.touches(x, y))

    def reach(self, dx_mm: float, dy_mm: float) -> float:
        """The share of a straight way, 0–1, that can be gone from where the pieces are."""
        return self._cast(0.0, 0.0, float(dx_mm), float(dy_mm))[0]

    def lower_left(self, wide_mm: float, high_mm: float) -> tuple[float, float] | None:
        """The leftmost free shift, then the lowest, among 0…wide_mm by 0…high_mm, or None.

        Found on a grid and then pushed left and down until it rests.
        """
        from app.canvas import contact_room as room

        found, x, y = room.first_free(
            self._shapes,
            self._reaches,
            self._walls,
            float(wide_mm),
            float(high_mm),
            max(4.0, min(25.0, max(wide_mm, high_mm) / 80)),
            LAYOUT_DISTANCE_MM / 2,
        )
        if not found:
            return None
        place = (float(x), float(y))
        far = max(wide_mm, high_mm) + 100.0
        for _ in range(8):
            before = place
            for dx, dy in ((-far, 0.0), (0.0, -far)):
                share, met = self._cast(*place, dx, dy)
                if met >= 0:
                    place = (place[0] + share * dx, place[1] + share * dy)
            if abs(before[0] - place[0]) + abs(before[1] - place[1]) < 1e-3:
                break
        return place if self.is_legal(*place) else (float(x), float(y))

    def touches(self, dx_mm: float, dy_mm: float) -> tuple[Contact, ...]:
        """Everything nearer than it should be, or exactly as near as allowed; worst first."""
        found = []
        from app.canvas import contact_room as room

        gaps = room.gaps(self._shapes, self._keeps, self._walls, float(dx_mm), float(dy_mm), 0.05)
        for i in np.flatnonzero(gaps < self._keeps + 0.02):
            obstacle, gap, keep = self._obstacles[i], float(gaps[i]), float(self._keeps[i])
            if gap < 0:
                deep = self._deep(obstacle, dx_mm, dy_mm)
                if deep > LAYOUT_DISTANCE_MM:
                    found.append(Contact(obstacle.id, obstacle.kind, 0.0, keep + deep, deep))
                    continue
                gap = 0.0
            short = keep - gap
            short = 0.0 if short < LAYOUT_DISTANCE_MM else short
            found.append(Contact(obstacle.id, obstacle.kind, gap, short))
        return tuple(sorted(found, key=lambda c: (-c.deep_mm, -c.short_mm, c.id)))

    def _deep(self, obstacle: Obstacle, dx_mm: float, dy_mm: float) -> float:
        """How far the overlap goes: the narrow side of the shared area, or past the edge."""
        worst = 0.0
        for polygon in self._polygons:
            laid = affinity.translate(polygon, dx_mm, dy_mm)
            if obstacle.kind is Kind.EDGE:
                outside = laid.difference(obstacle.polygon)
                if not outside.is_empty:
                    points = shapely.points(shapely.get_coordinates(outside))
                    worst = max(worst, float(shapely.distance(points, obstacle.polygon).max()))
                continue
            shared = laid.intersection(obstacle.polygon)
            for part in shapely.get_parts(shared):
                if part.area <= 0:
                    continue
                box = part.minimum_rotated_rectangle
                corners = shapely.get_coordinates(box)
                sides = np.hypot(*np.diff(corners[:3], axis=0).T) if len(corners) > 3 else [0.0]
                worst = max(worst, float(min(sides)))
        return worst

    def _slide(self, x: float, y: float, wx: float, wy: float) -> tuple[float, float]:
        from app.canvas import contact_kernels as kernels

        place = kernels.slide(self._shapes, self._reaches, x, y, wx, wy, _SLIDE_ROUNDS)
        return float(place[0]), float(place[1])

    def _search(self, wx: float, wy: float, farthest_mm: float) -> tuple[float, float] | None:
        from app.canvas import contact_room as room

        found, x, y = room.search_free(
            self._shapes,
            self._reaches,
            self._walls,
            wx,
            wy,
            2.0,
            farthest_mm,
            LAYOUT_DISTANCE_MM / 2,
        )
        return (float(x), float(y)) if found else None

    def _nearest(self, wx: float, wy: float, free_mm: float) -> tuple[float, float] | None:
        """The nearer of gliding on from the last place and a free spot around the wish."""
        best: tuple[float, float] | None = None
        lag = math.inf
        if self._last is not None:
            way = math.hypot(wx - self._last[0], wy - self._last[1])
            if way <= _LONGEST_SLIDE_MM:
                place = self._slide(*self._last, wx, wy)
                if self.is_legal(*place):
                    best, lag = place, math.hypot(wx - place[0], wy - place[1])
        if lag <= free_mm:
            return best
        found = self._search(wx, wy, min(lag * 0.8, 400.0))
        if found is not None:
            place = self._slide(*found, wx, wy)
            if self.is_legal(*place) and math.hypot(wx - place[0], wy - place[1]) < lag:
                return place
        return best if best is not None else found

    def _cast(self, x: float, y: float, dx: float, dy: float) -> tuple[float, int]:
        from app.canvas import contact_kernels as kernels

        share, met, _, _ = kernels.cast_near(self._shapes, self._reaches, x, y, dx, dy)
        return float(share), int(met)

    def _snap(self, x: float, y: float, snap_mm: float) -> tuple[float, float]:
        """Draw the place to whatever lies within snap_mm along x, then along y."""
        for axis in ((1.0, 0.0), (0.0, 1.0)):
            nearest = math.inf
            for sign in (-1.0, 1.0):
                dx, dy = axis[0] * sign * snap_mm, axis[1] * sign * snap_mm
                share, met = self._cast(x, y, dx, dy)
                if met >= 0 and share * snap_mm < abs(nearest):
                    nearest = sign * share * snap_mm
            if math.isfinite(nearest):
                nx, ny = x + axis[0] * nearest, y + axis[1] * nearest
                if self.is_legal(nx, ny):
                    x, y = nx, ny
        return x, y


def warm() -> None:
    """Load or compile the inner loops; called once off the UI thread at the start."""
    square = Polygon([(0, 0), (1, 0), (1, 1), (0, 1)])
    other = Obstacle("other", affinity.translate(square, 3, 0), 1.0)
    sheet = Obstacle("sheet", shapely.box(-5, -5, 9, 9), 1.0, Kind.EDGE)
    Mover([square], [sheet, other]).move(2.5, 0.0, snap_mm=1.0)
    under = Mover([square], [sheet, Obstacle("under", square, 1.0)])
    under.settle()
    under.lower_left(1.0, 1.0)
