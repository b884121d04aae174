"""A made-up language in other letters, and what of a window is left in English under it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import product

from PySide6.QtCore import QTranslator
from PySide6.QtGui import QAction
from PySide6.QtWidgets import (
    QComboBox,
    QLineEdit,
    QListWidget,
    QTabBar,
    QTableWidget,
    QTreeWidget,
    QWidget,
)

from app.window import MainWindow

WORD = re.compile(r"[A-Za-z]{2,}")
LETTERS = str.maketrans(
    "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ",
    "абцдефгхийклмнопярстувшжызАБЦДЕФГХИЙКЛМНОПЯРСТУВШЖЫЗ",
)


def foreign(text: str) -> str:
    """The text in letters of another alphabet, but for places to be filled and marks of HTML."""
    parts = re.split(r"(\{[^}]*\}|<[^>]*>)", text)
    return "".join(p if k % 2 else p.translate(LETTERS) for k, p in enumerate(parts))


class Foreign(QTranslator):
    """A made-up language in other letters: Latin ones were put in by a value, or not asked for."""

    def translate(self, context: str, text: str, *_: object) -> str:  # type: ignore[override]
        return foreign(text)

    def isEmpty(self) -> bool:
        return False


def texts(top: QWidget) -> Iterator[tuple[str, str]]:
    """(where, text) of everything a widget and all below it say."""
    for widget in [top, *top.findChildren(QWidget)]:
        where = type(widget).__name__
        for kind in (
            "text", "toolTip", "accessibleName", "placeholderText", "windowTitle", "title",
            "suffix",
        ):  # fmt: skip
            tell = getattr(widget, kind, None)
            if not callable(tell) or (kind == "text" and isinstance(widget, QLineEdit)):
                continue
            yield f"{where}.{kind}", str(tell())
        if isinstance(widget, QComboBox):
            yield from ((where, widget.itemText(i)) for i in range(widget.count()))
        elif isinstance(widget, QTabBar):
            yield from ((where, widget.tabText(i)) for i in range(widget.count()))
        elif isinstance(widget, QListWidget):
            yield from ((where, widget.item(i).text()) for i in range(widget.count()))
        elif isinstance(widget, QTableWidget):
            heads = [widget.horizontalHeaderItem(i) for i in range(widget.columnCount())]
            yield from ((where, head.text()) for head in heads if head is not None)
        elif isinstance(widget, QTreeWidget):
            rows = [
                widget.headerItem(),
                *map(widget.topLevelItem, range(widget.topLevelItemCount())),
            ]
            for item, i in product(rows, range(widget.columnCount())):
                yield from ((where, item.text(i)), (where, item.toolTip(i)))
    for action in top.findChildren(QAction):
        yield "action", action.text()
        yield "action", action.toolTip()


def left_in_english(top: QWidget, data: set[str]) -> list[str]:
    """Texts that no translation reached; data: what the project and the shop call things."""
    found = set()
    for where, text in texts(top):
        rest = text
        for word in sorted(data, key=len, reverse=True):
            rest = rest.replace(word, "")
        if WORD.search(rest):
            found.add(f"{where}: {text!r}")
    return sorted(found)


def data_of(window: MainWindow) -> set[str]:
    """Names that are the maker's, units and paper sizes."""
    project = window.document.project
    names = {"mm", "cm", "in", "Seamwright", "A4", "A3", "Letter", "Tabloid", "DXF", "SVG"}
    names |= {"Ctrl", "Shift", project.name, project.shop.machine.name}
    names |= {panel.name for panel in project.panels}
    names |= {panel.material for panel in project.panels}
    names |= {material.name for material in project.shop.materials}
    names |= {drawing.file_name for drawing in project.drawings}
    names |= {layer.layer for drawing in project.drawings for layer in drawing.layers}
    pieces = window.context.derived.pieces
    names |= {piece.name for piece in pieces.pieces} if pieces is not None else set()
    return names
