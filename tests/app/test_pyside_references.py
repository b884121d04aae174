"""A Qt binding that loses references to None ends in an abort; this watches for it."""

from __future__ import annotations

import sys

from PySide6.QtWidgets import QApplication, QGraphicsRectItem


def test_a_thousand_moves_keep_every_reference_to_none(qapp: QApplication) -> None:
    item = QGraphicsRectItem(0, 0, 10, 10)
    item.setPos(1, 1)
    before = sys.getrefcount(None)
    for i in range(1000):
        item.setPos(i, i)
    lost = before - sys.getrefcount(None)
    assert abs(lost) < 100  # the broken binding loses one a call
