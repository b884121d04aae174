"""What is searched for cuts: a panel turned so that they run along the axes, and its parts."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from core.splitting.limits import fit_piece
from core.splitting.model import PieceLimits

FloatArray = NDArray[np.float64]


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


def inner_corners(board: Polygon, *, turned: float) -> FloatArray:
    """(n, 2) corners of a board's edge that point inwards, those of its openings apart.

    turned: the least sine of the angle an edge turns by for it to be a corner.
    """
    ring = shapely.get_coordinates(board.exterior)[:-1]
    before, after = np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0)
    cross = (ring[:, 0] - before[:, 0]) * (after[:, 1] - ring[:, 1]) - (
        ring[:, 1] - before[:, 1]
    ) * (after[:, 0] - ring[:, 0])
    if not board.exterior.is_ccw:
        cross = -cross
    long = np.hypot(*(ring - before).T) * np.hypot(*(after - ring).T)
    inner: FloatArray = ring[(cross < 0) & (np.abs(cross) > turned * long)]
    return inner


def turned_limits(limits: PieceLimits, frame_deg: float) -> PieceLimits:
    """Limits seen from a frame whose x axis lies at frame_deg in the panel."""
    if limits.turns_deg is None or frame_deg == 0.0:
        return limits
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
