"""Tabs between pieces that lie closer than two bits: checked by cutting the board in thought.

The check knows nothing of how tabs are chosen: every path of the bit is taken out of the board
but for the bridges left at the marks, and what is left in one part with the board's edge is held.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LinearRing, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from core.bed import Freed, TiedDown, bit_path, tab_places, tab_spots, tie_down
from core.geometry import Motion, Region, Ring
from core.plan import Plan, PlanSetup, PlanSheet
from core.planning import plan_project
from core.project.model import Panel, Project
from core.shop import Cutter, Hold, Machine, Material, Rules, Shop, Stock

BIT, TAB = 6.0, 8.0
MACHINE = Machine(travel_mm=(1000.0, 800.0), table_mm=(1000.0, 800.0), cutters=(Cutter(BIT),))
Marks = tuple[LinearRing, bool, Sequence[tuple[float, float]]]


def bridge(ring: LinearRing, at: tuple[float, float], inside: bool) -> Polygon:
    """What a tab leaves of the bit's path: from the wall across it, as wide as the tab."""
    along = ring.project(Point(at))
    ends = [ring.interpolate((along + off) % ring.length) for off in (-1.0, 1.0)]
    way = np.subtract(ends[1].coords[0], ends[0].coords[0])
    way /= np.hypot(*way)
    out = np.array([way[1], -way[0]]) * (1.0 if ring.is_ccw != inside else -1.0)
    corners = [
        np.add(at, TAB / 2 * sign * way + deep * out)
        for sign, deep in ((-1, -0.05), (1, -0.05), (1, BIT + 0.05), (-1, BIT + 0.05))
    ]
    return Polygon(corners)


def left_whole(
    board: Polygon, bodies: Sequence[Polygon], marks: Sequence[Marks], skins: Sequence[Polygon] = ()
) -> list[Polygon]:
    """What the bit leaves, in parts; links thinner than 2 mm do not count."""
    gone = []
    for ring, inside, places in marks:
        face = Polygon(ring)
        path = face.difference(face.buffer(-BIT)) if inside else face.buffer(BIT).difference(face)
        spared = [*(bridge(ring, at, inside) for at in places), *skins]
        gone.append(path.difference(shapely.union_all(spared)) if spared else path)
    left = board.difference(shapely.union_all(gone)).buffer(-1.0)
    return [part.buffer(1.0) for part in shapely.get_parts(left) if not part.is_empty]


def is_held(board: Polygon, body: Polygon, parts: Sequence[Polygon]) -> bool:
    at = body.buffer(-2.0).representative_point()
    homes = [part for part in parts if part.contains(at)]
    return len(homes) == 1 and homes[0].intersects(board.exterior.buffer(0.5))


def plan_with(spacing: float, shape: Region, quantity: int) -> Plan:
    panel = Panel("shelf", "Shelf", shape, quantity=quantity, material="ply")
    rules = Rules(spacing_mm=spacing, hold=Hold.TABS, tab_mm=TAB)
    shop = Shop(
        MACHINE, (Material("ply", 12.0),), (Stock("rack", "ply", 900.0, 700.0),), rules=rules
    )
    return plan_project(Project(name="Shelves", panels=(panel,), shop=shop), steps=500)


def cut(
    plan: Plan, sheet: PlanSheet, setup: PlanSetup
) -> tuple[Polygon, list[Polygon], list[Polygon]]:
    """The board of a clamping, its pieces as they lie and what the bit leaves."""
    members = [p for p in sheet.placements if p.setup == setup.id]
    bodies = [
        affinity.affine_transform(plan.piece(p.piece).cut.polygon, p.motion.matrix())
        for p in members
    ]
    marks: list[Marks] = []
    for p, body in zip(members, bodies, strict=True):
        for hold in setup.holds:
            if (hold.piece, hold.copy) == (p.piece, p.copy):
                assert hold.way == Hold.TABS
                ring = body.exterior if hold.hole is None else body.interiors[hold.hole]
                marks.append((ring, hold.hole is not None, hold.places))
    x, y = setup.x_mm, setup.y_mm
    board = box(x, y, x + setup.width_mm, y + setup.height_mm)
    return board, bodies, left_whole(board, bodies, marks)


