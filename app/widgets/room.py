"""Dialogs that stay on the screen, however large the text is."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject
from PySide6.QtWidgets import QWidget

_FRAME_PX = (16, 48)  # what the window's own frame and title take


def resize_within_screen(dialog: QWidget, width: int, height: int) -> None:
    """Make a dialog this large, but no larger than the screen its parent is on."""
    room = (dialog.parentWidget() or dialog).screen().availableGeometry()
    dialog.resize(
        min(width, room.width() - _FRAME_PX[0]), min(height, room.height() - _FRAME_PX[1])
    )


def keep_on_screen(dialog: QWidget) -> None:
    """Move a dialog that has grown so that its right and lower edge are seen."""
    room = dialog.screen().availableGeometry()
    x = min(dialog.x(), room.right() + 1 - dialog.width())
    y = min(dialog.y(), room.bottom() + 1 - dialog.height())
    dialog.move(max(room.left(), x), max(room.top(), y))


class _Whole(QObject):
    """Watches a dialog and makes it higher whenever it holds more than it has room for."""

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """It comes up, or what it holds has changed."""
        grows = event.type() in (QEvent.Type.Show, QEvent.Type.LayoutRequest)
        if grows and isinstance(watched, QWidget) and (layout := watched.layout()) is not None:
            layout.activate()
            wide = watched.width()
            high = layout.totalHeightForWidth(wide) if layout.hasHeightForWidth() else 0
            room = (watched.parentWidget() or watched).screen().availableGeometry()
            high = min(max(high, layout.totalSizeHint().height()), room.height() - _FRAME_PX[1])
            if high > watched.height():
                watched.resize(wide, high)
                if event.type() == QEvent.Type.LayoutRequest:
                    keep_on_screen(watched)
        return False


def show_whole(dialog: QWidget) -> None:
    """Give a dialog the height that all of it needs, as far as the screen has it.

    Left to itself Qt opens it at two thirds of the screen's height and squeezes what is inside.
    """
    dialog.installEventFilter(_Whole(dialog))
