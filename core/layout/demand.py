"""A breakdown made to measure: blanks as large as what is cut from them.

Uniform patterns waste board when a few large pieces set the blank's size. Here large pieces
ask for a blank of their own, small ones are nested together into blanks as large as the
machine takes and those are drawn in to what they hold; then all blanks are sawn from the
sheets as rectangular parts, and what is left of each sheet stays at hand as further blanks.
The outcome is a whole layout from which nesting goes on.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import shapely

from core.bed import bed_room
from core.breakdown import Rect, SawPart, SawSheet, cut_rectangles, pattern_for
from core.geometry import Motion
from core.layout.arrangement import (
    SMALLEST_BLANK_MM,
    Rectangle,
    blank_room,
    largest_blank_mm2,
    mark_mm,
    planer_for,
)
from core.layout.matched import common_turns, in_order
from core.layout.rooms import largest_rectangles
from core.nesting import NestPiece, NestRules, NestSheet, nest
from core.plan import PlanPiece
from core.project.model import KeptLayout, Placed, SawnSheet
from core.shop import Machine, Shop, Stock
from core.tolerances import FIT_REL

#: A piece that fills this part of the largest blank asks for one of its own.
LARGE_SHARE = 0.22
#: Steps for sawing the blanks from sheets; the seconds only end a search that got stuck.
SAW_STEPS, SAW_SECONDS = 10_000, 120.0
#: Blanks made to measure are sawn to whole steps of this many of the finest marks.
BLANK_MARKS = 2


@dataclass(frozen=True)
class _Wanted:
    """A blank that is asked for and what lies on it, in its own coordinates. blanks: the ones
    it is sawn into in turn, empty if it stays whole."""

    width_mm: float
    height_mm: float
    content: tuple[tuple[str, int, Motion], ...]
    may_turn: bool
    blanks: tuple[Rectangle, ...] = ()


def layout_to_measure(
    pieces: Sequence[tuple[PlanPiece, int]],
    shop: Shop,
    stocks: Sequence[Stock],
    costs: dict[str, float],
    *,
    steps: int,
    seconds: float | None = None,
    seed: int = 0,
    stop: Callable[[], bool] | None = None,
) -> KeptLayout | None:
    """A layout whose blanks are made to measure, or None if that way leads nowhere.

    pieces: with the copies wanted. seconds: for sawing the blanks from the sheets, if time
    counts and not steps alone. Only plain rectangular sheets without defects are used.
    Copies that fit no blank are left out.
    """
    plain = [s for s in stocks if not s.points and not s.defects]
    if not plain:
        return None
    material = shop.material(plain[0].material)
    if planer_for(material, shop.limits) is not None:
        return None  # the planer's limits decide the blanks, not the pieces
    most_mm2 = largest_blank_mm2(shop, material)
    step = BLANK_MARKS * max(mark_mm(s) for s in plain)
    largest = _largest_blanks(shop.machine, plain, most_mm2)
    wanted = _rows(pieces, shop, largest, most_mm2, step)
    in_rows = {piece_id for want in wanted for piece_id, _, _ in want.content}
    others = [(piece, count) for piece, count in pieces if piece.id not in in_rows]
    wanted += _large(others, shop, largest, most_mm2, step)
    alone = {(piece_id, copy) for want in wanted for piece_id, copy, _ in want.content}
    rest = [
        (piece, [c for c in range(1, count + 1) if (piece.id, c) not in alone])
        for piece, count in pieces
    ]
    wanted += _small([r for r in rest if r[1]], shop, largest, step, steps, seed, stop)
    if not wanted:
        return None
    return _sawn(wanted, shop, plain, costs, seed, SAW_SECONDS if seconds is None else seconds)


def _largest_blanks(
    machine: Machine, stocks: Sequence[Stock], most_mm2: float | None
) -> list[tuple[float, float]]:
    """The largest blanks the table takes, either way round, cut to the sheets' size.

    most_mm2: of the heaviest blank a person lifts; a larger one is shortened.
    """
    width, height = machine.table_mm
    sizes = {
        (min(w, s.width_mm), min(h, s.height_mm))
        for s in stocks
        for w, h in ((width, height), (height, width))
    }
    if most_mm2 is not None:
        sizes = {
            (w, h) if w * h <= most_mm2 else (w, most_mm2 / w) if h >= w else (most_mm2 / h, h)
            for w, h in sizes
        }
    return sorted(sizes, key=lambda s: (-s[0] * s[1], s))


def _up(value_mm: float, step_mm: float) -> float:
    """To the next whole step; exact lengths stay."""
    return math.ceil(value_mm / step_mm - 1e-6) * step_mm


def _large(
    pieces: Sequence[tuple[PlanPiece, int]],
    shop: Shop,
    largest: Sequence[tuple[float, float]],
    most_mm2: float | None,
    step_mm: float,
) -> list[_Wanted]:
    """One blank for each copy of a piece that fills much of the largest one."""
    around = 2 * shop.rules.edge_margin_mm + shop.rules.blank_oversize_mm
    most = max(w * h for w, h in largest)
    found = []
    for piece, count in pieces:
        lying = _best_turn(piece, shop, largest)
        if lying is None:
            continue
        turn, (x1, y1, x2, y2) = lying
        width, height = _up(x2 - x1 + around, step_mm), _up(y2 - y1 + around, step_mm)
        too_heavy = most_mm2 is not None and width * height > most_mm2
        if too_heavy or width * height < LARGE_SHARE * most:
            continue
        turns = piece.turns_deg
        may_turn = turns is None or any(
            abs((t - turn - 90 + 180) % 360 - 180) < 1e-9 for t in turns
        )
        motion = Motion((width - (x2 - x1)) / 2 - x1, (height - (y2 - y1)) / 2 - y1, turn)
        found += [
            _Wanted(width, height, ((piece.id, copy, motion),), may_turn)
            for copy in range(1, count + 1)
        ]
    return found


def _rows(
    pieces: Sequence[tuple[PlanPiece, int]],
    shop: Shop,
    largest: Sequence[tuple[float, float]],
    most_mm2: float | None,
    step_mm: float,
) -> list[_Wanted]:
    """A row of blanks for each copy of a panel whose pieces are to lie in their order: sawn out
    of the sheet as one, then across between the pieces."""
    counts = {piece.id: count for piece, count in pieces}
    found: list[_Wanted] = []
    for members in in_order([piece for piece, _ in pieces]).values():
        if len({counts[p.id] for p in members}) != 1:
            continue
        turns = common_turns([p.turns_deg for p in members])
        for turn in turns if turns is not None else (0.0, 90.0):
            row = _row(members, turn, shop, largest, most_mm2, step_mm)
            if row is not None:
                found += [
                    replace(row, content=tuple((one, copy, m) for one, _, m in row.content))
                    for copy in range(1, counts[members[0].id] + 1)
                ]
                break
    return found


def _row(
    members: Sequence[PlanPiece],
    turn_deg: float,
    shop: Shop,
    largest: Sequence[tuple[float, float]],
    most_mm2: float | None,
    step_mm: float,
) -> _Wanted | None:
    """The pieces beside each other, each in a blank of its own; None if they are no row or one
    of the blanks is more than the machine or a person takes."""
    rooms = _blank_rooms(shop, largest)
    boxes = [p.cut.moved(Motion(turn_deg=turn_deg)).polygon.bounds for p in members]
    middles = [((x1 + x2) / 2, (y1 + y2) / 2) for x1, y1, x2, y2 in boxes]
    wide = max(x for x, _ in middles) - min(x for x, _ in middles)
    high = max(y for _, y in middles) - min(y for _, y in middles)
    flat = wide >= high
    along, across = (0, 1) if flat else (1, 0)
    around = 2 * shop.rules.edge_margin_mm + shop.rules.blank_oversize_mm
    low = min(b[across] for b in boxes)
    breadth = _up(max(b[across + 2] for b in boxes) - low + around, step_mm)
    content: list[tuple[str, int, Motion]] = []
    blanks: list[Rectangle] = []
    at = 0.0
    reached = -math.inf
    for k in sorted(range(len(members)), key=lambda k: boxes[k][along]):
        box = boxes[k]
        middle = middles[k][along]
        if middle <= reached:
            return None  # one beside the other, not behind it: no row
        reached = middle
        size = (box[2] - box[0], box[3] - box[1])
        if not any(_within(size, room) for room in rooms):
            return None
        length = _up(box[along + 2] - box[along] + around, step_mm)
        if most_mm2 is not None and length * breadth > most_mm2:
            return None
        if not any(_within((length, breadth) if flat else (breadth, length), s) for s in largest):
            return None
        ahead, aside = at + around / 2 - box[along], around / 2 - low
        content.append(
            (members[k].id, 1, Motion(*((ahead, aside) if flat else (aside, ahead)), turn_deg))
        )
        blanks.append((at, 0.0, length, breadth) if flat else (0.0, at, breadth, length))
        at += length + shop.rules.kerf_mm
    at -= shop.rules.kerf_mm
    width, height = (at, breadth) if flat else (breadth, at)
    return _Wanted(width, height, tuple(content), may_turn=False, blanks=tuple(blanks))


def _within(size: tuple[float, float], room: tuple[float, float]) -> bool:
    return all(s <= r * (1 + FIT_REL) for s, r in zip(size, room, strict=True))


def _blank_rooms(shop: Shop, largest: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Width and height of what the bit reaches on the largest blanks."""
    return [
        room
        for w, h in largest
        for room in largest_rectangles(blank_room(shop.machine, w, h, shop.rules))
    ]


