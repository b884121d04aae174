"""Remedies of findings that the window can carry out at one press."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from app.context import Context
from app.files import Files
from app.i18n import tr
from core.findings import Finding

# findings that are mended in the shop, and where there
_SECTIONS = {"no-material": "boards", "no-sheets": "stock", "thickness-not-measured": "boards"}


class Fixes(QObject):
    """Knows the remedies that findings name in their ``fix``."""

    told = Signal(str, str)
    shop_wanted = Signal(str)

    def __init__(self, context: Context, files: Files) -> None:
        super().__init__(files)
        self._context = context
        self._files = files

    def offer(self, finding: Finding) -> str:
        """What the button beside the finding says, "" if there is no automatic remedy."""
        if finding.fix.startswith("take-as-") and finding.source:
            unit = finding.fix.removeprefix("take-as-")
            return tr("Take it as {unit}").format(unit=unit)
        if finding.code == "no-material" and not self._context.document.project.shop.materials:
            return tr("Add a board")
        if finding.code == "no-sheets":
            return tr("Add a sheet")
        if finding.code == "thickness-not-measured":
            return tr("Enter a reading")
        return ""

    def take(self, finding: Finding) -> None:
        """Carry the remedy out; every one of them can be undone."""
        if finding.fix.startswith("take-as-"):
            self._take_as(finding, finding.fix.removeprefix("take-as-"))
        elif finding.code in _SECTIONS:
            self.shop_wanted.emit(_SECTIONS[finding.code])

    def _take_as(self, finding: Finding, unit: str) -> None:
        drawing = next(
            (d for d in self._context.document.project.drawings if d.file_name == finding.source),
            None,
        )
        path = self._files.drawing_path(drawing.id) if drawing is not None else None
        if path is None:
            self.told.emit(
                "warn",
                tr("{file} is not where it was read from; add it again.").format(
                    file=finding.source
                ),
            )
            return
        self._files.add([path], units=unit)
