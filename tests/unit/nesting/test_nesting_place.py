"""The best place for one piece, asked while the maker works by hand."""

from __future__ import annotations

import pytest
from shapely.geometry import Polygon, box

from core.errors import InvalidRequestError
from core.nesting import (
    Layout,
    NestPiece,
    NestRules,
    NestSheet,
    Placement,
    Placer,
    best_place,
    check_layout,
    nest,
)

RULES = NestRules(8, 10)
PIECES = [
    NestPiece("wide", box(0, 0, 400, 200), 3),
    NestPiece("hook", Polygon([(0, 0), (200, 0), (200, 60), (60, 60), (60, 200), (0, 200)]), 4),
]
SHEETS = [NestSheet("board", box(0, 0, 900, 500), 2)]


def test_the_first_piece_goes_to_the_lower_left_corner() -> None:
    place = best_place("wide", 1, Layout(), PIECES, SHEETS, RULES)
    assert place is not None
    assert (place.sheet_id, place.sheet_copy) == ("board", 1)
    assert place.x_mm == pytest.approx(10, abs=0.01)
    assert place.y_mm == pytest.approx(10, abs=0.01)


def test_pieces_asked_one_by_one_make_a_valid_layout() -> None:
    placer = Placer(PIECES, SHEETS, RULES)
    layout = Layout()
    for piece in PIECES:
        for copy in range(1, piece.quantity + 1):
            place = placer.best_place(piece.id, copy, layout)
            assert place is not None
            layout = Layout((*layout.placements, place))
    assert check_layout(PIECES, SHEETS, RULES, layout) == []


def test_a_place_is_exact_so_that_the_next_fits_beside_it() -> None:
    quarters = [NestPiece("q", box(0, 0, 288, 288), 4)]
    sheets = [NestSheet("slot", box(0, 0, 600, 600), 1)]
    placer = Placer(quarters, sheets, NestRules(8, 8))
    layout = Layout()
    for copy in range(1, 5):
        place = placer.best_place("q", copy, layout)
        assert place is not None
        layout = Layout((*layout.placements, place))
    assert check_layout(quarters, sheets, NestRules(8, 8), layout) == []


def test_a_full_sheet_gives_no_place_unless_another_may_be_opened() -> None:
    full = nest([NestPiece("wide", box(0, 0, 400, 200), 4)], SHEETS, RULES, steps=20_000)
    pieces = [NestPiece("wide", box(0, 0, 400, 200), 5)]
    assert len(full.sheets) == 1
    assert best_place("wide", 5, full, pieces, SHEETS, RULES, may_open=False) is None
    opened = best_place("wide", 5, full, pieces, SHEETS, RULES)
    assert opened is not None and opened.sheet_copy == 2


def test_a_piece_already_placed_is_asked_about_as_if_it_were_in_hand() -> None:
    lying = Layout((Placement("wide", 1, "board", 1, 300, 200, 0, False),))
    place = best_place("wide", 1, lying, PIECES, SHEETS, RULES)
    assert place is not None and place.x_mm == pytest.approx(10, abs=0.01)


def test_an_unknown_piece_is_refused() -> None:
    with pytest.raises(InvalidRequestError, match="no such piece"):
        best_place("ghost", 1, Layout(), PIECES, SHEETS, RULES)
