"""Joints drawn at 18, re-cut for 17.6 and put together in space: no collision, no rattle."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from shapely.affinity import scale
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from core.geometry import Region, Ring
from core.project.model import Panel, Project
from core.project.refit import ReliefKind, ReliefSide, SizeHold
from core.refit import Reading, propose_refit, refit_panel
from core.refit.skeleton import skeleton_of
from core.shop import Material
from core.shop import Reading as Caliper
from tests.unit.refit.refit_fittings import notched, panel, project, tenoned, toothed
from tests.unit.refit.refit_solids import Board, overlap_mm3

T = 17.6
DUST_MM3 = 1e-6


def as_cut(region: Region, bit_mm: float = 6.0) -> BaseGeometry:
    """The board as a round bit really leaves it: what it cannot reach stays.

    Films thinner than 0.01 mm come from the chords of the disc, not from the bit; arcs are
    flattened finely and the disc is 4 µm smaller, so that it turns in a relief of its own radius.
    """
    radius, drawn = bit_mm / 2 - 0.004, region.flattened(0.001)
    closed = drawn.buffer(radius, quad_segs=32).buffer(-radius, quad_segs=32)
    left = closed.difference(drawn)
    parts = [g for g in getattr(left, "geoms", [left]) if not g.buffer(-0.005).is_empty]
    return unary_union([drawn, *parts])


def sides_of(region: Region, ring: int = 0):  # type: ignore[no-untyped-def]
    skeleton = skeleton_of(region.rings[ring])
    assert skeleton is not None
    return skeleton.sides


# --- a box-jointed carcass --------------------------------------------------------------------


def carcass(
    hold: SizeHold = SizeHold.OUTSIDE, relief: ReliefKind = ReliefKind.DOG_BONE, proud: float = 0.0
) -> tuple[Project, Panel, Panel]:
    top = panel("Top", toothed(600, 300, 9, 18.0, tip_first=True))
    side = panel("Side", toothed(400, 300, 9, 18.0, tip_first=False))
    return project(top, side, hold=hold, relief=relief, proud_mm=proud), top, side


def stood_up(top: BaseGeometry, side: BaseGeometry, width: float, height: float) -> list[Board]:
    """Two tops in the xy plane, two sides in the zy plane (the side's length goes up)."""
    return [
        Board(top, "xy", 0.0, T),
        Board(top, "xy", height - T, T),
        Board(side, "zy", 0.0, T),
        Board(side, "zy", width - T, T),
    ]


def test_the_carcass_goes_together_without_collision_as_drawn_and_as_really_cut() -> None:
    plan, top, side = carcass()
    one, two = refit_panel(plan, top).panel.region, refit_panel(plan, side).panel.region
    for make in (lambda r: r.polygon, as_cut):
        boards = stood_up(make(one), make(two), 600.0, 400.0)
        for horizontal in boards[:2]:
            for upright in boards[2:]:
                assert overlap_mm3(horizontal, upright) < 0.05


def test_without_relief_the_really_cut_carcass_collides_in_its_corners() -> None:
    plan, top, side = carcass(relief=ReliefKind.NONE)
    one, two = refit_panel(plan, top).panel.region, refit_panel(plan, side).panel.region
    boards = stood_up(as_cut(one), as_cut(two), 600.0, 400.0)
    assert overlap_mm3(boards[0], boards[2]) > 100.0
    sharp = stood_up(one.polygon, two.polygon, 600.0, 400.0)
    assert overlap_mm3(sharp[0], sharp[2]) < DUST_MM3


def test_comb_depth_pitch_flank_play_and_outside_size_are_as_asked() -> None:
    plan, top, side = carcass(relief=ReliefKind.NONE)
    one, two = refit_panel(plan, top).panel.region, refit_panel(plan, side).panel.region
    assert one.size_mm == pytest.approx((600.0, 300.0), abs=1e-9)
    assert two.size_mm == pytest.approx((400.0, 300.0), abs=1e-9)
    spans = {}
    for name, region in (("top", one), ("side", two)):
        flats = [
            s
            for s in sides_of(region)
            if abs(s.direction[1]) > 0.5 and s.middle[0] > region.size_mm[0] / 2
        ]
        levels = {round(s.start[0], 6) for s in flats}
        assert max(levels) - min(levels) == pytest.approx(T, abs=0.01)
        spans[name] = sorted(
            (min(s.start[1], s.end[1]), max(s.start[1], s.end[1]), s.start[0] == max(levels))
            for s in flats
        )
    pitch = 300 / 9
    for name, rows in spans.items():
        middles = [(a + b) / 2 for a, b, tip in rows[1:-1]]
        gaps = [b - a for a, b in pairwise(middles)]
        assert gaps == pytest.approx([pitch] * len(gaps), abs=1e-9), name
    for (a, b, tip), (c, d, mate_tip) in zip(spans["top"], spans["side"], strict=True):
        assert tip is not mate_tip
        opening, enters = ((d - c), (b - a)) if tip else ((b - a), (d - c))
        ends = a == 0.0 or b == 300.0  # a corner finger has one flank only
        assert opening - enters == pytest.approx(0.05 if ends else 0.1, abs=1e-9)


def test_the_carcass_moved_along_its_joints_by_less_than_half_the_play_fits_by_more_collides() -> (
    None
):
    plan, top, side = carcass()
    one, two = refit_panel(plan, top).panel.region, refit_panel(plan, side).panel.region
    boards = stood_up(one.polygon, two.polygon, 600.0, 400.0)
    assert overlap_mm3(boards[0].moved(y=0.0499), boards[2]) < DUST_MM3
    assert overlap_mm3(boards[0].moved(y=0.06), boards[2]) > 1.0
    assert overlap_mm3(boards[0].moved(y=-0.06), boards[2]) > 1.0


def test_with_the_inside_held_the_room_between_stays_and_the_outside_shrinks() -> None:
    plan, top, side = carcass(SizeHold.INSIDE)
    one, two = refit_panel(plan, top), refit_panel(plan, side)
    assert one.panel.region.size_mm == pytest.approx((599.2, 300.0))
    assert [(s.panel, s.what) for s in one.sizes] == [("Top", "width")]
    assert any(f.code == "refit-size" for f in one.findings)
    # Inside corners of the room: the shoulders stay at 18 and 582.
    flats = {round(s.start[0], 6) for s in sides_of(one.panel.region) if abs(s.direction[1]) > 0.5}
    assert {18.0, 582.0} <= flats
    assert two.panel.region.size_mm == pytest.approx((399.2, 300.0))


def test_with_the_outside_held_proud_teeth_make_no_panel_longer_and_the_rest_is_told() -> None:
    plan, top, side = carcass(proud=0.2, relief=ReliefKind.NONE)
    done = refit_panel(plan, top)
    one, two = done.panel.region, refit_panel(plan, side).panel.region
    assert one.size_mm == pytest.approx((600.0, 300.0))
    assert two.size_mm == pytest.approx((400.0, 300.0))
    assert done.sizes == ()
    told = next(f for f in done.findings if f.code == "refit-proud")
    assert "0.2 mm proud" in told.message
    # Tips stand 0.2 past the mates' outer faces, which lie that much further in.
    boards = [Board(one.polygon, "xy", 0.2, T), Board(two.polygon, "zy", 0.2, T)]
    assert overlap_mm3(*boards) < DUST_MM3
    deeper = [Board(one.polygon, "xy", 0.2, T), Board(two.polygon, "zy", 0.19, T)]
    assert overlap_mm3(*deeper) < DUST_MM3
    tighter = [Board(one.polygon, "xy", 0.2, T), Board(two.polygon, "zy", 0.21, T)]
    assert overlap_mm3(*tighter) > 1.0


def test_with_the_inside_held_proud_teeth_lengthen_the_panel_and_it_is_told() -> None:
    plan, top, _ = carcass(SizeHold.INSIDE, proud=0.2)
    done = refit_panel(plan, top)
    assert done.panel.region.size_mm == pytest.approx((599.6, 300.0))
    told = next(f for f in done.findings if f.code == "refit-size")
    assert "599.6 mm instead of 600 mm" in told.message
    assert "0.2 mm proud" in told.message


@pytest.mark.parametrize("kind", [ReliefKind.DOG_BONE, ReliefKind.T_BONE, ReliefKind.SMALLEST])
@pytest.mark.parametrize("side", list(ReliefSide))
def test_joints_left_as_drawn_go_together_as_really_cut(kind: ReliefKind, side: ReliefSide) -> None:
    exact = Material("Birch ply 18", 18.0, (Caliper(18.0),))
    top = panel("Top", toothed(600, 300, 9, 18.0, tip_first=True))
    mate = panel("Side", toothed(400, 300, 9, 18.0, tip_first=False))
    plan = project(top, mate, refit=False, materials=(exact,), relief=kind)
    plan = replace(plan, refit_rules=replace(plan.refit_rules, relief_side=side))
    one, two = refit_panel(plan, top).panel.region, refit_panel(plan, mate).panel.region
    lying = Board(as_cut(one), "xy", 0.0, 18.0)
    upright = Board(as_cut(two), "zy", 0.0, 18.0)
    assert overlap_mm3(lying, upright) < 0.5
    bare = replace(plan, refit_rules=replace(plan.refit_rules, relief=ReliefKind.NONE))
    one, two = refit_panel(bare, top).panel.region, refit_panel(bare, mate).panel.region
    lying, upright = Board(as_cut(one), "xy", 0.0, 18.0), Board(as_cut(two), "zy", 0.0, 18.0)
    assert overlap_mm3(lying, upright) > 100.0


def test_left_at_nominal_the_same_carcass_has_teeth_that_stand_out() -> None:
    plan, top, _ = carcass()
    assert refit_panel(plan, top).panel.region != top.region


# --- a cross-halved grid ------------------------------------------------------------------------


def grid(
    relief: ReliefKind = ReliefKind.DOG_BONE, clearance: float = 0.2
) -> tuple[Project, Panel, Panel]:
    long = panel("Long divider", notched(600, 80, [150, 300, 450], 18.0, 40.0, top=True))
    short = panel("Short divider", notched(400, 80, [120, 280], 18.0, 40.0, top=False))
    return project(long, short, relief=relief, clearance_mm=clearance), long, short


def grid_boards(long: BaseGeometry, short: BaseGeometry) -> list[Board]:
    lying = [Board(long, "xz", y - T / 2, T) for y in (120.0, 280.0)]
    standing = [Board(short, "yz", x - T / 2, T) for x in (150.0, 300.0, 450.0)]
    return [*lying, *standing]


def test_every_slot_of_the_grid_is_the_boards_thickness_plus_the_fit() -> None:
    plan, long, short = grid()
    for drawn, count in ((long, 3), (short, 2)):
        done = refit_panel(plan, drawn)
        assert [i.reading for i in done.items] == [Reading.HALVING] * count
        sides = sides_of(done.panel.region)
        floors = [s for s in sides if abs(s.direction[0]) > 0.5 and 30.0 < s.middle[1] < 50.0]
        assert [s.length_mm for s in floors] == pytest.approx([17.7] * count, abs=1e-9)


def test_the_grid_goes_together_flush_and_as_really_cut() -> None:
    plan, long, short = grid()
    one, two = refit_panel(plan, long).panel.region, refit_panel(plan, short).panel.region
    for make in (lambda r: r.polygon, as_cut):
        boards = grid_boards(make(one), make(two))
        for a in boards[:2]:
            for b in boards[2:]:
                assert overlap_mm3(a, b) < 0.05
                # Half the depth clearance each: it goes on 0.2 mm deeper and no further.
                assert overlap_mm3(a, b.moved(z=-0.19)) < 0.05
                assert overlap_mm3(a, b.moved(z=-0.25)) > 1.0


def test_centre_lines_of_the_grid_stay_where_they_were_drawn() -> None:
    plan, long, _ = grid(ReliefKind.NONE)
    one = refit_panel(plan, long).panel.region
    floors = [s for s in sides_of(one) if abs(s.direction[0]) > 0.5 and 30 < s.middle[1] < 50]
    assert sorted(s.middle[0] for s in floors) == pytest.approx([150.0, 300.0, 450.0], abs=1e-9)


# --- a seat with through-tenons -----------------------------------------------------------------


def seat(relief: ReliefKind = ReliefKind.DOG_BONE) -> tuple[Project, Panel, Panel]:
    tenons = [(60.0, 120.0), (230.0, 290.0)]
    holes = [
        Ring.rectangle(x, low, 18.0, high - low) for x in (50.0, 332.0) for low, high in tenons
    ]
    top = panel("Seat", Ring.rectangle(0, 0, 400, 350), holes)
    leg = panel("Leg", tenoned(420.0, 350.0, tenons, 18.0))
    return project(top, leg, relief=relief), top, leg


def test_mortises_become_thickness_plus_fit_by_tenon_width_plus_fit() -> None:
    plan, top, leg = seat(ReliefKind.NONE)
    done = refit_panel(plan, top)
    assert all(item.certain and item.mates == ("Leg",) for item in done.items)
    for hole in done.panel.region.holes:
        x1, y1, x2, y2 = hole.bounds
        assert (x2 - x1, y2 - y1) == pytest.approx((17.7, 60.1), abs=1e-9)
    done = refit_panel(plan, leg)
    assert [item.reading for item in done.items] == [Reading.TENON]
    # The tenons keep their width; outside held, the shoulder rises by what the board lacks.
    assert done.panel.region.size_mm == pytest.approx((350.0, 438.0))
    widths = [
        s.length_mm
        for s in sides_of(done.panel.region)
        if abs(s.direction[0]) > 0.5 and s.middle[1] > 437.9
    ]
    assert widths == pytest.approx([60.0, 60.0])


def test_the_seat_goes_together_with_tenons_flush_and_as_really_cut() -> None:
    plan, top, leg = seat()
    one, two = refit_panel(plan, top).panel.region, refit_panel(plan, leg).panel.region
    for make in (lambda r: r.polygon, as_cut):
        board = Board(make(one), "xy", 438.0 - T, T)
        for x in (50.0, 332.0):
            # The mortise's centre line stayed, so the leg's middle stands at x + 9.
            upright = Board(make(two), "yz", x + 9.0 - T / 2, T)
            assert overlap_mm3(board, upright) < 0.05
            assert overlap_mm3(board, upright.moved(x=0.049, y=0.049)) < 0.05
            assert overlap_mm3(board, upright.moved(x=0.06)) > 1.0
            assert overlap_mm3(board, upright.moved(y=0.06)) > 1.0


def test_mates_of_another_board_get_that_boards_thickness() -> None:
    thin = Material("Birch ply 12", 12.0, (Caliper(11.7),))
    birch = Material("Birch ply 18", 18.0, (Caliper(17.6),))
    tenons = [(60.0, 120.0)]
    top = panel("Seat", Ring.rectangle(0, 0, 400, 350), [Ring.rectangle(50, 60, 12, 60)])
    fin = panel("Fin", tenoned(200.0, 200.0, tenons, 18.0), material=thin.name)
    plan = project(top, fin, materials=(birch, thin), relief=ReliefKind.NONE)
    hole = refit_panel(plan, top).panel.region.holes[0]
    x1, y1, x2, y2 = hole.bounds
    assert (x2 - x1, y2 - y1) == pytest.approx((11.8, 60.1))
    item = propose_refit(plan)[-1]
    assert item.panel == "Fin" and item.material == "Birch ply 18" and item.becomes_mm == T


def test_mirrored_drawings_are_recut_alike() -> None:
    plan, top, side = carcass(relief=ReliefKind.NONE)
    flipped = Region.from_polygon(scale(top.region.polygon, -1, 1, origin=(0, 0)))
    other = panel("Top", flipped.outer)
    mirrored = project(other, side, relief=ReliefKind.NONE)
    a = refit_panel(plan, top).panel.region.area_mm2
    b = refit_panel(mirrored, other).panel.region.area_mm2
    assert a == pytest.approx(b, abs=1e-6)
