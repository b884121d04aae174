"""Whoever works with the keyboard sees where they are, and hears it by name."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QScrollArea, QWidget

from app.widgets.dividers import Divider
from app.widgets.focus_chain import next_in_chain
from app.window import MainWindow
from core.project.file import load_project
from tests.app.window_bench import DEMO, DIALOGS, dialog_of

TAB = Qt.FocusReason.TabFocusReason


def stops(top: QWidget) -> list[QWidget]:
    """What Tab stops at, in its order."""
    found: list[QWidget] = []
    widget = next_in_chain(top)
    while widget is not None and widget is not top:
        takes = widget.focusPolicy() & Qt.FocusPolicy.TabFocus and widget.focusProxy() is None
        if takes and widget.isVisible() and widget.isEnabled() and top.isAncestorOf(widget):
            found.append(widget)
        widget = next_in_chain(widget)
    return found


def picture(widget: QWidget) -> QImage:
    return widget.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)


def unseen(top: QWidget) -> list[str]:
    """Stops of Tab that look the same with the focus and without."""
    found = []
    for widget in stops(top):
        if not top.window().isActiveWindow():  # another window on the screen took it away
            top.window().activateWindow()
            QTest.qWaitForWindowActive(top.window())
        QApplication.focusWidget() and QApplication.focusWidget().clearFocus()
        before = picture(widget)
        assert picture(widget) == before, f"{name(widget)} changes by itself"
        widget.setFocus(TAB)
        if not widget.hasFocus():
            found.append(f"{name(widget)} did not take the focus")
        elif picture(widget) == before:
            found.append(name(widget))
    return found


def name(widget: QWidget) -> str:
    text = widget.accessibleName() or getattr(widget, "text", str)()
    return f"{type(widget).__name__} “{text}”"


def test_every_stop_of_tab_is_seen_has_a_name_and_comes_in_its_turn(make_window, idle) -> None:
    window: MainWindow = make_window(real=True)
    window.document.take(load_project(DEMO), None)
    idle(window, 60_000)
    window.stages[0].select_ids([window.document.project.panels[0].id])
    for i in range(4):
        window.open_stage(i)
        idle(window, 60_000)
        assert not unseen(window.stage), window.stage.title
        assert not nameless(window), window.stage.title
        check_order(window)
    window.open_shop()
    QApplication.processEvents()
    assert not unseen(window.shop)
    assert not nameless(window.shop)


def nameless(top: QWidget) -> list[str]:
    """Stops of Tab that a screen reader has no words for."""
    return [
        f"{type(widget).__name__} in {type(widget.parent()).__name__}"
        for widget in stops(top)
        if not (widget.accessibleName() or getattr(widget, "text", str)())
    ]


def check_order(window: MainWindow) -> None:
    """Tab, pressed until it comes round, misses nothing and goes column by column."""
    stage = window.stage
    stops(stage)[0].setFocus(TAB)
    seen: list[QWidget] = []
    for _ in range(300):
        now = QApplication.focusWidget()
        if now in seen:
            break
        seen.append(now)
        QTest.keyClick(now, Qt.Key.Key_Tab)
    missed = [name(w) for w in stops(window) if w not in seen and not swallowed(w)]
    assert not missed, f"{stage.title}: {missed}"
    inside = [w for w in seen if stage.isAncestorOf(w) and not isinstance(w, Divider)]
    columns = [column_of(stage, widget) for widget in inside]
    assert columns == sorted(columns), f"{stage.title}: {columns}"


@pytest.mark.parametrize("dialog", DIALOGS)
def test_the_focus_is_seen_in_dialogs(make_window, qtbot, dialog: type) -> None:
    window = make_window()
    made = dialog_of(dialog, window)
    made.open()
    qtbot.waitUntil(made.isActiveWindow)
    assert len(stops(made)) >= 1
    assert not unseen(made)
    made.close()


def swallowed(widget: QWidget) -> bool:
    """Areas that scroll stop Tab only where nothing in them does."""
    return isinstance(widget, QScrollArea)


def column_of(stage: QWidget, widget: QWidget) -> int:
    parts = (stage.left, stage.centre, stage.right)  # type: ignore[attr-defined]
    return next(i for i, part in enumerate(parts) if part.isAncestorOf(widget))
