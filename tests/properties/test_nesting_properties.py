"""What holds for every nesting, whatever the pieces and sheets."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon, box

from core.nesting import (
    Layout,
    NestPiece,
    NestRules,
    NestSheet,
    Placer,
    check_layout,
    nest,
    nfp,
    place_rest,
)
from core.nesting.parts import convex_parts, packed
from core.nesting.simplify import simplify_outward

pytestmark = pytest.mark.timeout(240)
QUICK = settings(
    max_examples=15,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


@st.composite
def outlines(draw: st.DrawFn) -> Polygon:
    """Boxes, combs, rings and star shapes, 20 to 300 mm across."""
    kind = draw(st.sampled_from(["box", "comb", "ring", "star"]))
    width = draw(st.integers(20, 300))
    height = draw(st.integers(20, 300))
    if kind == "box":
        return box(0, 0, width, height)
    if kind == "ring":
        wall = draw(st.integers(5, 9))
        hole = box(wall, wall, width - wall, height - wall)
        return box(0, 0, width, height).difference(hole)
    if kind == "comb":
        teeth = draw(st.integers(2, 5))
        pitch = width / (2 * teeth)
        cuts = [
            box((2 * k + 1) * pitch, height / 2, (2 * k + 2) * pitch, height) for k in range(teeth)
        ]
        return box(0, 0, width, height).difference(shapely.union_all(cuts))
    corners = draw(st.integers(5, 12))
    radii = draw(st.lists(st.integers(10, 150), min_size=corners, max_size=corners))
    angles = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    star = Polygon([(r * np.cos(a), r * np.sin(a)) for r, a in zip(radii, angles, strict=True)])
    return star if star.is_valid else star.convex_hull


@st.composite
def piece_lists(draw: st.DrawFn) -> list[NestPiece]:
    turns = st.sampled_from([(0,), (0, 180), (0, 90, 180, 270), (0, 30), None])
    return [
        NestPiece(
            f"p{k}",
            draw(outlines()),
            draw(st.integers(1, 3)),
            draw(turns),
            may_mirror=draw(st.booleans()),
            priority=draw(st.integers(0, 1)),
            filler=draw(st.integers(0, 5)) == 0,
        )
        for k in range(draw(st.integers(1, 5)))
    ]


@st.composite
def sheet_lists(draw: st.DrawFn) -> list[NestSheet]:
    sheets = []
    for k in range(draw(st.integers(1, 2))):
        width, height = draw(st.integers(250, 900)), draw(st.integers(250, 600))
        outline = box(0, 0, width, height)
        if draw(st.booleans()):
            outline = outline.difference(box(width * 0.6, height * 0.5, width, height))
        spots = (box(40, 40, 70, 90),) if draw(st.booleans()) else ()
        sheets.append(NestSheet(f"s{k}", outline, draw(st.sampled_from([None, 1, 2])), None, spots))
    return sheets


RULES = st.sampled_from([NestRules(0, 0), NestRules(6, 8), NestRules(8, 2, use_holes=False)])


def copies(pieces: list[NestPiece]) -> set[tuple[str, int]]:
    return {(piece.id, copy) for piece in pieces for copy in range(1, piece.quantity + 1)}


@QUICK
@given(piece_lists(), sheet_lists(), RULES, st.integers(0, 99))
def test_layouts_pass_the_proof_and_lose_nothing(
    pieces: list[NestPiece], sheets: list[NestSheet], rules: NestRules, seed: int
) -> None:
    layout = nest(pieces, sheets, rules, steps=15_000, seed=seed)
    assert check_layout(pieces, sheets, rules, layout) == []
    told = [p[:2] for p in layout.placements] + [u[:2] for u in layout.unplaced]
    assert sorted(told) == sorted(copies(pieces))
    assert all(u.reason for u in layout.unplaced)
    if not any(piece.filler for piece in pieces) and not layout.unplaced:
        assert layout.bound <= len(layout.sheets)


@QUICK
@given(piece_lists(), sheet_lists(), RULES, st.integers(0, 99))
def test_a_seed_and_a_step_budget_give_one_layout(
    pieces: list[NestPiece], sheets: list[NestSheet], rules: NestRules, seed: int
) -> None:
    one = nest(pieces, sheets, rules, steps=15_000, seed=seed)
    assert one == nest(pieces, sheets, rules, steps=15_000, seed=seed)


@QUICK
@given(piece_lists(), sheet_lists(), RULES, st.data())
def test_locked_pieces_stay_where_they_are(
    pieces: list[NestPiece], sheets: list[NestSheet], rules: NestRules, data: st.DataObject
) -> None:
    first = nest(pieces, sheets, rules, steps=0)
    if not first.placements:
        return
    locks = data.draw(st.sets(st.sampled_from(first.placements), max_size=3))
    again = nest(pieces, sheets, rules, steps=15_000, start=first, locked=locks)
    assert locks <= set(again.placements)
    assert check_layout(pieces, sheets, rules, again) == []
    wanted = [piece for piece in pieces if not piece.filler]
    left = {u[:2] for u in again.unplaced} & copies(wanted)
    assert len(left) <= len({u[:2] for u in first.unplaced} & copies(wanted))


@QUICK
@given(piece_lists(), sheet_lists(), RULES, st.data())
def test_placing_the_rest_moves_nothing(
    pieces: list[NestPiece], sheets: list[NestSheet], rules: NestRules, data: st.DataObject
) -> None:
    full = nest(pieces, sheets, rules, steps=0)
    keep = data.draw(st.integers(0, len(full.placements)))
    part = Layout(full.placements[:keep])
    rest = place_rest(pieces, sheets, rules, part, steps=5_000)
    assert set(part.placements) <= set(rest.placements)
    assert check_layout(pieces, sheets, rules, rest) == []


@QUICK
@given(piece_lists(), sheet_lists(), RULES)
@example(
    [NestPiece("p0", box(0, 0, 41, 20), 1, (0,)), NestPiece("p1", box(0, 0, 20, 20), 1, (0,))],
    [NestSheet("s0", box(0, 0, 250, 250), None, None, (box(40, 40, 70, 90),))],
    NestRules(6, 8),
)
def test_the_best_place_for_a_piece_keeps_every_rule(
    pieces: list[NestPiece], sheets: list[NestSheet], rules: NestRules
) -> None:
    placer = Placer(pieces, sheets, rules)
    layout = nest(pieces[1:], sheets, rules, steps=0)
    place = placer.best_place(pieces[0].id, 1, layout)
    if place is not None:
        made = Layout((*layout.placements, place))
        found = check_layout(pieces, sheets, rules, made)
        assert [violation for violation in found if violation.placements] == []


@QUICK
@given(outlines(), outlines(), st.sampled_from([0.0, 90.0, 180.0, 37.0]))
@example(box(0, 0, 21, 20), box(0, 0, 20, 20).difference(box(5, 5, 15, 15)), 180.0)
def test_no_fit_polygons_have_the_boundary_of_the_exact_sum(
    one: Polygon, two: Polygon, turn: float
) -> None:
    a, b = packed(convex_parts(one)), packed(convex_parts(two))
    cos, sin = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    edges, frame, side, cells, listed = nfp.build(*a, *b, cos, sin)
    mirrored = affinity.scale(affinity.rotate(two, turn, origin=(0, 0)), -1, -1, origin=(0, 0))
    sums = [
        shapely.MultiPoint((p[:, None] + q[None]).reshape(-1, 2)).convex_hull
        for p in convex_parts(one)
        for q in convex_parts(mirrored)
    ]
    # On a grid: without one, shapely 2.2 loses whole polygons of some such unions.
    exact = shapely.union_all(sums, grid_size=1e-7)
    length = np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1]).sum()
    assert length == pytest.approx(exact.length, rel=1e-5)
    assert frame[0] == pytest.approx(exact.bounds[0], abs=1e-5) and frame[5] == pytest.approx(
        exact.bounds[3], abs=1e-5
    )
    assert cells[side * side] == 4 * len(listed)


@QUICK
@given(outlines(), st.floats(0.1, 20))
def test_simplified_outlines_never_lose_ground(outline: Polygon, most: float) -> None:
    simple = simplify_outward(outline, most_mm=most, fewest=4)
    assert outline.difference(simple).area <= 1e-6 * outline.area
    assert shapely.get_num_coordinates(simple) <= shapely.get_num_coordinates(outline)


@QUICK
@given(outlines())
def test_convex_parts_cover_their_outline_exactly(outline: Polygon) -> None:
    parts = [Polygon(part) for part in convex_parts(outline)]
    assert all(abs(part.convex_hull.area - part.area) < 1e-9 * part.area for part in parts)
    assert sum(part.area for part in parts) == pytest.approx(outline.area, rel=1e-9)
    assert shapely.union_all(parts).symmetric_difference(outline).area < 1e-9 * outline.area
