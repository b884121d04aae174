"""Starts the window."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from app import i18n, theme
from app.ask import WindowAsk
from app.background import get_ready
from app.derived import Derived
from app.document import Document
from app.heap import settle_memory
from app.i18n import tr
from app.jobs import Jobs, Progress, Stop
from app.looks import apply_preferences
from app.mishaps import Mishaps
from app.preferences import Preferences
from app.recovery import Recovery
from app.tidy import Collector
from app.window import APP_NAME, MainWindow


def application(argv: Sequence[str] = ()) -> QApplication:
    """The QApplication, made on first use."""
    running = QApplication.instance()
    if isinstance(running, QApplication):
        return running
    settle_memory()
    app = QApplication([APP_NAME, *argv])
    app.setApplicationName(APP_NAME)
    app.setApplicationDisplayName("")
    app.setDesktopFileName("seamwright")
    i18n.install(app)
    return app


def make_window(
    preferences: Preferences, recovery: Recovery | None, ask: WindowAsk | None = None
) -> MainWindow:
    """A window with an empty project of the maker's."""
    asking = ask or WindowAsk()
    document = Document(preferences.new_project(), recovery=recovery)
    derived = Derived(document, Jobs())
    window = MainWindow(document, derived, asking, preferences=preferences, recovery=recovery)
    # The window owns them, so that they live and die with it.
    for owned in (derived.jobs, derived, document):
        owned.setParent(window)
    asking.parent = window
    return window


def run_window(paths: Sequence[str]) -> int:
    """Open the window with one project file, or with drawings added to a new project.

    Returns the exit code of the event loop.
    """
    app = application()
    preferences = Preferences.for_user()
    apply_preferences(preferences)
    app.setWindowIcon(theme.icon("app", "accent", 64))
    recovery = Recovery()
    window = make_window(preferences, recovery)
    available = window.screen().availableGeometry()
    window.resize(min(1500, available.width()), min(940, available.height()))
    if available.width() <= 1500:
        window.showMaximized()
    else:
        window.show()
    if paths:
        QTimer.singleShot(0, window, lambda: window.files.open([Path(p) for p in paths]))
    QTimer.singleShot(0, window, lambda: window.offer_recovery(recovery.leftovers()))
    collector = Collector(app)
    mishaps = Mishaps(window)
    # Compiled once per install and then only loaded; not at the first drag.
    window.context.jobs.start(tr("Getting ready"), _warm, quiet=True, lane="warm")
    window.context.jobs.start(tr("Getting ready"), get_ready, quiet=True, lane="warm nesting")
    code = app.exec()
    mishaps.release()
    recovery.release()
    collector.release()
    return code


def _warm(_progress: Progress, _stop: Stop) -> None:
    """Have the loops ready that move pieces on the canvas."""
    from app.canvas.contact import warm

    warm()


if __name__ == "__main__":
    sys.exit(run_window(sys.argv[1:]))
