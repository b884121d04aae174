"""Greatest value of one sheet with limited copies: a search that can prove its answer (numba).

Rectangles are built up: two built ones side by side or one above the other make a larger one.
The most promising is always taken next, judged by its own value plus the most that the rest of
the sheet could still give (K. V. Viswanathan and A. Bagchi, Operations Research 41 (1993)). The
most is taken from the table for unlimited copies, once with the true values and once with a price
on every copy, chosen so that the bound is small (Lagrange multipliers, by subgradient steps).
The answer is proven when nothing promising is left.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numba import njit

from core.breakdown import values as tables
from core.breakdown.job import SAME, Job, Place, make_job
from core.breakdown.model import SawPart, SawSheet
from core.tolerances import SAW_UNITS_PER_MM

_PRICE_ROUNDS = 150
_MOST_BUILT = 300_000


@dataclass(frozen=True, slots=True)
class Answer:
    """places: of the best layout, empty if none beats the one known. bound: no layout is worth
    more. proven: no layout is worth more than the best of the places and the one known."""

    places: tuple[Place, ...]
    value: float
    bound: float
    proven: bool


@njit(cache=True, nogil=True)
def _outside(x_sizes: np.ndarray, y_sizes: np.ndarray, value: np.ndarray) -> np.ndarray:
    """Most that the sheet beside and above a rectangle in its corner can give, for every size."""
    columns, rows = len(x_sizes), len(y_sizes)
    out = np.zeros((columns, rows))
    x_gap = np.full((columns, columns), -1, dtype=np.int64)
    y_gap = np.full((rows, rows), -1, dtype=np.int64)
    for i in range(columns):
        for k in range(i + 1, columns):
            x_gap[i, k] = np.searchsorted(x_sizes, x_sizes[k] - x_sizes[i] + SAME, "right") - 1
    for j in range(rows):
        for k in range(j + 1, rows):
            y_gap[j, k] = np.searchsorted(y_sizes, y_sizes[k] - y_sizes[j] + SAME, "right") - 1
    for i in range(columns - 1, -1, -1):
        for j in range(rows - 1, -1, -1):
            best = 0.0
            for k in range(i + 1, columns):
                total = out[k, j]
                if x_gap[i, k] >= 0:
                    total += value[x_gap[i, k], j]
                best = max(best, total)
            for k in range(j + 1, rows):
                total = out[i, k]
                if y_gap[j, k] >= 0:
                    total += value[i, y_gap[j, k]]
                best = max(best, total)
            out[i, j] = best
    return out


@njit(cache=True, nogil=True)
def _push(heap: np.ndarray, keys: np.ndarray, count: int, item: int) -> None:
    """Add an item to a heap, largest key first."""
    at = count
    while at > 0:
        above = (at - 1) // 2
        if keys[heap[above]] >= keys[item]:
            break
        heap[at] = heap[above]
        at = above
    heap[at] = item


@njit(cache=True, nogil=True)
def _pop(heap: np.ndarray, keys: np.ndarray, count: int) -> int:
    """Take the item with the largest key from a heap of count items."""
    top = heap[0]
    item = heap[count - 1]
    at = 0
    while True:
        below = 2 * at + 1
        if below >= count - 1:
            break
        if below + 1 < count - 1 and keys[heap[below + 1]] > keys[heap[below]]:
            below += 1
        if keys[heap[below]] <= keys[item]:
            break
        heap[at] = heap[below]
        at = below
    heap[at] = item
    return top


@njit(cache=True, nogil=True)
def _build(
    size: np.ndarray,
    used: np.ndarray,
    worth: np.ndarray,
    priced: np.ndarray,
    key: np.ndarray,
    made: np.ndarray,
    seeds: int,
    room_w: int,
    room_h: int,
    sliver: int,
    copies: np.ndarray,
    x_sizes: np.ndarray,
    y_sizes: np.ndarray,
    out: np.ndarray,
    out_priced: np.ndarray,
    price_sum: float,
    known: float,
    gain: float,
    most_work: int,
) -> tuple[int, bool, bool]:
    """Build rectangles, most promising first.

    The first `seeds` rows are the single parts. Returns the index of the best rectangle (−1: none
    beats known), whether all was looked at, and whether a rest below sliver was refused.
    """
    capacity = len(worth)
    parts = used.shape[1]
    table_size = 1
    while table_size < 3 * capacity:
        table_size *= 2
    table = np.full(table_size, -1, dtype=np.int64)
    heap = np.empty(capacity, dtype=np.int64)
    closed = np.empty(capacity, dtype=np.int64)
    closed_count, open_count, count = 0, 0, 0
    best, best_value = -1, known
    refused = False
    work = 0
    fresh = np.zeros(parts, dtype=np.int16)
    # Round −1 puts the single parts in; each later round joins one rectangle with all closed ones.
    while True:
        if count > 0 or closed_count > 0:
            if open_count == 0:
                return best, True, refused
            current = _pop(heap, key, open_count)
            open_count -= 1
            if key[current] < best_value + gain:
                return best, True, refused
            closed[closed_count] = current
            closed_count += 1
            rounds = closed_count
        else:
            current = -1
            rounds = seeds
        for index in range(rounds):
            other = closed[index] if current >= 0 else index
            work += 1
            if current >= 0:
                ok = True
                for p in range(parts):
                    fresh[p] = used[current, p] + used[other, p]
                    if fresh[p] > copies[p]:
                        ok = False
                        break
                if not ok:
                    continue
            for way in range(2):
                if current >= 0:
                    width = size[current, 0]
                    height = size[current, 1]
                    if way == 0:
                        width += size[other, 0]
                        step = abs(height - size[other, 1])
                        height = max(height, size[other, 1])
                    else:
                        height += size[other, 1]
                        step = abs(width - size[other, 0])
                        width = max(width, size[other, 0])
                    if width > room_w + SAME or height > room_h + SAME:
                        continue
                    if step > SAME and step <= sliver:
                        refused = True
                        continue
                    value = worth[current] + worth[other]
                    price = priced[current] + priced[other]
                else:
                    if way == 1:
                        break
                    width, height = size[other, 0], size[other, 1]
                    value, price = worth[other], priced[other]
                    for p in range(parts):
                        fresh[p] = used[other, p]
                # The table holds all sums of part sizes, but rows may be as high as either.
                i = np.searchsorted(x_sizes, width - SAME)
                j = np.searchsorted(y_sizes, height - SAME)
                promise = min(value + out[i, j], price + out_priced[i, j] + price_sum)
                if promise < best_value + gain:
                    continue
                # Same size and same parts: seen before.
                code = np.uint64(width) * np.uint64(0x9E3779B97F4A7C15)
                code ^= np.uint64(height) * np.uint64(0xC2B2AE3D27D4EB4F)
                for p in range(parts):
                    code = (code ^ np.uint64(fresh[p])) * np.uint64(0x100000001B3)
                code ^= code >> np.uint64(29)
                at = np.int64(code & np.uint64(table_size - 1))
                seen = False
                while table[at] >= 0:
                    twin = table[at]
                    if size[twin, 0] == width and size[twin, 1] == height:
                        same = True
                        for p in range(parts):
                            if used[twin, p] != fresh[p]:
                                same = False
                                break
                        if same:
                            seen = True
                            break
                    at = (at + 1) & (table_size - 1)
                if seen:
                    continue
                if current >= 0:
                    if count >= capacity or work > most_work:
                        return best, False, refused
                    number = count
                    size[number, 0], size[number, 1] = width, height
                    for p in range(parts):
                        used[number, p] = fresh[p]
                    worth[number], priced[number] = value, price
                    made[number, 0], made[number, 1] = current, other
                    made[number, 2] = way
                    count += 1
                else:
                    number = other
                table[at] = number
                key[number] = promise
                _push(heap, key, open_count, number)
                open_count += 1
                gap_w, gap_h = room_w - width, room_h - height
                good = (abs(gap_w) <= SAME or gap_w > sliver) and (
                    abs(gap_h) <= SAME or gap_h > sliver
                )
                if not good:
                    refused = True
                elif value >= best_value + gain:
                    best, best_value = number, value
        if current < 0:
            count = seeds
            if open_count == 0:
                return best, True, refused


def prices(
    job: Job,
    axes: tuple[tables.Axis, tables.Axis],
    parts: list[int],
    copies: np.ndarray,
    values: np.ndarray,
    known: float,
) -> tuple[float, np.ndarray, tables.Table]:
    """A price on every copy that makes the bound small: the bound, prices, table without them."""
    free = tables.fill(job, axes, parts, values)
    best, best_price = free.best, np.zeros(len(parts))
    price = np.zeros(len(parts))
    step = 1.0
    table = free
    stale = 0
    position = {part: row for row, part in enumerate(parts)}
    for _ in range(_PRICE_ROUNDS):
        count = np.zeros(len(parts))
        for place in tables.read(job, table, parts):
            count[position[place.part]] += 1
        slope = copies - count
        if not slope.any() or best <= known * (1 + 1e-12):
            break
        length = step * max(table.best + float(price @ copies) - known, 1e-9)
        price = np.maximum(0.0, price - length * slope / float(slope @ slope))
        table = tables.fill(job, axes, parts, values - price)
        bound = table.best + float(price @ copies)
        if bound < best - 1e-9 * abs(best):
            best, best_price, stale = bound, price.copy(), 0
        else:
            stale += 1
            if stale >= 6:
                step, stale = step / 2, 0
                price = best_price.copy()
                table = tables.fill(job, axes, parts, values - price)
    return best, best_price, free


def solve(
    job: Job, sheet: int, wanted: np.ndarray, *, known: float, table_work: float, work: float
) -> Answer | None:
    """The best layout of one sheet, if it is worth more than the known value.

    wanted: copies of each part of the job. Returns None if the sheet has too many sizes for the
    work allowed. table_work: cuts looked at in all tables together; work: rectangles joined.
    """
    parts = [
        index for index in range(len(job.parts)) if wanted[index] > 0 and job.fits(index, sheet)
    ]
    # A part that fits only by skimming the edge is no matter for building up.
    strict = [index for index in parts if job.kerf == 0 or job.sizes[index, 3] > SAME]
    if not parts or len(strict) < len(parts):
        return None
    plain = replace(job, kerf=0)  # any rest may be left: a bound for the true job
    axes = tables.make_axes(plain, sheet, parts, table_work / (2 * _PRICE_ROUNDS))
    if axes is None:
        return None
    copies = wanted[parts].astype(np.int64)
    worth = np.array([job.values[index] for index in parts])
    whole = bool(np.all(worth == np.floor(worth)))
    gain = 1.0 if whole and worth.max() < 2**50 else max(1e-9, 1e-9 * float(worth.sum()))
    bound, price, free = prices(plain, axes, parts, copies, worth, known)
    if whole:
        bound = float(np.floor(bound + 1e-6))
    if bound < known + gain * 0.999:
        return Answer((), known, bound, True)
    priced_table = tables.fill(plain, axes, parts, worth - price)
    x, y = axes
    out = _outside(x.sizes, y.sizes, free.value)
    out_priced = _outside(x.sizes, y.sizes, priced_table.value)
    seeds = [(row, turn) for row, p in enumerate(parts) for turn in range(1 + int(job.sizes[p, 2]))]
    capacity = int(min(_MOST_BUILT, max(2000, work / 3000))) + len(seeds)
    size = np.zeros((capacity, 2), dtype=np.int64)
    used = np.zeros((capacity, len(parts)), dtype=np.int16)
    value = np.zeros(capacity)
    priced = np.zeros(capacity)
    made = np.zeros((capacity, 3), dtype=np.int64)
    for number, (row, turn) in enumerate(seeds):
        size[number] = (job.sizes[parts[row], turn], job.sizes[parts[row], 1 - turn])
        used[number, row] = 1
        value[number] = worth[row]
        priced[number] = worth[row] - price[row]
    best, complete, refused = _build(
        size,
        used,
        value,
        priced,
        np.zeros(capacity),
        made,
        len(seeds),
        int(job.rooms[sheet, 0]),
        int(job.rooms[sheet, 1]),
        SAME if job.kerf == 0 else max(SAME, job.kerf // 2),
        copies,
        x.sizes,
        y.sizes,
        out,
        out_priced,
        float(price @ copies),
        known,
        gain * 0.999,
        int(work),
    )
    places: list[Place] = []
    if best >= 0:
        waiting = [(int(best), 0, 0)]
        while waiting:
            number, left, bottom = waiting.pop()
            if number < len(seeds):
                row, turn = seeds[number]
                places.append(
                    Place(
                        parts[row],
                        job.trim_mm + left / SAW_UNITS_PER_MM,
                        job.trim_mm + bottom / SAW_UNITS_PER_MM,
                        bool(turn),
                    )
                )
                continue
            first, second, way = (int(v) for v in made[number])
            waiting.append((first, left, bottom))
            if way == 0:
                waiting.append((second, left + int(size[first, 0]), bottom))
            else:
                waiting.append((second, left, bottom + int(size[first, 1])))
    reached_value = float(value[best]) if best >= 0 else known
    if complete and not refused:
        bound = min(bound, reached_value)
    proven = bound <= reached_value * (1 + 1e-12) + 1e-9
    return Answer(tuple(places), reached_value, bound, proven)


def warm_up() -> None:
    """Compile the kernels before time counts."""
    parts = [SawPart("a", 2, 1, 2), SawPart("b", 1, 1, 1)]
    job = make_job(parts, [SawSheet("s", 3, 1, 1)], kerf_mm=0, edge_trim_mm=0)
    solve(job, 0, np.array([2, 1]), known=0.0, table_work=1e7, work=1e4)
