"""Which search answers a sawing job, and in which order they help each other.

As many as fit: the table of values, exact. Parts of one width: patterns of lengths, nearly always
exact. Everything else: ruin and recreate; and where one sheet is in question and the numbers are
small, the search that builds rectangles up proves the answer or betters it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from core.breakdown import exact, lengths, repeats, search, values
from core.breakdown.bounds import least_cost, most_value
from core.breakdown.job import SAME, Job, Layout, Place
from core.tolerances import SAW_UNITS_PER_MM

STEPS_PER_SECOND = 20_000  # a slow machine manages these on 60 parts, so steps decide, not time
_PARTS_FOR_FULL_SPEED = 60
_TABLE_WORK_PER_SECOND = 2e8
_BUILD_WORK_PER_SECOND = 4e6
_LEAST_TABLE_WORK = 4e8
_FIT_WORK_PER_SECOND = 5e8
_LEAST_FIT_WORK = 2e8
_THIN_WORK = 1e9  # a larger choice of sizes was hardly ever worth more
_FIRST_STEPS = 4000  # before the exact search has its turn on a single sheet
_LENGTH_TRIES = 60


@dataclass(frozen=True, slots=True)
class _Work:
    """What the searches may spend: steps, cuts looked at in tables, rectangles joined.

    All follow from the time allowed (or from the steps asked for), never from the clock.
    """

    steps: int
    tables: float
    fit_tables: float
    joins: float


def _work_for(job: Job, seconds: float, steps: int | None) -> _Work:
    copies = sum(part.quantity or 0 for part in job.parts)
    speed = STEPS_PER_SECOND * min(1.0, _PARTS_FOR_FULL_SPEED / max(copies, 1))
    if steps is not None:
        seconds = steps / STEPS_PER_SECOND
    return _Work(
        steps if steps is not None else max(1, int(seconds * speed)),
        max(_LEAST_TABLE_WORK, seconds * _TABLE_WORK_PER_SECOND),
        max(_LEAST_FIT_WORK, seconds * _FIT_WORK_PER_SECOND),
        max(_BUILD_WORK_PER_SECOND, seconds * _BUILD_WORK_PER_SECOND),
    )


def solve(
    job: Job,
    *,
    seconds: float,
    seed: int,
    steps: int | None = None,
    stop: Callable[[], bool] | None = None,
) -> Layout:
    """The best layout that the time, or the number of steps, allows."""
    if not job.wanted():
        return Layout((), 0.0, True, 0)
    search.warm_up()
    clock = search.Clock(seconds, stop)
    work = _work_for(job, seconds, steps)
    if all(part.quantity is None or part.quantity == 0 for part in job.parts):
        return _as_many_as_fit(job, clock, work, seed)
    bound = least_cost(job)
    strips = _strips(job, clock, seed)
    if strips is not None and strips.proven:
        return strips
    first: Layout | None = None
    if sum(1 if sheet.quantity is None else sheet.quantity for sheet in job.sheets) == 1 and all(
        sheet.quantity is not None for sheet in job.sheets
    ):
        first_steps = min(work.steps, _FIRST_STEPS)
        first = search.improve(job, clock, steps=first_steps, seed=seed, bound=bound)
        if not _is_complete(job, first):
            first = _more_value(job, first, clock, work)
        if first.proven:
            return first
    repeated = _repeats(job, clock, work, seed)
    if repeated is not None:
        bound = max(bound, repeated.bound)
        if repeated.proven:
            return repeated
    layout = search.improve(job, clock, steps=work.steps, seed=seed, bound=bound)
    for other in (strips, first, repeated):
        if other is not None:
            known = max(layout.bound, other.bound)
            if not _is_complete(job, layout):
                known = min(layout.bound, other.bound)
            layout = min((layout, other), key=lambda one: (_missing(job, one), _cost(job, one)))
            layout = replace(layout, bound=known)
    if not _is_complete(job, layout):
        return _more_value(job, layout, clock, work)
    if not layout.proven:
        layout = _on_one_sheet(job, layout, clock, work)
    return layout


def _is_complete(job: Job, layout: Layout) -> bool:
    """True if every copy that fits some sheet is placed and none is wanted without limit."""
    return _missing(job, layout) == 0 and all(part.quantity is not None for part in job.parts)


def _more_value(job: Job, layout: Layout, clock: search.Clock, work: _Work) -> Layout:
    """Not all placed: each sheet once more by the exact search, with what is missing to hand."""
    if any(sheet.quantity is None for sheet in job.sheets):
        return layout
    stock = [index for index, sheet in enumerate(job.sheets) for _ in range(sheet.quantity or 0)]
    if not stock or len(stock) > 200:
        return layout
    clock.untimed(exact.warm_up)
    by_sheet: list[tuple[int, tuple[Place, ...]]] = list(layout.sheets)
    for index, _ in layout.sheets:
        stock.remove(index)
    by_sheet += [(index, ()) for index in stock]
    only = len(by_sheet) == 1
    bound = min(layout.bound, most_value(job))
    fillers_last = _fillers_last(job)
    for number, (index, places) in enumerate(by_sheet):
        if clock.over() and not only:
            break
        free = _unlimited_counts(job)
        for _, others in by_sheet:
            for place in others:
                free[place.part] -= 1
        for place in places:
            free[place.part] += 1
        if fillers_last:
            # Parts that were asked for by number stay; only as many as fit are exchanged.
            continue
        answer = exact.solve(
            job,
            index,
            free,
            known=_value(job, places),
            table_work=work.tables,
            work=work.joins,
        )
        if answer is None:
            continue
        if answer.places:
            by_sheet[number] = (index, answer.places)
        if only:
            bound = min(bound, answer.bound)
    value = math.fsum(_value(job, places) for _, places in by_sheet)
    return Layout(
        tuple(entry for entry in by_sheet if entry[1]),
        bound,
        not fillers_last and bound <= value * (1 + 1e-12) + 1e-9,
        layout.steps,
    )


def _fillers_last(job: Job) -> bool:
    """True if parts without a quantity only fill what the others leave."""
    return not job.valued and len({part.quantity is None for part in job.parts}) == 2


def _unlimited_counts(job: Job) -> np.ndarray:
    """Copies wanted of each part, for as many as fit as many as the stock could ever hold."""
    stock = [
        int(room[0]) * int(room[1]) * (sheet.quantity or 0)
        for room, sheet in zip(job.rooms, job.sheets, strict=True)
    ]
    return np.array(
        [
            part.quantity
            if part.quantity is not None
            else sum(stock) // (int(size[0]) * int(size[1])) + 1
            for part, size in zip(job.parts, job.sizes, strict=True)
        ],
        dtype=np.int64,
    )


def _on_one_sheet(job: Job, layout: Layout, clock: search.Clock, work: _Work) -> Layout:
    """All placed: can one sheet alone hold them for less? Found, shown impossible, or left open."""
    clock.untimed(exact.warm_up)
    cost = _cost(job, layout)
    wanted = np.array(
        [
            (part.quantity or 0) if job.fits_some_sheet(index) else 0
            for index, part in enumerate(job.parts)
        ],
        dtype=np.int64,
    )
    areas = tuple(float(size[0]) * float(size[1]) for size in job.sizes)
    largest = max(areas)
    by_area = replace(job, values=tuple(area / largest for area in areas))
    total = math.fsum(count * value for count, value in zip(wanted, by_area.values, strict=True))
    present = [index for index, sheet in enumerate(job.sheets) if sheet.quantity != 0]
    open_costs = []
    for index in sorted(present, key=lambda i: job.costs[i]):
        if job.costs[index] >= cost * (1 - 1e-9):
            break
        if job.costs[index] < layout.bound * (1 - 1e-9):
            continue
        if clock.over():
            open_costs.append(job.costs[index])
            break
        answer = exact.solve(
            by_area,
            index,
            wanted,
            known=total * (1 - 1e-6),
            table_work=work.tables,
            work=work.joins,
        )
        if answer is not None and answer.places and len(answer.places) == int(wanted.sum()):
            cheapest = job.costs[index]
            return Layout(
                ((index, answer.places),),
                min([*open_costs, cheapest]),
                not open_costs,
                layout.steps,
            )
        if answer is None or answer.bound >= total * (1 - 1e-9):
            open_costs.append(job.costs[index])
    singles = [job.costs[i] for i in present]
    pair = 2 * min(singles)
    bound = max(layout.bound, min([*open_costs, pair, cost]))
    return replace(layout, bound=bound, proven=cost <= bound * (1 + 1e-9))


def _cost(job: Job, layout: Layout) -> float:
    return math.fsum(job.costs[sheet] for sheet, _ in layout.sheets)


def _value(job: Job, places: tuple[Place, ...] | list[Place]) -> float:
    return math.fsum(job.values[place.part] for place in places)


def _total(job: Job, layout: Layout) -> float:
    """Value of all parts placed."""
    return math.fsum(_value(job, places) for _, places in layout.sheets)


def _missing(job: Job, layout: Layout) -> float:
    """Value of the wanted copies that found no place."""
    placed = _total(job, layout)
    wanted = math.fsum(
        (part.quantity or 0) * job.values[index]
        for index, part in enumerate(job.parts)
        if job.fits_some_sheet(index)
    )
    missing = wanted - placed
    return missing if missing > 1e-9 * wanted else 0.0


def _as_many_as_fit(job: Job, clock: search.Clock, work: _Work, seed: int) -> Layout:
    """No part is limited: tables, and ruin and recreate where they are not proven the best."""
    from_tables = _from_tables(job, work.fit_tables)
    if from_tables.proven:
        return from_tables
    found = search.improve(job, clock, steps=work.steps, seed=seed, bound=0.0)
    if _total(job, found) <= _total(job, from_tables):
        return replace(from_tables, steps=found.steps)
    return replace(found, bound=from_tables.bound)


def _from_tables(job: Job, work: float) -> Layout:
    """The best layout of each kind of sheet, as often as there are sheets."""
    sheets: list[tuple[int, tuple[Place, ...]]] = []
    total = 0.0
    proven = True
    for index, sheet in enumerate(job.sheets):
        parts = [
            number
            for number, part in enumerate(job.parts)
            if part.quantity is None and job.fits(number, index) and job.values[number] > 0
        ]
        count = sheet.quantity or 0
        if not parts or not count:
            continue
        axes = values.make_axes(job, index, parts, work)
        if axes is None:
            proven = False
            axes = values.thin_axes(job, index, parts, min(work, _THIN_WORK))
        table = values.fill(job, axes, parts, np.array([job.values[part] for part in parts]))
        places = tuple(values.read(job, table, parts))
        sheets += [(index, places)] * count
        total += count * table.best
    most = most_value(job)
    return Layout(
        tuple(sheets), total if proven else most, proven or total >= most * (1 - 1e-12), 0
    )


def _repeats(job: Job, clock: search.Clock, work: _Work, seed: int) -> Layout | None:
    """Many copies on one kind of sheet without limit: whole sheets by pattern, then the rest."""
    kinds = [index for index, sheet in enumerate(job.sheets) if sheet.quantity != 0]
    if len(kinds) != 1 or job.sheets[kinds[0]].quantity is not None:
        return None
    if any(part.quantity is None for part in job.parts):
        return None
    found = repeats.whole_sheets(job, kinds[0], work=work.fit_tables / 2, over=clock.over)
    if found is None:
        return None
    cost = job.costs[kinds[0]]
    least = max(least_cost(job), found.bound * cost)
    rest_bound = max(0.0, least - len(found.sheets) * cost)
    rest = Layout((), 0.0, True, 0)
    if found.rest.wanted():
        rest = search.improve(
            found.rest,
            clock,
            steps=max(1, work.steps // 2),
            seed=seed,
            bound=max(rest_bound, least_cost(found.rest)),
        )
    sheets = tuple((kinds[0], places) for places in found.sheets) + rest.sheets
    reached = len(sheets) * cost <= least * (1 + 1e-9)
    return Layout(sheets, least, reached and _missing(found.rest, rest) == 0, rest.steps)


def _strips(job: Job, clock: search.Clock, seed: int) -> Layout | None:
    """All parts equally wide, one kind of sheet: bars side by side, lengths in them."""
    kinds = [index for index, sheet in enumerate(job.sheets) if sheet.quantity != 0]
    wanted = [
        index
        for index, part in enumerate(job.parts)
        if part.quantity and job.fits_some_sheet(index)
    ]
    if len(kinds) != 1 or not wanted or any(part.quantity is None for part in job.parts):
        return None
    best: Layout | None = None
    for way in (0, 1):  # bars along x, along y
        for across in sorted({int(job.sizes[wanted[0], 0]), int(job.sizes[wanted[0], 1])}):
            layout = _bars(job, kinds[0], wanted, way, across, clock, seed)
            if layout is not None and (best is None or _cost(job, layout) < _cost(job, best)):
                best = layout
    return best


def _bars(
    job: Job, sheet: int, wanted: list[int], way: int, across: int, clock: search.Clock, seed: int
) -> Layout | None:
    """Bars along x (way 0) or y of the given width; None if some part has another width."""
    room = int(job.rooms[sheet, way])
    depth = int(job.rooms[sheet, 1 - way])
    sliver = max(SAME, job.kerf // 2)
    side_by_side = (depth + SAME) // across
    if side_by_side and SAME < depth - side_by_side * across <= sliver:
        side_by_side -= 1
    if side_by_side < 1:
        return None
    long_side: list[int] = []
    turned: list[bool] = []
    only_way = True
    for index in wanted:
        ways = [
            turn
            for turn in range(1 + int(job.sizes[index, 2]))
            if int(job.sizes[index, (1 - way) if turn == 0 else way]) == across
        ]
        if not ways:
            return None
        length = int(job.sizes[index, way if ways[0] == 0 else 1 - way])
        rest = room - length
        if not (abs(rest) <= SAME or rest > sliver):
            return None
        long_side.append(length)
        turned.append(bool(ways[0]))
        only_way &= not job.sizes[index, 2] or job.sizes[index, 0] == job.sizes[index, 1]
    kinds = sorted(set(long_side))
    demand = np.zeros(len(kinds), dtype=np.int64)
    waiting: dict[int, list[tuple[int, bool]]] = {length: [] for length in kinds}
    for index, length, turn in zip(wanted, long_side, turned, strict=True):
        copies = job.parts[index].quantity or 0
        demand[kinds.index(length)] += copies
        waiting[length] += [(index, turn)] * copies
    clock.untimed(lengths.warm_up)
    found = lengths.bars(
        np.array(kinds, dtype=np.int64),
        demand,
        room,
        sliver=sliver,
        tries=_LENGTH_TRIES,
        rng=np.random.default_rng(seed),
        over=clock.over,
    )
    count = math.ceil(len(found.patterns) / side_by_side)
    limit = job.sheets[sheet].quantity
    if limit is not None and count > limit:
        return None
    sheets: list[list[Place]] = [[] for _ in range(count)]
    for number, pattern in enumerate(found.patterns):
        at, level = divmod(number, side_by_side)
        start = 0
        for kind in range(len(kinds) - 1, -1, -1):
            for _ in range(pattern[kind]):
                index, turn = waiting[kinds[kind]].pop()
                x, y = (start, level * across) if way == 0 else (level * across, start)
                sheets[at].append(
                    Place(
                        index,
                        job.trim_mm + x / SAW_UNITS_PER_MM,
                        job.trim_mm + y / SAW_UNITS_PER_MM,
                        turn,
                    )
                )
                start += kinds[kind]
    least = least_cost(job)
    if only_way:
        least = max(least, math.ceil(found.bound / side_by_side) * job.costs[sheet])
    cost = count * job.costs[sheet]
    return Layout(
        tuple((sheet, tuple(places)) for places in sheets),
        least,
        cost <= least * (1 + 1e-9),
        0,
    )
