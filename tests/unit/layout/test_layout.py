"""Layouts: pieces on sheets sawn into blanks, checked from outside the search."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest
from shapely import Polygon, box

from core.breakdown import replay
from core.findings import Severity
from core.geometry import Motion, Region, Ring
from core.layout import Assembled, Copies, arrangements_for, assemble_sheets, lay_out_pieces
from core.layout.search import stock_costs
from core.plan import Plan, PlanPiece
from core.project.model import CutBy, KeptLayout, Placed, Project
from core.shop import (
    ClampZone,
    Cutter,
    Defect,
    Limits,
    Machine,
    Material,
    Reading,
    Rules,
    Shop,
    Stock,
)

BOARD = Material("birch", 18, (Reading(17.6),), density_kg_m3=685.0)


def shop(**changes: object) -> Shop:
    base = Shop(
        Machine(travel_mm=(900.0, 600.0), table_mm=(900.0, 600.0), cutters=(Cutter(6.0),)),
        (BOARD,),
        (Stock("full", "birch", 2440.0, 1220.0),),
        rules=Rules(edge_margin_mm=10.0, kerf_mm=3.0),
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def piece(name: str, width: float, height: float, **changes: object) -> PlanPiece:
    region = Region.of(Ring.rectangle(0, 0, width, height))
    made = PlanPiece(
        name, name, name, region, region, "birch", 17.6, turns_deg=(0.0, 90.0, 180.0, 270.0)
    )
    return replace(made, digest=f"{width}x{height}", **changes)  # type: ignore[arg-type]


def some_copies() -> list[Copies]:
    sizes = [(420, 310), (580, 260), (250, 250), (700, 150), (330, 90)]
    return [Copies(piece(f"p{k}", w, h), 4) for k, (w, h) in enumerate(sizes)]


def check_sheets(found: Assembled, copies: list[Copies], used: Shop) -> None:
    """The contract of a layout, with shapely and the saw's replay alone."""
    pieces = {c.piece.id: c.piece for c in copies}
    for sheet in found.sheets:
        shapes = []
        blanks = {b.id: b for b in sheet.blanks}
        for p in sheet.placements:
            shape = pieces[p.piece].cut.moved(p.motion).polygon
            blank = blanks[p.blank]
            x1, y1, x2, y2 = shape.bounds
            margin = used.rules.edge_margin_mm - 1e-3
            assert x1 >= blank.x_mm + margin
            assert y1 >= blank.y_mm + margin
            assert x2 <= blank.x_mm + blank.width_mm - margin
            assert y2 <= blank.y_mm + blank.height_mm - margin
            shapes.append(shape)
        for first, second in combinations(shapes, 2):
            assert first.distance(second) >= used.spacing_mm - 1e-3
        cuts = [(c.x1_mm, c.y1_mm, c.x2_mm, c.y2_mm) for c in sheet.saw_cuts]
        left = replay(sheet.stock.width_mm, sheet.stock.height_mm, cuts, used.rules.kerf_mm)
        sawn = [(r.x_mm, r.y_mm, r.width_mm, r.height_mm) for r in left]
        for blank in sheet.blanks:
            wanted = (blank.x_mm, blank.y_mm, blank.width_mm, blank.height_mm)
            assert any(wanted == pytest.approx(r, abs=1e-6) for r in sawn)


def test_every_copy_is_placed_in_a_blank_that_the_saw_frees() -> None:
    copies, used = some_copies(), shop()
    layout = lay_out_pieces(copies, used, steps=20_000)
    assert len(layout.placed) == 20
    found = assemble_sheets([c.piece for c in copies], used, layout)
    assert not found.findings
    check_sheets(found, copies, used)


def test_a_sheet_that_the_table_takes_is_not_sawn() -> None:
    used = shop(stock=(Stock("small", "birch", 880.0, 590.0),))
    copies = [Copies(piece("a", 300, 200), 3)]
    found = assemble_sheets([copies[0].piece], used, lay_out_pieces(copies, used, steps=5_000))
    (sheet,) = found.sheets
    assert not sheet.saw_cuts
    assert len(sheet.blanks) == len(sheet.setups) == 1


