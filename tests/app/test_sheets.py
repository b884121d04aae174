"""The Sheets stage driven with real mouse and key events: what is shown, dragging, selecting."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QGraphicsRectItem
from pytestqt.qtbot import QtBot
from shapely.geometry import box

from app import theme
from app.stages.sheets_grip import glance
from core.geometry import Motion
from core.project.model import Placed, Project
from tests.app import mouse
from tests.app import sheets_bench as bench
from tests.app.floor import (
    ALT,
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


def test_one_piece_is_not_called_pieces_and_a_selection_over_sheets_says_what_moves(
    make: Make,
) -> None:
    stage = make(with_placed(Placed("shelf", 1, "full", 1, Motion(20, 20))))
    assert stage.summary.text().startswith("1 piece on 1 sheet, ")
    others = (Placed("shelf", 1, "full", 1, Motion(20, 20)),)
    stage = make(with_placed(*others, Placed("shelf", 2, "rack", 1, Motion(20, 20))))
    select(stage, A, B)
    shown = stage.selection_box.title.text()
    assert shown.startswith("2 pieces on several sheets. What moves is on one: 1 piece")


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


# --- the floor ----------------------------------------------------------------------------
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
