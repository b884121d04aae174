"""Places on sheets hold for the shape they were made for, in the plan as on the floor."""

from __future__ import annotations

from dataclasses import replace

from core import planning
from core.geometry import Region, Ring
from core.project.model import Panel, Project
from core.shop import Cutter, Machine, Material, Shop, Stock


def project(width: float) -> Project:
    """Two shelves and a top, the top so wide."""
    shop = Shop(
        Machine(cutters=(Cutter(6.0),)),
        (Material("birch", 18.0),),
        (Stock("full", "birch", 2440.0, 1220.0),),
    )

    def panel(name: str, w: float, h: float, quantity: int = 1) -> Panel:
        region = Region.of(Ring.rectangle(0, 0, w, h))
        return Panel(name, name, region, material="birch", quantity=quantity)

    return Project(shop=shop, panels=(panel("top", width, 300), panel("shelf", 500, 200, 2)))


def test_a_piece_that_grew_is_without_a_place_in_the_plan_until_it_is_laid_anew() -> None:
    before = project(700)
    pieces = planning.cut_panels(before)
    layout = planning.lay_out(before, pieces, steps=2_000)
    assert planning.assemble_plan(before, pieces, layout).unplaced == ()
    after = project(760)
    grown = planning.cut_panels(after)
    plan = planning.assemble_plan(after, grown, layout)
    assert [u.piece for u in plan.unplaced] == [p.id for p in grown.pieces if p.panel == "top"]
    assert {p.piece for s in plan.sheets for p in s.placements} == {
        p.id for p in grown.pieces if p.panel == "shelf"
    }
    again = planning.lay_out(after, grown, steps=2_000, start=layout)
    assert planning.assemble_plan(after, grown, again).unplaced == ()


def test_a_place_without_a_digest_is_taken_on_trust() -> None:
    before = project(700)
    layout = planning.lay_out(before, planning.cut_panels(before), steps=2_000)
    trusted = replace(layout, placed=tuple(replace(p, digest="") for p in layout.placed))
    after = project(690)
    plan = planning.assemble_plan(after, planning.cut_panels(after), trusted)
    assert plan.unplaced == ()
