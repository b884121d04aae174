"""A fault of ours on the way: told, survived, and nothing of the maker's lost."""

from __future__ import annotations

import sys

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from app.commands import AddPanels
from app.mishaps import Mishaps
from app.panel_table import rectangle_panel
from tests.app import mouse


@pytest.fixture
def quiet(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Keeps what would be printed."""
    said: list[str] = []
    monkeypatch.setattr(sys, "excepthook", lambda kind, error, trace: said.append(kind.__name__))
    return said


def test_a_fault_in_the_middle_of_a_drag_is_told_and_the_window_goes_on(
    make_window, quiet, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = make_window(with_recovery=True)
    window.document.run(AddPanels("Add", (rectangle_panel("Shelf", 600, 300),)))
    before = window.document.project
    mishaps = Mishaps(window)
    window.open_stage(2)
    canvas = window.stages[2].canvas

    def fails(_pointer: object) -> bool:
        return {}[("p1", 1)]  # type: ignore[return-value]

    monkeypatch.setattr(canvas.handler, "press", fails)
    port = canvas.view.viewport()
    QTest.mousePress(port, Qt.MouseButton.LeftButton, pos=QPoint(50, 50))
    mouse.move(port, QPoint(90, 90), Qt.MouseButton.LeftButton)
    QTest.mouseRelease(port, Qt.MouseButton.LeftButton, pos=QPoint(90, 90))
    assert "KeyError" in quiet
    assert "fault of the program" in window.banner.text
    assert window.document.project is before
    window.document.autosave()
    assert window._recovery.copy_path.exists()
    mishaps.release()


def test_a_fault_in_a_slot_is_told_too(make_window, quiet) -> None:
    window = make_window()
    mishaps = Mishaps(window)
    window.menus.redo_action.triggered.disconnect()
    window.menus.redo_action.triggered.connect(lambda: [][3])
    window.menus.redo_action.setEnabled(True)
    window.menus.redo_action.trigger()
    assert quiet == ["IndexError"]
    assert "IndexError" in window.banner.text
    mishaps.release()
