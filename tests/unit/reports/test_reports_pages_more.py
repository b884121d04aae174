"""Saw lists, clampings, the other face and seam maps as the hand at the machine reads them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.bed import MILLED
from core.findings import Finding, Severity
from core.geometry import Ring
from core.outlines.model import Face, Feature, Role
from core.plan import Plan, PlanHold, PlanOffcut, rectangle_points
from core.project.model import Project
from core.project.saying import in_project_unit
from core.reports.cutlist import build_cut_list
from core.reports.holding import held_words
from core.reports.pages import cut_list_pages
from core.reports.picture import Text
from core.reports.sawing import offcut_letters, saw_list_of, sides
from core.reports.words import Words
from core.shop import SawKind
from tests.unit.reports.pdf_reading import pages_of, sheet_pages
from tests.unit.reports.report_plans import every_plan

PLANS = every_plan()


def _with_saw(plan: Plan, saw: SawKind) -> Plan:
    shop = plan.project.shop
    shop = replace(shop, rules=replace(shop.rules, saw=saw, kerf_mm=3.0))
    return replace(plan, project=replace(plan.project, shop=shop))


# --- the saw ------------------------------------------------------------------------------


@pytest.mark.parametrize("saw", list(SawKind))
def test_what_lies_up_to_the_mark_is_as_wide_as_what_was_measured(saw: SawKind) -> None:
    plan = _with_saw(PLANS["saw"], saw)
    (lines,) = build_cut_list(plan).sheets
    found = saw_list_of(plan, lines)
    assert found is not None
    for step in found.steps:
        near, beyond = sides(step)
        assert near is not None
        upright = step.edge in ("left", "right")
        wide = near.rect.width_mm if upright else near.rect.height_mm
        kerf = 0.0 if step.waste_side != step.edge else 3.0
        assert wide + kerf == pytest.approx(step.measure_mm)
        assert beyond is None or beyond != near


def test_the_fence_is_set_as_often_as_the_list_marks_it() -> None:
    plan = _with_saw(PLANS["saw"], SawKind.BENCH)
    words = [t.words for page in sheet_pages(pages_of(plan), 1) for t in page.texts]
    stars = sum(w.endswith(" *") for w in words)
    assert stars > 2
    assert f"Saw cuts in this order, {stars} fence settings" in words


def test_an_offcut_has_the_same_letter_in_the_saw_list_the_diagram_and_its_table() -> None:
    plan = _with_saw(PLANS["saw"], SawKind.RAIL)
    (lines,) = build_cut_list(plan).sheets
    (letter,) = offcut_letters(lines, saw_list_of(plan, lines)).values()
    pages = sheet_pages(pages_of(plan), 1)
    words = [t.words for page in pages for t in page.texts]
    assert f"offcut {letter}, 2440 × 482" in words  # the diagram
    assert f"offcut {letter}" in words  # the saw list
    assert words.index(letter, words.index("Offcuts to keep")) > 0


def test_what_the_plan_does_not_keep_is_scrap_in_the_saw_list() -> None:
    plan = _with_saw(PLANS["saw"], SawKind.RAIL)
    (sheet,) = plan.sheets
    gone = replace(sheet, offcuts=(PlanOffcut(rectangle_points(0.0, 738.0, 2440.0, 482.0), False),))
    plan = replace(plan, sheets=(gone,))
    (lines,) = build_cut_list(plan).sheets
    found = saw_list_of(plan, lines)
    assert found is not None and not offcut_letters(lines, found)
    kinds = {p.kind for s in found.steps for p in (s.off, s.stays) if p is not None}
    assert "offcut" not in kinds and "scrap" in kinds


def test_cautions_speak_of_the_saw_the_shop_has() -> None:
    def sawing(plan: Plan) -> str:
        page = next(p for p in pages_of(plan) if p.title == "Before you start")
        return page.words.replace("\n", " ")

    rail = sawing(_with_saw(PLANS["saw"], SawKind.RAIL))
    assert "rail" in rail and "push stick" not in rail and "marked !" not in rail
    bench = sawing(_with_saw(PLANS["saw"], SawKind.BENCH))
    assert "push stick" in bench and "marked !" in bench  # its cross cuts are short on the fence
    strips = _with_saw(PLANS["small"], SawKind.BENCH)
    assert not any(s.flagged for lines in build_cut_list(strips).sheets for s in lines.saw)
    assert "marked !" not in sawing(strips)


# --- clampings ----------------------------------------------------------------------------


def test_a_sheet_that_is_not_sawn_has_no_blank_letter() -> None:
    plan = PLANS["rack"]
    assert {c.blank for c in build_cut_list(plan).copies} == {""}
    for page in pages_of(plan):
        assert "blank" not in page.words
        assert not page.title.startswith("Sheet") or "shaped" in page.title


def test_an_origin_on_an_axis_of_the_bits_reach_names_one_distance() -> None:
    plan = PLANS["rack"]
    (sheet,) = plan.sheets
    moved = tuple(replace(s, bed_x_mm=-12.5, bed_y_mm=0.0) for s in sheet.setups)
    pages = pages_of(replace(plan, sheets=(replace(sheet, setups=moved),)))
    words = next(p for p in pages if p.title.startswith("Clamping 1-1")).words.replace("\n", " ")
    assert "12.5 mm left of the corner of the bit's reach, where the bit cannot stand" in words
    assert "0 mm" not in words.replace("850 mm", "")


def test_slugs_are_told_with_what_each_of_them_gets() -> None:
    (sheet,) = PLANS["small"].sheets
    setup = sheet.setups[0]
    one, two = ((0.0, 0.0), (1.0, 0.0)), ((2.0, 0.0), (3.0, 0.0))
    holds = (
        PlanHold("p", 1, None, "tabs", (*one, *two)),
        PlanHold("p", 1, 0, "tabs", one),
        PlanHold("p", 1, 1, "tabs", two),
        PlanHold("p", 1, 2, MILLED, ()),
    )
    told = held_words(replace(setup, holds=holds), "p", 1)
    assert told == "4 tabs; 2 slugs: 2 tabs each; 1 slug: milled away"
    skin = replace(setup, holds=(PlanHold("p", 1, 0, "skin", ()), PlanHold("p", 1, 1, "skin", ())))
    assert held_words(skin, "p", 1) == "2 slugs: a skin"


def test_a_slug_milled_away_is_cleared_and_not_just_cut_round() -> None:
    plan = PLANS["small"]
    (sheet,) = plan.sheets
    index, setup = next(
        (i, s)
        for i, s in enumerate(sheet.setups)
        if any(c.setup == i and c.piece.id == "ring" for c in build_cut_list(plan).copies)
    )
    held = replace(setup, holds=(PlanHold("ring", 1, 0, MILLED, ()),))
    setups = tuple(held if i == index else s for i, s in enumerate(sheet.setups))
    milled = replace(plan, sheets=(replace(sheet, setups=setups),))

    def length(one: Plan) -> float:
        jobs = build_cut_list(one).sheets[0].setups[index].jobs
        return sum(j.length_mm for j in jobs if j.job == "cut-outs")

    ring = next(p for p in plan.pieces if p.id == "ring")
    area = abs(ring.cut.holes[0].signed_area_mm2)
    # Rows half a 6 mm bit apart sweep the area at 3 mm² a mm.
    assert length(milled) > 0.7 * abs(area) / 3.0 > 2 * length(plan)


def test_the_depth_of_pockets_stands_in_the_order_of_cutting() -> None:
    plan = PLANS["turned"]
    words = "\n".join(p.words for p in pages_of(plan) if p.title.startswith("Clamping"))
    assert "pocket 4 mm deep" in words


def test_a_long_low_board_is_drawn_over_the_width_of_the_page() -> None:
    plan = PLANS["small"]
    (sheet,) = plan.sheets
    setup = sheet.setups[0]
    low = replace(setup, height_mm=120.0, width_mm=1000.0)
    holder = replace(sheet, placements=(), setups=(low,), saw_cuts=())
    page = next(p for p in cut_list_pages(replace(plan, sheets=(holder,))) if p.kind == "setup")
    heads = {m.text: m.y_mm for m in page.marks if isinstance(m, Text)}
    scale = next(m.y_mm for m in page.marks if isinstance(m, Text) and m.text.startswith("Scale"))
    assert page.scale_denominator is not None and page.scale_denominator <= 5
    assert heads["Clamps"] < scale  # below the drawing, not beside it


# --- the other face -----------------------------------------------------------------------


def _with_back_pocket() -> Plan:
    plan = PLANS["small"]
    pocket = Feature(
        Role.POCKET, ring=Ring.rectangle(50, 40, 120, 60), depth_mm=5.0, face=Face.BACK
    )
    hole = Feature(Role.DRILL, at=(200.0, 30.0), diameter_mm=8.0, depth_mm=9.0, face=Face.BACK)
    pieces = tuple(
        replace(p, features=(pocket, hole)) if p.id == "shelf" else p for p in plan.pieces
    )
    return replace(plan, pieces=pieces)


def test_work_left_on_the_other_face_has_a_page_with_its_places_turned_over() -> None:
    plan = _with_back_pocket()
    shelf = next(p for p in plan.pieces if p.id == "shelf")
    width = shelf.cut.size_mm[0]
    page = next(
        p for p in pages_of(plan) if p.title.startswith("Other face") and "shelf" in p.title
    )
    numbers = [c.number for c in build_cut_list(plan).copies if c.piece.id == "shelf"]
    assert page.title.startswith(f"Other face: No. {numbers[0]}") and len(numbers) > 1
    cells = [t.words for t in page.texts]
    say = Words().length
    at = cells.index("pocket")
    assert cells[at + 1 : at + 5] == ["5 mm", say(width - 50 - 120), "40", "120 × 60"]
    at = cells.index("hole")
    assert cells[at + 1 : at + 5] == ["9 mm", say(width - 200), "30", "⌀ 8 mm"]
    order = "\n".join(p.words for p in pages_of(plan) if p.title.startswith("Clamping"))
    assert "from the other face, on its own page" in order.replace("\n", " ")


def test_a_plan_with_nothing_on_the_other_face_has_no_such_page() -> None:
    assert not any(p.title.startswith("Other face") for p in pages_of(PLANS["split"]))


# --- seam map and first page --------------------------------------------------------------


def test_the_seam_map_of_a_small_panel_goes_on_one_page_with_its_gluing_order() -> None:
    pages = [p for p in pages_of(PLANS["split"]) if p.title.startswith("Seam map")]
    assert len(pages) == 1
    assert "Gluing up, in this order" in pages[0].words
    assert "Slides together in the plane." in pages[0].words
    assert "Measured between the dots." in pages[0].words


def test_the_reminders_take_one_page_and_name_their_sources() -> None:
    for name in ("split", "small", "saw"):
        pages = [p for p in pages_of(PLANS[name]) if p.title.startswith("Before you start")]
        assert len(pages) == 1
        assert pages[0].words.count("Source: ") >= 4


def test_a_notice_names_its_panel_once() -> None:
    plan = PLANS["small"]
    panel = plan.panels[0]
    found = (
        Finding("corner", Severity.NOTE, f"{panel.name} 1: 8 corners stay round", panel.id),
        Finding("corner", Severity.NOTE, "8 corners stay round", panel.id),
    )
    words = pages_of(replace(plan, findings=found))[0].words
    assert f"\n{panel.name} 1: 8 corners" in words and f"\n{panel.name}: 8 corners" in words


def test_lengths_in_the_notes_of_a_clamping_are_written_as_everywhere_on_the_page() -> None:
    inches = Words("in")
    assert [inches.about(x) for x in (8.0, 2.0, 15.0, 19.05)] == ["5/16″", "5/64″", "19/32″", "¾″"]
    assert inches.about(0.15) == "0.006″" and inches.about(8.2) == "0.323″"
    assert Words("mm").about(8.0) == "8 mm"
    note = "Tabs 8 mm wide and 2 mm thick, 900 × 600 mm, 4 in all; “8 mm” stays."
    said = in_project_unit(note, Project(units="in"), say=inches.about)
    assert said == "Tabs 5/16″ wide and 5/64″ thick, 35.433″ × 23⅝″, 4 in all; “8 mm” stays."


def test_a_board_is_called_by_the_fraction_it_is_sold_as() -> None:
    assert Words("in").exact(25.4 * 23 / 32) == "23/32″"
    assert Words("in").exact(18.0) == "0.709″"
    assert Words("mm").exact(18.0) == "18 mm"
