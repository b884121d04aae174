"""Nesting against puzzles whose perfect solution is published.

A free nester must find what no sequence of through cuts can make: squared rectangles (every
square different, no waste) and the tangram.
"""

from __future__ import annotations

import pytest
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from core.nesting import (
    Layout,
    NestPiece,
    NestRules,
    NestSheet,
    Placement,
    check_layout,
    nest,
)

RULES = NestRules()

# Moroń 1925, as quoted in secondary literature: 33 × 32 of nine squares; x, y, side.
MORON = [
    (0, 0, 18), (18, 0, 15), (18, 15, 7), (25, 15, 8), (0, 18, 14), (14, 18, 4), (14, 22, 10),
    (24, 22, 1), (24, 23, 9),
]  # fmt: skip

# Duijvestijn, J. Combin. Theory B 25 (1978) 240–243, as quoted in secondary literature: the
# squared square of lowest order, 112 × 112 of 21 squares; x, y, side.
DUIJVESTIJN = [
    (0, 0, 50), (50, 0, 35), (85, 0, 27), (85, 27, 8), (93, 27, 19), (50, 35, 15), (65, 35, 17),
    (82, 35, 11), (82, 46, 6), (88, 46, 24), (0, 50, 29), (29, 50, 25), (54, 50, 9), (63, 50, 2),
    (63, 52, 7), (70, 52, 18), (54, 59, 16), (70, 70, 42), (29, 75, 4), (33, 75, 37), (0, 79, 33),
]  # fmt: skip

# Order 9 of 69 × 61, as quoted in secondary literature.
SIXTY_NINE = [36, 33, 5, 28, 25, 9, 2, 7, 16]

# The tangram on a square of side 4: proportions 2 : 2 : 1 for medium, square, parallelogram, as
# quoted in secondary literature; areas add up to 16.
TANGRAM = [
    [(0, 0), (4, 0), (2, 2)],
    [(0, 0), (2, 2), (0, 4)],
    [(4, 0), (4, 2), (3, 1)],
    [(2, 2), (3, 1), (4, 2), (3, 3)],
    [(4, 2), (4, 4), (2, 4)],
    [(2, 2), (3, 3), (1, 3)],
    [(0, 4), (1, 3), (3, 3), (2, 4)],
]


def squares(sides: list[int]) -> list[NestPiece]:
    return [NestPiece(f"s{side}-{k}", box(0, 0, side, side)) for k, side in enumerate(sides)]


def solve(pieces: list[NestPiece], sheet: NestSheet) -> Layout:
    return nest(pieces, [sheet], RULES, steps=12_000_000, seed=2)


@pytest.mark.parametrize(("placed", "width", "height"), [(MORON, 33, 32), (DUIJVESTIJN, 112, 112)])
def test_the_published_squarings_pass_the_proof(
    placed: list[tuple[int, int, int]], width: int, height: int
) -> None:
    pieces = squares([side for _, _, side in placed])
    sheet = NestSheet("frame", box(0, 0, width, height), 1)
    layout = Layout(
        tuple(
            Placement(piece.id, 1, "frame", 1, x, y, 0, False)
            for piece, (x, y, _) in zip(pieces, placed, strict=True)
        )
    )
    assert check_layout(pieces, [sheet], RULES, layout) == []
    assert sum(piece.polygon.area for piece in pieces) == width * height
    small = NestSheet("frame", box(0, 0, width, height - 0.01), 1)
    assert check_layout(pieces, [small], RULES, layout) != []


def test_a_published_squaring_is_kept_when_it_is_the_start() -> None:
    pieces = squares([side for _, _, side in DUIJVESTIJN])
    sheet = NestSheet("frame", box(0, 0, 112, 112), 1)
    layout = Layout(
        tuple(
            Placement(piece.id, 1, "frame", 1, x, y, 0, False)
            for piece, (x, y, _) in zip(pieces, DUIJVESTIJN, strict=True)
        )
    )
    again = nest(pieces, [sheet], RULES, steps=50_000, start=layout)
    assert again.unplaced == () and again.optimal


@pytest.mark.parametrize(
    ("sides", "width", "height"),
    [
        ([side for _, _, side in MORON], 33, 32),
        (SIXTY_NINE, 69, 61),
        ([side for _, _, side in DUIJVESTIJN], 112, 112),
    ],
)
def test_squared_rectangles_are_packed_without_waste(
    sides: list[int], width: int, height: int
) -> None:
    pieces = squares(sides)
    sheet = NestSheet("frame", box(0, 0, width, height), 1)
    layout = solve(pieces, sheet)
    assert layout.unplaced == ()
    assert check_layout(pieces, [sheet], RULES, layout) == []


# The twelve pentominoes, S. W. Golomb, Polyominoes, 2nd ed., Princeton 1994, from memory; they
# fill rectangles of 6 × 10, 5 × 12, 4 × 15 and 3 × 20 (2339, 1010, 368 and 2 ways).
PENTOMINOES = {
    "F": (".XX", "XX.", ".X."), "I": ("XXXXX",), "L": ("X...", "XXXX"), "N": ("XX..", ".XXX"),
    "P": ("XX", "XX", "X."), "T": ("XXX", ".X.", ".X."), "U": ("X.X", "XXX"),
    "V": ("X..", "X..", "XXX"), "W": ("X..", "XX.", ".XX"), "X": (".X.", "XXX", ".X."),
    "Y": (".X..", "XXXX"), "Z": ("XX.", ".X.", ".XX"),
}  # fmt: skip


@pytest.mark.parametrize(("width", "height"), [(10, 6), (6, 10), (12, 5), (15, 4), (20, 3)])
@pytest.mark.parametrize("cell", [1.0, 17.6])
def test_the_pentominoes_fill_their_rectangles(width: int, height: int, cell: float) -> None:
    pieces = [
        NestPiece(
            name,
            unary_union([
                box(x * cell, y * cell, (x + 1) * cell, (y + 1) * cell)
                for y, row in enumerate(rows) for x, mark in enumerate(row) if mark == "X"
            ]),
            1, (0, 90, 180, 270), may_mirror=True,
        )
        for name, rows in PENTOMINOES.items()
    ]  # fmt: skip
    sheet = NestSheet("frame", box(0, 0, width * cell, height * cell), 1)
    layout = solve(pieces, sheet)
    assert layout.unplaced == ()
    assert check_layout(pieces, [sheet], RULES, layout) == []


def test_the_tangram_square_is_found() -> None:
    pieces = [
        NestPiece(f"t{k}", Polygon([(25 * x, 25 * y) for x, y in corners]), 1,
                  tuple(range(0, 360, 45)), may_mirror=True)
        for k, corners in enumerate(TANGRAM)
    ]  # fmt: skip
    sheet = NestSheet("frame", box(0, 0, 100, 100), 1)
    layout = solve(pieces, sheet)
    assert layout.unplaced == ()
    assert check_layout(pieces, [sheet], RULES, layout) == []


def test_the_bound_by_area_is_met_by_a_perfect_packing() -> None:
    pieces = squares([side for _, _, side in MORON])
    layout = solve(pieces, NestSheet("frame", box(0, 0, 33, 32), 1))
    assert layout.bound == 1 and layout.optimal
    assert layout.used_length_mm == pytest.approx(33, abs=1e-3)
