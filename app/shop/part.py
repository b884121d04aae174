"""What every section of the shop drawer is."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app import theme
from app.i18n import tr
from core.project.model import Project


class Part(QWidget):
    """One section's inside. wanted(undo text, what, value): a change the drawer turns into a
    command; what is "machine", "rules", "limits" with (attribute, value) or a list's name."""

    wanted = Signal(str, str, object)
    command_wanted = Signal(object)  # a whole Command

    def __init__(self) -> None:
        super().__init__()
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 0, 0, 0)
        self.column.setSpacing(theme.NORMAL)

    def fill(self, project: Project) -> None:
        """Show the project's values."""
        raise NotImplementedError


def needed(text: str) -> str:
    return "" if text else tr("A name is needed.")
