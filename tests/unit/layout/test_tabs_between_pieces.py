"""Tabs in a gap that the next piece's cut takes up: counted and told, never passed over."""

from __future__ import annotations

import re

import pytest
from shapely import affinity
from shapely.geometry import Point, Polygon

from core.geometry import Region, Ring
from core.plan import Plan, PlanPlacement
from core.planning import plan_project
from core.project.model import Panel, Project
from core.shop import Cutter, Hold, Machine, Material, Rules, Shop, Stock

BIT = 6.0
MACHINE = Machine(travel_mm=(1000.0, 800.0), table_mm=(1000.0, 800.0), cutters=(Cutter(BIT),))


def plan_with(spacing: float) -> Plan:
    shelf = Panel(
        "shelf", "Shelf", Region.of(Ring.rectangle(0, 0, 400, 200)), quantity=3, material="ply"
    )
    rules = Rules(spacing_mm=spacing, hold=Hold.TABS)
    shop = Shop(
        MACHINE, (Material("ply", 12.0),), (Stock("rack", "ply", 900.0, 700.0),), rules=rules
    )
    return plan_project(Project(name="Shelves", panels=(shelf,), shop=shop), steps=500)


@pytest.mark.parametrize("spacing", [8.0, 13.0])
def test_tabs_that_the_next_cut_goes_through_are_told(spacing: float) -> None:
    plan = plan_with(spacing)
    (sheet,) = plan.sheets
    (setup,) = sheet.setups
    told = [note for note in setup.notes if "nearer than two bits" in note]
    lost = sum(
        any(
            Point(at).distance(_lying(plan, other)) < 2 * BIT - 0.01
            for other in sheet.placements
            if (other.piece, other.copy) != (hold.piece, hold.copy)
        )
        for hold in setup.holds
        if hold.way == Hold.TABS and hold.hole is None
        for at in hold.places
    )
    if spacing >= 2 * BIT:
        assert lost == 0 and told == []
    else:
        assert lost > 0
        (note,) = told
        found = re.search(r"(\d+) tabs? stands?", note)
        assert found is not None and int(found[1]) == lost


def _lying(plan: Plan, placement: PlanPlacement) -> Polygon:
    shape = plan.piece(placement.piece).cut.polygon
    return affinity.affine_transform(shape, placement.motion.matrix())
