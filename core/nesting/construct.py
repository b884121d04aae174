"""A first valid layout: pieces one by one to the leftmost free place, on the raster.

Several orders and choices of sheet are tried; the best by the objective is kept. Everything is
plain counting on cells, so irregular sheets, keep-outs, holes and pieces already there need no
case of their own.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.geometry import box

from core.nesting.prepare import Ints, Job, Kind, Pose, Stock, rings_of
from core.nesting.raster import Grid, cells_of

_CELLS_ALONG = 300  # cells along the side of a square of the area that matters
_CELLS_MOST = 1_200_000
_CELLS_LEAST_ACROSS = 8.0  # the median piece's lesser extent has at least so many cells


@dataclass(slots=True)
class Item:
    """One copy of a kind. fixed: it must stay where it is."""

    kind: int
    copy: int
    fixed: bool = False


@dataclass(slots=True)
class Spot:
    """Where an item lies: a sheet in use, pose and position of the shape's centre, mm."""

    sheet: int
    pose: Pose
    x: float
    y: float


@dataclass(slots=True)
class Arrangement:
    """A layout in the making. sheets: (stock, copy) in use; spots: by item, None in the tray."""

    sheets: list[tuple[int, int]] = field(default_factory=list)
    spots: list[Spot | None] = field(default_factory=list)

    def copy(self) -> Arrangement:
        """Another list of the same spots; spots themselves are never changed, only replaced."""
        return Arrangement(list(self.sheets), list(self.spots))


@dataclass(slots=True)
class PoseCells:
    """A pose on the raster."""

    runs: Ints
    width: int
    height: int


