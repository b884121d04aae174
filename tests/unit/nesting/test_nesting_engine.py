"""The engine as a maker meets it: rules kept, nothing lost, stops when told."""

from __future__ import annotations

import threading
import time
from dataclasses import replace

import pytest
from shapely.geometry import MultiPolygon, Point, Polygon, box

from core.errors import InvalidRequestError
from core.nesting import (
    Layout,
    NestPiece,
    NestRules,
    NestSheet,
    Placement,
    check_layout,
    least_sheets,
    nest,
    place_rest,
    placed_polygon,
)

BOARD = NestSheet("board", box(0, 0, 1000, 600))
RULES = NestRules(8, 10)
L_SHAPE = Polygon([(0, 0), (300, 0), (300, 80), (80, 80), (80, 300), (0, 300)])


def by_key(layout: Layout) -> dict[tuple[str, int], Placement]:
    return {(p.piece_id, p.copy): p for p in layout.placements}


def test_an_l_shape_nests_into_its_twin_and_the_proof_passes() -> None:
    pieces = [NestPiece("hook", L_SHAPE, 4)]
    layout = nest(pieces, [BOARD], RULES, steps=100_000)
    assert check_layout(pieces, [BOARD], RULES, layout) == []
    assert len(layout.placements) == 4
    # Two hooks apart need 608 mm; one turned into the other takes far less.
    assert layout.used_length_mm < 800


def test_a_piece_as_large_as_the_slot_fits_at_zero_spacing() -> None:
    pieces = [NestPiece("square", box(0, 0, 600, 600), 1)]
    sheet = NestSheet("slot", box(0, 0, 600, 600), 1)
    layout = nest(pieces, [sheet], NestRules())
    assert len(layout.placements) == 1 and layout.optimal


def test_four_pieces_fit_exactly_with_spacing_and_margin() -> None:
    pieces = [NestPiece("quarter", box(0, 0, 288, 288), 4)]
    sheet = NestSheet("slot", box(0, 0, 600, 600), 1)
    rules = NestRules(8, 8)
    layout = nest(pieces, [sheet], rules)
    assert layout.unplaced == ()
    assert check_layout(pieces, [sheet], rules, layout) == []


def test_a_piece_lies_in_the_hole_of_another_and_is_cut_first() -> None:
    frame = Polygon(box(0, 0, 400, 400).exterior, [box(50, 50, 350, 350).exterior])
    pieces = [NestPiece("frame", frame), NestPiece("inlay", box(0, 0, 280, 280))]
    sheet = NestSheet("board", box(0, 0, 450, 450), 1)
    layout = nest(pieces, [sheet], RULES, steps=50_000)
    assert [p.piece_id for p in layout.placements] == ["inlay", "frame"]
    assert check_layout(pieces, [sheet], RULES, layout) == []
    without = nest(pieces, [sheet], NestRules(8, 10, use_holes=False), steps=50_000)
    assert len(without.unplaced) == 1


@pytest.mark.filterwarnings("ignore:invalid value")  # shapely's own, for the outline of NaN
def test_pieces_without_area_or_too_large_are_reported_not_dropped() -> None:
    pieces = [
        NestPiece("line", Polygon([(0, 0), (1, 1), (2, 2)]), 2),
        NestPiece("huge", box(0, 0, 5000, 50)),
        NestPiece("nowhere", Polygon([(0, 0), (float("nan"), 1), (1, 0)])),
        NestPiece("empty", Polygon()),
        NestPiece("good", box(0, 0, 50, 50)),
    ]
    layout = nest(pieces, [BOARD], RULES, steps=1000)
    assert [p.piece_id for p in layout.placements] == ["good"]
    reasons = {(u.piece_id, u.copy): u.reason for u in layout.unplaced}
    assert len(reasons) == 5
    assert "no area" in reasons["line", 2]
    assert "larger than every sheet" in reasons["huge", 1]
    assert "not finite" in reasons["nowhere", 1]
    assert "empty" in reasons["empty", 1]


def test_a_self_touching_outline_keeps_its_area() -> None:
    bow_tie = Polygon([(0, 0), (100, 100), (100, 0), (0, 100)])
    pieces = [NestPiece("bow", bow_tie, 3)]
    layout = nest(pieces, [BOARD], RULES, steps=20_000)
    assert check_layout(pieces, [BOARD], RULES, layout) == []
    assert len(layout.placements) == 3


