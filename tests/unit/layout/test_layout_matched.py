"""Pieces side by side in their panel's order, spares that take only what is left, firsts."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely import affinity
from shapely.geometry import box

from core import planning
from core.findings import Severity
from core.geometry import Region, Ring
from core.layout import unmatched
from core.layout.matched import spread
from core.project.model import CutBy, Grain, Panel, Project, Rank, SplitChoice, Together
from core.shop import Cutter, Machine, Material, Reading, Rules, Shop, Stock

WHOLE, BLANKS = (2440.0, 1220.0), (960.0, 660.0)


def shop(table: tuple[float, float], quantity: int | None = None) -> Shop:
    return Shop(
        Machine(travel_mm=(900.0, 600.0), table_mm=table, cutters=(Cutter(6.0),)),
        (Material("birch", 18, (Reading(17.6),), density_kg_m3=685.0),),
        (Stock("full", "birch", 2440.0, 1220.0, quantity),),
        rules=Rules(edge_margin_mm=10.0, kerf_mm=3.0),
    )


def panel(name: str, width: float, height: float, **changes: object) -> Panel:
    made = Panel(name, name, Region.of(Ring.rectangle(0, 0, width, height)), material="birch")
    return replace(made, **changes)  # type: ignore[arg-type]


def front(together: Together) -> Panel:
    return panel("front", 1500, 420, quantity=2, grain=Grain.ALONG, together=together)


def others() -> list[Panel]:
    return [panel(f"p{k}", 300 + 60 * k, 200 + 30 * k, quantity=3) for k in range(4)]


@pytest.mark.parametrize("way", ["blanks", "whole"])
def test_a_split_front_keeps_its_grain_running(way: str) -> None:
    used = shop(BLANKS)
    one = front(Together.ORDER)
    if way == "whole":
        used = replace(used, machine=replace(used.machine, travel_mm=WHOLE, table_mm=WHOLE))
        one = replace(one, split=SplitChoice.SPLIT)
    project = Project(panels=(one, *others()), shop=used, breakdown=way)
    pieces = planning.cut_panels(project)
    layout = planning.lay_out(project, pieces, steps=60_000)
    plan = planning.assemble_plan(project, pieces, layout)
    assert plan.is_clean, [f.message for f in plan.findings]
    assert not unmatched(plan.pieces, layout.placed, used.spacing_mm)
    at = {(p.piece, p.copy): p for p in layout.placed}
    ids = [p.id for p in plan.pieces if p.panel == "front"]
    assert len(ids) == 2
    for copy in (1, 2):
        a, b = (at[(one, copy)] for one in ids)
        assert (a.sheet, a.sheet_copy, a.motion.turn_deg) == (
            b.sheet,
            b.sheet_copy,
            b.motion.turn_deg,
        )
        assert a.motion.y_mm == pytest.approx(b.motion.y_mm, abs=0.01)


def test_pieces_that_lie_apart_are_told() -> None:
    project = Project(panels=(front(Together.ANYWHERE), *others()), shop=shop(BLANKS))
    pieces = planning.cut_panels(project)
    layout = planning.lay_out(project, pieces, steps=20_000)
    ordered = replace(
        pieces,
        pieces=tuple(replace(p, together=Together.ORDER) for p in pieces.pieces),
    )
    moved = replace(
        layout,
        placed=tuple(
            replace(p, motion=replace(p.motion, y_mm=p.motion.y_mm + 5 * k))
            for k, p in enumerate(layout.placed)
        ),
    )
    plan = planning.assemble_plan(project, ordered, moved)
    told = [f for f in plan.findings if f.code == "grain-not-matched"]
    assert told and "front" in told[0].message


def test_improving_does_not_pull_them_apart() -> None:
    project = Project(panels=(front(Together.ORDER), *others()), shop=shop(BLANKS))
    pieces = planning.cut_panels(project)
    first = planning.lay_out(project, pieces, steps=20_000)
    again = planning.lay_out(project, pieces, steps=40_000, start=first, seed=3)
    assert not unmatched(pieces.pieces, again.placed, project.shop.spacing_mm)


def test_spares_never_open_a_sheet_and_their_lack_stops_nothing() -> None:
    sticks = panel("stick", 400, 90, quantity=60, rank=Rank.SPARE)
    without = Project(panels=tuple(others()), shop=shop(BLANKS))
    project = replace(without, panels=(*without.panels, sticks))
    bare = planning.plan_project(without, steps=20_000)
    plan = planning.plan_project(project, steps=20_000)
    assert len(plan.sheets) == len(bare.sheets)
    placed = sum(p.piece.startswith("stick") for s in plan.sheets for p in s.placements)
    assert 0 < placed < 60
    assert len(plan.unplaced) == 60 - placed and not plan.missing and plan.is_clean
    assert any(f.code == "spare-left-out" for f in plan.findings)


def test_what_goes_first_is_there_when_sheets_run_short() -> None:
    rows = [panel(f"a{k}", 840, 540, quantity=2) for k in range(3)]
    last = panel("z", 840, 540, quantity=2, rank=Rank.FIRST)
    project = Project(panels=(*rows, last), shop=shop(BLANKS, quantity=1))
    plan = planning.plan_project(project, steps=5_000)
    assert plan.missing
    assert all(not u.piece.startswith("z") for u in plan.missing)


def test_shapes_in_a_row_are_drawn_apart_along_it_alone() -> None:
    shapes = [box(0, 0, 100, 40), box(100, 0, 300, 50), box(300, 0, 360, 30)]
    shifts = spread(shapes, 8.0)
    moved = [affinity.translate(s, *by) for s, by in zip(shapes, shifts, strict=True)]
    assert all(y == 0 for _, y in shifts)
    gaps = [moved[0].distance(moved[1]), moved[1].distance(moved[2])]
    assert min(gaps) == pytest.approx(8.0, abs=1e-6)


def test_spares_take_no_board_from_parts_for_the_saw() -> None:
    used = shop(BLANKS, quantity=1)
    routed = panel("routed", 560, 560)
    spare = panel("spare", 400, 380, quantity=8, rank=Rank.SPARE)
    # The saw's parts fill the sheet but for the blank of the routed one.
    long = panel("long", 1850, 590, quantity=2, by=CutBy.SAW, grain=Grain.ALONG)
    short = panel("short", 570, 300, quantity=2, by=CutBy.SAW, grain=Grain.ALONG)
    project = Project(panels=(routed, spare, long, short), shop=used)
    pieces = planning.cut_panels(project)
    layout = planning.lay_out(project, pieces, steps=20_000)
    plan = planning.assemble_plan(project, pieces, layout)
    placed = [p.piece.split(".")[0] for p in layout.placed]
    assert placed.count("routed") == 1
    assert placed.count("long") == placed.count("short") == 2
    assert all(u.spare for u in plan.unplaced)
    assert not [f for f in plan.findings if f.severity is Severity.STOP]
