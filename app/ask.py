"""Questions to the maker, behind an interface so that tests can answer them.

Commands and documents never ask; only the window and its stages do, and only where a line in
place will not do.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol

from PySide6.QtWidgets import QFileDialog, QInputDialog, QMessageBox, QWidget

if TYPE_CHECKING:
    from PySide6.QtPrintSupport import QPrinter


class Ask(Protocol):
    """What can be asked. None or False means: turned down."""

    def open_files(self, title: str, filters: str, *, folder: str = "") -> list[str]: ...

    def open_file(self, title: str, filters: str, *, folder: str = "") -> str | None: ...

    def save_file(self, title: str, filters: str, *, suggestion: str = "") -> str | None: ...

    def folder(self, title: str, *, folder: str = "") -> str | None: ...

    def confirm(self, title: str, text: str, *, yes: str, no: str) -> bool: ...

    def choose(self, title: str, text: str, options: Sequence[str]) -> int | None: ...

    def text(self, title: str, label: str, *, initial: str = "") -> str | None: ...

    def printer(self, printer: QPrinter, *, pages: int = 0) -> bool: ...


class WindowAsk:
    """Asks with the system's dialogs, on top of a window."""

    def __init__(self, parent: QWidget | None = None) -> None:
        self.parent = parent

    def open_files(self, title: str, filters: str, *, folder: str = "") -> list[str]:
        """Paths chosen, [] if turned down."""
        return QFileDialog.getOpenFileNames(self.parent, title, folder, filters)[0]

    def open_file(self, title: str, filters: str, *, folder: str = "") -> str | None:
        """One path, or None."""
        return QFileDialog.getOpenFileName(self.parent, title, folder, filters)[0] or None

    def save_file(self, title: str, filters: str, *, suggestion: str = "") -> str | None:
        """Where to write, or None; the dialog has asked about replacing a file."""
        return QFileDialog.getSaveFileName(self.parent, title, suggestion, filters)[0] or None

    def folder(self, title: str, *, folder: str = "") -> str | None:
        """A folder, or None."""
        return QFileDialog.getExistingDirectory(self.parent, title, folder) or None

    def confirm(self, title: str, text: str, *, yes: str, no: str) -> bool:
        """True for yes. no is the default and what Escape means."""
        return self.choose(title, text, [yes, no]) == 0

    def choose(self, title: str, text: str, options: Sequence[str]) -> int | None:
        """Index of the option taken; the last one is the default and what Escape means."""
        box = QMessageBox(self.parent)
        box.setWindowTitle(title)
        box.setText(text)
        box.setIcon(QMessageBox.Icon.NoIcon)
        buttons = [box.addButton(o, QMessageBox.ButtonRole.ActionRole) for o in options]
        box.setDefaultButton(buttons[-1])
        box.setEscapeButton(buttons[-1])
        box.exec()
        clicked = box.clickedButton()
        return next((i for i, button in enumerate(buttons) if button is clicked), None)

    def text(self, title: str, label: str, *, initial: str = "") -> str | None:
        """What was typed, or None."""
        text, accepted = QInputDialog.getText(self.parent, title, label, text=initial)
        return text if accepted else None

    def printer(self, printer: QPrinter, *, pages: int = 0) -> bool:
        """Let the maker choose printer and pages with the system's dialog.

        pages: how many there are, so that a range of them can be asked for; 0 if not known.
        """
        from PySide6.QtPrintSupport import QAbstractPrintDialog, QPrintDialog

        dialog = QPrintDialog(printer, self.parent)
        option = QAbstractPrintDialog.PrintDialogOption
        dialog.setOption(option.PrintCurrentPage, True)
        dialog.setOption(option.PrintPageRange, True)
        if pages:
            dialog.setMinMax(1, pages)
            dialog.setFromTo(1, pages)
            dialog.setPrintRange(QAbstractPrintDialog.PrintRange.AllPages)
        return bool(dialog.exec())
