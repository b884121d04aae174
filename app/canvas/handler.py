"""What a canvas tells its stage: presses, drags, hovers and keys in drawing coordinates."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPoint, QRectF, Qt
from PySide6.QtGui import QKeyEvent

DRAG_START_PX = 4
_ARROWS = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Down: (0, -1),
    Qt.Key.Key_Up: (0, 1),
}


def arrow_way(event: QKeyEvent) -> tuple[int, int] | None:
    """The way an arrow key points, x to the right and y up; None for other keys."""
    return _ARROWS.get(Qt.Key(event.key()))


def arrow_nudge(event: QKeyEvent, step_mm: float) -> tuple[float, float] | None:
    """How far an arrow key moves what is chosen, mm to the right and up; None for other keys.

    step_mm: how far without a modifier; with Shift ten times that, with Ctrl a tenth.
    """
    way = arrow_way(event)
    if way is None:
        return None
    if event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
        step_mm *= 10
    elif event.modifiers() & Qt.KeyboardModifier.ControlModifier:
        step_mm /= 10
    return way[0] * step_mm, way[1] * step_mm


@dataclass(frozen=True)
class Pointer:
    """A mouse event in drawing coordinates: x_mm, y_mm; px its place on the canvas."""

    x_mm: float
    y_mm: float
    px: QPoint
    button: Qt.MouseButton
    modifiers: Qt.KeyboardModifier

    def has(self, modifier: Qt.KeyboardModifier) -> bool:
        """True if that modifier key is down."""
        return bool(self.modifiers & modifier)


class Handler:
    """What a stage does with the mouse and the keys; every answer True means: taken."""

    def press(self, pointer: Pointer) -> bool:
        """A button went down."""
        return False

    def drag(self, pointer: Pointer) -> None:
        """The pointer moved while a press that was taken is held."""

    def release(self, pointer: Pointer) -> None:
        """The button of a taken press went up."""

    def cancel(self) -> bool:
        """Escape: give up what is going on."""
        return False

    def hover(self, pointer: Pointer | None) -> str:
        """The pointer moved with no button down (None: it left). Returns a text to show."""
        return ""

    def double(self, pointer: Pointer) -> bool:
        """A double click."""
        return False

    def key(self, event: QKeyEvent) -> bool:
        """A key went down while the canvas has the focus."""
        return False

    def wheel(self, pointer: Pointer, notches: float) -> bool:
        """The wheel was turned with Alt or Shift held."""
        return False

    def menu(self, pointer: Pointer) -> bool:
        """The context menu was asked for."""
        return False

    def banded(self, area: QRectF, adding: bool) -> None:
        """A rubber band was drawn round an area of the drawing."""

    def selection_rect(self) -> QRectF:
        """What zoom to selection shows; empty for nothing."""
        return QRectF()
