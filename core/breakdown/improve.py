"""Ruin and recreate on cut trees: the search for long part lists (numba).

A sheet is a tree. A node lies in a rectangle and holds strips side by side along x (kind ROW) or
one above the other (kind COLUMN) and, after them, a rest; a strip is a part or again a node.
Every such tree is sawn by through cuts, so nothing that comes out of here ever needs checking
for that. A step takes some parts out of a few sheets (their room joins the rests), puts parts
back by best fit, and keeps the result if it is not much worse than before. Idea of improving
guillotine layouts this way, with a falling limit on the cost of the sheets that may be open:
L. Gardeyn and T. Wauters, European Journal of Operational Research 301 (2022).

Sizes are integers with the kerf added to every part and once to the sheet, which turns cutting
with a kerf into cutting without one. What is left beside a part must be nothing or more than
its least rest (sizes, column 3), half a kerf: the centre of every cut lies on the board.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from core.breakdown.job import SAME

# Columns of the node table.
KIND, PARENT, FIRST, NEXT, PREV, PART, TURNED, WIDTH, HEIGHT, REST = range(10)
COLUMNS = 10
UNUSED, ROW, COLUMN, LEAF = 0, 1, 2, 3


@njit(cache=True, nogil=True)
def _random(rng: np.ndarray) -> float:
    """xorshift64*: a number in [0, 1). rng: one uint64, changed."""
    x = rng[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    rng[0] = x
    return float((x * np.uint64(2685821657736338717)) >> np.uint64(11)) / 9007199254740992.0


@njit(cache=True, nogil=True)
def _new(nodes: np.ndarray, pool: np.ndarray) -> int:
    """Take an unused node. pool[0]: how many are unused, then their numbers."""
    number = pool[pool[0]]
    pool[0] -= 1
    return number


@njit(cache=True, nogil=True)
def _drop(nodes: np.ndarray, pool: np.ndarray, number: int) -> None:
    nodes[number, KIND] = UNUSED
    pool[0] += 1
    pool[pool[0]] = number


@njit(cache=True, nogil=True)
def _hang(nodes: np.ndarray, parent: int, child: int) -> None:
    """Add a strip to a node and take its extent from the rest."""
    head = nodes[parent, FIRST]
    nodes[child, PARENT] = parent
    nodes[child, NEXT] = head
    nodes[child, PREV] = -1
    if head >= 0:
        nodes[head, PREV] = child
    nodes[parent, FIRST] = child
    nodes[parent, REST] -= nodes[child, WIDTH if nodes[parent, KIND] == ROW else HEIGHT]


@njit(cache=True, nogil=True)
def _make(nodes: np.ndarray, pool: np.ndarray, kind: int, width: int, height: int) -> int:
    number = _new(nodes, pool)
    nodes[number, KIND] = kind
    nodes[number, FIRST] = -1
    nodes[number, PART] = -1
    nodes[number, TURNED] = 0
    nodes[number, WIDTH] = width
    nodes[number, HEIGHT] = height
    nodes[number, REST] = width if kind == ROW else height
    return number


@njit(cache=True, nogil=True)
def _take_out(
    nodes: np.ndarray,
    pool: np.ndarray,
    sheets: int,
    number: int,
    left: np.ndarray,
    stack: np.ndarray,
) -> int:
    """Remove a strip with all that is in it; returns how many parts came out."""
    out = 0
    parent = nodes[number, PARENT]
    before, after = nodes[number, PREV], nodes[number, NEXT]
    if before >= 0:
        nodes[before, NEXT] = after
    else:
        nodes[parent, FIRST] = after
    if after >= 0:
        nodes[after, PREV] = before
    nodes[parent, REST] += nodes[number, WIDTH if nodes[parent, KIND] == ROW else HEIGHT]
    stack[0] = number
    height = 1
    while height > 0:
        height -= 1
        top = stack[height]
        if nodes[top, KIND] == LEAF:
            left[nodes[top, PART]] += 1
            out += 1
        else:
            child = nodes[top, FIRST]
            while child >= 0:
                stack[height] = child
                height += 1
                child = nodes[child, NEXT]
        _drop(nodes, pool, top)
    # A node that has become empty is waste of its parent.
    if parent >= sheets and nodes[parent, FIRST] < 0:
        _take_out(nodes, pool, sheets, parent, left, stack)
    return out


@njit(cache=True, nogil=True)
def _fits(room: int, size: int, sliver: int) -> bool:
    return abs(room - size) <= SAME or room - size > sliver


@njit(cache=True, nogil=True)
def _insert(
    nodes: np.ndarray,
    pool: np.ndarray,
    top: int,
    sheets: int,
    is_open: np.ndarray,
    sizes: np.ndarray,
    part: int,
    rule: int,
    blink: float,
    rng: np.ndarray,
) -> bool:
    """Put one copy of a part where it fits best; False if it fits nowhere.

    rule 0: least area left in the room, 1: least short side left, 2: least long side left.
    """
    best = 1e300
    sliver = sizes[part, 3]
    best_node, best_turn, best_across = -1, 0, 0
    for number in range(top):
        kind = nodes[number, KIND]
        if kind != ROW and kind != COLUMN:
            continue
        if number < sheets and not is_open[number]:
            continue
        room_w, room_h = nodes[number, WIDTH], nodes[number, HEIGHT]
        if kind == ROW:
            room_w = nodes[number, REST]
        else:
            room_h = nodes[number, REST]
        if room_w <= 0 or room_h <= 0:
            continue
        for turn in range(1 + sizes[part, 2]):
            width, height = sizes[part, turn], sizes[part, 1 - turn]
            if not (_fits(room_w, width, sliver) and _fits(room_h, height, sliver)):
                continue
            if blink > 0.0 and _random(rng) < blink:
                continue
            gap_w, gap_h = float(room_w - width), float(room_h - height)
            if rule == 0:
                score = float(room_w) * room_h - float(width) * height
            elif rule == 1:
                score = min(gap_w, gap_h) * 1e4 + max(gap_w, gap_h) * 1e-3
            else:
                score = max(gap_w, gap_h) * 1e4 + min(gap_w, gap_h) * 1e-3
            if score < best:
                best = score
                best_node, best_turn = number, turn
                # Strips along the longer rest: keep the largest rectangle whole.
                upright_first = max(gap_w * room_h, float(width) * gap_h)
                level_first = max(gap_h * room_w, float(height) * gap_w)
                cut_upright = upright_first >= level_first
                if _random(rng) < 0.08:
                    cut_upright = not cut_upright
                best_across = 1 if cut_upright == (kind == COLUMN) else 0
    if best_node < 0:
        return False
    width, height = sizes[part, best_turn], sizes[part, 1 - best_turn]
    room_w, room_h = nodes[best_node, WIDTH], nodes[best_node, HEIGHT]
    if nodes[best_node, KIND] == ROW:
        room_w = nodes[best_node, REST]
    else:
        room_h = nodes[best_node, REST]
    if abs(room_w - width) <= SAME:
        width = room_w
    if abs(room_h - height) <= SAME:
        height = room_h
    _place(nodes, pool, best_node, part, best_turn, width, height, best_across)
    return True


@njit(cache=True, nogil=True)
def _place(
    nodes: np.ndarray,
    pool: np.ndarray,
    number: int,
    part: int,
    turn: int,
    width: int,
    height: int,
    across: int,
) -> None:
    """Put a part into a node's rest. across: first strip the rest the other way."""
    if nodes[number, FIRST] < 0 and across:
        # An empty node may as well change its direction.
        kind = COLUMN if nodes[number, KIND] == ROW else ROW
        nodes[number, KIND] = kind
        nodes[number, REST] = nodes[number, WIDTH if kind == ROW else HEIGHT]
        across = 0
    kind = nodes[number, KIND]
    if across:
        if kind == ROW:
            room_w, room_h = nodes[number, REST], nodes[number, HEIGHT]
        else:
            room_w, room_h = nodes[number, WIDTH], nodes[number, REST]
        cell = _make(nodes, pool, COLUMN if kind == ROW else ROW, room_w, room_h)
        _hang(nodes, number, cell)
        number = cell
        kind = nodes[number, KIND]
    strip_w, strip_h = nodes[number, WIDTH], nodes[number, HEIGHT]
    if kind == ROW:
        strip_w = width
    else:
        strip_h = height
    host = number
    if strip_w != width or strip_h != height:
        host = _make(nodes, pool, COLUMN if kind == ROW else ROW, strip_w, strip_h)
        _hang(nodes, number, host)
    leaf = _make(nodes, pool, LEAF, width, height)
    nodes[leaf, PART] = part
    nodes[leaf, TURNED] = turn
    _hang(nodes, host, leaf)


