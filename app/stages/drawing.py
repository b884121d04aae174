"""What the stages that have a drawing in their middle share."""

from __future__ import annotations

from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QWidget

from app import theme
from app.canvas.view import Canvas
from app.commands import Command
from app.i18n import tr
from app.stages.base import Stage
from app.widgets.forms import button, words
from app.wording import error_in_words
from core.errors import SeamwrightError

_ROUND_PX = 40  # of the drawing left free round the words on it


class DrawingStage(Stage):
    """A stage with a drawing: a summary above it, a line below, words on it while it is empty.

    The stage makes ``canvas`` and calls ``_make_head``, puts its own things below the drawing
    and calls ``_make_line``.
    """

    canvas: Canvas
    summary: QLabel
    line: QLabel
    empty: QLabel
    go_button: QPushButton

    def _make_head(self) -> None:
        strip = QWidget()
        row = QHBoxLayout(strip)
        row.setContentsMargins(theme.NORMAL, theme.TIGHT, theme.NORMAL, theme.TIGHT)
        self.summary = QLabel()
        self.summary.setTextFormat(Qt.TextFormat.PlainText)
        self.summary.setWordWrap(True)
        row.addWidget(self.summary, 1)
        self.centre_layout.setSpacing(0)
        self.centre_layout.addWidget(strip)
        self.centre_layout.addWidget(self.canvas, 1)

    def _make_line(self, *, above_px: int, below_px: int) -> None:
        self.line = words()
        self.line.setContentsMargins(theme.NORMAL, above_px, theme.NORMAL, below_px)
        self.line.setMinimumHeight(theme.TARGET)
        self.line.setAccessibleName(tr("What the hand is doing"))
        self.centre_layout.addWidget(self.line)
        self.empty = words()
        self.empty.setParent(self.canvas.view)
        self.empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.empty.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.empty.hide()
        self.go_button = button(tr("Go to Panels"), self._go_to_panels)
        self.go_button.setParent(self.canvas.view)
        self.go_button.hide()
        self.canvas.viewed.connect(self._place_empty)

    def _say_empty(self, text: str) -> None:
        """Words on the drawing, "" for none."""
        self.empty.setText(text)
        self.empty.setVisible(bool(text))
        self.go_button.setVisible(bool(text) and not self.document.project.panels)
        self._place_empty()

    def _go_to_panels(self) -> None:
        self.stage_wanted.emit("panels", "")

    def _place_empty(self) -> None:
        room = self.canvas.view.viewport().rect()
        room = room.adjusted(_ROUND_PX, _ROUND_PX, -_ROUND_PX, -_ROUND_PX)
        self.empty.setGeometry(room)
        size = self.go_button.sizeHint()
        below = room.center().y() + self.empty.heightForWidth(room.width()) // 2 + theme.NORMAL
        self.go_button.setGeometry(
            room.center().x() - size.width() // 2, below, size.width(), size.height()
        )

    def covered(self, right_px: int) -> None:
        """The buttons of the drawing and what is fitted keep clear of the shop."""
        edge = self.canvas.view.mapTo(self, QPoint(self.canvas.view.width(), 0)).x()
        self.canvas.set_covered(max(0, edge - (self.width() - right_px)) if right_px else 0)

    def told(self, text: str, *, wrong: bool = False) -> None:
        """A sentence about what the hand is doing, below the drawing."""
        self.line.setText(f"● {text}" if wrong and text else text)
        theme.mark(self.line, "severity", "stop" if wrong else "")

    def _run(self, command: Command, *, merge: str = "") -> bool:
        """Change the document; False if that was refused, which the line below tells."""
        try:
            self.document.run(command, sender=self, merge=merge)
        except SeamwrightError as error:
            self.told(error_in_words(error), wrong=True)
            return False
        return True
