"""A row of widgets that goes on in the next line where there is no room."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QSizePolicy, QWidget

from app import theme


class WrappingRow(QWidget):
    """Holds widgets side by side, line below line, each as wide as it asks for."""

    def __init__(self, *widgets: QWidget, margin: tuple[int, int] = (0, 0)) -> None:
        super().__init__()
        policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Preferred)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        layout = _Wrapping(self)
        layout.setContentsMargins(margin[0], margin[1], margin[0], margin[1])
        layout.setSpacing(theme.NORMAL)
        for widget in widgets:
            layout.addWidget(widget)


class _Wrapping(QLayout):
    """Lines from left to right, then downwards."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._items: list[QLayoutItem] = []

    def addItem(self, item: QLayoutItem) -> None:
        self._items.append(item)

    def count(self) -> int:
        return len(self._items)

    def itemAt(self, index: int) -> QLayoutItem | None:
        return self._items[index] if 0 <= index < len(self._items) else None

    def takeAt(self, index: int) -> QLayoutItem | None:
        return self._items.pop(index) if 0 <= index < len(self._items) else None

    def expandingDirections(self) -> Qt.Orientation:
        return Qt.Orientation(0)

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        return self._lay(QRect(0, 0, width, 0), move=False)

    def setGeometry(self, rect: QRect) -> None:
        super().setGeometry(rect)
        self._lay(rect, move=True)

    def sizeHint(self) -> QSize:
        shown = [item for item in self._items if not item.isEmpty()]
        wide = sum(item.sizeHint().width() for item in shown)
        wide += self.spacing() * max(0, len(shown) - 1)
        high = max((item.sizeHint().height() for item in shown), default=0)
        return self._with_margins(QSize(wide, high))

    def minimumSize(self) -> QSize:
        size = QSize()
        for item in self._items:
            if not item.isEmpty():
                size = size.expandedTo(item.minimumSize())
        return self._with_margins(size)

    def _with_margins(self, size: QSize) -> QSize:
        m = self.contentsMargins()
        return size + QSize(m.left() + m.right(), m.top() + m.bottom())

    def _lay(self, rect: QRect, *, move: bool) -> int:
        """Put every item into its line; returns the height of all lines with the margins."""
        m = self.contentsMargins()
        room = rect.adjusted(m.left(), m.top(), -m.right(), -m.bottom())
        x, y, line = room.x(), room.y(), 0
        for item in self._items:
            if item.isEmpty():
                continue
            hint = item.sizeHint()
            if x > room.x() and x + hint.width() > room.x() + room.width():
                x, y, line = room.x(), y + line + theme.TIGHT, 0
            if move:
                item.setGeometry(QRect(QPoint(x, y), hint))
            x += hint.width() + self.spacing()
            line = max(line, hint.height())
        return y + line - rect.y() + m.bottom()
