"""The window's files: saved, opened, closed, changed by others, recovered."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QWidget,
)

from app.panel_table import rectangle_panel
from app.recovery import Recovery
from core.project.file import load_project, save_project
from core.project.model import Project
from tests.app.window_bench import add

LEFT = Qt.MouseButton.LeftButton
CTRL = Qt.KeyboardModifier.ControlModifier


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
