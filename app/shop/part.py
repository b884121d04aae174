"""What every section of the shop drawer is."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app import theme
from app.i18n import tr
from app.shop.records import RecordForm, RecordList
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
        self._rows: list[tuple[RecordForm | RecordList, Callable[[Project], Any]]] = []

    def show_in(self, row: RecordForm | RecordList, of: Callable[[Project], Any]) -> None:
        """Put a form or a list below what is there; ``of`` gives what it shows of a project."""
        self.column.addWidget(row)
        self._rows.append((row, of))

    def fill(self, project: Project) -> None:
        """Show the project's values, in the project's unit."""
        for row, of in self._rows:
            row.fill(of(project), project.units)


def needed(text: str) -> str:
    return "" if text else tr("A name is needed.")