def test_a_circle_of_a_thousand_vertices_is_no_trouble() -> None:
    pieces = [NestPiece("disc", Point(0, 0).buffer(90, quad_segs=250), 6)]
    layout = nest(pieces, [BOARD], RULES, steps=60_000)
    assert layout.unplaced == ()
    assert check_layout(pieces, [BOARD], RULES, layout) == []


def test_drawings_far_from_the_origin_nest_like_any_other() -> None:
    far = Polygon([(x + 4e6, y - 3e6) for x, y in L_SHAPE.exterior.coords])
    pieces = [NestPiece("far", far, 3, (0, 90))]
    layout = nest(pieces, [BOARD], RULES, steps=30_000)
    assert layout.unplaced == ()
    assert check_layout(pieces, [BOARD], RULES, layout) == []


def test_a_piece_of_two_parts_stays_together() -> None:
    pair = MultiPolygon([box(0, 0, 40, 200), box(60, 0, 100, 200)])
    pieces = [NestPiece("pair", pair, 4, None)]
    layout = nest(pieces, [BOARD], RULES, steps=20_000)
    assert layout.unplaced == ()
    assert check_layout(pieces, [BOARD], RULES, layout) == []


def test_an_irregular_offcut_with_a_keep_out_is_used_and_the_keep_out_stays_clear() -> None:
    offcut = NestSheet(
        "offcut",
        Polygon([(0, 0), (700, 0), (700, 200), (300, 200), (300, 500), (0, 500)]),
        1,
        cost=0,
        keep_outs=(box(100, 60, 160, 120),),
    )
    pieces = [NestPiece("bar", box(0, 0, 280, 60), 6, (0, 90))]
    layout = nest(pieces, [offcut], NestRules(4, 5), steps=200_000)
    assert check_layout(pieces, [offcut], NestRules(4, 5), layout) == []
    assert len(layout.placements) >= 5


def test_the_cheaper_sheet_that_holds_everything_is_taken() -> None:
    pieces = [NestPiece("part", box(0, 0, 200, 150), 4)]
    sheets = [
        NestSheet("full", box(0, 0, 2440, 1220), cost=60),
        NestSheet("offcut", box(0, 0, 450, 350), 1, cost=5),
        NestSheet("tiny", box(0, 0, 250, 200), 3, cost=3),
    ]
    layout = nest(pieces, sheets, RULES, steps=50_000)
    assert layout.cost == 5
    assert layout.sheets == (("offcut", 1),)


def test_priority_decides_what_stays_out_when_board_runs_short() -> None:
    pieces = [
        NestPiece("spare", box(0, 0, 480, 280), 4, priority=0),
        NestPiece("needed", box(0, 0, 400, 280), 3, priority=5),
    ]
    sheet = NestSheet("board", box(0, 0, 1000, 600), 1)
    layout = nest(pieces, [sheet], RULES, steps=100_000)
    placed = [p.piece_id for p in layout.placements]
    assert placed.count("needed") == 3
    assert {u.piece_id for u in layout.unplaced} == {"spare"}
    assert all("No room is left" in u.reason for u in layout.unplaced)


def test_fillers_never_open_a_sheet_nor_lengthen_the_last() -> None:
    needed = NestPiece("needed", box(0, 0, 400, 400), 3)
    brace = NestPiece("brace", Polygon([(0, 0), (60, 0), (0, 60)]), 100, filler=True)
    alone = nest([needed], [BOARD], RULES, steps=50_000)
    both = nest([needed, brace], [BOARD], RULES, steps=50_000)
    assert len(both.sheets) == len(alone.sheets)
    assert both.used_length_mm <= alone.used_length_mm + 1e-6
    assert sum(p.piece_id == "brace" for p in both.placements) > 10
    assert all("filler" in u.reason for u in both.unplaced)
    assert check_layout([needed, brace], [BOARD], RULES, both) == []


def test_a_group_shares_a_sheet_when_that_costs_nothing() -> None:
    pieces = [
        NestPiece(f"{group}{k}", box(0, 0, 470, 270), group=group)
        for k in range(2)
        for group in ("door", "shelf", "back", "side")
    ]
    layout = nest(pieces, [BOARD], RULES, steps=50_000)
    assert len(layout.sheets) == 2
    for group in ("door", "shelf", "back", "side"):
        sheets = {p.sheet_copy for p in layout.placements if p.piece_id.startswith(group)}
        assert len(sheets) == 1


