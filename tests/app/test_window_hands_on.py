"""More of the window with mouse and keys: menus, files, recovery, steps across stages."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAction
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMenu, QPushButton, QWidget

from app import document as document_module
from app.panel_table import rectangle_panel
from app.recovery import Recovery
from app.widgets.help import KeyboardDialog
from app.window import MainWindow
from core.findings import Finding, Severity
from core.project.file import load_project, project_to_json, save_project
from core.project.model import Project
from tests.app.window_bench import add

LEFT = Qt.MouseButton.LeftButton
CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
menus = pytest.mark.qt_log_ignore("This plugin does not support", extend=True)


def go_menu(window: MainWindow, *path: str) -> None:
    """Open a menu of the bar with the mouse, then go down to an entry with the keys."""
    bar = window.menuBar()
    head = named(bar.actions(), path[0])
    QTest.mouseClick(bar, LEFT, pos=bar.actionGeometry(head).center())
    menu = head.menu()
    for i, text in enumerate(path[1:], start=1):
        assert isinstance(menu, QMenu) and menu.isVisible(), path[:i]
        action = named(menu.actions(), text)
        for _ in menu.actions():
            if menu.activeAction() is action:
                break
            QTest.keyClick(menu, Qt.Key.Key_Down)
        assert menu.activeAction() is action
        QTest.keyClick(menu, Qt.Key.Key_Return)
        QApplication.processEvents()
        menu = action.menu()
    for _ in range(4):  # a bare X server leaves menus open
        popup = QApplication.activePopupWidget()
        if popup is not None:
            popup.close()


def named(actions: list[QAction], text: str) -> QAction:
    return next(a for a in actions if a.text().replace("&", "").startswith(text))


# --- files --------------------------------------------------------------------------------
def test_save_as_goes_to_another_file_and_stays_there(make_window, ask, tmp_path) -> None:
    window = make_window()
    add(window)
    ask.will("save_file", tmp_path / "first.json")
    QTest.keyClick(window, Qt.Key.Key_S, CTRL)
    ask.will("save_file", tmp_path / "second.json")
    QTest.keyClick(window, Qt.Key.Key_S, CTRL | SHIFT)
    add(window, "Side")
    QTest.keyClick(window, Qt.Key.Key_S, CTRL)  # in place, no question
    assert len(load_project(tmp_path / "first.json").panels) == 1
    assert len(load_project(tmp_path / "second.json").panels) == 2
    assert window.context.preferences.recent == [tmp_path / "second.json", tmp_path / "first.json"]


@menus
def test_recent_projects_and_demos_are_in_the_menu(make_window, qtbot, tmp_path) -> None:
    path = tmp_path / "cabinet.json"
    save_project(Project(name="Cabinet", panels=(rectangle_panel("Door", 500, 300),)), path)
    window = make_window()
    window.context.preferences.add_recent(path)
    go_menu(window, "File", "Open recent", "cabinet.json")
    qtbot.waitUntil(lambda: window.document.path == path, timeout=10_000)
    go_menu(window, "File", "Open a demo", "Kiln wall")
    qtbot.waitUntil(lambda: window.document.project.name == "Kiln wall", timeout=20_000)
    assert window.document.path is None, "a demo is a copy"


def test_a_change_on_disk_is_noticed_on_coming_back_and_may_be_left(
    make_window, ask, qtbot, tmp_path
) -> None:
    window = make_window()
    add(window)
    path = tmp_path / "p.json"
    ask.will("save_file", path)
    QTest.keyClick(window, Qt.Key.Key_S, CTRL)
    other = QWidget()
    qtbot.addWidget(other)
    with qtbot.waitActive(other):
        other.show()
        other.activateWindow()
    save_project(Project(panels=(rectangle_panel("From elsewhere", 10, 10),)), path)
    assert not window.banner.isVisible()
    with qtbot.waitActive(window):
        window.activateWindow()
    qtbot.waitUntil(lambda: "changed by another program" in window.banner.text)
    QTest.mouseClick(window.banner.buttons[1], LEFT)
    assert not window.banner.isVisible()
    assert window.document.project.panels[0].name == "Shelf"


def test_a_copy_is_written_every_minute(make_window, qtbot, tmp_path, monkeypatch) -> None:
    assert document_module.AUTOSAVE_MS <= 60_000
    monkeypatch.setattr(document_module, "AUTOSAVE_MS", 40)  # a short minute
    window = make_window(with_recovery=True)
    copy = window._recovery.copy_path
    add(window)
    assert not copy.exists()
    qtbot.waitUntil(copy.exists, timeout=5000)
    qtbot.waitUntil(lambda: window.document.is_kept_aside)
    assert load_project(copy).panels[0].name == "Shelf"
    add(window, "Side")
    qtbot.waitUntil(lambda: len(load_project(copy).panels) == 2, timeout=5000)


def test_work_of_a_killed_run_can_be_thrown_away(make_window, tmp_path) -> None:
    for name in ("Older", "Newer"):
        killed = Recovery(tmp_path / "recovery")
        killed.write(Project(name=name), None)
        killed.release()
    window = make_window(with_recovery=True)
    window.offer_recovery(window._recovery.leftovers())
    assert "a project without a file" in window.banner.text
    for left in (1, 0):
        throw = next(b for b in window.banner.buttons if b.text() == "Throw it away")
        QTest.mouseClick(throw, LEFT)
        assert len(window._recovery.leftovers()) == left
    assert not window.banner.isVisible()
    assert not window.document.dirty


# --- steps across stages ------------------------------------------------------------------
def test_steps_of_every_stage_and_the_shop_are_undone_by_name_in_turn(
    make_window, idle, qtbot, shop
) -> None:
    window = make_window(Project(shop=shop))
    add(window)
    idle(window)
    start = project_to_json(window.document.project)

    panels = window.stages[0]
    panels.select_ids(["shelf"])
    line = panels.properties.name.line
    line.setFocus()
    QTest.keyClick(line, Qt.Key.Key_A, CTRL)
    QTest.keyClicks(line, "Glaze shelf")
    QTest.keyClick(line, Qt.Key.Key_Return)
    idle(window)

    window.open_stage(2)
    QTest.keyClick(window, Qt.Key.Key_F9)
    part = window.shop.parts["rules"].form
    field = part.fields["spacing_mm"].line
    field.setFocus()
    QTest.keyClick(field, Qt.Key.Key_A, CTRL)
    QTest.keyClicks(field, "11")
    QTest.keyClick(field, Qt.Key.Key_Return)
    QTest.keyClick(window, Qt.Key.Key_F9)
    idle(window)

    QTest.keyClick(window, Qt.Key.Key_4, CTRL)
    end = project_to_json(window.document.project)
    assert end != start
    names = []
    while window.menus.undo_action.isEnabled() and window.document.history_at > 1:
        names.append(window.menus.undo_action.text())
        assert names[-1] in window.undo_button.toolTip()
        QTest.keyClick(window, Qt.Key.Key_Z, CTRL)
    assert len(names) == 2 and all(n.startswith("Undo: ") for n in names), names
    assert project_to_json(window.document.project) == start
    while window.menus.redo_action.isEnabled():
        QTest.keyClick(window, Qt.Key.Key_Z, CTRL | SHIFT)
    assert project_to_json(window.document.project) == end


# --- keyboard and notices -----------------------------------------------------------------
def test_f1_opens_the_keyboard_reference_and_escape_closes_it(make_window, qtbot) -> None:
    window = make_window()
    QTest.keyClick(window, Qt.Key.Key_F1)
    dialog = window.findChild(KeyboardDialog)
    assert dialog is not None and dialog.isVisible()
    QTest.keyClick(dialog, Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: window.findChild(KeyboardDialog) is None)


def test_notices_are_gone_through_and_followed_by_keys_alone(make_window, engine, idle) -> None:
    engine.findings = (
        Finding("layout-overlap", Severity.STOP, "They overlap", "shelf", (10.0, 10.0)),
        Finding("note", Severity.NOTE, "The gap was closed", "shelf", (10.0, 10.0)),
    )
    window = make_window()
    add(window)
    idle(window)
    window.open_stage(3)
    QTest.keyClick(window, Qt.Key.Key_F8, SHIFT)
    rows = window.notices._list
    assert rows.isVisible()
    rows.setFocus()
    QTest.keyClick(rows, Qt.Key.Key_Home)
    QTest.keyClick(rows, Qt.Key.Key_Return)
    assert window.stage is window.stages[2]
    QTest.keyClick(rows, Qt.Key.Key_Down)
    QTest.keyClick(rows, Qt.Key.Key_Return)
    assert window.notices.current.code == "note"
    assert window.stage is window.stages[0]


@menus
def test_text_grows_and_colours_change_by_key_and_menu(make_window) -> None:
    window = make_window()
    size = QApplication.font().pointSizeF()
    QTest.keyClick(window, Qt.Key.Key_Plus, CTRL | SHIFT)
    assert QApplication.font().pointSizeF() > size
    go_menu(window, "View", "Dark")
    assert window.palette().window().color().lightness() < 60


# --- reasons ------------------------------------------------------------------------------
def test_what_cannot_be_pressed_says_why_and_stops_saying_so(make_window, idle, shop) -> None:
    window = make_window()
    idle(window)
    silent, why = [], {}
    for i in range(4):
        window.open_stage(i)
        QApplication.processEvents()
        for button in window.stage.findChildren(QPushButton):
            if button.isVisible() and not button.isEnabled():
                why[button.text()] = button.toolTip().rpartition("\n")[2]
                if button.accessibleDescription() not in button.toolTip().split("\n"):
                    silent.append(f"{window.stage.title}: {button.text()}")
    assert not silent, silent
    assert why["Draw a seam"] == "Choose a panel on the left first."
    assert why["Place this one"] == "The tray is empty."
    assert why["Print…"] == "Nothing is laid out yet: nest the pieces on the Sheets stage."

    window.document.take(Project(shop=shop), None)
    add(window)
    idle(window)
    go = window.stages[2].nest_box.go
    assert go.isEnabled() and "There are no pieces" not in go.toolTip() and "F5" in go.toolTip()
