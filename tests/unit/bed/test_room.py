"""Where on a blank a piece may be cut."""

from __future__ import annotations

import pytest
from shapely.geometry import box

from core.bed import bed_room
from core.shop import ClampZone, Cutter, Machine

MACHINE = Machine(travel_mm=(900.0, 600.0), table_mm=(900.0, 600.0), cutters=(Cutter(6.0),))


def test_the_room_of_a_full_blank_is_the_travel_less_the_bits_radius() -> None:
    found = bed_room(MACHINE, 900, 600)
    assert found is not None
    assert not found.turned
    assert found.room.equals(box(3, 3, 897, 597))


def test_a_small_blank_moves_out_so_that_the_bit_gets_round_its_edge() -> None:
    found = bed_room(MACHINE, 500, 400)
    assert found is not None
    assert (found.bed_x_mm, found.bed_y_mm) == (3.0, 3.0)
    assert found.room.equals(box(0, 0, 500, 400))


def test_a_blank_that_only_fits_turned_lies_turned() -> None:
    found = bed_room(MACHINE, 560, 880, edge_margin_mm=10)
    assert found is not None
    assert found.turned
    assert found.room.bounds == pytest.approx((3, 0, 560, 877))


def test_a_blank_larger_than_the_table_has_no_room() -> None:
    assert bed_room(MACHINE, 901, 600) is None
    assert bed_room(MACHINE, 901, 601) is None


def test_a_blank_larger_than_the_travel_is_cut_only_where_the_bit_gets() -> None:
    machine = Machine(travel_mm=(800.0, 500.0), table_mm=(1000.0, 700.0), cutters=(Cutter(6.0),))
    found = bed_room(machine, 1000, 700, edge_margin_mm=10)
    assert found is not None
    assert (found.bed_x_mm, found.bed_y_mm) == (-100, -100)
    assert found.room.bounds == (103, 103, 897, 597)


def test_a_blank_a_little_larger_than_the_travel_is_reached_inside_its_margin() -> None:
    machine = Machine(travel_mm=(900.0, 600.0), table_mm=(940.0, 640.0), cutters=(Cutter(6.0),))
    found = bed_room(machine, 610, 910, edge_margin_mm=8)
    assert found is not None
    assert found.turned
    assert found.room.bounds == pytest.approx((8, 8, 602, 902))


def test_clamp_zones_keep_the_bits_sweep_and_the_safety_distance_out() -> None:
    machine = Machine(
        travel_mm=(900.0, 600.0),
        table_mm=(900.0, 600.0),
        cutters=(Cutter(6.0),),
        clamps=(ClampZone(0, 0, 50, 40),),
        clamp_safety_mm=5.0,
    )
    found = bed_room(machine, 900, 600, edge_margin_mm=10)
    assert found is not None
    # A clamp 50 × 40, the bit's 6 mm round the piece, 5 mm of safety.
    assert found.room.intersection(box(0, 0, 61, 51)).area == pytest.approx(0)
    assert found.room.covers(box(61.001, 10, 100, 50))


def test_a_clamp_is_seen_from_the_blank_where_it_lies_turned() -> None:
    machine = Machine(
        travel_mm=(900.0, 600.0),
        table_mm=(900.0, 600.0),
        cutters=(Cutter(6.0),),
        clamps=(ClampZone(0, 0, 50, 40),),
        clamp_safety_mm=5.0,
    )
    found = bed_room(machine, 600, 900, edge_margin_mm=10)
    assert found is not None
    assert found.turned
    # The table's lower left corner is under the turned blank's upper left one.
    assert found.room.intersection(box(0, 900 - 61, 51, 900)).area == pytest.approx(0)
