"""Sheets that the saw and the router share, as the Sheets stage checks them."""

from __future__ import annotations

from dataclasses import replace

from app.stages.sheets_model import Bench, make_bench, wrong_keys
from core import planning
from core.geometry import Motion, Region, Ring
from core.project.model import CutBy, Grain, KeptLayout, Panel, Placed, Project, SawnSheet
from core.shop import Cutter, Machine, Material, Reading, Rules, Shop, Stock

SHEET = ("full", 1)


def panel(name: str, width: float, height: float, by: CutBy, quantity: int = 1) -> Panel:
    region = Region.of(Ring.rectangle(0, 0, width, height))
    made = Panel(name, name, region, material="birch", quantity=quantity, grain=Grain.ALONG)
    return replace(made, by=by)


def bench(**moved: Motion) -> Bench:
    """A routed piece on its blank, two shelves a kerf apart beside it; moved: other places."""
    shop = Shop(
        Machine(travel_mm=(900.0, 600.0), table_mm=(900.0, 600.0), cutters=(Cutter(6.0),)),
        (Material("birch", 18, (Reading(17.6),), density_kg_m3=685.0),),
        (Stock("full", "birch", 2440.0, 1220.0),),
        rules=Rules(edge_margin_mm=10.0, kerf_mm=3.0),
    )
    panels = (
        panel("routed", 560, 560, CutBy.ROUTER),
        panel("low", 1700, 300, CutBy.SAW),
        panel("high", 1700, 300, CutBy.SAW),
    )
    project = Project(panels=panels, shop=shop)
    pieces = planning.cut_panels(project)
    spots = {
        "routed": Motion(10.0, 10.0),
        "low": Motion(583.0, 0.0),
        "high": Motion(583.0, 303.0),
    } | moved
    placed = tuple(Placed(p.id, 1, *SHEET, spots[p.panel], digest=p.digest) for p in pieces.pieces)
    layout = KeptLayout("", placed, (SawnSheet(*SHEET, ((0.0, 0.0, 580.0, 580.0),)),))
    return make_bench(project, pieces, layout)


def wrong(laid: Bench) -> set[str]:
    return {laid.pieces[piece].panel for piece, _ in wrong_keys(laid, SHEET)}


def test_parts_for_the_saw_lie_a_kerf_apart_and_at_the_edge_beside_routed_pieces() -> None:
    assert wrong(bench()) == set()


def test_parts_for_the_saw_nearer_than_a_kerf_are_wrong() -> None:
    assert wrong(bench(high=Motion(583.0, 302.0))) == {"low", "high"}


def test_parts_for_the_saw_past_the_edge_are_wrong() -> None:
    assert wrong(bench(low=Motion(750.0, 0.0))) == {"low"}


def test_a_routed_piece_must_keep_to_its_blank_beside_parts_for_the_saw() -> None:
    assert wrong(bench(routed=Motion(12.0, 10.0))) == {"routed"}