def test_locked_pieces_come_back_exactly_and_others_keep_clear() -> None:
    pieces = [NestPiece("hook", L_SHAPE, 5, (0, 180)), NestPiece("bar", box(0, 0, 300, 50), 4)]
    lock = Placement("hook", 2, "board", 1, 533.25, 411.5, 180, False)
    layout = nest(pieces, [BOARD], RULES, steps=60_000, locked=[lock])
    assert by_key(layout)["hook", 2] == lock
    assert check_layout(pieces, [BOARD], RULES, layout) == []
    again = nest(pieces, [BOARD], RULES, steps=60_000, start=layout, locked=[("bar", 1)])
    assert by_key(again)["bar", 1] == by_key(layout)["bar", 1]


def test_locked_pieces_that_overlap_are_refused_with_a_reason() -> None:
    pieces = [NestPiece("bar", box(0, 0, 300, 50), 2)]
    locks = [Placement("bar", k, "board", 1, 100, 100, 0, False) for k in (1, 2)]
    with pytest.raises(InvalidRequestError, match=r"Locked pieces break a rule.*overlap"):
        nest(pieces, [BOARD], RULES, locked=locks)


def test_a_lock_without_a_place_is_refused() -> None:
    with pytest.raises(InvalidRequestError, match="has no place"):
        nest([NestPiece("bar", box(0, 0, 300, 50))], [BOARD], RULES, locked=[("bar", 1)])


def test_hand_edits_that_overlap_are_mended_and_the_rest_goes_on() -> None:
    pieces = [NestPiece("bar", box(0, 0, 300, 50), 4)]
    layout = nest(pieces, [BOARD], RULES, steps=10_000)
    moved = layout.placements[0]._replace(x_mm=layout.placements[1].x_mm + 5)
    edited = Layout((moved, *layout.placements[1:]))
    again = nest(pieces, [BOARD], RULES, steps=10_000, start=edited)
    assert again.unplaced == ()
    assert check_layout(pieces, [BOARD], RULES, again) == []


def test_place_rest_moves_nothing_that_lies_there() -> None:
    pieces = [NestPiece("hook", L_SHAPE, 6), NestPiece("bar", box(0, 0, 300, 50), 6)]
    few = Layout((Placement("hook", 1, "board", 1, 400.125, 200.0, 0, False),))
    layout = place_rest(pieces, [BOARD], RULES, few, steps=30_000)
    assert by_key(layout)["hook", 1] == few.placements[0]
    assert len(layout.placements) == 12
    assert check_layout(pieces, [BOARD], RULES, layout) == []


def test_the_same_seed_and_steps_give_the_same_layout() -> None:
    pieces = [
        NestPiece("hook", L_SHAPE, 7, (0, 90, 180, 270)),
        NestPiece("d", Point(0, 0).buffer(70), 5),
    ]
    one = nest(pieces, [BOARD], RULES, steps=250_000, seed=3)
    two = nest(pieces, [BOARD], RULES, steps=250_000, seed=3)
    assert one == two
    assert one.steps >= 200_000


def test_more_steps_never_make_it_worse_and_start_is_never_lost() -> None:
    pieces = [NestPiece("hook", L_SHAPE, 9, (0, 90, 180, 270))]
    first = nest(pieces, [BOARD], RULES, steps=0)
    better = nest(pieces, [BOARD], RULES, steps=300_000, start=first)
    assert better.used_length_mm <= first.used_length_mm + 1e-9
    assert len(better.sheets) <= len(first.sheets)


def test_it_stops_soon_after_it_is_told() -> None:
    pieces = [NestPiece("hook", L_SHAPE, 30, (0, 90, 180, 270))]
    nest(pieces, [BOARD], RULES, steps=1000)  # compiled and loaded
    asked = threading.Event()
    told: list[float] = []

    def stop() -> bool:
        if asked.is_set() and not told:
            told.append(time.monotonic())
        return asked.is_set()

    timer = threading.Timer(0.5, asked.set)
    timer.start()
    layout = nest(pieces, [BOARD], RULES, steps=10**12, stop=stop)
    timer.cancel()
    assert told, "the engine never asked"
    assert check_layout(pieces, [BOARD], RULES, layout) == []


def test_progress_goes_from_nothing_to_done_with_layouts_that_hold() -> None:
    pieces = [NestPiece("hook", L_SHAPE, 12, (0, 90, 180, 270))]
    seen: list[tuple[float, Layout | None, str]] = []
    nest(
        pieces, [BOARD], RULES, steps=400_000,
        progress=lambda part, layout, message: seen.append((part, layout, message)),
    )  # fmt: skip
    assert seen[0][1] is not None and seen[-1][0] == 1.0
    for _, layout, message in seen:
        assert message
        assert layout is None or check_layout(pieces, [BOARD], RULES, layout) == []


