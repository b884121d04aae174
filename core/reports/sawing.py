"""The saw cuts of a sheet as steps, and what the pieces on the floor are called."""

from __future__ import annotations

from dataclasses import replace

from shapely.geometry import Polygon

from core.breakdown import (
    CutReplayError,
    Rect,
    SawList,
    SawPiece,
    SawStep,
    letter,
    saw_steps,
)
from core.errors import InvalidRequestError
from core.plan import Plan
from core.reports.cutlist import SheetLines, by_saw
from core.shop import SawKind
from core.tolerances import LAYOUT_DISTANCE_MM


def saw_list_of(plan: Plan, lines: SheetLines) -> SawList | None:
    """The steps for one sheet in the plan's own order of cuts, None if it cannot be followed so.

    Blanks are called by their letters, parts by number and name; what is neither gets the next
    free letter as it comes off.
    """
    sheet, rules = lines.sheet, plan.project.shop.rules
    if not sheet.saw_cuts or sheet.stock.points:
        return None
    cuts = sorted(sheet.saw_cuts, key=lambda c: c.order)
    targets = [(b.letter, Rect(b.x_mm, b.y_mm, b.width_mm, b.height_mm)) for b in sheet.blanks]
    for copy in lines.copies:
        if by_saw(copy):
            x1, y1, x2, y2 = copy.placed.bounds
            targets.append((f"{copy.number} {copy.piece.name}", Rect(x1, y1, x2 - x1, y2 - y1)))
    try:
        found = saw_steps(
            sheet.stock.width_mm,
            sheet.stock.height_mm,
            [(c.x1_mm, c.y1_mm, c.x2_mm, c.y2_mm) for c in cuts],
            targets,
            kerf_mm=rules.kerf_mm,
            saw="bench" if rules.saw is SawKind.BENCH else "rail",
            fence_reach_mm=rules.fence_reach_mm,
        )
    except (CutReplayError, InvalidRequestError):
        return None
    # A fence may be set as seldom in another order; the diagram's numbers are the plan's.
    places = {(c.x1_mm, c.y1_mm, c.x2_mm, c.y2_mm): k for k, c in enumerate(cuts)}
    steps = sorted(found.steps, key=lambda step: places[step.cut])
    # ...which costs settings: as often as the width is another than before.
    widths = [round(s.fence_mm, 3) for s in steps if s.fence_mm is not None]
    settings = sum(k == 0 or wide != widths[k - 1] for k, wide in enumerate(widths))
    return SawList(found.saw, _kept_named(lines, steps), settings)


def offcut_letters(lines: SheetLines, found: SawList | None) -> dict[int, str]:
    """The letters of the offcuts to keep, by their place in the sheet's list of offcuts."""
    if found is None:
        return {}
    pieces = [p for step in found.steps for p in sides(step) if p is not None]
    return {
        index: piece.name
        for index, rect in _kept(lines).items()
        for piece in pieces
        if piece.kind == "offcut" and _same(piece.rect, rect)
    }


def sides(step: SawStep) -> tuple[SawPiece | None, SawPiece | None]:
    """What lies up to the mark, on the side it is measured from, and what lies beyond it."""
    parts = [p for p in (step.off, step.stays) if p is not None]
    low = step.edge in ("left", "bottom")
    upright = step.edge in ("left", "right")
    near = beyond = None
    for part in parts:
        at = part.rect.x_mm if upright else part.rect.y_mm
        below = at < step.cut.position_mm
        if below == low:
            near = part
        else:
            beyond = part
    return near, beyond


def _kept(lines: SheetLines) -> dict[int, Rect]:
    out = {}
    for index, offcut in enumerate(lines.sheet.offcuts):
        if offcut.keep:
            x1, y1, x2, y2 = Polygon(offcut.points).bounds
            out[index] = Rect(x1, y1, x2 - x1, y2 - y1)
    return out


def _same(one: Rect, other: Rect) -> bool:
    return all(abs(a - b) <= LAYOUT_DISTANCE_MM for a, b in zip(one, other, strict=True))


def _kept_named(lines: SheetLines, steps: list[SawStep]) -> tuple[SawStep, ...]:
    """What the plan keeps is called an offcut and has a letter; what it does not keep is scrap."""
    kept = list(_kept(lines).values())
    pieces = [p for s in steps for p in (s.piece, s.off, s.stays) if p is not None]
    used = {p.name for p in pieces}
    free = (name for name in map(letter, range(len(used) + len(kept) + 1)) if name not in used)
    names: dict[Rect, str] = {}

    def renamed(piece: SawPiece | None) -> SawPiece | None:
        if piece is None or piece.kind not in ("offcut", "scrap"):
            return piece
        if not any(_same(piece.rect, rect) for rect in kept):
            return replace(piece, name="", kind="scrap")
        if piece.rect not in names:
            names[piece.rect] = piece.name or next(free)
        return replace(piece, name=names[piece.rect], kind="offcut")

    return tuple(replace(s, off=renamed(s.off), stays=renamed(s.stays)) for s in steps)