class Builder:
    """Builds arrangements on rasters of one resolution."""

    def __init__(self, job: Job, items: Sequence[Item]) -> None:
        self.job = job
        self.items = items
        self.size = _cell_size(job, items)
        self._cells: dict[tuple[int, int], PoseCells] = {}
        self._empty: dict[int, Grid] = {}

    def empty_grid(self, stock: int) -> Grid:
        """The cells of an empty sheet, those outside its room blocked."""
        if stock not in self._empty:
            self._empty[stock] = _grid(self.job.stocks[stock], self.job.grow_mm, self.size)
        return self._empty[stock].copy()

    def grid_with(self, arrangement: Arrangement, sheet: int) -> Grid:
        """The cells of a sheet in use with everything that lies on it blocked."""
        grid = self.empty_grid(arrangement.sheets[sheet][0])
        for spot in arrangement.spots:
            if spot is not None and spot.sheet == sheet:
                xy, starts = rings_of(spot.pose.grown)
                grid.block(xy + np.array([spot.x, spot.y]), starts)
        grid.renew()
        return grid

    def cells(self, pose: Pose, stock: int, grid: Grid) -> PoseCells:
        """The pose's cells at a stock's resolution."""
        key = (pose.index, stock)
        found = self._cells.get(key)
        if found is None:
            xy, starts = rings_of(pose.grown)
            found = PoseCells(*cells_of(xy, starts, pose.grown_bounds, grid.size_x, grid.size_y))
            self._cells[key] = found
        return found

    def try_put(
        self, kind: Kind, stock: int, grid: Grid, *, by_extent: bool = True, end: int = 1 << 30
    ) -> tuple[Pose, float, float] | None:
        """Put a kind where its right edge (or its left one) comes out least; None if nowhere."""
        best: tuple[float, int, Pose, int, int, PoseCells] | None = None
        for pose in kind.poses:
            cells = self.cells(pose, stock, grid)
            last = end - cells.width
            if best is not None and by_extent:
                last = min(last, int(best[0]) - cells.width)
            column, row = grid.find(pose.index, cells.runs, cells.width, cells.height, last)
            if column < 0:
                continue
            key = float(column + cells.width) if by_extent else column + cells.width / 1e4
            if best is None or (key, row) < (best[0], best[1]):
                best = (key, row, pose, column, row, cells)
        if best is None:
            return None
        _, _, pose, column, row, cells = best
        grid.put(cells.runs, column, row, cells.width)
        x = grid.left + column * grid.size_x - pose.grown_bounds[0]
        y = grid.low + row * grid.size_y - pose.grown_bounds[1]
        return pose, x, y

    def build(
        self,
        base: Arrangement,
        order: Iterable[int],
        stock_order: Sequence[int],
        *,
        by_extent: bool = True,
        may_open: bool = True,
        stop: Callable[[], bool] | None = None,
    ) -> Arrangement:
        """Add the items in the order given to what lies there; open sheets as needed."""
        made = base.copy()
        grids = [self.grid_with(made, sheet) for sheet in range(len(made.sheets))]
        hopeless: set[tuple[int, int]] = set()
        group_sheets: dict[str, set[int]] = {}
        for item, spot in zip(self.items, made.spots, strict=True):
            group = self.job.kinds[item.kind].piece.group
            if spot is not None and group is not None:
                group_sheets.setdefault(group, set()).add(spot.sheet)
        for index in order:
            if stop is not None and stop():
                break
            kind_index = self.items[index].kind
            kind = self.job.kinds[kind_index]
            group = kind.piece.group
            sheets = list(range(len(made.sheets)))
            if group is not None:
                near = group_sheets.get(group, set())
                sheets.sort(key=lambda sheet, near=near: sheet not in near)  # type: ignore[misc]
            for sheet in sheets:
                if (kind_index, sheet) in hopeless:
                    continue
                stock = made.sheets[sheet][0]
                put = self.try_put(kind, stock, grids[sheet], by_extent=by_extent)
                if put is not None:
                    made.spots[index] = Spot(sheet, *put)
                    break
                hopeless.add((kind_index, sheet))
            else:
                if may_open and not kind.piece.filler:
                    self._open_for(made, grids, index, stock_order, by_extent)
            placed = made.spots[index]
            if group is not None and placed is not None:
                group_sheets.setdefault(group, set()).add(placed.sheet)
        return made

    def _open_for(
        self,
        made: Arrangement,
        grids: list[Grid],
        index: int,
        stock_order: Sequence[int],
        by_extent: bool,
    ) -> None:
        kind = self.job.kinds[self.items[index].kind]
        for stock in stock_order:
            copy = next_copy(self.job, made, stock)
            if copy is None:
                continue
            grid = self.empty_grid(stock)
            put = self.try_put(kind, stock, grid, by_extent=by_extent)
            if put is not None:
                made.sheets.append((stock, copy))
                grids.append(grid)
                made.spots[index] = Spot(len(made.sheets) - 1, *put)
                return


def next_copy(job: Job, made: Arrangement, stock: int) -> int | None:
    """The number of the next unused sheet of a stock; None if all are in use."""
    used = {copy for one, copy in made.sheets if one == stock}
    quantity = job.stocks[stock].quantity
    copy = 1
    while copy in used:
        copy += 1
    return None if quantity is not None and copy > quantity else copy


def orders(job: Job, items: Sequence[Item], which: Sequence[int], seed: int) -> list[list[int]]:
    """Orders to try: by priority, within it by area, by longer side, by height, and mixed."""
    rng = np.random.default_rng(seed)
    area = np.array([job.kinds[items[i].kind].area for i in which])
    sides = np.array(
        [
            (b[2] - b[0], b[3] - b[1])
            for b in (job.kinds[items[i].kind].poses[0].bounds for i in which)
        ]
    ).reshape(-1, 2)
    hull = np.array([job.kinds[items[i].kind].poses[0].polygon.convex_hull.area for i in which])
    keys = [hull, sides.max(axis=1, initial=0.0), sides.prod(axis=1), area]
    keys += [hull * rng.uniform(0.7, 1.3, len(which)) for _ in range(4)]
    priority = np.array([job.kinds[items[i].kind].piece.priority for i in which])
    filler = np.array([job.kinds[items[i].kind].piece.filler for i in which])
    kinds = np.array([items[i].kind for i in which])
    names = sorted({p.group for p in (job.kinds[items[i].kind].piece for i in which) if p.group})
    number = {name: k for k, name in enumerate(names)}
    group = np.array([number.get(job.kinds[items[i].kind].piece.group or "", -1) for i in which])
    made = []
    for key in keys:
        if names:
            # A group comes as one, where its largest piece would.
            largest = {g: float(key[group == g].max()) for g in range(len(names))}
            lead = np.array([largest.get(int(g), k) for g, k in zip(group, key, strict=True)])
            order = np.lexsort((kinds, -key, group, -lead, -priority, filler))
            made.append([which[i] for i in order])
        order = np.lexsort((kinds, -key, -priority, filler))
        made.append([which[i] for i in order])
    return made