SHELF = Region.of(Ring.rectangle(0, 0, 250, 160))
FRAME = Region.of(Ring.rectangle(0, 0, 560, 420), (Ring.rectangle(100, 80, 360, 260),))


@pytest.mark.parametrize("spacing", [8.0, 11.0, 13.0])
@pytest.mark.parametrize(("shape", "quantity"), [(SHELF, 9), (FRAME, 1)])
def test_every_piece_hangs_on_the_board_when_all_is_cut(
    spacing: float, shape: Region, quantity: int
) -> None:
    plan = plan_with(spacing, shape, quantity)
    (sheet,) = plan.sheets
    (setup,) = sheet.setups
    board, bodies, parts = cut(plan, sheet, setup)
    assert len(bodies) == quantity
    assert all(is_held(board, body, parts) for body in bodies)
    assert not any("no tabs hold" in note for note in setup.notes)
    paired = [note for note in setup.notes if "stand opposite" in note]
    assert bool(paired) == (spacing < 2 * BIT and quantity > 1)


def test_a_piece_in_the_middle_hangs_on_its_neighbours() -> None:
    grid = [box(20 + 128 * i, 20 + 128 * j, 140 + 128 * i, 140 + 128 * j) for i in (0, 1, 2)
            for j in (0, 1, 2)]  # fmt: skip
    found = tied(grid, box(0, 0, 416, 416))
    assert found.loose == () and found.paired >= 4
    middle = found.places[4]
    assert len(middle) >= 2
    for at in middle:  # each has a tab of a neighbour straight across
        mates = [q for k in (1, 3, 5, 7) for q in found.places[k]]
        assert min(Point(at).distance(Point(q)) for q in mates) == pytest.approx(8.0, abs=0.01)


def test_a_piece_that_fills_a_cut_out_hangs_on_its_wall() -> None:
    frame = box(20, 20, 320, 270).difference(box(70, 70, 270, 220))
    filler = box(78, 78, 262, 212)
    board = box(0, 0, 340, 290)
    rings = [(frame.exterior, False), (frame.interiors[0], True), (filler.exterior, False)]
    freed = [
        Freed(
            body,
            tab_spots(ring, TAB, bit_mm=BIT, inside=inside),
            True,
            tab_places(ring, TAB, bit_mm=BIT),
            cut_out=inside,
        )
        for body, (ring, inside) in zip((0, 0, 1), rings, strict=True)
    ]
    bodies = [frame, filler]
    paths = [bit_path(body, BIT) for body in bodies]
    found = tie_down(bodies, paths, freed, board, tab_mm=TAB, bit_mm=BIT)
    marks = [(*ring, places) for ring, places in zip(rings, found.places, strict=True)]
    parts = left_whole(board, bodies, marks)
    assert found.loose == () and all(is_held(board, body, parts) for body in bodies)
    alone = [(*ring, one.places) for ring, one in zip(rings, freed, strict=True)]
    assert not is_held(board, filler, left_whole(board, bodies, alone))


def pinwheel(island: float) -> tuple[list[Polygon], Polygon]:
    """Four pieces round a square of waste that their paths shut in; and the board."""
    arm, gap = 200.0, 8.0
    inner = island + 2 * BIT - 2 * gap
    long = arm + gap + inner
    x0 = y0 = 20.0
    side = arm + gap + inner + gap + arm
    parts = [
        box(x0, y0, x0 + long, y0 + arm),
        box(x0 + long + gap, y0, x0 + side, y0 + long),
        box(x0 + side - long, y0 + long + gap, x0 + side, y0 + side),
        box(x0, y0 + arm + gap, x0 + arm, y0 + side),
    ]
    return parts, box(0, 0, side + 40, side + 40)


