"""Which drawn joints are re-cut, which are asked about, and what stays."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest

from core.geometry import Region, Ring
from core.outlines.recognise import FeatureRef
from core.planning import cut_panels
from core.project.codec import from_plain, to_plain
from core.project.model import Project
from core.project.refit import (
    KeepWall,
    Recut,
    RefitDecision,
    ReliefKind,
    ReliefSide,
    SizeHold,
)
from core.refit import (
    decide,
    propose_refit,
    refit_cut,
    refit_panel,
    size_changes,
    without_orphans,
)
from core.shop import Cutter, Material
from core.shop import Reading as Caliper
from tests.unit.refit.refit_fittings import (
    BOARD,
    PLAIN,
    codes,
    hole_size,
    notched,
    panel,
    project,
    slotted,
    toothed,
)

# --- switches ----------------------------------------------------------------------------------


def test_no_wall_moves_until_it_is_asked_for() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    plan = project(part, refit=False, relief=PLAIN)
    done = refit_panel(plan, part)
    assert done.panel.region == part.region and done.cut.walls == ()
    assert [f.code for f in done.findings] == ["relief-left-out"]
    assert done.items[0].certain and not done.items[0].applied


# --- relief without re-cutting -----------------------------------------------------------------


def test_a_joint_left_as_drawn_still_lets_its_mates_corners_in() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    done = refit_panel(project(part, refit=False), part)
    hole = done.panel.region.holes[0]
    # Each of four corners overcut by 0.293 r beyond both sides (plane trigonometry), walls stay.
    over = 3.0 * (1 - math.sqrt(0.5))
    assert hole.bounds == pytest.approx((50 - over, 50 - over, 68 + over, 150 + over), abs=1e-6)
    assert done.cut.walls == () and done.findings == ()
    assert sum(1 for _, _, bulge in hole.edges() if bulge) == 4
    assert refit_panel(project(part, refit=False), replace(part, refit=False)).panel.region == (
        part.region
    )


def test_a_slot_drawn_so_loose_that_no_corner_enters_gets_no_relief() -> None:
    # Drawn 18.05 for 16 measured: the mate stays 1.025 mm off a wall; a bit of radius 1 mm
    # touches the floor 1 mm from it.
    thin = Material("Thin 18", 18.0, (Caliper(16.0),))
    strip = notched(600, 80, [150, 450], 18.05, 40.0, top=True)
    part = panel("Strip", strip, material=thin.name)
    plan = project(part, refit=False, materials=(thin,), cutter=Cutter(2.0))
    assert refit_panel(plan, part).panel.region == part.region


def test_relief_can_be_chosen_per_joint_and_per_side() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    ref = propose_refit(project(part))[0].ref

    def hole(decision: RefitDecision) -> tuple[float, float]:
        own = replace(part, refits=(decision,))
        return hole_size(refit_panel(project(own, refit=False), own).panel.region)

    over = 3.0
    ends = RefitDecision(ref, relief=ReliefKind.T_BONE)
    assert hole(ends) == pytest.approx((18.0, 100.0 + 2 * over), abs=1e-6)
    walls = RefitDecision(ref, relief=ReliefKind.T_BONE, relief_side=ReliefSide.WALLS)
    assert hole(walls) == pytest.approx((18.0 + 2 * over, 100.0), abs=1e-6)
    assert hole(RefitDecision(ref, relief=PLAIN)) == (18.0, 100.0)
    # Said no to, it stays wholly as drawn; with a relief named that alone is cut.
    assert hole(RefitDecision(ref, Recut.NO)) == (18.0, 100.0)
    width, _ = hole(RefitDecision(ref, Recut.NO, relief=ReliefKind.DOG_BONE))
    assert width > 19.0


def test_an_undersize_bit_goes_further_into_a_corner_by_what_it_is_short() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    worn = Cutter(6.0, measured_mm=5.9)
    sharp = refit_panel(project(part, refit=False), part).panel.region
    more = refit_panel(project(part, refit=False, cutter=worn), part).panel.region
    # The disc stands 0.05 mm nearer along the bisector: 0.05 / √2 a side.
    deeper = hole_size(more)[0] - hole_size(sharp)[0]
    assert deeper == pytest.approx(2 * 0.05 * math.sqrt(0.5), abs=1e-6)


def test_corners_without_room_for_a_relief_are_told_and_left_out_ones_noted() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    plan = project(part, relief=PLAIN)
    left_out = next(f for f in refit_panel(plan, part).findings if f.code == "relief-left-out")
    assert left_out.severity == "note" and "4 inside corners" in left_out.message
    # A comb whose gaps are hardly wider than the bit has no room for two reliefs in a gap.
    tight = panel("Comb", toothed(400, 9 * 6.4, 9, 18.0, tip_first=True))
    mate = panel("Mate", toothed(300, 9 * 6.4, 9, 18.0, tip_first=False))
    found = codes(project(tight, mate, cutter=Cutter(6.0)), tight)
    assert "relief-no-room" in found


def test_a_panel_can_be_switched_off_and_on_against_the_project() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    off = replace(part, refit=False)
    assert refit_panel(project(off), off).panel is off
    on = replace(part, refit=True)
    assert refit_panel(project(on, refit=False), on).panel.region != part.region


def test_a_yes_recuts_one_joint_where_nothing_else_is_recut_and_a_no_spares_one() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100), Ring.rectangle(250, 50, 18, 100))
    plan = project(part, refit=False, relief=PLAIN)
    ref = propose_refit(plan)[0].ref
    yes = replace(part, refits=(RefitDecision(ref, Recut.YES),))
    region = refit_panel(replace(plan, panels=(yes,)), yes).panel.region
    assert sorted(round(hole_size(region, i)[0], 6) for i in (0, 1)) == [17.7, 18.0]
    no = replace(part, refits=(RefitDecision(ref, Recut.NO),))
    plan = project(no, relief=PLAIN)
    region = refit_panel(plan, no).panel.region
    assert sorted(round(hole_size(region, i)[0], 6) for i in (0, 1)) == [17.7, 18.0]


# --- decisions ---------------------------------------------------------------------------------


def test_decisions_are_kept_in_the_project_file_and_old_files_still_read() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    ref = propose_refit(project(part))[0].ref
    decision = RefitDecision(
        ref, Recut.YES, "Birch ply 18", KeepWall.LOW, SizeHold.INSIDE, 0.1, 0.2
    )
    plan = project(replace(part, refits=(decision,)))
    text = json.dumps(to_plain(plan))
    assert from_plain(Project, json.loads(text)) == plan
    old = json.loads(text)
    del old["refit_rules"]
    for one in old["panels"]:
        del one["refits"]
    assert from_plain(Project, old).panels[0].refits == ()


def test_a_decision_survives_a_small_change_of_the_drawing_and_an_orphan_is_listed() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    ref = propose_refit(project(part))[0].ref
    decided = (RefitDecision(ref, Recut.NO),)
    near = slotted(Ring.rectangle(50.02, 50.01, 18, 100), refits=decided)
    done = refit_panel(project(near), near)
    assert done.panel is near and not done.orphans
    gone = slotted(Ring.rectangle(250, 50, 18, 100), refits=decided)
    done = refit_panel(project(gone), gone)
    assert done.orphans == decided
    assert [f.code for f in done.findings] == ["refit-orphan", "refit-done"]
    foreign = (RefitDecision(FeatureRef("slot", (9.0, 9.0), (0.0, 0.0))),)
    assert refit_panel(project(part), replace(part, refits=foreign)).orphans == foreign


def test_deciding_again_replaces_the_decision_and_deciding_nothing_takes_it_out() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    ref = propose_refit(project(part))[0].ref
    once = decide(part, RefitDecision(ref, Recut.NO))
    near = replace(ref, anchor=(ref.anchor[0] + 0.01, ref.anchor[1]))
    twice = decide(once, RefitDecision(near, Recut.YES))
    assert [d.recut for d in twice.refits] == [Recut.YES]
    assert decide(twice, RefitDecision(ref)).refits == ()


def test_orphans_can_be_cleared_and_others_stay() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    ref = propose_refit(project(part))[0].ref
    kept, gone = RefitDecision(ref, Recut.NO), RefitDecision(FeatureRef("slot", (1.0, 2.0), (3, 4)))
    part = replace(part, refits=(kept, gone))
    assert without_orphans(project(part), part).refits == (kept,)


# --- what is told --------------------------------------------------------------------------------


def test_joints_for_an_unmeasured_board_are_made_for_its_nominal() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    plan = project(part, materials=(Material("Birch ply 18", 18.0),), relief=PLAIN)
    done = refit_panel(plan, part)
    assert hole_size(done.panel.region)[0] == pytest.approx(18.1)


def test_a_slot_narrower_than_the_thinnest_bit_is_a_stop_once_pieces_are_cut() -> None:
    thin = Material("Ply 4", 4.0, (Caliper(3.8),))
    part = panel("Tray", BOARD, [Ring.rectangle(50, 50, 4, 60)], material=thin.name)
    found = [f for f in cut_panels(project(part, materials=(thin,))).findings if f.panel]
    stop = next(f for f in found if f.code == "slot-narrower-than-bit")
    assert stop.severity == "stop" and "3.9 mm" in stop.message


def test_panels_whose_size_changes_are_listed() -> None:
    top = panel("Top", toothed(600, 300, 9, 18.0, tip_first=True))
    side = panel("Side", toothed(400, 300, 9, 18.0, tip_first=False))
    assert size_changes(project(top, side)) == ()
    changes = size_changes(project(top, side, hold=SizeHold.INSIDE))
    assert [(c.panel, c.what, c.before_mm, round(c.after_mm, 6)) for c in changes] == [
        ("Top", "width", 600.0, 599.2),
        ("Side", "width", 400.0, 399.2),
    ]


def test_every_moved_wall_is_listed_with_its_old_and_new_place() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    item = propose_refit(project(part))[0]
    moved = {
        tuple(sorted((w.start[0], w.moved[0][0]))) for w in item.moved_walls if w.name == "wall"
    }
    assert {(round(a, 6), round(b, 6)) for a, b in moved} == {(50.0, 50.15), (67.85, 68.0)}


def test_joints_too_close_to_be_recut_are_left_and_the_others_still_done() -> None:
    # Two slots 0.3 mm apart grow into each other in a thicker board.
    thick = Material("Birch ply 18", 18.0, (Caliper(18.4),))
    part = slotted(
        Ring.rectangle(50, 50, 18, 100),
        Ring.rectangle(68.3, 50, 18, 100),
        Ring.rectangle(200, 50, 18, 100),
    )
    done = refit_panel(project(part, materials=(thick,), relief=PLAIN), part)
    assert "refit-failed" in [f.code for f in done.findings]
    assert sum(item.applied for item in done.items) == 2
    assert done.panel.region.polygon.is_valid


# --- relief ----------------------------------------------------------------------------------


def test_only_inside_corners_that_a_mate_enters_are_relieved() -> None:
    part = panel(
        "Seat",
        Ring.of([(0, 0), (400, 0), (400, 150), (250, 150), (250, 300), (0, 300)]),
        [Ring.rectangle(50, 50, 18, 100)],
    )
    region = refit_panel(project(part), part).panel.region
    assert not region.outer.has_arcs  # the corner of the L is no joint
    assert sum(1 for v in region.holes[0].vertices if v[2]) == 4


def test_a_slot_little_wider_than_the_bit_gets_round_ends_that_clear_the_tenon() -> None:
    thin = Material("Ply 6.5", 6.5, (Caliper(6.3),))
    part = panel("Tray", BOARD, [Ring.rectangle(50, 50, 6.5, 60)], material=thin.name)
    region = refit_panel(project(part, materials=(thin,)), part).panel.region
    ring = region.holes[0]
    assert sum(1 for v in ring.vertices if v[2]) == 2
    from shapely.geometry import box

    tenon = box(50.1, 50.0, 56.4, 110.0)
    hole = Region.of(ring).polygon
    assert hole.contains(tenon)
    # A 6 mm bit gets everywhere.
    assert hole.buffer(-2.999).buffer(2.999).contains(tenon)


def test_a_t_bone_leaves_the_walls_that_carry_the_fit_whole() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    region = refit_panel(project(part, relief=ReliefKind.T_BONE), part).panel.region
    x1, y1, x2, y2 = region.holes[0].bounds
    assert (x1, x2) == pytest.approx((50.15, 67.85))
    assert y1 < 49.0 and y2 > 151.0


def test_an_undersize_bit_gets_a_larger_relief() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    full = refit_panel(project(part), part).panel.region.holes[0].bounds
    worn = refit_panel(project(part, cutter=Cutter(6.0, measured_mm=5.9)), part)
    assert worn.panel.region.holes[0].bounds[0] < full[0]


# --- pieces ----------------------------------------------------------------------------------


def test_a_piece_has_the_same_walls_as_the_panel_it_comes_from() -> None:
    top = panel(
        "Top", toothed(600, 300, 9, 18.0, tip_first=True), [Ring.rectangle(80, 100, 18, 100)]
    )
    plan = project(top, panel("Side", toothed(400, 300, 9, 18.0, tip_first=False)))
    done = refit_panel(plan, top)
    # A plain cut at x = 310, with a seam's edge retreated by 0.05 on the left piece.
    from shapely.geometry import box

    half = Region.from_polygon(top.region.polygon.intersection(box(-1, -1, 309.95, 301)))
    piece = refit_cut(half, done.cut)
    whole = done.panel.region.polygon.intersection(box(-1, -1, 309.95, 301))
    assert piece.polygon.symmetric_difference(whole).area < 1e-3
    other = Region.from_polygon(top.region.polygon.intersection(box(310.05, -1, 700, 301)))
    assert refit_cut(other, done.cut).polygon.is_valid


def test_a_seam_through_a_row_of_teeth_meets_the_moved_floor() -> None:
    top = panel("Top", toothed(600, 300, 9, 18.0, tip_first=True))
    plan = project(top, panel("Side", toothed(400, 300, 9, 18.0, tip_first=False)), relief=PLAIN)
    done = refit_panel(plan, top)
    from shapely.geometry import box

    # Along y = 150, through the middle tooth on both ends.
    low = Region.from_polygon(top.region.polygon.intersection(box(-1, -1, 700, 149.9)))
    piece = refit_cut(low, done.cut)
    whole = done.panel.region.polygon.intersection(box(-1, -1, 700, 149.9))
    assert piece.polygon.symmetric_difference(whole).area < 1e-6


def test_a_region_without_any_of_the_walls_is_returned_as_it_is() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    cut = refit_panel(project(part), part).cut
    elsewhere = Region.of(Ring.rectangle(300, 200, 50, 50))
    assert refit_cut(elsewhere, cut) is elsewhere
