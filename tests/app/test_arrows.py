"""What the arrow keys mean on a drawing: the same on every stage."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent

from app.canvas.handler import arrow_nudge, arrow_way

_PLAIN = Qt.KeyboardModifier.NoModifier


def pressed(key: Qt.Key, modifiers: Qt.KeyboardModifier = _PLAIN) -> QKeyEvent:
    return QKeyEvent(QEvent.Type.KeyPress, key, modifiers)


def test_up_is_up_on_the_drawing_and_other_keys_are_no_arrows() -> None:
    assert arrow_way(pressed(Qt.Key.Key_Up)) == (0, 1)
    assert arrow_way(pressed(Qt.Key.Key_Left)) == (-1, 0)
    assert arrow_way(pressed(Qt.Key.Key_A)) is None
    assert arrow_nudge(pressed(Qt.Key.Key_A), 2.0) is None


@pytest.mark.parametrize(
    ("modifiers", "far_mm"),
    [
        (_PLAIN, 2.0),
        (Qt.KeyboardModifier.ShiftModifier, 20.0),
        (Qt.KeyboardModifier.ControlModifier, 0.2),
    ],
)
def test_shift_nudges_ten_times_as_far_and_ctrl_a_tenth(
    modifiers: Qt.KeyboardModifier, far_mm: float
) -> None:
    assert arrow_nudge(pressed(Qt.Key.Key_Right, modifiers), 2.0) == (far_mm, 0.0)
    assert arrow_nudge(pressed(Qt.Key.Key_Down, modifiers), 2.0) == (0.0, -far_mm)
