"""Exact fillings: what is found, and what is left to the search."""

from __future__ import annotations

import math
from collections.abc import Callable
from types import SimpleNamespace

import pytest
import shapely
from shapely.geometry import Polygon, box

from core.nesting import (
    Layout,
    NestPiece,
    NestRules,
    NestSheet,
    check_layout,
    engine,
    jigsaw,
    nest,
)
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
    # The squares of 1 to 24 have the area of one of 70, but do not fill it: J. R. Bitner and
    # E. M. Reingold, Communications of the ACM 18 (1975), 651-656, from memory.
    pieces = [NestPiece(f"s{side}", box(0, 0, side, side)) for side in range(1, 25)]
    sheet = NestSheet("s", box(0, 0, 70, 70), 1)
    assert tried(pieces, sheet, most=300) == (False, 301)
    asked: list[int] = []

    def stop() -> bool:
        asked.append(1)
        return len(asked) > 3

    found, nodes = tried(pieces, sheet, stop=stop)
    assert not found and len(asked) == 4 and nodes <= 64


def test_with_many_pieces_fewer_positions_are_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(jigsaw, "NODES_MOST", 600)
    pieces = [NestPiece(f"s{side}", box(0, 0, side, side), 2) for side in range(1, 25)]
    assert tried(pieces, NestSheet("s", box(0, 0, 140, 70), 1)) == (False, 600 * 30 // 48 + 1)


def test_pieces_alike_but_for_the_turns_they_may_have_stand_in_for_each_other() -> None:
    cells = [(0, 0), (1, 0), (1, 1), (1, 2), (1, 3), (2, 0), (2, 3)]
    bracket = shapely.union_all([box(x, y, x + 1, y + 1) for x, y in cells])
    pieces = [
        NestPiece("bracket", bracket, 1, (0,)),
        NestPiece("any way", box(0, 0, 2, 1), 1, (0, 90)),  # only this one goes in the notch
        NestPiece("along", box(0, 0, 2, 1), 3, (0,)),
        NestPiece("cube", box(0, 0, 1, 1), 1, (0,)),
    ]
    assert tried(pieces, NestSheet("s", box(0, 0, 4, 4), 1))[0]


def test_a_hole_off_the_grid_of_its_own_sides_is_filled_where_it_is() -> None:
    frame = box(0, 0, 100, 100).difference(box(25, 25, 65, 65))
    pieces = [NestPiece("frame", frame, 1, (0,)), NestPiece("lid", box(0, 0, 40, 40), 1, (0,))]
    job = prepare(tuple(pieces), (NestSheet("s", frame.envelope, 1),), RULES)
    found, _ = fill_exactly(job, [Item(0, 1), Item(1, 1)])
    assert found is not None
    assert [(s.x, s.y) for s in found.spots if s is not None] == [(50, 50), (45, 45)]


def test_a_filling_that_is_not_found_leaves_time_to_the_search(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    now = [0.0]
    left: list[float] = []

    def never(*_: object, stop: Callable[[], bool], **__: object) -> tuple[None, int]:
        while not stop():
            now[0] += 0.5
        return None, 9

    def searched(_: object, made: object, bare: object, steps: object, until: float) -> object:
        left.append(until - now[0])
        return made

    monkeypatch.setattr(engine, "time", SimpleNamespace(monotonic=lambda: now[0]))
    monkeypatch.setattr(engine, "fill_exactly", never)
    monkeypatch.setattr(engine, "compiled_before", lambda: True)
    monkeypatch.setattr(engine._Run, "_improved_part", searched)
    pieces = [NestPiece("a", box(0, 0, 30, 40), 2), NestPiece("b", box(0, 0, 70, 60), 2)]
    nest(pieces, [NestSheet("s", box(0, 0, 100, 110))], RULES, seconds=60.0)
    assert left and left[0] >= 29.0


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
