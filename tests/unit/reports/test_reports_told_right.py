"""Small words on paper that a maker acts on: marks, depths, letters, names, prices."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest
from shapely.geometry import box

from core.findings import Finding, Severity
from core.geometry import Ring
from core.outlines.model import Face, Feature, Role
from core.plan import Plan
from core.reports.bits import setup_jobs
from core.reports.board import Board
from core.reports.cutlist import build_cut_list
from core.reports.drawings import Layers, setup_items
from core.reports.fonts import wrap
from core.reports.picture import Text
from core.reports.sawing import offcut_letters, saw_list_of
from core.reports.setup_page import depth_words
from core.reports.spreadsheets import buying_csv
from core.reports.words import Words
from core.shop import Limits
from tests.unit.reports.pdf_reading import pages_of
from tests.unit.reports.report_plans import every_plan

PLANS = every_plan()


def _lifting(plan: Plan, lift_kg: float) -> Plan:
    shop = replace(plan.project.shop, limits=Limits(lift_kg=lift_kg))
    return replace(plan, project=replace(plan.project, shop=shop))


# --- buying -------------------------------------------------------------------------------


def test_a_board_too_heavy_to_lift_is_marked_where_it_is_bought() -> None:
    plan = PLANS["split"]
    (line,) = plan.purchase
    one = line.mass_kg / line.quantity
    assert line.quantity > 1
    marked = f"{Words().mass(line.mass_kg)} !"
    # What all of them weigh together does not matter: they are lifted one by one.
    for lift, said in ((one - 0.5, True), (one + 0.5, False)):
        words = pages_of(_lifting(plan, lift))[0].words
        assert (f"\n{marked}\n" in words) == said
        assert f"\n{Words().mass(line.mass_kg)}" in words


def test_the_buying_table_gives_the_price_of_one_sheet() -> None:
    plan = PLANS["big"]
    (line,) = plan.purchase
    unpriced = replace(line, cost=None)
    rows = list(csv.DictReader(io.StringIO(buying_csv(replace(plan, purchase=(line, unpriced))))))
    assert [row["cost_of_one"] for row in rows] == ["78.5", ""]


# --- engraving ----------------------------------------------------------------------------


def _engraved(depth_mm: float | None) -> Plan:
    """A ring to follow, smaller than the bit, on every shelf."""
    ring = Ring.circle(60, 40, 2.0)
    mark = Feature(Role.ENGRAVE, ring=ring, depth_mm=depth_mm, face=Face.SHOW)
    plan = PLANS["small"]
    pieces = tuple(replace(p, features=(mark,) if p.id == "shelf" else ()) for p in plan.pieces)
    return replace(plan, pieces=pieces)


def test_a_closed_engraving_is_followed_and_not_cleared_like_a_pocket() -> None:
    plan = _engraved(0.5)
    shelf = next(p for p in plan.pieces if p.id == "shelf")
    jobs = setup_jobs(plan.project.shop, [(shelf, Face.SHOW)])
    (job,) = (j for j in jobs if j.job in ("engraving", "pockets"))
    assert (job.job, job.reached) == ("engraving", True)
    assert job.length_mm == pytest.approx(2 * 3.14159265 * 2.0, rel=0.01)


@pytest.mark.parametrize(
    ("depth", "paper", "layer"),
    [(0.5, "1 engraving 0.5 mm deep", "ENGRAVE_0.5mm"),
     (None, "1 engraving, depth not said", "ENGRAVE_NODEPTH")],
)  # fmt: skip
def test_an_engraving_without_a_depth_is_never_said_to_go_through(
    depth: float | None, paper: str, layer: str
) -> None:
    cut_list = build_cut_list(_engraved(depth))
    told, layers = set(), set()
    for lines in cut_list.sheets:
        for setup in lines.setups:
            told |= {w for copy in setup.copies for w in depth_words(copy, Words())}
            layers |= {item.layer for item in setup_items(cut_list, lines, setup)}
    assert told == {paper}
    assert layer in layers and not any("THRU" in name for name in layers)
    assert Layers().name("drill", diameter_mm=8.0) == "DRILL_D8_THRU"


# --- notes in inches ----------------------------------------------------------------------


def test_what_is_bored_and_planed_is_not_rounded_to_a_fraction_in_inches() -> None:
    plan = PLANS["inch"]
    sheet = plan.sheets[0]
    notes = (
        "Tabs 8 mm wide and 3 mm thick at the marks: 2 pieces (4 tabs).",
        "Bore the two holes of 6 mm marked before anything else.",
        "Bought 20.6375 mm thick: plane it to 17.5 mm and measure it before it is cut.",
    )
    setups = (replace(sheet.setups[0], notes=notes), *sheet.setups[1:])
    told = replace(plan, sheets=(replace(sheet, setups=setups), *plan.sheets[1:]))
    page = next(p for p in pages_of(told) if p.title.startswith("Clamping 1-1"))
    words = page.words.replace("\n", " ")
    assert "Tabs 5/16″ wide" in words
    assert "holes of 0.236″" in words  # 15/64″ would be 5.95 mm, too tight for a 6 mm pin
    assert "Bought 13/16″ thick: plane it to 0.689″" in words


@pytest.mark.parametrize(
    ("unit", "depth", "said"),
    [("in", 8.8, "1 pocket 0.346″ deep"), ("in", 9.525, "1 pocket ⅜″ deep"),
     ("mm", 8.75, "1 pocket 8.75 mm deep"), ("cm", 8.75, "1 pocket 0.875 cm deep")],
)  # fmt: skip
def test_half_of_a_lap_is_told_as_deep_as_it_is_cut(unit: str, depth: float, said: str) -> None:
    line = build_cut_list(PLANS["small"]).copies[0]
    ring = Ring.rectangle(50, 40, 120, 60)
    lap = Feature(Role.POCKET, ring=ring, depth_mm=depth, face=line.face_up)
    cut = replace(line, piece=replace(line.piece, features=(lap,)))
    assert depth_words(cut, Words(unit)) == [said]


# --- offcuts, names -----------------------------------------------------------------------


def test_the_table_of_offcuts_has_a_column_of_letters_only_where_there_are_letters() -> None:
    seen = set()
    for plan in PLANS.values():
        for lines in build_cut_list(plan).sheets:
            if not any(o.keep for o in lines.sheet.offcuts):
                continue
            lettered = bool(offcut_letters(lines, saw_list_of(plan, lines)))
            seen.add(lettered)
            (page,) = (
                p for p in pages_of(plan)
                if p.title.startswith(f"Sheet {lines.sheet.number} ")
                and "Offcuts to keep" in p.words
            )  # fmt: skip
            after = page.words.split("Offcuts to keep")[1]
            assert ("\nLetter\n" in after) == lettered
    assert seen == {True, False}


@pytest.mark.parametrize(
    ("name", "message", "said"),
    [
        ("A", "A seam is shorter than a tooth", "A: A seam is shorter than a tooth"),
        ("A", "A is no longer in rack.dxf", "A is no longer in rack.dxf"),
        ("A", "A 2 needs the 3 mm bit too: a slot", "A 2 needs the 3 mm bit too: a slot"),
        ("A", "A: its slot becomes 17.6 mm", "A: its slot becomes 17.6 mm"),
        ("Side", "Sides are not alike", "Side: Sides are not alike"),
        ("Top", "Top, left: 2 corners stay round", "Top, left: 2 corners stay round"),
    ],
)
def test_a_notice_names_its_panel_also_where_the_name_is_a_common_word(
    name: str, message: str, said: str
) -> None:
    plan = PLANS["small"]
    panels = (replace(plan.panels[0], name=name), *plan.panels[1:])
    found = (Finding("told", Severity.NOTE, message, panels[0].id),)
    words = pages_of(replace(plan, panels=panels, findings=found))[0].words
    assert f"\n{said}\n" in f"{words}\n"


def test_a_number_stands_upright_where_smaller_print_allows_it() -> None:
    board = Board((0.0, 0.0, 100.0, 60.0), (0.0, 0.0, 120.0, 80.0), scale=1.0)
    assert board.name_inside(box(10, 10, 15.5, 40), "34", [])
    assert board.name_inside(box(50, 10, 54.4, 40), "35", [])  # too narrow for any that is read
    marks = [m for m in board.marks if isinstance(m, Text)]
    assert [(m.text, m.turn_deg) for m in marks] == [("34", 0.0), ("35", 90.0)]


@pytest.mark.parametrize("kept", ["48 3/16″", "⌀ 1 1/32″", "5 3/64 in"])
def test_a_fraction_stays_with_its_whole_number(kept: str) -> None:
    for width in range(8, 60):
        lines = wrap(f"Before the glue sets measure {kept} across", float(width), 9.0)
        assert any(kept in line for line in lines) or width < 25
