"""Every way onto the machine keeps its promises, worked out anew from the plan's plain numbers."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, box

from core.breakdown import replay
from core.findings import Severity
from core.geometry import Region, Ring
from core.layout import Copies, assemble_sheets, compare_ways, lay_out_pieces
from core.plan import PlanPiece, PlanSheet
from core.project.model import CutBy, KeptLayout, SawnSheet
from core.shop import Cutter, Limits, Machine, Material, Rules, Shop, Stock

EPS_MM = 2e-3
OPEN = Machine(
    travel_mm=(900.0, 600.0), table_mm=(900.0, 640.0), cutters=(Cutter(6.0),), open_ended=True
)
TURNS = (0.0, 90.0, 180.0, 270.0)


def made(name: str, width: float, height: float, by: CutBy = CutBy.ROUTER) -> PlanPiece:
    region = Region.of(Ring.rectangle(0, 0, width, height))
    return PlanPiece(
        name, name, name, region, region, "ply", 18.0, turns_deg=TURNS, by=by,
        digest=f"{width}x{height}",
    )  # fmt: skip


def shop(machine: Machine = OPEN, **changes: object) -> Shop:
    base = Shop(
        machine,
        (Material("ply", 18.0, density_kg_m3=700.0),),
        (Stock("s", "ply", 2440.0, 1220.0),),
        rules=Rules(edge_margin_mm=10.0, kerf_mm=3.0),
    )
    return replace(base, **changes)  # type: ignore[arg-type]


sizes = st.lists(
    st.tuples(st.integers(60, 860), st.integers(40, 500), st.integers(1, 3)),
    min_size=1,
    max_size=4,
)


def stops(found: object) -> list[object]:
    return [f for f in found.findings if f.severity is Severity.STOP]  # type: ignore[attr-defined]


def assert_sawn(sheet: PlanSheet, used: Shop, targets: list[tuple[float, float, float, float]]):
    """Replayed one by one, the cuts leave exactly these rectangles among others."""
    cuts = [(c.x1_mm, c.y1_mm, c.x2_mm, c.y2_mm) for c in sheet.saw_cuts]
    left = [
        tuple(r)
        for r in replay(sheet.stock.width_mm, sheet.stock.height_mm, cuts, used.rules.kerf_mm)
    ]
    for target in targets:
        match = next(r for r in left if r == pytest.approx(target, abs=1e-5))
        assert match[2] * match[3] == pytest.approx(target[2] * target[3], rel=1e-6)
        left.remove(match)


@settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))
@given(sizes)
def test_pushed_through_every_piece_is_cut_whole_in_its_clamping(
    wanted: list[tuple[int, int, int]],
) -> None:
    copies = [Copies(made(f"p{k}", w, h), n) for k, (w, h, n) in enumerate(wanted)]
    pieces = {c.piece.id: c.piece for c in copies}
    used = shop()
    layout = lay_out_pieces(copies, used, breakdown="through", steps=500)
    assert layout == lay_out_pieces(copies, used, breakdown="through", steps=500)
    found = assemble_sheets(list(pieces.values()), used, layout, breakdown="through")
    assert not stops(found)
    for sheet in found.sheets:
        blanks = {b.id: b for b in sheet.blanks}
        setups = {s.id: s for s in sheet.setups}
        assert_sawn(sheet, used, [(b.x_mm, b.y_mm, b.width_mm, b.height_mm) for b in sheet.blanks])
        shapes = []
        for p in sheet.placements:
            shape = pieces[p.piece].cut.moved(p.motion).polygon
            shapes.append(shape)
            setup = setups[p.setup]
            assert setup.blank == p.blank
            stretch = box(
                setup.x_mm, setup.y_mm, setup.x_mm + setup.width_mm, setup.y_mm + setup.height_mm
            )
            assert stretch.buffer(EPS_MM).covers(shape)
            assert setup.width_mm <= 900.0 + EPS_MM
            assert blanks[p.blank].height_mm <= 640.0 + EPS_MM
            x1, y1, x2, y2 = shape.buffer(3.0, join_style="mitre").bounds
            on_bed = (x1 - setup.x_mm + setup.bed_x_mm, x2 - setup.x_mm + setup.bed_x_mm)
            up_bed = (y1 - setup.y_mm + setup.bed_y_mm, y2 - setup.y_mm + setup.bed_y_mm)
            assert on_bed[0] >= -EPS_MM
            assert on_bed[1] <= 900.0 + EPS_MM
            assert up_bed[0] >= -EPS_MM
            assert up_bed[1] <= 600.0 + EPS_MM
        for first, second in combinations(shapes, 2):
            assert first.distance(second) >= used.spacing_mm - EPS_MM
        for blank in blanks.values():
            row = [s for s in sheet.setups if s.blank == blank.id]
            for before, after in pairwise(row):
                assert after.pins == before.bores
                assert len(before.bores) == 2
                for at in before.bores:
                    hole = Point(at).buffer(before.pin_mm / 2)
                    for setup in (before, after):
                        x = setup.x_mm
                        assert box(x, 0, x + setup.width_mm, 1220).covers(hole)
                    assert all(hole.distance(s) >= 8.0 - EPS_MM for s in shapes)


@settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))
@given(sizes, sizes)
def test_parts_for_the_saw_share_sheets_with_blanks_and_can_be_sawn(
    routed: list[tuple[int, int, int]], sawn: list[tuple[int, int, int]]
) -> None:
    copies = [Copies(made(f"r{k}", w, h), n) for k, (w, h, n) in enumerate(routed)]
    copies += [Copies(made(f"s{k}", w, h, CutBy.SAW), n) for k, (w, h, n) in enumerate(sawn)]
    pieces = {c.piece.id: c.piece for c in copies}
    used = shop(replace(OPEN, open_ended=False))
    layout = lay_out_pieces(copies, used, steps=500)
    saw_wanted = sum(c.quantity for c in copies if c.piece.by is CutBy.SAW)
    assert sum(pieces[p.piece].by is CutBy.SAW for p in layout.placed) == saw_wanted
    found = assemble_sheets(list(pieces.values()), used, layout)
    assert not stops(found)
    for sheet in found.sheets:
        targets = [(b.x_mm, b.y_mm, b.width_mm, b.height_mm) for b in sheet.blanks]
        for p in sheet.placements:
            if pieces[p.piece].by is CutBy.SAW:
                x1, y1, x2, y2 = pieces[p.piece].cut.moved(p.motion).bounds
                targets.append((x1, y1, x2 - x1, y2 - y1))
                assert p.setup == "" and p.blank == ""
        assert_sawn(sheet, used, targets)
        named = ", ".join(c.frees for c in sheet.saw_cuts)
        for blank in sheet.blanks if sheet.saw_cuts else ():
            assert blank.id in named
    # Never more sheets than each kind would need by itself.
    alone = [
        lay_out_pieces([c for c in copies if c.piece.by is by], used, steps=500)
        for by in (CutBy.ROUTER, CutBy.SAW)
    ]
    assert len(layout.sheets) <= sum(len(one.sheets) for one in alone)


@settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))
@given(sizes, st.integers(300, 620), st.integers(150, 500), st.sampled_from([0, 60]))
def test_blanks_to_be_planed_keep_to_the_planer_or_are_told(
    wanted: list[tuple[int, int, int]], widest: int, shortest: int, snipe: int
) -> None:
    limits = Limits(
        planer_width_mm=float(widest), planer_min_length_mm=float(shortest), snipe_mm=float(snipe)
    )
    used = shop(
        replace(OPEN, open_ended=False),
        materials=(Material("ply", 18.0, raw_mm=22.0, density_kg_m3=700.0),),
        limits=limits,
    )
    copies = [Copies(made(f"p{k}", w, h), n) for k, (w, h, n) in enumerate(wanted)]
    pieces = {c.piece.id: c.piece for c in copies}
    layout = lay_out_pieces(copies, used, steps=500)
    found = assemble_sheets(list(pieces.values()), used, layout)
    assert not stops(found)
    told = [f for f in found.findings if f.code == "blank-not-planed"]
    wrong = 0
    for sheet in found.sheets:
        for b in sheet.blanks:
            planed = b.height_mm <= widest + 1e-4 and b.width_mm >= max(shortest, 2 * snipe) - 1e-4
            wrong += not planed
            for p in sheet.placements:
                if p.blank == b.id and planed:
                    x1, _, x2, _ = pieces[p.piece].cut.moved(p.motion).bounds
                    assert x1 >= b.x_mm + snipe - EPS_MM
                    assert x2 <= b.x_mm + b.width_mm - snipe + EPS_MM
    assert len(told) == wrong


def test_a_planed_board_is_sawn_narrower_when_its_pieces_allow_it() -> None:
    used = shop(
        replace(OPEN, open_ended=False),
        materials=(Material("ply", 18.0, raw_mm=22.0),),
        limits=Limits(planer_width_mm=310.0, planer_min_length_mm=300.0, snipe_mm=50.0),
    )
    copies = [Copies(made("rail", 500.0, 90.0), 6)]
    found = assemble_sheets([copies[0].piece], used, lay_out_pieces(copies, used, steps=3_000))
    assert not found.findings
    for sheet in found.sheets:
        assert all(b.height_mm <= 310.0 for b in sheet.blanks)
        assert all("plane it" in setup.notes[0] for setup in sheet.setups)


@settings(max_examples=5, deadline=None, suppress_health_check=list(HealthCheck))
@given(sizes, sizes)
def test_sawn_sheets_keep_their_blanks_whatever_changes(
    before: list[tuple[int, int, int]], after: list[tuple[int, int, int]]
) -> None:
    used = shop(replace(OPEN, open_ended=False))
    first = [Copies(made(f"p{k}", w, h), n) for k, (w, h, n) in enumerate(before)]
    layout = lay_out_pieces(first, used, steps=500)
    if not layout.sheets:
        return
    frozen = tuple(
        replace(
            sheet,
            frozen=True,
            wanted=tuple(
                (p.piece, p.copy)
                for p in layout.placed
                if (p.sheet, p.sheet_copy) == (sheet.sheet, sheet.sheet_copy)
            ),
        )
        for sheet in layout.sheets
    )
    start = replace(layout, sheets=frozen)
    second = [Copies(made(f"p{k}", w, h), n) for k, (w, h, n) in enumerate(after)]
    changed = lay_out_pieces(second, used, start=start, steps=500)
    kept = {(s.sheet, s.sheet_copy): s for s in changed.sheets}
    for sheet in frozen:
        assert kept[(sheet.sheet, sheet.sheet_copy)].blanks == sheet.blanks
        assert kept[(sheet.sheet, sheet.sheet_copy)].frozen
    numbers = [(s.sheet, s.sheet_copy) for s in changed.sheets]
    assert len(numbers) == len(set(numbers))
    bound = {key for sheet in frozen for key in sheet.wanted}
    at = {(s.sheet, s.sheet_copy) for s in frozen}
    for p in changed.placed:
        if (p.piece, p.copy) in bound:
            assert (p.sheet, p.sheet_copy) in at
    found = assemble_sheets([c.piece for c in second], used, changed)
    assert not stops(found)


def test_a_sawn_sheet_without_pieces_is_used_before_a_new_one() -> None:
    used = shop(replace(OPEN, open_ended=False))
    blanks = ((0.0, 0.0, 880.0, 600.0), (883.0, 0.0, 880.0, 600.0))
    start = KeptLayout("", (), (SawnSheet("s", 3, blanks, frozen=True),))
    copies = [Copies(made("a", 400.0, 250.0), 4)]
    layout = lay_out_pieces(copies, used, start=start, steps=2_000)
    assert {(p.sheet, p.sheet_copy) for p in layout.placed} == {("s", 3)}
    assert layout.sheets == start.sheets


def test_what_no_longer_fits_its_sawn_blank_is_left_out_not_put_on_a_new_sheet() -> None:
    used = shop(replace(OPEN, open_ended=False))
    blanks = ((0.0, 0.0, 300.0, 200.0),)
    start = KeptLayout(
        "", (), (SawnSheet("s", 1, blanks, frozen=True, wanted=(("a", 1), ("b", 1))),)
    )
    copies = [Copies(made("a", 400.0, 250.0), 1), Copies(made("b", 100.0, 80.0), 2)]
    layout = lay_out_pieces(copies, used, start=start, steps=2_000)
    assert {(p.piece, p.copy) for p in layout.placed} == {("b", 1), ("b", 2)}
    assert next(p for p in layout.placed if p.copy == 1).sheet_copy == 1


@settings(max_examples=3, deadline=None, suppress_health_check=list(HealthCheck))
@given(sizes)
def test_the_comparison_tells_what_its_layouts_are(wanted: list[tuple[int, int, int]]) -> None:
    copies = [Copies(made(f"p{k}", w, h), n) for k, (w, h, n) in enumerate(wanted)]
    used = shop()
    ways = compare_ways(copies, used, steps=300)
    assert [way.way for way in ways] == ["blanks", "whole", "through"]
    assert ways == compare_ways(copies, used, steps=300)
    for way in ways:
        assert way.pieces + way.unplaced == sum(c.quantity for c in copies)
        if way.layout is not None:
            pieces = [c.piece for c in copies]
            found = assemble_sheets(pieces, used, way.layout, breakdown=way.way)
            assert len(found.sheets) == way.sheets
            assert sum(len(s.saw_cuts) for s in found.sheets) == way.saw_cuts
            assert sum(len(s.setups) for s in found.sheets) == way.setups
    whole = ways[1]
    assert not whole.possible and "does not lie on the table" in whole.why
    assert whole.saw_cuts == 0 and whole.layout is None


def test_a_closed_bed_says_why_nothing_is_pushed_through() -> None:
    copies = [Copies(made("a", 300.0, 200.0), 2)]
    ways = compare_ways(copies, shop(replace(OPEN, open_ended=False)), steps=500)
    assert ways[2].why == "The bed has no open ends."
    assert ways[2].sheets == 0
