"""By hand, with help: the best place for one piece, and places for all that are left."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from core import tolerances
from core.errors import InvalidRequestError
from core.nesting import kernels
from core.nesting.bench import Bench
from core.nesting.construct import Arrangement, Builder, Item, Spot, next_copy
from core.nesting.engine import Progress, Stop, nest
from core.nesting.model import (
    Layout,
    NestPiece,
    NestRules,
    NestSheet,
    Placement,
    check_request,
)
from core.nesting.prepare import Kind, placement_of, pose_of, prepare
from core.nesting.tables import Detail, build_book

_TRIES = 60  # searches for an exact fit where the raster finds no room
_TRIES_BETTER = 16  # searches for a place that reaches out less than the raster's
_TURNS_TRIED = 8
_UPWARD = 0.2  # how much reaching up counts beside reaching right


class Placer:
    """Finds places for single pieces on layouts of one set of pieces, sheets and rules.

    Keep it while the maker drags pieces: outlines are prepared once, later calls are quick.
    """

    def __init__(
        self, pieces: Iterable[NestPiece], sheets: Iterable[NestSheet], rules: NestRules
    ) -> None:
        self.pieces, self.sheets, self.rules = tuple(pieces), tuple(sheets), rules
        check_request(self.pieces, self.sheets, rules)
        self.job = prepare(self.pieces, self.sheets, rules)
        self._items = [Item(index, 1) for index, kind in enumerate(self.job.kinds) if kind.poses]
        self._builder = Builder(self.job, self._items)

    def best_place(
        self, piece_id: str, copy: int, layout: Layout, *, may_open: bool = True
    ) -> Placement | None:
        """Where a piece lies best beside all others of the layout; None if there is no room.

        The leftmost, lowest free place on the sheets in use, in their order; else, if
        may_open, on a further sheet. A placement of the same copy in the layout is ignored.
        Raises InvalidRequestError if there is no such piece.
        """
        if piece_id not in self.job.kind_by_id:
            raise InvalidRequestError("There is no such piece", f"piece {piece_id}")
        index = self.job.kind_by_id[piece_id]
        kind = self.job.kinds[index]
        if kind.problem:
            return None
        others = [
            p
            for p in layout.placements
            if (p.piece_id, p.copy) != (piece_id, copy)
            and p.piece_id in self.job.kind_by_id
            and p.sheet_id in self.job.stock_by_id
        ]
        items, made = self._arranged(others)
        items.append(Item(index, copy))
        made.spots.append(None)
        spot = self._by_raster(kind, made)
        if spot is not None or made.sheets:
            spot = self._exactly(index, items, made, spot)
        if spot is None and may_open:
            spot = self._on_new_sheet(kind, made)
        if spot is None:
            return None
        stock, number = made.sheets[spot.sheet]
        return placement_of(self.job, kind, spot.pose, copy, stock, number, spot.x, spot.y)

    def _arranged(self, placements: Sequence[Placement]) -> tuple[list[Item], Arrangement]:
        items: list[Item] = []
        made = Arrangement()
        numbers: dict[tuple[int, int], int] = {}
        for p in placements:
            key = (self.job.stock_by_id[p.sheet_id], p.sheet_copy)
            if key not in numbers:
                numbers[key] = len(made.sheets)
                made.sheets.append(key)
            index = self.job.kind_by_id[p.piece_id]
            pose = pose_of(self.job, self.job.kinds[index], p)
            items.append(Item(index, p.copy, fixed=True))
            x, y = p.x_mm + pose.offset[0], p.y_mm + pose.offset[1]
            made.spots.append(Spot(numbers[key], pose, x, y))
        return items, made

    def _by_raster(self, kind: Kind, made: Arrangement) -> Spot | None:
        for sheet, (stock, _) in enumerate(made.sheets):
            grid = self._builder.grid_with(made, sheet)
            put = self._builder.try_put(kind, stock, grid)
            if put is not None:
                return Spot(sheet, *put)
        return None

    def _exactly(
        self, index: int, items: list[Item], made: Arrangement, spot: Spot | None
    ) -> Spot | None:
        """Slide a raster place home; without one look for an exact fit."""
        placed = [
            (item.kind, one.pose)
            for item, one in zip(items, made.spots, strict=True)
            if one is not None
        ]
        if spot is not None:
            placed.append((index, spot.pose))
        kinds = frozenset(kind for kind, _ in placed) | {index}
        detail = Detail(kinds, tolerances.NEST_SIMPLIFY_MM, _TURNS_TRIED)
        book = build_book(self.job, detail, placed, only=index)
        assert book is not None
        bench = Bench(self.job, book, items, made, seed=0)
        k = len(items) - 1
        bench.S.weight[:] = 1.0
        found: tuple[float, int, int, float, float] | None = None
        if spot is not None:
            found = self._settled(bench, k, book.row[spot.pose.index], spot.sheet, spot.x, spot.y)
        first = found is not None
        for _ in range(_TRIES_BETTER if first else _TRIES):
            value, row, sheet, x, y = kernels.best_spot(bench.T, bench.S, k, 1)
            if value <= 0.0 and not (spot is not None and sheet > spot.sheet):
                other = self._settled(bench, k, int(row), int(sheet), x, y)
                found = other if found is None else min(found, other)
        if found is None:
            return None
        _, row, sheet, x, y = found
        bench.put(k, row, sheet, x, y)
        return bench.arrangement(bench.snapshot(), made).spots[k]

    @staticmethod
    def _settled(
        bench: Bench, k: int, row: int, sheet: int, x: float, y: float
    ) -> tuple[float, int, int, float, float]:
        """A free place slid home, after how little it reaches out: far right counts most."""
        x, y = kernels.settle(bench.T, bench.S, k, row, sheet, float(x), float(y))
        box = bench.T.pose[row]
        room = bench.S.room[sheet]
        wide, high = room[2] - room[0], room[3] - room[1]
        reach = x + box[6] - room[0] + _UPWARD * (y + box[7] - room[1])
        return float(sheet * 10 * (wide + high) + reach), row, sheet, float(x), float(y)

    def _on_new_sheet(self, kind: Kind, made: Arrangement) -> Spot | None:
        stocks = self.job.stocks
        for stock in sorted(range(len(stocks)), key=lambda s: (stocks[s].cost, s)):
            number = next_copy(self.job, made, stock)
            if number is None:
                continue
            put = self._builder.try_put(kind, stock, self._builder.empty_grid(stock))
            if put is not None:
                made.sheets.append((stock, number))
                return Spot(len(made.sheets) - 1, *put)
        return None


def best_place(
    piece_id: str,
    copy: int,
    layout: Layout,
    pieces: Iterable[NestPiece],
    sheets: Iterable[NestSheet],
    rules: NestRules,
    *,
    may_open: bool = True,
) -> Placement | None:
    """``Placer.best_place`` for a single question; keep a Placer to ask often."""
    return Placer(pieces, sheets, rules).best_place(piece_id, copy, layout, may_open=may_open)


def place_rest(
    pieces: Iterable[NestPiece],
    sheets: Iterable[NestSheet],
    rules: NestRules,
    layout: Layout,
    *,
    seconds: float | None = None,
    steps: int | None = None,
    seed: int = 0,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> Layout:
    """Place what is in the tray; everything already placed stays exactly where it is."""
    return nest(
        pieces, sheets, rules,
        seconds=seconds, steps=steps, seed=seed, start=layout, locked=layout.placements,
        progress=progress, stop=stop,
    )  # fmt: skip


__all__ = ["Placer", "best_place", "place_rest"]
