"""Re-cutting the pieces of a split panel."""

from __future__ import annotations

from dataclasses import replace

from core.errors import SeamwrightError
from core.findings import Finding, Severity
from core.refit.walls import RefitCut, refit_cut
from core.splitting.model import SplitPanel


def refit_split(split: SplitPanel, cut: RefitCut) -> SplitPanel:
    """A split panel with the walls of drawn joints moved on every piece's cut.

    cut: from :func:`core.refit.refit_panel`. Outlines stay as drawn, so they still partition
    the panel; loose pieces are no part of it. A piece that cannot be re-cut stays as it was and
    gives a stop finding. Pockets and dados are re-cut by giving split_panel the re-cut features.
    """
    if not cut:
        return split
    pieces = []
    findings: list[Finding] = []
    for piece in split.pieces:
        if piece.loose:
            pieces.append(piece)
            continue
        try:
            region = refit_cut(piece.cut.region, cut)
        except SeamwrightError as problem:
            spot = piece.cut.region.polygon.representative_point()
            findings.append(
                Finding(
                    "refit-failed",
                    Severity.STOP,
                    f"The joints of {piece.name or piece.id} cannot be re-cut: "
                    f"{problem.what[:1].lower()}{problem.what[1:]}",
                    split.panel_id,
                    (float(spot.x), float(spot.y)),
                    "Move the seam away from the joint, or leave the joint as drawn.",
                )
            )
            pieces.append(piece)
            continue
        pieces.append(replace(piece, cut=replace(piece.cut, region=region)))
    return replace(split, pieces=tuple(pieces), findings=(*split.findings, *findings))
