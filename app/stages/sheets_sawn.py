"""What was done with a sheet at the saw and on the bed: frozen blanks, blanks moved by hand."""

from __future__ import annotations

from dataclasses import replace

from app.stages.sheets_model import Bench, SheetKey, arrangement_of
from core.plan import PlanSetup, PlanSheet
from core.project.model import CutBy, SawnSheet
from core.tolerances import LAYOUT_DISTANCE_MM


def sawn_of(bench: Bench, sheet: SheetKey) -> SawnSheet | None:
    """What the layout says about the breakdown of a sheet, None if nothing."""
    rows = (s for s in bench.layout.sheets if (s.sheet, s.sheet_copy) == sheet)
    return next(rows, None)


def is_frozen(bench: Bench, sheet: SheetKey) -> bool:
    """True if the sheet's blanks were sawn."""
    known = sawn_of(bench, sheet)
    return known is not None and known.frozen


def as_laid(bench: Bench, sheet: SheetKey) -> SawnSheet:
    """The sheet's breakdown with every blank it has now, whether the layout says so or not."""
    arrangement = arrangement_of(bench, sheet)
    known = sawn_of(bench, sheet) or SawnSheet(*sheet)
    if arrangement is None or known.cuts is not None:
        return known
    return replace(
        known,
        blanks=arrangement.blanks,
        through=arrangement.through,
        lying=arrangement.lying,
    )


def as_sawn(bench: Bench, sheet: SheetKey) -> SawnSheet:
    """A sheet as it is sawn for what lies on it: the blanks in use, and for which copies."""
    whole = as_laid(bench, sheet)
    keys = bench.on(sheet)
    routed = {
        piece: bench.pieces[piece] for piece, _ in keys if bench.pieces[piece].by is CutBy.ROUTER
    }
    layout = replace(bench.layout, placed=tuple(bench.placed[k] for k in keys))
    from core.layout.sawing import used_blanks  # slow to load

    blanks = used_blanks(whole, layout, routed)
    spots = {whole.blanks[k]: (x, y) for k, x, y in whole.lying if k < len(whole.blanks)}
    lying = tuple((k, *spots[b]) for k, b in enumerate(blanks) if b in spots)
    return replace(whole, blanks=blanks, lying=lying, frozen=True, wanted=tuple(sorted(keys)))


def lain(
    bench: Bench, sheet: SheetKey, setup: PlanSetup, x_mm: float | None, y_mm: float | None
) -> SawnSheet | None:
    """The sheet with the blank of a setup put there on the bed; None: the usual way.

    None if the sheet has no such blank any more, for the setup is of a plan from before a change.
    """
    laid = as_laid(bench, sheet)
    rect = (setup.x_mm, setup.y_mm, setup.width_mm, setup.height_mm)
    found = (
        k
        for k, blank in enumerate(laid.blanks)
        if all(abs(a - b) <= LAYOUT_DISTANCE_MM for a, b in zip(blank, rect, strict=True))
    )
    index = next(found, None)
    if index is None:
        return None
    rest = tuple(at for at in laid.lying if at[0] != index)
    if x_mm is None or y_mm is None:
        return replace(laid, lying=rest)
    return replace(laid, lying=tuple(sorted((*rest, (index, x_mm, y_mm)))))


def key_of_sheet(bench: Bench, sheet: PlanSheet) -> SheetKey | None:
    """Which sheet of the bench a sheet of the plan is."""
    for one in sheet.placements:
        placed = bench.placed.get((one.piece, one.copy))
        if placed is not None:
            return placed.sheet, placed.sheet_copy
    return None
