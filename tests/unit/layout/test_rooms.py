"""The largest rectangles in the room that clamps leave: against a count of all, and in time."""

from __future__ import annotations

from itertools import combinations

import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box

from core.layout.rooms import largest_rectangles


def by_trying_all(room: Polygon) -> set[tuple[float, float]]:
    """Every rectangle between corners of the outline that lies inside and in no larger one."""
    xs, ys = ({round(c[k], 6) for c in shapely.get_coordinates(room)} for k in (0, 1))
    grown = room.buffer(1e-7)
    sizes = {
        (right - left, top - low)
        for left, right in combinations(sorted(xs), 2)
        for low, top in combinations(sorted(ys), 2)
        if grown.covers(box(left, low, right, top))
    }
    return {
        (round(w, 6), round(h, 6))
        for w, h in sizes
        if not any((w, h) != (a, b) and w <= a and h <= b for a, b in sizes)
    }


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.integers(0, 380), st.integers(0, 280), st.integers(5, 150), st.integers(5, 150)
        ),
        max_size=3,
    )
)
def test_the_rectangles_are_those_that_trying_all_finds(
    clamps: list[tuple[int, int, int, int]],
) -> None:
    room = box(0, 0, 400, 300)
    for x, y, width, height in clamps:
        room = room.difference(box(x, y, x + width, y + height))
    found = largest_rectangles(room)
    assert {(round(w, 6), round(h, 6)) for w, h in found} == by_trying_all(room)
    areas = [w * h for w, h in found]
    assert areas == sorted(areas, reverse=True)


def test_round_clamps_with_many_corners_are_no_hours_of_work() -> None:
    """Trying every pair of corners of four discs by itself took minutes; the window stood busy."""
    room = box(0, 0, 900, 700)
    for x, y in ((100, 100), (800, 100), (100, 600), (800, 600)):
        room = room.difference(Point(x, y).buffer(20.0))
    found = largest_rectangles(room)
    assert all(
        any(abs(w - a) < 1e-6 and abs(h - b) < 1e-6 for a, b in found)
        for w, h in ((660.0, 700.0), (900.0, 460.0))
    )
    assert largest_rectangles(Polygon()) == []