def _best_turn(
    piece: PlanPiece, shop: Shop, largest: Sequence[tuple[float, float]]
) -> tuple[float, tuple[float, float, float, float]] | None:
    """The allowed turn with the smallest bounds that fit a blank, and the bounds."""
    rooms = _blank_rooms(shop, largest)
    best: tuple[float, float, tuple[float, float, float, float]] | None = None
    for turn in piece.turns_deg if piece.turns_deg is not None else (0.0, 90.0):
        bounds = piece.cut.moved(Motion(turn_deg=turn)).polygon.bounds
        width, height = bounds[2] - bounds[0], bounds[3] - bounds[1]
        if not any(_within((width, height), room) for room in rooms):
            continue
        if best is None or width * height < best[0] * (1 - 1e-9):
            best = (width * height, turn, bounds)
    return None if best is None else (best[1], best[2])


def _small(
    rest: Sequence[tuple[PlanPiece, list[int]]],
    shop: Shop,
    largest: Sequence[tuple[float, float]],
    step_mm: float,
    steps: int,
    seed: int,
    stop: Callable[[], bool] | None,
) -> list[_Wanted]:
    """Blanks filled with the small pieces, drawn in to what they hold."""
    if not rest:
        return []
    margin = shop.rules.edge_margin_mm
    sheets = []
    for k, (width, height) in enumerate(largest[:1]):
        room = blank_room(shop.machine, width, height, shop.rules)
        outline = shapely.box(0, 0, width, height)
        closed = [
            p
            for p in shapely.get_parts(outline.difference(room))
            if p.geom_type == "Polygon" and p.area > 1e-9
        ]
        sheets.append(NestSheet(f"blank{k}", outline, None, width * height, tuple(closed)))
    found = nest(
        [
            NestPiece(p.id, p.cut.polygon, len(copies), p.turns_deg, p.may_mirror)
            for p, copies in rest
        ],
        sheets,
        NestRules(shop.spacing_mm, margin),
        steps=steps,
        seed=seed,
        stop=stop,
    )
    by_id = {p.id: (p, copies) for p, copies in rest}
    groups: dict[tuple[str, int], list[tuple[PlanPiece, int, Motion]]] = {}
    for one in found.placements:
        piece, copies = by_id[one.piece_id]
        motion = Motion(one.x_mm, one.y_mm, one.turn_deg, one.mirrored)
        groups.setdefault((one.sheet_id, one.sheet_copy), []).append(
            (piece, copies[one.copy - 1], motion)
        )
    around = margin + shop.rules.blank_oversize_mm / 2
    return [_drawn_in(content, around, step_mm) for content in groups.values()]


