"""Icons that follow when the colours change."""

from __future__ import annotations

from PySide6.QtGui import QAction
from PySide6.QtWidgets import QAbstractButton

from app import theme


def set_icon(target: QAbstractButton | QAction, name: str, meaning: str = "ink") -> None:
    """Give a button or action one of our icons, tinted anew when light and dark change."""

    def tint() -> None:
        try:
            target.setIcon(theme.icon(name, meaning))
        except RuntimeError:  # the widget is gone on Qt's side
            theme.watcher().changed.disconnect(tint)

    tint()
    theme.watcher().changed.connect(tint)
    target.destroyed.connect(lambda: _disconnect(tint))


def _disconnect(tint: object) -> None:
    try:
        theme.watcher().changed.disconnect(tint)
    except (RuntimeError, TypeError):
        return
