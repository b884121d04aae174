"""Which fit a joint is cut with: its own, else the one of its class, board and bit."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from core.geometry import Region, Ring
from core.plan import plan_json
from core.planning import cut_panels, plan_project
from core.project.model import Panel, Project, SeamLine, StyleChoice
from core.project.refit import ReliefKind
from core.shop import Cutter, FitSetting, JointClass, Machine, Material, Reading, Shop, Stock
from core.splitting.split import overlap_area
from core.test_pieces import TestResult, fit_findings, keep_result
from core.test_pieces import tested as was_tested

BIRCH = Material("Birch ply 18", 18.0, (Reading(17.6),))
LINE = SeamLine(((500.0, 0.0), (500.0, 300.0)))


def project(*seams: SeamLine, fits: tuple[FitSetting, ...] = ()) -> Project:
    board = Panel(
        "p",
        "Board",
        Region.of(Ring.rectangle(0, 0, 1000, 300)),
        material=BIRCH.name,
        seams=seams,
    )
    shop = Shop(
        Machine("Router", (900, 600), (900, 600), (Cutter(6.0),)),
        (BIRCH,),
        (Stock("s1", BIRCH.name, 2500, 1250),),
        fits=fits,
    )
    return Project("Fits", panels=(board,), shop=shop)


def fit_of(plan: Project) -> float:
    (seam,) = cut_panels(plan).seams
    return seam.fit_mm


def test_a_seam_takes_the_fit_of_what_its_joint_is_for() -> None:
    fits = (FitSetting(0.1), FitSetting(0.3, JointClass.KNOCK_DOWN))
    assert fit_of(project(LINE, fits=fits)) == 0.1
    loose = replace(LINE, joint_class=JointClass.KNOCK_DOWN)
    assert fit_of(project(loose, fits=fits)) == 0.3
    assert fit_of(project(replace(loose, fit_mm=0.22), fits=fits)) == 0.22


def test_the_most_special_setting_wins_board_before_bit_before_none() -> None:
    rows = (
        FitSetting(0.11),
        FitSetting(0.12, cutter_mm=6.0),
        FitSetting(0.13, material=BIRCH.name),
        FitSetting(0.14, material=BIRCH.name, cutter_mm=6.0),
        FitSetting(0.19, material=BIRCH.name, cutter_mm=3.0),
    )
    for count in range(1, 5):
        assert fit_of(project(LINE, fits=rows[:count])) == pytest.approx(0.10 + count / 100)
    assert fit_of(project(LINE, fits=rows)) == pytest.approx(0.14)


def test_the_result_of_a_test_piece_is_what_seams_are_cut_with() -> None:
    # Without reliefs, whose discs stand where the walls do.
    plan = project(replace(LINE, relief=ReliefKind.NONE), fits=(FitSetting(0.1),))
    before = cut_panels(plan)
    assert "fit-not-tested" in [f.code for f in before.findings]
    kept = keep_result(plan, TestResult(BIRCH.name, Cutter(6.0), 0.2, 0.25))
    after = cut_panels(kept)
    assert after.seams[0].fit_mm == 0.25
    assert "fit-not-tested" not in [f.code for f in after.findings]
    # Looser never shares board, and every piece only loses.
    for tight, loose in zip(before.pieces, after.pieces, strict=True):
        assert loose.cut.polygon.difference(tight.cut.polygon).area < 1e-6


def test_each_board_and_class_is_noted_once_and_not_after_its_own_test() -> None:
    plan = project(LINE)
    joints = [(BIRCH.name, JointClass.GLUED)] * 3 + [(BIRCH.name, JointClass.KNOCK_DOWN)]
    assert len(fit_findings(plan, joints)) == 2
    kept = keep_result(plan, TestResult(BIRCH.name, Cutter(6.0), 0.2))
    assert was_tested(kept.shop, BIRCH.name, JointClass.GLUED)
    (left,) = fit_findings(kept, joints)
    assert "knock-down" in left.message
    # Another bit was not tested.
    other = replace(kept.shop, machine=replace(kept.shop.machine, cutters=(Cutter(3.0),)))
    assert not was_tested(other, BIRCH.name, JointClass.GLUED)


def test_mates_share_no_board_whatever_the_class() -> None:
    from core.splitting import split_panel

    for joint_class in JointClass:
        line = replace(LINE, joint_class=joint_class)
        done = split_panel(
            project(line).panels[0],
            (line,),
            cutter=Cutter(6.0),
            thickness_mm=17.6,
            fit_mm=lambda seam: 0.3 if seam.joint_class is JointClass.KNOCK_DOWN else 0.1,
        )
        assert overlap_area(done.pieces) < 1e-9


def test_a_seam_across_a_hole_is_given_in_the_plan_stretch_by_stretch() -> None:
    begun = project(LINE)
    hole = Region.of(Ring.rectangle(0, 0, 1000, 300), [Ring.circle(500, 150, 60)])
    board = replace(begun.panels[0], region=hole)
    plan = plan_project(replace(begun, panels=(board,)), steps=1)
    (seam,) = plan_json(plan)["seams"]
    first, second = seam["stretches"]
    assert seam["profile"] == first + second
    # Not one point of either lies in the hole, nor does the line between two of one.
    for stretch in (first, second):
        assert all(math.dist(point, (500.0, 150.0)) > 59.99 for point in stretch)
        assert {y < 150.0 for _, y in stretch} in ({True}, {False})


def test_how_far_a_seam_closes_when_pushed_home_is_told_as_finely_as_its_fit() -> None:
    wave = replace(LINE, style=StyleChoice("wave"), fit_mm=0.15)
    (seam,) = cut_panels(project(wave)).seams
    assert "Pushed home it closes up by 0.075 mm." in seam.notes
