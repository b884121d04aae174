"""Whatever a drag does, the keys do too; and one sees where the keys go."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QContextMenuEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from app.canvas.viewport import PAN_PX
from app.stages.sheets import SheetsStage
from app.widgets.dividers import STEP_PX, Divider
from app.widgets.focus_chain import next_in_chain
from core.geometry import Motion
from core.project.model import Placed
from tests.app import mouse
from tests.app import sheets_bench as bench
from tests.app.floor import (
    CTRL,
    LEFT,
    NONE,
    SHIFT,
    A,
    B,
    Make,
    at,
    drag,
    key,
    motion,
    select,
    spot,
    with_placed,
)


@pytest.fixture
def stage(make_active_sheets: Make) -> SheetsStage:
    return make_active_sheets()


# --- the view -----------------------------------------------------------------------------
def test_arrows_move_the_view_while_nothing_is_selected(stage: SheetsStage) -> None:
    canvas = stage.canvas
    before = canvas.to_px(0, 0)
    key(stage, Qt.Key.Key_Right)
    assert canvas.to_px(0, 0) == before - QPointF(PAN_PX, 0)
    key(stage, Qt.Key.Key_Up, SHIFT)
    assert canvas.to_px(0, 0) == before + QPointF(-PAN_PX, 5 * PAN_PX)
    assert not stage.document.dirty


def test_plus_minus_home_and_z_zoom_by_key(stage: SheetsStage) -> None:
    canvas, view = stage.canvas, stage.canvas.view
    view.setFocus()
    whole = canvas.px_per_mm
    QTest.keyClick(view, Qt.Key.Key_Plus)
    assert canvas.px_per_mm == pytest.approx(whole * 1.22)
    QTest.keyClick(view, Qt.Key.Key_Minus)
    QTest.keyClick(view, Qt.Key.Key_Minus)
    assert canvas.px_per_mm == pytest.approx(whole / 1.22)
    QTest.keyClick(view, Qt.Key.Key_0, CTRL)
    assert canvas.px_per_mm == pytest.approx(whole)
    key(stage, Qt.Key.Key_Period)
    QTest.keyClick(view, Qt.Key.Key_Z)
    assert canvas.px_per_mm > 1.5 * whole
    QTest.keyClick(view, Qt.Key.Key_Home)
    assert canvas.px_per_mm == pytest.approx(whole)


def test_a_double_click_brings_a_piece_close(stage: SheetsStage) -> None:
    whole = stage.canvas.px_per_mm
    QTest.mouseDClick(stage.canvas.view.viewport(), LEFT, NONE, spot(stage, B))
    assert stage.canvas.px_per_mm > 1.5 * whole
    assert stage.hand.selected == [B]


# --- selecting and carrying ---------------------------------------------------------------
def test_shift_and_the_step_keys_select_several_pieces_as_a_frame_does(stage: SheetsStage) -> None:
    key(stage, Qt.Key.Key_Period)
    key(stage, Qt.Key.Key_Greater, SHIFT)  # Shift and full stop, on many keyboards
    assert stage.hand.selected == [A, B]
    key(stage, Qt.Key.Key_Period)
    assert len(stage.hand.selected) == 1


def test_shift_and_a_frame_add_to_the_selection(stage: SheetsStage) -> None:
    select(stage, A)
    port = stage.canvas.view.viewport()
    start, end = at(stage, ("full", 1), 612, 360), at(stage, ("full", 1), 1300, -20)
    QTest.mousePress(port, LEFT, SHIFT, start)
    mouse.move(port, (start + end) / 2, LEFT, SHIFT)
    mouse.move(port, end, LEFT, SHIFT)
    QTest.mouseRelease(port, LEFT, SHIFT, end)
    assert stage.hand.selected == [A, B]


def test_the_sheet_field_carries_a_piece_to_another_sheet(stage: SheetsStage) -> None:
    key(stage, Qt.Key.Key_Period)
    field = stage.selection_box.sheet
    assert [field.itemText(i) for i in range(field.count())] == [
        "Sheet 1 · 2440 × 1220 mm",
        "Empty sheet · 900 × 500 mm",
    ], "sheets of another board are not offered"
    field.setFocus()
    QTest.keyClick(field, Qt.Key.Key_Down)
    placed = stage._bench.placed[A]
    assert (placed.sheet, placed.sheet_copy) == ("rack", 1)
    assert not stage._all_wrong()
    assert stage.document.undo_text == "Move Shelf · 1"
    stage.document.undo()
    assert motion(stage, A) == Motion(10, 10)


def test_a_sheet_without_room_is_refused_with_the_reason(make_sheets: Make) -> None:
    stage = make_sheets(
        with_placed(
            Placed("shelf", 1, "full", 1, Motion(10, 10)),
            Placed("shelf", 2, "rack", 1, Motion(10, 10)),
        )
    )
    select(stage, A)
    before = stage.document.project
    field = stage.selection_box.sheet
    field.setFocus()
    QTest.keyClick(field, Qt.Key.Key_Down)
    assert stage.document.project is before
    assert stage.line.text() == "● Shelf · 1: no free place on that sheet."
    assert field.value == ("full", 1), "the field says where it lies"


def test_the_sheet_field_says_where_a_piece_lies_that_may_not_be_moved(stage: SheetsStage) -> None:
    select(stage, A)
    key(stage, Qt.Key.Key_L)
    field = stage.selection_box.sheet
    field.setFocus()
    QTest.keyClick(field, Qt.Key.Key_Down)
    assert "Locked pieces stay" in stage.line.text()
    assert stage._bench.placed[A].sheet == "full"
    assert field.value == ("full", 1)


@pytest.mark.qt_log_ignore("This plugin does not support", extend=True)
def test_the_menu_key_offers_what_the_right_button_offers(stage: SheetsStage) -> None:
    key(stage, Qt.Key.Key_Period)
    view = stage.canvas.view
    middle = view.rect().center()
    event = QContextMenuEvent(
        QContextMenuEvent.Reason.Keyboard, middle, view.mapToGlobal(middle), NONE
    )
    QApplication.sendEvent(view, event)
    assert stage._menu.isVisible()
    rows = [action.text().partition("\t")[0].replace("&", "") for action in stage._menu.actions()]
    assert rows == ["Turn left", "Turn right", "Turn over", "Lock or unlock", "Back to the tray"]
    QTest.keyClick(stage._menu, Qt.Key.Key_Escape)
    assert not stage._menu.isVisible()


def test_several_pieces_are_turned_about_their_common_middle(stage: SheetsStage) -> None:
    key(stage, Qt.Key.Key_A, CTRL)
    key(stage, Qt.Key.Key_R)
    assert motion(stage, A).turn_deg == motion(stage, B).turn_deg == 180
    # Turned by half a turn they have changed places.
    assert stage._bench.shape(A).bounds == pytest.approx((618, 10, 1218, 310), abs=1e-6)
    assert stage._bench.shape(B).bounds == pytest.approx((10, 10, 610, 310), abs=1e-6)
    assert stage.document.undo_text == "Turn 2 pieces"


# --- dividers -----------------------------------------------------------------------------
def test_dividers_are_reached_by_tab_and_moved_by_arrows_and_by_the_mouse(
    stage: SheetsStage,
) -> None:
    left = stage.splitter.handle(1)
    assert isinstance(left, Divider) and left.accessibleName()
    before = stage.splitter.sizes()
    left.setFocus(Qt.FocusReason.TabFocusReason)
    for _ in range(3):
        QTest.keyClick(left, Qt.Key.Key_Right)
    wider = stage.splitter.sizes()
    assert wider[0] == before[0] + 3 * STEP_PX
    assert wider[2] == before[2]
    QTest.mousePress(left, LEFT, NONE, QPoint(0, 50))
    for x in (-10, -20, -24):  # it goes along under the pointer
        mouse.move(left, left.mapFromGlobal(left.mapToGlobal(QPoint(0, 50))) + QPoint(x, 0), LEFT)
    QTest.mouseRelease(left, LEFT, NONE, QPoint(0, 50))
    assert stage.splitter.sizes()[0] < wider[0]
    stage.splitter.setSizes(before)


def test_tab_comes_to_the_dividers_after_the_columns(stage: SheetsStage) -> None:
    chain: list[QWidget] = []
    widget = next_in_chain(stage.splitter)
    while widget is not stage.splitter:
        inside = stage.splitter.isAncestorOf(widget) and widget.isVisible()
        if inside and widget.focusPolicy() & Qt.FocusPolicy.TabFocus:
            chain.append(widget)
        widget = next_in_chain(widget)
    kinds = [isinstance(widget, Divider) for widget in chain]
    assert sum(kinds) == 2 and kinds[-2:] == [True, True]


# --- seeing the focus ---------------------------------------------------------------------
def test_the_drawing_is_framed_while_the_keyboard_works_on_it(stage: SheetsStage) -> None:
    view = stage.canvas.view
    stage.tray.setFocus()
    QTest.mouseClick(view.viewport(), LEFT, NONE, spot(stage, A))
    view.setFocus(Qt.FocusReason.MouseFocusReason)
    assert not stage.canvas.keyboard_focus
    by_mouse = view.viewport().grab().toImage()
    key(stage, Qt.Key.Key_Shift)
    assert not stage.canvas.keyboard_focus, "Shift alone is no work"
    QTest.keyClick(view, Qt.Key.Key_Escape)
    key(stage, Qt.Key.Key_Period)
    assert stage.canvas.keyboard_focus
    by_key = view.viewport().grab().toImage()
    assert by_key.pixelColor(1, 200) != by_mouse.pixelColor(1, 200)
    QTest.mouseClick(view.viewport(), LEFT, NONE, spot(stage, A))
    assert not stage.canvas.keyboard_focus


# --- a drag that says no ------------------------------------------------------------------
def test_a_drag_into_a_neighbour_slides_along_it_and_names_it(make_sheets: Make) -> None:
    stage = make_sheets(
        with_placed(
            Placed("shelf", 1, "full", 1, Motion(10, 500)),
            Placed("shelf", 2, "full", 1, Motion(10, 100)),
        )
    )
    # Up by 150 would come into the other shelf: it slides to the right along its lower edge.
    start = spot(stage, B)
    end = start + QPoint(90, -round(stage.canvas.px_per_mm * 130))
    drag(stage, start, end, drop=False)
    assert "8 mm to Shelf · 1" in stage.line.text()
    QTest.mouseRelease(stage.canvas.view.viewport(), LEFT, NONE, end)
    upper, lower = stage._bench.shape(A), stage._bench.shape(B)
    assert upper.distance(lower) == pytest.approx(8, abs=1e-3)
    assert motion(stage, B).x_mm == pytest.approx(
        10 + stage.canvas.mm(90), abs=stage.canvas.mm(1.5)
    )


def test_a_piece_snaps_into_the_corner_between_a_neighbour_and_the_edge(
    make_sheets: Make,
) -> None:
    stage = make_sheets(
        with_placed(
            Placed("shelf", 1, "full", 1, Motion(10, 10)),
            Placed("shelf", 2, "full", 1, Motion(900, 400)),
        )
    )
    goal = at(stage, ("full", 1), 618 + 300 + 9, 10 + 150 + 7)
    drag(stage, spot(stage, B), goal)
    assert (motion(stage, B).x_mm, motion(stage, B).y_mm) == pytest.approx((618, 10), abs=1e-3)


def test_a_place_with_no_room_near_is_refused_in_red_with_the_reason(make_sheets: Make) -> None:
    project = bench.project()
    stage = make_sheets(
        with_placed(
            Placed("shelf", 1, "rack", 1, Motion(10, 10)),
            Placed("shelf", 2, "full", 1, Motion(10, 10)),
            project=project,
        )
    )
    drag(stage, spot(stage, B), at(stage, ("rack", 1), 450, 250), drop=False)
    assert stage.floor.pieces[B].wrong
    assert stage.line.text().startswith("●") and "Shelf · 1" in stage.line.text()
    key(stage, Qt.Key.Key_Escape)
    assert motion(stage, B) == Motion(10, 10)
