"""Arcs come back from polygons after polygon operations, and only where they were."""

from __future__ import annotations

import math

import pytest
import shapely
from shapely.geometry import Polygon, box

from core.geometry import Region, Ring, arc_of
from core.geometry.arcs import Circle, circles_of, restore_arcs

RING = Region.of(Ring.circle(0, 0, 500), [Ring.circle(0, 0, 380)])


def test_a_quarter_of_a_ring_gets_both_arcs_back_exactly() -> None:
    quarter = restore_arcs(RING.polygon.intersection(box(0, 0, 600, 600)), [RING])
    assert len(quarter.outer.vertices) == 4
    assert quarter.area_mm2 == pytest.approx(math.pi / 4 * (500**2 - 380**2), rel=1e-12)


def test_joints_of_arcs_and_lines_are_the_exact_meeting_points() -> None:
    cut = restore_arcs(RING.polygon.intersection(box(100, -600, 600, 600)), [RING])
    ys = sorted(abs(y) for x, y, _ in cut.outer.vertices if abs(x - 100) < 1e-9)
    assert ys[-1] == pytest.approx(math.sqrt(500**2 - 100**2), abs=1e-9)
    assert ys[0] == pytest.approx(math.sqrt(380**2 - 100**2), abs=1e-9)


def test_whole_circles_stay_whole_and_holes_run_clockwise() -> None:
    back = restore_arcs(RING.polygon, [RING])
    assert back.area_mm2 == pytest.approx(RING.area_mm2)
    assert back.holes[0].signed_area_mm2 < 0
    assert len(back.outer.vertices) == 2


def test_straight_edges_stay_straight() -> None:
    shape = box(0, 0, 100, 50).union(box(20, 20, 60, 90))
    back = restore_arcs(shape, [Region.of(Ring.circle(50, 50, 20))])
    assert not back.outer.has_arcs
    assert back.area_mm2 == pytest.approx(shape.area)


def test_a_chord_between_two_points_of_a_circle_is_not_taken_for_its_arc() -> None:
    circle = Ring.circle(0, 0, 100)
    half = restore_arcs(Region.of(circle).polygon.intersection(box(-200, 0, 200, 200)), [circle])
    assert half.area_mm2 == pytest.approx(math.pi * 100**2 / 2, rel=1e-9)
    assert sum(1 for v in half.outer.vertices if v[2] == 0.0) == 1


def test_arcs_that_turn_the_other_way_keep_their_sense() -> None:
    bite = Region.of(Ring.circle(100, 50, 30))
    shape = box(0, 0, 100, 100).difference(bite.polygon)
    back = restore_arcs(shape, [bite])
    arcs = [edge for edge in back.outer.edges() if edge[2]]
    assert all(edge[2] < 0 for edge in arcs)
    assert all(arc_of(*edge)[1] == pytest.approx(30) for edge in arcs)
    assert back.area_mm2 == pytest.approx(100 * 100 - math.pi * 30**2 / 2)


def test_more_than_a_half_turn_becomes_two_arcs() -> None:
    disc = Region.of(Ring.circle(0, 0, 40))
    cut = restore_arcs(disc.polygon.intersection(box(-50, -50, 30, 50)), [disc])
    assert all(abs(v[2]) <= 1.0 + 1e-9 for v in cut.outer.vertices)
    angle = 2 * math.acos(30 / 40)
    assert cut.area_mm2 == pytest.approx(
        math.pi * 1600 - (1600 / 2) * (angle - math.sin(angle)), rel=1e-9
    )


def test_known_circles_are_collected_once_from_regions_rings_and_paths() -> None:
    path = ((0.0, 0.0, 1.0), (10.0, 0.0, 0.0))
    found = circles_of([RING, RING.outer, path, Circle(1, 2, 3)])
    assert len(found) == 4


def test_a_turned_and_cut_region_is_restored_within_the_sagitta() -> None:
    turned = shapely.affinity.rotate(RING.polygon, 17, origin=(0, 0))
    piece = turned.intersection(box(-50, 300, 400, 520))
    back = restore_arcs(piece, [RING])
    assert back.outer.has_arcs
    assert isinstance(back.polygon, Polygon)
    assert back.polygon.hausdorff_distance(piece) < 0.02
