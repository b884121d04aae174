"""Many copies of few parts: patterns for whole sheets first, then the rest by search.

As with lengths on bars, patterns are made as they are needed by pricing (P. C. Gilmore and R. E.
Gomory, Operations Research 13 (1965), for sheets), here from the table of values of a sheet. What
the whole patterns leave is a small job for the other searches, and the fractions give a lower
bound on the sheets.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from core.breakdown import values
from core.breakdown.job import Job, Place
from core.breakdown.lengths import relax

_ROUNDS_PER_KIND = 6  # tables filled at most for each kind of part
_MOST_KINDS_THIN = 12  # more kinds need too many sizes for tables filled over and over
_LEAST_COPIES = 6.0  # copies of a part, on the average, for this to be worth while


@dataclass(frozen=True, slots=True)
class Repeats:
    """sheets: places of each whole sheet. rest: the job that is left. bound: fewest sheets.

    The bound is 0 if it is not known.
    """

    sheets: tuple[tuple[Place, ...], ...]
    rest: Job
    bound: int


def whole_sheets(job: Job, sheet: int, *, work: float, over: Callable[[], bool]) -> Repeats | None:
    """Patterns cut as often as the fractions say, rounded down; None if not worth while.

    sheet: the only kind there is. work: cuts of sizes looked at in all tables together.
    """
    parts = [
        index for index, part in enumerate(job.parts) if part.quantity and job.fits(index, sheet)
    ]
    demand = np.array([job.parts[index].quantity or 0 for index in parts], dtype=np.int64)
    if not parts or demand.mean() < _LEAST_COPIES:
        return None
    rounds = 10 + _ROUNDS_PER_KIND * len(parts)
    axes = values.make_axes(job, sheet, parts, work / rounds)
    exact = axes is not None
    if axes is None and len(parts) > _MOST_KINDS_THIN:
        return None
    if axes is None:
        axes = values.thin_axes(job, sheet, parts, work / rounds)
    row = {part: number for number, part in enumerate(parts)}
    layouts: dict[tuple[int, ...], tuple[Place, ...]] = {}

    def price(worth: np.ndarray) -> tuple[float, np.ndarray, bool]:
        if over():
            return 0.0, np.zeros(len(parts), dtype=np.int64), False
        table = values.fill(job, axes, parts, worth)
        places = tuple(values.read(job, table, parts))
        counts = np.zeros(len(parts), dtype=np.int64)
        for place in places:
            counts[row[place.part]] += 1
        layouts.setdefault(tuple(int(count) for count in counts), places)
        return table.best, counts, exact

    start = np.ones(len(parts), dtype=np.int64)
    for number in range(len(parts)):
        alone = np.zeros(len(parts))
        alone[number] = 1.0
        start[number] = price(alone)[1][number]
    if over() or not start.all():
        return None
    relaxed, columns, amounts = relax(demand, start, price, rounds)
    left = demand.copy()
    sheets: list[tuple[Place, ...]] = []
    for column, amount in zip(columns.T, amounts, strict=True):
        places = layouts.get(tuple(int(count) for count in column))
        if places is None:
            continue
        for _ in range(math.floor(amount + 1e-6)):
            kept = []
            for place in places:
                if left[row[place.part]] > 0:
                    left[row[place.part]] -= 1
                    kept.append(place)
            if kept:
                sheets.append(tuple(kept))
    rest = tuple(
        replace(part, quantity=int(left[row[index]])) if index in row else part
        for index, part in enumerate(job.parts)
    )
    return Repeats(tuple(sheets), replace(job, parts=rest), math.ceil(relaxed - 1e-6))