def _drawn_in(
    content: list[tuple[PlanPiece, int, Motion]], margin_mm: float, step_mm: float
) -> _Wanted:
    """The smallest blank round what lies on it."""
    shapes = [piece.cut.moved(motion).polygon for piece, _, motion in content]
    x1, y1, x2, y2 = shapely.total_bounds(shapes)
    width = _up(x2 - x1 + 2 * margin_mm, step_mm)
    height = _up(y2 - y1 + 2 * margin_mm, step_mm)
    dx, dy = margin_mm - x1, margin_mm - y1
    may_turn = all(
        piece.turns_deg is None
        or any(abs((t - m.turn_deg - 90 + 180) % 360 - 180) < 1e-9 for t in piece.turns_deg)
        for piece, _, m in content
    )
    moved = tuple(
        (piece.id, copy, replace(m, x_mm=m.x_mm + dx, y_mm=m.y_mm + dy))
        for piece, copy, m in content
    )
    return _Wanted(width, height, moved, may_turn)


def _sawn(
    wanted: list[_Wanted],
    shop: Shop,
    stocks: Sequence[Stock],
    costs: dict[str, float],
    seed: int,
    seconds: float,
) -> KeptLayout | None:
    """Every wanted blank sawn from a sheet, with what lies on it."""
    rules = shop.rules
    most_mm2 = largest_blank_mm2(shop, shop.material(stocks[0].material))
    kinds: dict[tuple[float, float, bool], list[_Wanted]] = {}
    for want in wanted:
        kinds.setdefault((want.width_mm, want.height_mm, want.may_turn), []).append(want)
    parts = [
        SawPart(str(k), width, height, len(group), may_turn)
        for k, ((width, height, may_turn), group) in enumerate(kinds.items())
    ]
    sheets = [SawSheet(s.id, s.width_mm, s.height_mm, s.quantity, costs[s.id]) for s in stocks]
    plan = cut_rectangles(
        parts,
        sheets,
        kerf_mm=rules.kerf_mm,
        seconds=seconds,
        steps=SAW_STEPS,
        seed=seed,
    )
    queues = [list(group) for group in kinds.values()]
    numbers: dict[str, int] = {}
    placed: list[Placed] = []
    sawn: list[SawnSheet] = []
    for sheet in plan.sheets:
        numbers[sheet.sheet_id] = number = numbers.get(sheet.sheet_id, 0) + 1
        blanks: list[Rectangle] = []
        for part in sheet.parts:
            want = queues[int(part.part_id)].pop(0)
            if want.blanks:
                blanks += [(part.x_mm + x, part.y_mm + y, w, h) for x, y, w, h in want.blanks]
            else:
                blanks.append((part.x_mm, part.y_mm, part.width_mm, part.height_mm))
            placed += [
                Placed(
                    piece, copy, sheet.sheet_id, number, _onto(motion, want, part.rect, part.turned)
                )
                for piece, copy, motion in want.content
            ]
        stock = next(s for s in stocks if s.id == sheet.sheet_id)
        spare = _spare(blanks, stock, shop)
        blanks += [r for r in spare if most_mm2 is None or r[2] * r[3] <= most_mm2]
        sawn.append(SawnSheet(sheet.sheet_id, number, tuple(blanks)))
    if not sawn:
        return None
    return KeptLayout("", tuple(placed), tuple(sawn), seed=seed)


