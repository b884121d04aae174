"""Replaying cuts and finding the cuts that free given rectangles."""

from __future__ import annotations

import pytest

from core.breakdown import (
    CutReplayError,
    NotSawableError,
    Rect,
    follow,
    pattern_for,
    rects_of,
    replay,
)


def test_a_sheet_without_cuts_stays_whole() -> None:
    assert replay(2440, 1220, [], 3) == (Rect(0, 0, 2440, 1220),)


def test_a_cut_takes_half_the_kerf_from_either_side() -> None:
    left, right = replay(100, 50, [(40, 0, 40, 50)], 3)
    assert left == pytest.approx((0, 0, 38.5, 50))
    assert right == pytest.approx((41.5, 0, 58.5, 50))


def test_a_cut_across_one_part_leaves_the_other_parts_alone() -> None:
    pieces = replay(100, 50, [(40, 0, 40, 50), (0, 20, 39, 20)], 2)
    assert sorted(pieces) == [Rect(0, 0, 39, 19), Rect(0, 21, 39, 29), Rect(41, 0, 59, 50)]


@pytest.mark.parametrize(
    ("cuts", "order", "message"),
    [
        ([(40, 0, 40, 30)], 1, "not straight across"),
        ([(40, 0, 40, 50), (0, 20, 100, 20)], 2, "not straight across"),
        ([(0, 0, 100, 50)], 1, "neither level nor upright"),
        ([(40, 0, 40, 0)], 1, "neither level nor upright"),
        ([(120, 0, 120, 50)], 1, "not straight across"),
        ([(40, 0, 40, 50), (40, 0, 40, 50)], 2, "not straight across"),
    ],
)
def test_a_cut_that_is_no_through_cut_is_named(
    cuts: list[tuple[float, float, float, float]], order: int, message: str
) -> None:
    with pytest.raises(CutReplayError, match=message) as caught:
        replay(100, 50, cuts, 2)
    assert caught.value.order == order
    assert f"cut {order} " in str(caught.value)


def test_a_blade_that_skims_the_edge_takes_the_sliver_away() -> None:
    assert replay(100, 50, [(100.5, 0, 100.5, 50)], 3) == (Rect(0, 0, 99, 50),)
    with pytest.raises(CutReplayError):
        replay(100, 50, [(101.6, 0, 101.6, 50)], 3)


def test_the_trace_names_what_came_of_every_cut() -> None:
    pieces, traces = follow(100, 50, [(40, 0, 40, 50), (41, 20, 100, 20)], 2)
    assert [(t.piece, t.low, t.high) for t in traces] == [(0, 1, 2), (2, 3, 4)]
    rects = rects_of(100, 50, traces, 2)
    assert rects[2] == Rect(41, 0, 59, 50)
    assert [number for number, piece in enumerate(pieces) if piece] == [1, 3, 4]


def test_a_target_in_the_corner_needs_two_cuts_and_leaves_the_largest_offcut() -> None:
    free = pattern_for([(0, 0, 600, 400)], 2440, 1220, kerf_mm=3)
    assert len(free.cuts) == 2
    assert free.cuts[0].x1_mm == 601.5  # across the short way first: 1837 × 1220 stays whole
    assert max(rect.area_mm2 for rect in free.offcuts) == pytest.approx(1837 * 1220)


def test_a_target_that_is_the_sheet_needs_no_cut() -> None:
    free = pattern_for([(0, 0, 2440, 1220)], 2440, 1220, kerf_mm=3)
    assert free.cuts == () and free.offcuts == () and free.targets == (0,)


def test_nothing_wanted_needs_no_cut() -> None:
    free = pattern_for([], 2440, 1220, kerf_mm=3)
    assert free.cuts == () and free.offcuts == (Rect(0, 0, 2440, 1220),)


def test_waste_shared_by_several_parts_is_sawn_off_once() -> None:
    row = [(0, 0, 300, 400), (303, 0, 300, 400), (606, 0, 300, 400)]
    free = pattern_for(row, 2000, 1000, kerf_mm=3)
    assert len(free.cuts) == 4  # end, top, two between: not a cut above every part
    assert len(free.offcuts) == 2


def test_parts_around_a_middle_one_cannot_be_freed() -> None:
    wheel = [(0, 0, 6, 4), (6, 0, 4, 6), (4, 6, 6, 4), (0, 4, 4, 6), (4, 4, 2, 2)]
    with pytest.raises(NotSawableError, match="through cuts"):
        pattern_for(wheel, 10, 10, kerf_mm=0)


def test_parts_nearer_than_the_kerf_cannot_be_freed() -> None:
    near = [(0, 0, 100, 100), (102, 0, 98, 100)]
    assert len(pattern_for(near, 200, 100, kerf_mm=2).cuts) == 1
    with pytest.raises(NotSawableError):
        pattern_for(near, 200, 100, kerf_mm=3)


@pytest.mark.parametrize("target", [(-1, 0, 50, 50), (60, 0, 50, 50), (0, 0, 0, 50)])
def test_a_target_off_the_sheet_or_empty_is_refused(
    target: tuple[float, float, float, float],
) -> None:
    with pytest.raises(NotSawableError, match="not on the sheet"):
        pattern_for([target], 100, 100, kerf_mm=1)


def test_a_long_row_of_equal_parts_is_freed_without_deep_recursion() -> None:
    row = [(i * 8.0, 0.0, 5.0, 100.0) for i in range(600)]
    free = pattern_for(row, 4800, 100, kerf_mm=3)
    assert len(free.cuts) == 600
    assert len(replay(4800, 100, free.cuts, 3)) == 600


def test_cuts_of_one_part_come_before_those_of_its_strips() -> None:
    grid = [(x * 103.0, y * 53.0, 100.0, 50.0) for x in range(4) for y in range(3)]
    free = pattern_for(grid, 4 * 103 - 3, 3 * 53 - 3, kerf_mm=3)
    upright = [cut.upright for cut in free.cuts]
    first = upright[0]
    assert all(way == first for way in upright[: upright.index(not first)])
    assert upright.count(first) in (2, 3) and len(upright) == 11
