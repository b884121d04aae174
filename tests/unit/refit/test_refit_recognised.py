"""Which joints are seen in a drawing, which board each is for, and which are asked about."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.geometry import Motion, Region, Ring
from core.outlines.model import Feature, Role
from core.project.model import Panel
from core.project.refit import (
    KeepWall,
    Recut,
    RefitDecision,
)
from core.refit import (
    Reading,
    propose_refit,
    refit_panel,
)
from core.shop import Material
from core.shop import Reading as Caliper
from tests.unit.refit.refit_fittings import (
    PLAIN,
    codes,
    hole_size,
    notched,
    panel,
    project,
    slotted,
    tenoned,
    toothed,
)

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
