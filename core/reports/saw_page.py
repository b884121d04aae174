"""The saw list of a sheet as a person follows it: marks for a rail saw, a fence for a bench saw."""

from __future__ import annotations

from core.breakdown import (
    CutReplayError,
    Rect,
    SawList,
    SawPiece,
    SawStep,
    saw_steps,
)
from core.errors import InvalidRequestError
from core.plan import Plan
from core.reports.cutlist import SheetLines, by_saw
from core.reports.paper import Column, Flow
from core.reports.picture import MUTED
from core.reports.words import Words
from core.shop import SawKind

_SIDES = {"left": "left", "right": "right", "bottom": "lower", "top": "upper"}


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
    return SawList(found.saw, tuple(steps), found.settings)


def _piece(piece: SawPiece | None) -> str:
    if piece is None:
        return "–"
    if piece.kind == "sheet":
        return "the sheet"
    if piece.kind == "scrap":
        return "scrap"
    if piece.kind == "part":
        return f"blank {piece.name}" if piece.name.isalpha() else piece.name
    return f"{piece.kind} {piece.name}"


def saw_table(flow: Flow, found: SawList, words: Words) -> None:
    """The table of one sheet's cuts, and how it is to be read."""
    bench = found.saw == "bench"
    flow.heading(
        f"Saw cuts in this order, {found.settings} fence settings"
        if bench
        else "Saw cuts, in this order"
    )
    columns = [
        Column("", tick=True),
        Column("Cut", align="end", bold=True),
        Column("Take", flex=True),
        Column("Fence at" if bench else "Mark at", align="end"),
        Column("Edge at the fence" if bench else "Measured from"),
        Column("Length", align="end"),
        Column("Comes off", flex=True),
        Column("Stays", flex=True),
        Column("Mind", flex=True),
    ]
    rows = []
    before: float | None = None
    for number, step in enumerate(found.steps, start=1):
        value = step.fence_mm if bench and step.fence_mm is not None else step.measure_mm
        fresh = bench and (before is None or abs(value - before) > 1e-3)
        before = value
        rows.append(
            (
                "",
                str(number),
                _piece(step.piece),
                words.length(value) + (" *" if fresh else ""),
                f"{_SIDES[step.edge]} edge",
                words.length(step.length_mm),
                _piece(step.off),
                _piece(step.stays),
                _mind(step, bench=bench),
            )
        )
    flow.table(columns, rows, role="cut", keep=True)
    if bench:
        text = (
            "Fence at: width between fence and blade. *: the fence is set anew. Edges are called "
            "as the sheet lies in the diagram."
        )
    else:
        text = (
            "Mark at: from that edge of the piece in hand, as it lies in the diagram. The kerf "
            "lies on the waste side of the mark, which the last column names."
        )
    flow.paragraph(text, 8.0, colour=MUTED)


def _mind(step: SawStep, *, bench: bool) -> str:
    notes = [] if bench else [f"kerf on the {_SIDES[step.waste_side]} side of the mark"]
    if step.short_on_fence:
        notes.append("! shorter along the fence than across: use a sled or another saw")
    if step.beyond_fence:
        notes.append("! beyond the fence: mark it out and use another saw")
    if step.skims:
        notes.append("takes less than half the blade's width")
    return "; ".join(notes) or "–"
