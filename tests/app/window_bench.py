"""What tests of the whole window begin with."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QDialog

from app.commands import AddPanels
from app.panel_table import rectangle_panel
from app.widgets.help import AboutDialog, KeyboardDialog
from app.widgets.preferences_dialog import PreferencesDialog
from app.window import MainWindow

DEMO = Path(__file__).resolve().parents[2] / "demo_projects/studio_counter/studio_counter.json"
DIALOGS = (PreferencesDialog, KeyboardDialog, AboutDialog)


def add(window: MainWindow, name: str = "Shelf") -> None:
    """A panel of 800 × 300, as one step."""
    window.document.run(AddPanels(f"Add {name}", (rectangle_panel(name, 800, 300),)))


def dialog_of(kind: type, window: MainWindow) -> QDialog:
    """One of the dialogs of the whole window."""
    if kind is PreferencesDialog:
        return PreferencesDialog(window.context, window)
    return KeyboardDialog(window, window) if kind is KeyboardDialog else AboutDialog(window)
