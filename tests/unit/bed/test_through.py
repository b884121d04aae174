"""Long boards pushed through an open bed: windows, pins, and what must hold for any pieces."""

from __future__ import annotations

import math
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box

from core.bed import Feed, feed_of, lying, on_sheet, stretches
from core.shop import ClampZone, Cutter, Machine

BED = Machine(
    travel_mm=(900.0, 600.0), table_mm=(900.0, 640.0), cutters=(Cutter(6.0),), open_ended=True
)
PIN = 8.0


def feed() -> Feed:
    found = feed_of(BED, 2440.0, 600.0, edge_margin_mm=10.0)
    assert found is not None
    return found


@st.composite
def rows(draw: st.DrawFn) -> list[Polygon]:
    """Rectangles one after the other in one to three rows along a board 2440 × 600."""
    found = []
    room = feed().room(10.0, PIN).bounds
    count = draw(st.integers(1, 3))
    high = (room[3] - room[1]) / count - 8
    for row in range(count):
        x = room[0] + draw(st.integers(0, 300))
        y = room[1] + row * (high + 8)
        while True:
            wide = draw(st.integers(30, 890))
            if x + wide > room[2]:
                break
            found.append(box(x, y, x + wide, y + draw(st.floats(20, high))))
            x += wide + draw(st.integers(8, 500))
    return found


@settings(max_examples=50, deadline=None)
@given(rows())
def test_every_piece_lies_wholly_in_the_window_of_its_clamping(shapes: list[Polygon]) -> None:
    board = feed()
    stops = stretches(board, shapes, BED.travel_mm[0], pin_mm=PIN)
    cut = [k for stop in stops for k in stop.members]
    assert sorted(cut) == list(range(len(shapes)))
    for stop in stops:
        assert stop.to_mm - stop.from_mm <= 900.0 + 1e-6
        for k in stop.members:
            swept = shapes[k].buffer(3.0, join_style="mitre")
            assert swept.bounds[0] >= stop.start_mm - 2e-3
            assert swept.bounds[2] <= stop.start_mm + 900.0 + 2e-3


@settings(max_examples=50, deadline=None)
@given(rows())
def test_pins_stand_in_waste_that_both_clampings_reach(shapes: list[Polygon]) -> None:
    stops = stretches(feed(), shapes, BED.travel_mm[0], pin_mm=PIN)
    for before, after in pairwise(stops):
        assert after.pins == before.bores
        assert after.start_mm > before.start_mm
        assert len(before.bores) == 2
        first, second = before.bores
        assert math.dist(first, second) >= 80.0
        for x, y in before.bores:
            hole = Point(x, y).buffer(PIN / 2)
            for stop in (before, after):
                assert hole.bounds[0] >= stop.start_mm
                assert hole.bounds[2] <= stop.start_mm + 900.0
            assert box(0, 0, 2440, 600).covers(hole)
            assert all(hole.distance(shape) >= 6.0 + 2.0 - 1e-6 for shape in shapes)
    assert not stops[0].pins
    assert not stops[-1].bores


@settings(max_examples=30, deadline=None)
@given(rows())
def test_no_fewer_clampings_could_cut_the_pieces(shapes: list[Polygon]) -> None:
    # Pieces of which no two fit one window need a clamping each.
    window = feed().window_mm
    stops = [s for s in stretches(feed(), shapes, 900.0, pin_mm=PIN) if s.members]
    apart: list[tuple[float, float]] = []
    for x1, _, x2, _ in sorted((s.bounds for s in shapes), key=lambda b: b[0]):
        if all(x2 - left > window + 1e-2 for left, _ in apart):
            apart.append((x1, x2))
    assert len(apart) <= len(stops) <= len(shapes)
    assert len(stops) == len(apart)


def test_a_short_board_of_few_pieces_takes_one_clamping() -> None:
    shapes = [box(20, 30, 400, 300), box(420, 30, 800, 300)]
    (stop,) = stretches(feed(), shapes, 900.0, pin_mm=PIN)
    assert not stop.bores
    assert stop.from_mm == 0.0


def test_a_stretch_of_nothing_is_bridged_by_a_clamping_that_only_bores() -> None:
    shapes = [box(20, 30, 100, 300), box(2300, 30, 2400, 300)]
    stops = stretches(feed(), shapes, 900.0, pin_mm=PIN)
    assert [len(stop.members) for stop in stops] == [1, 0, 1]
    assert all(len(stop.bores) == 2 for stop in stops[:-1])


def test_a_piece_longer_than_the_window_is_in_no_clamping() -> None:
    shapes = [box(20, 30, 1000, 300), box(1100, 30, 1300, 300)]
    stops = stretches(feed(), shapes, 900.0, pin_mm=PIN)
    assert [stop.members for stop in stops] == [(1,)]


def test_clamps_leave_a_narrower_window() -> None:
    clamped = Machine(
        travel_mm=(900.0, 600.0),
        table_mm=(900.0, 640.0),
        cutters=(Cutter(6.0),),
        clamps=(ClampZone(0.0, 0.0, 80.0, 600.0),),
        open_ended=True,
    )
    found = feed_of(clamped, 2440.0, 600.0, edge_margin_mm=10.0)
    assert found is not None
    # 80 mm of clamp, 5 mm of safety and a bit's diameter on one side, a radius on the other.
    assert found.window_mm == 900.0 - (80 + 5 + 6) - 3


def test_a_closed_bed_or_too_wide_a_board_cannot_be_fed() -> None:
    closed = Machine(travel_mm=(900.0, 600.0), table_mm=(900.0, 640.0))
    assert feed_of(closed, 2440.0, 600.0) is None
    assert feed_of(BED, 2440.0, 641.0) is None


def test_a_board_turned_for_the_feed_keeps_its_points() -> None:
    found = feed_of(BED, 500.0, 2000.0)
    assert found is not None
    assert found.turned
    assert (found.length_mm, found.depth_mm) == (2000.0, 500.0)
    blank = (100.0, 50.0, 500.0, 2000.0)
    laid = lying(Point(130.0, 90.0), blank, found)
    assert on_sheet((laid.x, laid.y), blank, found) == (130.0, 90.0)  # type: ignore[attr-defined]
    assert box(0, 0, 2000, 500).covers(lying(box(100, 50, 600, 2050), blank, found))
