"""Bit access: what a round bit cannot cut, where, how much, and which bit could."""

from __future__ import annotations

import math

import pytest
from shapely.geometry import box

from core.geometry import Region, Ring
from core.joints.access import (
    access_findings,
    bit_access,
    largest_bit,
    pocket_access,
    round_hole,
)
from core.shop import Cutter


def plate(*holes: Ring) -> Region:
    return Region.of(Ring.rectangle(0, 0, 300, 200), holes)


def test_a_plain_outline_and_outer_corners_are_all_reached() -> None:
    assert bit_access(plate(Ring.circle(100, 100, 20)), 6.0) == ()


def test_each_corner_of_a_rectangular_hole_keeps_what_the_formula_says() -> None:
    # r² (1 − π / 4) of a square corner stays uncut (plane geometry).
    spots = bit_access(plate(Ring.rectangle(50, 50, 100, 60)), Cutter(6.0))
    assert [s.kind for s in spots] == ["corner"] * 4
    for spot in spots:
        assert spot.area_mm2 == pytest.approx(9 * (1 - math.pi / 4), rel=0.02)
        assert spot.largest_bit_mm is None


def test_a_slot_narrower_than_the_bit_is_a_stop_and_names_the_bit_that_does() -> None:
    region = plate(Ring.rectangle(50, 50, 100, 5.5))
    (finding,) = access_findings(region, Cutter(6.0), panel="P1")
    assert finding.code == "slot-narrower-than-bit"
    assert finding.severity == "stop"
    assert "5.5 mm wide" in finding.message
    assert finding.panel == "P1"
    assert finding.at is not None
    assert 50 <= finding.at[0] <= 150


def test_an_open_slot_is_found_too() -> None:
    comb = Region.from_polygon(box(0, 0, 200, 100).difference(box(95, 60, 99, 101)))
    spots = bit_access(comb, 6.0)
    assert spots[0].kind == "slot"
    assert spots[0].largest_bit_mm == pytest.approx(4.0, abs=0.02)


def test_a_round_hole_below_the_bit_is_named_with_its_size() -> None:
    (spot,) = bit_access(plate(Ring.circle(100, 100, 2.5)), 6.0)
    assert spot.kind == "hole"
    assert spot.largest_bit_mm == pytest.approx(5.0, abs=0.02)
    (finding,) = access_findings(plate(Ring.circle(100, 100, 2.5)), Cutter(6.0))
    assert finding.severity == "note"


def test_an_inside_curve_tighter_than_the_bit_is_a_warning() -> None:
    bulge = math.tan(math.pi / 8)
    hole = Ring.of(
        [
            (52, 50, 0), (148, 50, bulge), (150, 52, 0), (150, 98, bulge),
            (148, 100, 0), (52, 100, bulge), (50, 98, 0), (50, 52, bulge),
        ]
    )  # fmt: skip
    findings = access_findings(plate(hole), Cutter(6.0))
    assert [f.code for f in findings] == ["curve-tighter-than-bit"] * 4
    spot = bit_access(plate(hole), 6.0)[0]
    # r² − ρ² times (1 − π / 4): what a bit of r leaves of a rounding of ρ.
    assert spot.area_mm2 == pytest.approx((9 - 4) * (1 - math.pi / 4), rel=0.03)


def test_a_curve_of_the_bits_own_radius_is_reached() -> None:
    slot = Ring.of([(50, 47, 0), (150, 47, 1.0), (150, 53, 0), (50, 53, 1.0)])
    assert bit_access(plate(slot), 6.0) == ()


def test_agreed_corners_are_not_listed() -> None:
    region = plate(Ring.rectangle(50, 50, 100, 60))
    assert len(bit_access(region, 6.0, agreed=[(50, 50), (150, 110)])) == 2


def test_a_pocket_is_looked_at_from_inside() -> None:
    spots = pocket_access(box(0, 0, 40, 5), 6.0)
    assert spots[0].kind == "slot"
    assert pocket_access(Region.of(Ring.circle(0, 0, 10)).polygon, 6.0) == ()


def test_the_thickest_bit_that_does_is_chosen() -> None:
    region = plate(Ring.of([(50, 47.9, 0), (150, 47.9, 1.0), (150, 52.1, 0), (50, 52.1, 1.0)]))
    bits = [Cutter(8.0), Cutter(4.0), Cutter(3.0), Cutter(6.0)]
    assert largest_bit(region, bits) == Cutter(4.0)
    assert largest_bit(region, [Cutter(8.0)]) is None


def test_round_holes_are_known_as_arcs_and_as_many_short_edges() -> None:
    assert round_hole(Ring.circle(3, 4, 5)) == ((3.0, 4.0), 10.0)
    many = Ring.of(
        [
            (3 + 5 * math.cos(k * math.pi / 24), 4 + 5 * math.sin(k * math.pi / 24))
            for k in range(48)
        ]
    )
    found = round_hole(many)
    assert found is not None
    assert found[1] == pytest.approx(10.0, abs=0.02)
    assert round_hole(Ring.rectangle(0, 0, 5, 5)) is None
    assert round_hole(Ring.of([(0, 0, 1.0), (10, 0, 0.0)])) is None
