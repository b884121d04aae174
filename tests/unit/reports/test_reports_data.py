"""The cut list as data: order, faces, saw cuts in words, and what each bit does."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from core.geometry import Motion, Region, Ring
from core.outlines.model import Face, Feature, Role
from core.plan import PlanBlank, PlanPlacement, PlanSawCut, PlanSetup
from core.project.model import CutBy
from core.reports.bits import inside_path_mm, outside_path_mm, pocket_path_mm, setup_jobs
from core.reports.board import pick_scale, spread
from core.reports.cutlist import build_cut_list, face_up
from core.reports.fonts import MISSING, printable, shorten, text_width_mm, wrap
from core.reports.seam_map import diagonals
from core.reports.words import Words, degrees, listed, percent
from core.shop import Cutter, Machine, Shop
from tests.unit.reports.report_parts import SHEET, piece, plan_of, rect_region, rounded, shop
from tests.unit.reports.report_plans import every_plan

PLANS = every_plan()


@pytest.mark.parametrize("name", PLANS)
def test_numbers_run_through_the_plan_without_a_gap(name: str) -> None:
    copies = build_cut_list(PLANS[name]).copies
    assert [c.number for c in copies] == list(range(1, len(copies) + 1))


def test_clampings_come_in_order_and_pieces_in_holes_before_their_holder() -> None:
    copies = build_cut_list(PLANS["small"]).copies
    setups = [c.setup for c in copies]
    assert setups == sorted(setups)
    disc = next(c for c in copies if c.piece.id == "disc")
    ring = next(c for c in copies if c.piece.id == "ring")
    assert disc.number < ring.number and disc.inside == ring.number


def test_holes_within_holes_are_cut_from_the_innermost_outwards() -> None:
    outer = piece("o", "Outer", rect_region(500, 500, hole=220))
    middle = piece("m", "Middle", Region.of(Ring.circle(0, 0, 200), [Ring.circle(0, 0, 120)]))
    inner = piece("i", "Inner", Region.of(Ring.circle(0, 0, 90)))
    plan = plan_of("Rings", [(outer, 1)], SHEET)
    sheet = plan.sheets[0]
    blank = sheet.placements[0].blank
    spot = Motion(260.0, 260.0)
    more = (PlanPlacement("m", 1, spot, blank), PlanPlacement("i", 1, spot, blank))
    plan = replace(
        plan,
        pieces=(outer, middle, inner),
        sheets=(replace(sheet, placements=(*sheet.placements, *more)),),
    )
    assert [c.piece.id for c in build_cut_list(plan).copies] == ["i", "m", "o"]


def test_a_piece_belongs_to_the_stretch_of_a_long_sheet_that_holds_it() -> None:
    one = piece("p", "Part", rect_region(300, 200))
    plan = plan_of("Fed through", [(one, 6)], SHEET)
    sheet = plan.sheets[0]
    blank = sheet.blanks[0].id
    setups = (
        PlanSetup("a", blank, 0, 0, 1220, 1220),
        PlanSetup("b", blank, 1220, 0, 1220, 1220),
    )
    plan = replace(plan, sheets=(replace(sheet, setups=setups),))
    lines = build_cut_list(plan).sheets[0]
    held = [[c.x_mm for c in s.copies] for s in lines.setups]
    assert sum(map(len, held)) == 6
    assert all(x + 150 < 1220 for x in held[0]) and all(x + 150 > 1220 for x in held[1])


def test_saw_cuts_are_told_by_both_sides_of_the_kerf_and_what_they_free() -> None:
    saw = build_cut_list(PLANS["small"]).sheets[0].saw
    assert [line.order for line in saw] == [1, 2, 3]
    first, second, _ = saw
    assert first.across and (first.near_mm, first.far_mm) == (1218.5, 1221.5)
    assert (first.from_mm, first.to_mm, first.frees) == (0.0, 1220.0, "")
    assert second.across is False
    assert second.frees == "blank A, blank B" and second.fence_mm == pytest.approx(608.5)
    assert not second.flagged  # 1218.5 along a fence at 608.5


def test_a_saw_part_is_freed_by_the_cut_that_finishes_it() -> None:
    saw = build_cut_list(PLANS["saw"]).sheets[0].saw
    assert [line.frees for line in saw[:5]] == [
        "",
        "1 Drawer side",
        "2 Drawer side",
        "3 Drawer side",
        "4 Drawer side",
    ]
    assert sum(bool(line.frees) for line in saw) == 25  # 24 parts and the offcut
    assert saw[25].frees == "offcut to keep"
    assert saw[1].fence_mm == pytest.approx(600.0) and saw[1].flagged  # 120 long, 600 wide


def test_a_cut_shorter_along_the_fence_than_across_is_flagged() -> None:
    plan = PLANS["small"]
    sheet = plan.sheets[0]
    tall = PlanBlank("t", "T", 0, 0, 900, 300)
    cut = PlanSawCut(1, 901.5, 0, 901.5, 300, "t")
    plan = replace(
        plan,
        sheets=(replace(sheet, blanks=(tall,), saw_cuts=(cut,), setups=(), placements=()),),
    )
    line = build_cut_list(plan).sheets[0].saw[0]
    assert line.fence_mm == 900 and line.length_mm == 300 and line.flagged


def test_a_mirrored_piece_lies_with_its_other_face_up() -> None:
    one = piece("p", "P", rect_region(10, 10))
    back = replace(one, show_face=Face.BACK)
    assert face_up(one, mirrored=False) is Face.SHOW
    assert face_up(one, mirrored=True) is Face.BACK
    assert face_up(back, mirrored=True) is Face.SHOW
    assert all(c.other_face == 0 for c in build_cut_list(PLANS["mirrored"]).copies)
    shelf = next(c for c in build_cut_list(PLANS["small"]).copies if c.piece.id == "shelf")
    assert shelf.other_face == 1


# --- bits ---------------------------------------------------------------------------------


def test_the_way_round_a_rectangle_is_its_outline_and_a_full_turn_of_the_bit() -> None:
    ring = Ring.rectangle(0, 0, 400, 250)
    assert outside_path_mm(ring, 3.0) == pytest.approx(2 * 650 + 2 * math.pi * 3, rel=1e-4)
    assert inside_path_mm(ring, 3.0) == pytest.approx(2 * (394 + 244), rel=1e-9)


def test_the_way_round_a_circle_is_that_of_the_offset_circle() -> None:
    ring = Ring.circle(0, 0, 100)
    assert outside_path_mm(ring, 3.0) == pytest.approx(2 * math.pi * 103, rel=1e-3)
    assert inside_path_mm(ring, 3.0) == pytest.approx(2 * math.pi * 97, rel=1e-3)


def test_a_pocket_takes_its_wall_and_then_rows_half_a_bit_apart() -> None:
    ring = Ring.rectangle(0, 0, 106, 56)
    # Wall: round 100 × 50. Inside it 94 × 44 mm is left, in rows 3 mm apart.
    assert pocket_path_mm(ring, 6.0) == pytest.approx(300 + 94 * 44 / 3.0, rel=1e-9)


def test_an_island_takes_its_own_wall_and_leaves_less_to_clear() -> None:
    ring, island = Ring.rectangle(0, 0, 106, 56), Ring.rectangle(43, 18, 20, 20)
    # Walls: 300 outside, 80 and a full turn of the bit round the island.
    walls = 300 + 80 + 2 * math.pi * 3
    left = 94 * 44 - (20 * 20 + 4 * 20 * 6 + math.pi * 36)
    got = pocket_path_mm(ring, 6.0, [island])
    assert got == pytest.approx(walls + left / 3.0, rel=1e-3)


def test_a_groove_as_wide_as_the_bit_is_one_pass_and_a_narrower_one_none() -> None:
    assert pocket_path_mm(Ring.rectangle(0, 0, 206, 6), 6.0) == pytest.approx(200, abs=0.1)
    assert pocket_path_mm(Ring.rectangle(0, 0, 206, 5.9), 6.0) == 0.0


def test_jobs_go_from_pockets_to_outlines_with_the_largest_bit_that_enters() -> None:
    one = piece(
        "p",
        "P",
        rect_region(300, 200, hole=40),
        features=(
            Feature(Role.POCKET, ring=Ring.rectangle(10, 10, 30, 20), depth_mm=5),
            Feature(Role.POCKET, ring=Ring.rectangle(10, 60, 4, 40), depth_mm=5),
            Feature(Role.POCKET, ring=Ring.rectangle(60, 60, 1, 40), depth_mm=5),
            Feature(Role.POCKET, ring=Ring.rectangle(10, 120, 30, 20), depth_mm=5, face=Face.BACK),
            Feature(Role.DRILL, at=(250, 150), diameter_mm=5, depth_mm=10),
            Feature(Role.DRILL, at=(260, 150), diameter_mm=5, depth_mm=10),
        ),
    )
    jobs = setup_jobs(shop(), [(one, Face.SHOW)])
    assert [j.job for j in jobs] == [
        "pockets",
        "pockets",
        "pockets",
        "drilling",
        "cut-outs",
        "outlines",
    ]
    by_size = {(j.job, j.diameter_mm, j.reached): j for j in jobs}
    assert by_size[("pockets", 6.0, True)].entries == 1
    assert by_size[("pockets", 3.0, True)].entries == 1
    assert by_size[("pockets", 6.0, False)].entries == 1  # 1 mm wide: no bit enters
    assert by_size[("drilling", 5.0, True)].entries == 2
    turned = setup_jobs(shop(), [(one, Face.BACK)])
    assert sum(j.entries for j in turned if j.job == "pockets") == 1


def test_saw_parts_need_no_bit() -> None:
    part = piece("s", "S", rect_region(300, 200), by=CutBy.SAW)
    assert setup_jobs(Shop(machine=Machine(cutters=(Cutter(6.0),))), [(part, Face.SHOW)]) == ()


# --- words --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("unit", "length_mm", "want"),
    [
        ("mm", 600.0, "600"),
        ("mm", 608.5, "608.5"),
        ("mm", 811.3333, "811.3"),
        ("mm", -3.0, "−3"),
        ("mm", 1e-9, "0"),
        ("cm", 60.84, "6.08"),
        ("m", 1220.0, "1.22"),
        ("in", 25.4 * 47.5, "47½″"),
        ("in", 25.4 * 0.375, "⅜″"),
        ("in", 25.4 * (2 + 23 / 32), "2 23/32″"),
        ("in", 25.4 * (11 + 1 / 2), "11½″"),
        ("in", 0.0, "0″"),
        ("ft", 304.8, "12″"),
        ("thou", 25.4, "1000"),
    ],
)
def test_lengths_are_written_as_the_trade_writes_them(
    unit: str, length_mm: float, want: str
) -> None:
    assert Words(unit).length(length_mm) == want


def test_other_words() -> None:
    assert percent(0.9999) == "99 %" and percent(1.0) == "100 %" and percent(0.0) == "0 %"
    assert Words().money(None) == "–" and Words().money(12.5) == "12.50"
    assert Words("mm", "€").money(12.5) == "12.50\u00a0€"
    assert degrees(-90.0) == "270°" and degrees(360.0) == "0°" and degrees(12.34) == "12.3°"
    assert listed([9, 1, 2, 3, 5, 6]) == "1–3, 5, 6, 9"
    assert Words("in").mass(45.359237) == "100 lb" and Words().mass(36.703) == "36.7 kg"
    assert Words().diameter(6.0) == "⌀ 6 mm" and Words("in").diameter(6.35) == "⌀ ¼″"
    assert Words("in").diameter(6.0) == "⌀ 6 mm"


def test_signs_the_font_lacks_become_a_box_and_names_stay_on_one_line() -> None:
    assert printable("a\n b\t c") == "a b c"
    assert printable("棚 x") == f"{MISSING} x"
    assert printable("½ ″ ′ ⌀ × – ▲ ● ■ ▼ ↔ ↕") == "½ ″ ′ ⌀ × – ▲ ● ■ ▼ ↔ ↕"


def test_wrapped_and_shortened_lines_keep_to_their_width() -> None:
    words = "Upper left-hand panel " + "x" * 90
    for line in wrap(words, 30.0, 9.0):
        assert text_width_mm(line, 9.0) <= 30.0
    assert "".join(wrap(words, 30.0, 9.0)).replace(" ", "") == words.replace(" ", "")
    short = shorten(words, 30.0, 9.0)
    assert short.endswith("…") and text_width_mm(short, 9.0) <= 30.0
    assert shorten("fits", 30.0, 9.0) == "fits"
    assert wrap(words, 30.0, 9.0, most_lines=2)[-1].endswith("…")


# --- drawing helpers ----------------------------------------------------------------------


def test_places_are_moved_apart_no_further_than_needed() -> None:
    assert spread([0.0, 10.0, 20.0], 3.0, 0.0, 30.0) == [0.0, 10.0, 20.0]
    assert spread([10.0, 10.0], 4.0, 0.0, 30.0) == [8.0, 12.0]
    assert spread([0.0, 0.0], 4.0, 0.0, 30.0) == [0.0, 4.0]
    assert spread([1.0, 1.0, 1.0], 10.0, 0.0, 15.0) is None


def test_the_scale_is_the_largest_that_fits() -> None:
    assert pick_scale(2440, 1220, 244.0, 150.0) == 10.0
    assert pick_scale(2440, 1220, 243.9, 150.0) == 11.0
    assert pick_scale(50, 50, 100.0, 100.0) == 1.0


def test_diagonals_are_those_of_the_drawn_corners() -> None:
    found = diagonals(rect_region(300, 400))
    assert found is not None
    assert found.first_mm == found.second_mm == 500.0
    # A rounded corner is measured at the middle of its arc: r(1 − 1/√2) in from both sides.
    soft = diagonals(rounded(300, 400, 50))
    assert soft is not None
    cut = 50 * (1 - math.sqrt(0.5))
    want = math.hypot(300 - 2 * cut, 400 - 2 * cut)
    assert soft.first_mm == pytest.approx(want, abs=0.02)
    assert soft.second_mm == pytest.approx(want, abs=0.02)
    assert diagonals(Region.of(Ring.of([(0, 0), (300, 0), (0, 1)]))) is None


def test_diagonals_end_at_corners_that_a_tape_finds_though_a_swept_edge_is_nearer() -> None:
    # the upper edge rises in an arc from (0, 700) and falls to the corner (1700, 720)
    outline = Region.of(
        Ring.of([(0, 0), (1700, 0), (1700, 720), (1500, 770, 0.15), (200, 770), (0, 700)])
    )
    found = diagonals(outline)
    assert found is not None
    assert found.first == ((0.0, 0.0), (1700.0, 720.0))
    # a notch beside a rounded corner is not taken for the corner
    notched = Region.of(
        Ring.of([
            (0, 0), (400, 0), (400, 250, math.tan(math.pi / 8)), (350, 300), (320, 300),
            (320, 280), (300, 280), (300, 300), (0, 300),
        ])
    )  # fmt: skip
    second = diagonals(notched)
    assert second is not None
    assert second.first[1] == pytest.approx(
        (350 + 50 / math.sqrt(2), 250 + 50 / math.sqrt(2)), abs=0.1
    )
