"""Parts that the saw alone cuts: from what routed sheets leave over, then from further sheets.

A routed sheet is sawn into blanks first. What those leave of it is as good a board as any, so
rectangular parts are looked for there before another sheet is opened; the cuts of such a sheet
free blanks and parts in one list.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from core.breakdown import NotSawableError, SawPart, SawSheet, cut_rectangles, pattern_for
from core.geometry import Motion
from core.layout.arrangement import Rectangle
from core.plan import PlanPiece
from core.project.model import KeptLayout, Placed, SawnSheet
from core.shop import Shop, Stock
from core.tolerances import SAW_TOL_MM

#: Steps for sawing parts from sheets; the seconds only end a search that got stuck.
SAW_STEPS, SAW_SECONDS = 30_000, 120.0


@dataclass(frozen=True, slots=True)
class _Source:
    """Board to saw from: part of a sheet in use (copy) or of a new one (copy 0)."""

    stock: Stock
    copy: int
    rect: Rectangle


def place_saw_parts(
    items: Sequence[tuple[PlanPiece, Sequence[int]]],
    shop: Shop,
    stocks: Sequence[Stock],
    costs: dict[str, float],
    routed: KeptLayout,
    pieces: dict[str, PlanPiece],
    *,
    seed: int = 0,
    stop: Callable[[], bool] | None = None,
) -> KeptLayout:
    """The routed layout with rectangular parts added, sheets in use first.

    items: parts with the copies wanted. pieces: routed pieces by id. Sheets sawn already
    (frozen), with defects or of another outline than a rectangle are left alone. What finds no
    place is not in the layout.
    """
    if not items:
        return routed
    sources = _left_over(routed, shop, stocks, pieces)
    used: dict[str, set[int]] = {}
    for sheet in routed.sheets:
        used.setdefault(sheet.sheet, set()).add(sheet.sheet_copy)
    trim = shop.rules.edge_trim_mm
    sheets = [
        SawSheet(str(k), source.rect[2], source.rect[3], 1, 0.0) for k, source in enumerate(sources)
    ]
    fresh = [s for s in stocks if not s.points and not s.defects]
    for stock in fresh:
        width, height = stock.width_mm - 2 * trim, stock.height_mm - 2 * trim
        if min(width, height) <= 0:
            continue
        taken = len(used.get(stock.id, ()))
        left = None if stock.quantity is None else max(0, stock.quantity - taken)
        sheets.append(SawSheet(str(len(sources)), width, height, left, costs[stock.id]))
        sources.append(_Source(stock, 0, (trim, trim, width, height)))
    found = cut_rectangles(
        [_part(piece, len(copies)) for piece, copies in items],
        sheets,
        kerf_mm=shop.rules.kerf_mm,
        seconds=SAW_SECONDS,
        steps=SAW_STEPS,
        seed=seed,
        stop=stop,
    )
    queues = {piece.id: (piece, list(copies)) for piece, copies in items}
    placed: list[Placed] = []
    sawn: list[SawnSheet] = []
    touched: set[tuple[str, int]] = set()
    for one in found.sheets:
        source = sources[int(one.sheet_id)]
        stock, number = source.stock, source.copy
        if number == 0:
            number = next(k for k in range(1, 10**6) if k not in used.setdefault(stock.id, set()))
            used[stock.id].add(number)
        rects = []
        for part in one.parts:
            piece, copies = queues[part.part_id]
            x, y = source.rect[0] + part.x_mm, source.rect[1] + part.y_mm
            rects.append((x, y, part.width_mm, part.height_mm))
            motion = _laid(piece, x, y, part.width_mm)
            placed.append(
                Placed(piece.id, copies.pop(0), stock.id, number, motion, digest=piece.digest)
            )
        if source.copy == 0:
            pattern = pattern_for(
                rects, stock.width_mm, stock.height_mm, kerf_mm=shop.rules.kerf_mm
            )
            cuts = tuple((c.x1_mm, c.y1_mm, c.x2_mm, c.y2_mm) for c in pattern.cuts)
            sawn.append(SawnSheet(stock.id, number, (), cuts))
        else:
            touched.add((stock.id, number))
    kept = tuple(
        replace(s, blanks=used_blanks(s, routed, pieces))
        if (s.sheet, s.sheet_copy) in touched
        else s
        for s in routed.sheets
    )
    return replace(
        routed,
        placed=(*routed.placed, *placed),
        sheets=(*kept, *sawn),
        steps=routed.steps + found.steps,
    )


def used_blanks(
    sheet: SawnSheet, layout: KeptLayout, pieces: dict[str, PlanPiece]
) -> tuple[Rectangle, ...]:
    """The blanks of a sheet that carry pieces, in their order."""
    middles = []
    for p in layout.placed:
        if (p.sheet, p.sheet_copy) == (sheet.sheet, sheet.sheet_copy) and p.piece in pieces:
            x1, y1, x2, y2 = pieces[p.piece].cut.moved(p.motion).bounds
            middles.append(((x1 + x2) / 2, (y1 + y2) / 2))
    return tuple(
        (x, y, w, h)
        for x, y, w, h in sheet.blanks
        if any(x <= mx <= x + w and y <= my <= y + h for mx, my in middles)
    )


def _left_over(
    routed: KeptLayout, shop: Shop, stocks: Sequence[Stock], pieces: dict[str, PlanPiece]
) -> list[_Source]:
    """Whole rectangles that the blanks in use leave of their sheets."""
    by_id = {s.id: s for s in stocks if not s.points and not s.defects}
    kerf, trim = shop.rules.kerf_mm, shop.rules.edge_trim_mm
    found = []
    for sheet in routed.sheets:
        stock = by_id.get(sheet.sheet)
        if stock is None or sheet.frozen or not sheet.blanks:
            continue
        blanks = used_blanks(sheet, routed, pieces)
        try:
            pattern = pattern_for(blanks, stock.width_mm, stock.height_mm, kerf_mm=kerf)
        except NotSawableError:
            continue
        for x, y, w, h in pattern.offcuts:
            # A factory edge is no finished edge; a sawn one is.
            x1 = x + trim if x <= SAW_TOL_MM else x
            y1 = y + trim if y <= SAW_TOL_MM else y
            x2 = x + w - (trim if x + w >= stock.width_mm - SAW_TOL_MM else 0.0)
            y2 = y + h - (trim if y + h >= stock.height_mm - SAW_TOL_MM else 0.0)
            if x2 > x1 and y2 > y1:
                found.append(_Source(stock, sheet.sheet_copy, (x1, y1, x2 - x1, y2 - y1)))
    return found


def _part(piece: PlanPiece, count: int) -> SawPart:
    """A piece as a saw part, as it lies in its first allowed turn."""
    width, height = piece.cut.size_mm
    turns = piece.turns_deg
    upright = turns is None or any(t % 180 == 0 for t in turns)
    across = turns is None or any(t % 180 == 90 for t in turns)
    if not upright:
        width, height = height, width
    return SawPart(piece.id, width, height, count, upright and across)


def _laid(piece: PlanPiece, x_mm: float, y_mm: float, width_mm: float) -> Motion:
    """The motion that lays a rectangular piece with its lower left corner at (x, y)."""
    wide_mm, _ = piece.cut.size_mm
    turns = piece.turns_deg if piece.turns_deg is not None else (0.0, 90.0)
    lies_along = abs(wide_mm - width_mm) < 1e-6
    turn = next((t for t in turns if (t % 180 == 0) == lies_along), 0.0 if lies_along else 90.0)
    turned = piece.cut.moved(Motion(turn_deg=turn)).bounds
    return Motion(x_mm - turned[0], y_mm - turned[1], turn)
