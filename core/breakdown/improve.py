"""Ruin and recreate on cut trees: the search for long part lists (numba).

A step takes some parts out of a few sheets, puts parts back by best fit, and keeps the result if
it is not much worse than before. Idea of improving guillotine layouts this way, with a falling
limit on the cost of the sheets that may be open: L. Gardeyn and T. Wauters, European Journal of
Operational Research 301 (2022). The trees are in :mod:`core.breakdown.tree`.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from core.breakdown.job import SAME
from core.breakdown.tree import (
    FIRST,
    HEIGHT,
    KIND,
    LEAF,
    NEXT,
    PARENT,
    REST,
    ROW,
    UNUSED,
    WIDTH,
    empty_sheet,
    fits,
    insert,
    random,
    take_out,
)

CUT_PRICE = 1e-3  # of a sheet's area, squared: what a cut saved is worth in offcut


@njit(cache=True, nogil=True)
def _tidiness(
    nodes: np.ndarray, top: int, sheets: int, is_open: np.ndarray, kerf: int, unit_area: float
) -> float:
    """Sum over the rests of (area / unit area)², less a little for every cut."""
    total = 0.0
    for number in range(top):
        kind = nodes[number, KIND]
        if kind == UNUSED or (number < sheets and not is_open[number]):
            continue
        # A node has a cut after each strip, save the last if nothing is left.
        if number >= sheets:
            total -= CUT_PRICE
        if kind == LEAF:
            continue
        if nodes[number, REST] <= SAME and nodes[number, FIRST] >= 0:
            total += CUT_PRICE
        width, height = nodes[number, WIDTH] - kerf, nodes[number, HEIGHT] - kerf
        if kind == ROW:
            width = nodes[number, REST] - kerf
        else:
            height = nodes[number, REST] - kerf
        if width > 0 and height > 0:
            share = float(width) * height / unit_area
            total += share * share
    return total


@njit(cache=True, nogil=True)
def _open_one(
    nodes: np.ndarray,
    is_open: np.ndarray,
    sheets: int,
    costs: np.ndarray,
    budget: float,
    sizes: np.ndarray,
    part: int,
    rng: np.ndarray,
    greedy: bool,
) -> bool:
    """Open a closed sheet that the part fits and the budget allows."""
    sliver = sizes[part, 3]
    spent = 0.0
    for root in range(sheets):
        if is_open[root]:
            spent += costs[root]
    best, chosen = 1e300, -1
    for root in range(sheets):
        if is_open[root] or spent + costs[root] > budget:
            continue
        for turn in range(1 + sizes[part, 2]):
            if fits(nodes[root, WIDTH], sizes[part, turn], sliver) and fits(
                nodes[root, HEIGHT], sizes[part, 1 - turn], sliver
            ):
                area = float(nodes[root, WIDTH]) * nodes[root, HEIGHT]
                score = costs[root] / area if greedy else random(rng)
                if score < best:
                    best, chosen = score, root
                break
    if chosen < 0:
        return False
    is_open[chosen] = True
    return True


@njit(cache=True, nogil=True)
def _recreate(
    nodes: np.ndarray,
    pool: np.ndarray,
    top: int,
    sheets: int,
    is_open: np.ndarray,
    costs: np.ndarray,
    budget: float,
    sizes: np.ndarray,
    weights: np.ndarray,
    left: np.ndarray,
    blink: float,
    rng: np.ndarray,
    greedy: bool,
    keys: np.ndarray,
    order: np.ndarray,
) -> None:
    """Put back what is left, largest first by one of several measures, slightly shuffled."""
    parts = len(left)
    measure = 0 if greedy else int(random(rng) * 6)
    rule = 0 if greedy else int(random(rng) * 3)
    noise = 0.0 if greedy else 0.4 * random(rng)
    count = 0
    for part in range(parts):
        if left[part] <= 0:
            continue
        width, height = float(sizes[part, 0]), float(sizes[part, 1])
        if measure <= 1:
            key = width * height
        elif measure == 2:
            key = max(width, height)
        elif measure == 3:
            key = min(width, height)
        elif measure == 4:
            key = weights[part] / (width * height)
        else:
            key = 1.0 if random(rng) < 0.5 else random(rng)
        key *= 1.0 - noise * random(rng)
        place = count
        while place > 0 and keys[place - 1] < key:
            keys[place] = keys[place - 1]
            order[place] = order[place - 1]
            place -= 1
        keys[place] = key
        order[place] = part
        count += 1
    for index in range(count):
        part = order[index]
        while left[part] > 0:
            if insert(nodes, pool, top, sheets, is_open, sizes, part, rule, blink, rng):
                left[part] -= 1
                continue
            if not _open_one(nodes, is_open, sheets, costs, budget, sizes, part, rng, greedy):
                break


@njit(cache=True, nogil=True)
def _ruin(
    nodes: np.ndarray,
    pool: np.ndarray,
    top: int,
    sheets: int,
    is_open: np.ndarray,
    left: np.ndarray,
    stack: np.ndarray,
    rng: np.ndarray,
    may_close: bool,
) -> None:
    """Take parts out of one to three open sheets, now and then a whole sheet."""
    opened = 0
    for root in range(sheets):
        if is_open[root]:
            opened += 1
    if opened == 0:
        return
    rounds = 1 + int(random(rng) * min(3, opened))
    for _ in range(rounds):
        pick = int(random(rng) * opened)
        root = -1
        for candidate in range(sheets):
            if is_open[candidate]:
                if pick == 0:
                    root = candidate
                    break
                pick -= 1
        if root < 0 or nodes[root, FIRST] < 0:
            if root >= 0 and may_close:
                is_open[root] = False
                opened -= 1
                if opened == 0:
                    return
            continue
        chance = random(rng)
        if chance < 0.12:
            empty_sheet(nodes, pool, sheets, root, left, stack)
            if may_close:
                is_open[root] = False
                opened -= 1
                if opened == 0:
                    return
            continue
        strikes = 1 + int(random(rng) * 4)
        for _ in range(strikes):
            number = root
            # Walk down at random; stop early to take a whole strip.
            while True:
                children = 0
                child = nodes[number, FIRST]
                while child >= 0:
                    children += 1
                    child = nodes[child, NEXT]
                if children == 0:
                    break
                pick = int(random(rng) * children)
                child = nodes[number, FIRST]
                while pick > 0:
                    child = nodes[child, NEXT]
                    pick -= 1
                number = child
                if nodes[number, KIND] == LEAF or random(rng) < 0.35:
                    break
            if number == root:
                break
            take_out(nodes, pool, sheets, number, left, stack)


@njit(cache=True, nogil=True)
def _missing(left: np.ndarray, weights: np.ndarray) -> float:
    total = 0.0
    for part in range(len(left)):
        total += left[part] * weights[part]
    return total


@njit(cache=True, nogil=True)
def _spent(is_open: np.ndarray, costs: np.ndarray, nodes: np.ndarray) -> float:
    total = 0.0
    for root in range(len(costs)):
        if is_open[root] and nodes[root, FIRST] >= 0:
            total += costs[root]
    return total


@njit(cache=True, nogil=True)
def start(
    nodes: np.ndarray,
    pool: np.ndarray,
    is_open: np.ndarray,
    costs: np.ndarray,
    sizes: np.ndarray,
    weights: np.ndarray,
    left: np.ndarray,
    rng: np.ndarray,
) -> None:
    """First layout: largest parts first, cheapest sheets per area first."""
    parts = len(left)
    keys = np.zeros(parts + 1)
    order = np.zeros(parts + 1, dtype=np.int64)
    _recreate(
        nodes,
        pool,
        len(nodes),
        len(costs),
        is_open,
        costs,
        1e300,
        sizes,
        weights,
        left,
        0.0,
        rng,
        True,
        keys,
        order,
    )


@njit(cache=True, nogil=True)
def close_down(
    nodes: np.ndarray,
    pool: np.ndarray,
    is_open: np.ndarray,
    costs: np.ndarray,
    left: np.ndarray,
    budget: float,
) -> None:
    """Empty and close the sheets that carry least for their cost until the budget is met."""
    sheets = len(costs)
    stack = np.zeros(len(nodes) + 1, dtype=np.int64)
    carried = np.zeros(sheets)
    for number in range(len(nodes)):
        if nodes[number, KIND] == LEAF:
            root = nodes[number, PARENT]
            while root >= sheets:
                root = nodes[root, PARENT]
            carried[root] += float(nodes[number, WIDTH]) * nodes[number, HEIGHT]
    while True:
        spent = 0.0
        worst, least = -1, 1e300
        for root in range(sheets):
            if is_open[root]:
                spent += costs[root]
                share = carried[root] / (costs[root] + 1e-9)
                if share < least:
                    worst, least = root, share
        if spent <= budget or worst < 0:
            return
        empty_sheet(nodes, pool, sheets, worst, left, stack)
        is_open[worst] = False


@njit(cache=True, nogil=True)
def run(
    nodes: np.ndarray,
    pool: np.ndarray,
    is_open: np.ndarray,
    left: np.ndarray,
    best_nodes: np.ndarray,
    best_open: np.ndarray,
    best_left: np.ndarray,
    costs: np.ndarray,
    sizes: np.ndarray,
    weights: np.ndarray,
    kerf: int,
    steps: int,
    first_heat: float,
    last_heat: float,
    budget: float,
    tidy: float,
    enough: float,
    unit_area: float,
    rng: np.ndarray,
    best: np.ndarray,
) -> int:
    """Ruin and recreate for a number of steps; returns the steps taken.

    budget: cost that open sheets may reach. tidy: weight of large rests against missing parts.
    enough: stop when all are placed at this cost or less. best: [missing weight, cost, goal] of
    the best layout so far, changed together with best_nodes, best_open and best_left.
    Once all parts are placed, the run ends (the caller lowers the budget and goes on).
    """
    sheets = len(costs)
    top = len(nodes)
    stack = np.zeros(top + 1, dtype=np.int64)
    parts = len(left)
    keys = np.zeros(parts + 1)
    order = np.zeros(parts + 1, dtype=np.int64)
    old_nodes = nodes.copy()
    old_pool = pool.copy()
    old_open = is_open.copy()
    old_left = left.copy()
    missing = _missing(left, weights)
    goal = missing - tidy * _tidiness(nodes, top, sheets, is_open, kerf, unit_area)
    closing = budget < 1e299
    for step in range(steps):
        _ruin(nodes, pool, top, sheets, is_open, left, stack, rng, closing)
        blink = 0.02 if random(rng) < 0.7 else 0.15
        _recreate(
            nodes,
            pool,
            top,
            sheets,
            is_open,
            costs,
            budget,
            sizes,
            weights,
            left,
            blink,
            rng,
            False,
            keys,
            order,
        )
        new_missing = _missing(left, weights)
        new_goal = new_missing - tidy * _tidiness(nodes, top, sheets, is_open, kerf, unit_area)
        heat = first_heat * (last_heat / first_heat) ** (step / steps)
        if new_goal <= goal - heat * np.log(random(rng) + 1e-18):
            goal = new_goal
            old_nodes[:] = nodes
            old_pool[:] = pool
            old_open[:] = is_open
            old_left[:] = left
            spent = _spent(is_open, costs, nodes)
            better = new_missing < best[0] - 1e-12
            if not better and new_missing < best[0] + 1e-12:
                better = spent < best[1] * (1 - 1e-12) or (
                    spent <= best[1] * (1 + 1e-12) and new_goal < best[2] - 1e-12
                )
            if better:
                best[0], best[1], best[2] = new_missing, spent, new_goal
                best_nodes[:] = nodes
                best_open[:] = is_open
                best_left[:] = left
                if new_missing <= 1e-12 and spent <= enough:
                    return step + 1
        else:
            nodes[:] = old_nodes
            pool[:] = old_pool
            is_open[:] = old_open
            left[:] = old_left
    return steps
