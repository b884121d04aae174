"""T-bones of seams cut into shoulders and tips, or into flanks, as chosen; the mates still fit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.geometry import Region, Ring
from core.joints import STYLES
from core.joints.access import bit_leaves
from core.project.model import Panel, SeamLine, StyleChoice
from core.project.refit import ReliefKind, ReliefSide
from core.shop import Cutter
from core.splitting import SplitPanel, split_panel

BOARD = Panel("p", "Board", Region.of(Ring.rectangle(0, 0, 600, 300)), material="Birch")
BIT = Cutter(6.0)


def split(kind: ReliefKind, side: ReliefSide, style: str = "finger") -> SplitPanel:
    line = SeamLine(
        ((300.0, 0.0), (300.0, 300.0)), StyleChoice(style), relief=kind, relief_side=side
    )
    return split_panel(BOARD, (line,), cutter=BIT, thickness_mm=18.0, fit_mm=0.2)


def beyond(done: SplitPanel) -> tuple[float, float]:
    """How far reliefs cut beyond flanks (along the seam, y) and beyond shoulders (x), mm²."""
    plain = split(ReliefKind.NONE, ReliefSide.ENDS)
    along = across = 0.0
    for piece, sharp in zip(done.pieces, plain.pieces, strict=True):
        gone = sharp.cut.polygon.difference(piece.cut.polygon)
        for part in getattr(gone, "geoms", [gone]):
            if part.area < 1e-3:
                continue
            x1, y1, x2, y2 = part.bounds
            if x2 - x1 > y2 - y1:
                across += part.area
            else:
                along += part.area
    return along, across


def test_the_side_chosen_is_the_side_that_is_cut() -> None:
    ends_along, ends_across = beyond(split(ReliefKind.T_BONE, ReliefSide.ENDS))
    walls_along, walls_across = beyond(split(ReliefKind.T_BONE, ReliefSide.WALLS))
    # A half disc beyond one side only: as wide as the bit along it, a radius deep.
    assert ends_along > 100 and ends_across == 0.0
    assert walls_across > 100 and walls_along == 0.0
    assert ends_along == pytest.approx(walls_across, rel=0.05)


@pytest.mark.parametrize("side", list(ReliefSide))
@pytest.mark.parametrize("style", ["finger", "dovetail"])
def test_whichever_side_the_mates_go_together_as_really_cut(side: ReliefSide, style: str) -> None:
    done = split(ReliefKind.T_BONE, side, style)
    assert done.ok
    left, right = (
        bit_leaves(p.cut.region.flattened(5e-4), BIT.radius_mm - 2e-3) for p in done.pieces
    )
    assert left.intersection(right).buffer(-0.005).is_empty


def test_other_reliefs_do_not_ask_for_a_side() -> None:
    one = split(ReliefKind.DOG_BONE, ReliefSide.ENDS)
    two = split(ReliefKind.DOG_BONE, ReliefSide.WALLS)
    assert [p.cut.digest() for p in one.pieces] == [p.cut.digest() for p in two.pieces]
    assert replace(SeamLine(()), relief_side=ReliefSide.WALLS) != SeamLine(())


def test_a_seam_without_relief_says_how_many_corners_stay_round() -> None:
    plain = split(ReliefKind.NONE, ReliefSide.ENDS)
    (note,) = [f for f in plain.findings if f.code == "relief-left-out"]
    assert note.severity == "note" and note.panel == "p" and note.at is not None
    corners = sum(
        len(j.corners) for s in split(ReliefKind.DOG_BONE, ReliefSide.ENDS).seams for j in s.joints
    )
    assert note.message.startswith(f"{corners} inside corners of a seam")
    for style in ("rounded", "wave"):
        name = next(n for n in STYLES if n.startswith(style))
        done = split(ReliefKind.NONE, ReliefSide.ENDS, name)
        assert not [f for f in done.findings if f.code == "relief-left-out"]
