"""What the bit leaves of a piece: joined borders, features, small holes."""

from __future__ import annotations

import math

import pytest

from core.cutting import Border, Pocket, cut_whole, drilled_holes, features_on, join_borders
from core.geometry import Motion, Region, Ring
from core.outlines.model import Face, Feature, Role
from core.shop import Cutter

PLATE = Region.of(Ring.rectangle(0, 0, 200, 100))


def test_borders_moved_by_the_fit_meet_exactly_on_the_outline() -> None:
    # The seam at x = 100 retreats by 0.1: the outline is cut back to it, no more.
    seam = Border(((99.9, 0.0, 0.0), (99.9, 100.0, 0.0)), (100.0, 0.0), seam=True)
    rest = Border(
        ((100.0, 100.0, 0.0), (0.0, 100.0, 0.0), (0.0, 0.0, 0.0), (100.0, 0.0, 0.0)),
        (100.0, 100.0),
    )
    ring = join_borders([seam, rest])
    assert ring.bounds == pytest.approx((0, 0, 99.9, 100))
    assert len(ring.vertices) == 4


def test_a_retreat_over_several_short_edges_drops_them() -> None:
    seam = Border(((99.0, 0.0, 0.0), (99.0, 100.0, 0.0)), (100.0, 0.0), seam=True)
    short = [(100.0 - 0.1 * k, 100.0, 0.0) for k in range(30)]
    rest = Border((*short, (0.0, 100.0, 0.0), (0.0, 0.0, 0.0), (100.0, 0.0, 0.0)), (100.0, 100.0))
    assert join_borders([seam, rest]).signed_area_mm2 == pytest.approx(99 * 100)


def test_a_seam_in_line_with_an_edge_closes_with_a_step_and_shaves_nothing() -> None:
    # An L whose seam runs on along the edge of the other arm: only the joint retreats.
    seam = Border(((100.0, 49.9, 0.0), (0.0, 49.9, 0.0)), (100.0, 50.0), seam=True)
    rest = Border(
        (
            (0.0, 50.0, 0.0),
            (0.0, 0.0, 0.0),
            (200.0, 0.0, 0.0),
            (200.0, 50.0, 0.0),
            (100.0, 50.0, 0.0),
        ),
        (0.0, 50.0),
    )
    ring = join_borders([seam, rest])
    assert ring.signed_area_mm2 == pytest.approx(200 * 50 - 100 * 0.1)


def test_a_feature_on_a_piece_is_kept_as_drawn_and_one_off_it_is_not() -> None:
    inside = Feature(Role.POCKET, ring=Ring.circle(50, 50, 20), depth_mm=5.0)
    outside = Feature(Role.POCKET, ring=Ring.circle(500, 50, 20), depth_mm=5.0)
    pockets, _, _, crossed = features_on(PLATE, [inside, outside])
    assert [p.ring for p in pockets] == [Ring.circle(50, 50, 20)]
    assert crossed == ()


def test_a_pocket_across_the_edge_is_clipped_with_its_arc() -> None:
    pockets, _, _, crossed = features_on(
        PLATE, [Feature(Role.DADO, ring=Ring.circle(200, 50, 20), depth_mm=5.0, face=Face.BACK)]
    )
    (pocket,) = pockets
    assert crossed == (0,)
    assert pocket.face is Face.BACK
    assert pocket.ring.signed_area_mm2 == pytest.approx(math.pi * 400 / 2)
    assert pocket.kind == "dado"


def test_drills_and_engravings_travel_with_their_piece() -> None:
    drill = Feature(Role.DRILL, at=(10.0, 10.0), diameter_mm=5.0, depth_mm=12.0)
    far = Feature(Role.DRILL, at=(300.0, 10.0), diameter_mm=5.0)
    line = Feature(Role.ENGRAVE, path=((-50.0, 50.0), (250.0, 50.0)), depth_mm=0.5)
    _, drills, engravings, crossed = features_on(PLATE, [drill, far, line])
    assert [d.at for d in drills] == [(10.0, 10.0)]
    assert engravings[0].path == ((0.0, 50.0), (200.0, 50.0))
    assert crossed == (2,)


def test_round_holes_thinner_than_the_bit_become_drill_centres() -> None:
    region = Region.of(
        Ring.rectangle(0, 0, 200, 100), [Ring.circle(50, 50, 2.5), Ring.circle(120, 50, 3.0)]
    )
    left, drills = drilled_holes(region, Cutter(6.0))
    assert len(left.holes) == 1
    assert [(d.at, d.diameter_mm) for d in drills] == [((50.0, 50.0), 5.0)]
    assert cut_whole(region, cutter=Cutter(6.0)).drills == drills
    assert cut_whole(region).drills == ()


def test_a_cut_moves_and_mirrors_with_everything_on_it() -> None:
    cut = cut_whole(
        PLATE,
        [
            Feature(Role.POCKET, ring=Ring.rectangle(10, 10, 20, 20), depth_mm=5.0),
            Feature(Role.DRILL, at=(150.0, 20.0), diameter_mm=8.0),
        ],
    )
    moved = cut.moved(Motion(300.0, 0.0, 0.0, mirrored=True))
    assert moved.outline.bounds == pytest.approx((100, 0, 300, 100))
    assert moved.outline.signed_area_mm2 > 0
    assert moved.pockets[0].ring.bounds == pytest.approx((270, 10, 290, 30))
    assert moved.drills[0].at == (150.0, 20.0)


def test_the_digest_names_the_geometry_and_changes_with_it() -> None:
    one, two = cut_whole(PLATE), cut_whole(Region.of(Ring.rectangle(0, 0, 200, 100.001)))
    assert one.digest() == cut_whole(PLATE).digest()
    assert one.digest() != two.digest()
    assert not one.needs_back
    assert Pocket(Ring.circle(0, 0, 5), 3.0).polygon.area == pytest.approx(math.pi * 25, rel=1e-2)
