"""Exact fillings: what is found, and what is left to the search."""

from __future__ import annotations

import math

import pytest
import shapely
from shapely.geometry import Polygon, box

from core.nesting import Layout, NestPiece, NestRules, NestSheet, check_layout, nest
from core.nesting.construct import Item
from core.nesting.jigsaw import fill_exactly
from core.nesting.prepare import prepare

RULES = NestRules()


def tried(
    pieces: list[NestPiece], sheet: NestSheet, rules: NestRules = RULES, **options: object
) -> tuple[bool, int]:
    """Whether a filling was found, and how many positions were tried."""
    job = prepare(tuple(pieces), (sheet,), rules)
    items = [
        Item(k, copy)
        for k, kind in enumerate(job.kinds)
        for copy in range(1, kind.piece.quantity + 1)
    ]
    found, nodes = fill_exactly(job, items, **options)  # type: ignore[arg-type]
    return found is not None, nodes


def frame_and_filling(size: float, wall: float) -> list[NestPiece]:
    """A square frame and what fills its hole."""
    ring = box(0, 0, size, size).difference(box(wall, wall, size - wall, size - wall))
    inner = size - 2 * wall
    return [NestPiece("frame", ring), NestPiece("half", box(0, 0, inner, inner / 2), 2)]


def test_pieces_in_a_hole_fill_a_sheet_too() -> None:
    pieces = frame_and_filling(600.0, 40.0)
    sheet = NestSheet("s", box(5, -3, 605, 597), 1)
    assert tried(pieces, sheet)[0]
    layout: Layout = nest(pieces, [sheet], RULES, steps=1_000)
    assert layout.unplaced == () and check_layout(pieces, [sheet], RULES, layout) == []


@pytest.mark.parametrize(
    ("pieces", "why"),
    [
        ([NestPiece("a", box(0, 0, 10, 9.99)), NestPiece("b", box(0, 0, 10, 10))], "less area"),
        (
            [
                NestPiece("a", box(0, 0, 20, math.sqrt(2))),
                NestPiece("b", box(0, 0, 20, 10 - math.sqrt(2))),
            ],
            "no common unit",
        ),
        (
            [
                NestPiece("a", Polygon([(0, 0), (20, 0), (0, 10)])),
                NestPiece("b", Polygon([(0, 0), (20, 0), (20, 10)])),
            ],
            "slanting sides",
        ),
        ([NestPiece("a", box(0, 0, 20, 10))], "one piece"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_is_no_jigsaw_is_left_to_the_search(pieces: list[NestPiece], why: str) -> None:
    height = 9.995 if why == "less area" else 10
    assert tried(pieces, NestSheet("s", box(0, 0, 20, height), 1)) == (False, 0)


def test_spacing_is_never_given_up_for_a_filling() -> None:
    pieces = [NestPiece("a", box(0, 0, 20, 5), 2)]
    sheet = NestSheet("s", box(0, 0, 20, 10), 1)
    assert tried(pieces, sheet)[0]
    assert tried(pieces, sheet, NestRules(1.0)) == (False, 0)


def test_a_filling_that_cannot_be_is_seen_at_once() -> None:
    # by area they fit; but nothing can stand beside a strip of 7 on a run of 10
    pieces = [NestPiece("a", box(0, 0, 7, 8), 1, (0,)), NestPiece("b", box(0, 0, 4, 11), 1, (0,))]
    found, nodes = tried(pieces, NestSheet("s", box(0, 0, 10, 10), 1))
    assert not found and nodes <= 2


def test_the_search_ends_when_asked_or_spent() -> None:
    pieces = [NestPiece(f"p{k}", box(0, 0, 3 + k % 5, 2 + k % 3)) for k in range(24)]
    area = sum(piece.polygon.area for piece in pieces)
    sheet = NestSheet("s", box(0, 0, area / 16, 16), 1)
    found, nodes = tried(pieces, sheet, most=300)
    assert found or nodes <= 301
    asked: list[int] = []

    def stop() -> bool:
        asked.append(1)
        return True

    found, nodes = tried(pieces, sheet, stop=stop)
    assert found or (asked and nodes <= 256)


def test_the_same_filling_every_time() -> None:
    pieces = [
        NestPiece(f"s{side}", box(0, 0, side, side)) for side in (18, 15, 14, 10, 9, 8, 7, 4, 1)
    ]
    sheet = NestSheet("s", box(0, 0, 33, 32), 1)
    one = nest(pieces, [sheet], RULES, steps=5_000, seed=1)
    two = nest(pieces, [sheet], RULES, steps=5_000, seed=9)
    assert one.placements == two.placements
    whole = shapely.union_all([
        shapely.affinity.translate(box(0, 0, side, side), p.x_mm, p.y_mm)
        for p in one.placements for side in [int(p.piece_id[1:])]
    ])  # fmt: skip
    assert whole.area == pytest.approx(33 * 32, abs=1e-3)
