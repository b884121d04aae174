"""Ways to buy: which there are, and what they change."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.geometry import Region, Ring
from core.project.model import Panel, Project
from core.reports.alternatives import alternatives
from core.shop import Material, Shop, Stock

BIG = Stock("big", "Birch 18", 2440.0, 1220.0, cost=80.0)
SMALL = Stock("small", "Birch 18", 1220.0, 610.0, cost=24.0)
REST = Stock("rest", "Birch 18", 900.0, 500.0, quantity=1, in_rack=True)
OTHER = Stock("other", "Maple 3/4", 2438.4, 1219.2, cost=95.0)
THIN = Stock("thin", "Birch 6", 1220.0, 610.0, cost=12.0)


def project(*stock: Stock) -> Project:
    boards = (Material("Birch 18", 18.0), Material("Maple 3/4", 19.05), Material("Birch 6", 6.0))
    panel = Panel("p", "Shelf", Region.of(Ring.rectangle(0, 0, 600, 300)), material="Birch 18")
    return Project(shop=Shop(materials=boards, stock=stock), panels=(panel,))


def test_every_size_alone_the_rack_left_and_another_board_of_about_the_same_thickness() -> None:
    whole = project(BIG, SMALL, REST, OTHER, THIN)
    found = alternatives(whole)
    assert [way.name for way in found] == [
        "All stock of the shop",
        "Birch 18: only 2440 × 1220",
        "Birch 18: only 1220 × 610",
        "Without the rack",
        "Maple 3/4 for Birch 18",
    ]
    assert found[0].project is whole
    assert found[1].project.shop.stock == (BIG, REST, OTHER, THIN)
    assert found[3].project.shop.stock == (BIG, SMALL, OTHER, THIN)
    assert found[4].material == ("Birch 18", "Maple 3/4")
    assert found[4].project.panels[0].material == "Maple 3/4"
    assert found[4].project.shop == whole.shop


def test_one_way_to_buy_is_told_as_one() -> None:
    assert [way.name for way in alternatives(project(BIG, THIN))] == ["All stock of the shop"]
    assert len(alternatives(project())) == 1
    # All there is lies in the rack: without it nothing is left to compare.
    assert len(alternatives(project(REST))) == 1


def test_sizes_are_named_in_the_projects_unit_and_there_are_never_too_many() -> None:
    many = [replace(BIG, id=f"b{k}", width_mm=1000.0 + 25.4 * k) for k in range(20)]
    inches = replace(project(*many), units="in")
    found = alternatives(inches)
    assert len(found) == 8
    assert found[1].name.endswith("× 48 1/32″")
    assert len({way.name for way in alternatives(inches, most=50)}) == 21


@pytest.mark.parametrize("thickness", (16.0, 19.5))
def test_a_board_of_another_thickness_is_no_way(thickness: float) -> None:
    whole = project(BIG, OTHER)
    boards = tuple(
        replace(m, nominal_mm=thickness) if m.name == "Maple 3/4" else m
        for m in whole.shop.materials
    )
    changed = replace(whole, shop=replace(whole.shop, materials=boards))
    assert len(alternatives(changed)) == 1
