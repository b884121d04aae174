"""Greatest value of one sheet when every part may be cut as often as it fits (numba).

A table of the best value of every size that can come up, smallest first: each size is a part, or
is cut once upright or level into two smaller ones. Only sizes that are sums of part sizes matter
(P. C. Gilmore and R. E. Gomory, Operations Research 14 (1966); J. E. Beasley, Journal of the
Operational Research Society 36 (1985)). With a kerf, what is left beside a cut must be nothing or
more than half a kerf, so there the true sizes are kept; without one, sizes round down to sums.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit

from core.breakdown.job import SAME, Job, Place
from core.tolerances import SAW_UNITS_PER_MM

_MOST_SIZES = 6000  # per axis; more would not fit the time anyway
_MOST_RESTS = 4_000_000  # looked at while the true sizes are gathered
_MOST_CELLS = 1.2e7  # of a table, for the sake of memory


@dataclass(frozen=True, slots=True)
class Axis:
    """The sizes along one axis.

    sizes: ascending; the last is the sheet's. cuts: index of each size that may be cut off.
    rests: for a size and a cut, the index of what is left; len(sizes) is waste, −1 not allowed.
    """

    sizes: np.ndarray
    cuts: np.ndarray
    rests: np.ndarray


@dataclass(frozen=True, slots=True)
class Table:
    """Best value and how to get it (see _fill) for every pair of sizes."""

    x: Axis
    y: Axis
    value: np.ndarray
    choice: np.ndarray

    @property
    def best(self) -> float:
        """Greatest value of the whole sheet."""
        return float(self.value[len(self.x.sizes) - 1, len(self.y.sizes) - 1])


def sums(lengths: list[int], room: int, most: int = _MOST_SIZES) -> list[int] | None:
    """All sums of lengths (each any number of times) up to room, ascending; None if too many."""
    found = {0}
    fresh = {0}
    while fresh:
        fresh = {a + b for a in fresh for b in lengths if a + b <= room + SAME} - found
        found |= fresh
        if len(found) > most:
            return None
    found.discard(0)
    return [int(size) for size in _apart(sorted(found))]


def axis(job: Job, room: int, lengths: list[int], sliver: int, most: int) -> Axis | None:
    """Sizes that can come up along an axis; None if there are more than `most`."""
    cut_sizes = sums(sorted(set(lengths)), room, most)
    if cut_sizes is None:
        return None
    strict = sliver > SAME
    sizes = _close(room, cut_sizes, job.kerf, sliver, most) if strict else [*cut_sizes]
    if sizes is None:
        return None
    if not sizes or room - sizes[-1] > SAME:
        sizes.append(room)
    table = np.array(sizes, dtype=np.int64)
    cuts = np.searchsorted(table, np.array(cut_sizes, dtype=np.int64) - SAME)
    rests = np.full((len(table), len(cuts)), -1, dtype=np.int32)
    least = min(lengths, default=room)
    for row, size in enumerate(table):
        left = size - table[cuts]
        allowed = left > sliver
        if strict:
            waste = allowed & (left < least - SAME)
            index = np.searchsorted(table, left - SAME)
        else:
            index = np.searchsorted(table, left + SAME, side="right") - 1
            waste = allowed & (index < 0)
        rests[row, allowed] = index[allowed]
        rests[row, waste] = len(table)
    return Axis(table, cuts.astype(np.int64), rests)


def _close(room: int, cut_sizes: list[int], kerf: int, sliver: int, most: int) -> list[int] | None:
    """The sheet's size, the cut sizes and all true rests of them."""
    least = min(cut_sizes, default=room)
    known = np.unique(np.array([*cut_sizes, room], dtype=np.int64))
    fresh = known
    cut_table = np.array(cut_sizes, dtype=np.int64)
    made = 0
    while len(fresh):
        made += len(fresh) * len(cut_table)
        if made > _MOST_RESTS:
            return None
        left = np.unique((fresh[:, None] - cut_table[None, :]).ravel())
        left = left[(left > sliver) & (left >= least - SAME)]
        near = np.searchsorted(known, left - SAME)
        old = (near < len(known)) & (known[np.minimum(near, len(known) - 1)] <= left + SAME)
        fresh = left[~old]
        if len(fresh):
            fresh = fresh[np.concatenate(([True], np.diff(fresh) > SAME))]
        known = np.union1d(known, fresh)
        if len(known) > most:
            return None
    return [int(size) for size in known]


