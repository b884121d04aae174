"""What tests of the whole window begin with."""

from __future__ import annotations

from app.commands import AddPanels
from app.panel_table import rectangle_panel
from app.window import MainWindow


def add(window: MainWindow, name: str = "Shelf") -> None:
    """A panel of 800 × 300, as one step."""
    window.document.run(AddPanels(f"Add {name}", (rectangle_panel(name, 800, 300),)))
