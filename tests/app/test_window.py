"""The window around the stages: going about, notices, files, recovery, looks, keyboard."""

from __future__ import annotations

import json
import subprocess
import sys
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

from app import theme
from app.commands import AddPanels, SetProject
from app.panel_table import rectangle_panel
from app.preferences import Preferences
from app.preferences_file import export_preferences, import_preferences
from app.recovery import Recovery
from app.widgets.help import AboutDialog, KeyboardDialog, licence_text
from app.widgets.preferences_dialog import PreferencesDialog
from app.window import apply_preferences
from core.findings import Finding, Severity
from core.project.file import load_project, save_project
from core.project.model import Project

LEFT = Qt.MouseButton.LeftButton
CTRL = Qt.KeyboardModifier.ControlModifier


def add(window, name: str = "Shelf") -> None:
    window.document.run(AddPanels(f"Add {name}", (rectangle_panel(name, 800, 300),)))


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
        assert window.stage_menu.parent() is window  # Qt clears up what hangs on the bar alone
        window.stage_menu.aboutToShow.emit()
        shown = {action.text() for action in window.stage_menu.actions()}
        assert {action.text() for action in window.stage.stage_actions()} <= shown


def test_undo_and_redo_say_what_they_do(make_window) -> None:
    window = make_window()
    assert not window.undo_button.isEnabled()
    add(window)
    assert window.undo_action.text() == "Undo: Add Shelf"
    QTest.mouseClick(window.undo_button, LEFT)
    assert not window.document.project.panels
    assert window.redo_action.text() == "Redo: Add Shelf"
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


# --- files ------------------------------------------------------------------------------------


def test_saving_asks_where_once_and_then_saves_in_place(make_window, ask, tmp_path) -> None:
    window = make_window()
    add(window)
    ask.will("save_file", tmp_path / "shelves")
    QTest.keyClick(window, Qt.Key.Key_S, CTRL)
    path = tmp_path / "shelves.json"
    assert load_project(path).panels[0].name == "Shelf"
    assert not window.isWindowModified()
    assert window.windowTitle() == "shelves[*] – Seamwright"
    add(window, "Other")
    assert window.isWindowModified()
    QTest.keyClick(window, Qt.Key.Key_S, CTRL)
    assert len(load_project(path).panels) == 2
    assert window.context.preferences.recent == [path]


def test_opening_reads_a_project_off_the_window_s_thread(make_window, ask, qtbot, tmp_path) -> None:
    path = tmp_path / "p.json"
    save_project(Project(name="Kept", panels=(rectangle_panel("Side", 700, 530),)), path)
    window = make_window()
    ask.will("open_files", [path])
    QTest.keyClick(window, Qt.Key.Key_O, CTRL)
    qtbot.waitUntil(lambda: window.document.path == path, timeout=10_000)
    assert window.document.project.panels[0].name == "Side"
    assert window.document.undo_text is None


def test_a_project_that_cannot_be_opened_is_told_and_nothing_is_lost(
    make_window, qtbot, tmp_path
) -> None:
    window = make_window()
    window.files.may_leave = lambda: True
    add(window)
    bad = tmp_path / "bad.json"
    bad.write_text('{"format": "something else"}')
    window.files.open([bad])
    qtbot.waitUntil(lambda: "bad.json" in window.banner.text, timeout=10_000)
    assert [p.name for p in window.document.project.panels] == ["Shelf"]


def test_closing_with_unsaved_work_can_be_taken_back(make_window, ask) -> None:
    window = make_window()
    add(window)
    ask.will("choose", "Stay")
    window.close()
    assert window.isVisible()
    ask.will("choose", "Leave without saving")
    window.close()
    assert not window.isVisible()


def test_closing_can_save_first(make_window, ask, tmp_path) -> None:
    window = make_window()
    add(window)
    ask.will("choose", "Save")
    ask.will("save_file", tmp_path / "kept.json")
    window.close()
    assert not window.isVisible()
    assert load_project(tmp_path / "kept.json").panels


def test_a_new_project_begins_with_the_maker_s_shop_and_units(make_window, shop) -> None:
    window = make_window()
    window.context.preferences.set_default_shop(shop)
    window.context.preferences.set("units", "in")
    QTest.keyClick(window, Qt.Key.Key_N, CTRL)
    assert window.document.project.shop == shop
    assert window.document.project.units == "in"


def test_a_file_changed_by_another_program_is_offered_in_a_line(
    make_window, qtbot, ask, tmp_path
) -> None:
    window = make_window()
    add(window)
    path = tmp_path / "p.json"
    ask.will("save_file", path)
    window.files.save()
    save_project(Project(panels=(rectangle_panel("From elsewhere", 10, 10),)), path)
    window.document.check_disk()
    assert "changed by another program" in window.banner.text
    QTest.mouseClick(window.banner.buttons[0], LEFT)
    qtbot.waitUntil(
        lambda: window.document.project.panels[0].name == "From elsewhere", timeout=10_000
    )
    assert not window.document.dirty  # it is what the file has
    window.document.undo()
    assert window.document.project.panels[0].name == "Shelf"