def test_the_same_seed_and_steps_give_the_same_layout() -> None:
    first, second = (lay_out_pieces(some_copies(), shop(), steps=20_000, seed=5) for _ in "ab")
    assert first == second


def test_a_piece_that_fits_no_blank_is_left_out_not_forced() -> None:
    copies = [Copies(piece("long", 1500, 100), 1), Copies(piece("short", 200, 100), 1)]
    layout = lay_out_pieces(copies, shop(), steps=5_000)
    assert [p.piece for p in layout.placed] == ["short"]


def test_limited_stock_is_never_exceeded() -> None:
    used = shop(stock=(Stock("one", "birch", 880.0, 590.0, 1),))
    layout = lay_out_pieces([Copies(piece("a", 420, 270), 9)], used, steps=5_000)
    assert {p.sheet_copy for p in layout.placed} == {1}
    assert len(layout.placed) < 9


def test_pieces_keep_off_defects_and_clamps() -> None:
    defect = Defect(((200, 200), (500, 200), (500, 400), (200, 400)))
    machine = Machine(
        travel_mm=(900.0, 600.0),
        table_mm=(900.0, 600.0),
        cutters=(Cutter(6.0),),
        clamps=(ClampZone(0, 250, 60, 80),),
    )
    used = shop(machine=machine, stock=(Stock("s", "birch", 900, 600, 2, defects=(defect,)),))
    copies = [Copies(piece("a", 180, 120), 6)]
    found = assemble_sheets([copies[0].piece], used, lay_out_pieces(copies, used, steps=5_000))
    assert not found.findings
    swept = machine.clamps[0].polygon.buffer(6.0 + machine.clamp_safety_mm - 1e-3)
    for sheet in found.sheets:
        (setup,) = sheet.setups
        assert (setup.bed_x_mm, setup.bed_y_mm) == (0.0, 0.0)
        for p in sheet.placements:
            shape = copies[0].piece.cut.moved(p.motion).polygon
            assert not shape.intersects(defect.polygon)
            assert not shape.intersects(swept)


def test_what_a_hand_moved_into_its_neighbour_is_told() -> None:
    copies, used = [Copies(piece("a", 200, 100), 2)], shop()
    placed = (
        Placed("a", 1, "full", 1, Motion(50, 50)),
        Placed("a", 2, "full", 1, Motion(150, 100)),
    )
    found = assemble_sheets([copies[0].piece], used, KeptLayout("hand", placed))
    (told,) = [f.message for f in found.findings if f.code == "layout-overlap"]
    assert told.endswith("overlap by 5000 mm²")


def test_what_a_hand_moved_across_a_saw_cut_is_told() -> None:
    used = shop()
    (first, *_) = arrangements_for(used.stock[0], used)
    x, y, width, _ = first.blanks[0]
    placed = (Placed("a", 1, "full", 1, Motion(x + width - 50, y + 50)),)
    found = assemble_sheets([piece("a", 200, 100)], used, KeptLayout("hand", placed))
    (told,) = [f.message for f in found.findings if f.code == "layout-keep-out"]
    assert "lies across a saw cut" in told and "sheet sheet" not in told


def test_locked_pieces_stay_and_changed_ones_are_laid_anew() -> None:
    copies, used = some_copies(), shop()
    first = lay_out_pieces(copies, used, steps=5_000)
    kept = replace(first.placed[0], locked=True)
    start = replace(first, placed=(kept, *first.placed[1:]))
    second = lay_out_pieces(copies, used, start=start, steps=5_000)
    found = [p for p in second.placed if (p.piece, p.copy) == (kept.piece, kept.copy)]
    assert found[0].motion == kept.motion
    assert len(second.placed) == 20


def test_a_locked_piece_on_the_only_offcut_long_enough_leaves_no_long_piece_over() -> None:
    """Found with a demo: the first way to saw has blanks for long pieces on the offcut alone."""
    used = shop(
        machine=Machine(
            travel_mm=(1250.0, 900.0), table_mm=(1300.0, 950.0), cutters=(Cutter(6.0),)
        ),
        stock=(
            Stock("full", "birch", 2440.0, 1220.0),
            Stock("rest", "birch", 1100.0, 610.0, 1, in_rack=True),
        ),
    )
    along = (0.0, 180.0)
    copies = [
        Copies(piece("long", 993, 140, turns_deg=along), 4),
        Copies(piece("short", 320, 290), 4),
    ]
    locked = Placed("short", 1, "rest", 1, Motion(173, 167), True)
    found = lay_out_pieces(copies, used, start=KeptLayout("l", (locked,)), steps=5_000)
    assert len(found.placed) == 8
    (stayed,) = [p for p in found.placed if (p.piece, p.copy) == ("short", 1)]
    assert (stayed.sheet, stayed.motion) == ("rest", locked.motion)


