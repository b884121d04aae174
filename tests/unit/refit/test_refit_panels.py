"""Which drawn joints are re-cut, which are asked about, and what stays."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest

from core.geometry import Motion, Region, Ring
from core.outlines.model import Feature, Role
from core.outlines.recognise import FeatureRef
from core.planning import cut_panels
from core.project.codec import from_plain, to_plain
from core.project.model import Panel, Project
from core.project.refit import (
    KeepWall,
    Recut,
    RefitDecision,
    ReliefKind,
    ReliefSide,
    SizeHold,
)
from core.refit import (
    Reading,
    decide,
    propose_refit,
    refit_cut,
    refit_panel,
    size_changes,
    without_orphans,
)
from core.shop import Cutter, Material
from core.shop import Reading as Caliper
from tests.unit.refit.refit_fittings import notched, panel, project, tenoned, toothed

PLAIN = ReliefKind.NONE
BOARD = Ring.rectangle(0, 0, 400, 300)


def slotted(*holes: Ring, **more: object) -> Panel:
    return panel("Front", BOARD, holes, **more)  # type: ignore[arg-type]


def hole_size(region: Region, index: int = 0) -> tuple[float, float]:
    x1, y1, x2, y2 = region.holes[index].bounds
    return x2 - x1, y2 - y1


def codes(plan: Project, part: Panel) -> list[str]:
    return [finding.code for finding in refit_panel(plan, part).findings]


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


# --- what is recognised ----------------------------------------------------------------------


def test_a_slot_is_thickness_plus_fit_by_its_length_plus_fit_about_its_middle() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    done = refit_panel(project(part, relief=PLAIN), part)
    assert done.panel.region.holes[0].bounds == pytest.approx((50.15, 49.95, 67.85, 150.05))
    assert done.panel.region.outer == part.region.outer
    walls = {(w.name, round(w.moves_mm, 6)) for w in done.items[0].walls}
    assert walls == {("wall", -0.15), ("end", 0.05)}


@pytest.mark.parametrize(
    ("keep", "low", "high"),
    [(KeepWall.LOW, 50.0, 67.7), (KeepWall.HIGH, 50.3, 68.0), (KeepWall.CENTRE, 50.15, 67.85)],
)
def test_a_slot_can_keep_either_wall(keep: KeepWall, low: float, high: float) -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    ref = propose_refit(project(part))[0].ref
    part = replace(part, refits=(RefitDecision(ref, keep=keep),))
    region = refit_panel(project(part, relief=PLAIN), part).panel.region
    x1, _, x2, _ = region.holes[0].bounds
    assert (x1, x2) == pytest.approx((low, high))


@pytest.mark.parametrize("turn", [0.0, 17.0, 90.0, 133.0])
def test_joints_are_recognised_at_any_angle(turn: float) -> None:
    motion = Motion(30.0, -20.0, turn)
    strip = Region.of(notched(600, 80, [150, 450], 18.0, 40.0, top=True)).moved(motion)
    part = Panel("Strip", "Strip", strip, material="Birch ply 18")
    done = refit_panel(project(part, relief=PLAIN), part)
    assert [i.reading for i in done.items] == [Reading.HALVING] * 2
    # Each notch loses 0.3 mm of its width over 40 mm, and gains 0.1 mm of depth.
    gained = 2 * (0.3 * 40.0 - 0.1 * 17.7)
    assert done.panel.region.area_mm2 - strip.area_mm2 == pytest.approx(gained, abs=1e-6)


def test_drawn_dog_bones_move_with_their_walls_and_stay_true_arcs_of_their_radius() -> None:
    plain = slotted(Ring.rectangle(50, 50, 18, 100))
    with_bones = refit_panel(project(plain, fit_mm=0.4), plain).panel  # 18.0 wide, dog-boned
    assert with_bones.region.holes[0].has_arcs
    done = refit_panel(project(with_bones), with_bones)
    ring = done.panel.region.holes[0]
    assert done.items[0].certain
    assert len(ring.vertices) == len(with_bones.region.holes[0].vertices)
    assert [v[2] for v in ring.vertices] == pytest.approx(
        [v[2] for v in with_bones.region.holes[0].vertices]
    )
    straight = [s for s in ring.edges() if not s[2]]
    xs = sorted({round(a[0], 6) for a, b, _ in straight if abs(a[0] - b[0]) < 1e-9})
    assert xs[-1] - xs[0] == pytest.approx(17.7)


def test_a_rounded_slot_is_asked_about_and_grows_all_round_if_wanted() -> None:
    r = 9.0
    ring = Ring.of([(59 + r, 60), (59 + r, 150, 1.0), (59 - r, 150), (59 - r, 60, 1.0)])
    part = slotted(ring)
    plan = project(part)
    assert codes(plan, part) == ["refit-ask"]
    ref = propose_refit(plan)[0].ref
    part = replace(part, refits=(RefitDecision(ref, Recut.YES),))
    done = refit_panel(replace(plan, panels=(part,)), part)
    assert done.panel.region.holes[0].bounds == pytest.approx((50.15, 51.15, 67.85, 158.85))


def test_curves_elsewhere_on_a_panel_stay_as_drawn() -> None:
    bow = 0.1
    outline = Ring.of(
        [(0, 0), (191, 0), (191, 60), (209, 60), (209, 0), (400, 0), (400, 300, bow), (0, 300)]
    )
    part = panel("Front", outline)
    done = refit_panel(project(part, relief=PLAIN), part)
    assert [i.reading for i in done.items] == [Reading.NOTCH]
    assert done.panel.region.outer.vertices[6][2] == bow
    xs = sorted(round(v[0], 6) for v in done.panel.region.outer.vertices)[2:6]
    assert xs == [191.15, 191.15, 208.85, 208.85]


def test_the_mouth_of_a_notch_in_a_curved_edge_slides_along_the_curve() -> None:
    circle = 900.0

    def height(x: float) -> float:
        return float((circle**2 - (x - 200.0) ** 2) ** 0.5) - circle

    from core.geometry.path import Carrier, bulge_on

    arc = Carrier(200.0, -circle, radius=circle, ccw=True)
    right, left = (400.0, height(400.0)), (0.0, height(0.0))
    a, b = (209.0, height(209.0)), (191.0, height(191.0))
    outline = Ring.of(
        [
            (0.0, -300.0),
            (400.0, -300.0),
            (*right, bulge_on(arc, right, a)),
            a,
            (209.0, -60.0),
            (191.0, -60.0),
            (*b, bulge_on(arc, b, left)),
            left,
        ]
    )
    part = panel("Front", outline)
    done = refit_panel(project(part, relief=PLAIN), part)
    assert [i.reading for i in done.items] == [Reading.NOTCH]
    rows = done.panel.region.outer.vertices
    assert rows[3][:2] == pytest.approx((208.85, height(208.85)), abs=1e-9)
    assert rows[6][:2] == pytest.approx((191.15, height(191.15)), abs=1e-9)
    for start, end, bulge in done.panel.region.outer.edges():
        if bulge:
            from core.geometry import arc_of

            (cx, cy), radius, _, _ = arc_of(start, end, bulge)
            assert (cx, cy, radius) == pytest.approx((200.0, -circle, circle), abs=1e-6)


def test_a_dado_is_recut_across_and_keeps_its_length_and_depth() -> None:
    dado = Feature(Role.DADO, Ring.rectangle(100, 0, 18, 300), depth_mm=6.0, layer="DADO 6")
    part = replace(slotted(), features=(dado,))
    done = refit_panel(project(part), part)
    new = done.panel.features[0]
    assert new.ring is not None
    assert new.ring.bounds == pytest.approx((100.15, 0.0, 117.85, 300.0))
    assert new.depth_mm == 6.0 and done.panel.region is not None
    assert done.panel.region == part.region


def test_a_plain_pocket_is_asked_about_and_a_mortise_pocket_is_not() -> None:
    ring = Ring.rectangle(100, 100, 18, 60)
    pocket = Feature(Role.POCKET, ring, depth_mm=9.0, layer="POCKET 9")
    part = replace(slotted(), features=(pocket,))
    assert codes(project(part), part) == ["refit-ask"]
    part = replace(part, features=(replace(pocket, layer="MORTISE 9"),))
    new = refit_panel(project(part, relief=PLAIN), part).panel.features[0].ring
    assert new is not None and new.bounds == pytest.approx((100.15, 99.95, 117.85, 160.05))


def test_openings_of_other_sizes_and_round_holes_are_no_joints() -> None:
    part = slotted(
        Ring.rectangle(50, 50, 25, 100), Ring.circle(200, 150, 9.0), Ring.rectangle(250, 50, 60, 40)
    )
    assert propose_refit(project(part)) == ()


def test_a_slot_drawn_off_nominal_is_asked_about() -> None:
    part = slotted(Ring.rectangle(50, 50, 18.2, 100))
    plan = project(part)
    assert codes(plan, part) == ["refit-ask"]
    assert "not the nominal" in refit_panel(plan, part).findings[0].message
    assert refit_panel(plan, part).panel.region == part.region


def test_a_square_hole_as_wide_as_the_board_is_asked_about() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 18))
    assert "either side" in refit_panel(project(part), part).findings[0].message


# --- mates -----------------------------------------------------------------------------------


BIRCH = Material("Birch ply 18", 18.0, (Caliper(17.6),))
MDF = Material("MDF 18", 18.0, (Caliper(18.1),))


def test_two_boards_of_one_nominal_are_asked_about_until_one_is_named() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    plan = project(part, materials=(BIRCH, MDF), relief=PLAIN)
    item = propose_refit(plan)[0]
    assert item.material == "" and set(item.materials) == {"Birch ply 18", "MDF 18"}
    assert codes(plan, part) == ["refit-ask"]
    chosen = replace(part, refits=(RefitDecision(item.ref, material="MDF 18"),))
    done = refit_panel(replace(plan, panels=(chosen,)), chosen)
    assert hole_size(done.panel.region)[0] == pytest.approx(18.2)


def test_a_tenon_of_just_that_width_says_which_board_a_slot_is_for() -> None:
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    leg = panel("Leg", tenoned(300, 200, [(50, 150)], 18.0), material="MDF 18")
    plan = project(part, leg, materials=(BIRCH, MDF), relief=PLAIN)
    done = refit_panel(plan, part)
    assert done.items[0].material == "MDF 18" and done.items[0].mates == ("Leg",)
    assert hole_size(done.panel.region) == pytest.approx((18.2, 100.1))


def test_boards_that_come_out_alike_need_no_asking() -> None:
    twin = replace(BIRCH, name="Birch ply 18 B")
    part = slotted(Ring.rectangle(50, 50, 18, 100))
    assert propose_refit(project(part, materials=(BIRCH, twin)))[0].certain


def test_a_single_step_and_a_lone_tooth_are_asked_about() -> None:
    step = panel("Step", Ring.of([(0, 0), (300, 0), (300, 200), (150, 200), (150, 182), (0, 182)]))
    assert codes(project(step), step) == ["refit-ask"]
    lone = panel("Lone", tenoned(300, 200, [(50, 150)], 18.0))
    assert codes(project(lone), lone) == ["refit-ask"]


def test_notches_as_deep_as_the_board_is_thick_are_halvings_where_a_mate_crosses() -> None:
    # Strips 36 high, notched 18: could be read as a row of teeth 18 long.
    a = panel("A", notched(500, 36, [100, 250, 400], 18.0, 18.0, top=True))
    b = panel("B", notched(300, 36, [80, 220], 18.0, 18.0, top=False))
    plan = project(a, b, relief=PLAIN)
    assert {i.reading for i in propose_refit(plan)} == {Reading.HALVING}
    assert all(i.certain and i.applied for i in propose_refit(plan))


def test_a_box_with_fingers_as_wide_as_thick_is_a_comb_not_notches() -> None:
    a = panel("A", toothed(400, 18 * 7, 7, 18.0, tip_first=True))
    b = panel("B", toothed(300, 18 * 7, 7, 18.0, tip_first=False))
    plan = project(a, b)
    assert {i.reading for i in propose_refit(plan)} == {Reading.COMB}
    assert all(i.certain for i in propose_refit(plan))


def four_sided(width: float, height: float, teeth: int, depth: float, *, corner_tips: bool) -> Ring:
    """A bottom with fingers on all four edges; its corners are void, or belong to two edges."""
    rows: list[tuple[float, float]] = []
    corners = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
    for (ax, ay), (bx, by) in zip(corners, [*corners[1:], corners[0]], strict=True):
        length = abs(bx - ax) + abs(by - ay)
        ux, uy = (bx - ax) / length, (by - ay) / length
        for k in range(teeth):
            tip = (k % 2 == 0) == corner_tips
            inset = 0.0 if tip else depth
            for s in (k, k + 1):
                along = s * length / teeth
                if not corner_tips:  # floors of two edges meet inside the corner
                    along = min(max(along, depth), length - depth)
                rows.append((ax + ux * along - uy * inset, ay + uy * along + ux * inset))
    return Ring.of(rows)


@pytest.mark.parametrize("corner_tips", [False, True])
@pytest.mark.parametrize("finger", [22.0, 30.0])
def test_fingers_on_all_four_edges_are_four_combs(corner_tips: bool, finger: float) -> None:
    bottom = panel("Bottom", four_sided(finger * 7, finger * 7, 7, 18.0, corner_tips=corner_tips))
    assert bottom.region.polygon.is_valid
    wall = panel("Wall", toothed(200, finger * 7, 7, 18.0, tip_first=not corner_tips))
    plan = project(bottom, wall, relief=PLAIN)
    items = [i for i in propose_refit(plan) if i.panel == "Bottom"]
    assert [i.reading for i in items] == [Reading.COMB] * 4
    assert all(i.certain for i in items)
    region = refit_panel(plan, bottom).panel.region
    assert region.size_mm == pytest.approx(bottom.region.size_mm)
    lines = {round(v[0], 6) for v in region.outer.vertices}
    assert {0.0, 17.6, finger * 7 - 17.6, finger * 7} <= lines


@pytest.mark.parametrize("noise", [1e-4, 1e-3])
def test_drawings_that_are_a_little_untrue_are_still_read(noise: float) -> None:
    import random

    rng = random.Random(5)

    def shaken(ring: Ring) -> Ring:
        return Ring.of(
            [
                (x + rng.uniform(-noise, noise), y + rng.uniform(-noise, noise))
                for x, y, _ in ring.vertices
            ]
        )

    top = panel("Top", shaken(toothed(600, 300, 9, 18.0, tip_first=True)))
    side = panel("Side", shaken(toothed(400, 300, 9, 18.0, tip_first=False)))
    plan = project(top, side)
    items = propose_refit(plan)
    assert [i.reading for i in items] == [Reading.COMB] * 4
    assert all(i.certain for i in items), items[0].doubts
    done = refit_panel(plan, top)
    assert done.panel.region.size_mm == pytest.approx((600.0, 300.0), abs=2 * noise)


def test_teeth_drawn_with_play_are_asked_about_and_never_get_it_twice() -> None:
    def row(tip_first: bool, play: float) -> Ring:
        w = 30.0
        rows: list[tuple[float, float]] = []
        for k in range(5):
            tip = (k % 2 == 0) == tip_first
            low = k * w + (0 if k == 0 else (play / 2 if tip else -play / 2) / 2)
            high = (k + 1) * w - (0 if k == 4 else (play / 2 if tip else -play / 2) / 2)
            x = 300.0 if tip else 282.0
            rows += [(x, low), (x, high)]
        return Ring.of([*rows, (0.0, 150.0), (0.0, 0.0)])

    a, b = panel("A", row(True, 0.2)), panel("B", row(False, 0.2))
    plan = project(a, b, fit_mm=0.1, relief=PLAIN)
    item = propose_refit(plan)[0]
    assert "play already" in item.doubts[0]
    sure = replace(a, refits=(RefitDecision(item.ref, Recut.YES),))
    done = refit_panel(replace(plan, panels=(sure, b)), sure)
    flank = next(w for w in done.items[0].walls if w.name == "flank")
    assert flank.moves_mm == pytest.approx((0.1 - 0.2) / 4)


def test_copies_left_out_of_the_plan_are_no_mates() -> None:
    from core.project.model import SplitChoice

    lone = panel("Lone", tenoned(300, 200, [(50, 150)], 18.0))
    top = slotted(Ring.rectangle(50, 50, 18, 100), split=SplitChoice.OMIT)
    assert codes(project(lone, top), lone) == ["refit-ask"]


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
