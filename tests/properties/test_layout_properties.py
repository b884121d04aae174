"""What must hold for every layout: it can be sawn, lifted, clamped and routed as it stands.

Everything is worked out again from the plan's plain numbers: where the board lies on the table,
where the bit runs, what a blank weighs. Nothing of the planner's own geometry is asked.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon, box

from core.breakdown import replay
from core.geometry import Region, Ring
from core.layout import Assembled, Copies, assemble_sheets, lay_out_pieces
from core.plan import PlanPiece, PlanSetup, PlanSheet
from core.shop import ClampZone, Cutter, Limits, Machine, Material, Rules, Shop, Stock

EPS_MM = 2e-3
DENSITY, THICKNESS = 700.0, 18.0


def made(name: str, region: Region, turns: tuple[float, ...]) -> PlanPiece:
    return PlanPiece(
        name, name, name, region, region, "ply", THICKNESS, turns_deg=turns, digest=name
    )


@st.composite
def regions(draw: st.DrawFn) -> Region:
    """A rectangle, an L, a disc or a frame with a hole, none larger than 700 × 350."""
    width, height = draw(st.integers(40, 700)), draw(st.integers(40, 350))
    kind = draw(st.sampled_from(["rectangle", "L", "disc", "frame"]))
    if kind == "disc":
        return Region.of(Ring.circle(0, 0, height / 2))
    outer = Ring.rectangle(0, 0, width, height)
    if kind == "L":
        x, y = width / 2, height / 3
        outer = Ring.of([(0, 0), (width, 0), (width, y), (x, y), (x, height), (0, height)])
    if kind == "frame" and min(width, height) > 120:
        return Region.of(outer, [Ring.rectangle(40, 40, width - 80, height - 80)])
    return Region.of(outer)


@st.composite
def machines(draw: st.DrawFn) -> Machine:
    travel = (float(draw(st.integers(400, 1300))), float(draw(st.integers(300, 900))))
    table = (travel[0] + draw(st.sampled_from([0, 60, 300])), travel[1] + draw(st.integers(0, 200)))
    clamps = tuple(
        ClampZone(
            float(draw(st.integers(-40, int(travel[0]) - 20))),
            float(draw(st.integers(-40, int(travel[1]) - 20))),
            float(draw(st.integers(20, 90))),
            float(draw(st.integers(20, 90))),
        )
        for _ in range(draw(st.integers(0, 2)))
    )
    bit = Cutter(draw(st.sampled_from([3.0, 6.0, 12.7])))
    return Machine("M", travel, table, (bit,), clamps, draw(st.sampled_from([0.0, 5.0])))


@st.composite
def shops(draw: st.DrawFn) -> Shop:
    stock = Stock(
        "s", "ply", float(draw(st.integers(800, 2800))), float(draw(st.integers(500, 1600)))
    )
    rules = Rules(
        edge_margin_mm=draw(st.sampled_from([0.0, 5.0, 12.0])),
        kerf_mm=draw(st.sampled_from([2.2, 3.0])),
    )
    lift = draw(st.sampled_from([None, 6.0, 15.0]))
    return Shop(
        draw(machines()),
        (Material("ply", THICKNESS, density_kg_m3=DENSITY),),
        (stock,),
        Limits(lift_kg=lift),
        rules,
    )


def on_bed(shape: Polygon, setup: PlanSetup) -> Polygon:
    """A shape of the sheet where it lies on the machine, the travel's corner at (0, 0)."""
    shape = affinity.translate(shape, -setup.x_mm, -setup.y_mm)
    if setup.turned:
        shape = affinity.rotate(shape, 90, origin=(0, 0))
        shape = affinity.translate(shape, setup.height_mm, 0)
    return affinity.translate(shape, setup.bed_x_mm, setup.bed_y_mm)


def assert_sawn(sheet: PlanSheet, shop: Shop) -> None:
    """The cuts, one after the other, leave exactly the blanks."""
    kerf = shop.rules.kerf_mm
    cuts = [(c.x1_mm, c.y1_mm, c.x2_mm, c.y2_mm) for c in sheet.saw_cuts]
    assert [c.order for c in sheet.saw_cuts] == list(range(1, len(cuts) + 1))
    left = list(replay(sheet.stock.width_mm, sheet.stock.height_mm, cuts, kerf))
    for blank in sheet.blanks:
        wanted = (blank.x_mm, blank.y_mm, blank.width_mm, blank.height_mm)
        match = next(r for r in left if tuple(r) == pytest.approx(wanted, abs=1e-5))
        assert match.area_mm2 == pytest.approx(blank.width_mm * blank.height_mm, rel=1e-6)
        left.remove(match)


