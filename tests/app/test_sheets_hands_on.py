"""More of the Sheets stage with mouse and keys: buttons, fields, tray, nesting, layouts."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QColor, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit, QTableWidget, QWidget
from pytestqt.qtbot import QtBot

from app import theme
from app.commands import SetProject
from core.geometry import Motion
from core.project.model import Placed
from tests.app import mouse
from tests.app import sheets_bench as bench
from tests.app.floor import (
    ALT,
    CTRL,
    DISC,
    LEFT,
    NONE,
    SHIFT,
    A,
    B,
    C,
    Make,
    at,
    key,
    motion,
    select,
    spot,
    with_placed,
)


@pytest.fixture
def make(make_active_sheets: Make) -> Make:
    return make_active_sheets


def typed(line: QLineEdit, text: str) -> None:
    """Click into a field, type over what is there, and press Enter."""
    QTest.mouseClick(line, LEFT)
    QTest.keyClick(line, Qt.Key.Key_A, CTRL)
    QTest.keyClicks(line, text)
    QTest.keyClick(line, Qt.Key.Key_Return)


# --- exact places and order ---------------------------------------------------------------
def test_place_and_turn_are_typed_and_obeyed_and_a_wrong_place_is_marked(make: Make) -> None:
    stage = make()
    select(stage, B)
    typed(stage.selection_box.at_x.line, "600")
    assert stage._bench.shape(B).bounds[0] == pytest.approx(600)
    assert stage._all_wrong() == {A, B}
    assert "overlaps" in stage.selection_box.problem.text()
    typed(stage.selection_box.at_y.line, "20 1/2 in")
    assert stage._bench.shape(B).bounds[1] == pytest.approx(20.5 * 25.4)
    assert not stage._all_wrong()
    typed(stage.selection_box.turn.line, "180")
    assert motion(stage, B).turn_deg == 180


@pytest.mark.parametrize(("button", "index", "edge"), [(1, 2, 1500.0), (2, 3, 720.0), (3, 1, 20.0)])
def test_right_upper_and_lower_edges_are_brought_in_line(
    make: Make, button: int, index: int, edge: float
) -> None:
    stage = make(
        with_placed(
            Placed("shelf", 1, "full", 1, Motion(50, 20)),
            Placed("shelf", 2, "full", 1, Motion(900, 420)),
        )
    )
    select(stage, A, B)
    QTest.mouseClick(stage.selection_box.align[button], LEFT)
    bounds = [stage._bench.shape(k).bounds[index] for k in (A, B)]
    assert bounds == pytest.approx([edge, edge])
    assert not stage._all_wrong()


def test_shift_alt_and_wheel_turn_by_one_degree_where_any_angle_is_allowed(make: Make) -> None:
    stage = make(with_placed(Placed("disc", 1, "full", 1, Motion(500, 500))))
    select(stage, DISC)
    port, here = stage.canvas.view.viewport(), QPointF(spot(stage, DISC))
    for _ in range(3):
        event = QWheelEvent(
            here, port.mapToGlobal(here), QPoint(), QPoint(120, 0), Qt.MouseButton.NoButton,
            ALT | SHIFT, Qt.ScrollPhase.NoScrollPhase, False,
        )  # fmt: skip
        QApplication.sendEvent(port, event)
    assert motion(stage, DISC).turn_deg == pytest.approx(3)


def test_a_grain_that_allows_one_way_only_is_said_when_a_turn_is_refused(make: Make) -> None:
    stage = make()
    select(stage, B)
    stage.preferences.set("turn_deg", 90.0)
    QTest.mouseClick(stage.selection_box.turn_left, LEFT)
    assert motion(stage, B).turn_deg == 180
    QTest.mouseClick(stage.selection_box.over, LEFT)
    assert not motion(stage, B).mirrored
    assert not stage.selection_box.over.isEnabled()
    assert "May not be cut face down" in stage.selection_box.over.toolTip()


# --- rulers and hover ---------------------------------------------------------------------
def test_rulers_count_in_the_project_s_unit_from_the_sheet_under_the_pointer(make: Make) -> None:
    stage = make()
    canvas = stage.canvas
    in_mm = canvas.top_ruler.grab().toImage()
    select(stage, A)
    stage.document.run(SetProject("Inches", (("units", "in"),)))
    assert canvas._unit == "in"
    assert canvas.top_ruler.grab().toImage() != in_mm
    mouse.move(canvas.view.viewport(), at(stage, ("rack", 1), 400, 200))
    assert canvas._origin == stage.floor.places[("rack", 1)]
    mouse.move(canvas.view.viewport(), spot(stage, B))
    assert canvas._origin == stage.floor.places[("full", 1)]
    assert " in" in canvas.hover_text and "mm" not in canvas.hover_text


def test_rulers_read_from_the_sheet_of_the_selection_and_shade_it_from_wherever_they_read(
    make: Make,
) -> None:
    others = (Placed("shelf", 1, "full", 1, Motion(20, 20)),)
    stage = make(with_placed(*others, Placed("shelf", 2, "rack", 1, Motion(20, 20))))
    canvas, (x, y) = stage.canvas, stage.floor.places[("rack", 1)]
    select(stage, B)
    assert canvas._origin == (x, y)
    assert canvas.left_ruler._marks[0] == pytest.approx(20)
    stage.hand.nudge(0.0, 1.0)  # the layout is shown anew
    assert canvas._origin == (x, y)
    assert canvas.left_ruler._marks[0] == pytest.approx(21)
    mouse.move(canvas.view.viewport(), spot(stage, A))
    full = stage.floor.places[("full", 1)]
    assert canvas._origin == full
    assert canvas.left_ruler._marks[0] == pytest.approx(21 + y - full[1])
    assert canvas.top_ruler._marks[0] == pytest.approx(20 + x - full[0])


# --- tray ---------------------------------------------------------------------------------
def test_every_row_of_the_tray_has_a_picture_in_the_tint_of_its_panel(make: Make) -> None:
    stage = make()
    tray = stage.tray
    for row in range(tray.count()):
        piece = tray.item(row).data(Qt.ItemDataRole.UserRole)
        image = tray.item(row).icon().pixmap(tray.iconSize()).toImage()
        tint = theme.tint(stage._bench.tints[stage._bench.pieces[piece].panel])
        middle = image.pixelColor(image.width() // 2, image.height() // 2)
        assert middle == QColor(tint), piece
        assert image.pixelColor(0, 0).alpha() == 0


def test_the_button_and_a_double_click_place_a_piece_at_once(make: Make, qtbot: QtBot) -> None:
    stage = make()
    tray = stage.tray
    first = tray.visualItemRect(tray.item(0)).center()
    QTest.mouseClick(tray.viewport(), LEFT, NONE, first)
    QTest.mouseClick(stage.place_button, LEFT)
    qtbot.waitUntil(lambda: C in stage._bench.placed, timeout=5000)
    assert stage.document.undo_text == "Place Shelf · 3"
    disc = tray.visualItemRect(tray.item(0)).center()
    QTest.mouseClick(tray.viewport(), LEFT, NONE, disc)
    QTest.mouseDClick(tray.viewport(), LEFT, NONE, disc)
    qtbot.waitUntil(lambda: DISC in stage._bench.placed, timeout=5000)
    assert not stage._all_wrong()


def test_escape_gives_up_a_drag_out_of_the_tray(make: Make) -> None:
    stage = make()
    before = stage.document.project
    port, row = stage.tray.viewport(), stage.tray.visualItemRect(stage.tray.item(1)).center()
    goal = port.mapFromGlobal(
        stage.canvas.view.viewport().mapToGlobal(at(stage, ("full", 1), 800, 700))
    )
    QTest.mousePress(port, LEFT, NONE, row)
    mouse.move(port, row + QPoint(30, 0), LEFT)
    mouse.move(port, goal, LEFT)
    assert DISC in stage.floor.pieces
    QTest.keyClick(stage.tray, Qt.Key.Key_Escape)
    QTest.mouseRelease(port, LEFT, NONE, goal)
    assert DISC not in stage.floor.pieces
    assert stage.document.project is before


# --- nesting ------------------------------------------------------------------------------
def test_f5_nests_f5_stops_and_ctrl_k_keeps(make: Make, qtbot: QtBot) -> None:
    stage = make(bench.project())
    QTest.keyClick(stage, Qt.Key.Key_F5)
    assert stage.nest_box.running
    qtbot.waitUntil(lambda: len(stage.nest_box.curve.points) >= 1, timeout=5000)
    QTest.keyClick(stage, Qt.Key.Key_F5)
    qtbot.waitUntil(lambda: not stage.nest_box.running, timeout=5000)
    assert stage.document.project.layouts
    QTest.keyClick(stage, Qt.Key.Key_K, CTRL)
    assert [k.name for k in stage.document.project.layouts] == ["Layout 1", "Layout 2"]


def test_the_curve_rises_with_time_and_is_seen(make: Make, qtbot: QtBot) -> None:
    stage = make(bench.project())
    curve = stage.nest_box.curve
    QTest.mouseClick(stage.nest_box.go, LEFT)
    blank = curve.grab().toImage()
    qtbot.waitUntil(lambda: len(curve.points) >= 3, timeout=5000)
    qtbot.waitUntil(lambda: not stage.nest_box.running, timeout=5000)
    seconds, shares = zip(*curve.points, strict=True)
    assert list(seconds) == sorted(seconds)
    assert list(shares) == sorted(shares) and shares[-1] > shares[0]
    assert curve.grab().toImage() != blank
    assert "% after" in curve.accessibleDescription()


def test_what_lies_by_hand_stays_while_only_the_tray_is_nested(make: Make, qtbot: QtBot) -> None:
    by_hand = Placed("shelf", 2, "full", 1, Motion(1500, 600))
    stage = make(with_placed(by_hand))
    how = stage.nest_box.how
    how.setFocus()
    QTest.keyClick(how, Qt.Key.Key_End)
    assert how.value == "rest"
    try:
        QTest.mouseClick(stage.nest_box.go, LEFT)
        qtbot.waitUntil(lambda: not stage.nest_box.running, timeout=5000)
        assert motion(stage, B) == by_hand.motion
        assert not stage._bench.placed[B].locked, "held for this time only"
        assert len(stage._bench.placed) > 1
    finally:
        how.set_value("all")


def test_the_lock_box_holds_a_piece_through_nesting(make: Make, qtbot: QtBot) -> None:
    stage = make(with_placed(Placed("shelf", 2, "full", 1, Motion(1500, 600))))
    select(stage, B)
    box = stage.selection_box.lock
    QTest.mouseClick(box, LEFT, NONE, QPoint(8, box.height() // 2))
    assert stage._bench.placed[B].locked
    QTest.mouseClick(stage.nest_box.go, LEFT)
    qtbot.waitUntil(lambda: not stage.nest_box.running, timeout=5000)
    assert motion(stage, B) == Motion(1500, 600)


# --- layouts kept -------------------------------------------------------------------------
def click_row(table: QTableWidget, row: int) -> QPoint:
    place = table.visualItemRect(table.item(row, 0)).center()
    QTest.mouseClick(table.viewport(), LEFT, NONE, place)
    return place


def test_layouts_are_kept_chosen_renamed_and_forgotten_by_hand(make: Make) -> None:
    stage = make()
    box = stage.layouts_box
    QTest.mouseClick(box.keep_button, LEFT)
    assert stage.document.project.current_layout == "Layout 2"
    select(stage, B)
    key(stage, Qt.Key.Key_Delete)
    click_row(box.table, 0)
    assert stage.document.project.current_layout == "Layout 1"
    assert set(stage._bench.placed) == {A, B}
    place = click_row(box.table, 1)
    assert set(stage._bench.placed) == {A}
    QTest.mouseDClick(box.table.viewport(), LEFT, NONE, place)
    editor = box.table.findChild(QLineEdit)
    assert isinstance(editor, QWidget)
    QTest.keyClick(editor, Qt.Key.Key_A, CTRL)
    QTest.keyClicks(editor, "One shelf")
    QTest.keyClick(editor, Qt.Key.Key_Return)
    QApplication.processEvents()  # the table takes it over a moment later
    assert stage.document.project.current_layout == "One shelf"
    QTest.mouseClick(box.forget_button, LEFT)
    assert [k.name for k in stage.document.project.layouts] == ["Layout 1"]
    stage.document.undo()
    assert [k.name for k in stage.document.project.layouts] == ["Layout 1", "One shelf"]


def test_the_table_of_layouts_is_worked_by_keys_too(make: Make) -> None:
    stage = make()
    box = stage.layouts_box
    stage.keep_copy()
    box.table.setFocus()
    QTest.keyClick(box.table, Qt.Key.Key_Up)
    assert stage.document.project.current_layout == "Layout 1"
    QTest.keyClick(box.table, Qt.Key.Key_F2)
    editor = box.table.findChild(QLineEdit)
    assert editor is not None
    QTest.keyClicks(editor, "By hand")
    QTest.keyClick(editor, Qt.Key.Key_Return)
    QApplication.processEvents()  # the table takes it over a moment later
    assert stage.document.project.current_layout == "By hand"
