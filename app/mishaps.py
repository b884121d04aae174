"""What nobody foresaw: told in the window and kept from doing harm.

An exception in a slot or a handler leaves the document as it was (commands are values), so the
window can go on. The maker is told, the traceback goes where the program was started from, and
a copy of the work is put aside.
"""

from __future__ import annotations

import sys
from types import TracebackType

from app.i18n import tr
from app.window import MainWindow


class Mishaps:
    """Takes sys.excepthook's place while a window lives."""

    def __init__(self, window: MainWindow) -> None:
        self._window = window
        self._before = sys.excepthook
        self._busy = False
        sys.excepthook = self._happened

    def _happened(
        self, kind: type[BaseException], error: BaseException, trace: TracebackType | None
    ) -> None:
        self._before(kind, error, trace)
        if not issubclass(kind, Exception) or self._busy:
            return
        self._busy = True  # telling may fail for the same reason
        try:
            self._window.document.autosave(wait=False)
            self._window.tell(
                "stop",
                tr(
                    "That did not work ({kind}), a fault of the program. Your work is as it was "
                    "before; save it, and try another way."
                ).format(kind=kind.__name__),
            )
        finally:
            self._busy = False

    def release(self) -> None:
        """Hand back to what was there before."""
        sys.excepthook = self._before
