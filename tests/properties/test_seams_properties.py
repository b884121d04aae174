"""What must hold of every seam of every style on random panels.

Outlines partition the panel; outer edges stay; teeth lie in the board; every flank has its
gap; what the bit really leaves goes together. tests/benchmarks/splitting.py runs the same
checks over thousands of cases by hand.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from itertools import product

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.affinity import translate

from core.geometry import Region, Ring
from core.joints import JointContext
from core.joints.prove import as_cut, held, overlap, play_mm
from core.project.model import Panel, ReliefKind, SeamLine, StyleChoice
from core.shop import Cutter
from core.splitting import assembly_steps
from tests.properties.seam_cases import (
    BOOK,
    LOPSIDED,
    REFUSALS,
    STYLES,
    TOOTHED,
    Case,
    board_pieces,
    check_all,
    check_disjoint,
    random_case,
)

QUICK = settings(
    max_examples=4,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


@pytest.mark.parametrize("style", (*STYLES, LOPSIDED))
@QUICK
@given(seed=st.integers(0, 10**6))
def test_every_split_keeps_its_invariants_or_says_why_not(style: str, seed: int) -> None:
    case = random_case(seed, style)
    split = case.split()
    if not split.ok:
        stops = {f.code for f in split.findings if f.severity == "stop"}
        assert stops <= REFUSALS
        assert len(split.pieces) == 1
        return
    check_all(case, split)
    assert len(assembly_steps(split)) == len(split.assembly_order)


def straight_case(seed: int, style: str, relief: ReliefKind = ReliefKind.DOG_BONE) -> Case:
    """A random task with one straight seam in a plain direction."""
    case = random_case(seed, style)
    x1, y1, x2, y2 = case.panel.region.bounds
    middle = (x1 + x2) / 2 + 11.0
    line = SeamLine(((middle, y1 - 20), (middle, y2 + 20)), StyleChoice(style), relief=relief)
    return Case(case.panel, (line,), case.cutter, case.thickness_mm, case.fit_mm)


@pytest.mark.parametrize("style", TOOTHED)
@settings(QUICK, max_examples=3)
@given(seed=st.integers(0, 10**6))
def test_a_joint_moved_one_millimetre_along_its_seam_collides(style: str, seed: int) -> None:
    case = straight_case(seed, style)
    split = case.split()
    cuts = board_pieces(split)
    if not split.ok or len(cuts) != 2 or not split.seams[0].teeth:
        return
    one, two = (c.region for c in cuts)
    for direction in (90.0, 270.0):
        assert held(one, two, case.cutter.radius_mm, direction, way_mm=1.0)


@pytest.mark.parametrize("style", TOOTHED)
@settings(QUICK, max_examples=3)
@given(seed=st.integers(0, 10**6))
def test_pulling_apart_is_blocked_exactly_where_the_style_says_it_holds(
    style: str, seed: int
) -> None:
    case = straight_case(seed, style)
    split = case.split()
    cuts = board_pieces(split)
    if not split.ok or len(cuts) != 2 or not split.seams[0].teeth:
        return
    left, right = sorted(cuts, key=lambda c: c.region.bounds[0])
    context = JointContext(case.thickness_mm, case.cutter, case.fit_mm)
    says = BOOK.get(style).properties(StyleChoice(style), context).holds
    tooth = BOOK.get(style).tooth(StyleChoice(style), context)
    assert tooth is not None
    way = tooth.depth_mm + 2.0
    blocked = held(left.region, right.region, case.cutter.radius_mm, 0.0, way_mm=way)
    assert blocked == says


def plays_of(case: Case, fits_mm: tuple[float, ...]) -> list[float] | None:
    """Play both ways along the seam of the simulated joint at each fit, mm."""
    plays = []
    for fit in fits_mm:
        split = case.split(fit)
        cuts = board_pieces(split)
        if not split.ok or len(cuts) != 2 or not split.seams[0].teeth:
            return None
        one, two = (c.region for c in cuts)
        plays.append(
            sum(play_mm(one, two, case.cutter.radius_mm, turn, most_mm=1.0) for turn in (90, 270))
        )
    return plays


@pytest.mark.parametrize("style", (*TOOTHED, LOPSIDED))
@settings(QUICK, max_examples=2)
@given(
    seed=st.integers(0, 10**6),
    relief=st.sampled_from((ReliefKind.DOG_BONE, ReliefKind.T_BONE, ReliefKind.SMALLEST)),
)
def test_a_larger_fit_is_never_tighter_and_its_play_is_the_fit(
    style: str, seed: int, relief: ReliefKind
) -> None:
    case = straight_case(seed, style, relief)
    fits = (0.1, 0.2, 0.3, 0.6)
    plays = plays_of(case, fits)
    if plays is None:
        return
    assert all(looser > tighter for tighter, looser in itertools.pairwise(plays))
    context = JointContext(case.thickness_mm, case.cutter, 0.1)
    tooth = BOOK.get(style).tooth(StyleChoice(style), context)
    assert tooth is not None
    if style in ("finger", "dovetail"):
        # Across flanks that stand square to the movement the play is the fit itself; leaning
        # flanks give a little more.
        lean = math.cos(math.atan2(tooth.undercut_mm, tooth.depth_mm))
        assert plays == pytest.approx([fit / lean for fit in fits], abs=0.008)
    if style.startswith("own:"):
        # Half the fit at each flank, both ways; what its corners are opened by must not eat it.
        assert all(play > fit - 0.008 for play, fit in zip(plays, fits, strict=True))


@pytest.mark.parametrize("relief", (ReliefKind.DOG_BONE, ReliefKind.T_BONE, ReliefKind.SMALLEST))
@pytest.mark.parametrize("bulge", (-0.2, 0.0004, 0.05, 0.3))
@pytest.mark.parametrize("style", ("finger", "dovetail"))
def test_mates_that_meet_along_a_curve_without_a_gap_share_nothing_where_reliefs_end(
    style: str, bulge: float, relief: ReliefKind
) -> None:
    panel = Panel("P1", "panel", Region.of(Ring.rectangle(0, 0, 900, 500)))
    line = SeamLine(((450, 0), (450, 500)), StyleChoice(style), relief=relief, bulges=(bulge,))
    smooth = replace(line, style=StyleChoice(style, (("rounded", 1.0),)))
    for fit, seam in product((0.0, 0.15, 0.4), (line, smooth)):
        case = Case(panel, (seam,), Cutter(6.0), 18.0, fit)
        split = case.split()
        assert split.ok and split.seams[0].teeth
        check_disjoint(split)


@pytest.mark.parametrize("diameter", (3.0, 6.0, 6.35))
def test_a_lopsided_tooth_of_arcs_and_blunt_corners_has_the_play_that_was_asked(
    diameter: float,
) -> None:
    # Blunt corners once lost their relief as the fit grew, and the joint grew tighter.
    panel = Panel("P1", "panel", Region.of(Ring.rectangle(0, 0, 500, 220)))
    line = SeamLine(((250, -20), (250, 240)), StyleChoice(LOPSIDED), relief=ReliefKind.DOG_BONE)
    case = Case(panel, (line,), Cutter(diameter), 12.0, 0.1)
    fits = (0.05, 0.1, 0.2, 0.3, 0.4, 0.6)
    plays = plays_of(case, fits)
    assert plays is not None
    assert all(looser > tighter for tighter, looser in itertools.pairwise(plays))
    assert all(fit - 0.005 < play < 1.06 * fit for play, fit in zip(plays, fits, strict=True))


@settings(QUICK, max_examples=8)
@given(seed=st.integers(0, 10**6), style=st.sampled_from(("butt", "butterfly")))
def test_keys_drop_into_the_pockets_of_both_mates(seed: int, style: str) -> None:
    case = straight_case(seed, style)
    split = case.split()
    if not split.ok or len(split.seams) != 1 or not split.seams[0].keys:
        return
    seam = split.seams[0]
    (key,) = (p for p in split.pieces if p.loose)
    pockets = [p for c in board_pieces(split) for p in c.pockets if p.kind == "key"]
    shape = as_cut(key.cut.region, case.cutter.radius_mm)
    # The key's frame runs along x; the seam stands upright, so it lies as it is.
    for x, y in seam.keys:
        here = translate(shape, x, y)
        near = [p.polygon for p in pockets if p.polygon.distance(here) < 1.0]
        assert len(near) == 2
        room = near[0].union(near[1])
        assert overlap(here, here.difference(room)).is_empty
        assert here.distance(room.boundary) == pytest.approx(case.fit_mm / 2, abs=6e-3)
