"""Outlines on the floor are laid once and kept while nothing about them changes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.stages.sheets_model import Bench, Key, make_bench
from app.stages.sheets_shapes import gap_of_bounds
from core import planning
from core.geometry import Motion, Region, Ring
from core.project.model import KeptLayout, Panel, Placed, Project
from core.shop import Machine, Material, Rules, Shop, Stock

SHEET = ("full", 1)
SHOP = Shop(
    machine=Machine(travel_mm=(2500.0, 1300.0), table_mm=(2500.0, 1300.0)),
    materials=(Material("birch", 18.0),),
    stock=(Stock("full", "birch", 2440.0, 1220.0),),
    rules=Rules(spacing_mm=8.0, edge_margin_mm=10.0),
)
TILES = Project(
    panels=(
        Panel(
            "tile", "Tile", Region.of(Ring.rectangle(0, 0, 100, 80)), quantity=12, material="birch"
        ),
    ),
    shop=SHOP,
)
PIECES = planning.cut_panels(TILES)
PIECE = PIECES.pieces[0].id


def bench(motions: dict[int, Motion], before: Bench | None = None, pieces=PIECES) -> Bench:
    placed = tuple(Placed(PIECE, n, *SHEET, motion) for n, motion in motions.items())
    return make_bench(TILES, pieces, KeptLayout("", placed), before=before)


def rows(count: int = 12) -> dict[int, Motion]:
    return {n: Motion(20.0 + 110.0 * (n - 1), 20.0) for n in range(1, count + 1)}


def key(copy: int) -> Key:
    return PIECE, copy


def test_only_what_moved_is_laid_again() -> None:
    first = bench(rows())
    shapes = {n: first.shape(key(n)) for n in rows()}
    moved = rows() | {5: Motion(20.0, 300.0)}
    second = bench(moved, first)
    for n in rows():
        assert (second.shape(key(n)) is shapes[n]) == (n != 5)
    assert second.shape(key(5)).bounds == pytest.approx((20.0, 300.0, 120.0, 380.0))


def test_a_piece_cut_anew_is_laid_again() -> None:
    first = bench(rows(2))
    before = first.shape(key(1))
    wider = replace(TILES.panels[0], region=Region.of(Ring.rectangle(0, 0, 104, 80)))
    again = planning.cut_panels(replace(TILES, panels=(wider,)))
    second = bench(rows(2), first, pieces=again)
    assert second.shape(key(1)) is not before
    assert second.shape(key(1)).bounds[2] == pytest.approx(124.0)


def test_copies_that_are_gone_are_forgotten() -> None:
    first = bench(rows())
    for n in rows():
        first.shape(key(n))
    fewer = replace(TILES, panels=(replace(TILES.panels[0], quantity=3),))
    placed = tuple(Placed(PIECE, n, *SHEET, m) for n, m in rows(3).items())
    second = make_bench(fewer, planning.cut_panels(fewer), KeptLayout("", placed), before=first)
    assert len(second.shapes) == 3


def test_a_piece_that_stays_meets_the_same_neighbours_as_one_that_is_moved() -> None:
    crowded = rows() | {2: Motion(120.0 + 7.5, 20.0), 7: Motion(500.0, 90.0)}
    laid = bench(crowded)
    for n in crowded:
        lying = {key(n): crowded[n]}
        all_of_them = laid.mover(SHEET, lying).touches(0.0, 0.0)
        assert laid.mover(SHEET, lying, stays=True).touches(0.0, 0.0) == all_of_them
    assert any(
        contact.short_mm
        for contact in laid.mover(SHEET, {key(1): crowded[1]}, stays=True).touches(0, 0)
    )


def test_boxes_are_as_far_apart_as_their_sides_or_corners() -> None:
    box = (0.0, 0.0, 10.0, 10.0)
    assert gap_of_bounds(box, (13.0, 2.0, 20.0, 5.0)) == 3.0
    assert gap_of_bounds(box, (13.0, -9.0, 20.0, -4.0)) == 5.0
    assert gap_of_bounds(box, (5.0, 5.0, 6.0, 6.0)) == 0.0