def assert_routable(sheet: PlanSheet, pieces: dict[str, PlanPiece], shop: Shop) -> None:
    """Every piece inside its blank, its bit inside the travel and off the clamps."""
    machine, rules = shop.machine, shop.rules
    radius = machine.cutter.radius_mm
    travel = box(0, 0, *machine.travel_mm).buffer(EPS_MM, join_style="mitre")
    setups = {s.blank: s for s in sheet.setups}
    blanks = {b.id: b for b in sheet.blanks}
    assert set(setups) == set(blanks)
    for p in sheet.placements:
        shape = pieces[p.piece].cut.moved(p.motion).polygon
        blank = blanks[p.blank]
        margin = rules.edge_margin_mm - EPS_MM
        room = box(
            blank.x_mm + margin,
            blank.y_mm + margin,
            blank.x_mm + blank.width_mm - margin,
            blank.y_mm + blank.height_mm - margin,
        )
        assert room.covers(shape)
        lying = on_bed(shape, setups[p.blank])
        assert travel.covers(lying.buffer(radius))  # where the bit's centre runs
        for clamp in machine.clamps:
            assert lying.distance(clamp.polygon) >= 2 * radius + machine.clamp_safety_mm - EPS_MM


def assert_on_table(sheet: PlanSheet, shop: Shop) -> None:
    """Every blank lies on the table and one person can lift it."""
    machine = shop.machine
    spare = [(t - w) / 2 for t, w in zip(machine.table_mm, machine.travel_mm, strict=True)]
    table = box(
        -spare[0], -spare[1], machine.travel_mm[0] + spare[0], machine.travel_mm[1] + spare[1]
    )
    for setup in sheet.setups:
        board = box(
            setup.x_mm,
            setup.y_mm,
            setup.x_mm + setup.width_mm,
            setup.y_mm + setup.height_mm,
        )
        assert table.buffer(EPS_MM, join_style="mitre").covers(on_bed(board, setup))
    if shop.limits.lift_kg is not None:
        for blank in sheet.blanks:
            mass = blank.width_mm * blank.height_mm * THICKNESS * 1e-9 * DENSITY
            assert mass <= shop.limits.lift_kg * (1 + 1e-9)


def assert_apart(found: Assembled, pieces: dict[str, PlanPiece], shop: Shop) -> None:
    for sheet in found.sheets:
        shapes = [pieces[p.piece].cut.moved(p.motion).polygon for p in sheet.placements]
        for first, second in combinations(shapes, 2):
            assert first.distance(second) >= shop.spacing_mm - EPS_MM


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(shops(), st.lists(st.tuples(regions(), st.integers(1, 3)), min_size=1, max_size=5))
def test_every_layout_can_be_sawn_lifted_clamped_and_routed(
    shop: Shop, wanted: list[tuple[Region, int]]
) -> None:
    copies = [
        Copies(made(f"p{k}", region, (0.0, 90.0, 180.0, 270.0)), quantity)
        for k, (region, quantity) in enumerate(wanted)
    ]
    pieces = {c.piece.id: c.piece for c in copies}
    layout = lay_out_pieces(copies, shop, steps=1_500)
    again = lay_out_pieces(copies, shop, steps=1_500)
    assert layout == again
    found = assemble_sheets(list(pieces.values()), shop, layout)
    assert not [f for f in found.findings if f.severity == "stop"]
    for sheet in found.sheets:
        assert_sawn(sheet, shop)
        assert_routable(sheet, pieces, shop)
        assert_on_table(sheet, shop)
    assert_apart(found, pieces, shop)


def test_the_check_itself_tells_a_piece_the_bit_cannot_get_round() -> None:
    shop = Shop(Machine(), (Material("ply", 18.0, density_kg_m3=DENSITY),))
    stock = Stock("s", "ply", 900.0, 600.0)
    shop = replace(shop, stock=(stock,), rules=Rules(edge_margin_mm=0.0))
    piece = made("p", Region.of(Ring.rectangle(0, 0, 300, 200)), (0.0,))
    layout = lay_out_pieces([Copies(piece, 1)], shop, steps=500)
    (sheet,) = assemble_sheets([piece], shop, layout).sheets
    (setup,) = sheet.setups
    pushed = replace(sheet, setups=(replace(setup, bed_x_mm=-400.0),))
    assert_routable(sheet, {"p": piece}, shop)
    with pytest.raises(AssertionError):
        assert_routable(pushed, {"p": piece}, shop)
    assert math.isclose(setup.width_mm, 900.0)
