"""Python's cyclic garbage is collected on the window's thread only, and so that nobody feels it.

The collector runs on whichever thread happens to allocate. On a worker it could take apart
widgets and other objects of Qt that belong to the window's thread, which Qt does not survive.

A full collection looks at every object there is, and with a large project that is long enough
to be felt. What outlives a long one is set aside (``gc.freeze``), so that the next looks at new
objects only; what was set aside is looked at again while the pointer rests.

What is freed also has to find its way back to the system. The C library keeps a heap for every
thread and fills them unevenly; over an hour of jobs on threads of their own they come to hold
half as much again as is in use. Where that library can be told, few heaps are used, large blocks
(pictures of pages, tables) go straight back, and the rest is handed back while the pointer rests.
"""

from __future__ import annotations

import ctypes
import gc
import time
from collections.abc import Callable

from PySide6.QtCore import QObject, QTimer
from PySide6.QtGui import QCursor

_EVERY_MS = 500
_LONG_S = 0.015  # a full collection longer than this is felt when a piece is dragged
_RESTED_S = 20.0  # the pointer stayed in place that long: nobody is drawing
_THAW_EVERY_S = 60.0

# Options of mallopt in the GNU C library, and what they are set to.
_ARENA_MAX, _MMAP_THRESHOLD, _TRIM_THRESHOLD = -8, -3, -1
_HEAPS = 2
_LARGE_BYTES = 1 << 20
_SPARE_BYTES = 8 << 20


def settle_memory() -> None:
    """Have the C library keep few heaps and hand large blocks straight back, where it can."""
    mallopt = _c_function("mallopt")
    if mallopt is not None:
        mallopt(_ARENA_MAX, _HEAPS)
        mallopt(_MMAP_THRESHOLD, _LARGE_BYTES)
        mallopt(_TRIM_THRESHOLD, _SPARE_BYTES)


def give_back() -> None:
    """Hand memory that is free within the heaps back to the system, where that can be asked."""
    trim = _c_function("malloc_trim")
    if trim is not None:
        trim(0)


def _c_function(name: str) -> Callable[..., int] | None:
    """A function of the C library by name; None where there is no such library or function."""
    try:
        found: Callable[..., int] = getattr(ctypes.CDLL(None), name)
    except (AttributeError, OSError, TypeError):
        return None
    return found


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
