"""The order in which Tab goes through a window, walked without harm.

PySide takes what ``nextInFocusChain`` returns for a child of the widget that was asked. When that
widget is deleted, Python then loses hold of its neighbour in the chain and of all that hangs on it,
up to the window itself, although Qt still has them. Here the true parent is told again at once.
"""

from __future__ import annotations

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QWidget


def next_in_chain(widget: QWidget) -> QWidget | None:
    """The widget that follows in the order of Tab, whether Tab stops there or not."""
    return _own(widget.nextInFocusChain())


def previous_in_chain(widget: QWidget) -> QWidget | None:
    """The widget before it in the order of Tab."""
    return _own(widget.previousInFocusChain())


def _own(found: QWidget | None) -> QWidget | None:
    if found is not None:
        parent = QObject.parent(found)
        QObject.setParent(found, parent)  # nothing new to Qt
        found.held_by = parent  # type: ignore[attr-defined] # whom Python forgets, it takes along
    return found
