"""The saw list of a sheet as a person follows it: marks for a rail saw, a fence for a bench saw."""

from __future__ import annotations

from core.breakdown import SawList, SawPiece, SawStep
from core.reports.paper import Column, Flow
from core.reports.picture import MUTED
from core.reports.sawing import sides
from core.reports.words import Words, counted

_SIDES = {"left": "left", "right": "right", "bottom": "lower", "top": "upper"}


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
        f"Saw cuts in this order, {counted(found.settings, 'fence setting')}"
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
        Column("At the fence" if bench else "Up to the mark", flex=True),
        Column("Beyond the blade" if bench else "Beyond it", flex=True),
        Column("Mind", flex=True),
    ]
    rows = []
    before: float | None = None
    for number, step in enumerate(found.steps, start=1):
        value = step.fence_mm if bench and step.fence_mm is not None else step.measure_mm
        fresh = bench and (before is None or abs(value - before) > 1e-3)
        before = value
        near, beyond = sides(step)
        rows.append(
            (
                "",
                str(number),
                _piece(step.piece),
                words.length(value) + (" *" if fresh else ""),
                f"{_SIDES[step.edge]} edge",
                words.length(step.length_mm),
                _piece(near),
                _piece(beyond),
                _mind(step, bench=bench),
            )
        )
    flow.table(columns, rows, role="cut", keep=True)
    if bench:
        text = (
            "Fence at: width between fence and blade. *: the fence is set anew. Edges are called "
            "as the sheet lies in the diagram. Strips are cut again."
        )
    else:
        text = (
            "Mark at: from that edge of the piece in hand, as it lies in the diagram. The kerf "
            "lies wholly on the side named. Strips are cut again."
        )
    flow.paragraph(text, 8.0, colour=MUTED)


def _mind(step: SawStep, *, bench: bool) -> str:
    notes = [] if bench else [f"saw on the {_SIDES[step.waste_side]} side of the mark"]
    if step.short_on_fence:
        notes.append("! shorter along the fence than across: use a sled or another saw")
    if step.beyond_fence:
        notes.append("! beyond the fence: mark it out and use another saw")
    if step.skims:
        notes.append("takes less than half the blade's width")
    return "; ".join(notes) or "–"
