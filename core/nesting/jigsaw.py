"""Pieces that fill a sheet to the last corner: found by trying, not by pressing.

Where square-cornered pieces have together exactly a sheet's area and all lengths are multiples
of one unit, the first bare cell of the sheet must be the first cell of some piece: depth first,
larger pieces first, is then a short search, while pressing pieces together ends beside the only
arrangement there is. The board is one integer, a bit a cell. A branch ends where what is bare
cannot be made up by the pieces left: for rectangles the run of bare cells (pieces stand side by
side on it), for other shapes the area of each bare region (subset sums, a bit a sum).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from core import tolerances
from core.nesting.construct import Arrangement, Item, Spot
from core.nesting.prepare import Job, Pose, Stock

NODES_MOST = 400_000  # some seconds; with more pieces a node takes longer, and fewer are looked at
_PIECES_FEW = 30
_CELLS_ALONG = 512
_CELLS_FOR_REGIONS = 1_500  # regions are walked cell ring by cell ring; larger boards take too long
_PIECES_MOST = 400
_ASK_EVERY = 16


@dataclass(frozen=True, slots=True)
class _Tile:
    """A pose in cells. mask: a bit a cell, from the board's first; first: the cell along the
    narrow side at which its first row begins."""

    pose: Pose
    mask: int
    rows: int
    across: int
    first: int


@dataclass(frozen=True, slots=True)
class _Puzzle:
    """rows, across: cells of the board; tiles, cells (area) and shape: per item. Items of one shape
    have the same masks to choose from, so that one will do where the other would."""

    rows: int
    across: int
    shapes: list[int]
    tiles: list[list[_Tile]]
    cells: list[int]
    plain: bool  # rectangles only


def fill_exactly(
    job: Job,
    items: Sequence[Item],
    *,
    most: int = NODES_MOST,
    stop: Callable[[], bool] | None = None,
) -> tuple[Arrangement | None, int]:
    """All items on one sheet without a gap, and the positions tried.

    None if the pieces do not have exactly the area of one sheet, are not square-cornered, have
    no common unit, or the search ended (most: nodes, never more than ``NODES_MOST``; stop: asked
    often) without a solution.
    """
    if job.rules.spacing_mm > 0 or not 2 <= len(items) <= _PIECES_MOST:
        return None, 0
    if any(item.fixed or job.kinds[item.kind].piece.filler for item in items):
        return None, 0
    area = sum(job.kinds[item.kind].area for item in items)
    most = min(most, NODES_MOST * _PIECES_FEW // max(len(items), _PIECES_FEW))
    tried = 0
    for number, stock in enumerate(job.stocks):
        if not stock.plain or abs(stock.area - area) > 1e-6 * area or stock.quantity == 0:
            continue
        unit = _unit(job, items, stock)
        puzzle = None if unit is None else _puzzle(job, items, stock, unit)
        if unit is None or puzzle is None:
            continue
        found, nodes = _search(puzzle, most - tried, stop)
        tried += nodes
        if found is not None:
            return _arrangement(found, stock, number, unit, len(items)), tried
    return None, tried


def _unit(job: Job, items: Sequence[Item], stock: Stock) -> float | None:
    """The largest length of which all corners are multiples from the lower left, mm; None if it is
    too small or a side is not square to the sheet."""
    left, low, right, high = stock.bounds
    lengths = [right - left, high - low]
    for kind in {item.kind for item in items}:
        for pose in job.kinds[kind].poses:
            for ring in shapely.get_rings(shapely.get_parts(pose.polygon)):
                corners = shapely.get_coordinates(ring)
                steps = np.abs(np.diff(corners, axis=0))
                if (steps.min(axis=1) > tolerances.SAME_POINT_MM).any():
                    return None
                # Not sides alone: a hole may lie off the grid that its sides keep to.
                lengths += (corners - pose.bounds[:2]).ravel().tolist()
    unit = max(lengths)
    fine = unit / (2 * _CELLS_ALONG)
    for length in lengths:  # Euclid on lengths with rounding
        rest = length
        while rest > fine:
            unit, rest = rest, math.fmod(unit, rest)
            if rest > unit - fine:
                rest = 0.0
    exact = all(
        abs(length / unit - round(length / unit)) * unit <= tolerances.SAME_POINT_MM
        for length in lengths
    )
    longest = max(right - left, high - low) / unit
    return unit if exact and longest <= _CELLS_ALONG else None


def _puzzle(job: Job, items: Sequence[Item], stock: Stock, unit: float) -> _Puzzle | None:
    left, low, right, high = stock.bounds
    along, up = round((right - left) / unit), round((high - low) / unit)
    turned = up > along  # rows follow each other along the longer side
    rows, across = (up, along) if turned else (along, up)
    by_kind: dict[int, tuple[list[_Tile], int, bool]] = {}
    for kind in {item.kind for item in items}:
        tiles: list[_Tile] = []
        count, plain = 0, True
        for pose in job.kinds[kind].poses:
            x0, y0, x1, y1 = pose.bounds
            columns, lines = round((x1 - x0) / unit), round((y1 - y0) / unit)
            xs = x0 + (np.arange(columns) + 0.5) * unit
            ys = y0 + (np.arange(lines) + 0.5) * unit
            mesh = np.meshgrid(xs, ys, indexing="ij")
            solid = shapely.contains_xy(pose.polygon, *mesh)
            solid = solid.T if turned else solid
            count, plain = int(solid.sum()), plain and bool(solid.all())
            if solid.shape[0] > rows or solid.shape[1] > across:
                continue
            wide = np.zeros((solid.shape[0], across), bool)
            wide[:, : solid.shape[1]] = solid
            bits = np.packbits(wide.ravel(), bitorder="little").tobytes()
            mask = int.from_bytes(bits, "little")
            if all(tile.mask != mask for tile in tiles):
                first = int(np.argmax(solid[0]))
                tiles.append(_Tile(pose, mask, solid.shape[0], solid.shape[1], first))
        if not tiles:
            return None
        by_kind[kind] = tiles, count, plain
    chosen = [by_kind[item.kind] for item in items]
    if sum(count for _, count, _ in chosen) != rows * across:
        return None
    numbers: dict[frozenset[int], int] = {}
    shapes = [
        numbers.setdefault(frozenset(tile.mask for tile in tiles), len(numbers))
        for tiles, _, _ in chosen
    ]
    return _Puzzle(
        rows,
        across,
        shapes,
        [tiles for tiles, _, _ in chosen],
        [count for _, count, _ in chosen],
        all(plain for _, _, plain in chosen),
    )


class _Board:
    """The search over one puzzle: what is covered and which pieces are left."""

    def __init__(self, puzzle: _Puzzle) -> None:
        self.puzzle = puzzle
        self.order = sorted(range(len(puzzle.tiles)), key=lambda k: (-puzzle.cells[k], k))
        self.left = set(self.order)
        self.full = (1 << (puzzle.rows * puzzle.across)) - 1
        line = sum(1 << (row * puzzle.across) for row in range(puzzle.rows))
        self.not_first = self.full & ~line
        self.not_last = self.full & ~(line << (puzzle.across - 1))

    def chances(self, covered: int) -> Iterator[tuple[int, _Tile, int, int, int]]:
        """(item, tile, row, cell, mask) of every piece that can begin in the first bare cell."""
        puzzle = self.puzzle
        bare = ~covered & self.full
        row, cell = divmod((bare & -bare).bit_length() - 1, puzzle.across)
        if not (self._run_fits(bare, row, cell) if puzzle.plain else self._regions_fit(bare)):
            return
        above = row * puzzle.across
        below = covered >> above  # the rows above are full, and long to go through
        tried: set[int] = set()
        for k in self.order:
            if k not in self.left or puzzle.shapes[k] in tried:
                continue
            tried.add(puzzle.shapes[k])
            for tile in puzzle.tiles[k]:
                at = cell - tile.first
                if at < 0 or at + tile.across > puzzle.across or row + tile.rows > puzzle.rows:
                    continue
                mask = tile.mask << at
                if not mask & below:
                    yield k, tile, row, at, mask << above

    def _run_fits(self, bare: int, row: int, cell: int) -> bool:
        """True if rectangles left can stand side by side on the first run of bare cells."""
        run = (bare >> (row * self.puzzle.across + cell)) & ((1 << (self.puzzle.across - cell)) - 1)
        length = (~run & (run + 1)).bit_length() - 1
        within = (1 << (length + 1)) - 1
        sums = 1
        for k in self.left:
            before = sums
            for tile in self.puzzle.tiles[k]:
                sums |= before << tile.across
            sums &= within
        return bool(sums >> length & 1)

    def _regions_fit(self, bare: int) -> bool:
        """True if the area of every bare region is a sum of areas left."""
        across = self.puzzle.across
        if self.puzzle.rows * across > _CELLS_FOR_REGIONS:
            return True
        sums = 1
        for k in self.left:
            sums |= sums << self.puzzle.cells[k]
        while bare:
            region, wider = 0, bare & -bare
            while wider != region:
                region = wider
                wider |= (region & self.not_last) << 1 | (region & self.not_first) >> 1
                wider = (wider | region << across | region >> across) & bare
            if not sums >> region.bit_count() & 1:
                return False
            bare &= ~region
        return True


Found = list[tuple[int, _Tile, int, int]]


def _search(
    puzzle: _Puzzle, most: int, stop: Callable[[], bool] | None
) -> tuple[Found | None, int]:
    """Depth first: (item, tile, row, cell) of every piece, or None; and the nodes visited."""
    board = _Board(puzzle)
    laid: Found = []
    covered = [0]
    branches = [board.chances(0)]
    nodes = 0
    while branches:
        step = next(branches[-1], None)
        if step is None:
            branches.pop()
            covered.pop()
            if laid:
                board.left.add(laid.pop()[0])
            continue
        nodes += 1
        if nodes > most or (nodes % _ASK_EVERY == 0 and stop is not None and stop()):
            return None, nodes
        k, tile, row, cell, mask = step
        laid.append((k, tile, row, cell))
        board.left.discard(k)
        if not board.left:
            return laid, nodes
        covered.append(covered[-1] | mask)
        branches.append(board.chances(covered[-1]))
    return None, nodes


def _arrangement(found: Found, stock: Stock, number: int, unit: float, count: int) -> Arrangement:
    left, low, right, high = stock.bounds
    turned = high - low > right - left
    spots: list[Spot | None] = [None] * count
    for k, tile, row, cell in found:
        column, line = (cell, row) if turned else (row, cell)
        bounds = tile.pose.bounds
        spots[k] = Spot(
            0, tile.pose, left + column * unit - bounds[0], low + line * unit - bounds[1]
        )
    return Arrangement([(number, 1)], spots)
