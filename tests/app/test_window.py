"""The window around the stages: going about, notices, keyboard and names."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAction
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QApplication,
    QComboBox,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QWidget,
)

from app.commands import SetProject
from app.widgets.help import AboutDialog, KeyboardDialog, licence_text
from core.findings import Finding, Severity
from core.project.model import Project
from tests.app.window_bench import add

LEFT = Qt.MouseButton.LeftButton
CTRL = Qt.KeyboardModifier.ControlModifier


# --- going about ------------------------------------------------------------------------------


def test_four_stages_with_what_is_left_to_do(make_window, idle) -> None:
    window = make_window()
    assert [window.tabs.tabText(i)[:1] for i in range(4)] == ["1", "2", "3", "4"]
    add(window)
    idle(window)
    assert window.tabs.tabText(0) == "1 Panels · 1 (1 without a board)"


def test_ctrl_and_a_number_goes_to_a_stage(make_window) -> None:
    window = make_window()
    for i in (3, 1, 2, 0):
        QTest.keyClick(window, Qt.Key(Qt.Key.Key_1 + i), CTRL)
        assert window.stage is window.stages[i]
        assert window.tabs.currentIndex() == i


def test_a_click_on_a_tab_goes_to_its_stage(make_window) -> None:
    window = make_window()
    QTest.mouseClick(window.tabs, LEFT, pos=window.tabs.tabRect(2).center())
    assert window.stage is window.stages[2]


def test_the_stage_menu_has_what_the_stage_can_do_after_a_rest(make_window, idle) -> None:
    window = make_window()
    for index in (2, 1, 0, 2):
        window.open_stage(index)
        idle(window)
        QTest.qWait(20)
        assert (
            window.menus.stage_menu.parent() is window
        )  # Qt clears up what hangs on the bar alone
        window.menus.stage_menu.aboutToShow.emit()
        shown = {action.text() for action in window.menus.stage_menu.actions()}
        assert {action.text() for action in window.stage.stage_actions()} <= shown


def test_the_keys_of_a_stage_work_though_its_menu_was_never_opened(make_window) -> None:
    window = make_window()
    for stage in window.stages:
        for action in stage.stage_actions():
            if action.shortcuts():
                assert stage in action.associatedObjects(), action.text()


def test_undo_and_redo_say_what_they_do(make_window) -> None:
    window = make_window()
    assert not window.undo_button.isEnabled()
    add(window)
    assert window.menus.undo_action.text() == "Undo: Add Shelf"
    QTest.mouseClick(window.undo_button, LEFT)
    assert not window.document.project.panels
    assert window.menus.redo_action.text() == "Redo: Add Shelf"
    QTest.keyClick(window, Qt.Key.Key_Y, CTRL)
    assert len(window.document.project.panels) == 1
    QTest.keyClick(window, Qt.Key.Key_Z, CTRL)
    assert not window.document.project.panels


# --- notices ----------------------------------------------------------------------------------


@pytest.fixture
def noticed(make_window, engine, idle):
    """A window with a stop, a warning and a note."""
    engine.findings = (
        Finding("note", Severity.NOTE, "The gap was closed", "shelf", (10.0, 10.0)),
        Finding("stop", Severity.STOP, "The panel fits nothing", "shelf", remedy="Split it."),
        Finding("warn", Severity.WARN, "The slot is narrow", "shelf", (100.0, 100.0)),
    )
    window = make_window()
    add(window)
    idle(window)
    return window


def test_notices_are_counted_and_the_worst_stands_first(noticed) -> None:
    assert noticed.notices._counts.text() == "● 1 stop  ▲ 1 warning  ■ 1 note"
    assert noticed.notices._sentence.full_text == "● The panel fits nothing. Split it."


def test_a_worse_notice_that_comes_later_stands_first(make_window, engine, idle) -> None:
    engine.findings = (Finding("note", Severity.NOTE, "The gap was closed"),)
    window = make_window()
    idle(window)
    assert window.notices.current.code == "note"
    engine.findings = (*engine.findings, Finding("stop", Severity.STOP, "Nothing fits"))
    add(window)
    idle(window)
    assert window.notices.current.code == "stop"


def test_f8_goes_from_notice_to_notice(noticed) -> None:
    seen = [noticed.notices.current.code]
    for _ in range(3):
        QTest.keyClick(noticed, Qt.Key.Key_F8)
        seen.append(noticed.notices.current.code)
    assert seen == ["stop", "warn", "note", "stop"]


def test_the_list_of_notices_opens_and_a_row_goes_to_its_place(noticed) -> None:
    QTest.mouseClick(noticed.notices._counts, LEFT)
    rows = noticed.notices._list
    assert rows.isVisible()
    assert rows.topLevelItemCount() == 3
    noticed.open_stage(3)
    rect = rows.visualItemRect(rows.topLevelItem(1))
    QTest.mouseClick(rows.viewport(), LEFT, pos=rect.center())
    assert noticed.stage is noticed.stages[0]
    assert noticed.notices.current.code == "warn"


def test_the_notice_in_view_stays_when_others_go(noticed, engine, idle) -> None:
    noticed.notices.step(1)
    engine.findings = engine.findings[2:]
    add(noticed, "Other")
    idle(noticed)
    assert noticed.notices.current.code == "warn"


def test_a_guess_of_units_can_be_put_right_beside_the_notice(
    make_window, qtbot, idle, tmp_path: Path
) -> None:
    import ezdxf

    path = tmp_path / "plate.dxf"
    drawing = ezdxf.new(units=4)
    drawing.modelspace().add_lwpolyline([(0, 0), (20, 0), (20, 10), (0, 10)], close=True)
    drawing.saveas(path)
    window = make_window()
    window.files.open([path])
    qtbot.waitUntil(lambda: bool(window.document.project.panels), timeout=60_000)
    idle(window)
    window.document.set_reading_findings(
        "plate.dxf",
        (
            Finding(
                "units-guessed", Severity.WARN, "Taken as mm", source="plate.dxf", fix="take-as-in"
            ),
        ),
    )
    window.context.derived.findings_changed.emit()
    assert window.notices._button.text() == "Take it as inches"
    QTest.mouseClick(window.notices._button, LEFT)
    qtbot.waitUntil(
        lambda: window.document.project.panels[0].size_mm[0] == pytest.approx(508.0),
        timeout=60_000,
    )


# --- keyboard and names -----------------------------------------------------------------------


def test_no_two_keys_mean_the_same_at_once(make_window) -> None:
    window = make_window()
    everywhere = [k.toString() for a in window.actions() for k in a.shortcuts()]
    for stage in window.stages:
        keys = everywhere + [k.toString() for a in stage.stage_actions() for k in a.shortcuts()]
        twice = [key for key, n in Counter(keys).items() if n > 1]
        assert not twice, f"{stage.title}: {twice}"


def test_what_grows_by_plus_grows_on_a_keyboard_whose_plus_needs_shift_too(make_window) -> None:
    """There Ctrl, Shift and "=" mean Ctrl++, so Ctrl+Shift++ alone is out of reach."""
    window = make_window()
    keys = {k.toString() for k in window.menus.bigger_action.shortcuts()}
    assert {"Ctrl+Alt+=", "Ctrl+Shift++"} <= keys and "Ctrl+Shift+=" not in keys
    for stage in (window.stages[0], window.stages[3]):
        keys = {k.toString() for k in stage.larger_action.shortcuts()}
        assert keys == {"Ctrl++", "Ctrl+="}


def test_the_keyboard_reference_has_every_key(make_window, qtbot) -> None:
    window = make_window()
    dialog = KeyboardDialog(window, window)
    texts = [label.text() for label in dialog.findChildren(QLabel)]
    shown = " ".join(texts)
    for action in window.actions():
        for key in action.shortcuts():
            assert key.toString() in shown, action.text()
    assert "Everywhere" in texts
    assert "Panels" in texts


def test_about_names_every_library_with_its_licence(make_window) -> None:
    text = licence_text()
    for name in ("shapely", "ezdxf", "pypdfium2", "PySide6"):
        assert name in text
    assert all(": " in line and line.split(": ", 1)[1] for line in text.splitlines())
    dialog = AboutDialog(make_window())
    assert "MIT" in " ".join(label.text() for label in dialog.findChildren(QLabel))


def test_everything_that_takes_the_focus_has_a_name(make_window, shop, idle) -> None:
    window = make_window(Project(shop=shop))
    add(window)
    idle(window)
    window.open_shop()
    kinds = (QAbstractButton, QAbstractItemView, QComboBox, QLineEdit, QPlainTextEdit)
    nameless = []
    for widget in window.findChildren(QWidget):
        if not isinstance(widget, kinds) or widget.focusPolicy() is Qt.FocusPolicy.NoFocus:
            continue
        # The list a combo box drops down belongs to it and speaks with its name.
        if "ComboBox" in widget.parent().metaObject().className():
            continue
        text = widget.text() if isinstance(widget, QAbstractButton) else ""
        action = widget.defaultAction() if hasattr(widget, "defaultAction") else None
        if not (widget.accessibleName() or text or (action and action.text())):
            nameless.append(f"{type(widget).__name__} in {type(widget.parent()).__name__}")
    assert not nameless, nameless


def test_tab_walks_through_the_fields_in_the_order_they_stand(make_window, idle) -> None:
    window = make_window()
    add(window)
    idle(window)
    stage = window.stages[0]
    stage.select_ids(["shelf"])
    QApplication.processEvents()
    stage.properties.name.line.setFocus()
    walked = []
    for _ in range(6):
        QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
        walked.append(QApplication.focusWidget().accessibleName())
    assert walked == ["Quantity", "Board", "Grain", "Show face", "Cut by", "If too big"]


def test_every_change_the_menu_offers_can_be_reached(make_window) -> None:
    window = make_window()
    menus = [a.text().replace("&", "") for a in window.menuBar().actions()]
    assert menus == ["File", "Edit", "Stage", "Go", "View", "Help"]
    assert all(isinstance(a, QAction) for a in window.stages[0].stage_actions())


def test_renaming_the_project_is_a_step(make_window, ask) -> None:
    window = make_window()
    ask.will("text", "Kiln wall")
    window.menus.rename_action.trigger()
    assert window.document.project.name == "Kiln wall"
    assert window.windowTitle().startswith("Kiln wall")
    window.document.undo()
    assert window.document.project.name == "Untitled"
    window.document.run(SetProject("Rename", (("name", "X"),)))
    assert window.document.title == "X"


def test_work_over_half_a_second_shows_how_far_it_is_and_can_be_stopped(make_window, qtbot) -> None:
    import time

    window = make_window()
    results = []

    def work(progress, stop):
        while not stop():
            progress(0.4, "Nesting, step 12")
            time.sleep(0.01)
        return "kept"

    window.context.jobs.start("Nesting", work, done=results.append)
    assert not window.progress.isVisible()
    qtbot.waitUntil(window.progress.isVisible, timeout=3000)
    qtbot.waitUntil(lambda: window.progress._label.text() == "Nesting, step 12")
    QTest.mouseClick(window.progress._cancel, LEFT)
    qtbot.waitUntil(lambda: results == ["kept"])
    qtbot.waitUntil(lambda: not window.progress.isVisible())
