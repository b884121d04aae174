"""The Sheets stage driven with real mouse and key events: the layout is what they left."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QGraphicsRectItem, QMenu
from pytestqt.qtbot import QtBot
from shapely.geometry import box

from app import theme
from app.commands import SetProject
from app.stages import sheets_model as model
from app.stages.sheets_grip import glance
from core.findings import Finding, Severity
from core.geometry import Motion
from core.plan import Plan, PlanOffcut, PlanSawCut
from core.project.model import KeptLayout, Placed, Project
from tests.app import mouse
from tests.app import sheets_bench as bench
from tests.app.floor import (
    ALT,
    LEFT,
    NONE,
    RIGHT,
    SHIFT,
    A,
    B,
    Make,
    at,
    drag,
    key,
    laid,
    motion,
    select,
    spot,
    with_placed,
)


@pytest.fixture
def make(make_sheets: Make) -> Make:
    return make_sheets


# --- what is shown ------------------------------------------------------------------------
def test_sheets_pieces_and_tray_show_what_lies_where(make: Make) -> None:
    stage = make()
    assert set(stage.floor.pieces) == {A, B}
    assert ("full", 1) in stage.floor.sheets
    assert stage.tray.count() == 3
    assert stage.tray.item(0).text().startswith("Shelf\n")
    assert stage.summary.text().startswith("2 pieces on 1 sheet, 12 % used.")
    assert "Buy 1 × birch 18." in stage.summary.text()
    assert stage.status_text() == "3 to place"


def test_the_bar_under_a_sheet_gives_shares_of_the_whole_sheet(make: Make) -> None:
    stage = make()
    assert stage.floor.sheets[("full", 1)].bar.text == "pieces 12 %  ·  scrap 88 %"


def test_a_bar_never_shows_more_than_a_whole_sheet() -> None:
    from app.stages.sheets_items import BarItem

    holder = QGraphicsRectItem()
    bar = BarItem(1000.0, 20.0, holder)
    bar.set_shares(0.36, 0.68)  # a piece dropped on the offcut that is kept
    assert bar.text == "pieces 36 %  ·  offcut kept 64 %  ·  scrap 0 %"
    bar.set_shares(1.2, 0.1)  # pieces upon pieces
    assert (bar.pieces, bar.kept) == (1.0, 0.0)


def test_a_piece_turned_in_the_hand_says_where_it_is_then(make: Make) -> None:
    back = ("back", 1)
    stage = make(with_placed(Placed(*back, "mdf", 1, Motion(300, 100))))
    start = at(stage, ("mdf", 1), 400, 200)  # off its middle: a turn moves its corner
    drag(stage, start, start + QPoint(6, 0), drop=False)
    key(stage, Qt.Key.Key_R)
    said = stage.line.text()
    QTest.mouseRelease(stage.canvas.view.viewport(), LEFT, NONE, start + QPoint(6, 0))
    assert motion(stage, back).turn_deg == 90
    x, y, _, _ = stage._bench.shape(back).bounds
    assert said.startswith(f"x {glance(x, 'mm')}, y {glance(y, 'mm')}")


def test_what_the_line_said_of_a_drag_goes_with_the_next_change(make: Make) -> None:
    stage = make()
    drag(stage, spot(stage, B), spot(stage, B) + QPoint(60, -40), drop=False)
    assert stage.line.text().startswith("x ")
    key(stage, Qt.Key.Key_Escape)
    select(stage, B)
    stage.told("x 10 mm, y 20 mm")
    key(stage, Qt.Key.Key_L)
    assert stage.line.text() == ""


def test_the_tip_of_a_piece_goes_with_the_piece(make: Make) -> None:
    stage = make()
    mouse.move(stage.canvas.view.viewport(), spot(stage, B))
    assert "Shelf" in stage.canvas.hover_text
    select(stage, B)
    key(stage, Qt.Key.Key_Delete)
    assert B not in stage._bench.placed
    assert stage.canvas.hover_text == ""


def test_an_empty_project_says_what_to_do(make: Make) -> None:
    stage = make(Project())
    assert stage.empty.isVisible()
    assert "Add drawings" in stage.empty.text()


def test_a_piece_that_changed_since_it_was_placed_goes_back_to_the_tray(make: Make) -> None:
    stage = make(with_placed(Placed("shelf", 1, "full", 1, Motion(10, 10), digest="older")))
    assert A not in stage._bench.placed
    assert stage._bench.tray_counts["shelf"] == 3


# --- dragging -----------------------------------------------------------------------------
def test_a_drag_moves_a_piece_and_undo_brings_it_back(make: Make) -> None:
    stage = make()
    start = spot(stage, B)
    drag(stage, start, start + QPoint(150, -120))
    there = motion(stage, B)
    assert there.x_mm == pytest.approx(618 + stage.canvas.mm(150), abs=stage.canvas.mm(2))
    assert there.y_mm == pytest.approx(10 + stage.canvas.mm(120), abs=stage.canvas.mm(2))
    assert stage.document.undo_text == "Move Shelf · 2"
    stage.document.undo()
    assert motion(stage, B) == Motion(618, 10)


def test_a_piece_dragged_into_its_neighbour_stops_at_exactly_the_spacing(make: Make) -> None:
    stage = make(
        with_placed(
            Placed("shelf", 1, "full", 1, Motion(10, 10)),
            Placed("shelf", 2, "full", 1, Motion(900, 10)),
        )
    )
    drag(stage, spot(stage, B), spot(stage, B) - QPoint(round(stage.canvas.px_per_mm * 310), 0))
    gap = stage._bench.shape(A).distance(stage._bench.shape(B))
    assert gap == pytest.approx(8, abs=1e-3)
    assert not stage._all_wrong()


def test_dragging_says_what_the_piece_rests_against(make: Make) -> None:
    stage = make()
    drag(stage, spot(stage, B), spot(stage, B) + QPoint(1, 6), drop=False)
    assert "8 mm to Shelf · 1" in stage.line.text()
    assert "10 mm to the edge" in stage.line.text()
    key(stage, Qt.Key.Key_Escape)
    assert motion(stage, B) == Motion(618, 10)


def test_a_piece_near_the_edge_snaps_to_the_margin(make: Make) -> None:
    stage = make(with_placed(Placed("shelf", 1, "full", 1, Motion(300, 300))))
    goal = at(stage, ("full", 1), 300 + 14, 150 + 14)
    drag(stage, spot(stage, A), goal)
    assert (motion(stage, A).x_mm, motion(stage, A).y_mm) == pytest.approx((10, 10), abs=1e-3)


def test_alt_goes_through_and_the_wrong_place_is_red_and_told(make: Make) -> None:
    stage = make()
    drag(stage, spot(stage, B), spot(stage, A) + QPoint(20, 0), mods=ALT)
    assert stage._all_wrong() == {A, B}
    assert stage.floor.pieces[B].pen().color() == theme.color("stop")
    assert stage.line.text().startswith("● Shelf · 2: overlaps Shelf · 1 by")
    assert "lie where they must not" in stage.summary.text()
    assert "overlaps Shelf · 1 by" in stage.selection_box.problem.text()


def test_escape_in_the_middle_of_a_drag_leaves_everything_as_it_was(make: Make) -> None:
    stage = make()
    before = stage.document.project
    drag(stage, spot(stage, A), spot(stage, A) + QPoint(200, -100), drop=False)
    key(stage, Qt.Key.Key_Escape)
    QTest.mouseRelease(stage.canvas.view.viewport(), LEFT, NONE, spot(stage, A))
    assert stage.document.project is before
    x, y = stage.floor.places[("full", 1)]
    assert stage.floor.pieces[A].pos() == QPointF(x + 10, y + 10)


def test_a_piece_can_be_carried_to_another_sheet_of_its_material(make: Make) -> None:
    stage = make()
    drag(stage, spot(stage, A), at(stage, ("rack", 1), 450, 250))
    placed = stage._bench.placed[A]
    assert (placed.sheet, placed.sheet_copy) == ("rack", 1)
    shape = stage._bench.shape(A)
    assert box(10, 10, 890, 490).buffer(1e-3).covers(shape)


def test_a_piece_is_not_put_on_a_sheet_of_another_material(make: Make) -> None:
    stage = make()
    drag(stage, spot(stage, A), at(stage, ("mdf", 1), 500, 300), drop=False)
    assert "is cut from birch 18; this sheet is mdf 12" in stage.line.text()
    assert stage.floor.pieces[A].wrong
    end = at(stage, ("mdf", 1), 500, 300)
    QTest.mouseRelease(stage.canvas.view.viewport(), LEFT, NONE, end)
    assert stage._bench.placed[A].sheet == "full"


def test_a_piece_let_go_over_the_floor_goes_back_to_the_tray(make: Make) -> None:
    stage = make()
    end = at(stage, ("full", 1), 1200, 1220) - QPoint(0, 60)
    drag(stage, spot(stage, A), end)
    assert A not in stage._bench.placed
    assert stage.document.undo_text == "Put Shelf · 1 back in the tray"


def test_a_piece_can_be_dragged_back_into_the_tray(make: Make) -> None:
    stage = make()
    port = stage.canvas.view.viewport()
    over = port.mapFromGlobal(stage.tray.mapToGlobal(stage.tray.rect().center()))
    drag(stage, spot(stage, A), over)
    assert A not in stage._bench.placed


def test_a_piece_can_be_dragged_out_of_the_tray_onto_a_sheet(make: Make) -> None:
    stage = make()
    port, row = stage.tray.viewport(), stage.tray.visualItemRect(stage.tray.item(1)).center()
    goal = stage.canvas.view.viewport().mapToGlobal(at(stage, ("full", 1), 800, 700))
    QTest.mousePress(port, LEFT, NONE, row)
    for share in (0.1, 0.5, 1.0):
        mouse.move(port, row + (port.mapFromGlobal(goal) - row) * share, LEFT)
    assert stage.floor.pieces[("disc", 1)].isVisible()
    QTest.mouseRelease(port, LEFT, NONE, port.mapFromGlobal(goal))
    there = motion(stage, ("disc", 1))
    assert (there.x_mm, there.y_mm) == pytest.approx((800, 700), abs=stage.canvas.mm(2))
    assert stage.document.undo_text == "Place Disc"
    assert stage.hand.selected == [("disc", 1)]


def test_a_piece_from_the_tray_that_is_let_go_over_nothing_stays_in_the_tray(make: Make) -> None:
    stage = make()
    before = stage.document.project
    port, row = stage.tray.viewport(), stage.tray.visualItemRect(stage.tray.item(1)).center()
    goal = port.mapFromGlobal(
        stage.canvas.view.viewport().mapToGlobal(at(stage, ("full", 1), 1200, 1220) - QPoint(0, 70))
    )
    QTest.mousePress(port, LEFT, NONE, row)
    mouse.move(port, row + QPoint(30, 0), LEFT)
    mouse.move(port, goal, LEFT)
    QTest.mouseRelease(port, LEFT, NONE, goal)
    assert stage.document.project is before
    assert ("disc", 1) not in stage.floor.pieces


def test_enter_in_the_tray_puts_the_piece_in_the_best_place_at_once(
    make: Make, qtbot: QtBot
) -> None:
    stage = make()
    stage.tray.setFocus()
    stage.tray.setCurrentRow(0)
    QTest.keyClick(stage.tray, Qt.Key.Key_Return)
    third = ("shelf", 3)
    qtbot.waitUntil(lambda: third in stage._bench.placed, timeout=5000)
    assert not stage._all_wrong()
    there = motion(stage, third)
    assert (there.x_mm, there.y_mm) == pytest.approx((10, 318), abs=0.05)


# --- selecting ----------------------------------------------------------------------------
def test_clicks_select_one_shift_adds_and_a_click_on_nothing_clears(make: Make) -> None:
    stage = make()
    select(stage, A)
    assert stage.hand.selected == [A]
    select(stage, A, B)
    assert stage.hand.selected == [A, B]
    assert stage.selection_box.title.text().startswith("2 pieces · 1208 × 300")
    QTest.mouseClick(stage.canvas.view.viewport(), LEFT, NONE, at(stage, ("full", 1), 1500, 900))
    assert stage.hand.selected == []


def test_a_rubber_band_selects_what_it_encloses(make: Make) -> None:
    stage = make()
    drag(stage, at(stage, ("full", 1), 612, 360), at(stage, ("full", 1), 1300, -20))
    assert stage.hand.selected == [B]


def test_several_pieces_are_moved_as_one_step(make: Make) -> None:
    stage = make()
    select(stage, A, B)
    start = spot(stage, A)
    drag(stage, start, start + QPoint(60, -90))
    assert motion(stage, B).x_mm - motion(stage, A).x_mm == pytest.approx(608)
    assert motion(stage, A).y_mm > 100
    assert stage.document.undo_text == "Move 2 pieces"
    stage.document.undo()
    assert (motion(stage, A), motion(stage, B)) == (Motion(10, 10), Motion(618, 10))


def test_the_keyboard_alone_can_select_and_move(make: Make) -> None:
    stage = make()
    stage.canvas.setFocus()
    key(stage, Qt.Key.Key_Period)
    assert stage.hand.selected == [A]
    key(stage, Qt.Key.Key_Period)
    assert stage.hand.selected == [B]
    key(stage, Qt.Key.Key_Up, SHIFT)
    assert motion(stage, B).y_mm == 20
    key(stage, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    assert set(stage.hand.selected) == {A, B}


# --- turning ------------------------------------------------------------------------------
def test_r_turns_to_the_next_way_the_grain_allows(make: Make) -> None:
    stage = make()
    select(stage, B)
    key(stage, Qt.Key.Key_R)
    assert motion(stage, B).turn_deg == 180
    assert stage._bench.shape(B).bounds == pytest.approx((618, 10, 1218, 310), abs=1e-6)
    assert stage.document.undo_text == "Turn Shelf · 2"


def test_a_freely_turning_piece_turns_by_the_step_of_the_preferences(make: Make) -> None:
    stage = make(with_placed(Placed("disc", 1, "full", 1, Motion(500, 500))))
    select(stage, ("disc", 1))
    key(stage, Qt.Key.Key_R)
    assert motion(stage, ("disc", 1)).turn_deg == 15
    key(stage, Qt.Key.Key_R, SHIFT)
    assert motion(stage, ("disc", 1)).turn_deg == 0


def test_alt_r_turns_against_the_grain_and_the_piece_is_marked(make: Make) -> None:
    stage = make(with_placed(Placed("shelf", 1, "full", 1, Motion(500, 500))))
    select(stage, A)
    stage.preferences.set("turn_deg", 90.0)
    key(stage, Qt.Key.Key_R, ALT)
    assert motion(stage, A).turn_deg == 90
    assert stage._all_wrong() == {A}
    assert "against its grain" in stage.hand.describe(A)


def test_the_wheel_with_alt_turns(make: Make) -> None:
    stage = make()
    select(stage, B)
    port, here = stage.canvas.view.viewport(), QPointF(spot(stage, B))
    event = QWheelEvent(
        here, port.mapToGlobal(here), QPoint(), QPoint(120, 0), Qt.MouseButton.NoButton, ALT,
        Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(port, event)
    assert motion(stage, B).turn_deg == 180


@pytest.mark.parametrize("button", [LEFT, RIGHT])
def test_the_turn_handle_and_a_right_drag_turn_a_piece(make: Make, button: Qt.MouseButton) -> None:
    stage = make(with_placed(Placed("disc", 1, "full", 1, Motion(900, 600))))
    disc = ("disc", 1)
    select(stage, disc)
    middle = spot(stage, disc)
    if button == LEFT:
        grip = stage.hand._grip.pos()
        start = stage.canvas.to_px(grip.x(), grip.y()).toPoint()
    else:
        start = middle + QPoint(0, -15)
    drag(stage, start, middle + QPoint(-60, 0), button=button)
    assert motion(stage, disc).turn_deg == pytest.approx(90, abs=3)


def test_a_turn_that_does_not_fit_moves_to_the_nearest_free_place(make: Make) -> None:
    project = bench.project()
    project = replace(project, shop=replace(project.shop, materials=(*project.shop.materials,)))
    stage = make(with_placed(Placed("back", 1, "mdf", 1, Motion(10, 10)), project=project))
    select(stage, ("back", 1))
    key(stage, Qt.Key.Key_R)
    assert motion(stage, ("back", 1)).turn_deg == 90
    assert not stage._all_wrong()


def test_only_pieces_that_may_be_mirrored_are_turned_over(make: Make) -> None:
    stage = make(
        with_placed(
            Placed("disc", 1, "full", 1, Motion(900, 600)),
            Placed("shelf", 1, "full", 1, Motion(10, 10)),
        )
    )
    select(stage, ("disc", 1))
    key(stage, Qt.Key.Key_M)
    assert motion(stage, ("disc", 1)).mirrored
    select(stage, A)
    key(stage, Qt.Key.Key_M)
    assert not motion(stage, A).mirrored
    assert "may not be cut face down" in stage.line.text()


# --- nudging, exact places, order -----------------------------------------------------------
def test_arrow_keys_nudge_by_the_set_step_as_one_step_of_undo(make: Make) -> None:
    stage = make()
    stage.preferences.set("nudge_mm", 2.5)
    select(stage, B)
    for _ in range(4):
        key(stage, Qt.Key.Key_Right)
    assert motion(stage, B).x_mm == pytest.approx(628)
    stage.document.undo()
    assert motion(stage, B) == Motion(618, 10)


def test_a_nudge_stops_at_the_neighbour_and_says_why(make: Make) -> None:
    stage = make()
    select(stage, B)
    key(stage, Qt.Key.Key_Left)
    assert motion(stage, B).x_mm == pytest.approx(618, abs=1e-3)
    assert "No further" in stage.line.text() and "Shelf · 1" in stage.line.text()
    key(stage, Qt.Key.Key_Left, ALT)
    assert motion(stage, B).x_mm == pytest.approx(617, abs=1e-3)
    assert stage._all_wrong() == {A, B}


def test_a_position_can_be_typed_in_any_unit(make: Make) -> None:
    stage = make()
    select(stage, B)
    line = stage.selection_box.at_x.line
    line.setFocus()
    line.selectAll()
    QTest.keyClicks(line, "30 in")
    QTest.keyClick(line, Qt.Key.Key_Return)
    assert stage._bench.shape(B).bounds[0] == pytest.approx(762)


def test_a_typed_place_that_is_not_allowed_is_obeyed_and_marked(make: Make) -> None:
    stage = make()
    select(stage, B)
    stage.selection_box.at_x.committed.emit(600.0)
    assert stage._bench.shape(B).bounds[0] == pytest.approx(600)
    assert stage._all_wrong() == {A, B}


def test_a_turn_can_be_typed(make: Make) -> None:
    stage = make(with_placed(Placed("disc", 1, "full", 1, Motion(900, 600))))
    select(stage, ("disc", 1))
    stage.selection_box.turn.committed.emit(37.0)
    assert motion(stage, ("disc", 1)).turn_deg == 37


def test_align_lines_pieces_up_without_overlap(make: Make) -> None:
    stage = make(
        with_placed(
            Placed("shelf", 1, "full", 1, Motion(50, 20)),
            Placed("shelf", 2, "full", 1, Motion(300, 400)),
            Placed("shelf", 3, "full", 1, Motion(900, 30)),
        )
    )
    third = ("shelf", 3)
    select(stage, A, B, third)
    QTest.mouseClick(stage.selection_box.align[0], LEFT)
    bounds = {k: stage._bench.shape(k).bounds[0] for k in (A, B, third)}
    assert bounds[A] == bounds[B] == pytest.approx(50)
    assert bounds[third] == pytest.approx(658, abs=1e-3)  # shelf 1 is in its way
    assert not stage._all_wrong()


def test_distribute_makes_the_gaps_even(make: Make) -> None:
    stage = make(
        with_placed(
            Placed("shelf", 1, "full", 1, Motion(20, 20)),
            Placed("shelf", 2, "full", 1, Motion(640, 500)),
            Placed("shelf", 3, "full", 1, Motion(1700, 20)),
        )
    )
    select(stage, A, B, ("shelf", 3))
    QTest.mouseClick(stage.selection_box.align[4], LEFT)
    x = [stage._bench.shape(("shelf", i)).bounds[0] for i in (1, 2, 3)]
    assert x[1] - x[0] == pytest.approx(x[2] - x[1])


def test_distribute_makes_upright_gaps_even_too(make: Make) -> None:
    stage = make(
        with_placed(
            Placed("shelf", 1, "full", 1, Motion(20, 20)),
            Placed("shelf", 2, "full", 1, Motion(700, 420)),
            Placed("shelf", 3, "full", 1, Motion(1400, 900)),
        )
    )
    select(stage, A, B, ("shelf", 3))
    QTest.mouseClick(stage.selection_box.align[5], LEFT)
    y = [stage._bench.shape(("shelf", i)).bounds[1] for i in (1, 2, 3)]
    assert y == pytest.approx([20, 460, 900])
    assert stage.document.undo_text == "Distribute 3 pieces"


def test_the_number_of_copies_is_set_beside_the_selection(make: Make, qtbot: QtBot) -> None:
    stage = make()
    select(stage, A)
    copies = stage.selection_box.copies
    assert copies.value == 3
    copies.line.setFocus()
    copies.line.selectAll()
    QTest.keyClicks(copies.line, "5")
    QTest.keyClick(copies.line, Qt.Key.Key_Return)
    assert stage.document.undo_text == "Set quantity of Shelf"
    qtbot.waitUntil(lambda: stage.derived.is_current, timeout=5000)
    assert stage._bench.tray_counts["shelf"] == 3  # two lie on the sheet
    assert set(stage._bench.placed) == {A, B}


# --- lock, tray, menu ---------------------------------------------------------------------
def test_a_locked_piece_is_not_moved_turned_or_taken_away(make: Make) -> None:
    stage = make()
    select(stage, A)
    key(stage, Qt.Key.Key_L)
    assert stage._bench.placed[A].locked
    before = stage.document.project
    drag(stage, spot(stage, A), spot(stage, A) + QPoint(100, -100))
    key(stage, Qt.Key.Key_R)
    key(stage, Qt.Key.Key_Up)
    key(stage, Qt.Key.Key_Delete)
    assert stage.document.project is before
    key(stage, Qt.Key.Key_L)
    assert not stage._bench.placed[A].locked


def test_delete_puts_the_selection_back_in_the_tray(make: Make) -> None:
    stage = make()
    select(stage, A, B)
    key(stage, Qt.Key.Key_Delete)
    assert not stage._bench.placed
    assert stage.document.undo_text == "Put 2 pieces back in the tray"


@pytest.mark.qt_log_ignore("This plugin does not support", extend=True)
def test_a_right_click_opens_the_menu_of_the_piece(make: Make) -> None:
    stage = make()
    QTest.mouseClick(stage.canvas.view.viewport(), RIGHT, NONE, spot(stage, B))
    assert stage.hand.selected == [B]
    assert stage._menu.isVisible()
    stage._menu.close()


def test_the_drawing_keeps_its_size_while_a_piece_is_dragged_whatever_is_said(make: Make) -> None:
    stage = make()
    start = spot(stage, B)
    drag(stage, start, start + QPoint(30, 10), drop=False)
    stage.told("too near to a neighbour; " * 40)
    QTest.qWait(20)
    high = stage.canvas.height()
    for words in ("", "x 10, y 10", "too near to a neighbour; " * 20):
        stage.told(words)
        QTest.qWait(20)
        assert stage.canvas.height() == high
    QTest.mouseRelease(stage.canvas.view.viewport(), LEFT, NONE, start + QPoint(30, 10))
    stage.told("")
    QTest.qWait(20)
    assert stage.canvas.height() > high


@pytest.mark.qt_log_ignore("This plugin does not support", extend=True)
def test_a_menu_that_has_closed_does_not_stay_for_good(make: Make) -> None:
    stage = make()
    for _ in range(5):
        stage._show_stock_menu()
        stage._menu.close()
        QTest.qWait(5)  # Qt deletes
    assert len(stage.findChildren(QMenu, "popup")) == 1


def test_another_sheet_can_be_laid_out(make: Make) -> None:
    stage = make()
    stage.lay_out_sheet("full")
    assert ("full", 2) in stage.floor.sheets
    drag(stage, spot(stage, A), at(stage, ("full", 2), 700, 600))
    assert stage._bench.placed[A].sheet_copy == 2


def test_hovering_measures_the_gaps(make: Make) -> None:
    stage = make()
    mouse.move(stage.canvas.view.viewport(), spot(stage, B))
    assert "8 mm to Shelf · 1" in stage.canvas.hover_text
    assert "600 × 300 mm" in stage.canvas.hover_text


# --- nesting ------------------------------------------------------------------------------
def test_nesting_shows_improvements_and_ends_as_one_step_of_undo(make: Make, qtbot: QtBot) -> None:
    stage = make(bench.project())
    QTest.mouseClick(stage.nest_box.go, LEFT)
    assert stage.nest_box.running
    qtbot.waitUntil(lambda: len(stage.nest_box.curve.points) >= 2, timeout=5000)
    assert stage.document.project.layouts == ()
    qtbot.waitUntil(lambda: not stage.nest_box.running, timeout=5000)
    assert len(stage._bench.placed) == 3
    assert stage.document.undo_text == "Nest 3 pieces"
    assert stage.document.project.current_layout == "Layout 1"
    stage.document.undo()
    assert not stage._bench.placed


def test_nesting_can_be_stopped_and_keeps_the_best(make: Make, qtbot: QtBot) -> None:
    stage = make(bench.project())
    QTest.mouseClick(stage.nest_box.go, LEFT)
    qtbot.waitUntil(lambda: len(stage.nest_box.curve.points) >= 1, timeout=5000)
    QTest.mouseClick(stage.nest_box.go, LEFT)
    qtbot.waitUntil(lambda: not stage.nest_box.running, timeout=5000)
    assert 1 <= len(stage._bench.placed) <= 3
    assert stage.document.project.layouts


def test_locked_pieces_stay_where_they_are_through_nesting(make: Make, qtbot: QtBot) -> None:
    stage = make(with_placed(Placed("shelf", 2, "full", 1, Motion(1500, 600), locked=True)))
    stage.nest()
    qtbot.waitUntil(lambda: not stage.nest_box.running, timeout=5000)
    assert stage._bench.placed[B] == Placed("shelf", 2, "full", 1, Motion(1500, 600), locked=True)


def test_pieces_cannot_be_moved_by_hand_while_nesting_runs(make: Make, qtbot: QtBot) -> None:
    stage = make()
    stage.nest()
    before = stage.document.project
    drag(stage, spot(stage, A), spot(stage, A) + QPoint(100, -100))
    assert stage.document.project is before
    assert "Nesting runs" in stage.line.text()
    qtbot.waitUntil(lambda: not stage.nest_box.running, timeout=5000)


def test_a_change_of_the_shop_ends_nesting(make: Make, qtbot: QtBot) -> None:
    from app.commands.base import SHOP, Edit

    stage = make(bench.project())
    stage.nest()
    stage.document.run(
        Edit(
            "Spacing",
            frozenset({SHOP}),
            lambda p: replace(p, shop=bench.shop(stock=p.shop.stock[:1])),
        )
    )
    assert not stage.nest_box.running
    qtbot.waitUntil(stage.jobs.is_idle, timeout=5000)
    assert stage.document.project.layouts == ()


# --- layouts kept -------------------------------------------------------------------------
def test_a_copy_is_kept_and_compared_and_either_can_be_shown(make: Make) -> None:
    stage = make()
    stage.keep_copy()
    names = [k.name for k in stage.document.project.layouts]
    assert names == ["Layout 1", "Layout 2"]
    select(stage, B)
    key(stage, Qt.Key.Key_Delete)
    table = stage.layouts_box.table
    assert [table.item(i, 1).text() for i in (0, 1)] == ["12 % ✓", "6 %"]
    table.selectRow(0)
    assert stage.document.project.current_layout == "Layout 1"
    assert set(stage._bench.placed) == {A, B}


def test_every_kept_layout_shows_its_saw_cuts_offcut_and_cost(
    make: Make, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    def assemble(project: Any, pieces: Any, layout: KeptLayout) -> Plan:
        plan = bench.assemble_plan(project, pieces, layout)
        cuts = tuple(
            PlanSawCut(n, 0, 100 * n, 900, 100 * n) for n in range(1, len(layout.placed) + 1)
        )
        corners = ((0.0, 0.0), (1000.0, 0.0), (1000.0, 500.0), (0.0, 500.0))
        offcut = PlanOffcut(corners, keep=True)
        sheets = tuple(replace(s, saw_cuts=cuts, offcuts=(offcut,)) for s in plan.sheets)
        return replace(plan, sheets=sheets)

    engine = make(Project()).derived.engine
    monkeypatch.setattr(make().derived, "engine", replace(engine, assemble_plan=assemble))
    stage = make(laid(2))
    assert stage.layouts_box.detail.text() == (
        "2 saw cuts · offcut kept 0.50 m² · to buy for 80.00"
    )
    stage.keep_copy()
    select(stage, B)
    key(stage, Qt.Key.Key_Delete)
    box = stage.layouts_box
    qtbot.waitUntil(lambda: box.detail.text().count("saw cut") == 2, timeout=5000)
    assert box.detail.text().splitlines() == [
        "Layout 1: 2 saw cuts · offcut kept 0.50 m² · to buy for 80.00",
        "Layout 2: 1 saw cut · offcut kept 0.50 m² · to buy for 80.00",
    ]
    stage.document.run(SetProject("Inches", (("units", "in"),)))
    qtbot.waitUntil(lambda: box.detail.text().count("ft²") == 2, timeout=5000)
    assert "5.38 ft²" in box.detail.text()  # 0.5 m²


def test_a_layout_can_be_renamed_and_forgotten(make: Make) -> None:
    stage = make()
    stage.layouts_box.table.item(0, 0).setText("Two shelves")
    assert stage.document.project.current_layout == "Two shelves"
    QTest.mouseClick(stage.layouts_box.forget_button, LEFT)
    assert stage.document.project.layouts == ()
    stage.document.undo()
    assert set(stage._bench.placed) == {A, B}


# --- findings -----------------------------------------------------------------------------
def test_a_finding_leads_to_the_piece_and_can_be_mended(make: Make) -> None:
    stage = make(
        with_placed(
            Placed("shelf", 1, "full", 1, Motion(10, 10)),
            Placed("shelf", 2, "full", 1, Motion(400, 100)),
        )
    )
    finding = Finding("layout-overlap", Severity.STOP, "They overlap", "shelf", (700, 250))
    assert stage.shows(finding) and stage.offer(finding) == "Move it apart"
    stage.show_finding(finding)
    assert stage.hand.selected == [B]
    stage.take_offer(finding)
    assert not stage._all_wrong()


# --- the model ----------------------------------------------------------------------------
def test_turning_over_about_a_line_keeps_the_shape_on_that_line(make: Make) -> None:
    there = model.mirrored_about(Motion(100, 50, 30), 300)
    assert there == Motion(500, 50, 330, True)
    x, y = Motion(100, 50, 30).apply(20, 7)
    assert there.apply(20, 7) == pytest.approx((600 - x, y))


def test_turning_about_a_point_turns_every_point_about_it() -> None:
    start = Motion(100, 50, 30, True)
    there = model.turned_about(start, 40, 10, 20)
    x, y = start.apply(33, 44)
    dx, dy = x - 10, y - 20
    turn = math.radians(40)
    wanted = (
        10 + dx * math.cos(turn) - dy * math.sin(turn),
        20 + dx * math.sin(turn) + dy * math.cos(turn),
    )
    assert there.apply(33, 44) == pytest.approx(wanted)


def test_a_defect_keeps_pieces_away(make: Make) -> None:
    start = bench.project()
    stock = (bench.with_defect(start.shop.stock[0]), *start.shop.stock[1:])
    project = replace(start, shop=replace(start.shop, stock=stock))
    stage = make(with_placed(Placed("shelf", 1, "full", 1, Motion(900, 100)), project=project))
    assert stage._all_wrong() == {A}
    assert "into a spot that must not be used" in stage.hand.describe(A)
    stage.hand.settle([A])
    assert not stage._all_wrong()


def test_light_and_dark_can_change_while_the_stage_is_open(make: Make, qapp: QApplication) -> None:
    stage = make()
    theme.apply(qapp, "dark", less_motion=True)
    assert stage.floor.pieces[A].brush().color().lightness() < 128
    theme.apply(qapp, "light", less_motion=True)


@pytest.mark.parametrize("count", [1, 2, 3, 5, 8])
def test_sheets_on_the_floor_never_overlap_and_leave_room_for_their_texts(count: int) -> None:
    from app.stages.sheets_rows import floor_places

    bounds = [
        (0.0, 0.0, 2440.0, 1220.0) if i % 3 else (0.0, 0.0, 900.0, 500.0) for i in range(count)
    ]
    places = floor_places(bounds, (840, 600))
    boxes = [
        box(x + b[0], y + b[1], x + b[2], y + b[3])
        for (x, y), b in zip(places, bounds, strict=True)
    ]
    for i, one in enumerate(boxes):
        for other in boxes[i + 1 :]:
            assert one.distance(other) > 50


def test_sheets_stay_in_their_rows_when_one_more_is_shown() -> None:
    from app.stages.sheets_rows import floor_columns

    board = (0.0, 0.0, 2500.0, 1250.0)
    room = (750, 560)
    columns, places = floor_columns([board, board], room)
    offcut = (0.0, 0.0, 1200.0, 400.0)
    again, more = floor_columns([board, board, offcut], room, before=columns)
    assert (again, more[:2][0]) == (columns, places[0])
    assert floor_columns([board] * 8, room, before=1)[0] > 1


def test_a_piece_is_carried_though_the_selection_went_between_press_and_move(make: Make) -> None:
    stage = make()
    port, start = stage.canvas.view.viewport(), spot(stage, B)
    QTest.mousePress(port, LEFT, NONE, start)
    stage.hand.select([])
    mouse.move(port, start + QPoint(20, 0), LEFT)
    mouse.move(port, start + QPoint(30, 0), LEFT)
    assert stage.hand.selected == [B]
    QTest.mouseRelease(port, LEFT, NONE, start + QPoint(30, 0))
