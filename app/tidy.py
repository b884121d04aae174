"""Python's cyclic garbage is collected on the window's thread only.

The collector runs on whichever thread happens to allocate. On a worker it could take apart
widgets and other objects of Qt that belong to the window's thread, which Qt does not survive.
"""

from __future__ import annotations

import gc

from PySide6.QtCore import QObject, QTimer

_EVERY_MS = 500


class Collector(QObject):
    """Takes the automatic collector's place for as long as it lives."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._thresholds = gc.get_threshold()
        gc.disable()
        self._timer = QTimer(self)
        self._timer.setInterval(_EVERY_MS)
        self._timer.timeout.connect(self.collect_if_due)
        self._timer.start()

    def collect_if_due(self) -> None:
        """Collect the generations that are due by the usual thresholds, oldest first."""
        counts = gc.get_count()
        for generation in (2, 1, 0):
            if counts[generation] > self._thresholds[generation]:
                gc.collect(generation)
                return

    def release(self) -> None:
        """Hand back to the automatic collector."""
        self._timer.stop()
        gc.enable()