@njit(cache=True, nogil=True)
def _empty_sheet(
    nodes: np.ndarray,
    pool: np.ndarray,
    sheets: int,
    root: int,
    left: np.ndarray,
    stack: np.ndarray,
) -> int:
    out = 0
    while nodes[root, FIRST] >= 0:
        out += _take_out(nodes, pool, sheets, nodes[root, FIRST], left, stack)
    return out


@njit(cache=True, nogil=True)
def _tidiness(
    nodes: np.ndarray, top: int, sheets: int, is_open: np.ndarray, kerf: int, unit_area: float
) -> float:
    """Sum over the rests of (area / unit area)², less a little for every strip."""
    total = 0.0
    for number in range(top):
        kind = nodes[number, KIND]
        if kind == UNUSED or (number < sheets and not is_open[number]):
            continue
        if kind == LEAF:
            continue
        total -= 1e-4
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
            if _fits(nodes[root, WIDTH], sizes[part, turn], sliver) and _fits(
                nodes[root, HEIGHT], sizes[part, 1 - turn], sliver
            ):
                area = float(nodes[root, WIDTH]) * nodes[root, HEIGHT]
                score = costs[root] / area if greedy else _random(rng)
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
    measure = 0 if greedy else int(_random(rng) * 6)
    rule = 0 if greedy else int(_random(rng) * 3)
    noise = 0.0 if greedy else 0.4 * _random(rng)
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
            key = 1.0 if _random(rng) < 0.5 else _random(rng)
        key *= 1.0 - noise * _random(rng)
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
            if _insert(nodes, pool, top, sheets, is_open, sizes, part, rule, blink, rng):
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
    rounds = 1 + int(_random(rng) * min(3, opened))
    for _ in range(rounds):
        pick = int(_random(rng) * opened)
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
        chance = _random(rng)
        if chance < 0.12:
            _empty_sheet(nodes, pool, sheets, root, left, stack)
            if may_close:
                is_open[root] = False
                opened -= 1
                if opened == 0:
                    return
            continue
        strikes = 1 + int(_random(rng) * 4)
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
                pick = int(_random(rng) * children)
                child = nodes[number, FIRST]
                while pick > 0:
                    child = nodes[child, NEXT]
                    pick -= 1
                number = child
                if nodes[number, KIND] == LEAF or _random(rng) < 0.35:
                    break
            if number == root:
                break
            _take_out(nodes, pool, sheets, number, left, stack)


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
        _empty_sheet(nodes, pool, sheets, worst, left, stack)
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
        blink = 0.02 if _random(rng) < 0.7 else 0.15
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
        if new_goal <= goal - heat * np.log(_random(rng) + 1e-18):
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
