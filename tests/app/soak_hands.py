"""The random maker's hands: any widget, list, menu and dialog used, any canvas dragged over."""

from __future__ import annotations

import random
import time
from typing import Any

from PySide6.QtCore import QPoint, QPointF, Qt, QTimer
from PySide6.QtGui import QAction, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QApplication,
    QComboBox,
    QHeaderView,
    QLineEdit,
    QMenu,
    QSlider,
    QTabBar,
    QTableView,
    QToolButton,
    QWidget,
)

from app.window import MainWindow
from tests.app import mouse
from tests.app.soak_ask import TYPED
from tests.app.soak_watch import BrokenError

LEFT, RIGHT, MIDDLE = (
    Qt.MouseButton.LeftButton,
    Qt.MouseButton.RightButton,
    Qt.MouseButton.MiddleButton,
)
NONE = Qt.KeyboardModifier.NoModifier
SHIFT, CTRL, ALT = (
    Qt.KeyboardModifier.ShiftModifier,
    Qt.KeyboardModifier.ControlModifier,
    Qt.KeyboardModifier.AltModifier,
)
IDLE_MOST_S = 90.0


class Hands:
    """Somebody who uses whatever widget or canvas is in reach, knowing nothing of what it does."""

    def __init__(self, window: MainWindow, rng: random.Random) -> None:
        self.window = window
        self.rng = rng
        self.document = window.document

    def idle(self, most_s: float = IDLE_MOST_S) -> None:
        """Wait until nothing is worked on any more. Raises BrokenError if it takes too long."""
        derived, jobs = self.window.context.derived, self.window.context.jobs
        stage: Any = self.window.stages[2]
        began = time.monotonic()
        while (spent := time.monotonic() - began) < most_s:
            QTest.qWait(5)
            if spent > 4 and stage.hands_off():  # somebody typed a long time to look
                stage.stop_nesting()
            if jobs.is_idle() and not derived.busy:
                return
        running = [job.title for job in jobs.running]
        raise BrokenError(
            f"not at rest after {most_s:.0f} s: at work {running}, waiting {list(jobs._waiting)}, "
            f"busy {derived.busy}, plan of {derived.plan_revision}, document "
            f"{self.document.revision}"
        )

    @staticmethod
    def _activate(window: QWidget) -> None:
        """Where no window manager runs, nobody gives the focus back when a dialog closes."""
        if QApplication.activeWindow() is not window.window():
            window.window().activateWindow()
            for _ in range(100):
                QTest.qWait(2)
                if QApplication.activeWindow() is window.window():
                    break

    # --- widgets --------------------------------------------------------------------------
    def _in_dialog(self, dialog: QWidget) -> str:
        if self.rng.random() < 0.35:
            QTest.keyClick(dialog, Qt.Key.Key_Escape)
            return "close a dialog"
        return "dialog: " + self._any_widget(dialog)

    def _in_menu(self, menu: QMenu) -> str:
        rows = [a for a in menu.actions() if a.isEnabled() and not a.isSeparator()]
        rows = [a for a in rows if not ends(self.window, a)]
        if not rows or self.rng.random() < 0.3:
            QTest.keyClick(menu, Qt.Key.Key_Escape)
            return "leave a menu"
        action = self.rng.choice(rows)
        QTest.mouseClick(menu, LEFT, NONE, menu.actionGeometry(action).center())
        return f"menu row {action.text()}"

    def _answer_menu(self) -> None:
        popup = QApplication.activePopupWidget()
        if isinstance(popup, QMenu):
            self._in_menu(popup)
            popup.close()

    def _any_widget(self, root: QWidget | None = None) -> str:
        root = root or self.window
        kinds = (QAbstractButton, QLineEdit, QComboBox, QAbstractItemView, QSlider, QTabBar)
        for _ in range(20):
            found = [
                w
                for w in root.findChildren(QWidget)
                if isinstance(w, kinds)
                and w.isVisible()
                and w.isEnabled()
                and not isinstance(w, QHeaderView)
            ]
            if not found:
                break
            widget = self.rng.choice(found)
            at = _reachable(widget)
            if at is not None:
                name = widget.accessibleName() or getattr(widget, "text", str)() or ""
                return f"{self._use(widget, at)} {type(widget).__name__} {name}"
        return "nothing to reach"

    def _use(self, widget: QWidget, at: QPoint) -> str:
        rng = self.rng
        if isinstance(widget, QLineEdit):
            QTest.mouseClick(widget, LEFT, NONE, at)
            QTest.keyClick(widget, Qt.Key.Key_A, CTRL)
            for sign in rng.choice(TYPED):
                QTest.keyClicks(widget, sign) if ord(sign) < 128 else widget.insert(sign)
            end = (Qt.Key.Key_Return, Qt.Key.Key_Tab, Qt.Key.Key_Escape, Qt.Key.Key_Up)
            QTest.keyClick(widget, rng.choice(end))
            return "type into"
        if isinstance(widget, QComboBox):
            widget.setFocus()
            for _ in range(rng.randint(1, 3)):
                QTest.keyClick(widget, rng.choice((Qt.Key.Key_Down, Qt.Key.Key_Up)))
            return "choose in"
        if isinstance(widget, QAbstractItemView):
            return self._use_list(widget)
        if isinstance(widget, QSlider):
            widget.setFocus()
            keys = (Qt.Key.Key_Right, Qt.Key.Key_Left, Qt.Key.Key_PageUp, Qt.Key.Key_Home)
            QTest.keyClick(widget, rng.choice(keys))
            return "slide"
        if isinstance(widget, QToolButton) and widget.menu() is not None:
            # Qt waits in a loop of its own until the menu is gone.
            QTimer.singleShot(60, widget, self._answer_menu)
        if rng.random() < 0.2:
            widget.setFocus()
            QTest.keyClick(widget, Qt.Key.Key_Space)
            return "space on"
        QTest.mouseClick(widget, LEFT, NONE, at)
        return "click"

    def _use_list(self, view: QAbstractItemView) -> str:
        rng, port = self.rng, view.viewport()
        model = view.model()
        if model is None or not model.rowCount():
            QTest.mouseClick(port, LEFT, NONE, port.rect().center())
            return "click into empty"
        columns = view.horizontalHeader().count() if isinstance(view, QTableView) else 1
        index = model.index(rng.randrange(model.rowCount()), rng.randrange(max(columns, 1)))
        view.scrollTo(index)
        at = view.visualRect(index).center()
        way = rng.random()
        if way < 0.6:
            QTest.mouseClick(port, LEFT, rng.choice((NONE, NONE, SHIFT, CTRL)), at)
            return "row of"
        if way < 0.7:
            QTest.mouseDClick(port, LEFT, NONE, at)
            editor = QApplication.focusWidget()
            if isinstance(editor, QLineEdit) and view.isAncestorOf(editor):
                QTest.keyClicks(editor, rng.choice(("Layout x", "rest", "")))
                QTest.keyClick(editor, rng.choice((Qt.Key.Key_Return, Qt.Key.Key_Escape)))
            return "double click in"
        if way < 0.8:
            QTest.mouseClick(port, RIGHT, NONE, at)
            return "right click in"
        view.setFocus()
        keys = (Qt.Key.Key_Down, Qt.Key.Key_Up, Qt.Key.Key_End, Qt.Key.Key_Plus, Qt.Key.Key_Minus)
        QTest.keyClick(view, rng.choice(keys))
        return "key in"

    # --- canvas ---------------------------------------------------------------------------
    def _canvas(self) -> Any:
        return getattr(self.window.stage, "canvas", None)

    def _spot(self, port: QWidget) -> QPoint:
        return QPoint(self.rng.randrange(port.width()), self.rng.randrange(port.height()))

    def drag(
        self,
        port: QWidget,
        start: QPoint,
        end: QPoint,
        button: Qt.MouseButton = LEFT,
        modifiers: Qt.KeyboardModifier = NONE,
    ) -> None:
        """Press, move in steps, sometimes think better of it, let go."""
        QTest.mousePress(port, button, modifiers, start)
        steps = self.rng.randint(2, 7)
        for step in range(1, steps + 1):
            mouse.move(port, start + (end - start) * step / steps, button, modifiers)
        if self.rng.random() < 0.06:
            QTest.keyClick(port.parentWidget() or port, Qt.Key.Key_Escape)
        QTest.mouseRelease(port, button, modifiers, end)

    def _canvas_gesture(self) -> str:
        canvas = self._canvas()
        if canvas is None or not canvas.isVisible():
            return self._any_widget()
        port, rng = canvas.view.viewport(), self.rng
        at = self._spot(port)
        way = rng.randrange(7)
        if way == 0:
            self.wheel(port, at, rng.choice((-120, 120)), rng.choice((NONE, NONE, ALT, CTRL)))
            return "wheel"
        if way == 1:
            self.drag(port, at, self._spot(port), MIDDLE)
            return "pan"
        if way == 2:
            QTest.mouseClick(port, RIGHT, NONE, at)
            return "right click"
        if way == 3:
            QTest.mouseDClick(port, LEFT, NONE, at)
            QTest.mouseRelease(port, LEFT, NONE, at)
            return "double click"
        if way == 4:
            mouse.move(port, at)
            return "hover"
        if way == 5:
            QTest.keyClick(canvas.view, rng.choice((Qt.Key.Key_Home, Qt.Key.Key_Z)))
            return "fit"
        modifiers = rng.choice((NONE, NONE, SHIFT, ALT))
        self.drag(port, at, self._spot(port), modifiers=modifiers)
        return "drag anywhere"

    def wheel(
        self, port: QWidget, at: QPoint, angle: int, modifiers: Qt.KeyboardModifier = NONE
    ) -> None:
        """Turn the wheel by one notch."""
        event = QWheelEvent(
            QPointF(at),
            QPointF(port.mapToGlobal(at)),
            QPoint(),
            QPoint(0, angle),
            Qt.MouseButton.NoButton,
            modifiers,
            Qt.ScrollPhase.NoScrollPhase,
            False,
        )
        QApplication.sendEvent(port, event)


def ends(window: MainWindow, action: QAction) -> bool:
    """Whether a row of a menu would close the window."""
    return action is window.menus.quit_action


def _reachable(widget: QWidget) -> QPoint | None:
    """A point of the widget a pointer would really hit, or None."""
    area = widget.visibleRegion().boundingRect()
    if area.isEmpty():
        return None
    at = area.center()
    top = widget.window()
    hit = top.childAt(widget.mapTo(top, at))
    if hit is None or not (hit is widget or widget.isAncestorOf(hit)):
        return None
    return at
