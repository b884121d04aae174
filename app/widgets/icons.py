"""Icons that follow when the colours or the size of text change."""

from __future__ import annotations

from PySide6.QtCore import QObject, QSize, Slot
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QAbstractButton

from app import theme

_NAME, _MEANING = "icon-name", "icon-meaning"


def set_icon(target: QAbstractButton | QAction, name: str, meaning: str = "ink") -> None:
    """Give a button or action one of our icons, tinted anew when light and dark change.

    On a button it is as large as the text beside it asks for.
    """
    followed = target.property(_NAME) is not None
    target.setProperty(_NAME, name)
    target.setProperty(_MEANING, meaning)
    if followed:
        _tint(target)
        return

    _tint(target)
    _Follower(target)


class _Follower(QObject):
    """Tints its parent anew; goes with it, and so does what it listens to."""

    def __init__(self, target: QAbstractButton | QAction) -> None:
        super().__init__(target)
        self._target = target
        theme.watcher().changed.connect(self._follow)

    @Slot()
    def _follow(self) -> None:
        _tint(self._target)


def _tint(target: QAbstractButton | QAction) -> None:
    target.setIcon(theme.icon(str(target.property(_NAME)), str(target.property(_MEANING))))
    if isinstance(target, QAbstractButton):
        size = theme.icon_px()
        target.setIconSize(QSize(size, size))