def make_axes(job: Job, sheet: int, parts: list[int], work: float) -> tuple[Axis, Axis] | None:
    """Both axes of a sheet for the parts given; None if filling a table would be too much work.

    work: how many cuts of how many sizes may be looked at.
    """
    lengths, sliver = _lengths(job, parts)
    most = min(_MOST_SIZES, int(work ** (1 / 3) * 4) + 8)
    axes = []
    for way in (0, 1):
        made = axis(job, int(job.rooms[sheet, way]), lengths[way], sliver, most)
        if made is None:
            return None
        axes.append(made)
    x, y = axes
    work_here = _work(len(x.sizes), len(y.sizes), len(x.cuts) + len(y.cuts))
    return (x, y) if work_here <= work else None


def thin_axes(job: Job, sheet: int, parts: list[int], work: float) -> tuple[Axis, Axis]:
    """Axes with a choice of the sizes only, sums of few parts first, within the work allowed.

    Layouts from such a table can be sawn and are good, but not proven to be the best.
    """
    lengths, sliver = _lengths(job, parts)
    rooms = [int(room) for room in job.rooms[sheet]]
    most = min(_MOST_SIZES, int(work ** (1 / 3)) + 8)
    while True:
        x, y = (_thin_sizes(room, way, most) for room, way in zip(rooms, lengths, strict=True))
        if _work(len(x[0]), len(y[0]), len(x[1]) + len(y[1])) <= work or most < 20:
            return _thin_axis(*x, sliver), _thin_axis(*y, sliver)
        most = most * 4 // 5


def _work(columns: int, rows: int, cuts: int) -> float:
    """Cuts of sizes to be looked at; a table that is too large for memory counts as endless."""
    cells = float(columns) * rows
    return cells * cuts if cells <= _MOST_CELLS else math.inf