def test_waste_that_is_shut_in_gets_tabs_or_is_milled_away() -> None:
    bodies, board = pinwheel(60.0)
    found = tied(bodies, board)
    assert found.milled == () and found.adrift == ()
    marks = [(b.exterior, False, places) for b, places in zip(bodies, found.places, strict=True)]
    parts = left_whole(board, bodies, marks)
    middle = board.centroid
    (island,) = [part for part in parts if part.contains(middle)]
    assert island.intersects(board.exterior.buffer(0.5))
    small, board = pinwheel(9.0)
    found = tied(small, board)
    assert len(found.milled) == 1 and found.adrift == ()
    assert Point(found.milled[0]).distance(board.centroid) < 9.0


def test_without_near_neighbours_a_piece_keeps_its_own_tabs() -> None:
    apart = [box(20, 20, 220, 120), box(20, 133, 220, 233)]
    found = tied(apart, box(0, 0, 240, 253))
    assert found.places == tuple(tab_places(b.exterior, TAB, bit_mm=BIT) for b in apart)
    assert found.paired == 0


def test_a_piece_that_nothing_can_hold_is_told() -> None:
    """Shut in by parts whose facing walls are flanks of joints."""
    rows = [box(20, 20, 320, 100), box(20, 108, 320, 188), box(20, 196, 320, 276)]
    left, right = box(-60, 20, 12, 276), box(328, 20, 400, 276)
    flanks = [None, None, None, left.exterior, right.exterior]
    parts = [*rows, left, right]
    sides = shapely.union_all([r.exterior for r in (rows[0], rows[2])])
    found = tied(
        parts, box(-80, 0, 420, 296), flanks=[sides, None, sides, *flanks[3:]]
    )  # no wall that faces the middle one may carry a tab
    assert 1 in found.loose


def tied(
    bodies: Sequence[Polygon], board: Polygon, flanks: Sequence[BaseGeometry | None] = ()
) -> TiedDown:
    freed = []
    for k, body in enumerate(bodies):
        keep_off = flanks[k] if flanks else None
        spots = tab_spots(body.exterior, TAB, bit_mm=BIT, flanks=keep_off)
        places = tab_places(body.exterior, TAB, bit_mm=BIT, flanks=keep_off)
        freed.append(Freed(k, spots, True, places))
    paths = [bit_path(body, BIT) for body in bodies]
    return tie_down(bodies, paths, freed, board, tab_mm=TAB, bit_mm=BIT)


@settings(max_examples=60, deadline=None)
@given(
    columns=st.lists(st.floats(60, 260), min_size=1, max_size=4),
    rows=st.lists(st.floats(60, 260), min_size=1, max_size=4),
    spacing=st.sampled_from([8.0, 8.0, 9.5, 11.9, 12.5]),
    corner=st.floats(0.0, 25.0),
    motion=st.builds(
        Motion, turn_deg=st.sampled_from([0.0, 30.0, 90.0, 201.5]), mirrored=st.booleans()
    ),
)
def test_whatever_is_said_to_hold_holds(
    columns: list[float], rows: list[float], spacing: float, corner: float, motion: Motion
) -> None:
    bodies = []
    x = 20.0
    for width in columns:
        y = 20.0
        for height in rows:
            shape = box(x, y, x + width, y + height)
            bodies.append(shape.buffer(-corner).buffer(corner) if corner > 1 else shape)
            y += height + spacing
        x += width + spacing
    board = box(0, 0, x - spacing + 20, y - spacing + 20)
    bodies = [affinity.affine_transform(b, motion.matrix()) for b in bodies]
    board = affinity.affine_transform(board, motion.matrix())
    found = tied(bodies, board)
    marks = [(b.exterior, False, places) for b, places in zip(bodies, found.places, strict=True)]
    parts = left_whole(board, bodies, marks)
    for k, body in enumerate(bodies):
        assert is_held(board, body, parts) or k in found.loose
    assert found.loose == ()
