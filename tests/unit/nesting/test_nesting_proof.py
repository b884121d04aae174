"""The proof finds every way in which a layout can be wrong."""

from __future__ import annotations

import pytest
from shapely.geometry import Polygon, box

from core.nesting import (
    Layout,
    NestPiece,
    NestRules,
    NestSheet,
    Placement,
    Unplaced,
    check_layout,
)

PIECES = [NestPiece("a", box(0, 0, 100, 50), 2, (0, 90)), NestPiece("b", box(0, 0, 30, 30))]
SHEETS = [NestSheet("s", box(0, 0, 500, 300), 1, keep_outs=(box(400, 200, 450, 250),))]
RULES = NestRules(5, 10)


def at(
    piece: str, copy: int, x: float, y: float, turn: float = 0, mirrored: bool = False
) -> Placement:
    return Placement(piece, copy, "s", 1, x, y, turn, mirrored)


GOOD = (at("a", 1, 10, 10), at("a", 2, 10, 65), at("b", 1, 115, 10))


def codes(*placements: Placement, unplaced: tuple[Unplaced, ...] = ()) -> set[str]:
    layout = Layout(placements, unplaced)
    return {violation.code for violation in check_layout(PIECES, SHEETS, RULES, layout)}


def test_a_good_layout_passes() -> None:
    assert codes(*GOOD) == set()


def test_pieces_exactly_at_spacing_and_margin_pass() -> None:
    assert codes(at("a", 1, 10, 10), at("a", 2, 115, 10), at("b", 1, 10, 65)) == set()


@pytest.mark.parametrize(
    ("placements", "code"),
    [
        ((GOOD[0], GOOD[1]), "copies"),
        ((*GOOD, GOOD[2]), "copies"),
        ((*GOOD, at("a", 3, 300, 10)), "copies"),
        ((*GOOD[:2], at("b", 1, 114.9, 10)), "spacing"),
        ((*GOOD[:2], at("b", 1, 60, 20)), "overlap"),
        ((*GOOD[:2], at("b", 1, 300, 9.9)), "edge"),
        ((*GOOD[:2], at("b", 1, 480, 20)), "edge"),
        ((*GOOD[:2], at("b", 1, 420, 220)), "keep-out"),
        ((*GOOD[:1], at("a", 2, 300, 100, 180), GOOD[2]), "turn"),
        ((*GOOD[:2], at("b", 1, 300, 100, 0, True)), "mirror"),
        ((*GOOD[:2], GOOD[2]._replace(sheet_copy=2)), "sheet-count"),
        ((*GOOD[:2], GOOD[2]._replace(sheet_id="t")), "unknown"),
    ],
)
def test_each_broken_rule_is_named(placements: tuple[Placement, ...], code: str) -> None:
    assert code in codes(*placements)


def test_an_unplaced_copy_counts_as_accounted_for() -> None:
    assert codes(*GOOD[:2], unplaced=(Unplaced("b", 1, "no room"),)) == set()


def test_a_piece_in_a_hole_overlaps_only_when_holes_are_not_used() -> None:
    frame = Polygon(box(0, 0, 200, 200).exterior, [box(40, 40, 160, 160).exterior])
    pieces = [NestPiece("frame", frame), NestPiece("inlay", box(0, 0, 100, 100))]
    sheets = [NestSheet("s", box(0, 0, 300, 300))]
    layout = Layout((at("frame", 1, 20, 20), at("inlay", 1, 70, 70)))
    assert check_layout(pieces, sheets, NestRules(5, 10), layout) == []
    found = check_layout(pieces, sheets, NestRules(5, 10, use_holes=False), layout)
    assert [violation.code for violation in found] == ["overlap"]


def test_a_hole_in_the_sheet_is_no_board() -> None:
    holed = Polygon(box(0, 0, 300, 300).exterior, [box(100, 100, 200, 200).exterior])
    pieces = [NestPiece("b", box(0, 0, 30, 30))]
    for x, code in ((130, "edge"), (205, "edge"), (215, None)):
        found = check_layout(pieces, [NestSheet("s", holed)], RULES, Layout((at("b", 1, x, 120),)))
        assert [violation.code for violation in found] == ([code] if code else [])


def test_a_distance_too_little_is_said_in_hundredths_and_never_rounded_up_to_enough() -> None:
    layout = Layout((*GOOD[:2], at("b", 1, 300, 9.9975)), ())
    (found,) = check_layout(PIECES, SHEETS, RULES, layout)
    assert found.message == "b is 9.99 mm from the edge of sheet s"