def test_nothing_to_place_gives_an_empty_layout() -> None:
    assert nest([], [BOARD], RULES).placements == ()
    assert nest([NestPiece("a", L_SHAPE, 0)], [BOARD], RULES) == nest([], [BOARD], RULES)
    left = nest([NestPiece("a", L_SHAPE)], [], RULES)
    assert left.unplaced[0].reason == "There is no sheet"


@pytest.mark.parametrize(
    ("pieces", "sheets", "rules", "words"),
    [
        ([NestPiece("a", L_SHAPE), NestPiece("a", L_SHAPE)], [BOARD], RULES, "Two pieces"),
        ([], [BOARD, BOARD], RULES, "Two sheets"),
        ([], [BOARD], NestRules(-1, 0), "spacing is -1 mm"),
        ([], [BOARD], NestRules(0, float("nan")), "edge margin is nan"),
        ([NestPiece("a", L_SHAPE, -1)], [BOARD], RULES, "quantity is -1"),
        ([NestPiece("a", L_SHAPE, 1, ())], [BOARD], RULES, "No turn is allowed"),
        ([], [NestSheet("s", Polygon())], RULES, "no area"),
        ([], [NestSheet("s", box(0, 0, 1, 1), cost=-2)], RULES, "cost is -2"),
    ],
)
def test_requests_that_contradict_themselves_are_refused(
    pieces: list[NestPiece], sheets: list[NestSheet], rules: NestRules, words: str
) -> None:
    with pytest.raises(InvalidRequestError, match=words):
        nest(pieces, sheets, rules)


def test_mirrored_pieces_lie_as_placed_polygon_says() -> None:
    chiral = Polygon([(0, 0), (500, 0), (500, 60), (60, 60), (60, 250), (0, 250)])
    pieces = [NestPiece("j", chiral, 4, (0,), may_mirror=True)]
    sheet = NestSheet("board", box(0, 0, 600, 580), 1)
    layout = nest(pieces, [sheet], RULES, steps=400_000)
    assert check_layout(pieces, [sheet], RULES, layout) == []
    for placement in layout.placements:
        lying = placed_polygon(chiral, placement)
        assert box(10, 10, 590, 570).buffer(1e-3).covers(lying)


def test_pieces_too_large_to_share_a_sheet_count_a_sheet_each() -> None:
    # By area 3 × 0.6 + 6 × 0.1 is 2.4 sheets; three large pieces never share one.
    sheet = NestSheet("s", box(0, 0, 100, 100))
    large = NestPiece("large", box(0, 0, 60, 100), 3)
    small = NestPiece("small", box(0, 0, 10, 100), 6)
    assert least_sheets([large, small], [sheet], NestRules()) == 3
    assert least_sheets([large], [sheet], NestRules()) == 3
    assert least_sheets([replace(large, quantity=4), small], [sheet], NestRules()) == 4


def test_the_spacing_counts_in_the_bound_and_the_bound_is_never_above_a_layout() -> None:
    # 4 squares of 49.5 fill a sheet of 100 only without a spacing of 2.
    sheet, squares = NestSheet("s", box(0, 0, 100, 100)), NestPiece("q", box(0, 0, 49.5, 49.5), 4)
    assert least_sheets([squares], [sheet], NestRules()) == 1
    assert least_sheets([squares], [sheet], NestRules(spacing_mm=6.0)) == 2
    for spacing in (0.0, 1.0, 6.0):
        layout = nest([squares], [sheet], NestRules(spacing), steps=2_000)
        assert len(layout.sheets) >= least_sheets([squares], [sheet], NestRules(spacing))


@pytest.mark.parametrize("side_mm", [20.0, 20.0 + 1e-9, 20.00005])
def test_a_sheet_with_hardly_any_room_takes_no_memory_for_it(side_mm: float) -> None:
    """Beside a piece that is hardly there a sheet without room was given 10¹⁷ cells."""
    pieces = [NestPiece("speck", box(0, 0, 1e-4, 1e-4), 2)]
    sheet = NestSheet("offcut", box(0, 0, side_mm, side_mm), 1)
    layout = nest(pieces, [sheet], NestRules(8, 10), steps=100)
    assert check_layout(pieces, [sheet], NestRules(8, 10), layout) == []
    assert len(layout.placements) + len(layout.unplaced) == 2
