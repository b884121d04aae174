"""Open paths of lines and arcs: measuring, moving, rounding, cutting out."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely.geometry import LineString

from core.errors import InvalidGeometryError
from core.geometry import Ring
from core.geometry.path import (
    Carrier,
    at_station,
    carrier_hits,
    clean_path,
    edge_fraction,
    edge_point,
    edges_of,
    fillet,
    fillet_ring,
    flatten_path,
    merged_bulge,
    mirrored_path,
    moved_path,
    offset_path,
    offset_ring,
    path_length,
    reversed_path,
    round_corners,
    shift_edges,
    sub_path,
)

QUARTER = math.tan(math.pi / 8)
STEP = ((0.0, 0.0, 0.0), (10.0, 0.0, 0.0), (10.0, 10.0, 0.0), (20.0, 10.0, 0.0))


def test_length_of_a_half_circle_is_pi_r() -> None:
    assert path_length(((0, 0, 1.0), (10, 0, 0))) == pytest.approx(5 * math.pi)


def test_a_path_walked_back_has_the_same_points_and_opposite_bulges() -> None:
    path = ((0.0, 0.0, QUARTER), (10.0, 10.0, 0.0), (20.0, 10.0, 0.0))
    back = reversed_path(path)
    assert back[0][:2] == (20.0, 10.0)
    assert back[1][2] == -QUARTER
    assert reversed_path(back) == path


def test_mirroring_changes_the_sense_of_arcs() -> None:
    assert mirrored_path(((0, 1, 0.5), (2, 3, 0)))[0] == (0, -1, -0.5)


def test_a_path_is_laid_down_along_a_direction() -> None:
    laid = moved_path(((0, 0, 0), (10, 0, 0)), (5.0, 5.0), (0.0, 1.0))
    assert laid[1] == pytest.approx((5.0, 15.0, 0.0))


def test_offset_to_the_left_moves_lines_and_shrinks_arcs_that_turn_left() -> None:
    path = ((0.0, 0.0, 0.0), (10.0, 0.0, 1.0), (10.0, 20.0, 0.0), (0.0, 20.0, 0.0))
    moved = offset_path(path, 2.0)
    assert moved[0] == pytest.approx((0.0, 2.0, 0.0))
    assert moved[1][:2] == pytest.approx((10.0, 2.0))
    assert moved[2][:2] == pytest.approx((10.0, 18.0))
    assert moved[1][2] == pytest.approx(1.0)


def test_offset_corners_are_mitred() -> None:
    assert [v[:2] for v in offset_path(STEP, 1.0)] == [(0, 1), (9, 1), (9, 11), (20, 11)]


def test_every_edge_may_move_by_its_own_distance() -> None:
    assert [v[:2] for v in shift_edges(STEP, [0.0, 1.0, 2.0])] == [
        (0, 0),
        (9, 0),
        (9, 12),
        (20, 12),
    ]


def test_an_arc_smaller_than_the_offset_is_an_error_that_says_so() -> None:
    with pytest.raises(InvalidGeometryError, match="too small to move"):
        offset_path(((0, 0, 1.0), (2, 0, 0)), 1.0)


def test_smooth_edges_that_move_differently_are_an_error() -> None:
    with pytest.raises(InvalidGeometryError, match="cannot be moved apart"):
        shift_edges(((0, 0, 0), (5, 0, 0), (9, 0, 0)), [0.0, 1.0])


def test_offset_keeps_its_distance_everywhere() -> None:
    path = ((0.0, 0.0, 0.3), (40.0, 0.0, -0.4), (80.0, 10.0, 0.0), (120.0, 30.0, 0.0))
    one = LineString(flatten_path(path, 1e-5))
    two = flatten_path(offset_path(path, 1.5), 1e-5)[3:-3]
    away = [one.distance(LineString([p, p + 1e-9])) for p in two]
    assert min(away) == pytest.approx(1.5, abs=1e-4)


def test_fillet_and_round_corners_agree_on_straight_edges() -> None:
    by_points = fillet([v[:2] for v in STEP], [0, 3, 3, 0])
    by_path = round_corners(STEP, [0, 3, 3, 0])
    assert np.allclose(by_points, by_path)


def test_rounding_between_a_line_and_an_arc_touches_both_smoothly() -> None:
    path = ((0.0, 0.0, 0.0), (30.0, 0.0, QUARTER), (50.0, 30.0, 0.0))
    rounded = round_corners(path, [0.0, 4.0, 0.0])
    assert len(rounded) == 4
    line = LineString(flatten_path(rounded, 1e-4))
    turns = np.diff(np.unwrap(np.arctan2(*np.diff(np.array(line.coords), axis=0).T[::-1])))
    assert np.abs(turns).max() < 0.05


def test_corners_too_close_for_the_radius_are_an_error() -> None:
    with pytest.raises(InvalidGeometryError, match="too close together"):
        round_corners(STEP, [0, 6, 6, 0])
    with pytest.raises(InvalidGeometryError, match="too close together"):
        fillet([v[:2] for v in STEP], [0, 6, 6, 0])


def test_a_stretch_between_stations_keeps_its_arc() -> None:
    path = ((0.0, 0.0, 0.0), (10.0, 0.0, 1.0), (10.0, 20.0, 0.0))
    part = sub_path(path, 5.0, 10.0 + 5 * math.pi)
    assert path_length(part) == pytest.approx(5 + 5 * math.pi)
    assert part[-1][:2] == pytest.approx((20.0, 10.0))
    assert part[1][2] == pytest.approx(QUARTER)


def test_stations_beyond_the_ends_run_on_straight() -> None:
    assert at_station(STEP, -5.0)[0] == (-5.0, 0.0)
    assert at_station(STEP, 35.0)[0] == (25.0, 10.0)


def test_edge_fractions_before_the_start_of_an_arc_are_negative() -> None:
    edge = ((10.0, 0.0), (0.0, 10.0), QUARTER)
    before = edge_point(*edge, -0.1)
    assert edge_fraction(*edge, before) == pytest.approx(-0.1)
    assert edge_fraction(*edge, edge_point(*edge, 0.7)) == pytest.approx(0.7)


def test_carriers_meet_where_they_should() -> None:
    line = Carrier(0, 3, 1, 0)
    circle = Carrier(0, 0, radius=5)
    assert sorted(carrier_hits(line, circle)) == [(-4.0, 3.0), (4.0, 3.0)]
    assert sorted(carrier_hits(circle, line)) == [(-4.0, 3.0), (4.0, 3.0)]
    assert len(carrier_hits(circle, Carrier(8, 0, radius=5))) == 2
    assert carrier_hits(circle, Carrier(20, 0, radius=5)) == []
    assert carrier_hits(line, Carrier(0, 9, 1, 0)) == []
    touching = carrier_hits(circle, Carrier(0, 5, 1, 0))
    assert touching == [pytest.approx((0.0, 5.0))]


def test_edges_of_one_circle_merge_and_others_do_not() -> None:
    a, b, c = (10.0, 0.0, QUARTER), (0.0, 10.0, QUARTER), (-10.0, 0.0, 0.0)
    assert merged_bulge(a, b, c) == pytest.approx(1.0)
    assert merged_bulge((0, 0, 0), (5, 0, 0), (9, 0, 0)) == 0.0
    assert merged_bulge((0, 0, 0), (5, 0, 0), (9, 1, 0)) is None
    assert merged_bulge(a, (0.0, 10.0, -QUARTER), c) is None


def test_repeated_points_are_dropped() -> None:
    assert clean_path([(0, 0), (0, 0, 0.5), (4, 0)]) == ((0, 0, 0.5), (4, 0, 0))


def test_a_ring_moves_inwards_and_outwards() -> None:
    circle = Ring.circle(0, 0, 10)
    assert offset_ring(circle, 1.0).signed_area_mm2 == pytest.approx(math.pi * 81)
    assert offset_ring(circle, -1.0).signed_area_mm2 == pytest.approx(math.pi * 121)
    square = fillet_ring([(0, 0), (40, 0), (40, 40), (0, 40)], 5.0)
    grown = offset_ring(square, -2.0)
    assert grown.bounds == pytest.approx((-2, -2, 42, 42))
    assert len(grown.vertices) == len(square.vertices)
    assert all(bulge == pytest.approx(QUARTER) for _, _, bulge in edges_of(grown.vertices) if bulge)
