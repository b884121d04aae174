"""Tabs of parts whose cuts meet: between part and waste, or opposite each other.

A tab bridges the bit's path, which is a bit's diameter wide. Where the next part lies nearer
than two diameters the two paths meet, and a tab of one part alone is cut through by the bit on
its way round the other. So a tab stands where it ends in waste that is no mere strip, or
opposite a tab of the next part; and every part must be tied, through its neighbours if need
be, to waste that reaches the edge of the board.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from core.bed.tabs import LEAST_TABS, BoolArray, FloatArray, TabSpots
from core.geometry import Point
from core.tolerances import TAB_RING_MM

IntArray = NDArray[np.int64]

#: Two tabs stand opposite each other if their outlines run alike to this (cosine of 15°).
OPPOSITE = 0.966
#: A strip of waste thinner than this between two paths holds nothing (own choice).
THIN_WASTE_MM = 3.0
#: A tab that ends in waste is taken before one opposite another that is this much better spread.
WASTE_FIRST = 0.6


@dataclass(frozen=True, slots=True)
class Freed:
    """One path of the bit that frees something, as it lies.

    body: index of the part whose wall it is; cut_out: it runs in a cut-out of that part and
    frees the waste inside. marked: held by tabs; False: by a skin, which holds wherever it ends
    in something that is held. places: the tabs chosen for the part by itself.
    """

    body: int
    spots: TabSpots
    marked: bool
    places: tuple[Point, ...] = ()
    cut_out: bool = False


@dataclass(frozen=True, slots=True)
class TiedDown:
    """What ``tie_down`` found. places: tabs of each path, in the order given; paired: how many
    of them stand opposite another; loose: bodies that come free all the same.

    milled: middles of waste shut in between paths and too small to hold; adrift: middles of
    larger waste there that has no room for two tabs.
    """

    places: tuple[tuple[Point, ...], ...]
    paired: int = 0
    loose: tuple[int, ...] = ()
    milled: tuple[Point, ...] = ()
    adrift: tuple[Point, ...] = ()


def bit_path(part: Polygon, bit_mm: float) -> Polygon:
    """A part and what the bit takes round it, within TAB_RING_MM."""
    return part.simplify(TAB_RING_MM / 2).buffer(bit_mm, quad_segs=6)


def tie_down(
    bodies: Sequence[Polygon],
    paths: Sequence[Polygon],
    freed: Sequence[Freed],
    board: BaseGeometry,
    *,
    tab_mm: float,
    bit_mm: float,
) -> TiedDown:
    """Tabs for parts that lie beside each other on a board.

    bodies: every part cut from it, with its cut-outs, as they lie; those that nothing in
    ``freed`` belongs to are only in the way. paths: ``bit_path`` of each. What has nothing
    nearer than two bits and THIN_WASTE_MM keeps its places. A part is tied if it has two ties
    that last and hangs together with waste at the board's edge.
    """
    kept = tuple(f.places if f.marked else () for f in freed)
    reach = 2 * bit_mm + THIN_WASTE_MM
    tree = shapely.STRtree(list(bodies))
    near: dict[int, list[int]] = {}
    for one, other in tree.query(list(bodies), predicate="dwithin", distance=reach).T:
        if one != other:
            near.setdefault(int(one), []).append(int(other))
    if not any(f.body in near for f in freed):
        return TiedDown(kept)
    ties = _Ties(paths, freed, board, near, tab_mm=tab_mm, bit_mm=bit_mm)
    ties.spread()
    ties.join()
    milled, adrift = ties.hold_waste()
    return TiedDown(ties.places(kept), ties.paired(), ties.loose(), milled, adrift)


def _dot(a: FloatArray, b: FloatArray) -> FloatArray:
    """Row by row; (n,)."""
    product: FloatArray = a[:, 0] * b[:, 0] + a[:, 1] * b[:, 1]
    return product


@dataclass(slots=True)
class _Tie:
    """A chosen place of one path. node: what it hangs on (a body or a part of the waste);
    mate: the path and place opposite, None in waste."""

    along_mm: float
    node: int
    mate: tuple[int, float] | None = None


class _Ties:
    """The search of ``tie_down``. Nodes: the bodies, then the connected parts of the waste."""

    def __init__(
        self,
        paths: Sequence[Polygon],
        freed: Sequence[Freed],
        board: BaseGeometry,
        near: dict[int, list[int]],
        *,
        tab_mm: float,
        bit_mm: float,
    ) -> None:
        self.freed = freed
        self.near = near
        self.tab_mm, self.bit_mm = tab_mm, bit_mm
        self.count = len(paths)
        self.rings = list(paths)
        left = board.difference(shapely.union_all(self.rings))
        thin = THIN_WASTE_MM / 2
        left = left.buffer(-thin, quad_segs=4).buffer(thin, quad_segs=4)
        self.waste = [p for p in shapely.get_parts(left) if isinstance(p, Polygon)]
        shapely.prepare(self.rings)
        shapely.prepare(self.waste)
        edge = shapely.union_all(
            [p.exterior for p in shapely.get_parts(board) if isinstance(p, Polygon)]
        ).buffer(TAB_RING_MM)
        self.frame = [self.count + k for k, p in enumerate(self.waste) if p.intersects(edge)]
        # A body with nothing near it is held by its own tabs, whatever they end in.
        self.held_alone = {k for k in range(self.count) if k not in near}
        self.working = [k for k, f in enumerate(freed) if f.body in near]
        self.chosen: list[list[_Tie]] = [[] for _ in freed]
        self.ends: list[IntArray] = [np.empty(0, np.int64) for _ in freed]
        self.opposite: list[dict[int, FloatArray]] = [{} for _ in freed]
        for k in self.working:
            self.ends[k] = self._ends(k)
        for k in self.working:
            self.opposite[k] = self._opposite(k)
        for k in self.working:
            self._keep_own(k)

    # --- what a spot comes to ----------------------------------------------------------------
    def _usable(self, k: int) -> BoolArray:
        one = self.freed[k]
        return one.spots.good if one.marked else np.ones(len(one.spots.good), dtype=bool)

    def _ends(self, k: int) -> IntArray:
        """The waste each spot's tab ends in with its whole width, as a node; -1: in none. (n,)"""
        spots = self.freed[k].spots
        found = np.full(len(spots.along_mm), -1, dtype=np.int64)
        half = self.tab_mm / 2 if self.freed[k].marked else 0.0
        outer = [
            spots.middle + off * spots.way + (self.bit_mm + TAB_RING_MM) * spots.out
            for off in (-half, 0.0, half)
        ]
        for number, part in enumerate(self.waste):
            inside = np.ones(len(found), dtype=bool)
            for points in outer:
                inside &= shapely.contains_xy(part, points)
                if not inside.any():
                    break
            found[inside] = self.count + number
        found[~self._usable(k)] = -1
        across = [
            spots.middle + off * spots.way + self.bit_mm / 2 * spots.out
            for off in (-half, 0.0, half)
        ]
        for body in self.near[self.freed[k].body]:
            for points in across:
                found[shapely.contains_xy(self.rings[body], points)] = -1
        return found

    def _opposite(self, k: int) -> dict[int, FloatArray]:
        """Per path across a narrow gap: where on it a tab stands opposite; (n,), nan
        where none can."""
        one = self.freed[k].spots
        own = np.flatnonzero(self._usable(k) & (self.ends[k] < 0))
        found: dict[int, FloatArray] = {}
        reach = 2 * self.bit_mm + THIN_WASTE_MM
        beside = self.near[self.freed[k].body]
        for j in self.working:
            if self.freed[j].body not in beside:
                continue
            mate = self.freed[j].spots
            theirs = np.flatnonzero(self._usable(j) & (self.ends[j] < 0))
            step = float(mate.along_mm[1] - mate.along_mm[0]) if len(mate.along_mm) > 1 else 0.0
            mine = own[self._within(one.middle[own], mate.ring.bounds, reach)]
            theirs = theirs[self._within(mate.middle[theirs], one.ring.bounds, reach + step)]
            if not len(mine) or not len(theirs):
                continue
            middle, way, out = one.middle[mine], one.way[mine], one.out[mine]
            east = mate.middle[theirs, 0] - middle[:, :1]
            north = mate.middle[theirs, 1] - middle[:, 1:]
            nearest = theirs[np.argmin(east * east + north * north, axis=1)]
            to, theirs_way = mate.middle[nearest] - middle, mate.way[nearest]
            gap = _dot(to, out)
            fine = (gap > 0) & (gap < reach) & (np.abs(_dot(to, way)) <= step)
            fine &= np.abs(_dot(way, theirs_way)) >= OPPOSITE
            fine &= _dot(out, mate.out[nearest]) <= -OPPOSITE
            others = {*beside, *self.near[self.freed[j].body]}
            others -= {self.freed[k].body, self.freed[j].body}
            for off in (-self.tab_mm / 2, 0.0, self.tab_mm / 2) if others and fine.any() else ():
                across = middle + off * way + gap[:, None] / 2 * out
                for body in others:
                    fine &= ~shapely.contains_xy(self.rings[body], across)
            if fine.any():
                # From the nearest spot along the mate's own way to the point straight across.
                along = (mate.along_mm[nearest] - _dot(to, theirs_way)) % mate.ring.length
                found[j] = np.full(len(one.along_mm), np.nan)
                found[j][mine[fine]] = along[fine]
        return found

    @staticmethod
    def _within(points: FloatArray, bounds: tuple[float, ...], reach: float) -> BoolArray:
        """Which points lie in the bounds or that near to them; (n,)."""
        x1, y1, x2, y2 = bounds
        x, y = points[:, 0], points[:, 1]
        inside: BoolArray = (x >= x1 - reach) & (x <= x2 + reach)
        return inside & (y >= y1 - reach) & (y <= y2 + reach)

    def _keep_own(self, k: int) -> None:
        """A path whose own places all end in waste keeps them."""
        one = self.freed[k]
        if not one.places:
            return
        spots = one.spots
        ties = []
        for place in one.places:
            number = int(np.argmin(((spots.middle - place) ** 2).sum(axis=1)))
            if self.ends[k][number] < 0:
                return
            ties.append(_Tie(float(spots.along_mm[number]), int(self.ends[k][number])))
        self.chosen[k] = ties

    # --- choosing ----------------------------------------------------------------------------
    def _room(self, k: int, along: FloatArray) -> BoolArray:
        """True where a further tab on that path would not run into one of its others."""
        fine = ~np.isnan(along)
        if self.freed[k].marked:
            length = self.freed[k].spots.ring.length
            for tie in self.chosen[k]:
                away = np.abs(along - tie.along_mm)
                fine &= ~(np.minimum(away, length - away) < 2 * self.tab_mm)
        return fine

    def _candidates(self, k: int) -> tuple[BoolArray, dict[int, BoolArray]]:
        """Spots of a path that end in waste, and per path across those with room for a pair."""
        pairs = {j: self._room(j, along) for j, along in self.opposite[k].items()}
        return self.ends[k] >= 0, pairs

    def _take(self, k: int, spot: int, across: int | None) -> None:
        along = float(self.freed[k].spots.along_mm[spot])
        if across is None:
            self.chosen[k].append(_Tie(along, int(self.ends[k][spot])))
            return
        there = float(self.opposite[k][across][spot])
        self.chosen[k].append(_Tie(along, self.freed[across].body, (across, there)))
        self.chosen[across].append(_Tie(there, self.freed[k].body, (k, along)))

    def _add(self, k: int) -> bool:
        """One more tie for a path, as far from its others as can be; False if there is none."""
        spots = self.freed[k].spots
        taken = self.chosen[k]
        gaps = spots.gaps([tie.along_mm for tie in taken])
        free, pairs = self._candidates(k)
        best, across, far = -1, None, -1.0
        for j, fine in pairs.items():
            rows = np.where(fine, gaps, -1.0)
            number = int(np.argmax(rows))
            if rows[number] > far:
                best, across, far = number, j, float(rows[number])
        rows = np.where(free, gaps, -1.0)
        number = int(np.argmax(rows))
        if rows[number] >= 0 and rows[number] >= WASTE_FIRST * far:
            best, across, far = number, None, float(rows[number])
        least = spots.least_gap(len(taken), self.tab_mm)
        if not self.freed[k].marked:
            least = min(least, spots.ring.length / 4)
        if best < 0 or far < least:
            return False
        self._take(k, best, across)
        return True

    def spread(self) -> None:
        """Tabs for every path, one each in turn, those with the fewest first."""
        open_ones = list(self.working)
        while open_ones:
            open_ones.sort(key=lambda k: len(self.chosen[k]))
            open_ones = [
                k
                for k in open_ones
                if len(self.chosen[k]) < self.freed[k].spots.wanted and self._add(k)
            ]

    # --- what hangs together -----------------------------------------------------------------
    def _roots(self) -> list[int]:
        """The group of each node."""
        above = list(range(self.count + len(self.waste)))

        def top(node: int) -> int:
            while above[node] != node:
                above[node] = above[above[node]]
                node = above[node]
            return node

        for k in self.working:
            for tie in self.chosen[k]:
                above[top(self.freed[k].body)] = top(tie.node)
        return [top(node) for node in range(len(above))]

    def _tied(self) -> set[int]:
        """Nodes that hang together with what is held."""
        roots = self._roots()
        held = {roots[k] for k in (*self.frame, *self.held_alone)}
        return {node for node, root in enumerate(roots) if root in held}

    def join(self) -> None:
        """Further ties for groups that hang on nothing but each other."""
        while True:
            tied = self._tied()
            apart = [k for k in self.working if self.freed[k].body not in tied]
            if not any(self._tie_to(k, tied) for k in apart):
                return

    def _tie_to(self, k: int, tied: set[int]) -> bool:
        """A tie of that path to something tied, if it has a place for one."""
        free, pairs = self._candidates(k)
        free &= np.isin(self.ends[k], list(tied)) & self._room(k, self.freed[k].spots.along_mm)
        if free.any():
            self._take(k, int(np.argmax(free)), None)
            return True
        room = self._room(k, self.freed[k].spots.along_mm)
        for j, fine in pairs.items():
            if self.freed[j].body in tied and (fine & room).any():
                self._take(k, int(np.argmax(fine & room)), j)
                return True
        return False

    def hold_waste(self) -> tuple[tuple[Point, ...], tuple[Point, ...]]:
        """Tabs for waste that is shut in between the paths; see TiedDown for what is left."""
        slugs = [Polygon(ring) for path in self.rings for ring in path.interiors]
        milled: list[Point] = []
        adrift: list[Point] = []
        for number, part in enumerate(self.waste):
            node = self.count + number
            middle = part.representative_point()
            # What falls out of a cut-out has a hold of its own.
            if node in self.frame or any(slug.contains(middle) for slug in slugs):
                continue
            if part.buffer(-self.bit_mm).is_empty:
                if part.area >= self.bit_mm**2:
                    milled.append((float(middle.x), float(middle.y)))
            elif not self._holds_waste(node):
                adrift.append((float(middle.x), float(middle.y)))
        return tuple(milled), tuple(adrift)

    def _holds_waste(self, node: int) -> bool:
        """Two ties for a part of the waste, or the skin of a path beside it."""
        while True:
            places = [
                self._place(k, tie.along_mm)
                for k in self.working
                for tie in self.chosen[k]
                if tie.node == node
            ]
            if len(places) >= LEAST_TABS:
                return True
            best: tuple[float, int, int] | None = None
            for k in self.working:
                ends = self.ends[k] == node
                if not self.freed[k].marked and ends.any():
                    return True
                spots = self.freed[k].spots
                free = ends & self._room(k, spots.along_mm)
                if not free.any():
                    continue
                away = np.full(len(free), np.inf)
                for place in places:
                    away = np.minimum(away, np.hypot(*(spots.middle - place).T))
                spot = int(np.argmax(np.where(free, away, -1.0)))
                if best is None or away[spot] > best[0]:
                    best = (float(away[spot]), k, spot)
            if best is None:
                return False
            self._take(best[1], best[2], None)

    def _place(self, k: int, along: float) -> Point:
        at = self.freed[k].spots.ring.interpolate(along)
        return float(at.x), float(at.y)

    # --- what came of it ---------------------------------------------------------------------
    def loose(self) -> tuple[int, ...]:
        """Bodies near others with fewer than two ties, or that hang on nothing held."""
        tied = self._tied()
        ties: dict[int, int] = {}
        for k in self.working:
            if not self.freed[k].cut_out:
                ties[self.freed[k].body] = len(self.chosen[k])
        return tuple(
            body for body, number in sorted(ties.items()) if number < LEAST_TABS or body not in tied
        )

    def paired(self) -> int:
        """Tabs that stand opposite another."""
        return sum(
            tie.mate is not None
            for k in self.working
            if self.freed[k].marked
            for tie in self.chosen[k]
        )

    def places(self, kept: Sequence[tuple[Point, ...]]) -> tuple[tuple[Point, ...], ...]:
        """The tabs of every path; one that nothing is near, or that finds none, keeps its own."""
        found = list(kept)
        for k in self.working:
            if not self.freed[k].marked or len(self.chosen[k]) < LEAST_TABS:
                continue
            at = sorted(tie.along_mm for tie in self.chosen[k])
            points = shapely.line_interpolate_point(self.freed[k].spots.ring, np.array(at))
            found[k] = tuple((float(p.x), float(p.y)) for p in np.atleast_1d(points))
        return tuple(found)
