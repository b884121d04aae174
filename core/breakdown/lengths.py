"""Cutting lengths from bars: the case where all parts are equally wide (numba for the knapsack).

Drawer sides of one height, lippings, rolls: what is left to decide is how lengths share a bar.
Patterns are made as they are needed by pricing (P. C. Gilmore and R. E. Gomory, Operations
Research 9 (1961) and 11 (1963)), the fractions are rounded up one by one, the rest solved again.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numba import njit

from core.breakdown.job import SAME

_ROUNDS = 2000  # simplex steps of one solution
_KNAPSACK_NODES = 200_000
_TINY = 1e-9


@dataclass(frozen=True, slots=True)
class Bars:
    """patterns: for every bar the count of each length. bound: no fewer bars will do."""

    patterns: tuple[tuple[int, ...], ...]
    bound: int


@njit(cache=True, nogil=True)
def _best_pattern(
    lengths: np.ndarray,
    worth: np.ndarray,
    most: np.ndarray,
    room: int,
    sliver: int,
    nodes: int,
    floor: float,
) -> tuple[float, np.ndarray, bool]:
    """The pattern of one bar worth most, by depth-first search with a bound.

    lengths in the order of falling worth per length. A rest is nothing or more than sliver.
    Only a pattern worth more than floor is returned. Returns worth, counts, and whether the
    search was complete.
    """
    kinds = len(lengths)
    count = np.zeros(kinds, dtype=np.int64)
    best_count = np.zeros(kinds, dtype=np.int64)
    best = floor
    left = room
    value = 0.0
    kind = 0
    visited = 0
    # Down: as many as possible of each kind; up: one fewer of the last kind that has some.
    while True:
        while kind < kinds:
            if worth[kind] <= 0.0 or value + worth[kind] / lengths[kind] * left <= best + 1e-12:
                break
            take = min(most[kind], (left + SAME) // lengths[kind])
            count[kind] = take
            left -= take * lengths[kind]
            value += take * worth[kind]
            kind += 1
            visited += 1
            if (abs(left) <= SAME or left > sliver) and value > best + 1e-12:
                best = value
                for other in range(kinds):
                    best_count[other] = count[other] if other < kind else 0
        if visited > nodes:
            return best, best_count, False
        kind -= 1
        while kind >= 0 and count[kind] == 0:
            kind -= 1
        if kind < 0:
            return best, best_count, True
        count[kind] -= 1
        left += lengths[kind]
        value -= worth[kind]
        kind += 1
        visited += 1
        if (abs(left) <= SAME or left > sliver) and value > best + 1e-12:
            best = value
            for other in range(kinds):
                best_count[other] = count[other] if other < kind else 0


def warm_up() -> None:
    """Compile the kernel before time counts."""
    one = np.ones(1, dtype=np.int64)
    _price(one * 10 * SAME, np.ones(1), one, 20 * SAME, SAME, 0.0)


def _price(
    lengths: np.ndarray, worth: np.ndarray, most: np.ndarray, room: int, sliver: int, floor: float
) -> tuple[float, np.ndarray, bool]:
    """_best_pattern for lengths in any order: worth, counts, complete."""
    order = np.lexsort((lengths, -worth / lengths))
    value, counts, complete = _best_pattern(
        lengths[order], worth[order], most[order], room, sliver, _KNAPSACK_NODES, floor
    )
    pattern = np.zeros(len(lengths), dtype=np.int64)
    pattern[order] = counts
    return value, pattern, complete


def relax(
    demand: np.ndarray,
    start: np.ndarray,
    price: Callable[[np.ndarray], tuple[float, np.ndarray, bool]],
    rounds: int = _ROUNDS,
) -> tuple[float, np.ndarray, np.ndarray]:
    """Fewest bars (or sheets) if fractions of a pattern could be cut: revised simplex method.

    demand: wanted copies. start: for each kind how often it alone goes on a bar. price: given the
    worth of one copy of each kind, the worth of the best pattern (if above 1), its counts, and
    whether nothing better exists. Returns bars, patterns (columns) and their amounts; 0 bars (no
    bound) if the last pricing was cut short or rounds ran out.
    """
    kinds = len(demand)
    basis = np.diag(start.astype(float))
    cost = np.ones(kinds)
    optimal = False
    for _ in range(rounds):
        inverse = np.linalg.inv(basis)
        amount = np.maximum(inverse @ demand, 0.0)
        dual = cost @ inverse
        worst = int(np.argmin(dual))
        if dual[worst] < -_TINY:
            column = np.zeros(kinds)
            column[worst] = -1.0
            entry_cost = 0.0
        else:
            value, pattern, complete = price(np.maximum(dual, 0.0))
            if value <= 1 + 1e-7:
                optimal = complete
                break
            column = pattern.astype(float)
            entry_cost = 1.0
        direction = inverse @ column
        ratios = np.full(kinds, np.inf)
        up = direction > 1e-9
        ratios[up] = amount[up] / direction[up]
        leaving = int(np.argmin(ratios))
        if not np.isfinite(ratios[leaving]):
            break
        basis[:, leaving] = column
        cost[leaving] = entry_cost
    inverse = np.linalg.inv(basis)
    amount = np.maximum(inverse @ demand, 0.0)
    real = cost > 0.5
    total = float(amount[real].sum()) if optimal else 0.0
    return total, basis[:, real].astype(np.int64), amount[real]


def _relax(
    lengths: np.ndarray, demand: np.ndarray, room: int, sliver: int
) -> tuple[float, np.ndarray, np.ndarray]:
    """relax() for lengths on bars."""
    start = np.ones(len(lengths), dtype=np.int64)
    for kind, length in enumerate(lengths):
        count = max(1, min(int((room + SAME) // length), int(demand[kind])))
        if count > 1 and SAME < room - count * length <= sliver:
            count -= 1
        start[kind] = count
    most = demand.copy()
    return relax(demand, start, lambda worth: _price(lengths, worth, most, room, sliver, 1 + _TINY))


def bars(
    lengths: np.ndarray,
    demand: np.ndarray,
    room: int,
    *,
    sliver: int,
    tries: int,
    rng: np.random.Generator,
    over: Callable[[], bool],
) -> Bars:
    """Fewest bars of one length for lengths (with kerf) of which so many are wanted.

    lengths: units, each fits the room (units, kerf included). tries: how often the fractions are
    rounded in a new order if the bound is not reached.
    """
    relaxed, columns, amounts = _relax(lengths, demand, room, sliver)
    area = math.ceil(float(lengths.astype(float) @ demand) / room - 1e-9)
    bound = max(area, math.ceil(relaxed - 1e-6))
    best: list[np.ndarray] | None = None
    for attempt in range(max(1, tries)):
        found = _dive(lengths, demand, room, sliver, columns, amounts, rng, attempt)
        if best is None or len(found) < len(best):
            best = found
        if len(best) <= bound or over():
            break
    assert best is not None
    ordered = sorted((tuple(int(v) for v in pattern) for pattern in best), reverse=True)
    return Bars(tuple(ordered), bound)


def _dive(
    lengths: np.ndarray,
    demand: np.ndarray,
    room: int,
    sliver: int,
    columns: np.ndarray,
    amounts: np.ndarray,
    rng: np.random.Generator,
    attempt: int,
) -> list[np.ndarray]:
    """Whole patterns from fractions: whole parts first, then one rounded up, then solve again."""
    left = demand.copy()
    done: list[np.ndarray] = []
    while left.any():
        whole = np.floor(amounts + 1e-6).astype(int)
        took = False
        for column, times in zip(columns.T, whole, strict=True):
            for _ in range(times):
                took |= _take(column, left, done)
        if not took:
            part = amounts - np.floor(amounts)
            if attempt:
                part = part + rng.random(len(part)) * (0.5 if attempt < 10 else 1.0)
            # Of the fractions rounded up, the one that wastes least once the demand is met.
            pick = int(np.argmax(part)) if len(part) else -1
            if pick < 0 or not _take(columns[:, pick], left, done):
                _take(_fullest(lengths, left, room, sliver), left, done)
        if left.any():
            kinds = np.flatnonzero(left)
            _, small, amounts = _relax(lengths[kinds], left[kinds], room, sliver)
            columns = np.zeros((len(lengths), small.shape[1]), dtype=np.int64)
            columns[kinds] = small
    return done


def _take(pattern: np.ndarray, left: np.ndarray, done: list[np.ndarray]) -> bool:
    """Cut a pattern less what is no longer wanted; False if nothing remains of it."""
    used = np.minimum(pattern, left)
    if not used.any():
        return False
    left -= used
    done.append(used)
    return True


def _fullest(lengths: np.ndarray, left: np.ndarray, room: int, sliver: int) -> np.ndarray:
    return _price(lengths, lengths.astype(float), left, room, sliver, 0.0)[1]
