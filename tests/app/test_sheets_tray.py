"""Locks, tray and menu of pieces on the Sheets stage, and the line that tells."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QMenu

from tests.app import mouse
from tests.app.floor import (
    LEFT,
    NONE,
    RIGHT,
    A,
    B,
    Make,
    at,
    drag,
    key,
    select,
    spot,
)


@pytest.fixture
def make(make_sheets: Make) -> Make:
    return make_sheets


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
