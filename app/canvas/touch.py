"""Fingers on a touch screen: one is the mouse, two move and zoom the view."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from PySide6.QtCore import QElapsedTimer, QEvent, QPointF, Qt
from PySide6.QtGui import QEventPoint, QMouseEvent, QTouchEvent
from PySide6.QtWidgets import QApplication

from app.canvas.guard import guarded
from app.canvas.handler import DRAG_START_PX

if TYPE_CHECKING:
    from app.canvas.viewport import Viewport

_NEAR_PX = 24.0  # two taps this near each other are a double tap


class Fingers:
    """Turns touch events of a viewport into mouse events, panning and zooming.

    The first finger presses like the left button, once it moves or is lifted: until then a
    second one may come. That one lets go of what the first has in hand, unchanged, and from
    then on the two move the view until both are lifted.
    """

    def __init__(self, viewport: Viewport) -> None:
        self._viewport = viewport
        self._waiting: QPointF | None = None  # where the first finger came down
        self._mouse_down = False
        self._two = False
        # which two, their middle, their distance
        self._before: tuple[tuple[int, int], QPointF, float] | None = None
        self._last_tap: QPointF | None = None
        self._since = QElapsedTimer()
        viewport.viewport().setAttribute(Qt.WidgetAttribute.WA_AcceptTouchEvents)

    @guarded
    def take(self, event: QTouchEvent) -> None:
        """Hear one touch event; it is always taken, so that the second finger is heard of."""
        event.accept()
        kind = event.type()
        if kind == QEvent.Type.TouchCancel:
            self._give_up()
            self._two, self._before = False, None
            return
        down = [p for p in event.points() if p.state() != QEventPoint.State.Released]
        if len(down) >= 2:
            self._move_view(down)
        elif self._two:
            self._before = None  # one of the two is lifted: the other waits
        elif down:
            if kind == QEvent.Type.TouchBegin:
                self._waiting = down[0].position()
            else:
                self._move(down[0].position())
        if kind == QEvent.Type.TouchEnd:
            self._press(tap=True)
            if self._mouse_down and event.points():
                self._mouse_down = False
                self._send(QEvent.Type.MouseButtonRelease, event.points()[0].position())
            self._two, self._before = False, None

    def _move(self, place: QPointF) -> None:
        if self._waiting is not None:
            if (place - self._waiting).manhattanLength() < DRAG_START_PX:
                return
            self._press(tap=False)
        if self._mouse_down:
            self._send(QEvent.Type.MouseMove, place)

    def _press(self, *, tap: bool) -> None:
        """The first finger is a press after all, where it came down; two taps are a double."""
        place, self._waiting = self._waiting, None
        if place is None:
            return
        again = (
            tap
            and self._last_tap is not None
            and self._since.isValid()
            and self._since.elapsed() < QApplication.doubleClickInterval()
            and math.hypot(place.x() - self._last_tap.x(), place.y() - self._last_tap.y())
            < _NEAR_PX
        )
        self._last_tap = place if tap and not again else None
        self._since.start()
        self._mouse_down = True
        kind = QEvent.Type.MouseButtonDblClick if again else QEvent.Type.MouseButtonPress
        self._send(kind, place)

    def _move_view(self, down: list[QEventPoint]) -> None:
        self._give_up()
        one, other = down[0].position(), down[1].position()
        middle = (one + other) / 2
        apart = math.hypot(one.x() - other.x(), one.y() - other.y())
        which = down[0].id(), down[1].id()
        if self._before is not None and self._before[0] == which:
            _, was, was_apart = self._before
            self._viewport.move_view(middle - was, apart / was_apart, middle)
        self._two = True
        self._before = which, middle, max(apart, 1.0)

    def _give_up(self) -> None:
        """What the first finger has in hand goes back to where it was."""
        self._waiting = None
        if self._mouse_down:
            self._mouse_down = False
            self._viewport.give_up()

    def _send(self, kind: QEvent.Type, place: QPointF) -> None:
        port = self._viewport.viewport()
        held = kind != QEvent.Type.MouseButtonRelease
        moved = kind == QEvent.Type.MouseMove
        event = QMouseEvent(
            kind,
            place,
            QPointF(port.mapToGlobal(place)),
            Qt.MouseButton.NoButton if moved else Qt.MouseButton.LeftButton,
            Qt.MouseButton.LeftButton if held else Qt.MouseButton.NoButton,
            QApplication.keyboardModifiers(),
        )
        QApplication.sendEvent(port, event)
