"""Why a piece that no blank takes is not placed."""

from __future__ import annotations

from core import planning
from core.geometry import Region, Ring
from core.project.model import Grain, Panel, Project, SplitChoice
from core.shop import Cutter, Machine, Material, Reading, Rules, Shop, Stock


def reasons(grain: Grain, way: str) -> dict[str, str]:
    """Reasons by panel of what finds no place, for a tall panel and a small one."""
    panels = tuple(
        Panel(
            name,
            name,
            Region.of(Ring.rectangle(0, 0, width, height)),
            material="birch",
            grain=grain,
            split=SplitChoice.WHOLE,
        )
        for name, width, height in (("tall", 500.0, 800.0), ("small", 300.0, 200.0))
    )
    shop = Shop(
        Machine(
            travel_mm=(900.0, 600.0),
            table_mm=(900.0, 640.0),
            cutters=(Cutter(6.0),),
            open_ended=True,
        ),
        (Material("birch", 18, (Reading(17.6),), density_kg_m3=685.0),),
        (Stock("full", "birch", 2440.0, 1220.0),),
        rules=Rules(edge_margin_mm=8.0, kerf_mm=3.0),
    )
    project = Project(panels=panels, shop=shop, breakdown=way)
    pieces = planning.cut_panels(project)
    layout = planning.lay_out(project, pieces, steps=2000)
    plan = planning.assemble_plan(project, pieces, layout)
    panel_of = {p.id: p.panel for p in plan.pieces}
    return {panel_of[u.piece]: u.reason for u in plan.unplaced}


def test_a_piece_that_no_strip_takes_as_its_grain_lies_is_not_put_down_to_short_search() -> None:
    found = reasons(Grain.ALONG, "through")
    assert set(found) == {"tall"}
    assert "as its grain must lie" in found["tall"]
    assert "500 × 800 mm" in found["tall"]


def test_turned_freely_the_same_piece_finds_a_place() -> None:
    assert reasons(Grain.FREE, "through") == {}
    assert reasons(Grain.ALONG, "blanks") == {}


def test_grain_is_not_blamed_where_turning_would_not_help() -> None:
    found = reasons(Grain.ALONG, "whole")
    assert set(found) == {"tall", "small"}
    assert not any("grain" in reason for reason in found.values())
