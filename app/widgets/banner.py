"""A line across the top of the window that asks or tells without stopping the work."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QToolButton, QWidget

from app import theme
from app.i18n import tr
from app.widgets.icons import set_icon


class Banner(QFrame):
    """One sentence with up to a few buttons; hidden while there is nothing to say.

    Sentences wait in a queue, each under a key so that a newer one replaces it.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("card", True)
        self.setAccessibleName(tr("Message"))
        row = QHBoxLayout(self)
        row.setContentsMargins(theme.WIDE, theme.TIGHT, theme.NORMAL, theme.TIGHT)
        self._label = QLabel()
        self._label.setWordWrap(True)
        self._label.setTextFormat(Qt.TextFormat.PlainText)
        row.addWidget(self._label, 1)
        self._buttons: list[QPushButton] = []
        self._row = row
        self._close = QToolButton()
        set_icon(self._close, "close")
        self._close.setToolTip(tr("Put this message away"))
        self._close.setAccessibleName(tr("Put this message away"))
        self._close.clicked.connect(self._dismiss)
        row.addWidget(self._close)
        self._queue: dict[str, tuple[str, list[tuple[str, Callable[[], None]]]]] = {}
        self.hide()

    @property
    def text(self) -> str:
        """The sentence shown, "" if none."""
        return self._label.text() if self._queue else ""

    @property
    def buttons(self) -> list[QPushButton]:
        """The buttons of the sentence shown."""
        return list(self._buttons)

    def say(self, key: str, text: str, *choices: tuple[str, Callable[[], None]]) -> None:
        """Show a sentence; each choice is (button text, what it does); doing closes it."""
        self._queue.pop(key, None)
        self._queue[key] = (text, list(choices))
        self._show_first()

    def said(self, key: str) -> str:
        """The sentence under a key, shown or waiting; "" if there is none."""
        return self._queue[key][0] if key in self._queue else ""

    def take_back(self, key: str) -> None:
        """Remove the sentence of that key, if it still waits."""
        if self._queue.pop(key, None) is not None:
            self._show_first()

    def _dismiss(self) -> None:
        if self._queue:
            del self._queue[next(iter(self._queue))]
        self._show_first()

    def _show_first(self) -> None:
        for button in self._buttons:
            self._row.removeWidget(button)
            button.hide()
            button.deleteLater()
        self._buttons.clear()
        if not self._queue:
            self.hide()
            return
        key, (text, choices) = next(iter(self._queue.items()))
        self._label.setText(text)
        for label, action in choices:
            button = QPushButton(label)
            button.clicked.connect(self._doing(key, action))
            self._row.insertWidget(self._row.count() - 1, button)
            self._buttons.append(button)
        self.show()

    def _doing(self, key: str, action: Callable[[], None]) -> Callable[[], None]:
        def act() -> None:
            self.take_back(key)
            action()

        return act
