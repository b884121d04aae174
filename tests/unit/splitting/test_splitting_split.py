"""Cutting a panel along its seams: pieces, seams, findings, order of assembly."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon

from core.geometry import Region, Ring
from core.outlines.model import Feature, Role
from core.plan import plan_json
from core.planning import plan_project
from core.project.model import Mark, Panel, Project, SeamLine, StyleChoice
from core.shop import Cutter, Material, Reading, Shop, Stock
from core.splitting import SplitPanel, assembly_steps, split, split_panel
from core.splitting.limits import too_big
from core.splitting.model import PieceLimits
from core.splitting.split import overlap_area

BIT = Cutter(6.0)


def plate(width: float = 900.0, height: float = 400.0, **more: object) -> Panel:
    return Panel("P1", "Top", Region.of(Ring.rectangle(0, 0, width, height)), **more)  # type: ignore[arg-type]


def upright(x: float, style: str = "finger", **more: object) -> SeamLine:
    return SeamLine(((x, -20.0), (x, 2000.0)), StyleChoice(style), **more)  # type: ignore[arg-type]


def level(y: float, style: str = "finger", **more: object) -> SeamLine:
    return SeamLine(((-20.0, y), (3000.0, y)), StyleChoice(style), **more)  # type: ignore[arg-type]


def cut(panel: Panel, *seams: SeamLine, fit: float = 0.2, **more: object) -> SplitPanel:
    return split_panel(panel, seams, cutter=BIT, thickness_mm=18.0, fit_mm=fit, **more)  # type: ignore[arg-type]


def codes(made: SplitPanel) -> set[str]:
    return {f.code for f in made.findings}


def test_a_panel_without_seams_is_one_piece_with_the_panels_id() -> None:
    made = cut(plate())
    assert [p.id for p in made.pieces] == ["P1"]
    assert made.assembly_order == ("P1",)


def test_pieces_are_numbered_from_the_left_and_seams_lettered() -> None:
    made = cut(plate(), upright(600), upright(300))
    assert [p.id for p in made.pieces] == ["P1.1", "P1.2", "P1.3"]
    assert [s.letter for s in made.seams] == ["A", "B"]
    assert made.seams[0].pieces in (("P1.2", "P1.3"), ("P1.3", "P1.2"))
    assert made.pieces[1].seam_ids == ("P1.A", "P1.B")
    assert all(f.panel == "P1" for f in made.findings)


def test_shoulders_meet_and_set_the_length() -> None:
    made = cut(plate(), upright(450))
    left, right = (p.cut.region.bounds for p in made.pieces)
    lengths = {round(left[2] - left[0], 6), round(right[2] - right[0], 6)}
    assert 450.0 in lengths
    # The other reaches over by its fingers, whose tips retreat by one gap.
    assert max(lengths) < 450.0 + 40.0


def test_crossing_seams_make_four_pieces_and_four_seams() -> None:
    made = cut(plate(900, 700), upright(450), level(350))
    assert len(made.pieces) == 4
    assert sorted(s.letter for s in made.seams) == ["A", "B", "C", "D"]
    assert overlap_area(made.pieces) < 1e-3


def test_a_line_that_ends_inside_runs_on_to_the_next_seam() -> None:
    meeting = SeamLine(((450.0, -20.0), (450.0, 120.0)))
    made = cut(plate(900, 700), level(350), meeting)
    assert len(made.pieces) == 3
    tips = [s.line[-1][1] for s in made.seams if s.line_index == 1]
    assert tips == [pytest.approx(350.0)]


def test_a_seam_across_a_hole_is_one_seam_with_two_joint_lengths() -> None:
    region = Region.of(Ring.rectangle(0, 0, 900, 700), [Ring.circle(450, 350, 100)])
    made = cut(Panel("P1", "Top", region), upright(450))
    (seam,) = made.seams
    assert len(seam.joints) == 2
    assert seam.joint_length_mm == pytest.approx(500.0)
    assert seam.teeth >= 2
    # What is drawn of it leaves the hole alone.
    assert len(seam.stretches) == 2
    for stretch in seam.stretches:
        assert LineString(stretch).intersection(Point(450, 350).buffer(99)).is_empty
    assert seam.profile == seam.stretches[0] + seam.stretches[1]


def test_a_line_across_both_legs_of_a_u_makes_two_seams() -> None:
    u = Ring.of(
        [(0, 0), (900, 0), (900, 600), (700, 600), (700, 200), (200, 200), (200, 600), (0, 600)]
    )
    made = cut(Panel("P1", "U", Region.of(u)), level(400))
    assert len(made.pieces) == 3
    assert len(made.seams) == 2


def test_a_bent_and_a_curved_seam_have_true_arcs() -> None:
    bent = SeamLine(((400.0, -20.0), (460.0, 200.0), (400.0, 420.0)))
    curved = SeamLine(((700.0, -20.0), (700.0, 420.0)), bulges=(0.1,))
    made = cut(plate(), bent, curved)
    assert len(made.pieces) == 3
    assert all(any(v[2] for v in p.region.outer.vertices) for p in made.pieces)


def test_a_bend_is_never_tighter_than_the_bit() -> None:
    made = cut(plate(), SeamLine(((400.0, -20.0), (500.0, 200.0), (400.0, 420.0))))
    from core.geometry import arc_of

    bends = [
        arc_of((a[0], a[1]), (b[0], b[1]), a[2])[1]
        for s in made.seams
        for a, b in zip(s.line[:-1], s.line[1:], strict=True)
        if a[2]
    ]
    assert bends
    assert min(bends) >= 3.1


def test_what_goes_wrong_is_a_stop_and_the_panel_stays_whole() -> None:
    outside = SeamLine(((2000.0, 0.0), (2000.0, 500.0)))
    for seam, code in (
        (outside, "seam-misses-panel"),
        (upright(450, "zigzag"), "seam-cannot-be-made"),
        (upright(450, fit_mm=-0.1), "seam-cannot-be-made"),
        (SeamLine(((450.0, 10.0), (450.0, 10.0))), "seam-does-not-part"),
    ):
        made = cut(plate(), seam)
        assert not made.ok
        assert code in codes(made)
        assert [p.id for p in made.pieces] == ["P1"]


def test_a_seam_between_two_holes_only_parts_nothing_and_says_so() -> None:
    region = Region.of(
        Ring.rectangle(0, 0, 900, 700), [Ring.circle(250, 350, 60), Ring.circle(650, 350, 60)]
    )
    # It ends in both holes, short of the outer edge.
    made = cut(Panel("P1", "Top", region), SeamLine(((250.0, 350.0), (650.0, 350.0))))
    assert not made.ok
    assert "seam-does-not-part" in codes(made)


def test_a_seam_over_a_never_mark_stops_and_one_over_a_feature_warns() -> None:
    mark = Mark("never", ((440.0, 100.0), (460.0, 100.0), (460.0, 200.0), (440.0, 200.0)), "sink")
    assert "seam-crosses-mark" in codes(cut(plate(marks=(mark,)), upright(450)))
    pocket = Feature(Role.POCKET, ring=Ring.rectangle(400, 100, 100, 100), depth_mm=6.0)
    made = cut(plate(features=(pocket,)), upright(450))
    assert made.ok
    assert "seam-crosses-feature" in codes(made)
    halves = [q for p in made.pieces for q in p.cut.pockets]
    assert len(halves) == 2
    assert sum(q.ring.signed_area_mm2 for q in halves) == pytest.approx(100 * 100, rel=1e-2)


def test_teeth_keep_off_features_and_holes() -> None:
    drill = Feature(Role.DRILL, at=(445.0, 200.0), diameter_mm=8.0, depth_mm=10.0)
    made = cut(plate(features=(drill,)), upright(450))
    profile = shapely.LineString(made.seams[0].profile)
    assert profile.distance(shapely.Point(445, 200)) >= 4.9


def test_a_joint_length_too_short_for_a_tooth_stays_plain_and_says_so() -> None:
    made = cut(plate(900, 30), upright(450))
    assert made.ok
    assert "joint-has-no-tooth" in codes(made)
    assert made.seams[0].teeth == 0


def test_a_seam_that_meets_the_edge_flatly_warns_of_the_tip() -> None:
    made = cut(plate(), SeamLine(((300.0, -10.0), (1300.0, 420.0))))
    assert "feather-tip" in codes(made)


def test_turning_a_seam_over_gives_the_teeth_to_the_other_mate() -> None:
    one, other = cut(plate(), upright(450)), cut(plate(), upright(450, turned_over=True))
    wider = [p.cut.region.size_mm[0] > 455 for p in one.pieces]
    assert wider != [p.cut.region.size_mm[0] > 455 for p in other.pieces]


def test_shifting_moves_the_teeth_along_the_seam() -> None:
    one, other = cut(plate(), upright(450)), cut(plate(), upright(450, shift_mm=7.0))
    assert one.seams[0].teeth > 0
    assert one.seams[0].profile != other.seams[0].profile
    assert other.ok


def test_keys_are_loose_pieces_with_their_number_and_grain_along_them() -> None:
    made = cut(plate(), upright(450, "butterfly"))
    key = made.pieces[-1]
    assert key.loose
    assert key.quantity == len(made.seams[0].keys) == made.seams[0].teeth
    assert key.cut.region.size_mm[0] > key.cut.region.size_mm[1]
    assert key.turns_deg == (0.0, 180.0)
    assert key.cut.pockets[0].kind == "thin"


def test_every_piece_has_a_step_of_assembly() -> None:
    made = cut(plate(900, 700), upright(450), level(350))
    steps = assembly_steps(made)
    assert steps[0].how == "lay it down"
    assert {s.piece_id for s in steps} == {p.id for p in made.pieces}
    assert any("drop it in" in s.how for s in steps)
    row = assembly_steps(cut(plate(), upright(300), upright(600)))
    assert all(s.slide_deg is not None for s in row[1:])


def test_the_lower_mate_of_a_half_lap_comes_first() -> None:
    made = cut(plate(), upright(450, "half-lap"))
    faces = {p.id: p.cut.pockets[0].face for p in made.pieces}
    assert faces[made.assembly_order[0]] == "show"
    assert faces[made.assembly_order[1]] == "back"


def test_a_draft_has_the_same_pieces() -> None:
    full = cut(plate(), upright(450, "rounded"))
    draft = cut(plate(), upright(450, "rounded"), draft=True)
    for a, b in zip(full.pieces, draft.pieces, strict=True):
        assert a.cut.region == b.cut.region


def test_the_short_call_takes_a_diameter_and_gives_the_pieces() -> None:
    pieces = split(plate(), [upright(450)], 0.1, 6.0)
    assert [p.id for p in pieces] == ["P1.1", "P1.2"]


def test_a_recut_outline_is_split_along_the_same_seam() -> None:
    recut = Region.of(
        Ring.of(
            [(0, 0), (900, 0), (900, 400), (110, 400), (110, 380), (90, 380), (90, 400), (0, 400)]
        )
    )
    made = cut(plate(), upright(450), cut_region=recut)
    assert sum(p.region.area_mm2 for p in made.pieces) == pytest.approx(900 * 400)
    assert made.pieces[0].cut.region.area_mm2 < made.pieces[0].region.area_mm2 - 300


def test_the_levels_of_a_half_lap_add_up_to_the_thickness_and_the_clearance_comes_on_top() -> None:
    style = StyleChoice("half-lap", (("clearance", 0.1),))
    line = SeamLine(((450.0, -10.0), (450.0, 310.0)), style)
    panel = replace(plate(), material="birch", seams=(line,))
    shop = Shop(
        materials=(Material("birch", 18.0, (Reading(17.6),)),),
        stock=(Stock("full", "birch", 2500, 1250),),
    )
    plan = plan_json(plan_project(Project(panels=(panel,), shop=shop), steps=1))
    pieces = plan["pieces"]
    depths, whole = [], pieces[0]["thickness"]
    cuts = []
    for piece in pieces:
        (pocket,) = piece["cut"]["pockets"]
        depths.append(pocket["depth"])
        assert pocket["clearance"] == pytest.approx(0.05)
        cuts.append((Polygon(piece["cut"]["outline"]), Polygon(pocket["outline"])))
    # Taken either way, as what is cut away or as what is left, the levels fill the thickness.
    assert sum(depths) <= whole + 1e-9
    assert sum(whole - d for d in depths) <= whole + 1e-9
    # With the clearance the levels never touch before the shoulders do.
    assert sum(whole - d - 0.05 for d in depths) == pytest.approx(whole - 0.1)
    # Mates overlap only where both are pocketed.
    (one, pocket_one), (two, pocket_two) = cuts
    shared = one.intersection(two)
    assert shared.area > 1000.0
    assert shared.difference(pocket_one.intersection(pocket_two)).area < 1e-6 * shared.area


def test_teeth_on_both_sides_of_a_thing_in_the_way_stand_in_step_where_that_costs_none() -> None:
    pocket = Feature(Role.POCKET, ring=Ring.rectangle(440, 150, 20, 77), depth_mm=5.0)
    made = cut(plate(height=500.0, features=(pocket,)), upright(450.0))
    (seam,) = made.seams
    joint = seam.joints[0]
    # Flanks stand across the seam; their stations tell where the teeth are.
    tips = sorted({round(v[1], 3) for v in joint.middle if abs(v[0] - 450.0) > 5.0})
    middles = [(a + b) / 2 for a, b in zip(tips[::2], tips[1::2], strict=True)]
    steps = [b - a for a, b in itertools.pairwise(middles)]
    pitch = min(steps)
    assert len(middles) > 4 and max(steps) > 1.5 * pitch
    assert all(s / pitch == pytest.approx(round(s / pitch), abs=1e-3) for s in steps)


def test_a_piece_too_big_is_told_in_its_own_size_even_where_a_slant_is_nearest() -> None:
    (piece,) = cut(plate(500.0, 200.0)).pieces
    slanted = too_big(piece, PieceLimits(envelopes_mm=((30.0, 30.0),)))
    assert slanted is not None
    assert slanted.message.startswith('"Top" is 500.0 × 200.0 mm, turned by ')
    assert slanted.message.endswith("465.0 mm too wide (room 30.0 × 30.0 mm)")
    square = too_big(piece, PieceLimits(envelopes_mm=((450.0, 300.0),), turns_deg=(0.0,)))
    assert square is not None
    assert square.message == '"Top" is 500.0 × 200.0 mm, 50.0 mm too long (room 450.0 × 300.0 mm)'