def test_work_done_while_a_file_is_read_is_asked_about(make_window, ask, qtbot, tmp_path) -> None:
    save_project(Project(name="Other"), tmp_path / "other.json")
    window = make_window()
    window.files.open_project(tmp_path / "other.json")
    add(window)  # the file is still being read
    ask.will("choose", "Stay")
    qtbot.waitUntil(lambda: ("choose", "Unsaved changes") in ask.asked, timeout=5000)
    assert [p.name for p in window.document.project.panels] == ["Shelf"]


def test_a_copy_is_not_thrown_away_before_there_is_another(
    make_window, qtbot, tmp_path, monkeypatch: pytest.MonkeyPatch
) -> None:
    killed = Recovery(tmp_path / "recovery")
    killed.write(Project(name="Lost"), None)
    killed.release()
    window = make_window(with_recovery=True)
    monkeypatch.setattr(window._recovery, "write", lambda *_: False)  # the disk is full
    window.offer_recovery(window._recovery.leftovers())
    QTest.mouseClick(window.banner.buttons[0], LEFT)
    qtbot.waitUntil(lambda: window.document.project.name == "Lost", timeout=5000)
    assert killed.copy_path.exists()


def test_work_of_a_killed_run_is_offered_and_recovered(make_window, qtbot, tmp_path) -> None:
    original = tmp_path / "order.json"
    save_project(Project(), original)
    code = (
        "import os, sys\n"
        "from pathlib import Path\n"
        "from PySide6.QtCore import QCoreApplication\n"
        "from app.recovery import Recovery\n"
        "from app.panel_table import rectangle_panel\n"
        "from core.project.model import Project\n"
        "app = QCoreApplication([])\n"
        "r = Recovery(Path(sys.argv[1]))\n"
        "r.write(Project(panels=(rectangle_panel('Lost', 1, 1),)), Path(sys.argv[2]))\n"
        "os.kill(os.getpid(), 9)\n"
    )
    folder = tmp_path / "recovery"
    subprocess.run(
        [sys.executable, "-c", code, str(folder), str(original)],
        cwd=Path(__file__).resolve().parents[2],
        check=False,
        timeout=60,
    )
    window = make_window(with_recovery=True)
    recovery = window._recovery
    window.offer_recovery(recovery.leftovers())
    assert "order.json" in window.banner.text
    QTest.mouseClick(window.banner.buttons[0], LEFT)
    qtbot.waitUntil(lambda: bool(window.document.project.panels), timeout=10_000)
    assert window.document.project.panels[0].name == "Lost"
    assert window.document.path == original
    assert window.document.dirty
    assert recovery.leftovers() == []
    assert recovery.copy_path.exists(), "still safe until it is saved"


def test_losing_the_focus_keeps_a_copy(make_window, tmp_path, qtbot) -> None:
    window = make_window(with_recovery=True)
    add(window)
    other = QWidget()
    qtbot.addWidget(other)
    with qtbot.waitActive(other):
        other.show()
        other.activateWindow()
    qtbot.waitUntil(window._recovery.copy_path.exists)
    assert Recovery(tmp_path / "recovery").leftovers() == [], "this window still runs"


# --- looks ------------------------------------------------------------------------------------


@pytest.mark.parametrize("percent", (100, 175))
def test_the_window_fits_a_small_screen_in_large_text(make_window, percent, idle) -> None:
    window = make_window()
    window.context.preferences.set("text_percent", percent)
    apply_preferences(window.context.preferences)
    add(window)
    idle(window)
    window.stages[0].select_ids(["shelf"])
    QApplication.processEvents()
    hint = window.minimumSizeHint()
    assert hint.width() <= 1366
    assert hint.height() <= 768
    window.resize(1366, 768)
    QApplication.processEvents()
    for stage in (window.stages[0], window.stages[3]):
        window.open_stage(window.stages.index(stage))
        QApplication.processEvents()
        clipped = [
            w
            for w in stage.findChildren(QAbstractButton)
            if w.isVisible() and w.text() and w.width() < w.minimumSizeHint().width()
        ]
        assert not clipped, [w.text() for w in clipped]
        labels = [
            w
            for w in stage.findChildren(QLabel)
            if w.isVisible() and w.text() and w.wordWrap()
            if w.height() < w.heightForWidth(w.width())
        ]
        assert not labels, [w.text() for w in labels]


