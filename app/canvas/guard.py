"""Handlers of Qt's events that never let an exception out to Qt.

Qt calls them from C++, often itself called from Python. An exception on its way back through
both is at best printed; with PySide 6.11 on Python 3.11 one the interpreter has not made into an
object yet (a missing key) can end the process. It is handed to sys.excepthook instead, which
tells the maker, and the window goes on.
"""

from __future__ import annotations

import functools
import sys
from collections.abc import Callable
from typing import Any, TypeVar

Handling = TypeVar("Handling", bound=Callable[..., Any])


def guarded(handling: Handling) -> Handling:
    """The handler, with every exception passed to sys.excepthook; its answer is then None."""

    @functools.wraps(handling)
    def handle(*arguments: Any) -> Any:
        try:
            return handling(*arguments)
        except Exception as error:
            sys.excepthook(type(error), error, error.__traceback__)
            return None

    return handle  # type: ignore[return-value]
