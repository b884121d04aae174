"""Dialogs that stay on the screen, however large the text is."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget

_FRAME_PX = (16, 48)  # what the window's own frame and title take


def resize_within_screen(dialog: QWidget, width: int, height: int) -> None:
    """Make a dialog this large, but no larger than the screen its parent is on."""
    room = (dialog.parentWidget() or dialog).screen().availableGeometry()
    dialog.resize(
        min(width, room.width() - _FRAME_PX[0]), min(height, room.height() - _FRAME_PX[1])
    )
