"""Splitting does not depend on where a panel lies, and proposals keep what they promise."""

from __future__ import annotations

import math
import random

import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from core.geometry import Motion, Region, Ring
from core.project.model import Panel, SeamLine, StyleChoice
from core.shop import Cutter
from core.splitting import PieceLimits, fit_piece, propose, split_panel
from tests.properties.seam_cases import (
    BOOK,
    TOOTHED,
    curvy_outline,
    notched_outline,
    random_case,
)

QUICK = settings(
    max_examples=5, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck)
)


def moved_line(line: SeamLine, motion: Motion) -> SeamLine:
    sign = -1.0 if motion.mirrored else 1.0
    return SeamLine(
        tuple(motion.apply(*p) for p in line.points),
        line.style,
        # A mirrored seam has its teeth on the other side of the way it is walked.
        turned_over=line.turned_over != motion.mirrored,
        relief=line.relief,
        bulges=tuple(b * sign for b in line.bulges),
    )


@pytest.mark.parametrize("style", TOOTHED)
@QUICK
@given(
    seed=st.integers(0, 10**6),
    turn=st.floats(0, 360),
    x=st.floats(-5000, 5000),
    mirrored=st.booleans(),
)
def test_a_panel_moved_turned_or_mirrored_gives_the_same_pieces(
    style: str, seed: int, turn: float, x: float, mirrored: bool
) -> None:
    case = random_case(seed, style)
    motion = Motion(x, -x / 3, turn, mirrored)
    plain = Panel("P1", "panel", case.panel.region)
    laid = Panel("P1", "panel", case.panel.region.moved(motion))
    results = [
        split_panel(
            p,
            lines,
            cutter=case.cutter,
            thickness_mm=case.thickness_mm,
            fit_mm=0.2,
            styles=BOOK,
        )
        for p, lines in (
            (plain, case.seams),
            (laid, tuple(moved_line(line, motion) for line in case.seams)),
        )
    ]
    assert results[0].ok == results[1].ok
    if not results[0].ok:
        return
    areas = [sorted(p.cut.region.area_mm2 for p in r.pieces) for r in results]
    assert areas[0] == pytest.approx(areas[1], rel=1e-7)
    assert sum(s.teeth for s in results[0].seams) == sum(s.teeth for s in results[1].seams)


@settings(QUICK, max_examples=10)
@given(seed=st.integers(0, 10**6))
def test_pieces_of_every_proposal_fit_and_partition_the_panel(seed: int) -> None:
    rng = random.Random(seed)
    outer = curvy_outline(rng) if rng.random() < 0.5 else notched_outline(rng)
    region = Region.of(outer)
    if not region.polygon.is_valid:
        return
    panel = Panel("P1", "panel", region)
    limits = PieceLimits.travel(rng.uniform(500, 1000), rng.uniform(400, 700))
    style = rng.choice(["finger", "dovetail", "rounded", "wave", "butt"])
    for proposal in propose(panel, limits, style, Cutter(6.0), budget=400)[:2]:
        if any(f.severity == "stop" for f in proposal.findings):
            return
        assert proposal.lower_bound <= proposal.pieces
        made = split_panel(panel, proposal.seams, cutter=Cutter(6.0), thickness_mm=18.0)
        pieces = [p for p in made.pieces if not p.loose]
        assert made.ok
        assert len(pieces) == proposal.pieces
        for piece in pieces:
            fit = fit_piece(piece.cut.polygon, limits)
            assert fit is not None
            assert fit.fits
        union = shapely.union_all([p.region.polygon for p in pieces])
        assert union.symmetric_difference(region.polygon).area <= 1e-6 * region.area_mm2


@QUICK
@given(width=st.floats(300, 2500), height=st.floats(200, 900))
def test_no_rectangle_is_said_to_need_more_than_a_plain_grid(width: float, height: float) -> None:
    # A grid of pieces no larger than the room is a plan, so no bound may exceed it.
    limits = PieceLimits.travel(906, 606)
    panel = Panel("P1", "panel", Region.of(Ring.rectangle(0, 0, width, height)))
    proposal = propose(panel, limits, StyleChoice("butt"), Cutter(6.0), budget=300)[0]
    grid = min(
        math.ceil(width / 900) * math.ceil(height / 600),
        math.ceil(width / 600) * math.ceil(height / 900),
    )
    assert proposal.lower_bound <= grid
    assert proposal.pieces <= max(grid, 1)
