"""Cuts that would only take scrap off a blank."""

from __future__ import annotations

from dataclasses import replace

from core.breakdown import pattern_for
from core.geometry import Motion, Region, Ring
from core.layout import assemble_sheets
from core.layout.idle_cuts import without_idle_cuts
from core.plan import PlanPiece
from core.project.model import CutBy, KeptLayout, Placed, SawnSheet
from core.shop import Cutter, Limits, Machine, Material, Reading, Rules, Shop, Stock

BOARD = Material("birch", 18, (Reading(17.6),), density_kg_m3=685.0)
STOCK = Stock("full", "birch", 2440.0, 1220.0)
SHOP = Shop(
    Machine(travel_mm=(900.0, 640.0), table_mm=(900.0, 640.0), cutters=(Cutter(6.0),)),
    (BOARD,),
    (STOCK,),
    rules=Rules(edge_margin_mm=10.0, kerf_mm=3.0),
)


def piece(name: str, width: float, height: float, by: CutBy = CutBy.ROUTER) -> PlanPiece:
    region = Region.of(Ring.rectangle(0, 0, width, height))
    made = PlanPiece(name, name, name, region, region, "birch", 17.6, turns_deg=(0.0,))
    return replace(made, by=by)


def layout(*pieces: tuple[PlanPiece, float, float], sheet: SawnSheet) -> KeptLayout:
    placed = tuple(Placed(p.id, 1, "full", 1, Motion(x, y)) for p, x, y in pieces)
    return KeptLayout("", placed, (sheet,))


def cuts_of(found: KeptLayout, *parts: tuple[float, float, float, float]) -> int:
    targets = (*found.sheets[0].blanks, *parts)
    return len(pattern_for(targets, 2440.0, 1220.0, kerf_mm=3.0).cuts)


#: Two blanks in one strip; the second ends 20 mm lower, and nothing is cut from what is above it.
FIRST, SECOND = piece("first", 580, 580), piece("second", 600, 560)
BLANKS = ((0.0, 0.0, 600.0, 600.0), (603.0, 0.0, 620.0, 580.0))
ON_BOTH = ((FIRST, 10.0, 10.0), (SECOND, 613.0, 10.0))


def test_a_blank_keeps_the_scrap_that_a_cut_would_take_off() -> None:
    before = layout(*ON_BOTH, sheet=SawnSheet("full", 1, BLANKS))
    after = without_idle_cuts(before, SHOP, [STOCK], {p.id: p for p, _, _ in ON_BOTH})
    assert after.placed == before.placed
    assert after.sheets[0].blanks == ((0.0, 0.0, 600.0, 600.0), (603.0, 0.0, 620.0, 600.0))
    assert cuts_of(before) == 4
    assert cuts_of(after) == 3
    sheet = assemble_sheets([FIRST, SECOND], SHOP, after).sheets[0]
    assert len(sheet.saw_cuts) == 3
    assert {p.blank for p in sheet.placements} == {"S1A", "S1B"}


def test_a_blank_does_not_outgrow_what_one_person_lifts() -> None:
    kg = 620 * 590 * 17.6e-9 * 685
    shop = replace(SHOP, limits=Limits(lift_kg=kg))
    before = layout(*ON_BOTH, sheet=SawnSheet("full", 1, BLANKS))
    after = without_idle_cuts(before, shop, [STOCK], {p.id: p for p, _, _ in ON_BOTH})
    assert after == before


def test_a_blank_does_not_outgrow_the_table_or_the_bits_reach() -> None:
    machine = replace(SHOP.machine, travel_mm=(900.0, 590.0), table_mm=(900.0, 590.0))
    first = piece("first", 560, 570)
    low = ((0.0, 0.0, 580.0, 590.0), (583.0, 0.0, 640.0, 560.0))
    wide = piece("second", 620, 540)
    where = ((first, 10.0, 10.0), (wide, 593.0, 10.0))
    before = layout(*where, sheet=SawnSheet("full", 1, low))
    shop = replace(SHOP, machine=machine)
    after = without_idle_cuts(before, shop, [STOCK], {p.id: p for p, _, _ in where})
    assert after.sheets[0].blanks[1] == (583.0, 0.0, 640.0, 590.0)
    # The same, with a table that ends 10 mm below the first blank's far edge when turned.
    short = replace(machine, travel_mm=(900.0, 580.0), table_mm=(900.0, 580.0))
    tall = ((0.0, 0.0, 570.0, 600.0), (573.0, 0.0, 640.0, 560.0))
    where = ((piece("first", 550, 580), 10.0, 10.0), (wide, 583.0, 10.0))
    before = layout(*where, sheet=SawnSheet("full", 1, tall))
    after = without_idle_cuts(
        before, replace(SHOP, machine=short), [STOCK], {p.id: p for p, _, _ in where}
    )
    assert after == before


def test_an_offcut_worth_keeping_is_not_swallowed() -> None:
    only = ((0.0, 0.0, 600.0, 1220.0 - 200.0),)
    machine = replace(SHOP.machine, travel_mm=(1300.0, 700.0), table_mm=(1300.0, 700.0))
    shop = replace(SHOP, machine=machine)
    one = piece("one", 580, 1000)
    before = layout((one, 10.0, 10.0), sheet=SawnSheet("full", 1, only))
    assert without_idle_cuts(before, shop, [STOCK], {"one": one}) == before


def test_parts_for_the_saw_keep_their_size_and_their_place() -> None:
    shelf = piece("shelf", 620, 17, CutBy.SAW)
    where = (*ON_BOTH, (shelf, 603.0, 583.0))
    before = layout(*where, sheet=SawnSheet("full", 1, BLANKS))
    after = without_idle_cuts(before, SHOP, [STOCK], {p.id: p for p, _, _ in where})
    assert after == before


def test_blanks_that_are_sawn_or_lie_by_hand_stay_as_they_are() -> None:
    known = {p.id: p for p, _, _ in ON_BOTH}
    for sheet in (
        SawnSheet("full", 1, BLANKS, frozen=True),
        SawnSheet("full", 1, BLANKS, lying=((1, 0.0, 0.0),)),
        SawnSheet("full", 1, BLANKS, through=True),
    ):
        before = layout(*ON_BOTH, sheet=sheet)
        assert without_idle_cuts(before, SHOP, [STOCK], known) == before
