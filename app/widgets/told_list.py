"""A list that says what will stand in it while it is empty."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QListWidget

from app import theme


class ToldList(QListWidget):
    """A list; words: what it says in the middle while there is nothing in it."""

    def __init__(self, name: str, words: str) -> None:
        super().__init__()
        self._words = words
        self.setAccessibleName(name)
        self.setAccessibleDescription(words)

    def paintEvent(self, event: QPaintEvent) -> None:
        """The rows, or the words."""
        super().paintEvent(event)
        if self.count():
            return
        painter = QPainter(self.viewport())
        painter.setPen(theme.color("muted"))
        edge = theme.NORMAL
        room = self.viewport().rect().adjusted(edge, edge, -edge, -edge)
        painter.drawText(room, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap, self._words)
        painter.end()
