"""A dragged piece: where it may go, what it rests against, what is in the way."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
import shapely
from shapely import affinity
from shapely.geometry import Polygon, box

from app.canvas.contact import Kind, Mover, Obstacle
from core.tolerances import CONTACT_SKIN_MM, LAYOUT_DISTANCE_MM

SHEET = Obstacle("sheet", box(0, 0, 1000, 600), 10.0, Kind.EDGE)
NEIGHBOUR = Obstacle("B", box(300, 10, 400, 210), 8.0)


def mover(*others: Obstacle, at: tuple[float, float] = (20.0, 20.0)) -> Mover:
    piece = affinity.translate(box(0, 0, 100, 50), *at)
    return Mover([piece], [SHEET, *others])


def wavy(x: float, y: float, seed: int, vertices: int = 60) -> Polygon:
    rng = random.Random(seed)
    angles = np.linspace(0, math.tau, vertices, endpoint=False)
    radius = 45 * (1 + rng.uniform(0.05, 0.25) * np.sin(rng.randint(2, 7) * angles))
    return Polygon(np.column_stack([x + radius * np.cos(angles), y + radius * np.sin(angles)]))


def test_a_free_wish_is_granted_to_the_last_bit() -> None:
    outcome = mover(NEIGHBOUR).move(31.25, 12.5)
    assert (outcome.dx_mm, outcome.dy_mm) == (31.25, 12.5)
    assert outcome.legal and not outcome.held and outcome.touches == ()


def test_a_piece_pushed_at_its_neighbour_stops_at_exactly_the_spacing() -> None:
    outcome = mover(NEIGHBOUR).move(230, 0)
    assert outcome.legal and outcome.held
    assert outcome.dx_mm == pytest.approx(300 - 8 - 120, abs=2 * CONTACT_SKIN_MM)
    (touch,) = outcome.touches
    assert (touch.id, touch.kind, touch.short_mm) == ("B", Kind.PIECE, 0.0)
    assert touch.gap_mm == pytest.approx(8, abs=2 * CONTACT_SKIN_MM)


def test_a_piece_pushed_slantwise_glides_along_its_neighbour() -> None:
    outcome = mover(NEIGHBOUR).move(190, 90)
    assert outcome.legal
    assert outcome.dx_mm == pytest.approx(172, abs=1e-3)
    assert outcome.dy_mm == pytest.approx(90, abs=1e-3)


def test_a_piece_rests_in_the_corner_of_the_sheet_at_the_margin() -> None:
    outcome = mover().move(-200, -200)
    assert outcome.legal
    assert (outcome.dx_mm, outcome.dy_mm) == pytest.approx((-10, -10), abs=1e-3)
    assert [t.kind for t in outcome.touches] == [Kind.EDGE]


def test_a_piece_carried_over_its_neighbour_comes_down_on_the_far_side() -> None:
    drag = mover(NEIGHBOUR)
    drag.move(170, 0)
    outcome = drag.move(340, 0)
    assert outcome.legal
    assert outcome.dx_mm > 300


def test_a_near_edge_and_a_near_neighbour_draw_the_piece_to_them() -> None:
    outcome = mover(NEIGHBOUR).move(168, -7, snap_mm=6)
    assert outcome.snapped and not outcome.held
    assert (outcome.dx_mm, outcome.dy_mm) == pytest.approx((172, -10), abs=1e-3)
    assert {t.id for t in outcome.touches} == {"sheet", "B"}


def test_nothing_is_drawn_that_is_further_than_the_snap_distance() -> None:
    outcome = mover(NEIGHBOUR).move(160, 5, snap_mm=6)
    assert (outcome.dx_mm, outcome.dy_mm) == (160, 5)


def test_an_overlap_says_with_what_and_how_deep_it_goes() -> None:
    outcome = mover(NEIGHBOUR).touches(190, 0)
    (touch,) = outcome
    assert touch.id == "B"
    assert touch.deep_mm == pytest.approx(10)
    assert touch.short_mm == pytest.approx(18)


def test_a_place_too_near_says_what_is_missing_to_the_spacing() -> None:
    (touch,) = mover(NEIGHBOUR).touches(175, 0)
    assert touch.deep_mm == 0
    assert (touch.gap_mm, touch.short_mm) == pytest.approx((5, 3))


def test_a_piece_past_the_edge_says_how_far() -> None:
    (touch,) = mover().touches(-35, 0)
    assert touch.kind is Kind.EDGE
    assert touch.deep_mm == pytest.approx(15)


def test_a_small_piece_may_lie_in_the_hole_of_a_large_one() -> None:
    frame = Polygon(box(200, 100, 700, 500).exterior, [box(260, 160, 640, 440).exterior])
    drag = Mover([box(300, 200, 400, 250)], [SHEET, Obstacle("frame", frame, 8)])
    outcome = drag.move(-60, -60)
    assert outcome.legal
    assert (outcome.dx_mm, outcome.dy_mm) == pytest.approx((-32, -32), abs=1e-3)


def test_a_piece_lying_wholly_on_another_is_an_overlap() -> None:
    drag = Mover([box(320, 60, 380, 120)], [SHEET, NEIGHBOUR])
    assert not drag.is_legal(0, 0)
    assert drag.touches(0, 0)[0].deep_mm == pytest.approx(60)
    assert drag.settle().legal


def test_a_piece_wholly_around_another_is_an_overlap() -> None:
    drag = Mover([box(250, 20, 450, 230)], [SHEET, Obstacle("dot", box(330, 80, 340, 90), 8)])
    assert not drag.is_legal(0, 0)


def test_a_dropped_piece_settles_at_the_nearest_free_place() -> None:
    drag = Mover([box(310, 60, 410, 110)], [SHEET, NEIGHBOUR])
    outcome = drag.settle()
    assert outcome.legal
    assert math.hypot(outcome.dx_mm, outcome.dy_mm) < 101


def test_a_piece_too_large_for_the_sheet_keeps_the_wish_and_is_not_legal() -> None:
    drag = Mover([box(0, 0, 1200, 50)], [SHEET])
    outcome = drag.move(5, 5)
    assert not outcome.legal
    assert (outcome.dx_mm, outcome.dy_mm) == (5, 5)
    assert outcome.touches[0].kind is Kind.EDGE


def test_several_pieces_move_as_one_and_the_first_to_meet_something_stops_all() -> None:
    drag = Mover([box(20, 20, 60, 60), box(80, 300, 140, 360)], [SHEET, NEIGHBOUR])
    outcome = drag.move(260, 0)
    assert outcome.dx_mm == pytest.approx(300 - 8 - 60, abs=1e-3)


def test_with_no_spacing_pieces_may_touch_but_not_overlap() -> None:
    touching = Obstacle("B", box(300, 10, 400, 210), 0.0)
    outcome = mover(touching).move(250, 0)
    assert outcome.legal
    assert outcome.dx_mm == pytest.approx(180, abs=1e-3)


@pytest.mark.parametrize("seed", range(6))
def test_no_drag_among_curvy_pieces_ever_comes_nearer_than_the_spacing(seed: int) -> None:
    rng = random.Random(seed)
    others = [wavy(80 + 122 * i, 80 + 125 * j, 10 * i + j) for i in range(7) for j in range(4)]
    free = wavy(930, 300, 99)
    drag = Mover([free], [SHEET, *(Obstacle(str(i), o, 8.0) for i, o in enumerate(others))])
    x = y = 0.0
    for _ in range(120):
        x, y = x + rng.uniform(-60, 45), y + rng.uniform(-50, 50)
        x, y = min(max(x, -900), 100), min(max(y, -320), 320)
        outcome = drag.move(x, y, snap_mm=rng.choice([0.0, 6.0]))
        if not outcome.legal:
            continue
        laid = affinity.translate(free, outcome.dx_mm, outcome.dy_mm)
        least = min(laid.distance(o) for o in others)
        assert least >= 8 - LAYOUT_DISTANCE_MM
        assert shapely.covers(box(10, 10, 990, 590).buffer(LAYOUT_DISTANCE_MM), laid)
