"""Panels come onto stage 1: demos, drawings, typed and pasted ones."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

LEFT = Qt.MouseButton.LeftButton


# --- the empty state --------------------------------------------------------------------------


def test_an_empty_project_says_what_to_do_and_offers_the_demos(make_window) -> None:
    stage = make_window().stages[0]
    assert stage.start.isVisible()
    assert not stage.list.isVisible()
    assert stage.start.choose_button.isVisible()
    assert [button.demo.title for button in stage.start.demo_buttons] == [
        "Studio counter",
        "Glaze shelves",
        "Kiln wall",
    ]


def test_a_demo_is_one_click_away_and_stays_untouched(make_window, qtbot, idle) -> None:
    window = make_window()
    stage = window.stages[0]
    QTest.mouseClick(stage.start.demo_buttons[0], LEFT)
    qtbot.waitUntil(lambda: bool(window.document.project.panels), timeout=10_000)
    assert window.document.path is None
    assert not window.document.dirty
    assert stage.wall.isVisible()
    idle(window)


def test_the_card_for_sizes_goes_with_the_project_it_was_opened_in(make_window) -> None:
    window = make_window()
    stage = window.stages[0]
    stage.size_action.trigger()
    assert stage.size_card.isVisibleTo(stage)
    window.files.new()
    assert not stage.size_card.isVisibleTo(stage)


def test_chosen_drawings_are_read(make_window, qtbot, ask, idle, tmp_path: Path) -> None:
    window = make_window()
    svg = tmp_path / "plate.svg"
    svg.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="200mm" '
        'viewBox="0 0 400 200"><rect width="400" height="200" fill="none" stroke="black"/></svg>'
    )
    ask.will("open_files", [svg])
    QTest.mouseClick(window.stages[0].start.choose_button, LEFT)
    qtbot.waitUntil(lambda: bool(window.document.project.panels), timeout=10_000)
    panel = window.document.project.panels[0]
    assert panel.name == "plate"
    assert panel.size_mm == pytest.approx((400, 200), abs=0.01)
    assert window.document.undo_text == "Read plate.svg"
    assert window.stages[0].selected == (panel,)


def test_a_drawing_dropped_on_the_window_is_read(make_window, qtbot, tmp_path: Path) -> None:
    import ezdxf

    window = make_window()
    path = tmp_path / "side.dxf"
    drawing = ezdxf.new(units=4)
    drawing.modelspace().add_lwpolyline([(0, 0), (700, 0), (700, 530), (0, 530)], close=True)
    drawing.saveas(path)
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(path))])
    enter = QDragEnterEvent(
        QPoint(400, 300), Qt.DropAction.CopyAction, mime, LEFT, Qt.KeyboardModifier.NoModifier
    )
    QApplication.sendEvent(window, enter)
    assert enter.isAccepted()
    drop = QDropEvent(
        QPointF(400, 300), Qt.DropAction.CopyAction, mime, LEFT, Qt.KeyboardModifier.NoModifier
    )
    QApplication.sendEvent(window, drop)
    qtbot.waitUntil(lambda: bool(window.document.project.panels), timeout=10_000)
    assert window.document.project.panels[0].size_mm == (700.0, 530.0)


def test_a_file_that_is_no_drawing_is_a_sentence_in_the_window(
    make_window, qtbot, tmp_path: Path
) -> None:
    window = make_window()
    bad = tmp_path / "bad.dxf"
    bad.write_bytes(b"\x00\x01 nothing")
    window.files.open([bad])
    qtbot.waitUntil(lambda: "bad.dxf" in window.banner.text, timeout=10_000)
    assert window.banner.isVisible()
    assert not window.document.project.panels
    assert window.document.undo_text is None


# --- typed and pasted -------------------------------------------------------------------------


def test_a_panel_can_be_typed_with_the_keyboard_alone(make_window, qtbot) -> None:
    window = make_window()
    stage = window.stages[0]
    QTest.mouseClick(stage.start.size_button, LEFT)
    card = stage.size_card
    assert card.isVisible()
    qtbot.waitUntil(card.name_field.line.hasFocus)
    QTest.keyClicks(card.name_field.line, "Shelf")
    QTest.keyClick(card.name_field.line, Qt.Key.Key_Tab)
    QTest.keyClicks(card.size_field.line, "800x300")
    QTest.keyClick(card.size_field.line, Qt.Key.Key_Return)
    panel = window.document.project.panels[0]
    assert (panel.name, panel.size_mm) == ("Shelf", (800.0, 300.0))
    assert card.isVisible(), "ready for the next one"
    QTest.keyClick(card.name_field.line, Qt.Key.Key_Escape)
    QTest.keyClick(card, Qt.Key.Key_Escape)
    assert not card.isVisible()


def test_simple_shapes_can_be_typed_too(make_window) -> None:
    window = make_window()
    stage = window.stages[0]
    QTest.mouseClick(stage.start.size_button, LEFT)
    card = stage.size_card
    QTest.keyClicks(card.name_field.line, "Lid")
    QTest.keyClicks(card.size_field.line, "disc 350")
    QTest.mouseClick(card.add_button, LEFT)
    (panel,) = window.document.project.panels
    assert panel.size_mm == (350.0, 350.0)
    assert panel.region.outer.has_arcs
    QTest.keyClicks(card.size_field.line, "900x600 r400")
    QTest.mouseClick(card.add_button, LEFT)
    assert card.size_field.problem.isVisible()
    assert len(window.document.project.panels) == 1


def test_a_typed_panel_without_a_size_is_asked_for_in_place(make_window) -> None:
    window = make_window()
    stage = window.stages[0]
    QTest.mouseClick(stage.start.size_button, LEFT)
    QTest.mouseClick(stage.size_card.add_button, LEFT)
    assert stage.size_card.size_field.problem.isVisible()
    assert not window.document.project.panels


def test_a_pasted_list_becomes_panels_in_one_step(make_window, qtbot) -> None:
    window = make_window()
    stage = window.stages[0]
    QApplication.clipboard().setText("Shelf, 800, 300, 4\nBack, 820, nonsense\nTop, 900, 300")
    QTest.mouseClick(stage.start.paste_button, LEFT)
    card = stage.paste_card
    assert card.add_button.text() == "Add 2 panels"
    assert "Line 2" in card.told.text()
    QTest.mouseClick(card.add_button, LEFT)
    assert [p.name for p in window.document.project.panels] == ["Shelf", "Top"]
    assert window.document.history == ("Add 2 panels",)
    assert card.edit.toPlainText() == "Back, 820, nonsense", "what is to be mended stays"


def test_a_list_may_come_together_with_drawings_and_in_a_spreadsheets_own_letters(
    make_window, qtbot, tmp_path: Path
) -> None:
    window = make_window()
    told: list[str] = []
    window.files.told.connect(lambda _, text: told.append(text))
    table, picture = tmp_path / "parts.csv", tmp_path / "photo.csv"
    table.write_bytes("name;width;height\nTür;800;300\n".encode("cp1252"))
    picture.write_bytes(b"\x89PNG\x00\x00")
    drawing = tmp_path / "plate.svg"
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="60mm" viewBox="0 0 90 60">'
        '<rect width="90" height="60"/></svg>'
    )
    window.files.open([table, drawing])
    assert "Tür" in window.stages[0].paste_card.edit.toPlainText()
    qtbot.waitUntil(lambda: len(window.document.project.panels) == 1, timeout=60_000)
    assert not told
    window.files.open([picture])
    window.files.open([table, picture])
    assert told == [
        "photo.csv: This is no table of text. Save the spreadsheet as CSV first.",
        "Open one list of panels at a time.",
    ]


def test_a_list_in_a_file_opens_for_a_look_first(make_window, tmp_path: Path) -> None:
    window = make_window()
    path = tmp_path / "parts.csv"
    path.write_text("name,width,height,quantity\nShelf,800,300,2\n")
    window.files.open([path])
    card = window.stages[0].paste_card
    assert card.isVisible()
    assert not window.document.project.panels
    QTest.mouseClick(card.add_button, LEFT)
    assert window.document.project.panels[0].quantity == 2