def _lengths(job: Job, parts: list[int]) -> tuple[tuple[list[int], list[int]], int]:
    """Sizes of the parts along x and along y in all their turns, and the least rest."""
    lengths: tuple[list[int], list[int]] = ([], [])
    for part in parts:
        for turn in range(1 + int(job.sizes[part, 2])):
            lengths[0].append(int(job.sizes[part, turn]))
            lengths[1].append(int(job.sizes[part, 1 - turn]))
    return lengths, SAME if job.kerf == 0 else max(SAME, job.kerf // 2)


def _thin_sizes(room: int, lengths: list[int], most: int) -> tuple[np.ndarray, np.ndarray]:
    """Sums of few lengths, and what is left of the sheet beside sums of fewer still; the cuts."""
    cut_sizes = sums_of_few(sorted(set(lengths)), room, most)
    beside = {room - size for size in sums_of_few(sorted(set(lengths)), room, most // 4)}
    least = min(lengths, default=room)
    table = _apart(sorted({*cut_sizes, *(s for s in beside if s >= least), room}))
    cuts = np.unique(np.searchsorted(table, np.array(cut_sizes, dtype=np.int64) - SAME))
    return table, cuts


def _thin_axis(table: np.ndarray, cuts: np.ndarray, sliver: int) -> Axis:
    """The axis of chosen sizes: what is left beside a cut is rounded down to one of them."""
    rests = np.full((len(table), len(cuts)), -1, dtype=np.int32)
    for row, size in enumerate(table):
        left = size - table[cuts]
        allowed = left > sliver
        index = np.searchsorted(table, left + SAME, side="right") - 1
        # Rounded down, the rest beside the smaller size must be nothing or more than the sliver.
        while True:
            over = left - table[np.maximum(index, 0)]
            bad = (index >= 0) & (over > SAME) & (over <= sliver)
            if not bad.any():
                break
            index[bad] -= 1
        rests[row, allowed] = np.where(index < 0, len(table), index)[allowed]
    return Axis(table, cuts.astype(np.int64), rests)


def sums_of_few(lengths: list[int], room: int, most: int) -> list[int]:
    """About `most` sums of lengths up to room, those of the fewest lengths first, ascending."""
    found: set[int] = set()
    fresh = {0}
    while fresh and len(found) < most:
        fresh = {a + b for a in fresh for b in lengths if a + b <= room + SAME} - found
        found |= set(sorted(fresh)[: max(0, most - len(found))]) if found else fresh
    return sorted(found)


def _apart(sizes: list[int]) -> np.ndarray:
    """Ascending sizes without those that differ from the one before by rounding only."""
    kept: list[int] = []
    for size in sizes:
        if not kept or size - kept[-1] > SAME:
            kept.append(size)
    return np.array(kept, dtype=np.int64)


@njit(cache=True, nogil=True)
def _fill(
    x_sizes: np.ndarray,
    y_sizes: np.ndarray,
    x_cuts: np.ndarray,
    y_cuts: np.ndarray,
    x_rests: np.ndarray,
    y_rests: np.ndarray,
    parts: np.ndarray,
    values: np.ndarray,
    half: bool,
    value: np.ndarray,
    choice: np.ndarray,
) -> None:
    """Fill the table. choice: 0 waste; 2·part + turn + 1 a part; −1 − 2·cut (−2 − 2·cut) a cut
    upright (level). parts: rows width, height, may turn, least rest, number. half: cutting off
    up to half is enough (sizes round down, so sides can be swapped)."""
    columns, rows = len(x_sizes), len(y_sizes)
    for i in range(columns):
        for j in range(rows):
            best, how = 0.0, 0
            for p in range(len(parts)):
                if values[p] <= best:
                    continue
                for turn in range(1 + parts[p, 2]):
                    gap_w = x_sizes[i] - parts[p, turn]
                    gap_h = y_sizes[j] - parts[p, 1 - turn]
                    if (abs(gap_w) <= SAME or gap_w > parts[p, 3]) and (
                        abs(gap_h) <= SAME or gap_h > parts[p, 3]
                    ):
                        best, how = values[p], 2 * p + turn + 1
                        break
            for a in range(len(x_cuts)):
                if x_sizes[x_cuts[a]] >= x_sizes[i] or (
                    half and 2 * x_sizes[x_cuts[a]] > x_sizes[i] + SAME
                ):
                    break
                rest = x_rests[i, a]
                if rest < 0:
                    continue
                total = value[x_cuts[a], j]
                if rest < columns:
                    total += value[rest, j]
                if total > best:
                    best, how = total, -1 - 2 * a
            for a in range(len(y_cuts)):
                if y_sizes[y_cuts[a]] >= y_sizes[j] or (
                    half and 2 * y_sizes[y_cuts[a]] > y_sizes[j] + SAME
                ):
                    break
                rest = y_rests[j, a]
                if rest < 0:
                    continue
                total = value[i, y_cuts[a]]
                if rest < rows:
                    total += value[i, rest]
                if total > best:
                    best, how = total, -2 - 2 * a
            value[i, j] = best
            choice[i, j] = how


def fill(job: Job, axes: tuple[Axis, Axis], parts: list[int], values: np.ndarray) -> Table:
    """Best values of all sizes. values: of one copy of each of the parts, may be negative."""
    x, y = axes
    value = np.zeros((len(x.sizes), len(y.sizes)))
    choice = np.zeros(value.shape, dtype=np.int32)
    _fill(
        x.sizes,
        y.sizes,
        x.cuts,
        y.cuts,
        x.rests,
        y.rests,
        job.sizes[parts],
        np.asarray(values, dtype=np.float64),
        job.kerf == 0,
        value,
        choice,
    )
    return Table(x, y, value, choice)


def read(job: Job, table: Table, parts: list[int]) -> list[Place]:
    """The parts of the best layout of a filled table, with their places on the sheet."""
    places: list[Place] = []
    waiting = [(len(table.x.sizes) - 1, len(table.y.sizes) - 1, 0, 0)]
    while waiting:
        i, j, x, y = waiting.pop()
        how = int(table.choice[i, j])
        if how > 0:
            part, turn = divmod(how - 1, 2)
            places.append(
                Place(
                    parts[part],
                    job.trim_mm + x / SAW_UNITS_PER_MM,
                    job.trim_mm + y / SAW_UNITS_PER_MM,
                    bool(turn),
                )
            )
        elif how < 0:
            cut, level = divmod(-how - 1, 2)
            if level:
                first, rest = int(table.y.cuts[cut]), int(table.y.rests[j, cut])
                waiting.append((i, first, x, y))
                if rest < len(table.y.sizes):
                    waiting.append((i, rest, x, y + int(table.y.sizes[first])))
            else:
                first, rest = int(table.x.cuts[cut]), int(table.x.rests[i, cut])
                waiting.append((first, j, x, y))
                if rest < len(table.x.sizes):
                    waiting.append((rest, j, x + int(table.x.sizes[first]), y))
    return places
