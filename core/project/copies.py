"""Outlines of a drawing that are no panels of their own, when the drawing is read again.

The maker removed them, or counted them as copies of a panel that looks the same.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from core.findings import Finding, Severity
from core.outlines.model import Outline
from core.outlines.rereading import OutlineChange, are_alike, compare_outlines
from core.project.model import Drawing, Panel
from core.project.rereading import Reread
from core.tolerances import REREAD_TOL_MM


def left_out_before(
    before: Drawing,
    panels: Sequence[Panel],
    outlines: Sequence[Outline],
    reread: Reread,
    *,
    scale: float = 1.0,
) -> tuple[list[int], list[Finding]]:
    """Outlines that stay out because they were out before, and what must be said about them.

    panels: those of the drawing as they were. outlines: what the file now holds, of which
    reread.fresh have no panel. scale: as for :func:`reread_panels`. An outline that was removed
    stays out while it is as it was. A copy that was counted with its panel stays out while both
    still look the same, however both changed; where they differ now it becomes a panel, and the
    panel's quantity is called into question.
    """
    regions = {p.region for p in panels}
    bare = [_scaled(o, scale) for o in before.outlines if o.region not in regions]
    fresh = reread.fresh
    if not bare or not fresh:
        return [], []
    out: list[int] = []
    told: dict[str, Finding] = {}
    for change in compare_outlines(bare, [outlines[k] for k in fresh]):
        if change.old is None or change.new is None:
            continue
        index = fresh[change.new]
        twins = [
            p for p in panels if p.quantity > 1 and are_alike(_outline(p, scale), bare[change.old])
        ]
        if not twins:
            if _is_as_it_was(change):
                out.append(index)
            continue
        for panel in twins:
            now = reread.changes[panel.id].new if panel.id in reread.changes else None
            if now is not None and are_alike(outlines[now], outlines[index]):
                out.append(index)
                break
        else:
            told[twins[0].id] = _no_copy_now(twins[0], before)
    return out, list(told.values())


def _is_as_it_was(change: OutlineChange) -> bool:
    return change.differs_mm == 0.0 and math.hypot(*change.moved_mm) <= REREAD_TOL_MM


def _no_copy_now(panel: Panel, drawing: Drawing) -> Finding:
    return Finding(
        "copy-differs",
        Severity.WARN,
        f"{panel.name} was counted {panel.quantity} times; a copy of it now looks otherwise and "
        "is a panel of its own",
        panel.id,
        remedy="Look at the quantities of both.",
        source=drawing.file_name,
    )


def _outline(panel: Panel, scale: float) -> Outline:
    return _scaled(Outline(panel.region, panel.layer, panel.name, panel.features), scale)


def _scaled(outline: Outline, scale: float) -> Outline:
    if scale == 1.0:
        return outline
    return replace(outline, region=outline.region.scaled(scale))
