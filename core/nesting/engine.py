"""The whole way of nesting, readable top to bottom: prepare, construct, improve, prove."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from core.errors import InvalidRequestError
from core.nesting.bounds import sheet_bound
from core.nesting.construct import Arrangement, Builder, Item, orders, stock_orders
from core.nesting.finish import arrangement_of, layout_of
from core.nesting.model import (
    Layout,
    NestPiece,
    NestRules,
    NestSheet,
    Placement,
    check_request,
)
from core.nesting.objective import score
from core.nesting.prepare import Job, prepare

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
    with the same seed they give the same layout. Neither: DEFAULT_STEPS. start: go on from
    this layout. locked: placements, or (piece id, copy) pairs of the start, that stay as they
    are. progress: called with the part done (0–1), a better layout or None, and a sentence.
    stop: asked often; once true, the best layout so far is returned within 0.2 s.
    Raises InvalidRequestError for contradictory arguments or locked pieces that break a rule.
    """
    piece_list, sheet_list = tuple(pieces), tuple(sheets)
    check_request(piece_list, sheet_list, rules)
    lock_map = _locked_placements(locked, start)
    job = prepare(piece_list, sheet_list, rules)
    items = [
        Item(index, copy)
        for index, kind in enumerate(job.kinds)
        if not kind.problem
        for copy in range(1, kind.piece.quantity + 1)
    ]
    base = arrangement_of(job, items, start, lock_map)
    bound = sheet_bound(job, items)
    best = construct_best(job, items, base, seed, stop)
    return layout_of(job, items, best, lock_map, steps=0, seed=seed, bound=bound)


def construct_best(
    job: Job, items: Sequence[Item], base: Arrangement, seed: int, stop: Stop | None
) -> Arrangement:
    """The best of several constructions upon what lies there already."""
    builder = Builder(job, items)
    which = [index for index, spot in enumerate(base.spots) if spot is None]
    best = base
    best_score = score(job, items, base)
    if not which:
        return base
    area = sum(job.kinds[items[index].kind].area for index in which)
    for order in orders(job, items, which, seed):
        for stock_order in stock_orders(job, area):
            made = builder.build(base, order, stock_order, stop=stop)
            made_score = score(job, items, made)
            if made_score < best_score:
                best, best_score = made, made_score
    return best


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