def stock_orders(job: Job, area_mm2: float) -> list[list[int]]:
    """Orders in which to open stocks: cheapest board first, offcuts first, large ones first."""
    stocks = list(range(len(job.stocks)))

    def price(stock: int) -> float:
        one = job.stocks[stock]
        return one.cost / one.area if one.area else math.inf

    def waste(stock: int) -> float:
        one = job.stocks[stock]
        return one.cost * max(1.0, math.ceil(area_mm2 / one.area)) if one.area else math.inf

    found = [
        sorted(stocks, key=lambda s: (price(s), -job.stocks[s].area)),
        sorted(stocks, key=lambda s: (job.stocks[s].cost, -job.stocks[s].area)),
        sorted(stocks, key=lambda s: (price(s), job.stocks[s].area)),
        sorted(stocks, key=lambda s: (waste(s), price(s))),
    ]
    return [list(one) for one in dict.fromkeys(tuple(order) for order in found)]


def _cell_size(job: Job, items: Sequence[Item]) -> float:
    areas = [job.kinds[item.kind].area for item in items]
    total = 2.0 * sum(areas)
    sheet = max((stock.area for stock in job.stocks), default=1.0)
    size = math.sqrt(max(min(sheet, total), 1e-12)) / _CELLS_ALONG
    extents = sorted(
        min(b[2] - b[0], b[3] - b[1])
        for b in (
            job.kinds[item.kind].poses[0].grown_bounds
            for item in items
            if job.kinds[item.kind].poses
        )
    )
    if extents:
        size = min(size, max(extents[len(extents) // 2] / _CELLS_LEAST_ACROSS, size / 3))
    most = max(
        ((s.bounds[2] - s.bounds[0]) * (s.bounds[3] - s.bounds[1]) for s in job.stocks),
        default=1.0,
    )
    # With spacing round it a speck is far larger than a sheet that has no room.
    grown = max(
        (
            (b[2] - b[0]) * (b[3] - b[1])
            for b in (pose.grown_bounds for item in items for pose in job.kinds[item.kind].poses)
        ),
        default=0.0,
    )
    return max(size, math.sqrt(most / _CELLS_MOST), math.sqrt(grown / _CELLS_MOST) / 2, 1e-9)


def _grid(stock: Stock, grow_mm: float, size: float) -> Grid:
    room = stock.room
    if grow_mm:
        wide = room.buffer(grow_mm, join_style="mitre", mitre_limit=5.0)
        spots = [shapely.make_valid(spot) for spot in stock.sheet.keep_outs]
        room = wide.difference(shapely.union_all(spots)) if spots else wide
    left, low, right, high = room.bounds if not room.is_empty else (0.0, 0.0, size, size)
    # So is a room that is hardly there.
    area = (right - left) * (high - low)
    size = max(size, math.sqrt(area / _CELLS_MOST), (right - left + high - low) / _CELLS_MOST)
    columns = max(int((right - left) / size + 0.999), 1)
    rows = max(int((high - low) / size + 0.999), 1)
    cells = np.zeros((columns, rows), np.uint8)
    grid = Grid(cells, left, low, (right - left) / columns, (high - low) / rows)
    outside = box(left - size, low - size, right + size, high + size).difference(room)
    if room.is_empty:
        grid.cells[:] = 1
    if not stock.plain or room.is_empty:
        for part in shapely.get_parts(outside):
            if part.area > 0:
                grid.block(*rings_of(part))
    grid.renew()
    return grid
