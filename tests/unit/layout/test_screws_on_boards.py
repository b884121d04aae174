"""Where a board is screwed down in a whole plan: on the board as it is, told honestly."""

from __future__ import annotations

import pytest
from shapely.geometry import Point, Polygon

from core.geometry import Region, Ring
from core.plan import Plan, PlanSetup
from core.planning import plan_project
from core.project.model import Panel, Project
from core.shop import Cutter, Defect, Machine, Material, Shop, Stock

MACHINE = Machine(travel_mm=(1000.0, 800.0), table_mm=(1000.0, 800.0), cutters=(Cutter(6.0),))
#: A leftover that lacks its upper right corner, as a board found in the rack may.
CORNERLESS = ((0.0, 0.0), (900.0, 0.0), (900.0, 380.0), (520.0, 700.0), (0.0, 700.0))


def plan_on(stock: Stock, *, quantity: int = 1) -> Plan:
    shelf = Panel(
        "shelf", "Shelf", Region.of(Ring.rectangle(0, 0, 400, 200)), quantity=quantity,
        material="ply",
    )  # fmt: skip
    shop = Shop(MACHINE, (Material("ply", 12.0),), (stock,))
    return plan_project(Project(name="Shelves", panels=(shelf,), shop=shop), steps=500)


def only_setup(plan: Plan) -> PlanSetup:
    ((setup,),) = (sheet.setups for sheet in plan.sheets)
    return setup


def test_no_screw_stands_where_a_board_lacks_its_corner() -> None:
    setup = only_setup(plan_on(Stock("rack", "ply", 900.0, 700.0, points=CORNERLESS)))
    board = Polygon(CORNERLESS)
    assert len(setup.screws) == 4
    # 12 mm from the edge, as from every other edge.
    assert [at for at in setup.screws if not board.buffer(-11.9).contains(Point(at))] == []


def test_no_screw_stands_in_a_bad_spot() -> None:
    bad = Defect(((860.0, 660.0), (900.0, 660.0), (900.0, 700.0), (860.0, 700.0)))
    setup = only_setup(plan_on(Stock("rack", "ply", 900.0, 700.0, defects=(bad,))))
    assert len(setup.screws) == 4
    assert not any(bad.polygon.buffer(11.9).contains(Point(at)) for at in setup.screws)


def test_a_screw_in_the_offcut_is_told_as_one() -> None:
    plan = plan_on(Stock("rack", "ply", 900.0, 700.0))
    setup = only_setup(plan)
    kept = [Polygon(o.points) for o in plan.sheets[0].offcuts if o.keep]
    inside = sum(any(o.covers(Point(at)) for o in kept) for at in setup.screws)
    assert 0 < inside < len(setup.screws)
    told = next(note for note in setup.notes if "screwed down" in note)
    assert f"({inside} of them in the offcut you keep)" in told


def test_a_full_board_is_held_at_its_edges() -> None:
    setup = only_setup(plan_on(Stock("rack", "ply", 430.0, 230.0)))
    assert setup.screws == ()
    assert any("hold the board at its edges" in note for note in setup.notes)


@pytest.mark.parametrize("quantity", [1, 3])
def test_the_note_counts_the_places_that_are_marked(quantity: int) -> None:
    setup = only_setup(plan_on(Stock("rack", "ply", 900.0, 700.0), quantity=quantity))
    told = next(note for note in setup.notes if "screwed down" in note)
    assert f"the {len(setup.screws)} places marked" in told
