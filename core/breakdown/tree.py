"""Sheets as trees of strips (numba): putting parts in by best fit, taking them out again.

A sheet is a tree. A node lies in a rectangle and holds strips side by side along x (kind ROW) or
one above the other (kind COLUMN) and, after them, a rest; a strip is a part or again a node.
Every such tree is sawn by through cuts, so nothing that comes out of here ever needs checking
for that. Parts taken out leave their room to the rests.

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
NODES_A_PART = 3  # a cell across, a strip in it, the part


@njit(cache=True, nogil=True)
def random(rng: np.ndarray) -> float:
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
def take_out(
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
        take_out(nodes, pool, sheets, parent, left, stack)
    return out


@njit(cache=True, nogil=True)
def fits(room: int, size: int, sliver: int) -> bool:
    return abs(room - size) <= SAME or room - size > sliver


@njit(cache=True, nogil=True)
def insert(
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

    False as well if the table could run out of nodes: a part takes up to NODES_A_PART, and where
    parts come and go, nodes with a single strip in them can nest in each other.
    rule 0: least area left in the room, 1: least short side left, 2: least long side left.
    """
    if pool[0] < NODES_A_PART:
        return False
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
            if not (fits(room_w, width, sliver) and fits(room_h, height, sliver)):
                continue
            if blink > 0.0 and random(rng) < blink:
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
                if random(rng) < 0.08:
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
def empty_sheet(
    nodes: np.ndarray,
    pool: np.ndarray,
    sheets: int,
    root: int,
    left: np.ndarray,
    stack: np.ndarray,
) -> int:
    out = 0
    while nodes[root, FIRST] >= 0:
        out += take_out(nodes, pool, sheets, nodes[root, FIRST], left, stack)
    return out
