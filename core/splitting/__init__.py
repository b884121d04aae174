"""Where to split a panel, and cutting it along its seams."""

from __future__ import annotations

from collections.abc import Sequence

from core.project.model import Panel, SeamLine
from core.shop import Cutter
from core.splitting.assembly import AssemblyStep, assembly_steps
from core.splitting.boards import (
    alternating,
    board_findings,
    boards_of,
    same_thickness,
    with_boards,
)
from core.splitting.limits import door_finding, fit_piece, limit_findings, limits_for
from core.splitting.model import Piece, PieceLimits, Proposal, Seam, SplitPanel
from core.splitting.planner import propose
from core.splitting.split import split_panel, turns_for
from core.splitting.wanted import usual_line, ways_to_split

_USUAL_THICKNESS_MM = 18.0  # the commonest board; only sets default tooth sizes


def split(
    panel: Panel,
    seams: Sequence[SeamLine],
    fit: float,
    cutter: Cutter | float,
    *,
    thickness_mm: float = _USUAL_THICKNESS_MM,
) -> tuple[Piece, ...]:
    """The pieces of a panel cut along seams.

    fit: total play across a joint, mm. cutter: the bit, or its diameter in mm. Loose keys come
    last. A seam that cannot be cut leaves the panel whole; split_panel says why.
    """
    bit = cutter if isinstance(cutter, Cutter) else Cutter(float(cutter))
    return split_panel(
        panel, tuple(seams), cutter=bit, thickness_mm=thickness_mm, fit_mm=fit
    ).pieces


__all__ = [
    "AssemblyStep",
    "Piece",
    "PieceLimits",
    "Proposal",
    "Seam",
    "SplitPanel",
    "alternating",
    "assembly_steps",
    "board_findings",
    "boards_of",
    "door_finding",
    "fit_piece",
    "limit_findings",
    "limits_for",
    "propose",
    "same_thickness",
    "split",
    "split_panel",
    "turns_for",
    "usual_line",
    "ways_to_split",
    "with_boards",
]