def test_blanks_are_no_heavier_than_one_person_lifts() -> None:
    used = shop(limits=Limits(lift_kg=4.0))
    for arrangement in arrangements_for(used.stock[0], used):
        for _, _, width, height in arrangement.blanks:
            assert width * height * 17.6e-9 * 685.0 <= 4.0 * (1 + 1e-9)


def test_saw_parts_are_sawn_from_whole_sheets_with_their_cuts() -> None:
    used = shop()
    copies = [
        Copies(piece("shelf", 800, 300, by=CutBy.SAW, turns_deg=(0.0, 180.0)), 5),
        Copies(piece("cleat", 800, 60, by=CutBy.SAW, turns_deg=(0.0, 180.0)), 4),
    ]
    layout = lay_out_pieces(copies, used, steps=5_000)
    assert len(layout.placed) == 9
    found = assemble_sheets([c.piece for c in copies], used, layout)
    assert not found.findings
    for sheet in found.sheets:
        cuts = [(c.x1_mm, c.y1_mm, c.x2_mm, c.y2_mm) for c in sheet.saw_cuts]
        left = [tuple(r) for r in replay(2440.0, 1220.0, cuts, used.rules.kerf_mm)]
        for p in sheet.placements:
            part = next(c.piece for c in copies if c.piece.id == p.piece)
            x1, y1, x2, y2 = part.cut.moved(p.motion).bounds
            wanted = (x1, y1, x2 - x1, y2 - y1)
            assert any(wanted == pytest.approx(r, abs=1e-6) for r in left)


def test_a_stock_without_a_price_counts_by_area_and_rack_offcuts_are_used_up_first() -> None:
    costs = stock_costs(
        [
            Stock("priced", "m", 1000, 1000, cost=50.0),
            Stock("unpriced", "m", 500, 1000),
            Stock("rack", "m", 500, 1000, 1, in_rack=True),
        ]
    )
    assert costs["unpriced"] == pytest.approx(25.0)
    assert costs["rack"] == pytest.approx(2.5)


def test_an_offcut_a_piece_lies_on_is_not_kept_and_no_scrap_is_less_than_nothing() -> None:
    """A hand may put a piece anywhere; what the plan counts stays what there is."""
    used = shop()
    pieces = [piece("a", 420, 310), piece("b", 800, 560)]
    here = Placed("a", 1, "full", 1, Motion(10, 10))
    legal = assemble_sheets(pieces, used, KeptLayout("", (here,)))
    kept = [o for o in legal.sheets[0].offcuts if o.keep]
    _, y1, x2, y2 = max((Polygon(o.points) for o in kept), key=lambda area: area.area).bounds
    # across the border of the largest offcut, where no blank is
    amiss = Placed("b", 1, "full", 1, Motion(x2 - 700, (y1 + y2) / 2 - 280))
    found = assemble_sheets(pieces, used, KeptLayout("", (here, amiss)))
    assert any(f.severity is Severity.STOP for f in found.findings)
    (sheet,) = found.sheets
    lying = box(x2 - 700, (y1 + y2) / 2 - 280, x2 + 100, (y1 + y2) / 2 + 280)
    assert all(Polygon(o.points).intersection(lying).area < 1 for o in sheet.offcuts if o.keep)
    whole = Plan(Project(shop=used), sheets=found.sheets)
    assert whole.scrap_area_mm2 >= 0
    stacked = [Placed("b", k, "full", 1, Motion(10, 10)) for k in range(1, 9)]
    heap = assemble_sheets(pieces, used, KeptLayout("", tuple(stacked)))
    assert Plan(Project(shop=used), sheets=heap.sheets).scrap_area_mm2 == 0
