"""Dividers between the columns of a stage: dragged with the mouse, or moved with the arrows."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QFocusEvent, QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QSplitter, QSplitterHandle, QWidget

from app import theme
from app.i18n import tr
from app.widgets.focus_chain import next_in_chain

STEP_PX = 8
_WIDE_STEP_PX = 40


class Divider(QSplitterHandle):
    """One divider. Tab reaches it; the arrows move it, with Shift further."""

    def __init__(self, orientation: Qt.Orientation, parent: QSplitter) -> None:
        super().__init__(orientation, parent)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setAccessibleName(tr("Divider between two columns; the arrow keys move it"))
        self.setToolTip(tr("Drag, or move with the arrow keys, to make a column wider"))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Left and right move it."""
        way = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}.get(Qt.Key(event.key()))
        if way is None:
            super().keyPressEvent(event)
            return
        wide = event.modifiers() & Qt.KeyboardModifier.ShiftModifier
        line = self.x() + self.contentsRect().x()  # wider than the line it stands for
        self.moveSplitter(line + way * (_WIDE_STEP_PX if wide else STEP_PX))

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Widen what is painted, so that the focus can be seen on a thin line."""
        super().focusInEvent(event)
        self.clearMask()
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """A thin line again."""
        super().focusOutEvent(event)
        self.setMask(self.contentsRect())
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """The line; in the accent colour and wider while it has the focus."""
        if not self.hasFocus():
            super().paintEvent(event)
            return
        painter = QPainter(self)
        painter.fillRect(self.rect(), theme.color("accent"))
        painter.end()


class Divided(QSplitter):
    """Columns side by side with dividers that have a keyboard way."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(Qt.Orientation.Horizontal, parent)
        self.setHandleWidth(1)
        self.setChildrenCollapsible(False)
        self._ordered = False

    def createHandle(self) -> QSplitterHandle:
        """A divider of ours."""
        return Divider(self.orientation(), self)

    def event(self, event: QEvent) -> bool:
        """Once it is seen: Tab comes to the dividers after everything in the columns."""
        if event.type() == QEvent.Type.Show and not self._ordered:
            self._ordered = True
            last = self._last_inside()
            for i in range(1, self.count()):
                divider = self.handle(i)
                if last is not None:
                    QWidget.setTabOrder(last, divider)
                last = divider
        return super().event(event)

    def _last_inside(self) -> QWidget | None:
        """The last of the columns' widgets in the order of Tab."""
        found, widget = None, next_in_chain(self)
        while widget is not None and widget is not self:
            if self.isAncestorOf(widget) and not isinstance(widget, Divider):
                found = widget
            widget = next_in_chain(widget)
        return found