def _onto(motion: Motion, want: _Wanted, rect: Rect, turned: bool) -> Motion:
    """A motion on the wanted blank as one on the sheet; turned: a quarter counter-clockwise."""
    if not turned:
        return replace(motion, x_mm=motion.x_mm + rect.x_mm, y_mm=motion.y_mm + rect.y_mm)
    return replace(
        motion,
        turn_deg=(motion.turn_deg + 90.0) % 360.0,
        x_mm=rect.x_mm + want.height_mm - motion.y_mm,
        y_mm=rect.y_mm + motion.x_mm,
    )


def _spare(blanks: Sequence[Rectangle], stock: Stock, shop: Shop) -> list[Rectangle]:
    """What is left of a sheet and can serve as a further blank."""
    if not blanks:
        return []
    kerf, step = shop.rules.kerf_mm, mark_mm(stock)
    pattern = pattern_for(blanks, stock.width_mm, stock.height_mm, kerf_mm=kerf)
    found: list[Rectangle] = []
    for rect in pattern.offcuts:
        short = min(rect.width_mm, rect.height_mm)
        if short < SMALLEST_BLANK_MM:
            continue
        if bed_room(shop.machine, rect.width_mm, rect.height_mm) is not None:
            found.append((rect.x_mm, rect.y_mm, rect.width_mm, rect.height_mm))
            continue
        found += _cut_to_table(rect, shop, step)
    return found


def _cut_to_table(rect: Rect, shop: Shop, step_mm: float) -> list[Rectangle]:
    """A leftover too long for the table, cut across into blanks that it takes."""
    kerf = shop.rules.kerf_mm
    along_x = rect.width_mm >= rect.height_mm
    length, across = sorted((rect.width_mm, rect.height_mm), reverse=True)
    table = max(shop.machine.table_mm)
    if across > min(shop.machine.table_mm):
        return []
    count = math.ceil((length + kerf) / (table + kerf))
    each = math.floor((length - (count - 1) * kerf) / count / step_mm + 1e-6) * step_mm
    rows = []
    for k in range(count):
        start = k * (each + kerf)
        rest = length - start
        here = min(rest, table) if k == count - 1 else each
        if along_x:
            rows.append((rect.x_mm + start, rect.y_mm, here, across))
        else:
            rows.append((rect.x_mm, rect.y_mm + start, across, here))
    return rows
