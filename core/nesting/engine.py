"""The whole way of nesting, readable top to bottom: prepare, construct, improve, prove."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from shapely.geometry import Point, Polygon, box

from core.errors import InvalidRequestError
from core.nesting import kernels
from core.nesting.bench import Bench
from core.nesting.bounds import length_least, sheet_bound
from core.nesting.construct import Arrangement, Builder, Item, Spot, orders, stock_orders
from core.nesting.finish import arrangement_of, layout_of
from core.nesting.jigsaw import NODES_MOST, fill_exactly
from core.nesting.model import (
    Layout,
    NestPiece,
    NestRules,
    NestSheet,
    Placement,
    check_request,
)
from core.nesting.objective import score, used_length
from core.nesting.prepare import Job, prepare
from core.nesting.search import compiled_before, improve
from core.nesting.simplify import simplify_outward
from core.nesting.tables import Detail, build_book, detail_for

_STEPS_A_PIECE = 40_000
_STEPS_LEAST = 200_000
_STEPS_MOST = 8_000_000
_SEARCHED_MOST = 600  # pieces searched at once; with more, sheets that are full rest
_CONSTRUCTED_MOST = 4_000  # pieces laid by all constructions together before the search starts

Progress = Callable[[float, Layout | None, str], object]
Stop = Callable[[], bool]
Lock = Placement | tuple[str, int] | tuple[object, ...]


def nest(
    pieces: Iterable[NestPiece],
    sheets: Iterable[NestSheet],
    rules: NestRules,
    *,
    seconds: float | None = None,
    steps: int | None = None,
    seed: int = 0,
    start: Layout | None = None,
    locked: Iterable[Lock] = (),
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> Layout:
    """Place pieces on sheets: all of them by priority, then for the least cost of sheets, then
    with the shortest used length of the last sheet.

    seconds: wall time to spend. steps: position evaluations to spend, whatever the clock says;
    with the same seed they give the same layout. Neither: ``default_steps``. start: go on from
    this layout. locked: placements, or (piece id, copy) pairs of the start, that stay as they
    are. progress: called with the part done (0–1), a better layout or None, and a sentence.
    stop: asked often; once true, the best layout so far is returned within 0.2 s.
    Raises InvalidRequestError for contradictory arguments or locked pieces that break a rule.
    """
    begin = time.monotonic()
    until = None if seconds is None else begin + max(seconds, 0.0)
    piece_list, sheet_list = tuple(pieces), tuple(sheets)
    check_request(piece_list, sheet_list, rules)
    lock_map = _locked_placements(locked, start)
    lying = {piece for piece, _ in lock_map}
    lying |= {p.piece_id for p in (start.placements if start is not None else ())}
    job = prepare(piece_list, sheet_list, rules, lying=lying)
    items = [
        Item(index, copy)
        for index, kind in enumerate(job.kinds)
        if not kind.problem
        for copy in range(1, kind.piece.quantity + 1)
    ]
    made = arrangement_of(job, items, start, lock_map)
    bound = sheet_bound(job, items)
    run = _Run(job, items, lock_map, seed, bound, progress, stop)
    made = construct_best(job, items, made, seed, run.out_of_time(until), run.first)
    run.keep(made, 0)
    if steps is None and seconds is None:
        steps = default_steps(len(items))
    if items and not run.stopped() and (steps is None or steps > 0):
        made = run.improved(made, steps, until)
    run.tell(1.0, run.layout, run.summary())
    return run.layout


def default_steps(copies: int) -> int:
    """Position evaluations a call without a budget spends on so many pieces."""
    return min(max(_STEPS_A_PIECE * copies, _STEPS_LEAST), _STEPS_MOST)


class _Run:
    """One call of ``nest``: what the stages share, and the best proven layout so far."""

    def __init__(
        self,
        job: Job,
        items: list[Item],
        locked: dict[tuple[str, int], Placement],
        seed: int,
        bound: int,
        progress: Progress | None,
        stop: Stop | None,
    ) -> None:
        self.job, self.items, self.locked, self.seed, self.bound = job, items, locked, seed, bound
        self.progress, self.stop = progress, stop
        self.layout = Layout(seed=seed, bound=bound)

    def stopped(self) -> bool:
        """True once the caller wants no more."""
        return self.stop is not None and bool(self.stop())

    def tell(self, part: float, layout: Layout | None, message: str) -> None:
        """Report to the caller."""
        if self.progress is not None:
            self.progress(min(max(part, 0.0), 1.0), layout, message)

    def summary(self) -> str:
        """The layout so far in a sentence."""
        layout = self.layout
        count = len(layout.sheets)
        text = f"{len(layout.placements)} pieces on {count} sheet{'s' if count != 1 else ''}"
        if layout.unplaced:
            text += f", {len(layout.unplaced)} left out"
        return text

    def first(self, made: Arrangement) -> None:
        """Show the first construction at once."""
        self.keep(made, 0)
        self.tell(0.0, self.layout, f"First layout: {self.summary()}")

    def keep(self, made: Arrangement, steps: int) -> bool:
        """Prove an arrangement; keep it unless pieces had to be dropped for a broken rule."""
        layout = layout_of(
            self.job, self.items, made, self.locked, steps=steps, seed=self.seed, bound=self.bound
        )
        wanted = sum(spot is not None for spot in made.spots)
        if len(layout.placements) < wanted and self.layout.placements:
            return False
        self.layout = layout
        return True

    def improved(self, made: Arrangement, steps: int | None, until: float | None) -> Arrangement:
        """The improvement stage; fillers wait in the tray until the end."""
        kinds = self.job.kinds
        resting = [kinds[item.kind].piece.filler and not item.fixed for item in self.items]
        bare = made.copy()
        bare.spots = [
            None if rests else spot for rests, spot in zip(resting, made.spots, strict=True)
        ]
        if all(spot is None for spot in bare.spots) or all(item.fixed for item in self.items):
            return made
        if until is not None and time.monotonic() >= until:
            return made
        length_bound = length_least(self.job, self.items)
        if _nothing_to_gain(self.job, bare, self.bound, length_bound):
            return made
        # There may be no filling: half of the time stays for the search.
        half = None if until is None else (time.monotonic() + until) / 2
        filled, nodes = fill_exactly(
            self.job, self.items, most=min(NODES_MOST, steps or NODES_MOST),
            stop=self.out_of_time(half),
        )  # fmt: skip
        if filled is not None and self._better(filled, made) and self.keep(filled, nodes):
            return filled
        if not compiled_before():
            self.tell(0.0, None, "Preparing the nesting engine; this happens once")
            began = time.monotonic()
            warm_up()
            until = None if until is None else until + time.monotonic() - began
        return self._improved_part(made, bare, steps, until)

    def _better(self, one: Arrangement, two: Arrangement) -> bool:
        return score(self.job, self.items, one) < score(self.job, self.items, two)

    def _improved_part(
        self, made: Arrangement, bare: Arrangement, steps: int | None, until: float | None
    ) -> Arrangement:
        """Improve all sheets, or as many as the search can take, the emptiest first."""
        part = _part_to_search(self.job, self.items, bare, self.out_of_time(until))
        if part is None:
            return made
        which, sheets, detail = part
        items = [self.items[k] for k in which]
        number = {sheet: k for k, sheet in enumerate(sheets)}
        inner = Arrangement([bare.sheets[s] for s in sheets], [])
        for k in which:
            spot = bare.spots[k]
            inner.spots.append(spot and Spot(number[spot.sheet], spot.pose, spot.x, spot.y))
        others = [one for k, one in enumerate(bare.sheets) if k not in number]
        placed = [
            (item.kind, spot.pose)
            for item, spot in zip(items, inner.spots, strict=True)
            if spot is not None
        ]
        self.tell(0.0, None, "Comparing outlines")
        book = build_book(self.job, detail, placed, stop=self.out_of_time(until))
        if book is None:
            return made

        def whole(found: Arrangement) -> Arrangement:
            merged = Arrangement([*found.sheets, *others], list(bare.spots))
            shift = {s: len(found.sheets) + k for k, s in enumerate(
                s for s in range(len(bare.sheets)) if s not in number
            )}  # fmt: skip
            for k, spot in enumerate(bare.spots):
                if spot is not None and spot.sheet in shift:
                    merged.spots[k] = Spot(shift[spot.sheet], spot.pose, spot.x, spot.y)
            for k, spot in zip(which, found.spots, strict=True):
                merged.spots[k] = spot
            return self._with_fillers(merged)

        def show(part: float, better: Arrangement, evals: int) -> None:
            if self.keep(whole(better), evals):
                self.tell(part, self.layout, self.summary())

        better, evals = improve(
            self.job, book, items, inner,
            seed=self.seed, steps=steps, until=until, bound=max(self.bound - len(others), 1),
            length_bound=length_least(self.job, items), taken=others, stop=self.stop,
            show=show if self.progress else None,
        )  # fmt: skip
        if better is not inner:
            found = whole(better)
            if self.keep(found, evals):
                made = found
        self.layout = replace(self.layout, steps=evals)
        return made

    def _with_fillers(self, better: Arrangement) -> Arrangement:
        """Fillers go where waste allows: on sheets in use, not past what the last one uses."""
        waiting = [
            k
            for k, spot in enumerate(better.spots)
            if spot is None and self.job.kinds[self.items[k].kind].piece.filler
        ]
        return add_fillers(self.job, self.items, better, waiting) if waiting else better

    def out_of_time(self, until: float | None) -> Stop:
        """Asks whether to end: the caller wants no more, or the moment has passed."""

        def ended() -> bool:
            return self.stopped() or (until is not None and time.monotonic() > until)

        return ended


def warm_up() -> None:
    """Compile or load everything the search runs. Once per process; some 20 s the first time
    after an installation, well under a second later. Worth a background thread at start-up."""
    pieces = (NestPiece("a", box(0, 0, 3, 2), 3), NestPiece("b", box(0, 0, 2, 2), 2))
    holed = Polygon(box(0, 0, 9, 9).exterior, [box(4, 4, 5, 5).exterior])
    job = prepare(pieces, (NestSheet("s", holed),), NestRules())
    items = [Item(0, copy) for copy in (1, 2, 3)] + [Item(1, copy) for copy in (1, 2)]
    builder = Builder(job, items)
    made = builder.build(Arrangement([], [None] * len(items)), range(len(items)), [0])
    book = build_book(job, Detail(frozenset((0, 1)), 0.1, 4))
    assert book is not None
    bench = Bench(job, book, items, made, seed=0)
    bench.cut_out(0, 3.0)
    for _ in bench.run():
        break
    kernels.restore(bench.T, bench.S)
    _, row, sheet, x, y = kernels.best_spot(bench.T, bench.S, 0, 1)
    kernels.settle(bench.T, bench.S, 0, int(row), int(sheet), float(x), float(y))
    simplify_outward(Point(0, 0).buffer(5, quad_segs=20), most_mm=0.1, fewest=8)


def add_fillers(
    job: Job, items: Sequence[Item], made: Arrangement, waiting: Sequence[int]
) -> Arrangement:
    """The fillers waiting, largest first, into the waste of the sheets in use."""
    builder = Builder(job, items)
    order = sorted(waiting, key=lambda k: (-job.kinds[items[k].kind].area, k))
    found = made.copy()
    used = [s for s in range(len(made.sheets)) if used_length(job, made, s) > 0]
    if not used:
        return made
    last = min(used, key=lambda s: (used_length(job, made, s), -s))
    for sheet in used:
        grid = builder.grid_with(found, sheet)
        end = 1 << 30
        if sheet == last:
            reach = used_length(job, made, sheet) + job.stocks[made.sheets[sheet][0]].bounds[0]
            end = int((reach + job.grow_mm - grid.left) / grid.size_x + 1e-6)
        for k in order:
            if found.spots[k] is None:
                kind = job.kinds[items[k].kind]
                put = builder.try_put(kind, made.sheets[sheet][0], grid, end=end)
                if put is not None:
                    found.spots[k] = Spot(sheet, *put)
    return found


def _part_to_search(
    job: Job, items: Sequence[Item], made: Arrangement, stop: Stop
) -> tuple[list[int], list[int], Detail] | None:
    """Items, sheets and detail to search: everything, or the emptiest sheets with the tray.

    None if not even the emptiest sheet alone can be searched, or it was stopped.
    """
    filler = [job.kinds[item.kind].piece.filler and not item.fixed for item in items]
    fill: dict[int, float] = {}
    for item, spot in zip(items, made.spots, strict=True):
        if spot is not None:
            fill[spot.sheet] = fill.get(spot.sheet, 0.0) + job.kinds[item.kind].area
    order = sorted(fill, key=lambda s: (fill[s] / job.stocks[made.sheets[s][0]].area, s))
    for count in range(len(order), 0, -1):
        sheets = sorted(order[:count])
        which = [
            k
            for k, spot in enumerate(made.spots)
            if (spot is None and not filler[k]) or (spot is not None and spot.sheet in sheets)
        ]
        if len(which) > _SEARCHED_MOST and count > 1:
            continue
        if stop():
            return None
        detail = detail_for(job, frozenset(items[k].kind for k in which), stop=stop)
        if detail is not None:
            return which, sheets, detail
    return None


def _nothing_to_gain(job: Job, made: Arrangement, bound: int, length_bound: float) -> bool:
    used = [s for s in range(len(made.sheets)) if used_length(job, made, s) > 0]
    if any(spot is None for spot in made.spots) or len(used) != 1 or len(job.stocks) > 1:
        return False
    return used_length(job, made, used[0]) <= length_bound * (1 + 1e-9)


def construct_best(
    job: Job,
    items: Sequence[Item],
    base: Arrangement,
    seed: int,
    stop: Stop | None,
    first: Callable[[Arrangement], None],
) -> Arrangement:
    """The best of several constructions upon what lies there already; tells the first one."""
    which = [index for index, spot in enumerate(base.spots) if spot is None]
    if not which:
        return base
    fillers = [k for k in which if job.kinds[items[k].kind].piece.filler]
    builder = Builder(job, items)
    best: Arrangement | None = None
    best_score = score(job, items, base)
    area = sum(job.kinds[items[index].kind].area for index in which)
    count = 0
    for order in orders(job, items, [k for k in which if k not in set(fillers)], seed):
        for stock_order in stock_orders(job, area):
            if best is not None and (count * len(which) > _CONSTRUCTED_MOST or _asked(stop)):
                break
            made = builder.build(base, order, stock_order, stop=stop if best else None)
            count += 1
            made_score = score(job, items, made)
            if best is None or made_score < best_score:
                if best is None:
                    first(made)
                best, best_score = made, made_score
    best = best or base
    return add_fillers(job, items, best, fillers) if fillers else best


def _asked(stop: Stop | None) -> bool:
    return stop is not None and bool(stop())


def _locked_placements(
    locked: Iterable[Lock], start: Layout | None
) -> dict[tuple[str, int], Placement]:
    """Locks by (piece id, copy); pairs are looked up in the start."""
    placed = {(p.piece_id, p.copy): p for p in start.placements} if start is not None else {}
    found: dict[tuple[str, int], Placement] = {}
    for lock in locked:
        values = tuple(lock)
        if len(values) == len(Placement._fields):
            placement = Placement(*values)  # type: ignore[arg-type]
        elif len(values) == 2 and values in placed:
            placement = placed[values]
        else:
            raise InvalidRequestError(
                "A locked piece has no place", f"piece {values[0]}", "Place it first or unlock it."
            )
        found[(placement.piece_id, placement.copy)] = placement
    return found