def test_dark_reaches_every_part(make_window, qapp, idle) -> None:
    window = make_window()
    add(window)
    idle(window)
    window.context.preferences.set("colours", "dark")
    apply_preferences(window.context.preferences)
    QApplication.processEvents()
    picture = window.grab().toImage()
    sample = [
        picture.pixelColor(x, y).lightness()
        for x in range(5, picture.width(), 40)
        for y in range(5, picture.height(), 40)
    ]
    assert sorted(sample)[len(sample) // 2] < 60
    assert max(Counter(sample).items(), key=lambda item: item[1])[0] < 60


def test_preferences_hold_at_once_and_are_kept(make_window, tmp_path) -> None:
    window = make_window()
    dialog = PreferencesDialog(window.context, window)
    dialog.open()
    dialog.project_units.setFocus()
    QTest.keyClick(dialog.project_units, Qt.Key.Key_End)
    assert window.document.project.units == "in"
    assert window.document.undo_text == "Show lengths in in"
    dialog.colours.setFocus()
    QTest.keyClick(dialog.colours, Qt.Key.Key_End)
    assert theme.is_dark()
    dialog.nudge.line.setFocus()
    dialog.nudge.line.selectAll()
    QTest.keyClicks(dialog.nudge.line, "1/16 in")
    QTest.keyClick(dialog.nudge.line, Qt.Key.Key_Return)
    again = Preferences(tmp_path / "preferences")
    assert again.get("colours") == "dark"
    assert again.get("nudge_mm") == pytest.approx(25.4 / 16)
    dialog.close()


def test_damaged_preferences_fall_back_to_the_defaults(tmp_path) -> None:
    (tmp_path / "preferences.json").write_text(
        '{"version": 1, "values": {"units": "furlong", "text_percent": 120, "nudge_mm": -3}}'
    )
    preferences = Preferences(tmp_path)
    assert preferences.get("units") == "mm"
    assert preferences.get("nudge_mm") == 1.0
    assert preferences.get("text_percent") == 120
    (tmp_path / "preferences.json").write_text("{")
    assert Preferences(tmp_path).get("text_percent") == 100


def test_preferences_with_the_shop_go_to_another_machine_in_one_file(
    make_window, ask, shop, tmp_path
) -> None:
    window = make_window()
    window.context.preferences.set("nudge_mm", 2.5)
    window.context.preferences.set("colours", "dark")
    window.context.preferences.set_default_shop(shop)
    dialog = PreferencesDialog(window.context, window)
    dialog.open()
    ask.will("save_file", tmp_path / "mine")
    QTest.mouseClick(dialog.export_button, Qt.MouseButton.LeftButton)
    assert "mine.json" in dialog.told.text()
    dialog.close()

    other = make_window(preferences=Preferences(tmp_path / "other machine"))
    dialog = PreferencesDialog(other.context, other)
    dialog.open()
    assert dialog.nudge.value == 1.0
    ask.will("open_file", tmp_path / "mine.json")
    QTest.mouseClick(dialog.import_button, Qt.MouseButton.LeftButton)
    assert dialog.nudge.value == 2.5
    assert theme.is_dark()
    assert "birch" in other.context.preferences.new_project().shop.materials[0].name
    assert Preferences(tmp_path / "other machine").get("nudge_mm") == 2.5
    assert Preferences(tmp_path / "other machine").default_shop() == shop

    # What is no such file is said in place and changes nothing.
    (tmp_path / "strange.json").write_text('{"format": "seamwright-project"}')
    ask.will("open_file", tmp_path / "strange.json")
    QTest.mouseClick(dialog.import_button, Qt.MouseButton.LeftButton)
    assert "no preferences" in dialog.told.text()
    assert dialog.nudge.value == 2.5
    dialog.close()


def test_preferences_of_another_version_are_taken_as_far_as_they_are_known(tmp_path) -> None:
    path = tmp_path / "p.json"
    preferences = Preferences(tmp_path / "kept")
    export_preferences(preferences, path)
    document = json.loads(path.read_text())
    document["values"] |= {"turn_deg": 30.0, "text_percent": 9000, "from tomorrow": 1}
    del document["project"]
    path.write_text(json.dumps(document))
    assert import_preferences(preferences, path) == 1
    assert preferences.get("turn_deg") == 30.0
    assert preferences.get("text_percent") == 100


# --- keyboard and names -----------------------------------------------------------------------


def test_no_two_keys_mean_the_same_at_once(make_window) -> None:
    window = make_window()
    everywhere = [k.toString() for a in window.actions() for k in a.shortcuts()]
    for stage in window.stages:
        keys = everywhere + [k.toString() for a in stage.stage_actions() for k in a.shortcuts()]
        twice = [key for key, n in Counter(keys).items() if n > 1]
        assert not twice, f"{stage.title}: {twice}"


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
    window.rename_action.trigger()
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
