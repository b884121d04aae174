"""Least cost any plan can have: what the search may stop at."""

from __future__ import annotations

import math

from core.breakdown.job import Job

_NODES = 20000  # sets of sheets looked at before the bound falls back to a simple one


def least_cost(job: Job) -> float:
    """A lower bound on the cost of sheets that hold all parts with a quantity.

    Sheets must hold the parts' area (a kerf added to every part and once to the sheet), and parts
    of which no two go on one sheet need a sheet each. Own derivation. Parts that fit no sheet are
    left out.
    """
    area = 0.0
    alone = 0
    for index, part in enumerate(job.parts):
        if not part.quantity or not job.fits_some_sheet(index):
            continue
        area += part.quantity * float(job.sizes[index, 0]) * float(job.sizes[index, 1])
        if _is_alone(job, index):
            alone += part.quantity
    if area == 0:
        return 0.0
    kinds = [
        (cost, float(room[0]) * float(room[1]), sheet.quantity)
        for cost, room, sheet in zip(job.costs, job.rooms, job.sheets, strict=True)
        if min(room) > 0 and sheet.quantity != 0
    ]
    return max(_cover(kinds, area * (1 - 1e-9)), _cover([(c, 1.0, q) for c, _, q in kinds], alone))


def most_value(job: Job) -> float:
    """An upper bound on the value of parts on limited sheets: the densest by area, fractions too.

    Infinite if some sheet is not limited. Own derivation, as in the fractional knapsack.
    """
    if any(sheet.quantity is None for sheet in job.sheets):
        return math.inf
    room = sum(
        float(size[0]) * float(size[1]) * (sheet.quantity or 0)
        for size, sheet in zip(job.rooms, job.sheets, strict=True)
        if min(size) > 0
    )
    total = 0.0
    by_density = sorted(
        (
            (job.values[index] / (float(job.sizes[index, 0]) * float(job.sizes[index, 1])), index)
            for index in range(len(job.parts))
            if job.fits_some_sheet(index)
        ),
        reverse=True,
    )
    for density, index in by_density:
        quantity = job.parts[index].quantity
        area = float(job.sizes[index, 0]) * float(job.sizes[index, 1])
        take = room if quantity is None else min(room, area * quantity)
        total += density * take
        room -= take
    return total


def _is_alone(job: Job, index: int) -> bool:
    """True if the part takes more than half of either side of every sheet, however it lies."""
    for room in job.rooms:
        for turn in range(1 + int(job.sizes[index, 2])):
            width, height = int(job.sizes[index, turn]), int(job.sizes[index, 1 - turn])
            if 2 * width <= room[0] + 2 or 2 * height <= room[1] + 2:
                return False
    return True


def _cover(kinds: list[tuple[float, float, int | None]], need: float) -> float:
    """Least cost of things (cost, size, how many) whose sizes add up to need; inf never wins."""
    if need <= 0 or not kinds:
        return 0.0
    kinds = sorted(kinds, key=lambda kind: kind[0] / kind[1])
    best = math.inf
    nodes = 0
    complete = True

    def relaxed(start: int, rest: float) -> float:
        total = 0.0
        for cost, size, count in kinds[start:]:
            if rest <= 0:
                break
            take = rest if count is None else min(rest, size * count)
            total += cost * take / size
            rest -= take
        return total

    def descend(start: int, rest: float, spent: float) -> None:
        nonlocal best, nodes, complete
        if rest <= 0:
            best = min(best, spent)
            return
        nodes += 1
        if nodes > _NODES:
            complete = False
            return
        if start == len(kinds) or spent + relaxed(start, rest) >= best * (1 - 1e-12):
            return
        cost, size, count = kinds[start]
        most = math.ceil(rest / size)
        if count is not None:
            most = min(most, count)
        for take in range(most, -1, -1):
            descend(start + 1, rest - take * size, spent + take * cost)

    descend(0, need, 0.0)
    simple = relaxed(0, need)
    return best if complete and math.isfinite(best) else simple
