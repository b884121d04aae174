"""Which bit of the shop cuts what of a piece, in the plan and its findings."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.findings import Severity
from core.geometry import Motion, Region, Ring
from core.joints.bits import CutDeep, bit_findings, bit_size, piece_access
from core.outlines.model import Feature, Role
from core.plan import plan_json
from core.planning import check_project, cut_panels, plan_project
from core.project.model import Panel, Project, SeamLine, StyleChoice
from core.shop import Cutter, Machine, Material, Reading, Shop, Stock
from core.splitting import split_panel

SIX, FOUR, TWO = Cutter(6.0), Cutter(4.0), Cutter(2.0)


def plate(*holes: Ring) -> Region:
    return Region.of(Ring.rectangle(0, 0, 300, 200), holes)


SLOT_4_5 = Ring.rectangle(50, 50, 100, 4.5)
SLOT_3 = Ring.rectangle(50, 100, 100, 3.0)


def project(region: Region, *cutters: Cutter, features: tuple[Feature, ...] = ()) -> Project:
    birch = Material("Birch", 12.0, (Reading(11.8),))
    machine = Machine(travel_mm=(900, 600), cutters=cutters)
    shop = Shop(machine, (birch,), (Stock("s1", "Birch", 1250, 1250),))
    panel = Panel("P1", "Tray", region, features, material="Birch")
    return Project("Bits", panels=(panel,), shop=shop)


def test_each_place_gets_the_thickest_bit_that_enters_it() -> None:
    access = piece_access(plate(SLOT_4_5, SLOT_3), (), (SIX, TWO, FOUR), thickness_mm=12)
    by_bit = {need.cutter: need for need in access.needs}
    assert next(iter(by_bit)) is SIX
    assert by_bit[SIX].spots == ()
    assert [round(s.largest_bit_mm or 0, 1) for s in by_bit[FOUR].spots] == [4.5]
    assert [round(s.largest_bit_mm or 0, 1) for s in by_bit[TWO].spots] == [3.0]
    assert not access.closed


def test_a_place_no_bit_enters_stops_with_place_area_and_the_bit_that_would_do() -> None:
    access = piece_access(plate(SLOT_3), (), (SIX, FOUR), thickness_mm=12)
    (spot,) = access.closed
    assert spot.area_mm2 == pytest.approx(300.0, rel=0.02)
    (finding,) = bit_findings(access, panel="P1", name="Tray")
    assert finding.code == "slot-narrower-than-bit"
    assert finding.severity is Severity.STOP
    assert "3 mm wide" in finding.message
    assert "300" in finding.message or "299" in finding.message
    assert finding.at is not None
    assert 50 <= finding.at[0] <= 150
    assert 100 <= finding.at[1] <= 103
    assert "3 mm or less" in finding.remedy


def test_a_pocket_is_cleared_by_the_thickest_bit_that_gets_in_everywhere() -> None:
    pocket = CutDeep(Region(Ring.rectangle(20, 20, 60, 5.0)), 4.0)
    access = piece_access(plate(), [pocket], (SIX, TWO, FOUR), thickness_mm=12)
    assert [need.cutter for need in access.needs] == [SIX, FOUR]
    assert access.needs[1].depth_mm == 4.0
    assert len(access.corners) == 4
    none = piece_access(plate(), [pocket], (SIX,), thickness_mm=12)
    assert none.closed[0].largest_bit_mm == pytest.approx(5.0, abs=0.02)


def test_a_bit_shorter_than_the_board_stops_and_a_longer_one_is_taken_first() -> None:
    stub, long = Cutter(4.0, cutting_length_mm=8.0), Cutter(3.0, cutting_length_mm=15.0)
    access = piece_access(plate(SLOT_4_5), (), (SIX, stub, long), thickness_mm=12)
    assert [need.cutter for need in access.needs] == [SIX, long]
    alone = piece_access(plate(SLOT_4_5), (), (SIX, stub), thickness_mm=12)
    codes = [f.code for f in bit_findings(alone, panel="P1", name="Tray")]
    assert codes == ["bit-too-short", "needs-further-bit"]
    short_main = piece_access(plate(), (), (Cutter(6.0, cutting_length_mm=11.0),), thickness_mm=12)
    (finding,) = bit_findings(short_main, panel="P1", name="Tray")
    assert "cuts 11 mm deep, Tray asks for 12 mm" in finding.message


def test_a_pocket_asks_only_for_its_own_depth() -> None:
    shallow = Cutter(4.0, cutting_length_mm=6.0)
    pocket = CutDeep(Region(Ring.rectangle(20, 20, 60, 5.0)), 4.0)
    access = piece_access(plate(), [pocket], (SIX, shallow), thickness_mm=12)
    codes = [f.code for f in bit_findings(access, panel="P1", name="Tray")]
    assert "bit-too-short" not in codes


def test_bits_that_would_do_are_rounded_down() -> None:
    assert bit_size(5.999, "mm") == "5.99 mm"
    assert bit_size(6.5, "in") == "1/4 in"


def test_check_tells_what_the_bits_leave_and_plan_says_which_piece_needs_which() -> None:
    lone = project(plate(SLOT_4_5), SIX)
    stops = [f for f in check_project(lone) if f.severity is Severity.STOP]
    assert [f.code for f in stops] == ["slot-narrower-than-bit"]
    both = project(plate(SLOT_4_5, Ring.circle(200, 100, 2.0)), SIX, FOUR)
    plan = plan_project(both, steps=1)
    codes = {f.code for f in plan.findings}
    assert {"needs-further-bit", "hole-becomes-drill"} <= codes
    assert "slot-narrower-than-bit" not in codes
    (piece,) = plan_json(plan)["pieces"]
    assert [bit["diameter"] for bit in piece["bits"]] == [6.0, 4.0]
    assert piece["bits"][1]["places"][0]["area"] == pytest.approx(450, rel=0.02)
    # The thin round hole left the cut outline and became a drill centre.
    assert len(piece["cut"]["holes"]) == 1
    (drill,) = piece["cut"]["features"]
    assert drill["kind"] == "drill"
    assert drill["diameter"] == pytest.approx(4.0, abs=0.01)


def test_pockets_of_the_drawing_count_too() -> None:
    groove = Feature(Role.POCKET, Ring.rectangle(20, 20, 60, 4.5), depth_mm=5.0)
    codes = [f.code for f in check_project(project(plate(), SIX, features=(groove,)))]
    assert "slot-narrower-than-bit" in codes


def test_pieces_for_the_saw_ask_for_no_bit() -> None:
    from core.project.model import CutBy

    base = project(plate(), SIX)
    sawn = replace(base, panels=(replace(base.panels[0], by=CutBy.SAW),))
    (piece,) = cut_panels(sawn).pieces
    assert piece.access is None


def test_a_clamping_lists_the_thinner_bit_and_what_no_bit_reaches() -> None:
    from core.outlines.model import Face
    from core.reports.bits import setup_jobs

    both = project(plate(SLOT_4_5), SIX, FOUR)
    (piece,) = cut_panels(both).pieces
    jobs = {(j.job, j.diameter_mm): j for j in setup_jobs(both.shop, [(piece, Face.SHOW)])}
    narrow = jobs["narrow places", 4.0]
    assert narrow.reached
    assert all(job.reached for job in jobs.values()), "the thinner bit reaches it"
    # Once round a 100 × 4.5 mm slot with a 4 mm bit, its centre stays 2 mm off the walls.
    assert narrow.length_mm == pytest.approx(2 * (100 - 4 + 0.5), rel=0.03)
    lone = project(plate(SLOT_4_5), SIX)
    (piece,) = cut_panels(lone).pieces
    assert any(not j.reached for j in setup_jobs(lone.shop, [(piece, Face.SHOW)]))


def test_the_cut_list_and_the_table_of_pieces_name_bits_and_what_stays() -> None:
    from core.reports.setup_page import bit_minds
    from core.reports.spreadsheets import pieces_csv
    from core.reports.words import Words

    both = project(plate(SLOT_4_5, SLOT_3, Ring.rectangle(200, 120, 30, 20)), SIX, FOUR)
    plan = plan_project(both, steps=1)
    minds = bit_minds(plan.pieces[0], Words())
    assert minds[0].startswith("bit ") and minds[0].endswith("too, 1 place")
    assert "no bit reaches" in minds[1] and "3" in minds[1]
    assert minds[2].startswith("4 corners left round")
    head, row, *_ = pieces_csv(plan).split("\r\n")
    cells = dict(zip(head.split(","), row.split(","), strict=True))
    assert cells["bits_mm"] == "6 4"
    assert float(cells["unreached_mm2"]) == pytest.approx(300 + 4 * 9 * 0.2146, rel=0.02)
    assert float(cells["largest_bit_mm"]) == pytest.approx(3.0, abs=0.02)


def test_corners_the_maker_agrees_to_are_not_told_again() -> None:
    square = project(plate(Ring.rectangle(200, 120, 30, 20)), SIX)
    assert [f.code for f in check_project(square)] == ["corner-stays-round"]
    agreed = replace(square, panels=(replace(square.panels[0], round_corners=True),))
    assert check_project(agreed) == ()
    # Said of corners only: what no bit enters still stops.
    narrow = project(plate(SLOT_3), SIX)
    narrow = replace(narrow, panels=(replace(narrow.panels[0], round_corners=True),))
    assert [f.code for f in check_project(narrow)] == ["slot-narrower-than-bit"]


def test_a_pocket_that_runs_out_past_the_edge_asks_no_thin_bit_for_the_air_there() -> None:
    # A rebate along one end, run out 4 mm past the board on three sides, with narrow wings.
    board = Region.of(Ring.rectangle(0, 0, 200, 100))
    rebate = Ring.of(
        [(150, -4, 0), (146, -4, 0), (146, 0, 0), (150, 0, 0), (150, 100, 0), (146, 100, 0),
         (146, 104, 0), (204, 104, 0), (204, -4, 0)][::-1]
    )  # fmt: skip
    access = piece_access(
        board, [CutDeep(Region.of(rebate), 9.0)], [Cutter(6.0)], thickness_mm=18.0
    )
    assert access.closed == ()
    # The same narrow place inside the board still stops.
    inside = Region.of(Ring.rectangle(0, 0, 400, 300).moved(Motion(-100.0, -100.0)))
    access = piece_access(
        inside, [CutDeep(Region.of(rebate), 9.0)], [Cutter(6.0)], thickness_mm=18.0
    )
    assert len(access.closed) == 2


def test_a_half_lap_of_two_boards_can_be_cut_with_the_usual_bit() -> None:
    panel = Panel("P1", "shelf", Region.of(Ring.rectangle(0, 0, 900, 300)))
    line = SeamLine(((450, -20), (450, 320)), StyleChoice("half-lap"))
    split = split_panel(panel, (line,), cutter=Cutter(6.0), thickness_mm=18.0, fit_mm=0.15)
    for piece in split.pieces:
        deep = [CutDeep(Region.of(p.ring), p.depth_mm) for p in piece.cut.pockets]
        assert deep
        access = piece_access(piece.cut.region, deep, [Cutter(6.0)], thickness_mm=18.0)
        assert access.closed == ()
