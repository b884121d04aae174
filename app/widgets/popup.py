"""Menus that pop up and go."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMenu, QWidget

_NAME = "popup"


def popup_menu(owner: QWidget) -> QMenu:
    """An empty menu to pop up over owner. The one before it, long closed, is deleted: as a
    child of its owner it would stay for as long as the window."""
    direct = Qt.FindChildOption.FindDirectChildrenOnly
    for before in owner.findChildren(QMenu, _NAME, direct):
        before.deleteLater()
    menu = QMenu(owner)
    menu.setObjectName(_NAME)
    return menu
