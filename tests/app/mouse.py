"""A mouse for tests that is nobody's real pointer.

``QTest.mouseMove`` on a widget moves the pointer of the screen: where another window, or none
yet, lies under it, the widget hears nothing. Here the event goes to the widget itself.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget


def move(
    widget: QWidget,
    point: QPoint,
    buttons: Qt.MouseButton = Qt.MouseButton.NoButton,
    modifiers: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier,
) -> None:
    """Move over the widget to point (its own pixels), with these buttons held.

    What the real pointer has to say is heard first, so that it can't have the last word.
    """
    QApplication.processEvents()
    event = QMouseEvent(
        QEvent.Type.MouseMove,
        QPointF(point),
        QPointF(widget.mapTo(widget.window(), point)),
        QPointF(widget.mapToGlobal(point)),
        Qt.MouseButton.NoButton,
        buttons,
        modifiers,
    )
    QApplication.sendEvent(widget, event)


def drag(
    widget: QWidget,
    start: QPoint,
    end: QPoint,
    button: Qt.MouseButton = Qt.MouseButton.LeftButton,
    modifiers: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier,
    *,
    drop: bool = True,
) -> None:
    """Press at start, move to end in steps with these keys held, and let go if it is to drop."""
    QTest.mousePress(widget, button, Qt.KeyboardModifier.NoModifier, start)
    for step in range(1, 6):
        move(widget, start + (end - start) * step / 5, button, modifiers)
    if drop:
        QTest.mouseRelease(widget, button, modifiers, end)
