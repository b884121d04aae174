"""What holds freed parts: never on a flank, never in the bit's way, always something."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box

from core.bed import MILLED, hold_piece, hold_slug, notch_walls, screw_places, tab_places
from core.shop import Hold, Rules

RULES = Rules()
BIT = 6.0


def comb(width: float = 400.0) -> Polygon:
    """A piece with teeth along its upper edge."""
    points = [(0.0, 0.0), (width, 0.0), (width, 100.0)]
    x = width
    while x > 0:
        points += [(x - 20, 100.0), (x - 20, 118.0), (x - 40, 118.0), (x - 40, 100.0)]
        x -= 40
    return Polygon(points)


def test_tabs_stand_on_the_outline_and_off_the_flanks() -> None:
    piece = comb()
    seam = LineString(list(piece.exterior.coords)[2:-1]).buffer(1.5)
    held = hold_piece(piece, RULES, bit_mm=BIT, flanks=seam)
    assert held.way == Hold.TABS
    assert len(held.places) >= 2
    for at in held.places:
        assert piece.exterior.distance(Point(at)) < 1e-6
        assert seam.distance(Point(at)) >= RULES.tab_mm / 2 + BIT


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-300, 300), st.floats(-300, 300)), min_size=4, max_size=12).map(
        lambda rows: Polygon(rows).convex_hull
    )
)
def test_every_outline_has_a_hold_and_tabs_are_apart(shape: Polygon) -> None:
    if shape.geom_type != "Polygon" or shape.area < 10:
        return
    held = hold_piece(shape, RULES, bit_mm=BIT)
    assert held.way in {Hold.TABS, Hold.SKIN}
    if held.way == Hold.TABS:
        ring = shape.exterior
        along = sorted(ring.project(Point(at)) for at in held.places)
        gaps = [b - a for a, b in pairwise(along)]
        gaps.append(ring.length - along[-1] + along[0])
        assert min(gaps) >= 2 * RULES.tab_mm


def divider(width: float, *, slots: tuple[float, ...], depth: float) -> Polygon:
    """A board with slots from its upper edge for the boards it crosses."""
    cut = [box(x - width / 2, 150.0 - depth, x + width / 2, 200.0) for x in slots]
    return box(0, 0, 850, 150).difference(shapely.union_all(cut))


@pytest.mark.parametrize("width", [6.2, 18.0, 30.0])
def test_the_walls_of_a_notch_for_another_board_are_known(width: float) -> None:
    piece = divider(width, slots=(200.0, 425.0, 650.0), depth=75.0)
    walls = notch_walls(piece, 17.6)
    assert walls is not None
    assert walls.length == pytest.approx(3 * (2 * 75.0 + width), abs=1.5)
    assert walls.distance(Point(200.0 - width / 2, 100.0)) < 1e-6


def test_square_corners_wide_recesses_and_waves_are_no_notches() -> None:
    corner = box(0, 0, 400, 300).difference(box(200, 150, 500, 400))
    wide = box(0, 0, 400, 300).difference(box(100, 200, 220, 400))
    wave = box(0, 0, 400, 300).difference(Point(200, 340).buffer(90))
    for shape in (corner, wide, wave):
        assert notch_walls(shape, 17.6) is None


def test_no_tab_stands_in_a_notch_that_a_mate_enters() -> None:
    piece = divider(17.8, slots=(200.0, 425.0, 650.0), depth=75.0)
    walls = notch_walls(piece, 17.6)
    held = hold_piece(piece, RULES, bit_mm=BIT, flanks=walls)
    assert held.way == Hold.TABS
    assert walls is not None
    assert all(walls.distance(Point(at)) >= RULES.tab_mm / 2 for at in held.places)


def test_no_tab_sits_on_a_corner() -> None:
    ring = box(0, 0, 300, 60).exterior
    for at in tab_places(ring, 8.0, bit_mm=BIT):
        assert min(Point(at).distance(Point(c)) for c in ring.coords) >= 4.0


def test_a_piece_that_is_all_flank_is_left_on_a_skin() -> None:
    piece = box(0, 0, 60, 20)
    held = hold_piece(piece, RULES, bit_mm=BIT, flanks=piece.exterior.buffer(1.5))
    assert held.way == Hold.SKIN


@pytest.mark.parametrize(("size", "way"), [(10.0, MILLED), (120.0, Hold.TABS)])
def test_small_slugs_are_milled_away_and_large_ones_held(size: float, way: str) -> None:
    assert hold_slug(box(0, 0, size, size), RULES, bit_mm=BIT).way == way


def test_a_screw_goes_inside_a_slug_clear_of_the_bits_path() -> None:
    rules = replace(RULES, hold=Hold.SCREWS)
    hole = box(0, 0, 120, 120)
    held = hold_slug(hole, rules, bit_mm=BIT)
    assert held.way == Hold.SCREWS
    (at,) = held.places
    assert hole.exterior.distance(Point(at)) >= BIT + rules.screw_clear_mm - 1e-9
    assert hold_piece(hole, rules, bit_mm=BIT).way == Hold.TABS  # never a screw in a good piece


def test_a_slug_that_pieces_are_cut_from_is_not_milled_away() -> None:
    assert hold_slug(box(0, 0, 14, 14), RULES, bit_mm=BIT, carries=True).way != MILLED


def test_suction_holds_only_what_covers_enough_of_it() -> None:
    rules = replace(RULES, hold=Hold.VACUUM)
    area = box(0, 0, 500, 500)
    assert hold_piece(box(10, 10, 210, 210), rules, bit_mm=BIT, vacuum=area).way == Hold.VACUUM
    assert hold_piece(box(10, 10, 60, 60), rules, bit_mm=BIT, vacuum=area).way == Hold.TABS
    assert hold_piece(box(400, 10, 650, 210), rules, bit_mm=BIT, vacuum=area).way == Hold.TABS


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 700), st.integers(0, 400)), max_size=4))
def test_screw_places_keep_the_stated_distance_from_every_path(
    corners: list[tuple[int, int]],
) -> None:
    board = box(0, 0, 900, 600)
    pieces = [box(x + 15, y + 15, x + 160, y + 150) for x, y in corners]
    for at in screw_places(board, pieces, bit_mm=BIT, clear_mm=15.0):
        assert board.covers(Point(at))
        # The bit sweeps its diameter round a piece; the screw stays clear of that.
        assert all(piece.distance(Point(at)) >= BIT + 15.0 - 0.2 for piece in pieces)


def test_a_full_board_has_no_place_for_a_screw() -> None:
    assert screw_places(box(0, 0, 300, 200), [box(5, 5, 295, 195)], bit_mm=BIT, clear_mm=15) == ()
