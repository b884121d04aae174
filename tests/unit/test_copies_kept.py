"""A layout that is kept, and how many copies of its panels are wanted now."""

from __future__ import annotations

from dataclasses import replace

from core.geometry import Motion, Region, Ring
from core.planning import assemble_plan, cut_panels
from core.project.model import KeptLayout, Panel, Placed, Project
from core.shop import Cutter, Machine, Material, Reading, Shop, Stock

BIRCH = Material("Birch ply 18", 18.0, (Reading(17.6),))
SHOP = Shop(
    Machine("Router", (2600, 1300), (2600, 1300), (Cutter(6.0),)),
    (BIRCH,),
    (Stock("s1", BIRCH.name, 2500, 1250),),
)


def project(quantity: int) -> Project:
    shelf = Panel(
        "p",
        "Shelf",
        Region.of(Ring.rectangle(0, 0, 500, 300)),
        quantity=quantity,
        material=BIRCH.name,
    )
    return Project("Shelves", panels=(shelf,), shop=SHOP)


LAID = KeptLayout(
    "Layout 1", tuple(Placed("p", k, "s1", 1, Motion(600.0 * k - 580, 20)) for k in (1, 2, 3))
)


def test_a_copy_no_longer_wanted_is_not_cut_and_comes_back_to_its_place_when_wanted() -> None:
    for quantity in (3, 2, 3):
        asked = project(quantity)
        plan = assemble_plan(asked, cut_panels(asked), LAID)
        (sheet,) = plan.sheets
        assert sorted(p.copy for p in sheet.placements) == list(range(1, quantity + 1))
        assert "copy-too-many" not in {f.code for f in plan.findings}


def test_a_copy_that_lies_in_two_places_is_told() -> None:
    asked = project(3)
    twice = replace(LAID, placed=(*LAID.placed, replace(LAID.placed[0], motion=Motion(20, 500))))
    plan = assemble_plan(asked, cut_panels(asked), twice)
    (told,) = [f.message for f in plan.findings if f.code == "copy-too-many"]
    assert told == "Shelf, copy 1, is on sheet 1 and elsewhere too"
