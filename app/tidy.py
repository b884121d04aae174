"""Python's cyclic garbage is collected on the window's thread only, and so that nobody feels it.

The collector runs on whichever thread happens to allocate. On a worker it could take apart
widgets and other objects of Qt that belong to the window's thread, which Qt does not survive.

A full collection looks at every object there is, and with a large project that is long enough
to be felt. What outlives a long one is set aside (``gc.freeze``), so that the next looks at new
objects only; what was set aside is looked at again while the pointer rests.

What is freed goes back to the system at the same time (``app/heap.py``).
"""

from __future__ import annotations

import gc
import time

from PySide6.QtCore import QObject, QTimer
from PySide6.QtGui import QCursor

from app.heap import give_back

_EVERY_MS = 500
_LONG_S = 0.015  # a full collection longer than this is felt when a piece is dragged
_RESTED_S = 20.0  # the pointer stayed in place that long: nobody is drawing
_THAW_EVERY_S = 60.0


class Collector(QObject):
    """Takes the automatic collector's place for as long as it lives."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._thresholds = gc.get_threshold()
        self._pointer = QCursor.pos()
        self._moved_at = self._thawed_at = time.monotonic()
        gc.disable()
        self._timer = QTimer(self)
        self._timer.setInterval(_EVERY_MS)
        self._timer.timeout.connect(self.collect_if_due)
        self._timer.start()

    def collect_if_due(self) -> None:
        """Collect the generations that are due by the usual thresholds, oldest first."""
        if self._is_resting():
            self._thawed_at = time.monotonic()
            gc.unfreeze()
            self.collect_all()
            give_back()
            return
        counts = gc.get_count()
        for generation in (2, 1, 0):
            if counts[generation] > self._thresholds[generation]:
                if generation == 2:
                    self.collect_all()
                else:
                    gc.collect(generation)
                return

    def collect_all(self) -> None:
        """A full collection; what outlives a long one is set aside."""
        began = time.perf_counter()
        gc.collect()
        if time.perf_counter() - began > _LONG_S:
            gc.freeze()

    def _is_resting(self) -> bool:
        """True if the pointer has not moved for a while, and the last rest is a while ago."""
        now, pointer = time.monotonic(), QCursor.pos()
        if pointer != self._pointer:
            self._pointer, self._moved_at = pointer, now
        rested = now - self._moved_at > _RESTED_S
        return rested and now - self._thawed_at > _THAW_EVERY_S

    def release(self) -> None:
        """Hand back to the automatic collector."""
        self._timer.stop()
        gc.unfreeze()
        gc.enable()
