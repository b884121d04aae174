"""Python's cyclic garbage is collected on the window's thread only, and so that nobody feels it.

The collector runs on whichever thread happens to allocate. On a worker it could take apart
widgets and other objects of Qt that belong to the window's thread, which Qt does not survive.

A full collection looks at every object there is, and with a large project that is long enough
to be felt. What the start of the program brought, and what outlives a long collection, is set
aside (``gc.freeze``), so that the next looks at new objects only. What is set aside still goes
when nothing refers to it; only what forms a ring stays. So it is looked at again when it has
grown by a good part since the last time: while the maker works in another window, or, once it
has grown by twice that, while the pointer rests.

What is freed goes back to the system while the pointer rests (``app/heap.py``). So do the lines
of source files that Python keeps to show them beside errors: PySide has it read those of every
module there is.
"""

from __future__ import annotations

import gc
import linecache
import time

from PySide6.QtCore import QObject, Qt, QTimer
from PySide6.QtGui import QCursor, QGuiApplication

from app.heap import give_back

_EVERY_MS = 500
_LONG_S = 0.015  # a full collection longer than this is felt when a piece is dragged
_RESTED_S = 20.0  # the pointer stayed in place that long: nobody is drawing
_REST_EVERY_S = 60.0
_GROWN_SHARE = 0.25  # of what is set aside, since it was last looked at: worth another look
_GROWN_LEAST = 20_000  # objects; fewer are not worth it, whatever share they are


class Collector(QObject):
    """Takes the automatic collector's place for as long as it lives."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._thresholds = gc.get_threshold()
        self._pointer = QCursor.pos()
        self._moved_at = self._rested_at = time.monotonic()
        linecache.clearcache()
        gc.disable()
        gc.freeze()
        self._known = gc.get_freeze_count()
        self._timer = QTimer(self)
        self._timer.setInterval(_EVERY_MS)
        self._timer.timeout.connect(self.collect_if_due)
        self._timer.start()

    def collect_if_due(self) -> None:
        """Collect the generations that are due by the usual thresholds, oldest first."""
        if self._is_resting():
            self._rested_at = time.monotonic()
            linecache.clearcache()
            if self._has_grown():
                self.look_again()
            else:
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
        """A full collection of what is not set aside; what outlives a long one is."""
        began = time.perf_counter()
        gc.collect()
        if time.perf_counter() - began > _LONG_S:
            gc.freeze()

    def look_again(self) -> None:
        """A full collection of everything, what was set aside too."""
        gc.unfreeze()
        self.collect_all()
        self._known = gc.get_freeze_count()

    def _has_grown(self) -> bool:
        """True if so much was set aside since it was last looked at that it is worth a look now."""
        aside = gc.get_freeze_count()
        self._known = min(self._known, aside)  # what is no longer referred to has gone
        least = max(_GROWN_LEAST, _GROWN_SHARE * self._known)
        is_away = QGuiApplication.applicationState() != Qt.ApplicationState.ApplicationActive
        return aside - self._known > (least if is_away else 2 * least)

    def _is_resting(self) -> bool:
        """True if the pointer has not moved for a while, and the last rest is a while ago."""
        now, pointer = time.monotonic(), QCursor.pos()
        if pointer != self._pointer:
            self._pointer, self._moved_at = pointer, now
        rested = now - self._moved_at > _RESTED_S
        return rested and now - self._rested_at > _REST_EVERY_S

    def release(self) -> None:
        """Hand back to the automatic collector."""
        self._timer.stop()
        gc.unfreeze()
        gc.enable()
