"""The keyboard reference, and what this program is made of."""

from __future__ import annotations

from importlib import metadata
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import (
    QDialog,
    QGridLayout,
    QLabel,
    QPlainTextEdit,
    QVBoxLayout,
    QWidget,
)

from app import theme
from app.i18n import tr
from app.widgets.forms import Heading, close_box, scrolling, words
from app.wording import in_words

if TYPE_CHECKING:
    from app.window import MainWindow

#: distribution → what it does here
LIBRARIES = {
    "PySide6-Essentials": "window",
    "shapely": "polygons",
    "numpy": "numbers",
    "numba": "fast kernels",
    "pyclipper": "offsets",
    "ezdxf": "DXF",
    "svgelements": "SVG",
    "reportlab": "PDF",
    "pypdfium2": "pages on screen",
    "segno": "codes on labels",
    "platformdirs": "folders",
}


class _Sheet(QDialog):
    """A dialog that only tells."""

    def __init__(self, title: str, parent: QWidget | None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(title)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(theme.WIDE, theme.WIDE, theme.WIDE, theme.WIDE)

    def finish(self) -> None:
        """Put the close button at the end and keep to the screen."""
        self.column.addWidget(close_box(self))
        parent = self.parentWidget()
        room = (parent or self).size()
        wide = self.fontMetrics().averageCharWidth() * 92
        self.resize(min(wide, max(400, room.width() - 40)), max(360, room.height() - 80))


class KeyboardDialog(_Sheet):
    """Every key, gathered from the actions themselves so that it cannot be out of date."""

    def __init__(self, window: MainWindow, parent: QWidget | None = None) -> None:
        super().__init__(tr("Keyboard"), parent)
        page = QWidget()
        self.grid = QGridLayout(page)
        self.grid.setColumnStretch(1, 1)
        self.grid.setHorizontalSpacing(theme.WIDE)
        self._row = 0
        stage_actions = {a for stage in window.stages for a in stage.stage_actions()}
        own = [a for a in window.actions() if a not in stage_actions]
        self._group(tr("Everywhere"), [(_keys(a), _text(a)) for a in own])
        for stage in window.stages:
            rows = [(_keys(a), _text(a)) for a in stage.stage_actions()] + stage.keys()
            self._group(stage.title, rows)
        self._group(
            tr("Fields"),
            [
                (tr("Enter or Tab"), tr("take what is typed, in any unit")),
                (tr("Esc"), tr("bring the last value back")),
                (tr("Up, down"), tr("a step more or less")),
            ],
        )
        self.grid.setRowStretch(self._row, 1)
        area = scrolling(page)
        area.setFocusPolicy(Qt.FocusPolicy.StrongFocus)  # nothing inside has it to scroll by
        area.setAccessibleName(tr("Keyboard"))
        area.setObjectName("keys")
        accent = theme.color("accent").name()
        area.setStyleSheet(f"QScrollArea#keys:focus {{ border: 2px solid {accent}; }}")
        self.column.addWidget(area)
        self.finish()
        area.setFocus()

    def _group(self, title: str, rows: list[tuple[str, str]]) -> None:
        shown = [(keys, text) for keys, text in rows if keys]
        if not shown:
            return
        self.grid.addWidget(Heading(title), self._row, 0, 1, 2)
        self._row += 1
        for keys, text in shown:
            key_label = QLabel(keys)
            key_label.setTextFormat(Qt.TextFormat.PlainText)
            self.grid.addWidget(key_label, self._row, 0, Qt.AlignmentFlag.AlignTop)
            self.grid.addWidget(words(text, muted=False), self._row, 1)
            self._row += 1


class AboutDialog(_Sheet):
    """Name, licence, libraries with theirs, and the usual caution."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(tr("About Seamwright"), parent)
        try:
            version = metadata.version("seamwright")
        except metadata.PackageNotFoundError:
            version = tr("from its source")
        self.column.addWidget(Heading(tr("Seamwright {version}").format(version=version)))
        self.column.addWidget(
            words(
                tr(
                    "Plans panels that are larger than the router's bed: seams, fit, saw cuts, "
                    "nesting, cut list. Free under the MIT licence."
                ),
                muted=False,
            )
        )
        self.column.addWidget(
            words(
                tr(
                    "It plans; you cut. Follow the manuals of your machines and the rules where "
                    "you work, wear what protects eyes, ears and lungs, and get help with full "
                    "sheets. Check the first piece before you cut the rest."
                )
            )
        )
        self.column.addWidget(words(tr("Made with these free libraries:")))
        self.licences = QPlainTextEdit(licence_text())
        self.licences.setReadOnly(True)
        self.licences.setAccessibleName(tr("Libraries and their licences"))
        self.column.addWidget(self.licences, 1)
        self.finish()


def licence_text() -> str:
    """One line per library: name, version, licence as the library itself states it."""
    lines = []
    for name, use in LIBRARIES.items():
        try:
            about = metadata.metadata(name)
        except metadata.PackageNotFoundError:
            continue
        stated = about.json.get("license_expression") or about.json.get("license") or ""
        stated = stated if isinstance(stated, str) else ""
        stated = stated.strip().splitlines()[0] if stated.strip() else ""
        if not stated or len(stated) > 90:
            classifiers = about.get_all("Classifier") or []
            found = [c.split(" :: ")[-1] for c in classifiers if c.startswith("License")]
            stated = ", ".join(found) or stated[:90] or tr("see the library")
        lines.append(f"{name} {about['Version']} ({in_words(use)}): {stated}")
    lines.append(tr("Icons: own drawings, MIT. Font in the pages: DejaVu, free to use and embed."))
    return "\n".join(lines)


def _keys(action: QAction) -> str:
    return ", ".join(k.toString(QKeySequence.SequenceFormat.NativeText) for k in action.shortcuts())


def _text(action: QAction) -> str:
    return action.text().replace("&", "").rstrip("…").split(":")[0]
